"""How good a half-decided pack can become at best, whatever the lights still open are given.

Idea
----
With some lights decided and some open, a position's red over blue is a sum over a sum, and its
largest value is where R - r B, which separates over the open lights, just reaches 0: exact, off a
table of that sum over r. Green against both is a logarithm of three sums; a logarithm lies above
its chord and below its tangent, so a linear form bounds it, and that separates too. So each
position gets an interval of mired and one of CC. The weighted variance is a sum over pairs of
squared differences, each at least the gap of the two intervals: never more than what any
completion leaves. A gap wider than two limits also says how far they have to bend.

A fixture that may be driven anew is open to the end: what it can give is a convex body in RGB, and
a linear form is largest at one of its corners, so the corners stand for its options.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.neutral_table import RangeTable, tabulate_tint_ranges
from wbplan.camera.sensitivities import STOPS_PER_CC
from wbplan.camera.setting import MIRED_PER_CC
from wbplan.core.tables import Array
from wbplan.mixed.gel_packs import CC_WEIGHT, DriveRange, Problem, find_menu_ends
from wbplan.planning.limits import SLACK

_HALVES = (64, 32, 16, 8, 4, 2, 1)
_NODES = 2 * _HALVES[0]
_CORNERED = 8  # channels whose drives make a cube of which every corner is looked at
_FEW = 40  # corners that are not worth a hull
_PLANES = 90
_SPREAD_STEPS = 4
_LN2 = float(np.log(2.0))
# The tables' own rounding: a bound this much lower is safe. [mired], [CC]
_TABLE_MIRED, _TABLE_CC = 2e-3, 2e-3


@dataclass(frozen=True, eq=False)
class OpenLights:
    """What the open lights can still add at one position.

    ``ratio`` (l,) values of red over blue, over which ``most`` and ``least`` (l,) are the greatest
    and least sum of R - ratio B; ``low`` and ``high`` (3,) the channels' own ends; ``add``
    lists each open light's corners there, (m, 3). None of it counts where ``add`` is empty.
    """

    ratio: Array
    most: Array
    least: Array
    low: Array
    high: Array
    add: tuple[Array, ...]


@dataclass(frozen=True, eq=False)
class Bounds:
    """The bounds of a problem: the open lights of each level, for each position."""

    problem: Problem
    levels: tuple[tuple[OpenLights, ...], ...]
    tint: RangeTable


def prepare_bounds(problem: Problem) -> Bounds | None:
    """Prepare the bounds; None for a camera whose tint goes along Duv, which has none."""
    if problem.table.is_plane:
        return None
    count = len(problem.lights)
    places = problem.fixed.shape[0]
    given = [each.response for each in problem.lights]
    given += [list_corners(each) for each in problem.fixtures]
    corners = [[_take_hull(each[:, row]) for each in given] for row in range(places)]
    levels = tuple(
        tuple(_prepare_place(problem.fixed[row], corners[row], level) for row in range(places))
        for level in range(count + 1)
    )
    return Bounds(problem, levels, tabulate_tint_ranges(problem.table))


def _prepare_place(fixed: Array, corners: list[Array], level: int) -> OpenLights:
    add = tuple(each for each in corners[level:] if each.any())
    parts = np.concatenate([*corners, fixed[None]])
    parts = parts[parts.any(axis=1)]  # what gives nothing has no colour
    with np.errstate(divide="ignore"):
        ends = parts[:, 0] / parts[:, 2]
    ratio = np.geomspace(max(ends.min(), 1e-9) * 0.999, min(ends.max(), 1e9) * 1.001, _NODES)
    most, least = np.zeros(_NODES), np.zeros(_NODES)
    low, high = np.zeros(3), np.zeros(3)
    for each in add:
        form = each[:, :1] - each[:, 2:] * ratio
        most, least = most + form.max(axis=0), least + form.min(axis=0)
        low, high = low + each.min(axis=0), high + each.max(axis=0)
    return OpenLights(ratio, most, least, low, high, add)


def _bound_ratio(place: OpenLights, red: Array, blue: Array) -> tuple[Array, Array]:
    """Bound red over blue, (n,) and (n,), by where the table's straight lines cross zero.

    ``most`` is convex and ``least`` concave in the ratio, so that their chords cross outside.
    """
    ends = []
    for table in (place.least, place.most):
        low = np.zeros(red.shape, dtype=np.intp)
        for step in _HALVES:
            middle = low + step
            above = red - place.ratio.take(middle) * blue + table.take(middle) > 0
            low += np.multiply(above, step, dtype=np.intp)
        low = np.minimum(low, _NODES - 2)
        left, right = place.ratio.take(low), place.ratio.take(low + 1)
        at_left = red - left * blue + table.take(low)
        at_right = red - right * blue + table.take(low + 1)
        gap = at_left - at_right
        share = np.clip(at_left / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
        ends.append(left + share * (right - left))
    return ends[0], ends[1]


def _bound_green(place: OpenLights, raw: Array) -> tuple[Array, Array]:
    """Bound log2 G less the mean of log2 R and log2 B, (n,) and (n,), for raw (3, n) decided."""
    low, high = raw + place.low[:, None], raw + place.high[:, None]
    tiny = np.finfo(np.float64).tiny
    low = np.maximum(low, tiny)
    high = np.maximum(high, low * (1 + 1e-12))
    middle = np.sqrt(low * high)
    log_low, log_high, log_middle = np.log2(low), np.log2(high), np.log2(middle)
    chord = (log_high - log_low) / (high - low)
    chord_at_zero = log_low - chord * low
    tangent = 1.0 / (middle * _LN2)
    tangent_at_zero = log_middle - 1.0 / _LN2
    half = np.array([-0.5, 1.0, -0.5])
    ends = []
    for upper in (False, True):
        # For a lower end green goes down to its chord, red and blue up to their tangents.
        by_tangent = np.array([not upper, upper, not upper])[:, None]
        slope = half[:, None] * np.where(by_tangent, tangent, chord)
        constant = half @ np.where(by_tangent, tangent_at_zero, chord_at_zero)
        total = constant + (slope * raw).sum(axis=0)
        for each in place.add:
            form = each @ slope
            total = total + (form.max(axis=0) if upper else form.min(axis=0))
        ends.append(total)
    return ends[0], ends[1]


def _take_hull(points: Array) -> Array:
    """Take the points (m, 3) at which linear forms are greatest and least."""
    from scipy.spatial import ConvexHull, QhullError

    points = np.ascontiguousarray(points)
    if points.shape[0] <= _FEW or not points.any():
        return points
    try:
        return np.asarray(points[ConvexHull(points / points.max(axis=0)).vertices])
    except QhullError:
        return points


@dataclass(frozen=True, eq=False)
class Bound:
    """What packs leave at least, (n,) [mired^2], and how far limits bend at least, (r, n) [mired].

    ``own`` counts the limits of each weight among themselves, ``kept`` also against heavier ones,
    if those are kept.
    """

    left: Array
    own: Array
    kept: Array


def bound_packs(bounds: Bounds, level: int, raw: Array, cap: ArrayLike = np.inf) -> Bound:
    """Bound what packs leave of which the first ``level`` lights are decided.

    Parameters
    ----------
    bounds
        Of the problem.
    level
        How many lights are decided.
    raw
        (3, q, n) native RGB of the fixed and the decided lights.
    cap
        (n,) what a bound has to stay under to be of use: where some positions pass it, the others
        are not worked out, nor how far limits bend.
    """
    problem, places = bounds.problem, bounds.levels[level]
    count = raw.shape[2]
    cap = np.broadcast_to(np.asarray(cap, dtype=np.float64), (count,))
    bound = Bound(np.empty(count), *np.zeros((2, len(problem.ranks), count)))
    rows = np.arange(count)
    part = np.zeros(count)
    # of each position red over blue, and mired: what is decided first, then the heaviest
    here: dict[int, tuple[Array, Array]] = {}
    mired: dict[int, tuple[Array, Array]] = {}
    for row in sorted(range(len(places)), key=lambda e: (bool(places[e].add), -problem.weight[e])):
        here[row] = _find_red_blue(places[row], np.take(raw[:, row], rows, axis=1))
        aim = problem.want_mired[row]
        mired[row] = (
            problem.table.read_mired(here[row][0]) - _TABLE_MIRED - aim,
            problem.table.read_mired(here[row][1]) + _TABLE_MIRED - aim,
        )
        part = part + _add_place(problem, mired, row, 0)
        keep = part <= cap[rows]
        if keep.all():
            continue
        bound.left[rows] = part
        live = np.flatnonzero(keep)
        rows, part = rows.take(live), part.take(live)
        for known in (here, mired):
            for each, (low, high) in known.items():
                known[each] = low.take(live), high.take(live)
    total, own, kept = _bound_axis(problem, *_stack_ends(mired), 0)
    green: dict[int, tuple[Array, Array]] = {}
    for row, place in enumerate(places):
        least, most = here[row]
        seen = np.take(raw[:, row], rows, axis=1)
        aim = problem.want_cc[row]
        if place.add:
            down, up = _bound_green(place, seen)
            small, large = bounds.tint.read(least, most)
            green[row] = (
                small + down / STOPS_PER_CC - _TABLE_CC - aim,
                large + up / STOPS_PER_CC + _TABLE_CC - aim,
            )
        else:
            with np.errstate(divide="ignore", invalid="ignore"):
                even = 0.5 * np.log2(seen[1] ** 2 / (seen[0] * seen[2]))
            exact = problem.table.read(least, even)[1] - aim
            green[row] = exact, exact
    more, own_cc, kept_cc = _bound_axis(problem, *_stack_ends(green), 1)
    total += CC_WEIGHT * more
    live = np.flatnonzero(total <= cap.take(rows))
    if live.size and _find_only_setting(problem) is None:
        ends = (np.take(each, live, axis=1) for each in (*_stack_ends(mired), *_stack_ends(green)))
        total[live] = np.maximum(total[live], _bound_spread(problem, *ends))
    bound.left[rows] = total
    bound.own[:, rows] = np.hypot(own, MIRED_PER_CC * own_cc)
    bound.kept[:, rows] = np.hypot(kept, MIRED_PER_CC * kept_cc)
    return bound


def _stack_ends(ends: dict[int, tuple[Array, Array]]) -> tuple[Array, Array]:
    low, high = (np.stack([ends[row][end] for row in sorted(ends)]) for end in (0, 1))
    return low, high


def _find_red_blue(place: OpenLights, raw: Array) -> tuple[Array, Array]:
    """Find the least and greatest red over blue [stops] for raw (3, n) decided."""
    if place.add:
        least, most = _bound_ratio(place, raw[0], raw[2])
        return np.log2(np.maximum(least, 1e-12)), np.log2(most)
    with np.errstate(divide="ignore", invalid="ignore"):  # dark: not a number, and left out
        exact = np.log2(raw[0] / raw[2])
    return exact, exact


def _add_place(
    problem: Problem, ends: dict[int, tuple[Array, Array]], row: int, axis: int
) -> Array:
    """Find what one more position adds to the part of an axis, squared."""
    weight, (low, high) = problem.weight, ends[row]
    at = _find_only_setting(problem)
    if at is not None:
        miss = np.maximum(np.maximum(low - at[axis], at[axis] - high), 0.0)
        return np.asarray(weight[row] * miss**2)
    added = np.zeros(low.shape)
    for other, (down, up) in ends.items():
        if other != row:
            gap = np.maximum(np.maximum(low - up, down - high), 0.0)
            added += weight[row] * weight[other] * gap**2
    return added


def _bound_spread(problem: Problem, *ends: Array) -> Array:
    """Bound what positions within intervals (q, n) of mired and of CC leave at any one setting.

    A convex function of the setting. Wherever the steps towards its least end, its tangent there
    lies under it, and the menu has two ends.
    """
    weight, total = problem.weight, np.zeros(ends[0].shape[1])
    for axis, scale in ((0, 1.0), (1, CC_WEIGHT)):
        low, high = ends[2 * axis : 2 * axis + 2]
        first, last = find_menu_ends(problem.menu)[axis]
        at = np.clip(weight @ (low + high) / 2, first, last)
        for step in range(_SPREAD_STEPS + 1):
            off = at - np.minimum(np.maximum(at, low), high)
            slope = weight @ off
            if step < _SPREAD_STEPS:
                pull = weight @ (off != 0)
                at = np.clip(at - slope / np.where(pull > 0, pull, 1.0), first, last)
        below = 2 * np.minimum(slope * (first - at), slope * (last - at))
        total += scale * np.maximum(weight @ off**2 + below, 0.0)
    return total


def _find_only_setting(problem: Problem) -> Array | None:
    """Find the setting if there is one alone, so that nothing adapts, (2,) [mired, CC]."""
    menu = problem.menu
    return menu.pairs[0] if menu.pairs.shape[0] == 1 and not menu.mired.size else None


def _bound_axis(problem: Problem, low: Array, high: Array, axis: int) -> tuple[Array, Array, Array]:
    """Bound the part of mired (axis 0) or CC (1), squared, and the excess, from intervals."""
    weight = problem.weight
    within = (problem.within_mired, problem.within_cc)[axis]
    total = np.zeros(low.shape[1])
    ranks = problem.ranks
    rank_of = {int(row): number for number, rank in enumerate(ranks) for row in rank}
    own, kept = np.zeros((len(ranks), low.shape[1])), np.zeros((len(ranks), low.shape[1]))
    for i in range(weight.size):
        for j in range(i + 1, weight.size):
            gap = np.maximum(np.maximum(low[i] - high[j], low[j] - high[i]), 0.0)
            total += weight[i] * weight[j] * gap**2
            if np.isfinite(within[i] + within[j]):
                a, b = sorted((rank_of[i], rank_of[j]))
                over = gap - within[i] - within[j] - 4 * SLACK
                if a == b:
                    own[a] = np.maximum(own[a], over / 2)
                else:
                    kept[b] = np.maximum(kept[b], over)
    only = _find_only_setting(problem)
    if only is not None:
        miss = np.maximum(np.maximum(low - only[axis], only[axis] - high), 0.0)
        total = np.asarray(weight @ miss**2)
        for number, rank in enumerate(ranks):
            over = (miss[rank] - within[rank][:, None] - 2 * SLACK).max(axis=0)
            own[number] = np.maximum(own[number], over)
    return total, own, np.maximum(own, kept)


def list_corners(fixture: DriveRange) -> Array:
    """List corners (m, q, 3) of a convex body that holds whatever a fixture can give.

    With few channels it is that body itself: the corners of the cube of drives that keep its
    output, and where the cube's edges meet the least and the most. With many it is cut out by
    planes, each as far out as the fixture reaches.
    """
    size = fixture.as_read.size
    if size <= _CORNERED:
        drives = _list_cut_corners(fixture)
        return np.asarray(np.tensordot(drives, fixture.response, (1, 0)))
    share = fixture.response.sum(axis=(0, 2))
    place = int(share.argmax())
    own = fixture.response[:, place]
    corners = _cut_out(own, fixture)
    return np.asarray(corners[:, None, :] * (share / share[place])[:, None])


def _list_cut_corners(fixture: DriveRange) -> Array:
    size, output = fixture.as_read.size, fixture.output
    cube = (np.arange(2**size)[:, None] >> np.arange(size) & 1).astype(np.float64)
    full = cube @ output
    found = [cube[(full >= fixture.least) & (full <= fixture.most)]]
    for end in (fixture.least, fixture.most):
        for channel in range(size):
            share = np.where(cube[:, channel] == 0, (end - full) / output[channel], -1.0)
            crossed = (share > 0) & (share < 1)
            drives = cube[crossed].copy()
            drives[:, channel] = share[crossed]
            found.append(drives)
    return np.concatenate(found)


def _cut_out(own: Array, fixture: DriveRange) -> Array:
    """Cut out a body in RGB (m, 3) by planes; ``own`` (n, 3) is what channels give at one place."""
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    scale = own.sum(axis=0)
    turn = np.arange(_PLANES) + 0.5
    rise = np.arccos(1 - 2 * turn / _PLANES)
    around = np.pi * (1 + 5**0.5) * turn
    planes = np.stack(
        [np.cos(around) * np.sin(rise), np.sin(around) * np.sin(rise), np.cos(rise)], axis=1
    )
    planes = np.concatenate([planes, np.eye(3), -np.eye(3)])
    reach = find_reach(own / scale, fixture, planes)
    middle = (fixture.as_read @ own / scale)[None]
    # the planes stand a little further out, so that the middle lies inside even of a flat body
    sides = np.concatenate([planes, -(reach + 1e-6)[:, None]], axis=1)
    corners = HalfspaceIntersection(sides, middle[0]).intersections
    return np.asarray(corners[ConvexHull(corners, qhull_options="QJ").vertices] * scale)


def find_reach(own: Array, fixture: DriveRange, planes: Array) -> Array:
    """Find the most that drives reach along directions (m, 3), (m,): a linear programme each.

    By its dual, a piece-wise straight line over the price of output, least at one of its kinks.
    """
    value, output = own @ planes.T, fixture.output
    kinks = np.concatenate([np.zeros((1, value.shape[1])), value / output[:, None]])
    spare = np.maximum(value - kinks[:, None, :] * output[:, None], 0.0).sum(axis=1)
    paid = np.where(kinks >= 0, kinks * fixture.most, kinks * fixture.least)
    return np.asarray((spare + paid).min(axis=0))
