"""Two days compared: one setup on two dates, at two places, in two airs, or planned twice.

Setups, lights and positions are matched by their names, times by the clock of each day's place.
What stands once for a day gives a `Change`, as between two plans; what goes through the day gives a
`Course`: a change, or none, at each time of the clock that both have. A person is told the largest,
and when the difference can be told at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wbplan.camera.setting import find_distance
from wbplan.record.compare_plans import (
    Change,
    Comparison,
    SetupChanges,
    Subject,
    What,
    compare_levels,
    compare_lists,
    compare_shades,
    compare_stops,
    compare_values,
    find_shift,
    is_told,
    pair_by_name,
)
from wbplan.record.values import (
    ClockTime,
    RecordedDay,
    RecordedDayLut,
    RecordedDaySetup,
    RecordedTouch,
    RecordedWindow,
)


@dataclass(frozen=True)
class Course:
    """One figure through the day: its change at each time of the clock that both days have.

    None where it does not differ, or one of the days has no figures then.
    """

    subject: Subject
    name: str
    what: What
    changes: tuple[Change | None, ...]

    @property
    def told(self) -> tuple[int, ...]:
        """The numbers of the times at which the difference can be told."""
        rows = enumerate(self.changes)
        return tuple(row for row, each in rows if each is not None and each.can_be_told)

    @property
    def largest(self) -> int:
        """The number of the time at which it is largest, the earliest of several.

        Of a setting by `setting.find_distance`, but one that can be told before one that
        cannot; what one day alone has comes last.
        """
        return max(range(len(self.changes)), key=lambda row: _weigh(self.changes[row]))


@dataclass(frozen=True)
class WindowChange:
    """When the whole day's setting serves, on both days.

    ``began_minutes`` and ``ended_minutes`` say by how much the first window begins and the last one
    ends later (+), None where a day has none.
    """

    before: tuple[RecordedWindow, ...]
    after: tuple[RecordedWindow, ...]
    began_minutes: int | None
    ended_minutes: int | None
    can_be_told: bool


@dataclass(frozen=True)
class TouchChange:
    """A filter change that came, went or moved; ``was`` or ``now`` is None where a day has none."""

    light: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    way_before: str
    way_after: str
    was: ClockTime | None
    now: ClockTime | None

    @property
    def moved_minutes(self) -> int | None:
        """By how much it is due later (+)."""
        if self.was is None or self.now is None:
            return None
        return self.now.minutes - self.was.minutes


@dataclass(frozen=True, eq=False)
class DaySetupChanges(SetupChanges):
    """What changed in one setup's day, or that the setup came or went.

    Parameters
    ----------
    changes
        Of what stands once for a day.
    clock
        The times that both have; ``is_compared`` says at which of them both have figures.
    only_first, only_second
        How many times one of them alone has.
    refused_first, refused_second
        Numbers of the times for which one of them alone has no figures.
    courses, windows, touches
        What differs through the day; ``windows`` is None where nothing does.
    """

    clock: tuple[ClockTime, ...] = ()
    is_compared: tuple[bool, ...] = ()
    only_first: int = 0
    only_second: int = 0
    refused_first: tuple[int, ...] = ()
    refused_second: tuple[int, ...] = ()
    courses: tuple[Course, ...] = ()
    windows: WindowChange | None = None
    touches: tuple[TouchChange, ...] = ()

    @property
    def is_same(self) -> bool:
        """Whether nothing differs, however little."""
        parts = (self.refused_first, self.refused_second, self.courses, self.touches)
        alone = self.only_first or self.only_second or self.windows
        return super().is_same and not alone and not any(parts)


@dataclass(frozen=True, eq=False)
class DayComparison(Comparison):
    """Two days and what changed from the first to the second, in the order of the first."""

    setups: tuple[DaySetupChanges, ...]


def compare_days(first: RecordedDay, second: RecordedDay) -> DayComparison:
    """Compare two days, setup by setup."""
    found = []
    for name, before, after in pair_by_name(first.setups, second.setups):
        if before is None or after is None:
            found.append(DaySetupChanges(name, "new" if before is None else "gone"))
        else:
            found.append(_compare_setups(before, after))
    return DayComparison(first, second, tuple(found))


def _compare_setups(a: RecordedDaySetup, b: RecordedDaySetup) -> DaySetupChanges:
    rows = {each: row for row, each in enumerate(b.times)}
    pairs = [(row, rows[each]) for row, each in enumerate(a.times) if each in rows]
    refused = [(a.is_refused[i], b.is_refused[j]) for i, j in pairs]
    return DaySetupChanges(
        name=a.name,
        presence="both",
        changes=tuple(_compare_once(a, b)),
        clock=tuple(a.times[i] for i, _ in pairs),
        is_compared=tuple(not (x or y) for x, y in refused),
        only_first=len(a.times) - len(pairs),
        only_second=len(b.times) - len(pairs),
        refused_first=tuple(row for row, (x, y) in enumerate(refused) if x and not y),
        refused_second=tuple(row for row, (x, y) in enumerate(refused) if y and not x),
        courses=tuple(_compare_courses(a, b, pairs)),
        windows=_compare_windows(a.windows, b.windows),
        touches=tuple(sorted(_compare_touches(a.touches, b.touches), key=_find_due)),
    )


def _compare_once(a: RecordedDaySetup, b: RecordedDaySetup) -> Iterator[Change]:
    """Compare what stands once for a day."""
    yield from compare_values("setup", "", "date", a.date, b.date)
    yield from compare_values("setup", "", "place", a.place, b.place)
    yield from compare_values("setup", "", "camera", a.camera, b.camera)
    if a.shooting is not None and b.shooting is not None:
        yield from compare_values("setup", "", "shooting", a.shooting, b.shooting)
    yield from compare_values("setup", "", "key", a.key, b.key)
    yield from compare_values("setup", "", "within", a.within, b.within)
    yield from compare_values("setup", "", "times", a.step, b.step)
    if (a.whole, a.preset) != (b.whole, b.preset):
        shift = find_shift(a.whole, b.whole) if a.whole and b.whole else None
        yield Change("setup", "", "dialled_setting", a.whole, b.whole, shift)
    yield from compare_values("setup", "", "origin", a.origin, b.origin)
    yield from compare_values("setup", "", "lut_count", a.lut_count, b.lut_count)
    for name, lut, other in pair_by_name(a.luts, b.luts):
        yield from _compare_luts(name, lut, other)
    yield from compare_lists("warning", a.warnings, b.warnings)
    yield from compare_lists("caution", a.cautions, b.cautions)
    for name, light, there in pair_by_name(a.lights, b.lights):
        if light is None or there is None:
            yield Change("light", name, "presence", light is not None, there is not None)
            continue
        yield from compare_values("light", name, "kind", light.kind, there.kind)
        # Of the air's many figures those that differ are enough.
        air = [
            ", ".join(each for each in x.air if each not in y.air)
            for x, y in ((light, there), (there, light))
        ]
        yield from compare_values("light", name, "air", *air)
        yield from compare_values("light", name, "horizon", light.horizon, there.horizon)
    for name, place, beside in pair_by_name(a.positions, b.positions):
        if place is None or beside is None:
            yield Change("position", name, "presence", place is not None, beside is not None)
        else:
            yield from compare_values("position", name, "intent", place.intent, beside.intent)


def _compare_luts(
    name: str, a: RecordedDayLut | None, b: RecordedDayLut | None
) -> Iterator[Change]:
    if a is None or b is None:
        yield Change("setup", "", "lut", None if a is None else name, None if b is None else name)
        return
    if a.sha256 != b.sha256:
        told = a.form != b.form or any(
            is_told(find_shift(x, y)) for x, y in ((a.shot_at, b.shot_at), (a.wanted, b.wanted))
        )
        was, now = (f"{name}, SHA-256 {each.sha256}" for each in (a, b))
        yield Change("setup", "", "lut", was, now, can_be_told=told)
    for change in compare_values("setup", "", "lut_times", a.times, b.times):
        yield replace(change, at=name)


def _compare_courses(
    a: RecordedDaySetup, b: RecordedDaySetup, pairs: list[tuple[int, int]]
) -> Iterator[Course]:
    def follow(
        compare: Callable[..., Iterator[Change]],
        subject: Subject,
        name: str,
        what: What,
        first: Sequence[object],
        second: Sequence[object],
        *more: float,
    ) -> Iterator[Course]:
        changes = tuple(
            None
            if a.is_refused[i] or b.is_refused[j]
            else next(compare(subject, name, what, first[i], second[j], *more), None)
            for i, j in pairs
        )
        if any(changes):
            yield Course(subject, name, what, changes)

    key, other_key = a.positions[a.key], b.positions[b.key]
    yield from follow(compare_shades, "setup", "", "exact_setting", a.exact, b.exact)
    # Twice, since a T-number goes with the square root of the light.
    yield from follow(compare_stops, "setup", "", "t_stop", key.t_stop, other_key.t_stop, 2.0)
    yield from follow(compare_levels, "setup", "", "nd", key.nd_stops, other_key.nd_stops)
    for name, x, y in pair_by_name(a.positions, b.positions):
        if x is None or y is None:
            continue
        about: tuple[Subject, str] = ("position", name)
        yield from follow(compare_values, *about, "trouble", x.trouble, y.trouble)
        yield from follow(compare_stops, *about, "illuminance", x.lux, y.lux)
        yield from follow(compare_levels, *about, "from_key", x.from_key_stops, y.from_key_stops)
        yield from follow(
            compare_levels,
            *about,
            "sun_over_shade",
            x.sun_over_shade_stops,
            y.sun_over_shade_stops,
        )
        yield from follow(compare_shades, *about, "wanted_setting", x.wanted, y.wanted)


def _weigh(change: Change | None) -> tuple[bool, float]:
    size = -1.0
    if change is None:
        return False, -2.0
    if change.shift is not None:
        with np.errstate(over="ignore"):  # a record may hold any number
            size = float(find_distance(change.shift.mired, change.shift.cc))
    elif change.stops is not None:
        size = abs(change.stops)
    return change.can_be_told, size if math.isfinite(size) else -1.0


def _compare_windows(
    a: tuple[RecordedWindow, ...], b: tuple[RecordedWindow, ...]
) -> WindowChange | None:
    began = ended = None
    if a and b:
        began = b[0].first.minutes - a[0].first.minutes
        ended = b[-1].last.minutes - a[-1].last.minutes
    if [(each.first, each.last) for each in a] != [(each.first, each.last) for each in b]:
        return WindowChange(a, b, began, ended, True)
    stops = [
        change
        for x, y in zip(a, b, strict=True)
        for change in compare_stops("setup", "", "t_stop", x.t_stop, y.t_stop, 2.0)
    ]
    told = any(each.can_be_told for each in stops)
    return WindowChange(a, b, began, ended, told) if stops else None


_What = tuple[str, tuple[str, ...], tuple[str, ...], str, str]


def _find_due(touch: TouchChange) -> ClockTime:
    return min(each for each in (touch.was, touch.now) if each is not None)


def _compare_touches(
    a: tuple[RecordedTouch, ...], b: tuple[RecordedTouch, ...]
) -> Iterator[TouchChange]:
    """Pair the same change of the same light by nearness in time; what is left came or went."""
    groups: dict[_What, tuple[list[ClockTime], ...]] = {}
    for side, touches in enumerate((a, b)):
        for each in touches:
            what = (each.light, each.before, each.after, each.way_before, each.way_after)
            groups.setdefault(what, ([], []))[side].append(each.at)
    for what, (first, second) in groups.items():
        was, now = dict(enumerate(first)), dict(enumerate(second))
        near = sorted(
            (abs(y.minutes - x.minutes), i + j, i, j)
            for i, x in was.items()
            for j, y in now.items()
        )
        for _, _, i, j in near:
            if i in was and j in now:
                found = TouchChange(*what, was.pop(i), now.pop(j))
                if found.was != found.now:
                    yield found
        yield from (TouchChange(*what, each, None) for each in was.values())
        yield from (TouchChange(*what, None, each) for each in now.values())
