"""Cells of a terminal's table, set in columns."""

from __future__ import annotations

import textwrap

LINE = 80
_LONGEST_LEAD = 30
_GAP = 2


def format_rows(rows: list[list[str]], indent: str = "   ") -> list[str]:
    """Set rows of cells in columns, indented as everything under a setup is."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        indent
        + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def format_within(rows: list[list[str]], width: int = LINE) -> list[str]:
    """Set rows of cells in columns within a width, the first row their heads.

    Cells are broken at blanks where they are too long; columns for which there is no room stand in
    a block of their own under the others, with the first column again.
    """
    lead = min(max(len(row[0]) for row in rows), _LONGEST_LEAD)
    room = width - lead - _GAP
    widest = [min(max(len(row[n]) for row in rows), room) for n in range(1, len(rows[0]))]
    blocks: list[list[int]] = [[]]
    taken = 0
    for column, size in enumerate(widest, 1):
        if blocks[-1] and taken + size > room:
            blocks.append([])
            taken = 0
        blocks[-1].append(column)
        taken += size + _GAP
    lines: list[str] = []
    for block in blocks:
        lines += [""] if lines else []
        for row in rows:
            parts = [_break(row[0], lead), *(_break(row[n], widest[n - 1]) for n in block)]
            sizes = [lead, *(widest[n - 1] for n in block)]
            for line in range(max(map(len, parts))):
                cells = [part[line] if line < len(part) else "" for part in parts]
                pairs = zip(cells, sizes, strict=True)
                lines.append("  ".join(cell.ljust(size) for cell, size in pairs).rstrip())
    return lines


def _break(cell: str, width: int) -> list[str]:
    return textwrap.wrap(cell, width, subsequent_indent=" ", break_on_hyphens=False) or [""]


def format_under(head: str, text: str, indent: int = 11, width: int = LINE) -> list[str]:
    """Set a text under its head, ``   head    text``, broken at blanks."""
    return textwrap.wrap(
        text,
        width,
        initial_indent=f"   {head}".ljust(indent),
        subsequent_indent=" " * indent,
        break_on_hyphens=False,
    )
