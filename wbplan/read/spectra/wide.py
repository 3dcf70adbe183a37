"""Tables that lie on their side: wavelengths across the columns, a reading in each row.

Meters that log write such files: a line of headings, some of which are wavelengths, then a line for
every reading, its name, time and figures before the spectrum. The line of wavelengths is known by
itself, a long run of cells that rise (or fall) evenly through the visible range; every cell of
a reading outside that run is left alone, but for the one that names it.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.core.tables import Array
from wbplan.light.spectrum import REQUIRED_NM, StatedFigure, check_range
from wbplan.read.spectra.noise import clear_noise
from wbplan.read.spectra.quantities import Quantity, find_status, judge_columns
from wbplan.read.spectra.rows import (
    MIN_ROWS,
    NUMBER,
    Line,
    drop_percent,
    locate_column,
    split_cells,
)
from wbplan.read.spectra.stated import find_stated
from wbplan.read.spectra.units import find_units
from wbplan.read.spectra.upright import (
    MAX_CHOSEN_GAP_NM,
    NM_PER_UNIT,
    Table,
    check_gaps,
)

_LEAST_RUN: Final = 10
_SEPARATORS: Final = ("tab", "semicolon", "comma", "spaces")
_HEADING: Final = re.compile(r"(?:[^\W\d]| )*\(?([0-9]+(?:[.,][0-9]+)?) *([^\W\d]*)\)?")
_LONGEST_HEADING: Final = 40
_NAME_WORDS: Final = ("name", "title", "label", "sample", "id", "reading", "position", "source")


@dataclass(frozen=True)
class _Across:
    """Where the wavelengths stand: the line's index, its separator, the cells [first, last)."""

    line: int
    separator: str
    first: int
    last: int
    wavelength_nm: tuple[float, ...]


def parse_wide(lines: list[Line], file: str) -> Table | None:
    """Parse a table with wavelengths across the columns.

    Parameters
    ----------
    lines
        Of the file, from `rows.split_lines`.
    file
        Name to give in errors and as `Table.source`.

    Returns
    -------
    Table
        One column of ``values`` for each reading, counted from 1; None where no line of the file
        is a line of wavelengths, or where the first column is one of wavelengths.

    Raises
    ------
    SpectrumError
        With line and column: cells that are not finite numbers, a reading that is too short,
        negative or nothing but zeros, wavelengths that leave a hole or miss 420 to 680 nm.
    """
    across = _find_across(lines)
    if across is None or _is_upright(lines, across):
        return None
    notes = [
        f"columns separated by {across.separator}",
        f"wavelengths across the columns, in line {lines[across.line].number}",
    ]
    wavelength = np.array(across.wavelength_nm)
    order = slice(None, None, -1 if wavelength[0] > wavelength[-1] else 1)
    if wavelength[0] > wavelength[-1]:
        notes.append("descending wavelengths put in rising order")
    wavelength = wavelength[order]
    check_range(float(wavelength[0]), float(wavelength[-1]), Place(file, lines[across.line].number))
    check_gaps(wavelength, file, notes, [lines[across.line].number] * wavelength.size)

    headings = split_cells(lines[across.line].text, across.separator)
    readings: list[Array] = []
    names: list[str] = []
    stated: list[tuple[StatedFigure, ...]] = []
    states: list[Quantity | None] = []
    first, last = across.first, across.last
    passed_over = 0
    decimals: set[str] = set()
    for line in lines[across.line + 1 :]:
        cells = split_cells(line.text, across.separator)
        if line.comment or not cells or (len(cells) == 1 and not NUMBER.fullmatch(cells[0])):
            passed_over += bool(cells) and not line.comment
            continue
        readings.append(np.array(_read_values(cells, across, line, file, decimals))[order])
        names.append(_name_reading(cells, headings, across, len(readings)))
        pairs = zip(headings, cells, strict=False)
        beside = [f"{h}: {c}" for i, (h, c) in enumerate(pairs) if not first <= i < last]
        stated.append(find_stated(beside))
        states.append(find_status(beside))
    if not readings:
        place = Place(file, lines[across.line].number)
        raise SpectrumError("a line of wavelengths and no reading", "one reading a line", place)
    if passed_over:
        notes.append(f"lines of a single word passed over: {passed_over}")
    if "," in decimals:
        notes.append("commas read as decimal signs")
    outside = [*headings[: across.first], *headings[across.last :]]
    said = [line.text for line in lines[: across.line]]
    said += [cell for cell in outside if find_units(cell)]
    judged = judge_columns([""] * len(names), said)
    quantities = tuple(own or each for own, each in zip(states, judged, strict=True))
    values = clear_noise(
        np.array(readings).T,
        notes,
        lambda row, index: Place(file, 0, 0, f"reading {index + 1}"),
        "reading",
    )
    return Table(
        wavelength,
        values,
        tuple(names),
        tuple(notes),
        file,
        quantities=quantities if any(each.name for each in quantities) else (),
        said=tuple(said),
        stated=tuple(stated),
        counted_as="reading",
        first_number=1,
    )


def _find_across(lines: list[Line]) -> _Across | None:
    """Find the first line that holds a run of wavelengths, with the longest run in it."""
    for index, line in enumerate(lines):
        if sum(ch.isdigit() for ch in line.text) < 3 * _LEAST_RUN:
            continue
        for separator in _SEPARATORS:
            text = line.text.lstrip("#/; ") if line.comment else line.text
            found = _find_run(split_cells(text, separator))
            if found is not None:
                first, wavelength = found
                return _Across(index, separator, first, first + len(wavelength), wavelength)
    return None


