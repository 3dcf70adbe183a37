"""Text to rows of numbers: which separator, which lines are rows, where a bad cell stands.

The layout of a table is found from the numbers themselves: the separator is the one under which
most lines read as rows of two or more numbers. What the numbers mean (units, order, labels)
is not known here; `wbplan.read.spectra.upright` makes spectra of them.
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.core.tables import Array

MAX_LINES: Final = 100_000
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
    ``lines`` (n,) the line of each row; ``percent`` k flags, whether the column's cells bear a %.
    """

    values: Array
    lines: NDArray[np.int64]
    percent: list[bool]


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
    # A separator at the start or the end of a line is a cell's border, so only spaces go.
    stripped = [(number, line.strip(" ")) for number, line in enumerate(text.split("\n"), 1)]
    lines = [Line(n, line, line.startswith(("#", "//"))) for n, line in stripped if line.strip()]
    if not lines:
        raise SpectrumError("an empty file", "a table of wavelengths and values", Place(file))
    return lines


def split_cells(text: str, separator: str) -> list[str]:
    """Cut a line into cells without quotes; empty cells at its end do not count."""
    mark = _SEPARATORS[separator]
    cells = [cell.strip() for cell in text.split(mark, MAX_COLUMNS)]
    if '"' in text:
        quoted = re.compile('"(.*)"')
        cells = [quoted.sub(r"\1", cell) if quoted.fullmatch(cell) else cell for cell in cells]
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


def read_rows(lines: list[Line], separator: str, file: str, notes: list[str]) -> Rows:
    """Read lines, from the first row of numbers on, as rows that all have its width.

    Adds to ``notes`` what was understood rather than given.

    Raises
    ------
    SpectrumError
        A cell that is no finite number, a row of another width, a % in some cells of a column
        only, decimal points beside decimal commas, fewer than `MIN_ROWS` rows.
    """
    rows: list[list[float]] = []
    numbers: list[int] = []
    percent = [cell.endswith("%") for cell in split_cells(lines[0].text, separator)]
    decimals: dict[str, int] = {}
    for line in lines:
        cells = [] if line.comment else split_cells(line.text, separator)
        if not cells:  # a comment, or the bare separators of a spreadsheet's empty row
            continue
        check_cells(cells, len(percent), lines[0].number, line.number, file)
        if any(percent) or "%" in line.text:
            for index, cell in enumerate(cells):
                if cell.endswith("%") != percent[index] or (percent[index] and index == 0):
                    allowed = "a % in every cell of a column of values or in none"
                    place = locate_column(file, line.number, index)
                    raise SpectrumError(show_value(cell), allowed, place)
            cells = [drop_percent(cell) for cell in cells]
        if separator != "comma":
            for sign in (".", ","):
                if sign in line.text:
                    decimals.setdefault(sign, line.number)
            if len(decimals) > 1:
                lines_of = f"(lines {decimals['.']} and {decimals[',']})"
                found = f"both decimal points and decimal commas {lines_of}"
                raise SpectrumError(found, "one of the two", Place(file, line.number))
            if "," in decimals:
                cells = [cell.replace(",", ".") for cell in cells]
        rows.append([float(cell) for cell in cells])
        numbers.append(line.number)
    if len(rows) < MIN_ROWS:
        place = Place(file, numbers[-1])
        raise SpectrumError(f"{len(rows)} rows", f"at least {MIN_ROWS} rows", place)
    if "," in decimals:
        notes.append("commas read as decimal signs")
    return Rows(np.array(rows), np.array(numbers), percent)


def check_cells(cells: list[str], width: int, first: int, line: int, file: str) -> None:
    """Refuse the cells of a line unless they are ``width`` finite numbers, as in line ``first``.

    Raises
    ------
    SpectrumError
        Names the first cell at fault.
    """
    for index, cell in enumerate(cells):
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
