"""Spectra from CGATS text: keyword lines, then named fields and sets of values between marks.

The marks are those of CGATS.17 (ISO 28178): ``BEGIN_DATA_FORMAT`` to ``END_DATA_FORMAT`` names the
fields, over as many lines as it takes, ``BEGIN_DATA`` to ``END_DATA`` holds the sets. A field that
ends in a wavelength is one of the spectrum's; a field called a sample's name names the set. Where
each set is one wavelength, the fields are the columns of an upright table. From memory: the keyword
``SPECTRAL_NORM`` is what the values are to be divided by.
"""

from __future__ import annotations

import math
import re
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.light.spectrum import check_range
from wbplan.read.spectra.noise import clear_noise
from wbplan.read.spectra.quantities import Quantity, judge_columns
from wbplan.read.spectra.rows import MIN_ROWS, NUMBER, Line, Rows, split_lines
from wbplan.read.spectra.upright import Table, assemble_table, check_gaps, decode_text

_MARK: Final = b"BEGIN_DATA"
_TOKEN: Final = re.compile(r'"[^"\n]*"|[^\s"]+')
_SPECTRAL: Final = re.compile(
    r"(?:SPEC[A-Z]*|NM|R|L|E|W)_?(?:NM)?_?([0-9]{3,4}(?:\.[0-9]+)?)", re.I
)
_NAMES: Final = ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLE_LOC")
_WAVELENGTH: Final = ("SPECTRAL_NM", "WAVELENGTH", "NM")
_MOST_FIELDS: Final = 2000
_MOST_TOKENS: Final = 1_000_000


def is_cgats(raw: bytes) -> bool:
    """Tell CGATS text by its marks of a data format, of which nothing else has both."""
    start = raw[:200_000].replace(b"\0", b"")
    return (
        b"BEGIN_DATA_FORMAT" in start
        and _MARK in raw.replace(b"\0", b"")
        and (
            re.search(rb"(?m)^\s*BEGIN_DATA\s*$", start.replace(b"\r", b"\n")) is not None
            and _SPECTRAL_FIELD.search(start) is not None
        )
    )


_SPECTRAL_FIELD: Final = re.compile(
    rb"BEGIN_DATA_FORMAT[^\x00]{0,60000}?(?i:(?:SPEC[A-Z]{0,12}_|NM_?)[A-Z_]{0,12}[0-9N])"
)


def parse_cgats(raw: bytes, file: str) -> tuple[Table, ...]:
    """Parse the sets of a CGATS file, each a reading.

    Raises
    ------
    SpectrumError
        With a line: no set, a set of another number of values, a value that is no finite number,
        wavelengths that leave a hole or miss 420 to 680 nm.
    """
    text, decoded = decode_text(raw, file)
    lines = split_lines(text.removeprefix("\ufeff"), file)
    fields, sets, said = _split(lines, file)
    places = [(_read_field(name), i) for i, name in enumerate(fields)]
    spectral = sorted((x, i) for x, i in places if x is not None)
    notes = [*decoded, "CGATS text"]
    if len(spectral) < MIN_ROWS:
        return (_parse_upright(fields, sets, said, file, notes),)
    wavelength = np.array([x for x, _ in spectral])
    if (np.diff(wavelength) <= 0).any():
        raise SpectrumError("a wavelength in two fields", "each wavelength once", Place(file))
    check_range(float(wavelength[0]), float(wavelength[-1]), Place(file))
    check_gaps(wavelength, file, notes)
    values = np.array(
        [[_read_value(cells[i], line, file) for _, i in spectral] for line, cells in sets]
    ).T
    notes += [f"divided by {norm:g}, the file's norm" for norm in [_find_norm(said)] if norm != 1.0]
    values = clear_noise(
        values / _find_norm(said),
        notes,
        lambda row, index: Place(file, sets[index][0], 0, f"reading {index + 1}"),
        "reading",
    )
    name = next((fields.index(each) for each in _NAMES if each in fields), None)
    labels = tuple(
        f"reading {number}" if name is None else cells[name].strip('"')[:80]
        for number, (_, cells) in enumerate(sets, 1)
    )
    quantities = judge_columns([""] * len(labels), said)
    if _is_print(said) and not quantities[0].name:
        quantities = tuple(Quantity("reflectance") for _ in labels)
    return (
        Table(
            wavelength,
            values,
            labels,
            tuple(notes),
            file,
            quantities=quantities,
            said=tuple(said),
            counted_as="reading",
            first_number=1,
        ),
    )


