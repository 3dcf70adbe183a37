"""A bar on the terminal for what takes more than two seconds; nothing where nobody looks."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
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
            _draw(done / total, f"{done} of {total} {noun}")
        yield item
    if shown:
        _wipe()


def make_ticker(noun: str) -> Callable[[float], None]:
    """Make what is told a share from 0 to 1 and shows it on a terminal once that takes over 2 s."""
    from time import monotonic

    began, shown = monotonic(), [0.0]

    def tick(share: float) -> None:
        now = monotonic()
        if not sys.stderr.isatty() or now - began < _PATIENCE_S:
            return
        if share >= 1.0:
            _wipe()
        elif now - shown[0] > 0.1:
            shown[0] = now
            _draw(share, f"{100 * share:.0f} % {noun}")

    return tick


def _draw(share: float, said: str) -> None:
    bar = "#" * int(_WIDTH * share + 1e-9)
    print(f"\r[{bar:<{_WIDTH}}] {said}", end="", file=sys.stderr, flush=True)


def _wipe() -> None:
    print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)
