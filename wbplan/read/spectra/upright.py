"""Spectra from text tables: a wavelength column and one or more columns of values.

Meters, laboratories and spreadsheets write the same curve in many dialects. `parse_table` finds
the layout from the numbers themselves (`rows`). Lines above the first row of numbers are
header; the rows must then run on without a break.
Whatever was understood rather than given (a decimal comma, a percent sign, micrometres, a
descending order) is written into `Table.notes`, so that a report can repeat it. What could be
read in two ways is refused.

Comments are lines that begin with ``#`` or ``//``, or with ``;`` where that is not the separator.
A comment can serve as the column header if no other line does and its first cell speaks of
wavelength. Nothing is resampled here: the values stay on the wavelengths of the file.
"""

from __future__ import annotations

import codecs
import os
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError, UnknownNameError, describe_choices, fold_name
from wbplan.core.files import read_bytes, show_value
from wbplan.core.tables import Array
from wbplan.light.spectrum import WANTED_NM, check_range, freeze_fields
from wbplan.read.spectra.rows import (
    NUMBER,
    Line,
    Rows,
    check_cells,
    find_separator,
    is_row,
    locate_column,
    read_rows,
    split_cells,
    split_lines,
)
from wbplan.read.spectra.units import find_irradiance_factors

MAX_TABLE_BYTES: Final = 20_000_000
MAX_GAP_NM: Final = 20.0
MAX_CHOSEN_GAP_NM: Final = 30.0
NOTED_GAP_NM: Final = 10.0
NOISE_FRACTION: Final = 0.005

NM_PER_UNIT: Final = {
    **dict.fromkeys(("nm", "nanometer", "nanometers", "nanometre", "nanometres"), 1.0),
    **dict.fromkeys(("um", "μm", "micrometer", "micrometers", "micrometre", "micrometres"), 1e3),
    **dict.fromkeys(("micron", "microns"), 1e3),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), 1e9),
}
_NOT_WAVELENGTH: Final = {"hz", "thz", "ev", "cm", "mm", "å", "frequency", "wavenumber", "energy"}
_WAVELENGTH_WORDS: Final = {"wavelength", "wavelengths", "lambda", "λ", "wl"}
_UNIT_HINT: Final = "nanometres, or a header cell that states the unit, such as 'wavelength_um'"


@dataclass(frozen=True, eq=False)
class Table:
    """Columns of values over wavelength, as a file gives them.

    Parameters
    ----------
    wavelength_nm
        (n,) strictly rising [nm].
    values
        (n, k), one column per curve, in the unit of the file (a percentage divided by 100).
    labels
        k names, from the header where there is one.
    notes
        What was understood rather than given, one sentence each.
    source
        Name of the file.
    quantity
        What the file says the values are ("irradiance", "transmittance"), empty if it does not.
    irradiance_factor
        k factors that bring the values to W m-2 nm-1, NaN where they are relative; or empty.
    counted_as, first_number
        What one curve is called in messages, and the number of the first.
    """

    wavelength_nm: Array
    values: Array
    labels: tuple[str, ...]
    notes: tuple[str, ...] = ()
    source: str = ""
    quantity: str = ""
    irradiance_factor: tuple[float, ...] = ()
    counted_as: str = "column"
    first_number: int = 2

    def __post_init__(self) -> None:
        freeze_fields(self, "wavelength_nm", "values")

    def column(self, which: str | int) -> Array:
        """Pick one curve (n,) by its label, or by its number as the file counts columns.

        The wavelength is column 1, so the first curve is column 2. Case and the separators
        ``-``, ``_`` and space do not count in a label.

        Raises
        ------
        UnknownNameError
            No such column, or a label that stands over several.
        """
        return self.values[:, self.find_column(which)]

    def find_column(self, which: str | int) -> int:
        """Find the row of ``labels`` that a label or a number means; see `column`."""
        place = Place(self.source)
        first, last = self.first_number, len(self.labels) + self.first_number - 1
        if isinstance(which, int):
            if not first <= which <= last:
                allowed = f"a {self.counted_as} from {first} to {last}"
                if self.counted_as == "column":
                    allowed += " (column 1 is the wavelength)"
                raise UnknownNameError(f"{self.counted_as} {which}", allowed, place)
            return which - first
        hits = [i for i, label in enumerate(self.labels) if label == which] or [
            i for i, label in enumerate(self.labels) if fold_name(label) == fold_name(which)
        ]
        if len(hits) > 1:
            numbers = " and ".join(str(i + first) for i in hits)
            found = f"{show_value(which)} over several {self.counted_as}s"
            raise UnknownNameError(found, f"one of the numbers {numbers}", place)
        if not hits:
            allowed = describe_choices(which, self.labels)
            raise UnknownNameError(f"the {self.counted_as} {show_value(which)}", allowed, place)
        return hits[0]


