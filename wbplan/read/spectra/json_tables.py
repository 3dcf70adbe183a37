"""Spectra from JSON: what IES TM-27 says in another dress, and the plain shapes of scripts.

Three shapes are found wherever they stand in the file: an object whose keys are wavelengths, each
with a value or a list of values (their labels in a list called ``index``, ``labels`` or
``columns``); lists of equal length side by side, one of them called wavelength; a list of pairs,
or of objects that each have a wavelength. Every text beside them is taken as words around the
numbers, so that a unit stated there counts.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

import numpy as np

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.read.spectra.rows import MAX_COLUMNS, MAX_LINES, MIN_ROWS, NUMBER, Rows
from wbplan.read.spectra.upright import Table, assemble_table, decode_text
from wbplan.read.spectra.waveforms import add_waveform, find_json_waveform

_WAVELENGTH: Final = re.compile(r"wave ?_?-?lengths?|lambda|wl|nm", re.IGNORECASE)
_LABELS: Final = ("index", "labels", "columns", "channels")
_MOST_TABLES: Final = 200
_MOST_TEXTS: Final = 400
_MOST_DEPTH: Final = 40


class _Found(NamedTuple):
    """Rows found at a path: the wavelength first in each, with the labels of the others."""

    path: str
    rows: list[list[Any]]
    labels: list[str]


def is_json(raw: bytes) -> bool:
    """Tell JSON by its first character: a brace, or a bracket with another or a brace after it."""
    start = raw[:400].removeprefix(b"\xef\xbb\xbf").replace(b"\0", b"").lstrip()
    if start.startswith(b"["):
        return start[1:].lstrip().startswith((b"[", b"{"))
    return start.startswith(b"{") and start[1:].lstrip()[:1] in (b'"', b"}", b"")


def parse_json(raw: bytes, file: str) -> tuple[Table, ...]:
    """Parse every spectrum of a JSON file.

    Raises
    ------
    SpectrumError
        For text that is no JSON, and with the path of what cannot be a spectrum.
    """
    text, notes = decode_text(raw, file)
    try:
        tree = json.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        raise SpectrumError("JSON nested too deep", "a spectrum", Place(file)) from None
    except ValueError as error:
        line = getattr(error, "lineno", 0)
        cause = f"JSON that breaks off ({str(error).split(':')[0]})"
        raise SpectrumError(cause, "JSON (RFC 8259)", Place(file, line)) from None
    found = list(_find_tables(tree))
    if not found:
        allowed = "an object with wavelengths as keys, or lists of wavelengths and of values"
        raise SpectrumError("JSON without a spectrum", allowed, Place(file))
    said = list(_list_texts(tree))
    if any(re.search(r"sensitivit|responsivit", each, re.IGNORECASE) for each in said):
        said.append("quantity: sensitivity")
    labels = _find_labels(tree)
    tables = tuple(_make_table(each, labels, said, file, list(notes)) for each in found)
    return add_waveform(tables, find_json_waveform(tree))


def _walk(tree: Any) -> Iterator[tuple[str, Any]]:
    """Walk over everything that is no number, with its path, in the order of the file."""
    waiting: list[tuple[str, Any, int]] = [("", tree, 0)]
    while waiting:
        path, each, depth = waiting.pop()
        yield path, each
        if depth >= _MOST_DEPTH:
            continue
        if isinstance(each, dict):
            inside: list[tuple[str, Any]] = [(str(key), value) for key, value in each.items()]
        elif isinstance(each, list):
            inside = [(str(number), value) for number, value in enumerate(each)]
        else:
            continue
        waiting += [
            (f"{path}.{key[:60]}".lstrip("."), value, depth + 1)
            for key, value in reversed(inside)
            if isinstance(value, dict | list | str)
        ]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _find_tables(tree: Any) -> Iterator[_Found]:
    count = 0
    for path, each in _walk(tree):
        found = None
        if isinstance(each, dict):
            found = _read_keys(path, each) or _read_lists(path, each)
        elif isinstance(each, list) and len(each) >= MIN_ROWS:
            found = _read_pairs(path, each)
        if found is not None:
            yield found
            count += 1
            if count >= _MOST_TABLES:
                return


def _read_keys(path: str, each: dict[str, Any]) -> _Found | None:
    keys = [key for key in each if NUMBER.fullmatch(key.removesuffix("nm").strip())]
    if len(keys) < MIN_ROWS or len(keys) < len(each):
        return None
    values = [each[key] if isinstance(each[key], list) else [each[key]] for key in keys]
    rows = [
        [float(key.removesuffix("nm").strip().rstrip("%").replace(",", ".")), *value]
        for key, value in zip(keys, values, strict=True)
    ]
    return _Found(path, rows, [])


def _read_lists(path: str, each: dict[str, Any]) -> _Found | None:
    lists = {
        key: value
        for key, value in each.items()
        if isinstance(value, list) and len(value) >= MIN_ROWS and all(map(_is_number, value))
    }
    first = next((key for key in lists if _WAVELENGTH.search(key)), None)
    if first is None:
        return None
    size = len(lists[first])
    others = [key for key in lists if key != first and len(lists[key]) == size]
    if not others:
        return None
    rows = [list(row) for row in zip(*(lists[key] for key in (first, *others)), strict=True)]
    return _Found(path, rows, [first, *others])


def _read_pairs(path: str, each: list[Any]) -> _Found | None:
    if all(isinstance(row, list) and len(row) > 1 and _is_number(row[0]) for row in each):
        return _Found(path, each, [])
    if not all(isinstance(row, dict) for row in each):
        return None
    first = next((key for key in each[0] if _WAVELENGTH.search(key)), None)
    if first is None:
        return None
    others = [key for key in each[0] if key != first and _is_number(each[0][key])]
    if not others:
        return None
    return _Found(
        path, [[row.get(key) for key in (first, *others)] for row in each], [first, *others]
    )


def _list_texts(tree: Any) -> Iterator[str]:
    count = 0
    for _, each in _walk(tree):
        if not isinstance(each, dict):
            continue
        for key, value in each.items():
            if isinstance(value, str) or (_is_number(value) and not NUMBER.fullmatch(key)):
                yield f"{key[:80]}: {str(value)[:400]}"
                count += 1
                if count >= _MOST_TEXTS:
                    return


def _find_labels(tree: Any) -> list[list[str]]:
    """Find the lists of texts that could label columns."""
    return [
        [str(label)[:80] for label in each]
        for path, each in _walk(tree)
        if isinstance(each, list)
        and 0 < len(each) <= MAX_COLUMNS
        and all(isinstance(label, str) for label in each)
        and any(part in _LABELS for part in path.casefold().split("."))
    ]


def _make_table(
    found: _Found, labels: list[list[str]], said: list[str], file: str, notes: list[str]
) -> Table:
    place = Place(file, 0, 0, found.path[-60:])
    width = len(found.rows[0])
    if width > MAX_COLUMNS or len(found.rows) > MAX_LINES:
        raise SpectrumError(f"{len(found.rows)} rows of {width}", "a spectrum", place)
    for row in found.rows:
        if len(row) != width or width < 2:
            said_row = (
                f"{len(row) - 1} values at {row[0]:g}" if row and _is_number(row[0]) else "rows"
            )
            raise SpectrumError(said_row, f"{width - 1} at each wavelength", place)
        bad = next((cell for cell in row if not _is_finite(cell)), 0.0)
        if not _is_finite(bad):
            shown = "null" if bad is None else show_value(str(bad)[:80])
            raise SpectrumError(shown, "a finite number", place)
    values = np.array([[float(cell) for cell in row] for row in found.rows])
    rows = Rows(values, np.zeros(len(values), np.int64), [False] * width, [False] * width)
    header = found.labels
    if not header:
        fits = next((each for each in labels if len(each) == width - 1), None)
        header = ["wavelength (nm)", *fits] if fits else []
    notes = [*notes, f"JSON, the spectrum at {found.path or 'the top'}"]
    return assemble_table(rows, header, said, file, notes)


def _is_finite(cell: Any) -> bool:
    if not _is_number(cell):
        return False
    try:
        return math.isfinite(float(cell))
    except OverflowError:
        return False
