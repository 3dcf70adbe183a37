"""A bar on the terminal for what takes more than two seconds; nothing where nobody looks."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TypeVar

_T = TypeVar("_T")
_WIDTH = 30
_PATIENCE_S = 2.0


def show_progress(items: list[_T], noun: str) -> Iterator[_T]:
    """Go through items, showing on a terminal how far it is once that takes over 2 s."""
    from time import monotonic

    began, shown, total = monotonic(), False, len(items)
    for done, item in enumerate(items):
        if sys.stderr.isatty() and monotonic() - began > _PATIENCE_S:
            shown = True
            bar = "#" * (_WIDTH * done // total)
            line = f"\r[{bar:<{_WIDTH}}] {done} of {total} {noun}"
            print(line, end="", file=sys.stderr, flush=True)
        yield item
    if shown:
        print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)