def read_table(path: str | os.PathLike[str], columns: int | None = 2) -> Table:
    """Read a text table of spectra; see `parse_table` for what is understood and refused.

    UTF-8 and UTF-16 are known by their byte order mark. Bytes that are not UTF-8 are read as
    Windows-1252, with a note: that can only garble words of the header, never a number.

    Raises
    ------
    SpectrumError
        Also when the file cannot be read, exceeds `MAX_TABLE_BYTES` or holds binary data.
    """
    file = os.fspath(path)
    text, notes = decode_text(read_bytes(path, MAX_TABLE_BYTES, SpectrumError), file)
    table = parse_table(text, file, columns)
    return replace(table, notes=(*notes, *table.notes))


def decode_text(raw: bytes, file: str) -> tuple[str, tuple[str, ...]]:
    """Decode a text file, with notes on what was understood of its encoding.

    Raises
    ------
    SpectrumError
        For bytes that are no text.
    """
    notes: list[str] = []
    encoding = "utf-8"
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
        notes.append("read as UTF-16 text")
    try:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            if encoding != "utf-8":
                raise
            text = raw.decode("cp1252")
            notes.append("not UTF-8: read as Windows-1252 text")
    except UnicodeDecodeError:
        raise SpectrumError("binary data", "a text table, UTF-8", Place(file)) from None
    return text, tuple(notes)


def parse_table(text: str, file: str, columns: int | None = 2) -> Table:
    """Parse a text table of spectra.

    Understood: comma, semicolon, tab or spaces between columns; a decimal comma with any of
    these but the comma; CRLF and CR; blank lines; separators at the end of a row; header lines
    above the numbers, of which the last with the right number of cells gives the labels;
    wavelengths in micrometres or metres where the header's first cell says so; percentages,
    marked in each cell or in the label; descending wavelengths; negative values within
    `NOISE_FRACTION` of their column's maximum, which are set to zero.

    Parameters
    ----------
    text
        The whole table; a byte order mark at its start is passed over.
    file
        Name to give in errors and as `Table.source`.
    columns
        How many columns the table must have, wavelength included; None for any from 2 up.

    Raises
    ------
    SpectrumError
        With file, line and column number: cells that are not finite numbers, ragged rows, fewer
        than `rows.MIN_ROWS` rows, wavelengths that repeat, turn back, look like another
        unit, do not reach from 420 to 680 nm or leave a gap over `MAX_GAP_NM` between 400 and
        700 nm, negative values beyond noise, a column of zeros, binary data.
    """
    notes: list[str] = []
    if text.startswith("\ufeff"):
        text = text[1:]
        notes.append("passed over a byte order mark")
    lines = split_lines(text, file)
    name = find_separator(lines, file)
    if name != "semicolon":
        lines = [line._replace(comment=line.comment or line.text[0] == ";") for line in lines]
    first = next(i for i, line in enumerate(lines) if is_row(line, name))
    notes.append(f"columns separated by {name}")
    rows = read_rows(lines[first:], name, file, notes)
    width = rows.values.shape[1]
    if columns is not None and width != columns:
        hint = " (a decimal comma needs another separator)" if name == "comma" else ""
        place = Place(file, int(rows.lines[0]))
        raise SpectrumError(f"{width} columns", f"{columns} columns{hint}", place)
    header = _read_header(lines[:first], name, rows, file, notes)
    table = _assemble(rows, header, file, notes)
    factors = find_irradiance_factors(table.labels, [line.text for line in lines[:first]])
    return replace(table, irradiance_factor=factors)


