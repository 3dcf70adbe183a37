"""Packs: one option for each light that may be changed, and how good a pack is.

Idea
----
Light adds in the camera's native RGB, so a pack needs no spectra any more: each option of each
light is one RGB at each position, and a position is the sum over its lights. What a pack leaves is
the weighted mean of the squared distances (mired and CC, `setting.find_distance`) of the positions
from their intents, at the menu's best setting for it. That is the variance around the weighted
mean plus the squared distance from the mean to the nearest setting allowed, so no setting is ever
tried. Hard limits cut the settings to a box; where they cannot all be kept, packs are compared by
how little they bend, the heaviest weight first, as settings are (`planning.limits`). Levels that
are wanted, at the key or as ratios, are sums over the lights as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.neutral_table import NeutralTable
from wbplan.camera.setting import MIRED_PER_CC
from wbplan.core.tables import Array
from wbplan.light.spectrum import freeze
from wbplan.planning.limits import SLACK

CC_WEIGHT = MIRED_PER_CC**2
BENT_STEP = SLACK  # [mired] in which excesses are compared
_SLACK = SLACK / 2  # what the tables pass, the plan's own solve passes too


@dataclass(frozen=True, eq=False)
class LightOptions:
    """The options of one light, the first of them to leave it as it is.

    Parameters
    ----------
    response
        (m, q, 3) native RGB that each gives the q positions that are judged.
    levels
        (m, c) what each adds to the sums that a pack has to keep up, see `Problem`.
    changes
        (m,) how many things are changed: filters hung, a fixture tuned, a lamp dimmed or moved.
    loss_stops
        (m,) light lost against leaving it.
    use
        (m, s) pieces taken of each of the s limited filters.
    """

    response: Array
    levels: Array
    changes: Array
    loss_stops: Array
    use: Array

    @property
    def count(self) -> int:
        """How many options there are."""
        return int(self.changes.size)

    def take(self, rows: np.ndarray) -> LightOptions:
        """Take some of the options."""
        return LightOptions(
            self.response[rows],
            self.levels[rows],
            self.changes[rows],
            self.loss_stops[rows],
            self.use[rows],
        )


@dataclass(frozen=True, eq=False)
class DriveRange:
    """A fixture whose n channels may be driven anew.

    Parameters
    ----------
    response
        (n, q, 3) native RGB that each channel at full drive gives the positions that are judged.
    levels
        (n, c) what each adds to the sums that a pack has to keep up, see `Problem`.
    output
        (n,) light of each channel at full drive, that of the fixture as read being 1.
    as_read
        (n,) drives, 0 to 1.
    least, most
        What it may give in all, as read 1.
    """

    response: Array
    levels: Array
    output: Array
    as_read: Array
    least: float
    most: float


@dataclass(frozen=True, eq=False)
class SettingMenu:
    """Settings allowed: ``mired`` x ``tint_cc``, each ascending, and single ``pairs`` (n, 2)."""

    mired: Array
    tint_cc: Array
    pairs: Array


@dataclass(frozen=True, eq=False)
class Problem:
    """What has to be solved.

    Parameters
    ----------
    lights
        Those that may be changed.
    fixed
        (q, 3) native RGB of everything else at the q positions that are judged.
    want_mired, want_cc, weight, within_mired, within_cc
        (q,) their intents; weights add up to 1, limits are infinite where there are none.
    menu
        The settings allowed.
    table
        The camera's coordinates.
    stock
        (s,) pieces of each limited filter.
    fixed_levels, least_levels
        (c,) sums of lux that a pack has to keep up: what the other lights add to each, and the
        least that must come of it in all.
    fixtures
        Those whose drives may be changed, each counting as one change.
    """

    lights: tuple[LightOptions, ...]
    fixed: Array
    want_mired: Array
    want_cc: Array
    weight: Array
    within_mired: Array
    within_cc: Array
    menu: SettingMenu
    table: NeutralTable
    stock: Array
    fixed_levels: Array
    least_levels: Array
    fixtures: tuple[DriveRange, ...] = ()

    @property
    def packs(self) -> int:
        """How many packs there are in all; a fixture is left, or driven in whatever way."""
        return int(np.prod([float(each.count) for each in self.lights]) * 2 ** len(self.fixtures))

    @property
    def most_changes(self) -> int:
        """How many changes a pack can have."""
        return int(sum(int(each.changes.max()) for each in self.lights)) + len(self.fixtures)

    @property
    def ranks(self) -> tuple[np.ndarray, ...]:
        """The positions with hard limits by weight, the heaviest first: rows of each."""
        has = np.isfinite(self.within_mired) | np.isfinite(self.within_cc)
        return tuple(
            np.flatnonzero(has & (self.weight == each))
            for each in np.unique(self.weight[has])[::-1]
        )

    @property
    def is_limited(self) -> bool:
        """Whether any position has a hard limit."""
        return bool(np.isfinite(self.within_mired).any() or np.isfinite(self.within_cc).any())


def read_coordinates(problem: Problem, raw: Array) -> tuple[Array, Array, np.ndarray]:
    """Find the setting at which each position meets its intent.

    Parameters
    ----------
    problem
        With its table.
    raw
        (3, q, n) native RGB of n packs.

    Returns
    -------
    tuple
        Mired and CC (q, n), and whether all positions of a pack can be neutralised, (n,).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        red, green, blue = raw
        mired, cc, inside = problem.table.read(
            np.log2(red / blue), 0.5 * np.log2(green * green / (red * blue))
        )
    mired = mired - problem.want_mired[:, None]
    cc = cc - problem.want_cc[:, None]
    return mired, cc, np.asarray(inside.all(axis=0))


