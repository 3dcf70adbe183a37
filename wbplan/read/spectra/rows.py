"""Text to rows of numbers: which separator, which lines are rows, where a bad cell stands.

The layout of a table is found from the numbers themselves: the separator is the one under which
most lines read as rows of two or more numbers. What the numbers mean (units, order, labels)
is not known here; `wbplan.read.spectra.upright` makes spectra of them.
"""

from __future__ import annotations

import contextlib
import csv
import re
from collections import Counter
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.core.tables import Array

MAX_LINES: Final = 100_000
MAX_LINE_LENGTH: Final = 500_000  # 10 000 columns of 50 characters
MAX_COLUMNS: Final = 10_000
MIN_ROWS: Final = 5

# The order settles ties: a comma can be a decimal sign, a space can be padding.
_SEPARATORS: Final = {"tab": "\t", "semicolon": ";", "comma": ",", "spaces": None}
NUMBER = re.compile(
    r"[+-]?(?:[0-9]+(?:\.[0-9]*|,[0-9]+)?|[.,][0-9]+)(?:e[+-]?[0-9]+)?(?:[ \t\xa0\u202f]*%)?"
    r"|[+-]?(?:nan|inf|infinity)",
    re.IGNORECASE,
)


class Line(NamedTuple):
    """A line that is not blank: its number from 1, its text, whether it is a comment."""

    number: int
    text: str
    comment: bool


class Rows(NamedTuple):
    """The numbers of a table.

    ``values`` (n, k) as written, decimal commas and percent signs resolved to plain figures;
    ``lines`` (n,) the line of each row; ``percent`` k flags, whether the column's cells bear a %;
    ``blank`` k flags, whether a cell of it is empty (a zero stands for it); ``first_column`` is
    where the first of the k columns stands in the file, counted from 0.
    """

    values: Array
    lines: NDArray[np.int64]
    percent: list[bool]
    blank: list[bool]
    first_column: int = 0

    def locate(self, file: str, row: int, index: int) -> Place:
        """Name the place of a cell; a row of -1 is the whole column."""
        line = int(self.lines[row]) if row >= 0 else 0
        return locate_column(file, line, index + self.first_column)


def locate_column(file: str, line: int, index: int) -> Place:
    """Name a column (counted from 0 here, from 1 in messages) of a line (0 is unknown)."""
    return Place(file, int(line), 0, f"column {index + 1}")


def split_lines(text: str, file: str) -> list[Line]:
    """Cut text into its lines that are not blank.

    Raises
    ------
    SpectrumError
        Binary data, over `MAX_LINES` lines, or nothing but blank ones.
    """
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise SpectrumError("binary data (a NUL)", "a text table", Place(file, line))
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    count = text.count("\n")
    if count > MAX_LINES:
        raise SpectrumError(f"{count} lines", f"at most {MAX_LINES} lines", Place(file))
    _check_lengths(text, file)
    # A separator at the start or the end of a line is a cell's border, so only spaces go.
    stripped = [(number, line.strip(" ")) for number, line in enumerate(text.split("\n"), 1)]
    lines = [Line(n, line, line.startswith(("#", "//"))) for n, line in stripped if line.strip()]
    if not lines:
        raise SpectrumError("an empty file", "a table of wavelengths and values", Place(file))
    return lines


def _check_lengths(text: str, file: str) -> None:
    """Refuse a line too long to be one of a table, before it is cut into cells."""
    start = 0
    number = 1
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        if end - start > MAX_LINE_LENGTH:
            allowed = f"lines of at most {MAX_LINE_LENGTH} characters"
            raise SpectrumError(f"a line of {end - start} characters", allowed, Place(file, number))
        start, number = end + 1, number + 1


def split_cells(text: str, separator: str) -> list[str]:
    """Cut a line into cells without quotes; empty cells at its end do not count.

    A separator inside double quotes is part of its cell, as RFC 4180 has it.
    """
    mark = _SEPARATORS[separator]
    cells = text.split(mark, MAX_COLUMNS)
    if '"' in text:
        if mark is not None:
            # A last cell with no closing quote ends where the line does.
            with contextlib.suppress(csv.Error):
                cells = next(csv.reader([text], delimiter=mark, skipinitialspace=True), [])
        cells = [cell.strip().strip('"') for cell in cells]
    cells = [cell.strip() for cell in cells[: MAX_COLUMNS + 1]]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def drop_percent(cell: str) -> str:
    """Take a percent sign, and the space before it, off a cell."""
    return cell.rstrip("% \t\xa0\u202f")


def is_row(line: Line, separator: str) -> bool:
    """Tell whether a line is a row of two or more numbers under a separator."""
    if line.comment:
        return False
    cells = split_cells(line.text, separator)
    return len(cells) > 1 and all(map(NUMBER.fullmatch, cells))


