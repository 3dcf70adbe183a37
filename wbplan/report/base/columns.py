"""Cells of a terminal's table, set in columns."""

from __future__ import annotations


def format_rows(rows: list[list[str]], indent: str = "   ") -> list[str]:
    """Set rows of cells in columns, indented as everything under a setup is."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        indent
        + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
