"""Two plans of one location, or of two days: what changed between them.

Setups, lights and positions are matched by their names, LUTs by what they are for; a setup that was
renamed is found by what it holds, a light or a position is one that went and one that came. Every
difference becomes a `Change`; whether a person could tell it decides what is listed and what is
only counted. Decisions that somebody acts on (what is dialled in, a file's name, a filter, a light
switched off) are told however small.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from wbplan.planning.lut_trial import LutTrial
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.record.values import (
    RecordedDay,
    RecordedLight,
    RecordedLut,
    RecordedPlan,
    RecordedPosition,
    RecordedSetup,
    Shade,
    Span,
)

TOLD_STOPS = 0.1
"""From where on stops can be told apart; common practice, no source. Mired and CC: `TOLD_MIRED`."""
TOLD_PERCENT = 5.0
"""From where on a spectrum counts as another one, of its peak; common practice, no source."""

_NOISE = 1e-4
"""Mired, CC, stops or percent under which figures differ by their last digits alone."""

Subject = Literal["setup", "light", "position"]
What = Literal[
    "presence", "name", "camera", "encoding", "shooting", "key", "dialled_setting",
    "exact_setting", "band", "t_stop", "nd", "lut", "warning", "caution", "wanted_setting",
    "illuminance", "filter", "on",
    "spectrum", "cast", "from_key", "trouble",
    # of a day
    "date", "place", "times", "within", "origin", "kind", "air", "horizon",
    "intent", "sun_over_shade", "lut_count", "lut_times",
]  # fmt: skip
Value = Shade | Span | float | str | bool | None
_T = TypeVar("_T")


@dataclass(frozen=True)
class Change:
    """One thing that differs.

    Parameters
    ----------
    subject, name
        What it is about; of a setup the name is empty.
    what
        Which of its properties.
    before, after
        Its values, None where it has none. Lux, a T-number, stops and percent are floats.
    shift
        The difference of a setting or a cast, of a band the larger one of its ends.
    stops
        The difference in stops: + is brighter, a smaller stop, more ND.
    can_be_told
        Whether somebody could see it, or has to act on it.
    at
        The position, where it is about a light at one; of a LUT what it is for, empty for the main
        correction.
    """

    subject: Subject
    name: str
    what: What
    before: Value
    after: Value
    shift: Shade | None = None
    stops: float | None = None
    can_be_told: bool = True
    at: str = ""


@dataclass(frozen=True)
class SetupChanges:
    """What changed in one setup, or that it came or went.

    Parameters
    ----------
    name
        As the first record has it, the second where the setup is new.
    changes
        Every difference.
    before, after
        The setups themselves; None where there is one alone, and of a day.
    trial
        What came of the first one's LUT tried under the second one's light; None where it was not
        tried, and ``untried`` says why, if there was one to try.
    """

    name: str
    presence: Literal["both", "gone", "new"]
    changes: tuple[Change, ...] = ()
    before: RecordedSetup | None = None
    after: RecordedSetup | None = None
    trial: LutTrial | None = None
    untried: str = ""

    @property
    def is_same(self) -> bool:
        """Whether nothing differs, however little."""
        return self.presence == "both" and not self.changes


@dataclass(frozen=True, eq=False)
class Comparison:
    """Two records and what changed from the first to the second, in the order of the first."""

    first: RecordedPlan | RecordedDay
    second: RecordedPlan | RecordedDay
    setups: tuple[SetupChanges, ...]

    @property
    def is_same(self) -> bool:
        """Whether nothing differs, however little."""
        return all(each.is_same for each in self.setups)


def compare_plans(first: RecordedPlan, second: RecordedPlan) -> Comparison:
    """Compare two plans, setup by setup; one that has another name is found by what it holds."""
    found = []
    renamed = _find_renamed(first.setups, second.setups)
    own = {renamed.get(name, name): each for name, each in second.setups.items()}
    for name, before, after in pair_by_name(first.setups, own):
        if before is None or after is None:
            found.append(SetupChanges(name, "new" if before is None else "gone"))
        else:
            changes = tuple(_compare_setups(before, after))
            found.append(SetupChanges(name, "both", changes, before, after))
    return Comparison(first, second, tuple(found))


def _find_renamed(
    first: Mapping[str, RecordedSetup], second: Mapping[str, RecordedSetup]
) -> dict[str, str]:
    """Find by their new names the setups that were renamed, and what they were called.

    One is another under a new name if it has the same camera, lights and positions, and no third
    one has.
    """

    def describe(setup: RecordedSetup) -> tuple[object, ...]:
        return setup.camera, tuple(sorted(setup.lights)), tuple(sorted(setup.positions))

    gone = [(name, describe(each)) for name, each in first.items() if name not in second]
    new = [(name, describe(each)) for name, each in second.items() if name not in first]
    held = [what for _, what in (*gone, *new)]
    return {
        name: before
        for name, what in new
        for before, was in gone
        if what == was and held.count(what) == 2
    }


def pair_by_name(
    first: Mapping[str, _T], second: Mapping[str, _T]
) -> Iterator[tuple[str, _T | None, _T | None]]:
    """Pair what has the same name, in the order of the first; None where one has no such name."""
    for name in dict.fromkeys([*first, *second]):
        yield name, first.get(name), second.get(name)


def _compare_setups(a: RecordedSetup, b: RecordedSetup) -> Iterator[Change]:
    yield from compare_values("setup", "", "name", a.name, b.name)
    yield from compare_values("setup", "", "camera", a.camera, b.camera)
    yield from compare_values("setup", "", "encoding", a.encoding, b.encoding)
    yield from compare_values("setup", "", "shooting", a.shooting, b.shooting)
    yield from compare_values("setup", "", "key", a.key, b.key)
    if (a.dial, a.preset) != (b.dial, b.preset):
        yield Change("setup", "", "dialled_setting", a.dial, b.dial, find_shift(a.dial, b.dial))
    yield from compare_shades("setup", "", "exact_setting", a.exact, b.exact)
    yield from _compare_bands(a.band, b.band)
    # Twice, since a T-number goes with the square root of the light.
    yield from compare_stops("setup", "", "t_stop", a.t_stop, b.t_stop, 2.0)
    yield from compare_levels("setup", "", "nd", a.nd_stops, b.nd_stops)
    yield from _compare_luts("", a.main_lut, b.main_lut)
    for purpose, before, after in pair_by_name(a.luts, b.luts):
        yield from _compare_luts(purpose, before, after)
    yield from compare_lists("warning", a.warnings, b.warnings)
    yield from compare_lists("caution", a.cautions, b.cautions)
    for name, light, other in pair_by_name(a.lights, b.lights):
        if light is None or other is None:
            yield Change("light", name, "presence", light is not None, other is not None)
        else:
            yield from _compare_lights(light, other)
            yield from _compare_lux(name, a.positions, b.positions)
    for name, place, there in pair_by_name(a.positions, b.positions):
        if place is None or there is None:
            yield Change("position", name, "presence", place is not None, there is not None)
        else:
            yield from _compare_positions(place, there)


def _compare_lights(a: RecordedLight, b: RecordedLight) -> Iterator[Change]:
    yield from compare_values("light", a.name, "on", a.on, b.on)
    yield from compare_values("light", a.name, "filter", a.filter_name, b.filter_name)
    yield from compare_shades("light", a.name, "wanted_setting", a.wanted, b.wanted)
    pairs = zip(a.spectrum, b.spectrum, strict=False)
    worst = max((abs(x - y) for x, y in pairs if math.isfinite(x - y)), default=0.0)
    percent = 100 * worst
    if percent > _NOISE or len(a.spectrum) != len(b.spectrum):
        told = percent >= TOLD_PERCENT or len(a.spectrum) != len(b.spectrum)
        yield Change("light", a.name, "spectrum", 0.0, percent, can_be_told=told)


def _compare_lux(
    light: str, a: Mapping[str, RecordedPosition], b: Mapping[str, RecordedPosition]
) -> Iterator[Change]:
    for name, before, after in pair_by_name(a, b):
        if before is not None and after is not None:
            lux, other = (each.lux_of.get(light, 0.0) for each in (before, after))
            yield from compare_stops("light", light, "illuminance", lux, other, at=name)


def _compare_positions(a: RecordedPosition, b: RecordedPosition) -> Iterator[Change]:
    yield from compare_values("position", a.name, "trouble", a.trouble, b.trouble)
    yield from compare_shades("position", a.name, "cast", a.cast, b.cast)
    yield from compare_levels("position", a.name, "from_key", a.from_key_stops, b.from_key_stops)


def compare_values(
    subject: Subject, name: str, what: What, a: str | bool, b: str | bool
) -> Iterator[Change]:
    """Compare what is the same or is not."""
    if a != b:
        yield Change(subject, name, what, a, b)


def compare_lists(what: What, a: Iterable[str], b: Iterable[str]) -> Iterator[Change]:
    """Find what went from a list and what came."""
    for each in a:
        if each not in b:
            yield Change("setup", "", what, each, None)
    for each in b:
        if each not in a:
            yield Change("setup", "", what, None, each)


def _compare_luts(purpose: str, a: RecordedLut | None, b: RecordedLut | None) -> Iterator[Change]:
    if a is None or b is None or a.file_name != b.file_name:
        if a is not b:
            name, other = (None if each is None else each.file_name for each in (a, b))
            yield Change("setup", "", "lut", name, other, at=purpose)
    elif a.sha256 != b.sha256:
        does = [(each.matrix, each.encoding, str(each.size)) for each in (a, b)]
        name, other = (f"{each.file_name}, SHA-256 {each.sha256}" for each in (a, b))
        told = does[0] != does[1]
        yield Change("setup", "", "lut", name, other, can_be_told=told, at=purpose)


def find_shift(a: Shade, b: Shade) -> Shade:
    """Find the difference of two settings or casts."""
    return Shade(b.mired - a.mired, b.cc - a.cc)


def is_told(shift: Shade) -> bool:
    """Tell whether a difference of settings or casts can be told side by side."""
    # What is not a number on one side alone has come or gone, and that can be told.
    return not (abs(shift.mired) < TOLD_MIRED and abs(shift.cc) < TOLD_CC)


def _is_same(a: float, b: float) -> bool:
    return a == b or abs(a - b) <= _NOISE or (math.isnan(a) and math.isnan(b))


def compare_shades(subject: Subject, name: str, what: What, a: Shade, b: Shade) -> Iterator[Change]:
    """Compare two settings or casts; what neither knows is the same."""
    if not (_is_same(a.mired, b.mired) and _is_same(a.cc, b.cc)):
        shift = find_shift(a, b)
        yield Change(subject, name, what, a, b, shift, can_be_told=is_told(shift))


def _compare_bands(a: Span, b: Span) -> Iterator[Change]:
    shifts = [find_shift(a.low, b.low), find_shift(a.high, b.high)]
    worst = Shade(
        max((each.mired for each in shifts), key=abs), max((each.cc for each in shifts), key=abs)
    )
    if max(abs(worst.mired), abs(worst.cc)) > _NOISE:
        told = any(is_told(each) for each in shifts)
        yield Change("setup", "", "band", a, b, worst, can_be_told=told)


def compare_stops(
    subject: Subject, name: str, what: What, a: float, b: float, factor: float = 1.0, at: str = ""
) -> Iterator[Change]:
    """Compare two figures of which stops are the logarithm."""
    stops = factor * (math.log2(b) - math.log2(a)) if a > 0 and b > 0 else None
    if (not a > 0 and not b > 0) or (stops is not None and abs(stops) <= _NOISE):
        return
    told = stops is None or abs(stops) >= TOLD_STOPS
    yield Change(subject, name, what, a, b, stops=stops, can_be_told=told, at=at)


def compare_levels(subject: Subject, name: str, what: What, a: float, b: float) -> Iterator[Change]:
    """Compare two figures in stops."""
    if not _is_same(a, b):
        stops = b - a if math.isfinite(b - a) else None
        told = stops is None or abs(stops) >= TOLD_STOPS
        yield Change(subject, name, what, a, b, stops=stops, can_be_told=told)