def _split(
    lines: list[Line], file: str
) -> tuple[list[str], list[tuple[int, list[str]]], list[str]]:
    """Cut the first table of a file into its fields, its sets with their lines, and its words."""
    fields: list[str] = []
    tokens: list[tuple[int, str]] = []
    said: list[str] = []
    state = "words"
    for line in lines:
        word = line.text.strip().upper()
        if word.startswith("BEGIN_DATA_FORMAT") and not fields:
            state = "fields"
        elif word.startswith("END_DATA_FORMAT"):
            state = "words"
        elif word == "BEGIN_DATA" and not tokens:
            state = "data"
        elif word == "END_DATA":
            break
        elif state == "fields":
            fields += [each.upper() for each in _TOKEN.findall(line.text)]
        elif state == "data" and not line.text.startswith("#"):
            tokens += [(line.number, each) for each in _TOKEN.findall(line.text)]
            if len(tokens) > _MOST_TOKENS:
                raise SpectrumError("too many values", f"at most {_MOST_TOKENS}", Place(file))
        elif state == "words":
            said.append(_say_keyword(line.text))
    if not fields or not tokens or len(fields) > _MOST_FIELDS:
        found = f"{len(fields)} fields and {len(tokens)} values"
        raise SpectrumError(found, f"1 to {_MOST_FIELDS} fields and a set of values", Place(file))
    if len(tokens) % len(fields):
        found = f"{len(tokens)} values for {len(fields)} fields"
        raise SpectrumError(found, "a value of each field in each set", Place(file, tokens[-1][0]))
    width = len(fields)
    sets = [
        (tokens[at][0], [each for _, each in tokens[at : at + width]])
        for at in range(0, len(tokens), width)
    ]
    return fields, sets, said


def _say_keyword(text: str) -> str:
    """Write a keyword line as 'key: value', the keyword CGATS wraps others in left out."""
    key, _, value = text.strip().partition(" ")
    value = value.strip().strip('"')
    return f"{key.replace('_', ' ')}: {value}" if value and key.isupper() else text[:400]


def _read_field(name: str) -> float | None:
    match = _SPECTRAL.fullmatch(name.strip('"'))
    return float(match[1]) if match else None


def _read_value(token: str, line: int, file: str) -> float:
    bare = token.strip('"')
    number = (
        float(bare.replace(",", ".")) if NUMBER.fullmatch(bare) and "%" not in bare else math.nan
    )
    if not math.isfinite(number):
        raise SpectrumError(show_value(token), "a finite number", Place(file, line))
    return number


def _find_norm(said: list[str]) -> float:
    for each in said:
        match = re.fullmatch(r"SPECTRAL NORM: ([0-9.]{1,20})", each)
        if match and NUMBER.fullmatch(match[1]) and float(match[1]) > 0:
            return float(match[1])
    return 1.0


def _is_print(said: list[str]) -> bool:
    return any(re.fullmatch(r"DEVICE CLASS: OUTPUT", each) for each in said)


def _parse_upright(
    fields: list[str],
    sets: list[tuple[int, list[str]]],
    said: list[str],
    file: str,
    notes: list[str],
) -> Table:
    bare = [name.strip('"') for name in fields]
    at = next((bare.index(each) for each in _WAVELENGTH if each in bare), None)
    if at is None:
        allowed = "fields that end in a wavelength, such as SPECTRAL_NM380, or a wavelength field"
        raise SpectrumError("CGATS data without a spectrum", allowed, Place(file))
    others = [
        i for i in range(len(bare)) if i != at and all(map(_is_numeric, (x[1][i] for x in sets)))
    ]
    if not others:
        raise SpectrumError("wavelengths without values", "a field of values", Place(file))
    columns = [at, *others]
    values = np.array(
        [[_read_value(cells[i], line, file) for i in columns] for line, cells in sets]
    )
    flags = [False] * len(columns)
    rows = Rows(values, np.array([line for line, _ in sets]), flags, flags)
    if len(values) < MIN_ROWS:
        raise SpectrumError(f"{len(values)} sets", f"at least {MIN_ROWS}", Place(file))
    header = ["wavelength (nm)", *(bare[i].replace("_", " ") for i in others)]
    return assemble_table(rows, header, said, file, notes)


def _is_numeric(token: str) -> bool:
    return NUMBER.fullmatch(token.strip('"')) is not None