def _find_run(cells: list[str]) -> tuple[int, tuple[float, ...]] | None:
    """Find the longest run of cells that step evenly through the visible range [nm]."""
    if len(cells) < _LEAST_RUN:
        return None
    figures = [_read_heading(cell) for cell in cells]
    best: tuple[int, tuple[float, ...]] | None = None
    start = 0
    for index in range(1, len(figures) + 1):
        if index < len(figures) and _follows(figures, start, index):
            continue
        run = tuple(each for each in figures[start:index] if each is not None)
        longer = best is None or len(run) > len(best[1])
        if len(run) >= _LEAST_RUN and longer:
            low, high = min(run), max(run)
            if low <= REQUIRED_NM[1] and high >= REQUIRED_NM[0] and high - low > 200.0:
                best = (start, run)
        start = index
    return best


def _follows(figures: list[float | None], start: int, index: int) -> bool:
    here, before = figures[index], figures[index - 1]
    if here is None or before is None:
        return False
    step = here - before
    if not 0 < abs(step) <= MAX_CHOSEN_GAP_NM:
        return False
    second = figures[start + 1]
    first = figures[start]
    if index == start + 1 or first is None or second is None:
        return True
    return (step > 0) == (second > first)


def _read_heading(cell: str) -> float | None:
    """Read a wavelength [nm] off a heading: '380', '380 nm', 'nm380', 'W380'."""
    match = _HEADING.fullmatch(unicodedata.normalize("NFKC", cell[:_LONGEST_HEADING]))
    if not match or len(cell) > _LONGEST_HEADING:
        return None
    unit = match[2].casefold()
    if unit and unit not in NM_PER_UNIT:
        return None
    return round(float(match[1].replace(",", ".")) * NM_PER_UNIT.get(unit, 1.0), 9)


def _is_upright(lines: list[Line], across: _Across) -> bool:
    """Tell whether the first column is one of wavelengths, as in an upright table.

    A line of wavelengths that has a label of something else before them heads a table that lies,
    whatever numbers stand under that label. Where nothing labels the first column, it must be as
    even as wavelengths are.
    """
    first = []
    for line in lines:
        cells = [] if line.comment else split_cells(line.text, across.separator)
        if len(cells) > 1 and all(map(NUMBER.fullmatch, cells[:2])):
            first.append(_to_float(cells[0]))
    head = split_cells(lines[across.line].text.lstrip("#/; "), across.separator)
    label = head[0] if across.first > 0 or _read_heading(head[0]) is None else ""
    if label and not NUMBER.fullmatch(label):
        words = set(re.findall(r"[^\W\d_]+", unicodedata.normalize("NFKC", label).casefold()))
        if not words & {*_WAVELENGTH_WORDS, *NM_PER_UNIT}:
            return False
    elif across.first > 0 and not label:
        return False
    if len(first) < MIN_ROWS:
        return False
    step = np.diff(first)
    rises = bool((step > 0).all() or (step < 0).all())
    spans = min(first) <= REQUIRED_NM[0] and max(first) >= REQUIRED_NM[1]
    inside = (np.array(first[1:]) > 400.0) & (np.array(first[:-1]) < 700.0)
    return (
        rises
        and spans
        and bool((np.abs(step)[inside] <= MAX_CHOSEN_GAP_NM).all())
        and (bool(label) or bool(np.ptp(step) < 1e-6 * np.abs(step).max()))
    )


_WAVELENGTH_WORDS: Final = ("wavelength", "wavelengths", "lambda", "λ", "wl")


def _to_float(cell: str) -> float:
    return float(drop_percent(cell).replace(",", "."))


def _read_values(
    cells: list[str], across: _Across, line: Line, file: str, decimals: set[str]
) -> list[float]:
    inside = cells[across.first : across.last]
    wanted = across.last - across.first
    if len(inside) < wanted:
        found = f"a reading of {len(inside)} values"
        raise SpectrumError(found, f"{wanted}, one for each wavelength", Place(file, line.number))
    in_percent = all(cell.endswith("%") for cell in inside)
    values = []
    for index, cell in enumerate(inside, across.first):
        place = locate_column(file, line.number, index)
        bare = drop_percent(cell) if in_percent else cell
        if not NUMBER.fullmatch(bare) or bare.endswith("%"):
            raise SpectrumError(show_value(cell) if cell else "an empty cell", "a number", place)
        decimals.update(sign for sign in ".," if sign in bare)
        if len(decimals) > 1:
            raise SpectrumError("both decimal points and decimal commas", "one of the two", place)
        number = float(bare.replace(",", "."))
        if not np.isfinite(number):
            raise SpectrumError(show_value(cell), "a finite number", place)
        values.append(number / 100.0 if in_percent else number)
    return values


def _name_reading(cells: list[str], headings: list[str], across: _Across, number: int) -> str:
    """Name a reading by the cell under a heading that speaks of names, or by its first words."""
    outside = [i for i in range(len(cells)) if not across.first <= i < across.last and cells[i]]
    for index in outside:
        heading = headings[index].casefold() if index < len(headings) else ""
        if any(word in re.findall(r"[^\W\d_]+", heading) for word in _NAME_WORDS):
            return cells[index]
    words = [cells[i] for i in outside if not NUMBER.fullmatch(cells[i])]
    return words[0] if words else f"reading {number}"
