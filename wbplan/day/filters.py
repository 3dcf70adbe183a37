"""What is done to which light, and when, through a day: filters, off, dimmed, moved, bounced.

Idea
----
At each time a pack of filters leaves the positions some way off their intents: the mean squared
distance of `mixed.gel_packs`, at the menu's best setting. Through the day a schedule of packs costs
that, summed over time, and something for every light that is touched; the schedule that costs least
is found exactly by dynamic programming. A touch costs what 5 mired off (about what can just be told
side by side; common practice, no source) cost in an hour, so nothing is hung for a gain that nobody
sees, nothing flips back and forth, and hanging at the start of the day counts as a touch too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wbplan.camera.neutral_table import NeutralTable, tabulate_neutrals
from wbplan.camera.setting import CameraView, Setting, round_setting
from wbplan.core.notes import Note, warn
from wbplan.core.progress import Progress, tell
from wbplan.core.tables import Array
from wbplan.day.scene import DayScene
from wbplan.light.filters import stack_filters
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.mixed.gel_packs import Problem, add_lights, check_allowed, read_coordinates, score_packs
from wbplan.mixed.options import (
    Option,
    OptionList,
    assume_wish,
    list_options,
    pose_problem,
    sum_levels,
    weigh_options,
)
from wbplan.mixed.search import search_packs
from wbplan.scene.changes import LightChange, Wish
from wbplan.scene.setup import Setup, find_steady_share

TOUCH_MIRED, TOUCH_HOURS = 5.0, 1.0
_MOST_PACKS = 6_000
_MOST_TIMES = 100
_PROBES = 7
_TIE = 1e-6  # mired^2 for each filter hung, so that of equal packs the one with fewer wins
_BARRED = 1e9


@dataclass(frozen=True)
class FilterChange:
    """At a time a light goes from some filters to others, and from burning or standing one way to
    another, in words, empty for as it was read; losses in stops of that light.
    """

    at: int
    light: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    loss_stops: float
    way_before: str = ""
    way_after: str = ""


@dataclass(frozen=True, eq=False)
class ChangePlan:
    """The filters of a day.

    Parameters
    ----------
    changes
        In order of time.
    at
        (u,) numbers of the times it was worked out for.
    left_mired, untouched_mired
        (u,) root mean square distance from the intents, with the filters and with none touched.
    settings
        (u,) the menu's setting under the filters.
    lights
        Those that may be changed.
    packs
        How many packs were weighed, and whether those are all there are.
    notes
        What has to be said.
    """

    changes: tuple[FilterChange, ...]
    at: tuple[int, ...]
    left_mired: Array
    untouched_mired: Array
    settings: tuple[Setting, ...]
    lights: tuple[str, ...]
    packs: int
    is_every_pack: bool
    is_assumed: bool
    notes: tuple[Note, ...]


def plan_changes(
    setup: Setup,
    camera: CameraView,
    scene: DayScene,
    seconds: Array,
    progress: Progress | None = None,
) -> ChangePlan | None:
    """Plan the filter changes of a day; None where no light may be changed.

    Parameters
    ----------
    setup
        With its wish; without one every burning light that is not daylight is free for one
        generic filter.
    scene
        From `respond_to_day`.
    seconds
        (t,) its times.
    progress
        Is told how far it is.
    """
    wish = setup.wish or assume_wish(setup)
    lists = _list_all(setup, wish)
    times = np.flatnonzero(scene.usable)
    if not lists or not times.size:
        return None
    notes: list[Note] = [note for each in lists for note in each.notes]
    stride = int(np.ceil(times.size / _MOST_TIMES))
    times = times[::stride]
    known = (tabulate_neutrals(camera.locus), [_pass_options(each) for each in lists])
    posed = []
    for number, time in enumerate(times, 1):
        posed.append(_pose(setup, camera, scene, wish, lists, known, int(time)))
        tell(progress, number / times.size, "filters through the day")
    total = posed[0].packs
    picks, kept = _choose_packs(posed)
    cost = np.stack([_weigh(problem, picks) for problem in posed])
    stuck = ~(cost < _BARRED).any(axis=1)
    if stuck.any():
        cost[stuck] = np.stack([_weigh(_ease(posed[row]), picks) for row in np.flatnonzero(stuck)])
        dark = ~(cost < _BARRED).any(axis=1)
        if (stuck & ~dark).any():
            over = int((stuck & ~dark).sum())
            text = (
                f"no pack keeps every limit at {over} of {times.size} times; there the limits are "
                "left out"
            )
            notes.append(warn("limits-out-of-reach", text, "filters"))
        if dark.any():
            text = (
                f"nothing that may be changed brings the levels there at {dark.sum()} of "
                f"{times.size} times; there ratios and limits are left out"
            )
            notes.append(warn("ratio-out-of-reach", text, "filters"))
            free = [_ease(posed[row], levels=True) for row in np.flatnonzero(dark)]
            cost[dark] = np.stack([_weigh(each, picks) for each in free])
    hours = _span_hours(seconds[times])
    path = _follow(cost * hours[:, None] + _TIE * _count(posed[0], picks), picks)
    schedule = picks[path]
    left = np.sqrt(np.minimum(cost[np.arange(times.size), path], _BARRED))
    untouched = np.sqrt(np.minimum(cost[:, 0], _BARRED))
    blank = np.full(times.size, np.nan)
    return ChangePlan(
        changes=tuple(_list_changes(lists, schedule, times)),
        at=tuple(int(each) for each in times),
        left_mired=np.where(left**2 < _BARRED * 0.99, left, blank),
        untouched_mired=np.where(untouched**2 < _BARRED * 0.99, untouched, blank),
        settings=tuple(
            _set(setup, problem, row) for problem, row in zip(posed, schedule, strict=True)
        ),
        lights=tuple(each.wish.light for each in lists),
        packs=picks.shape[0],
        is_every_pack=kept and picks.shape[0] == total,
        is_assumed=wish.assumed,
        notes=tuple(notes),
    )


def _list_all(setup: Setup, wish: Wish) -> list[OptionList]:
    lit = {
        each.name
        for row, each in enumerate(setup.sources)
        if each.on and any(place.lux[row] > 0 and place.intent.counts for place in setup.positions)
    }
    made = [
        list_options(setup, each, dict(wish.stock))
        for each in wish.lights
        if each.light in lit and not each.tuned
    ]
    return [each for each in made if len(each.options) > 1]


def _pose(
    setup: Setup,
    camera: CameraView,
    scene: DayScene,
    wish: Wish,
    lists: Sequence[OptionList],
    known: tuple[NeutralTable, list[Array]],
    time: int,
) -> Problem:
    """Pose the problem of one time, as `advising` does for a setup.

    ``known`` is what no time changes: the camera's table, and what each option lets through.
    """
    judged = [int(row) for row in np.flatnonzero(scene.counts[time])]
    lux, power = scene.source_lux[time], scene.source_power[time].astype(np.float64)
    limited = [name for name, _ in wish.stock]
    sums = sum_levels(setup, wish, lux, power)
    lights = []
    for each, through in zip(lists, known[1], strict=True):
        now = each
        if setup.sources[each.row].sky is not None:  # its spectrum is another at every time
            own = power[each.row]
            pairs = zip(each.options, through, strict=True)
            now = replace(each, options=tuple(replace(o, power=own * t) for o, t in pairs))
        read = lux[:, each.row]
        given = np.stack([_find_lux(setup, each.row, one, read) for one in each.options])
        lights.append(weigh_options(now, camera, given, judged, sums, limited))
    return pose_problem(setup, wish, lists, lights, (), judged, lux, power, sums, known[0])


def _find_lux(setup: Setup, row: int, option: Option, now: Array) -> Array:
    """Find what a light gives each position, (p,), at a time at which it gives ``now`` as read."""
    if option.change is None:
        return now
    if setup.sources[row].sky is None:  # a lamp stands where it stands all day
        return np.asarray(option.lux * find_steady_share(setup)[row])
    return np.zeros_like(now)  # daylight can be shut out, not dimmed or moved


def _pass_options(options: OptionList) -> Array:
    """Collect what each option lets through, (m, 401)."""
    bare = np.ones(WAVELENGTHS_NM.size)
    packs = [each.filters for each in options.options]
    return np.stack([stack_filters(each).transmittance if each else bare for each in packs])


def _choose_packs(posed: Sequence[Problem]) -> tuple[np.ndarray, bool]:
    """Choose the packs to weigh: all, or those that some time of the day asks for, combined."""
    counts = [each.count for each in posed[0].lights]
    if posed[0].packs <= _MOST_PACKS:
        return _combine([list(range(each)) for each in counts]), True
    asked = [Counter[int]() for _ in counts]
    for row in np.unique(np.linspace(0, len(posed) - 1, _PROBES).astype(int)):
        for found in search_packs(posed[row]).found:
            for column, pick in enumerate(found.picks):
                asked[column][pick] += 1
    for each in asked:
        each[0] += 10**6  # to leave a light as it is stays among the options
    while np.prod([float(len(each)) for each in asked]) > _MOST_PACKS:
        longest = max(asked, key=len)
        del longest[min(longest, key=lambda pick: (longest[pick], -pick))]
    return _combine([sorted(each) for each in asked]), False


def _combine(options: Sequence[Sequence[int]]) -> np.ndarray:
    grid = np.meshgrid(*(np.array(each) for each in options), indexing="ij")
    return np.stack([each.ravel() for each in grid], axis=1)


def _weigh(problem: Problem, picks: np.ndarray) -> Array:
    bent, left = score_packs(problem, add_lights(problem, picks))
    fine = check_allowed(problem, picks) & np.isfinite(left) & ~bent.any(axis=0)
    return np.where(fine, left, _BARRED)


def _ease(problem: Problem, levels: bool = False) -> Problem:
    free = np.full(problem.weight.size, np.inf)
    least = np.full(problem.least_levels.size, -np.inf) if levels else problem.least_levels
    return replace(problem, within_mired=free, within_cc=free, least_levels=least)


def _count(problem: Problem, picks: np.ndarray) -> Array:
    changes = [light.changes[picks[:, row]] for row, light in enumerate(problem.lights)]
    return np.asarray(np.sum(changes, axis=0), dtype=np.float64)


def _span_hours(seconds: Array) -> Array:
    """Find how long each time stands for, (u,) [h]: half way to its neighbours, at most an hour."""
    if seconds.size == 1:
        return np.ones(1)
    gap = np.minimum(np.diff(seconds) / 3600.0, 1.0)
    return np.asarray(np.concatenate([[gap[0] / 2], (gap[1:] + gap[:-1]) / 2, [gap[-1] / 2]]))


def _follow(cost: Array, picks: np.ndarray) -> np.ndarray:
    """Find the cheapest way through the day, (u,) rows of ``picks``.

    ``cost`` (u, n); a step from one pack to another costs a touch for each light that differs.
    """
    touch = TOUCH_MIRED**2 * TOUCH_HOURS
    sizes = [np.unique(column).size for column in picks.T]
    leave = (picks == 0).all(axis=1)
    ahead = np.where(leave, 0.0, np.inf)
    best = np.empty_like(cost)
    for time in range(cost.shape[0]):
        ahead = _spread(ahead.reshape(sizes), touch).ravel() + cost[time]
        best[time] = ahead
    path = np.empty(cost.shape[0], dtype=np.intp)
    path[-1] = int(best[-1].argmin())
    for time in range(cost.shape[0] - 1, 0, -1):
        apart = (picks != picks[path[time]]).sum(axis=1)
        path[time - 1] = int((best[time - 1] + touch * apart).argmin())
    return path


def _spread(ahead: Array, touch: float) -> Array:
    """Let each light be touched: the least of staying and of coming from anywhere else."""
    for axis in range(ahead.ndim):
        ahead = np.minimum(ahead, ahead.min(axis=axis, keepdims=True) + touch)
    return ahead


def _list_changes(
    lists: Sequence[OptionList], schedule: np.ndarray, times: np.ndarray
) -> list[FilterChange]:
    found = []
    hung = np.zeros(len(lists), dtype=np.intp)
    for row, picks in zip(times, schedule, strict=True):
        for column, each in enumerate(lists):
            if picks[column] == hung[column]:
                continue
            before, after = each.options[hung[column]], each.options[picks[column]]
            found.append(
                FilterChange(
                    int(row),
                    each.wish.light,
                    tuple(one.name for one in before.filters),
                    tuple(one.name for one in after.filters),
                    after.loss_stops,
                    _name_way(before.change),
                    _name_way(after.change),
                )
            )
        hung = picks
    return found


def _name_way(change: LightChange | None) -> str:
    """Name how a light burns or stands, empty for as it was read."""
    if change is None or change.kind == "off":
        return "" if change is None else "off"
    if change.kind == "dimmed":
        return f"dimmed by {change.stops:g} stop{'' if change.stops == 1 else 's'}"
    return f"{change.kind} {'to' if change.kind == 'moved' else 'off'} {change.name}"


def _set(setup: Setup, problem: Problem, picks: np.ndarray) -> Setting:
    if setup.shot_at is not None:
        return setup.shot_at
    mired, cc, _ = read_coordinates(problem, add_lights(problem, picks[None]))
    best = (float(problem.weight @ mired[:, 0]), float(problem.weight @ cc[:, 0]))
    return round_setting(setup.camera.menu, *best)
