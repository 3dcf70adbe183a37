"""How far a long call is: one hook that every such call takes, and a bar that can be hung on it.

A call that can take over two seconds has a parameter ``progress``: None, or something that is
called with a share from 0 to 1 of the whole call, which never falls, and a few words on what is
being worked on. Whoever calls decides what is made of it; the command line draws a bar.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

_T = TypeVar("_T")
_WIDTH = 30
_PATIENCE_S = 2.0
_PAUSE_S = 0.1

Progress = Callable[[float, str], None]
"""Told the share that is done, 0 to 1, and what is being worked on."""


def tell(progress: Progress | None, share: float, doing: str) -> None:
    """Tell a hook, if there is one."""
    if progress is not None:
        progress(share, doing)


def take_part(progress: Progress | None, low: float, high: float) -> Progress | None:
    """Give a hook for a part of the work, whose 0 to 1 count as ``low`` to ``high``."""
    if progress is None:
        return None
    return lambda share, doing: progress(low + (high - low) * share, doing)


def keep_rising(progress: Progress | None) -> Progress | None:
    """Give a hook that holds a share back which is lower than one told before."""
    if progress is None:
        return None
    highest = 0.0

    def rise(share: float, doing: str) -> None:
        nonlocal highest
        highest = max(highest, share)
        progress(highest, doing)

    return rise


def follow(items: Sequence[_T], progress: Progress | None, noun: str) -> Iterator[_T]:
    """Go through items and tell a hook after each: '2 of 6 files'."""
    total = len(items)
    for done, item in enumerate(items, 1):
        yield item
        tell(progress, done / total, f"{done} of {total} {noun}")


def make_bar() -> Progress:
    """Make a hook that draws a bar on a terminal once the work takes over 2 s, and wipes it at 1.

    Nothing is drawn where standard error is no terminal.
    """
    from time import monotonic

    began, shown = monotonic(), 0.0

    def draw(share: float, doing: str) -> None:
        nonlocal shown
        now = monotonic()
        if not sys.stderr.isatty() or now - began < _PATIENCE_S:
            return
        if share >= 1.0:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
        elif now - shown > _PAUSE_S:
            shown = now
            bar = "#" * int(_WIDTH * share + 1e-9)
            said = f"[{bar:<{_WIDTH}}] {100 * share:3.0f} %  {doing}"
            print(f"\r{said[:78]:<78}", end="", file=sys.stderr, flush=True)

    return draw