def score_packs(problem: Problem, raw: Array, cap: Array | None = None) -> tuple[Array, Array]:
    """Find how far packs bend the hard limits, and what they leave.

    Parameters
    ----------
    problem
        Stock and sums of lux do not count here.
    raw
        (3, q, n) native RGB at the positions.
    cap
        (n,) what a pack has to stay under to be of use [mired^2]: one that will not has infinity.

    Returns
    -------
    tuple
        (r, n) [mired] for each weight of `Problem.ranks` the greatest excess at the setting of the
        menu at which limits bend least, mired and CC joined, in steps of `BENT_STEP`; and what
        that setting leaves, (n,) [mired^2], infinite where a position cannot be neutralised.
    """
    if cap is not None and np.isfinite(cap).any() and not problem.table.is_plane:
        rows = _find_hopeful(problem, raw, cap)
        bent = np.full((len(problem.ranks), raw.shape[2]), np.inf)
        left = np.full(raw.shape[2], np.inf)
        bent[:, rows], left[rows] = score_packs(problem, raw.take(rows, axis=2))
        return bent, left
    mired, cc, fine = read_coordinates(problem, raw)
    weight = problem.weight
    mean_m, mean_c = weight @ mired, weight @ cc
    spread = weight @ (mired - mean_m) ** 2 + CC_WEIGHT * (weight @ (cc - mean_c) ** 2)
    bent, miss = _find_menu_miss(problem, mired, cc, mean_m, mean_c)
    return np.where(fine, bent, np.inf), np.where(fine, spread + miss, np.inf)


def _find_hopeful(problem: Problem, raw: Array, cap: Array) -> np.ndarray:
    """Find the packs whose spread in mired alone leaves them under a cap, place by place."""
    rows = np.arange(raw.shape[2])
    known, (first, second, spread) = 0.0, np.zeros((3, rows.size))
    roomy = cap * (1 + 1e-9) + 1e-8  # more than the arithmetic's error
    for row in np.argsort(-problem.weight, kind="stable"):
        weight = problem.weight[row]
        with np.errstate(divide="ignore", invalid="ignore"):
            red_blue = np.log2(raw[0, row].take(rows) / raw[2, row].take(rows))
        mired = problem.table.read_mired(red_blue) - problem.want_mired[row]
        spread = spread + weight * ((known * mired - 2 * first) * mired + second)
        known, first, second = known + weight, first + weight * mired, second + weight * mired**2
        live = np.flatnonzero(spread <= roomy.take(rows))
        rows = rows.take(live)
        first, second, spread = (each.take(live) for each in (first, second, spread))
    return rows


def _find_menu_miss(
    problem: Problem, mired: Array, cc: Array, mean_m: Array, mean_c: Array
) -> tuple[Array, Array]:
    """Find the excess of each rank and the squared distance from the mean, at the best setting."""
    menu, ranks = problem.menu, problem.ranks
    dm, dc = problem.within_mired[:, None], problem.within_cc[:, None]
    ends_m = [((mired - dm)[rank].max(0), (mired + dm)[rank].min(0)) for rank in ranks]
    ends_c = [((cc - dc)[rank].max(0), (cc + dc)[rank].min(0)) for rank in ranks]

    def measure(at_m: Array | float, at_c: Array | float) -> tuple[Array, Array]:
        over = [
            np.hypot(_find_over(*m, at_m), MIRED_PER_CC * _find_over(*c, at_c))
            for m, c in zip(ends_m, ends_c, strict=True)
        ]
        bent = BENT_STEP * np.round(np.array(over).reshape(len(ranks), mean_m.size) / BENT_STEP)
        return bent, (mean_m - at_m) ** 2 + CC_WEIGHT * (mean_c - at_c) ** 2

    best: tuple[Array, Array] | None = None
    if menu.mired.size and menu.tint_cc.size:
        along = _choose_entry(menu.mired, mean_m, ends_m)
        across = _choose_entry(menu.tint_cc, mean_c, ends_c)
        best = measure(along, across)
    for at_m, at_c in menu.pairs:
        other = measure(float(at_m), float(at_c))
        best = other if best is None else _take_better(best, other)
    if best is None:  # a menu of nothing
        never = np.full(mean_m.shape, np.inf)
        return np.zeros((len(ranks), mean_m.size)), never
    return best


