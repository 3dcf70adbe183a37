"""Lines of a terminal: cells set in columns, and text, both no wider than they may be.

A table that is too wide has its widest columns folded; where that would make ribbons of them, each
row becomes a block of its own, so that nothing runs past the edge and nothing is left out. Plain
text by choice: rich would add two thirds of numpy's import to every run, and colour would be all
it brings.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from typing import Literal

Detail = Literal["brief", "usual", "full"]
"""How much is said: what to set, the decisions and looks, or every table too."""
PLAIN_WIDTH = 80
"""Columns of a terminal that states none, such as a pipe."""
MOST_NAME = 24
"""Letters of a name in a line of figures."""
ANY_WIDTH = 100_000
"""For lines that nothing folds."""
_LEAST_WIDTH = 40
_MOST_FOLDS = 6
_HANG = re.compile(r" {3}\S+ +(?=\S)| *\d+ {2}(?=\S)| *\S+(?: \S+)? {2,}(?=\S)| *")
_LABEL_WIDTH = 11
_PHRASE = re.compile(r"(?<=[,;]) | (?=\()")


def format_rows(
    rows: list[list[str]], indent: str = "   ", width: int = PLAIN_WIDTH, gap: str = "  "
) -> list[str]:
    """Set rows of cells in columns under their head.

    Parameters
    ----------
    rows
        The head first; every row as many cells.
    indent
        Before each line; as everything under a setup has it.
    width
        Columns of the terminal.
    """
    widths = [max(_measure(row[column]) for row in rows) for column in range(len(rows[0]))]
    room = max(width, _LEAST_WIDTH) - len(indent) - len(gap) * (len(widths) - 1)
    if sum(widths) > room:
        folded = _narrow(rows, widths, room, 1) or _narrow(rows, widths, room, 0)
        if folded is None:
            return _format_blocks(rows, indent, width)
        widths = folded
    lines = []
    for row in rows:
        cells = [_fold(cell, size) for cell, size in zip(row, widths, strict=True)]
        for line in range(max(len(each) for each in cells)):
            parts = [each[line] if line < len(each) else "" for each in cells]
            filled = [
                each + " " * (size - _measure(each))
                for each, size in zip(parts, widths, strict=True)
            ]
            lines.append((indent + gap.join(filled)).rstrip())
    return lines


def _measure(text: str) -> int:
    """Count the columns of a terminal that a text takes: two a wide sign (UAX 11), none a mark."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(sign) else 2 if unicodedata.east_asian_width(sign) in "WF" else 1
        for sign in text
    )


def _narrow(rows: list[list[str]], widths: list[int], room: int, kept: int) -> list[int] | None:
    """Narrow the widest columns after those kept; None where cells would become ribbons."""
    least = [
        max(_measure(word) for row in rows for word in [*row[column].split(), ""])
        for column in range(len(widths))
    ]
    least[:kept] = widths[:kept]
    narrowed = list(widths)
    while sum(narrowed) > room:
        able = [column for column, size in enumerate(narrowed) if size > least[column]]
        if not able:
            return None
        narrowed[max(able, key=lambda column: narrowed[column])] -= 1
    ribbons = any(
        len(_fold(cell, size)) > _MOST_FOLDS
        for row in rows
        for cell, size in zip(row, narrowed, strict=True)
    )
    return None if ribbons else narrowed


def _fold(cell: str, width: int) -> list[str]:
    if _measure(cell) <= width:
        return [cell]
    phrases = _PHRASE.split(cell)
    if all(len(each) <= width for each in phrases):
        lines = [""]
        for each in phrases:
            longer = f"{lines[-1]} {each}".lstrip()
            lines[-1:] = [longer] if len(longer) <= width else [lines[-1], each]
        return lines
    return textwrap.wrap(cell, width, break_long_words=False, break_on_hyphens=False)


def _format_blocks(rows: list[list[str]], indent: str, width: int) -> list[str]:
    head, *body = rows
    lines = []
    for row in body:
        first, *cells = row
        said = [
            f"{name}: {cell}" if name else cell
            for name, cell in zip(head[1:], cells, strict=True)
            if cell
        ]
        if first.strip():
            lines += wrap_text(indent + first, width, indent + "  ")
        lines += wrap_text(f"{indent}  {'; '.join(said)}", width, indent + "    ")
    return lines


def format_columns(rows: list[list[str]], width: int = PLAIN_WIDTH) -> list[str]:
    """Set rows of many short cells in columns, in parts one under the other where there are many.

    Columns for which there is no room stand in a part of their own, the first column again before
    them, so that a row of sixteen figures stays one.
    """
    gap = 2
    lead = max(len(row[0]) for row in rows)
    room = max(width, _LEAST_WIDTH) - lead - gap
    widest = [min(max(len(row[n]) for row in rows), room) for n in range(1, len(rows[0]))]
    parts: list[list[int]] = [[]]
    taken = 0
    for column, size in enumerate(widest, 1):
        if parts[-1] and taken + size > room:
            parts.append([])
            taken = 0
        parts[-1].append(column)
        taken += size + gap
    lines: list[str] = []
    for part in parts:
        lines += [""] if lines else []
        lines += format_rows([[row[n] for n in (0, *part)] for row in rows], "", width)
    return lines


def wrap_text(line: str, width: int = PLAIN_WIDTH, hang: str | None = None) -> list[str]:
    """Break a line that is too wide between its words, the rest under its text.

    A file's name is never broken, since it is copied whole.

    Parameters
    ----------
    hang
        Before the further lines; by itself as wide as the line's label.
    """
    width = max(width, _LEAST_WIDTH)
    if len(line) <= width:
        return [line]
    if hang is None:
        begin = _HANG.match(line)
        deep = begin.end() if begin else 0
        hang = " " * (deep if deep <= 2 * _LABEL_WIDTH else 3)
    lead = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(
        line[len(lead) :],
        width,
        initial_indent=lead,
        subsequent_indent=hang,
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
    )


def fit_text(text: str, width: int = PLAIN_WIDTH) -> str:
    """Break every line of a text that is too wide for a terminal."""
    return "\n".join(piece for line in text.splitlines() for piece in wrap_text(line, width))


def cut_name(name: str, most: int = MOST_NAME) -> str:
    """Cut a name that would take the room of figures; … says that it goes on."""
    return name if len(name) <= most else f"{name[: most - 1].rstrip()}…"


def shorten_name(name: str, room: int) -> str:
    """Shorten a file's name to its setup and its digest, as a pattern that a shell fills in."""
    digest = name.rpartition("_")[2]
    ways = (name, f"{name.partition('_')[0]}_*_{digest}", f"{name.partition('-')[0]}-*_{digest}")
    return next((each for each in ways if len(each) <= room), ways[-1])
