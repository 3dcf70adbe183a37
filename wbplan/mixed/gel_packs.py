"""Packs: one option for each light that may be changed, and how good a pack is.

Idea
----
Light adds in the camera's native RGB, so a pack needs no spectra any more: each option of each
light is one RGB at each position, and a position is the sum over its lights. What a pack leaves is
the weighted mean of the squared distances (mired and CC, `setting.find_distance`) of the positions
from their intents, at the menu's best setting for it. That is the variance around the weighted
mean plus the squared distance from the mean to the nearest setting allowed, so no setting is ever
tried; hard limits cut the settings to a box, and a pack without a setting in its box is out. Levels
that are wanted, at the key or as ratios, are sums over the lights as well.
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

    @property
    def packs(self) -> int:
        """How many packs there are in all."""
        return int(np.prod([float(each.count) for each in self.lights]))

    @property
    def most_changes(self) -> int:
        """How many changes a pack can have."""
        return int(sum(int(each.changes.max()) for each in self.lights))

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


def score_packs(problem: Problem, raw: Array) -> Array:
    """Find what packs leave, (n,) [mired^2], infinite for one that is not allowed.

    ``raw`` is (3, q, n) native RGB at the positions. Stock and the key's loss do not count here.
    """
    mired, cc, fine = read_coordinates(problem, raw)
    weight = problem.weight
    mean_m, mean_c = weight @ mired, weight @ cc
    spread = weight @ (mired - mean_m) ** 2 + CC_WEIGHT * (weight @ (cc - mean_c) ** 2)
    return np.where(fine, spread + _find_menu_miss(problem, mired, cc, mean_m, mean_c), np.inf)


def _find_menu_miss(
    problem: Problem, mired: Array, cc: Array, mean_m: Array, mean_c: Array
) -> Array:
    """Find the squared distance from the mean to the nearest setting that keeps all limits."""
    menu = problem.menu
    box = None
    if problem.is_limited:
        dm, dc = problem.within_mired[:, None], problem.within_cc[:, None]
        box = (
            (mired - dm).max(0) - _SLACK,
            (mired + dm).min(0) + _SLACK,
            (cc - dc).max(0) - _SLACK,
            (cc + dc).min(0) + _SLACK,
        )
    best = np.full(mean_m.shape, np.inf)
    if menu.mired.size and menu.tint_cc.size:
        along = _miss_scale(menu.mired, mean_m, None if box is None else box[:2])
        across = _miss_scale(menu.tint_cc, mean_c, None if box is None else box[2:])
        best = along + CC_WEIGHT * across
    for at_m, at_c in menu.pairs:
        miss = (mean_m - at_m) ** 2 + CC_WEIGHT * (mean_c - at_c) ** 2
        if box is not None:
            kept = (box[0] <= at_m) & (at_m <= box[1]) & (box[2] <= at_c) & (at_c <= box[3])
            miss = np.where(kept, miss, np.inf)
        best = np.minimum(best, miss)
    return best


def _miss_scale(scale: Array, mean: Array, box: tuple[Array, ...] | None) -> Array:
    near = np.searchsorted((scale[1:] + scale[:-1]) / 2, mean)
    if box is None:
        return np.asarray((scale[near] - mean) ** 2)
    first = np.searchsorted(scale, box[0], side="left")
    last = np.searchsorted(scale, box[1], side="right") - 1
    near = np.clip(np.clip(near, first, np.maximum(first, last)), 0, scale.size - 1)
    return np.where(first <= last, (scale[near] - mean) ** 2, np.inf)


def add_lights(problem: Problem, picks: Array) -> Array:
    """Add up packs, (3, q, n) native RGB, for picks (n, lights) of options."""
    raw = np.repeat(problem.fixed.T[:, :, None], picks.shape[0], axis=2)
    for column, light in enumerate(problem.lights):
        raw += light.response[picks[:, column]].T
    return raw


def check_allowed(problem: Problem, picks: Array) -> Array:
    """Tell which packs (n, lights) keep to the stock and keep up the sums of lux, (n,)."""
    levels = np.repeat(problem.fixed_levels[None], picks.shape[0], axis=0)
    used = np.zeros((picks.shape[0], problem.stock.size))
    for column, light in enumerate(problem.lights):
        levels = levels + light.levels[picks[:, column]]
        used = used + light.use[picks[:, column]]
    kept = (levels >= problem.least_levels).all(axis=1)
    return np.asarray((used <= problem.stock).all(axis=1) & kept)


def make_menu(kelvin: tuple[float, ...], tint_cc: tuple[float, ...], pairs: Array) -> SettingMenu:
    """Make a menu from a camera's figures."""
    mired = np.sort(1e6 / np.array(kelvin)) if kelvin else np.empty(0)
    return SettingMenu(freeze(mired), freeze(np.array(tint_cc)), freeze(pairs))