def _find_over(low: Array, high: Array, at: Array | float) -> Array:
    """Find how far a setting lies past an interval, which may be turned over; kept is 0."""
    over = np.maximum(low - at, at - high)
    return np.where(over > _SLACK, over, 0.0)


def _take_better(one: tuple[Array, Array], two: tuple[Array, Array]) -> tuple[Array, Array]:
    better, tied = np.zeros(one[1].shape, dtype=bool), np.ones(one[1].shape, dtype=bool)
    for a, b in (*zip(one[0], two[0], strict=True), (one[1], two[1])):
        better |= tied & (b < a)
        tied &= a == b
    return np.where(better, two[0], one[0]), np.where(better, two[1], one[1])


def _choose_entry(scale: Array, mean: Array, ends: list[tuple[Array, Array]]) -> Array:
    """Choose the entry of a scale at which limits bend least, of those the nearest to the mean.

    What limits are passed by is a V over the scale, so of each weight a run of entries is kept.
    """
    near = np.searchsorted((scale[1:] + scale[:-1]) / 2, mean)
    if not ends:
        return np.asarray(scale[near])
    first, last = np.zeros(mean.shape, dtype=np.intp), np.full(mean.shape, scale.size - 1)
    for low, high in ends:
        start = np.maximum(first, np.searchsorted(scale, low - _SLACK, side="left"))
        stop = np.minimum(last, np.searchsorted(scale, high + _SLACK, side="right") - 1)
        above = np.searchsorted(scale, (np.maximum(low, -1e9) + np.minimum(high, 1e9)) / 2)
        above = np.clip(above, first, last)
        below = np.clip(above - 1, first, last)
        up, down = _find_over(low, high, scale[above]), _find_over(low, high, scale[below])
        fits = start <= stop
        start = np.where(fits, start, np.where(down <= up + _SLACK, below, above))
        stop = np.where(fits, stop, np.where(up <= down + _SLACK, above, below))
        first, last = start, stop
    return np.asarray(scale[np.clip(near, first, last)])


def add_lights(problem: Problem, picks: np.ndarray) -> Array:
    """Add up packs, (3, q, n) native RGB, for picks (n, lights) of options."""
    raw = np.repeat(problem.fixed.T[:, :, None], picks.shape[0], axis=2)
    for column, light in enumerate(problem.lights):
        raw += np.take(np.ascontiguousarray(light.response.T), picks[:, column], axis=2)
    return raw


def check_allowed(problem: Problem, picks: Array) -> Array:
    """Tell which packs (n, lights) keep to the stock and keep up the sums of lux, (n,)."""
    levels = np.repeat(problem.fixed_levels[None], picks.shape[0], axis=0)
    used = np.zeros((picks.shape[0], problem.stock.size))
    for column, light in enumerate(problem.lights):
        levels = levels + light.levels[picks[:, column]]
        used = used + light.use[picks[:, column]]
    return np.asarray((used <= problem.stock).all(axis=1) & keeps_levels(problem, levels))


def keeps_levels(problem: Problem, levels: Array) -> np.ndarray:
    """Tell where sums of lux (n, c) are kept up, (n,)."""
    return np.asarray((levels >= problem.least_levels).all(axis=1))


def make_menu(kelvin: tuple[float, ...], tint_cc: tuple[float, ...], pairs: Array) -> SettingMenu:
    """Make a menu from a camera's figures."""
    mired = np.sort(1e6 / np.array(kelvin)) if kelvin else np.empty(0)
    return SettingMenu(freeze(mired), freeze(np.array(tint_cc)), freeze(pairs))


def find_menu_ends(menu: SettingMenu) -> Array:
    """Find the least and greatest setting of a menu: mired, then CC, (2, 2)."""
    mired = np.concatenate([menu.mired, menu.pairs[:, 0]])
    tint = np.concatenate([menu.tint_cc, menu.pairs[:, 1]])
    return np.array([[mired.min(), mired.max()], [tint.min(), tint.max()]])