def find_separator(lines: list[Line], file: str) -> str:
    """Find the separator under which most lines are rows of two or more numbers.

    Raises
    ------
    SpectrumError
        If under none of them any line is.
    """
    for step in (1 + len(lines) // 100, 1):
        counts = {name: sum(is_row(line, name) for line in lines[::step]) for name in _SEPARATORS}
        best = max(counts, key=lambda name: counts[name])
        if counts[best]:
            return best
    numeric = next((line for line in lines if NUMBER.fullmatch(line.text.strip())), None)
    if numeric:
        found, place = "only one column", Place(file, numeric.number)
    else:
        found, place = "no row of numbers", Place(file, lines[0].number)
    allowed = f"rows such as '380, 0.52', a wavelength and 1 to {MAX_COLUMNS} values"
    raise SpectrumError(found, allowed, place)


def is_loose_row(cells: list[str]) -> bool:
    """Tell whether cells are a row whose side columns may be empty: two numbers, no word."""
    if len(cells) < 2 or not NUMBER.fullmatch(cells[0]):
        return False
    full = [cell for cell in cells[1:] if cell]
    return bool(full) and all(map(NUMBER.fullmatch, full))


def find_rows(lines: list[Line], separator: str, notes: list[str]) -> tuple[int, int, set[int]]:
    """Find where the rows of numbers begin and end: [first, last) of ``lines``.

    The third is the places of lines of numbers above the table.

    Words after the last row are a footer. Numbers above the table that are not of its width, or
    whose first number does not lead on to the next one, stand above it and are passed over.
    """
    rows = []
    for index, line in enumerate(lines):
        cells = [] if line.comment else split_cells(line.text, separator)
        if is_loose_row(cells):
            rows.append((index, len(cells), _read_number(cells[0])))
    first = next(i for i, line in enumerate(lines) if is_row(line, separator))
    rows = [each for each in rows if each[0] >= first]
    usual = Counter(width for _, width, _ in rows).most_common(1)[0][0]
    passed: set[int] = set()
    while len(rows) > MIN_ROWS and _stands_above(rows[:3], usual):
        notes.append(f"numbers above the table passed over, in line {lines[first].number}")
        passed.add(first)
        del rows[0]
        first = rows[0][0]
    last = len(lines)
    while last > first + 1:
        line = lines[last - 1]
        cells = [] if line.comment else split_cells(line.text, separator)
        if cells and (NUMBER.fullmatch(cells[0]) or not re.search(r"[^\W\d_]", cells[0])):
            break
        last -= 1
    return first, last, passed


_LONGEST_STEP: Final = 30.0
_LONGEST_LEAD: Final = 25.0


def _stands_above(rows: list[tuple[int, int, float]], usual: int) -> bool:
    """Tell whether the first of three rows (place, width, first number) is none of the table's."""
    (_, width, here), (_, _, below), (_, _, after) = rows
    lead, step = abs(below - here), abs(after - below)
    if width != usual:
        return not 0 < lead <= _LONGEST_STEP
    return 0 < step <= _LONGEST_STEP and lead > max(4.0 * step, _LONGEST_LEAD)


def _read_number(cell: str) -> float:
    return float(drop_percent(cell).replace(",", "."))


def read_rows(lines: list[Line], separator: str, file: str, notes: list[str]) -> Rows:
    """Read lines as rows that all have the width of the widest, empty side cells counted.

    Adds to ``notes`` what was understood rather than given. Words between two blocks of at least
    `MIN_ROWS` rows are passed over.

    Raises
    ------
    SpectrumError
        A cell that is no finite number, a row of another width, a % in some cells of a column
        only, decimal points beside decimal commas, commas that could mark thousands or decimals,
        fewer than `MIN_ROWS` rows.
    """
    split = [(line, [] if line.comment else split_cells(line.text, separator)) for line in lines]
    # A comment, or the bare separators of a spreadsheet's empty row, has no cells.
    split = _pass_over_words([(line, cells) for line, cells in split if cells], notes)
    width = _find_width(split, separator)
    has_blanks = width > 2 and any(len(cells) < width or "" in cells for _, cells in split)
    opening = split[0][0].number
    percent = [False] * width
    is_open = [True] * width  # no cell of the column was seen yet
    blank = [False] * width
    rows: list[list[float]] = []
    numbers: list[int] = []
    marks = _DecimalMarks(file)
    for line, cells in split:
        if len(cells) < width and is_loose_row(cells) and has_blanks:
            cells = [*cells, *[""] * (width - len(cells))]
        check_cells(cells, width, opening, line.number, file)
        for index, cell in enumerate(cells):
            if not cell:
                blank[index] = True
                continue
            if is_open[index]:
                is_open[index], percent[index] = False, cell.endswith("%")
            if cell.endswith("%") != percent[index] or (percent[index] and index == 0):
                allowed = "a % in every cell of a column of values or in none"
                place = locate_column(file, line.number, index)
                raise SpectrumError(show_value(cell), allowed, place)
        bare = [drop_percent(cell) or "0" for cell in cells]
        marks.see(bare, line.number)
        rows.append([float(cell.replace(",", ".")) for cell in bare])
        numbers.append(line.number)
    if len(rows) < MIN_ROWS:
        place = Place(file, numbers[-1])
        raise SpectrumError(f"{len(rows)} rows", f"at least {MIN_ROWS} rows", place)
    if marks.judge():
        notes.append("commas read as decimal signs")
    return Rows(np.array(rows), np.array(numbers), percent, blank)


def _find_width(split: list[tuple[Line, list[str]]], separator: str) -> int:
    """Find how many columns a table has: as its first row, or more where cells are empty.

    Rows are one width with empty cells if each has the separators of the widest one, or if the
    widest are over a twentieth of all.
    """
    rows = [(line.text, len(cells)) for line, cells in split if is_loose_row(cells)]
    counts = Counter(width for _, width in rows)
    if len(counts) < 2:
        return len(split[0][1])
    widest = max(counts)
    mark = _SEPARATORS[separator]
    if mark is not None and all(w == widest or t.count(mark) + 1 >= widest for t, w in rows):
        return widest
    has_empty = any("" in cells for _, cells in split)
    return widest if has_empty and counts[widest] > len(rows) // 20 else len(split[0][1])


def _pass_over_words(
    split: list[tuple[Line, list[str]]], notes: list[str]
) -> list[tuple[Line, list[str]]]:
    """Pass over lines of words between two blocks of rows, each long enough to be a table."""
    words = [
        index
        for index, (_, cells) in enumerate(split)
        if not NUMBER.fullmatch(cells[0]) and re.search(r"[^\W\d_]{2}", cells[0])
    ]
    if not words or len(words) > MAX_WORDS_BETWEEN:
        return split
    first, last = words[0], words[-1]
    is_one_stretch = last - first + 1 == len(words)
    if not is_one_stretch or first < MIN_ROWS or len(split) - last - 1 < MIN_ROWS:
        return split
    notes.append(f"words between rows passed over: line {split[first][0].number}")
    return split[:first] + split[last + 1 :]


MAX_WORDS_BETWEEN: Final = 40
_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")


class _DecimalMarks:
    """Which decimal signs the cells of a table hold, and whether commas could be thousands."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._lines: dict[str, int] = {}
        self._is_decimal = False
        self._first: tuple[str, int] = ("", 0)
        self._has_plain = False

    def see(self, cells: list[str], line: int) -> None:
        """Take note of a row.

        Raises
        ------
        SpectrumError
            Decimal points beside decimal commas.
        """
        for cell in cells:
            if "." in cell:
                self._lines.setdefault(".", line)
            if "," in cell:
                self._lines.setdefault(",", line)
                if _THOUSANDS.fullmatch(cell):
                    self._first = self._first if self._first[0] else (cell, line)
                else:
                    self._is_decimal = True
            if len(self._lines) > 1:
                lines_of = f"(lines {self._lines['.']} and {self._lines[',']})"
                found = f"both decimal points and decimal commas {lines_of}"
                raise SpectrumError(found, "one of the two", Place(self._file, line))

    def judge(self) -> bool:
        """Tell whether there are decimal commas.

        Raises
        ------
        SpectrumError
            If every comma stands before three figures, so that it could mark thousands.
        """
        cell, line = self._first
        if cell and not self._is_decimal:
            found = f"{show_value(cell)}, a decimal comma or a mark of thousands"
            allowed = "numbers without marks of thousands, or with a decimal point"
            raise SpectrumError(found, allowed, Place(self._file, line))
        return "," in self._lines


def check_cells(cells: list[str], width: int, first: int, line: int, file: str) -> None:
    """Refuse the cells of a line unless they are ``width`` finite numbers, as in line ``first``.

    Cells of side columns may be empty where there are three columns or more.

    Raises
    ------
    SpectrumError
        Names the first cell at fault.
    """
    is_narrow = len(cells) != width or width == 2
    for index, cell in enumerate(cells):
        if not cell and index > 0 and not is_narrow:
            continue
        if not NUMBER.fullmatch(cell):
            found = show_value(cell) if cell else "an empty cell"
            raise SpectrumError(found, "a number", locate_column(file, line, index))
        if cell[-1] in "nNfFyY":
            raise SpectrumError(
                show_value(cell), "a finite number", locate_column(file, line, index)
            )
    if len(cells) != width:
        found = f"a row of {len(cells)}"
        raise SpectrumError(found, f"{width} columns, as in line {first}", Place(file, line))
