"""What a plan's record says of it, as values: as much as two plans are compared by.

A recorded plan is not a `decisions.Plan`: it may be of another version, and nothing behind its
figures is known but what it states. Figures without a meaning are NaN.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

_MINUTES_OF_A_DAY = 1440


@dataclass(frozen=True)
class Shade:
    """A setting or a cast as two coordinates: mired (+ warm) and CC.

    Of a setting CC + adds magenta, of a cast CC + is green; either way + is for a greener light.
    """

    mired: float
    cc: float


@dataclass(frozen=True)
class Span:
    """The interval of a setting, by its ends."""

    low: Shade
    high: Shade


@dataclass(frozen=True, eq=False)
class RecordedLight:
    """A light: what it wants from the camera, behind its filter, and its spectrum by its peak."""

    name: str
    on: bool
    filter_name: str
    wanted: Shade
    spectrum: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class RecordedPosition:
    """A position; ``lux_of`` is what each burning light gives there [lux]."""

    name: str
    lux_of: dict[str, float]
    cast: Shade
    from_key_stops: float
    trouble: str


@dataclass(frozen=True, eq=False)
class RecordedLut:
    """A LUT by what it does: a file of other bytes with the same matrix differs in its comments.

    ``purpose`` says what it is for, which tells it from its setup's others whatever they are called
    (empty for the main correction). ``coding`` is its encoding by curve, gamut, range and EI.
    ``cost_stops`` is what it takes from the level of the picture.
    """

    file_name: str
    sha256: str
    encoding: str
    size: float
    matrix: tuple[float, ...]
    purpose: str
    coding: tuple[str, str, str, float | None]
    cost_stops: float


@dataclass(frozen=True, eq=False)
class RecordedSetup:
    """One setup; ``luts`` are those besides the main one, by what they are for."""

    name: str
    camera: str
    encoding: str
    shooting: str
    key: str
    dial: Shade
    preset: str
    exact: Shade
    band: Span
    t_stop: float
    nd_stops: float
    lights: dict[str, RecordedLight]
    positions: dict[str, RecordedPosition]
    main_lut: RecordedLut | None
    luts: dict[str, RecordedLut]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, order=True)
class ClockTime:
    """A time by the clock: minutes from the midnight that its day began with.

    ``again`` counts how often the clock has shown it before, on the day when it is put back.
    """

    minutes: int
    again: int = 0

    @property
    def words(self) -> str:
        """The time as a clock shows it: '14:30', '24:00' at the end, '01:10 the next day'."""
        after = self.minutes > _MINUTES_OF_A_DAY
        minutes = self.minutes - _MINUTES_OF_A_DAY if after else self.minutes
        shown = f"{minutes // 60:02d}:{minutes % 60:02d}" + (" the next day" if after else "")
        return f"{shown} the second time" if self.again else shown


def find_runs(rows: Iterable[int]) -> list[tuple[int, int]]:
    """Find the runs of numbers that follow each other, as first and last; numbers in order."""
    runs: list[tuple[int, int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], row)
        else:
            runs.append((row, row))
    return runs


def say_clock_spans(times: Sequence[ClockTime], rows: Iterable[int]) -> str:
    """Say some of a day's times as spans: '09:00 to 10:30, 17:00'; numbers in order."""
    ends = ((times[first].words, times[last].words) for first, last in find_runs(rows))
    return ", ".join(first if first == last else f"{first} to {last}" for first, last in ends)


@dataclass(frozen=True)
class RecordedWindow:
    """Times, both held, through which the whole day's setting and one T-stop serve."""

    first: ClockTime
    last: ClockTime
    t_stop: float


@dataclass(frozen=True)
class RecordedTouch:
    """A light that goes from some filters to others at a time, or burns or stands otherwise."""

    at: ClockTime
    light: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    way_before: str = ""
    way_after: str = ""


@dataclass(frozen=True)
class RecordedSkyLight:
    """A light of the sky: what it is, the figures of its air one by one, what blocks its view."""

    name: str
    kind: str
    air: tuple[str, ...]
    horizon: str


@dataclass(frozen=True, eq=False)
class RecordedDayLut:
    """A LUT by what it does, between which settings, and in words the times it is for."""

    file_name: str
    sha256: str
    form: str
    shot_at: Shade
    wanted: Shade
    times: str


@dataclass(frozen=True, eq=False)
class RecordedDayPosition:
    """A position; every tuple but the intent has one entry for each of the setup's times."""

    name: str
    intent: str
    lux: tuple[float, ...]
    wanted: tuple[Shade, ...]
    t_stop: tuple[float, ...]
    nd_stops: tuple[float, ...]
    from_key_stops: tuple[float, ...]
    sun_over_shade_stops: tuple[float, ...]
    trouble: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class RecordedDaySetup:
    """One setup's day; ``exact`` and ``is_refused`` have one entry for each of ``times``.

    ``shooting`` is None where the record does not state it, as the first ones did not. ``whole``
    is None where no setting serves the day; ``touches`` are in order of time;
    ``lut_count`` says how many LUTs there are and by what.
    """

    name: str
    camera: str
    date: str
    place: str
    key: str
    shooting: str | None
    within: str
    step: str
    times: tuple[ClockTime, ...]
    is_refused: tuple[bool, ...]
    exact: tuple[Shade, ...]
    lights: dict[str, RecordedSkyLight]
    positions: dict[str, RecordedDayPosition]
    whole: Shade | None
    preset: str
    origin: str
    windows: tuple[RecordedWindow, ...]
    touches: tuple[RecordedTouch, ...]
    lut_count: str
    luts: dict[str, RecordedDayLut]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


_Setup = TypeVar("_Setup")


@dataclass(frozen=True, eq=False)
class Recorded(Generic[_Setup]):
    """A plan or a day as its record has it; ``file`` is where the record was read."""

    file: str
    title: str
    version: str
    digest: str
    band_percent: float
    setups: dict[str, _Setup]
    invented: bool


RecordedPlan = Recorded[RecordedSetup]
RecordedDay = Recorded[RecordedDaySetup]
