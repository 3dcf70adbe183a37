"""Hard limits: the settings at which every position stays as near to its intent as it must.

Idea
----
A limit says how many mired and CC a position may be off. The cast is the position's coordinates
less those of the setting, so each limit is an interval of mired and one of tint for the setting,
and all limits together are one box. Where the intervals of an axis have nothing in common some pair
of positions disagrees by more than its limits allow (intervals on a line that meet two by two meet
all at once), so conflicts are always between two and have a size.

Then limits bend, as little as they must, on that axis alone, the heaviest weight last: positions of
one weight after another, from the heaviest, take from what is left the settings at which the
greatest excess among them is least. The excess of several limits is a V over the setting, so
where they cannot all be kept that is one point, and the lighter ones take what it gives them.
On a menu the same order chooses among its entries.

In the box the weighted squared distance is least at the point nearest to the weighted mean: it is
the same in every direction around the mean, and the box has its sides along the axes.

A limit counts as kept up to `SLACK`. Coordinates are good to 1e-6 and the search's tables to
1e-3 (`camera.neutral_table`); nobody sees a five hundredth of a mired.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import Menu
from wbplan.camera.setting import MIRED_PER_CC, Setting, find_distance, round_setting
from wbplan.core.tables import Array
from wbplan.scene.setup import Intent

SLACK = 2e-3  # [mired] and [CC], for every comparison with a limit
_MOST_CONFLICTS = 100


@dataclass(frozen=True, eq=False)
class Limits:
    """The hard limits of p positions.

    ``mired`` and ``cc`` (p, ...) are the setting at which each meets its intent exactly,
    ``within_mired`` and ``within_cc`` (p,) how far off it may be, infinite for no limit, ``weight``
    (p,) in which order they bend.
    """

    mired: Array
    cc: Array
    within_mired: Array
    within_cc: Array
    weight: Array

    @property
    def is_limited(self) -> bool:
        """Whether there is any."""
        return bool(np.isfinite(self.within_mired).any() or np.isfinite(self.within_cc).any())


@dataclass(frozen=True, eq=False)
class SettingBox:
    """Settings that are allowed: intervals of mired and of tint, (...,) each, infinite if free."""

    low_mired: Array
    high_mired: Array
    low_cc: Array
    high_cc: Array

    @property
    def is_empty(self) -> Array:
        """Where no setting is allowed, (...,) of bool."""
        apart_m, apart_c = self.low_mired - self.high_mired, self.low_cc - self.high_cc
        return np.asarray((apart_m > 2 * SLACK) | (apart_c > 2 * SLACK))


@dataclass(frozen=True)
class Conflict:
    """Two positions whose limits no setting keeps, and what is missing: mired and CC, 0 if none.

    ``warmer`` and ``cooler`` are the two in the light that the camera sees; where only CC are
    missing, ``warmer`` is the greener one.
    """

    warmer: str
    cooler: str
    mired: float
    cc: float


def find_limits(intents: Sequence[Intent], judged: ArrayLike) -> tuple[Array, Array]:
    """Collect the limits, (p,) [mired] and (p,) [CC], infinite where a position has none."""
    counts = np.asarray(judged, dtype=bool)
    mired = np.array([each.within_mired for each in intents])
    cc = np.array([each.within_cc for each in intents])
    return np.where(counts, mired, np.inf), np.where(counts, cc, np.inf)


def find_box(
    setting_mired: ArrayLike, setting_cc: ArrayLike, within_mired: Array, within_cc: Array
) -> SettingBox:
    """Find the settings that keep every limit.

    Parameters
    ----------
    setting_mired, setting_cc
        (p, ...) the setting at which each position meets its intent exactly [mired, CC].
    within_mired, within_cc
        (p,) limits, infinite for none.
    """
    m, c = np.asarray(setting_mired), np.asarray(setting_cc)
    shape = (-1,) + (1,) * (m.ndim - 1)
    dm, dc = within_mired.reshape(shape), within_cc.reshape(shape)
    return SettingBox((m - dm).max(0), (m + dm).min(0), (c - dc).max(0), (c + dc).min(0))


def bend_limits(limits: Limits) -> SettingBox:
    """Find the settings (...,) at which the limits bend least, the heaviest weight last.

    Where every limit of an axis can be kept these are the settings that keep them; never empty.
    """
    low_m, high_m = _bend_axis(limits.mired, limits.within_mired, limits.weight)
    low_c, high_c = _bend_axis(limits.cc, limits.within_cc, limits.weight)
    return SettingBox(low_m, high_m, low_c, high_c)


def _bend_axis(centre: Array, within: Array, weight: Array) -> tuple[Array, Array]:
    shape = (-1,) + (1,) * (centre.ndim - 1)
    low, high = np.full(centre.shape[1:], -np.inf), np.full(centre.shape[1:], np.inf)
    for rows in _rank_by_weight(np.isfinite(within), weight):
        reach = within[rows].reshape(shape)
        down, up = (centre[rows] - reach).max(0), (centre[rows] + reach).min(0)
        first, last = np.maximum(low, down), np.minimum(high, up)
        nearest = np.where(down > up, (down + up) / 2, np.where(down > high, high, low))
        point = np.minimum(np.maximum(nearest, low), high)
        fits = first <= last
        low, high = np.where(fits, first, point), np.where(fits, last, point)
    return low, high


def _rank_by_weight(has: np.ndarray, weight: Array) -> list[np.ndarray]:
    """List the rows of each weight, the heaviest first."""
    ranks = sorted({*weight[has].tolist()}, reverse=True)
    return [np.flatnonzero(has & (weight == each)) for each in ranks]


def move_inside(mired: ArrayLike, cc: ArrayLike, box: SettingBox) -> tuple[Array, Array]:
    """Move settings (...,) to the nearest point of a box that is not empty."""
    m, c = np.asarray(mired), np.asarray(cc)
    return (
        np.minimum(np.maximum(m, box.low_mired), box.high_mired),
        np.minimum(np.maximum(c, box.low_cc), box.high_cc),
    )


def find_excess(limits: Limits, mired: ArrayLike, tint_cc: ArrayLike) -> tuple[Array, Array]:
    """Find how far each limit is passed at settings (n,), (p, n) [mired] and [CC]; 0 if kept.

    ``limits`` are those of one scene, with coordinates (p,).
    """
    found = []
    for centre, within, at in (
        (limits.mired, limits.within_mired, mired),
        (limits.cc, limits.within_cc, tint_cc),
    ):
        over = np.abs(centre[:, None] - np.atleast_1d(at)) - within[:, None]
        found.append(np.where(over > SLACK, over, 0.0))
    return found[0], found[1]


def round_within_limits(menu: Menu, mired: float, tint_cc: float, limits: Limits) -> Setting:
    """Choose the entry of a menu at which limits bend least, and of several the nearest wanted.

    Parameters
    ----------
    menu
        Of the camera.
    mired, tint_cc
        The setting wanted.
    limits
        With coordinates (p,).

    Returns
    -------
    Setting
        By exact enumeration: Kelvin and tint each by themselves, as limits bend; single presets
        by the excess of both joined, weight by weight.
    """
    if not limits.is_limited:
        return round_setting(menu, mired, tint_cc)
    has = np.isfinite(limits.within_mired) | np.isfinite(limits.within_cc)
    ranks = _rank_by_weight(has, limits.weight)
    entries: list[Setting] = []
    if menu.kelvin and menu.tint_cc:
        kelvins, tints = np.array(menu.kelvin), np.array(menu.tint_cc)
        over_m = find_excess(limits, 1e6 / kelvins, 0.0)[0]
        over_c = find_excess(limits, mired, tints)[1]
        kelvin = kelvins[_keep_least([over_m[rows].max(0) for rows in ranks])]
        tint = tints[_keep_least([over_c[rows].max(0) for rows in ranks])]
        entries += [Setting(float(k), float(t)) for k in kelvin for t in tint]
    entries += [Setting(kelvin, tint, name) for name, kelvin, tint in menu.presets]
    at_m, at_c = (np.array(x) for x in zip(*((e.mired, e.tint_cc) for e in entries), strict=True))
    over_m, over_c = find_excess(limits, at_m, at_c)
    joined = [np.hypot(over_m[r].max(0), MIRED_PER_CC * over_c[r].max(0)) for r in ranks]
    kept = _keep_least(joined)
    near = find_distance(at_m[kept] - mired, at_c[kept] - tint_cc)
    return entries[int(kept[int(np.argmin(near))])]


def _keep_least(ranked: Sequence[Array]) -> np.ndarray:
    """Keep the rows that are least in the first list, of those the least in the second, and on."""
    kept = np.arange(ranked[0].size)
    for each in ranked:
        kept = kept[each[kept] <= each[kept].min() + SLACK]
    return kept


def find_conflicts(
    names: Sequence[str], setting_mired: Array, setting_cc: Array, within: tuple[Array, Array]
) -> tuple[Conflict, ...]:
    """Find the pairs of positions whose limits exclude each other, the widest gap first.

    The 100 widest where there are more.
    """
    apart = [each[:, None] - each for each in (setting_mired, setting_cc)]
    gaps = [np.abs(x) - (y[:, None] + y) for x, y in zip(apart, within, strict=True)]
    gap_m, gap_c = (np.triu(np.where(gap > 2 * SLACK, gap, 0.0), 1) for gap in gaps)
    first, second = np.nonzero((gap_m > 0) | (gap_c > 0))
    size = find_distance(gap_m[first, second], gap_c[first, second]).round(9)
    found = []
    for each in np.argsort(-size, kind="stable")[:_MOST_CONFLICTS]:
        i, j = int(first[each]), int(second[each])
        is_ahead = (apart[0] if gap_m[i, j] > 0 else apart[1])[i, j] > 0
        pair = (names[i], names[j]) if is_ahead else (names[j], names[i])
        found.append(Conflict(*pair, float(gap_m[i, j]), float(gap_c[i, j])))
    return tuple(found)