def _words(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]+", unicodedata.normalize("NFKC", text).casefold()))


def _read_header(
    above: list[Line], separator: str, rows: Rows, file: str, notes: list[str]
) -> list[str]:
    """Give the cells of the line that heads the columns, or nothing."""
    width = rows.values.shape[1]

    def split(text: str) -> list[str]:
        if separator == "spaces":  # 'wavelength (nm) value' is two cells
            text = re.sub(r"(?<!\s)\s+(?=[(\[])", "", text)
        return split_cells(text, separator)

    plain = [line for line in above if not line.comment and split(line.text)]
    if plain:
        cells = split(plain[-1].text)
        number = plain[-1].number
        if cells and NUMBER.fullmatch(cells[0]):
            check_cells(cells, width, int(rows.lines[0]), number, file)
        begin = plain[0].number
        notes.append(f"header: line {begin}" + (f" to {number}" if number > begin else ""))
        if len(cells) == width:
            return cells
        notes.append(f"line {number} does not head {width} columns: no labels or units taken")
    for line in reversed(above):
        cells = split(line.text.lstrip("#/; \t"))
        words = _words(cells[0]) if cells else set()
        if line.comment and len(cells) == width and words & {*_WAVELENGTH_WORDS, *NM_PER_UNIT}:
            notes.append(f"comment in line {line.number} read as the header")
            return cells
    return []


def _convert_wavelengths(rows: Rows, header: list[str], file: str, notes: list[str]) -> Array:
    label = header[0] if header else ""
    words = _words(label)
    factors = {NM_PER_UNIT[word] for word in words if word in NM_PER_UNIT}
    if words & _NOT_WAVELENGTH or len(factors) > 1:
        found = f"the header cell {show_value(label)}"
        raise SpectrumError(found, "a wavelength in nm, um or m", Place(file, 0, 0, "column 1"))
    factor = factors.pop() if factors else 1.0
    if not factors and not words & set(NM_PER_UNIT):
        notes.append("no unit stated: wavelengths taken as nm")
    elif factor != 1.0:
        notes.append(f"wavelengths converted to nm from the unit in {show_value(label)}")
    # Nine decimals are far finer than any meter and undo the product's rounding in binary.
    wavelength = np.round(rows.values[:, 0] * factor, 9)
    place = locate_column(file, rows.lines[0], 0)
    if wavelength.max() < 100.0:
        found = f"wavelengths from {wavelength.min():g} to {wavelength.max():g}"
        raise SpectrumError(f"{found}, which look like micrometres or metres", _UNIT_HINT, place)
    if wavelength.min() <= 0.0:
        row = int(np.argmin(wavelength))
        place = locate_column(file, rows.lines[row], 0)
        raise SpectrumError(f"{wavelength[row]:g}", "wavelengths above 0 nm", place)
    return wavelength


def _sort_rows(rows: Rows, wavelength: Array, file: str, notes: list[str]) -> tuple[Rows, Array]:
    """Give rows in rising order: a falling table is turned round, any other order is refused."""
    step = np.diff(wavelength)
    if np.all(step > 0):
        return rows, wavelength
    if np.all(step < 0):
        notes.append("descending wavelengths put in rising order")
        turned = Rows(rows.values[::-1], rows.lines[::-1], rows.percent)
        return turned, wavelength[::-1]
    order = np.argsort(wavelength, kind="stable")
    same = np.flatnonzero(np.diff(wavelength[order]) == 0)
    if same.size:
        one, two = rows.lines[order[same[0]]], rows.lines[order[same[0] + 1]]
        found = f"{wavelength[order[same[0]]]:g} nm twice, in line {one} and line {two}"
        raise SpectrumError(found, "each wavelength once", locate_column(file, two, 0))
    turn = int(np.argmax(np.sign(step) != np.sign(step[0]))) + 1
    found = f"{wavelength[turn]:g} nm after {wavelength[turn - 1]:g} nm"
    raise SpectrumError(found, "rising wavelengths", locate_column(file, rows.lines[turn], 0))


