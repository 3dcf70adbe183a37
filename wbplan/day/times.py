"""The times of a day by a place's clock.

Steps are even in real time, and each is shown by the clock, so the two days of the year with 23 and
25 hours need no care of anybody.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from typing import TYPE_CHECKING

import numpy as np

from wbplan.core.tables import Array

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

MOST_TIMES = 1500


@dataclass(frozen=True)
class Tolerance:
    """How far things may drift and still match: [mired], [CC] and [stops], each way."""

    mired: float = 10.0
    cc: float = 2.0
    stops: float = 0.5


@dataclass(frozen=True)
class DayWish:
    """What is asked of a day.

    Parameters
    ----------
    date
        None for that of each setup's own time.
    begin, end
        By the clock, minutes from midnight; ``end`` is 1440 for the day's end, and more where it
        is the next day's, less than 24 hours from ``begin``.
    step_minutes
        Between two times.
    within
        What counts as a match.
    """

    date: date | None = None
    begin: int = 0
    end: int = 1440
    step_minutes: int = 10
    within: Tolerance = Tolerance()


def list_moments(day: date, zone: str, wish: DayWish) -> tuple[datetime, ...]:
    """List the times of a day, as aware datetimes of the zone, both ends included.

    A beginning that the clock skips moves to where the clock goes on; of an hour that is shown
    twice the first counts for a beginning and the second for an end.
    """
    from zoneinfo import ZoneInfo

    place = ZoneInfo(zone)
    first = _find_instant(day, wish.begin, place, 0)
    last = _find_instant(day, wish.end, place, 1)
    step = timedelta(minutes=wish.step_minutes)
    count = max(int((last - first) / step), 0) + 1
    return tuple((first + number * step).astimezone(place) for number in range(count))


def _find_instant(day: date, minutes: int, zone: ZoneInfo, fold: int) -> datetime:
    over, rest = divmod(minutes, 1440)
    at = datetime.combine(day + timedelta(days=over), clock_time(rest // 60, rest % 60))
    return at.replace(tzinfo=zone, fold=fold).astimezone(UTC)


def list_seconds(moments: tuple[datetime, ...]) -> Array:
    """List moments as seconds since 1970-01-01 00:00 UTC, (t,)."""
    return np.array([each.timestamp() for each in moments])


def find_spans(flags: np.ndarray) -> list[tuple[int, int]]:
    """Find the runs of a (t,) of bool, as first and last numbers."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def say_span(moments: Sequence[datetime], first: int, last: int) -> str:
    """Say a span of times: '10:00 to 12:30', or the one time."""
    begin, end = say_clock(moments[first]), say_clock(moments[last])
    return begin if first == last else f"{begin} to {end}"


def say_spans(moments: Sequence[datetime], rows: Iterable[int]) -> str:
    """Say times, by their numbers, as spans: '09:00 to 10:30, 17:00'."""
    flags = np.zeros(len(moments), dtype=bool)
    flags[list(rows)] = True
    return ", ".join(say_span(moments, *each) for each in find_spans(flags))


def say_clock(moment: datetime) -> str:
    """Say a moment by its clock: '14:30'."""
    return f"{moment:%H:%M}"
