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
import math
import os
import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError, UnknownNameError, describe_choices, fold_name
from wbplan.core.files import read_bytes, show_value
from wbplan.core.intervals import find_quantile
from wbplan.core.ledger import recall
from wbplan.core.tables import Array
from wbplan.light.spectrum import (
    REQUIRED_NM,
    WANTED_NM,
    StatedFigure,
    check_range,
    freeze_fields,
)
from wbplan.light.waveform import Waveform
from wbplan.read.spectra.noise import clear_noise
from wbplan.read.spectra.quantities import (
    INCOMPLETE,
    LOGARITHM,
    RELATIVE,
    WAVELENGTHS,
    Quantity,
    judge_columns,
)
from wbplan.read.spectra.rows import (
    MIN_ROWS,
    NUMBER,
    Line,
    Rows,
    check_cells,
    find_rows,
    find_separator,
    locate_column,
    read_rows,
    split_cells,
    split_lines,
)
from wbplan.read.spectra.stated import find_stated

MAX_TABLE_BYTES: Final = 20_000_000
MAX_GAP_NM: Final = 20.0
MAX_CHOSEN_GAP_NM: Final = 30.0
NOTED_GAP_NM: Final = 10.0
NM_PER_UNIT: Final = {
    **dict.fromkeys(("nm", "nanometer", "nanometers", "nanometre", "nanometres"), 1.0),
    **dict.fromkeys(("um", "μm", "micrometer", "micrometers", "micrometre", "micrometres"), 1e3),
    **dict.fromkeys(("micron", "microns"), 1e3),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), 1e9),
}
_NOT_WAVELENGTH: Final = {"hz", "thz", "ev", "cm", "mm", "å", "frequency", "wavenumber", "energy"}
_WAVELENGTH_WORDS: Final = {"wavelength", "wavelengths", "lambda", "λ", "wl"}
_MOST_WAVELENGTH: Final = 1e30  # of any unit; it can be multiplied
MOST_VALUE: Final = 1e100  # of any unit; sums and products of a few of them are finite
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
    quantities
        What the file says the values of each curve are, with the factor to their unit; an empty
        name where it does not say. Empty if it says nothing of any.
    said
        The lines of words around the numbers.
    stated
        For each curve, the figures that the file states of it; or empty.
    waveform
        Light over time, where the file carries it.
    counted_as, first_number
        What one curve is called in messages, and the number of the first.
    """

    wavelength_nm: Array
    values: Array
    labels: tuple[str, ...]
    notes: tuple[str, ...] = ()
    source: str = ""
    quantities: tuple[Quantity, ...] = ()
    said: tuple[str, ...] = ()
    stated: tuple[tuple[StatedFigure, ...], ...] = ()
    waveform: Waveform | None = None
    counted_as: str = "column"
    first_number: int = 2

    def __post_init__(self) -> None:
        freeze_fields(self, "wavelength_nm", "values")

    def find_quantity(self, index: int) -> Quantity:
        """Find what the file says of one curve."""
        return self.quantities[index] if self.quantities else Quantity("")

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
    raw = read_bytes(path, MAX_TABLE_BYTES, SpectrumError)
    text, notes = decode_text(raw, file)
    table = recall(("table", raw, file, columns), lambda: parse_table(text, file, columns))
    for index, each in enumerate(table.quantities):
        if each.name in (LOGARITHM, INCOMPLETE, WAVELENGTHS):
            place = Place(file, 0, 0, f"column {index + table.first_number}")
            raise SpectrumError(f"a column of {each.name}", "linear values in every row", place)
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
    elif (guess := _guess_utf16(raw)) is not None:
        encoding = guess
        notes.append("read as UTF-16 text, though no mark says so")
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


def _guess_utf16(raw: bytes) -> str | None:
    """Know UTF-16 without a mark by its zeros: every other byte of Western text is one."""
    start = raw[:2000]
    half = len(start) // 2
    if half < 20 or len(raw) % 2:
        return None
    odd, even = start[1::2].count(0), start[0::2].count(0)
    if odd > 0.9 * half and not even:
        return "utf-16-le"
    return "utf-16-be" if even > 0.9 * half and not odd else None


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
    return assemble_table(*_read_text(text, file, columns))


def parse_side_by_side(text: str, file: str) -> tuple[Table, ...]:
    """Parse a text table as `parse_table` does, of spectra that may each have wavelengths.

    Columns from one column of wavelengths to the next make a table of their own; a shorter one
    ends where its wavelengths do.
    """
    rows, header, said, source, notes = _read_text(text, file, None)
    starts = _find_wavelength_columns(rows, header)
    if len(starts) < 2:
        return (assemble_table(rows, header, said, source, notes),)
    ends = [*starts[1:], rows.values.shape[1]]
    notes.append(f"{len(starts)} columns of wavelengths, each for the columns after it")
    result = []
    for first, last in zip(starts, ends, strict=True):
        part = _take_columns(rows, first, last)
        own = header[first:last] if header else []
        result.append(assemble_table(part, own, said, source, [*notes]))
    return tuple(result)


def _find_wavelength_columns(rows: Rows, header: list[str]) -> list[int]:
    """Find columns of wavelengths that are not the first one again and have values after them."""
    low, high = REQUIRED_NM
    found = [0]
    for index in range(1, rows.values.shape[1] - 1):
        label = header[index] if header else ""
        words = _words(label)
        if label and not words & {*_WAVELENGTH_WORDS, "nm", "nanometers", "nanometres"}:
            continue
        column = rows.values[:, index]
        column = column[column > 0] if rows.blank[index] else column
        if column.size < MIN_ROWS or np.array_equal(column, rows.values[:, 0]):
            continue
        if not np.isfinite(column).all():
            continue
        step = np.diff(column)
        is_even = np.abs(step).min() > 0 and np.abs(step).max() <= MAX_CHOSEN_GAP_NM
        is_one_way = bool((step > 0).all() or (step < 0).all())
        if is_one_way and is_even and column.min() <= low and column.max() >= high:
            found.append(index)
    return found


def _take_columns(rows: Rows, first: int, last: int) -> Rows:
    """Take some columns of a table as far as its first one of them goes."""
    kept = rows.values[:, first] > 0 if rows.blank[first] else np.ones(rows.lines.size, bool)
    values = rows.values[kept, first:last]
    blank = [
        is_blank and bool((values[:, place] == 0).any())
        for place, is_blank in enumerate(rows.blank[first:last])
    ]
    return Rows(
        values, rows.lines[kept], rows.percent[first:last], blank, rows.first_column + first
    )


def _read_text(
    text: str, file: str, columns: int | None
) -> tuple[Rows, list[str], list[str], str, list[str]]:
    """Read the rows of a text, its labels, the words around them, and what was understood."""
    notes: list[str] = []
    if text.startswith("\ufeff"):
        text = text[1:]
        notes.append("passed over a byte order mark")
    lines = _take_wavelengths_out(split_lines(text, file), notes)
    name = find_separator(lines, file)
    if name != "semicolon":
        lines = [line._replace(comment=line.comment or line.text[0] == ";") for line in lines]
    if name == "comma":
        lines, name = _join_decimals(lines, file, notes)
    notes.append(f"columns separated by {name}")
    first, last, passed = find_rows(lines, name, notes)
    if last < len(lines):
        notes.append(f"words below the table passed over, from line {lines[last].number}")
    rows = read_rows(lines[first:last], name, file, notes)
    above = [line for i, line in enumerate(lines[:first]) if i not in passed]
    header, heading = _read_header(above, name, rows, file, notes)
    rows, header = _pass_over_index(rows, header, notes)
    width = rows.values.shape[1]
    if columns is not None and width != columns:
        hint = " (a decimal comma needs another separator)" if name == "comma" else ""
        place = Place(file, int(rows.lines[0]))
        raise SpectrumError(f"{width} columns", f"{columns} columns{hint}", place)
    around = [*lines[:first], *lines[last:]]
    return rows, header, [x.text for x in around if x.number != heading], file, notes


_LABELLED: Final = re.compile(
    r"\"?(?P<before>[^\W\d][^\d,;\t\"]{0,40}?)?[\s_:(\[]*(?P<number>[0-9]{1,5}(?:\.[0-9]+)?)"
    r"\s?[(\[]?(?P<unit>nm|um|µm|μm)?[)\]]?[ :=]*\"?(?P<rest>[\t,;=:\s].*)",
    re.IGNORECASE,
)


def _take_wavelengths_out(lines: list[Line], notes: list[str]) -> list[Line]:
    """Free wavelengths that stand in words or bear a unit, as in 'power at 380 [nm],0.5'.

    Only where at least `MIN_ROWS` lines have the same words before and the same unit after, and
    nothing but numbers behind.
    """
    found: dict[int, tuple[str, str, str, str]] = {}
    for index, line in enumerate(lines):
        match = None if line.comment else _LABELLED.fullmatch(line.text[:400])
        if match and (match["before"] or match["unit"]) and len(line.text) <= 400:
            rest = match["rest"]
            if NUMBER.fullmatch(re.sub(r"[\s;\t,=:]+", " ", rest.replace('"', "")).split(" ")[-1]):
                before = (match["before"] or "").strip().casefold()
                found[index] = (before, (match["unit"] or "").casefold(), match["number"], rest)
    usual = Counter(each[:2] for each in found.values()).most_common(1)
    if not usual or usual[0][1] < MIN_ROWS:
        return lines
    (before, unit), count = usual[0]
    factor = 1.0 if unit in ("", "nm") else 1e3
    result = list(lines)
    for index, (words, mark, number, rest) in found.items():
        if (words, mark) == (before, unit):
            x = number if factor == 1.0 else f"{float(number) * factor:.10g}"
            tail = rest if rest[0] in ",;\t" else "\t" + rest.lstrip(" =:\t")
            result[index] = lines[index]._replace(text=x + tail)
    notes.append(f"wavelengths taken out of the words or units around them: {count} rows")
    return result


def _join_decimals(lines: list[Line], file: str, notes: list[str]) -> tuple[list[Line], str]:
    """Tell decimal commas from separators where commas are both, as in '380,0,1234'.

    Raises
    ------
    SpectrumError
        If the header does not settle it.
    """
    split = [[] if line.comment else split_cells(line.text, "comma") for line in lines]
    places = [i for i, cells in enumerate(split) if len(cells) > 2 and all(map(_is_whole, cells))]
    texts = [lines[i].text for i in places]
    numeric = sum(len(cells) > 1 and all(map(NUMBER.fullmatch, cells)) for cells in split)
    if len(places) < max(MIN_ROWS, 0.9 * numeric) or any('"' in text for text in texts):
        return lines, "comma"
    width = len(split[places[0]])
    above = [cells for cells in split[: places[0]] if cells and not _is_whole(cells[0])]
    labels = len(above[-1]) if above else 0
    has_zeros = any(re.search(r",0[0-9]", text) for text in texts)
    if labels == width and not has_zeros:
        return lines, "comma"
    if any(len(split[i]) != width for i in places):
        return lines, "comma"
    whole = width % 2  # an odd number of figures: the wavelengths have no decimals
    if labels >= 2 and 2 * labels - whole == width:
        result = list(lines)
        for i in places:
            cells = split[i]
            pairs = [",".join(cells[j : j + 2]) for j in range(whole, width, 2)]
            result[i] = lines[i]._replace(text=";".join([*cells[:whole], *pairs]))
        for i, cells in enumerate(split[: places[0]]):
            if len(cells) == labels:
                result[i] = lines[i]._replace(text=";".join(cells))
        notes.append(f"commas are decimal signs and separators: {labels} labels settle which")
        return result, "semicolon"
    if width <= 4 or has_zeros:
        found = f"{show_value(texts[0])}, whose commas could be decimal signs or separators"
        allowed = "a decimal point, or another separator beside decimal commas"
        raise SpectrumError(found, allowed, Place(file, lines[places[0]].number))
    return lines, "comma"


def _is_whole(cell: str) -> bool:
    return cell.isascii() and cell.isdigit()


def _pass_over_index(rows: Rows, header: list[str], notes: list[str]) -> tuple[Rows, list[str]]:
    """Pass over columns that stand before the wavelengths: row numbers, or what is labelled."""
    width = rows.values.shape[1]
    named = [i for i, cell in enumerate(header[:-1]) if _words(cell) & _WAVELENGTH_WORDS]
    at = named[0] if named else 0
    if at == 0 and not named and width > 2:
        first, second = rows.values[:, 0], rows.values[:, 1]
        counts = first[0] in (0.0, 1.0) and bool((np.diff(first) == 1.0).all())
        step = np.diff(second)
        rises = bool((step > 0).all() or (step < 0).all())
        visible = second.min() <= REQUIRED_NM[0] and REQUIRED_NM[1] <= second.max() < 5000.0
        at = int(counts and rises and visible)
    if at == 0:
        return rows, header
    notes.append(
        f"passed over before the wavelengths: column {', '.join(map(str, range(1, at + 1)))}"
    )
    kept = Rows(rows.values[:, at:], rows.lines, rows.percent[at:], rows.blank[at:], at)
    return kept, header[at:]


def _words(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]+", unicodedata.normalize("NFKC", text).casefold()))


def _read_header(
    above: list[Line], separator: str, rows: Rows, file: str, notes: list[str]
) -> tuple[list[str], int]:
    """Give the cells of the line that heads the columns and its number, or nothing and 0."""
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
            return cells, number
        notes.append(f"line {number} does not head {width} columns: no labels or units taken")
    for line in reversed(above):
        cells = split(line.text.lstrip("#/; \t"))
        words = _words(cells[0]) if cells else set()
        if line.comment and len(cells) == width and words & {*_WAVELENGTH_WORDS, *NM_PER_UNIT}:
            notes.append(f"comment in line {line.number} read as the header")
            return cells, line.number
    return [], 0


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
    place = rows.locate(file, 0, 0)
    if wavelength.max() < 100.0:
        found = f"wavelengths from {wavelength.min():g} to {wavelength.max():g}"
        raise SpectrumError(f"{found}, which look like micrometres or metres", _UNIT_HINT, place)
    if wavelength.min() <= 0.0:
        row = int(np.argmin(wavelength))
        place = rows.locate(file, row, 0)
        raise SpectrumError(f"{wavelength[row]:g}", "wavelengths above 0 nm", place)
    return wavelength


_SAME_SHARE: Final = 0.1


def _take_finer(rows: Rows, wavelength: Array, file: str, notes: list[str]) -> tuple[Rows, Array]:
    """Of one spectrum that stands twice, at two steps, one under the other, take the finer.

    Raises
    ------
    SpectrumError
        If the two differ by over `_SAME_SHARE` of what they add up to.
    """
    falls = np.flatnonzero(np.diff(wavelength) < -_LEAST_RETURN_NM) + 1
    parts = [slice(a, b) for a, b in zip([0, *falls], [*falls, len(wavelength)], strict=True)]
    if len(parts) < 2 or any(
        len(wavelength[each]) < MIN_ROWS or (np.diff(wavelength[each]) <= 0).any() for each in parts
    ):
        return rows, wavelength
    steps = [float(find_quantile(np.diff(wavelength[each]), 0.5)) for each in parts]
    finest = parts[int(np.argmin(steps))]
    for each in parts:
        x, here = wavelength[each], rows.values[each, 1:]
        inside = (x >= wavelength[finest][0]) & (x <= wavelength[finest][-1])
        for column in range(here.shape[1]):
            other = np.interp(x, wavelength[finest], rows.values[finest, 1 + column])
            gap = np.abs(here[:, column] - other)[inside].sum()
            if inside.sum() < MIN_ROWS or gap > _SAME_SHARE * np.abs(other)[inside].sum():
                line = int(rows.lines[each][0])
                found = f"a second spectrum, from line {line} on, that differs from the other"
                raise SpectrumError(found, "one table in a file", Place(file, line))
    kept = rows._replace(values=rows.values[finest], lines=rows.lines[finest])
    said = " and ".join(f"{step:g}" for step in steps)
    notes.append(f"the same spectrum stands here at steps of {said} nm: the finer is taken")
    return kept, wavelength[finest]


_LEAST_RETURN_NM: Final = 100.0


def _sort_rows(rows: Rows, wavelength: Array, file: str, notes: list[str]) -> tuple[Rows, Array]:
    """Give rows in rising order: a falling table is turned round, any other order is refused."""
    step = np.diff(wavelength)
    if np.all(step > 0):
        return rows, wavelength
    if np.all(step < 0):
        notes.append("descending wavelengths put in rising order")
        turned = rows._replace(values=rows.values[::-1], lines=rows.lines[::-1])
        return turned, wavelength[::-1]
    order = np.argsort(wavelength, kind="stable")
    same = np.flatnonzero(np.diff(wavelength[order]) == 0)
    if same.size:
        one, two = rows.lines[order[same[0]]], rows.lines[order[same[0] + 1]]
        found = f"{wavelength[order[same[0]]]:g} nm twice, in line {one} and line {two}"
        raise SpectrumError(
            found, "each wavelength once", locate_column(file, two, rows.first_column)
        )
    turn = int(np.argmax(np.sign(step) != np.sign(step[0]))) + 1
    found = f"{wavelength[turn]:g} nm after {wavelength[turn - 1]:g} nm"
    raise SpectrumError(found, "rising wavelengths", rows.locate(file, turn, 0))


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
    is_chosen = bool((np.abs(steps - find_quantile(steps, 0.5)) < 0.01).mean() < 0.5)
    most = MAX_CHOSEN_GAP_NM if is_chosen else MAX_GAP_NM
    if gap[widest] > most + 1e-6:
        allowed = f"steps of at most {most:g} nm between {low:g} and {high:g} nm"
        place = locate_column(file, lines[widest + 1] if len(lines) else 0, 0)
        raise SpectrumError(f"a gap from {where}", allowed, place)
    if gap[widest] > NOTED_GAP_NM + 1e-6:
        notes.append(f"coarse steps: the widest is {where}")


def assemble_table(
    rows: Rows, header: list[str], said: list[str], file: str, notes: list[str]
) -> Table:
    """Make a table of rows whose first column is wavelengths.

    Parameters
    ----------
    header
        The labels of all columns, or nothing.
    said
        The lines of words around the numbers.
    file
        Name to give in errors and as `Table.source`.
    notes
        What was understood so far; more is added.

    Raises
    ------
    SpectrumError
        See `parse_table`.
    """
    if not np.isfinite(rows.values).all():
        row, index = (int(i) for i in np.argwhere(~np.isfinite(rows.values))[0])
        place = rows.locate(file, row, index)
        raise SpectrumError("a number too large to hold", "a finite number", place)
    farthest = int(np.abs(rows.values[:, 0]).argmax())
    if abs(rows.values[farthest, 0]) > _MOST_WAVELENGTH:
        found = f"a wavelength of {rows.values[farthest, 0]:.3g}"
        raise SpectrumError(found, _UNIT_HINT, rows.locate(file, farthest, 0))
    if np.abs(rows.values[:, 1:]).max(initial=0.0) > MOST_VALUE:
        row, index = (int(i) for i in np.argwhere(np.abs(rows.values) > MOST_VALUE)[0])
        found = f"a value of {rows.values[row, index]:.3g}"
        raise SpectrumError(found, f"at most {MOST_VALUE:g}", rows.locate(file, row, index))
    wavelength = _convert_wavelengths(rows, header, file, notes)
    rows, wavelength = _take_finer(rows, wavelength, file, notes)
    rows, wavelength = _sort_rows(rows, wavelength, file, notes)
    check_range(float(wavelength[0]), float(wavelength[-1]), rows.locate(file, -1, 0))
    check_gaps(wavelength, file, notes, rows.lines.tolist())

    first_number = 2 + rows.first_column
    values = rows.values[:, 1:] + 0.0  # a copy, and -0 becomes 0
    labels = [cell or f"column {i}" for i, cell in enumerate(header[1:], first_number)]
    labels = labels or [f"column {i + first_number}" for i in range(values.shape[1])]
    in_percent = np.array(rows.percent[1:])
    for index, label in enumerate(labels):
        says = "%" in label or "percent" in _words(label)
        if header and says and not NUMBER.fullmatch(label):
            in_percent[index] = True
    if in_percent.any():
        values[:, in_percent] /= 100.0
        named = ", ".join(str(i + first_number) for i in np.flatnonzero(in_percent)[:8])
        more = ", ..." if in_percent.sum() > 8 else ""
        notes.append(f"percent divided by 100 in column {named}{more}")

    quantities = list(judge_columns(header[1:] or [""] * len(labels), said))
    for index in range(len(labels)):
        if rows.blank[index + 1]:
            quantities[index] = Quantity(INCOMPLETE)
        elif np.array_equal(rows.values[:, index + 1], rows.values[:, 0]):
            quantities[index] = Quantity(WAVELENGTHS)
        elif in_percent[index] and quantities[index].name == "":
            quantities[index] = Quantity(RELATIVE if _has_unit(quantities) else "")
    no_curve = [i for i, x in enumerate(quantities) if x.name in (INCOMPLETE, WAVELENGTHS)]
    used = [i for i, x in enumerate(quantities) if i not in no_curve and x.name != LOGARITHM]
    if len(no_curve) == len(labels):
        empty = int(np.argmax(rows.blank))
        if not rows.blank[empty]:
            raise SpectrumError("wavelengths and no values", "a column of values", Place(file))
        raise SpectrumError("an empty cell", "a number", rows.locate(file, -1, empty))
    if used:
        values[:, used] = clear_noise(
            values[:, used], notes, lambda row, i: rows.locate(file, row, used[i] + 1), "column"
        )
    if no_curve:
        passed = [str(i + first_number) for i in no_curve]
        listed = ", ".join(passed[:8]) + (", ..." if len(passed) > 8 else "")
        notes.append(f"no curve, for it has blanks or repeats the wavelengths: column {listed}")
    return Table(
        wavelength,
        values,
        tuple(labels),
        tuple(notes),
        file,
        quantities=tuple(quantities) if any(each.name for each in quantities) else (),
        said=tuple(said),
        stated=(find_stated(said),) if len(labels) == 1 else (),
        first_number=first_number,
    )


def _has_unit(quantities: Sequence[Quantity]) -> bool:
    return any(math.isfinite(each.factor) for each in quantities)
