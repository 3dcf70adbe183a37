"""How good a half-decided pack can become at best, whatever the lights still open are given.

Idea
----
With some lights decided and some open, a position's red over blue is a sum over a sum, and its
largest value is where R - r B, which separates over the open lights, just reaches 0: exact, off a
table of that sum over r. Green against both is a logarithm of three sums; a logarithm lies above
its chord and below its tangent, so a linear form bounds it, and that separates too. So each
position gets an interval of mired and one of CC. The weighted variance is a sum over pairs of
squared differences, each at least the gap of the two intervals: never more than what any
completion leaves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.neutral_table import RangeTable, tabulate_tint_ranges
from wbplan.camera.sensitivities import STOPS_PER_CC
from wbplan.core.tables import Array
from wbplan.mixed.gel_packs import CC_WEIGHT, Problem
from wbplan.planning.limits import SLACK

_NODES = 96
_LN2 = float(np.log(2.0))
# The tables' own rounding: a bound this much lower is safe. [mired], [CC]
_TABLE_MIRED, _TABLE_CC = 2e-3, 2e-3


@dataclass(frozen=True, eq=False)
class OpenLights:
    """What the open lights can still add at one position.

    ``ratio`` (l,) values of red over blue, over which ``most`` and ``least`` (l,) are the greatest
    and least sum of R - ratio B; ``low`` and ``high`` (3,) the channels' own ends; ``add``
    lists each open light's options there, (m, 3). None of it counts where ``add`` is empty.
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
    levels = tuple(
        tuple(_prepare_place(problem, level, row) for row in range(places))
        for level in range(count + 1)
    )
    return Bounds(problem, levels, tabulate_tint_ranges(problem.table))


def _prepare_place(problem: Problem, level: int, row: int) -> OpenLights:
    lights = [each.response[:, row] for each in problem.lights]
    add = tuple(each for each in lights[level:] if each.any())
    parts = np.concatenate([*lights, problem.fixed[row][None]])
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
        high = np.full(red.shape, _NODES - 1, dtype=np.intp)
        for _ in range(int(np.ceil(np.log2(_NODES)))):
            middle = (low + high) // 2
            above = red - place.ratio[middle] * blue + table[middle] > 0
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        high = np.maximum(high, low + 1)
        low = np.minimum(low, _NODES - 2)
        high = np.minimum(high, _NODES - 1)
        left, right = place.ratio[low], place.ratio[high]
        at_left = red - left * blue + table[low]
        at_right = red - right * blue + table[high]
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


def bound_packs(bounds: Bounds, level: int, raw: Array, cap: ArrayLike = np.inf) -> Array:
    """Bound what packs leave, (n,) [mired^2], of which the first ``level`` lights are decided.

    Parameters
    ----------
    bounds
        Of the problem.
    level
        How many lights are decided.
    raw
        (3, q, n) native RGB of the fixed and the decided lights.
    cap
        (n,) what a bound has to stay under to be of use: where mired alone pass it, CC are not
        worked out.
    """
    problem = bounds.problem
    places = bounds.levels[level]
    least, most = np.empty(raw.shape[1:]), np.empty(raw.shape[1:])
    for row, place in enumerate(places):
        here = raw[:, row]
        if place.add:
            ends = _bound_ratio(place, here[0], here[2])
            least[row], most[row] = np.log2(np.maximum(ends[0], 1e-12)), np.log2(ends[1])
        else:
            with np.errstate(divide="ignore", invalid="ignore"):  # dark: not a number, and left out
                least[row] = most[row] = np.log2(here[0] / here[2])
    zero = np.zeros_like(least)
    low = problem.table.read(least, zero)[0] - _TABLE_MIRED - problem.want_mired[:, None]
    high = problem.table.read(most, zero)[0] + _TABLE_MIRED - problem.want_mired[:, None]
    total = _bound_axis(problem, low, high, 0)
    rows = np.flatnonzero(total <= np.asarray(cap))
    low, high = np.empty((len(places), rows.size)), np.empty((len(places), rows.size))
    for row, place in enumerate(places):
        here = raw[:, row, rows]
        if place.add:
            down, up = _bound_green(place, here)
        else:
            down = up = 0.5 * np.log2(here[1] ** 2 / (here[0] * here[2]))
        small, large = bounds.tint.read(least[row, rows], most[row, rows])
        low[row] = small + down / STOPS_PER_CC - _TABLE_CC - problem.want_cc[row]
        high[row] = large + up / STOPS_PER_CC + _TABLE_CC - problem.want_cc[row]
        if not place.add:
            exact = problem.table.read(least[row, rows], down)[1] - problem.want_cc[row]
            low[row], high[row] = exact, exact
    total[rows] += CC_WEIGHT * _bound_axis(problem, low, high, 1)
    return total


def _bound_axis(problem: Problem, low: Array, high: Array, axis: int) -> Array:
    """Bound the part of mired (axis 0) or CC (1), squared, from intervals (q, n)."""
    weight, menu = problem.weight, problem.menu
    within = (problem.within_mired, problem.within_cc)[axis]
    total = np.zeros(low.shape[1])
    lost = np.zeros(low.shape[1], dtype=bool)
    for i in range(weight.size):
        for j in range(i + 1, weight.size):
            gap = np.maximum(np.maximum(low[i] - high[j], low[j] - high[i]), 0.0)
            total += weight[i] * weight[j] * gap**2
            if np.isfinite(within[i] + within[j]):
                lost |= gap > within[i] + within[j] + 2 * SLACK
    if menu.pairs.shape[0] == 1 and not menu.mired.size:  # one setting alone: nothing adapts
        at = menu.pairs[0, axis]
        miss = np.maximum(np.maximum(low - at, at - high), 0.0)
        total = np.asarray(weight @ miss**2)
    return np.where(lost, np.inf, total)