def check_gaps(wavelength: Array, file: str, notes: list[str], lines: Sequence[int] = ()) -> None:
    """Refuse a hole between 400 and 700 nm, and note coarse steps.

    A hole is a step over `MAX_GAP_NM`. Where the steps differ all along, the wavelengths were
    chosen one by one, where the curve bends, and up to `MAX_CHOSEN_GAP_NM` passes with a note.

    Parameters
    ----------
    wavelength
        (n,) rising [nm].
    lines
        The line of each wavelength in the file, if known.

    Raises
    ------
    SpectrumError
        With the line where the hole ends.
    """
    low, high = WANTED_NM
    steps = np.diff(wavelength)
    inside = (wavelength[1:] > low) & (wavelength[:-1] < high)
    gap = np.where(inside, steps, 0.0)
    widest = int(np.argmax(gap))
    where = f"{wavelength[widest]:g} to {wavelength[widest + 1]:g} nm"
    is_chosen = bool((np.abs(steps - np.median(steps)) < 0.01).mean() < 0.5)
    most = MAX_CHOSEN_GAP_NM if is_chosen else MAX_GAP_NM
    if gap[widest] > most + 1e-6:
        allowed = f"steps of at most {most:g} nm between {low:g} and {high:g} nm"
        place = locate_column(file, lines[widest + 1] if len(lines) else 0, 0)
        raise SpectrumError(f"a gap from {where}", allowed, place)
    if gap[widest] > NOTED_GAP_NM + 1e-6:
        notes.append(f"coarse steps: the widest is {where}")


def _assemble(rows: Rows, header: list[str], file: str, notes: list[str]) -> Table:
    if not np.isfinite(rows.values).all():
        row, index = (int(i) for i in np.argwhere(~np.isfinite(rows.values))[0])
        place = locate_column(file, rows.lines[row], index)
        raise SpectrumError("a number too large to hold", "a finite number", place)
    wavelength = _convert_wavelengths(rows, header, file, notes)
    rows, wavelength = _sort_rows(rows, wavelength, file, notes)
    check_range(float(wavelength[0]), float(wavelength[-1]), Place(file, 0, 0, "column 1"))
    check_gaps(wavelength, file, notes, rows.lines.tolist())

    values = rows.values[:, 1:] + 0.0  # a copy, and -0 becomes 0
    labels = [cell or f"column {i}" for i, cell in enumerate(header[1:], 2)]
    labels = labels or [f"column {i + 2}" for i in range(values.shape[1])]
    in_percent = np.array(rows.percent[1:])
    for index, label in enumerate(labels):
        says = "%" in label or "percent" in _words(label)
        if header and says and not NUMBER.fullmatch(label):
            in_percent[index] = True
    if in_percent.any():
        values[:, in_percent] /= 100.0
        named = ", ".join(str(i + 2) for i in np.flatnonzero(in_percent)[:8])
        more = ", ..." if in_percent.sum() > 8 else ""
        notes.append(f"percent divided by 100 in column {named}{more}")

    top = values.max(axis=0)
    low = np.argwhere(values < -NOISE_FRACTION * np.maximum(top, 0.0))
    if low.size:
        row, index = (int(i) for i in low[0])
        allowed = f"no value below -{NOISE_FRACTION:.1%} of the column's maximum"
        place = locate_column(file, rows.lines[row], index + 1)
        raise SpectrumError(f"{rows.values[row, index + 1]:g}", allowed, place)
    if not top.all():
        place = locate_column(file, 0, int(np.argmin(top)) + 1)
        raise SpectrumError("nothing but zeros", "a value above 0", place)
    negative = values < 0.0
    if negative.any():
        values[negative] = 0.0
        notes.append(f"negative values within noise set to zero: {negative.sum()}")
    return Table(wavelength, values, tuple(labels), tuple(notes), file)
