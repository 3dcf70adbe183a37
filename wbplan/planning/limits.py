"""Hard limits: the settings at which every position stays as near to its intent as it must.

Idea
----
A limit says how many mired and CC a position may be off. The cast is the position's coordinates
less those of the setting, so each limit is an interval of mired and one of tint for the setting,
and all limits together are one box. Where the box is empty some pair of positions disagrees by more
than its limits allow (intervals on a line that meet two by two meet all at once), so conflicts
are always between two and have a size.

In the box the weighted squared distance is least at the point nearest to the weighted mean: it is
the same in every direction around the mean, and the box has its sides along the axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import Menu
from wbplan.camera.setting import Setting, find_distance
from wbplan.core.tables import Array
from wbplan.scene.setup import Intent


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
        return np.asarray((self.low_mired > self.high_mired) | (self.low_cc > self.high_cc))


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


def move_inside(mired: ArrayLike, cc: ArrayLike, box: SettingBox) -> tuple[Array, Array]:
    """Move settings (...,) to the nearest point of their box; where it is empty they stay."""
    empty = box.is_empty
    m, c = np.asarray(mired), np.asarray(cc)
    inside_m = np.minimum(np.maximum(m, box.low_mired), box.high_mired)
    inside_c = np.minimum(np.maximum(c, box.low_cc), box.high_cc)
    return np.where(empty, m, inside_m), np.where(empty, c, inside_c)


def round_inside(menu: Menu, mired: float, tint_cc: float, box: SettingBox) -> Setting | None:
    """Find the setting on the menu nearest to a wanted one among those in a box.

    Returns
    -------
    Setting or None
        By exact enumeration as `setting.round_setting`; None if the menu has none in the box.
    """
    slack = 1e-9

    def in_mired(kelvin: float) -> bool:
        return bool(box.low_mired - slack <= 1e6 / kelvin <= box.high_mired + slack)

    def in_cc(tint: float) -> bool:
        return bool(box.low_cc - slack <= tint <= box.high_cc + slack)

    kelvins = np.array([each for each in menu.kelvin if in_mired(each)])
    tints = np.array([each for each in menu.tint_cc if in_cc(each)])
    found: list[Setting] = []
    if kelvins.size and tints.size:
        grid = find_distance(1e6 / kelvins[:, None] - mired, tints - tint_cc)
        row, column = np.unravel_index(int(np.argmin(grid)), grid.shape)
        found.append(Setting(float(kelvins[row]), float(tints[column])))
    found += [Setting(k, t, name) for name, k, t in menu.presets if in_mired(k) and in_cc(t)]
    if not found:
        return None
    distances = [float(find_distance(each.mired - mired, each.tint_cc - tint_cc)) for each in found]
    return found[int(np.argmin(distances))]


def find_conflicts(
    names: Sequence[str], setting_mired: Array, setting_cc: Array, within: tuple[Array, Array]
) -> tuple[Conflict, ...]:
    """Find each pair of positions whose limits exclude each other, the widest gap first."""
    found = []
    for i in range(len(names)):
        for j in range(i + 1, len(names)):
            apart_m = float(setting_mired[i] - setting_mired[j])
            apart_c = float(setting_cc[i] - setting_cc[j])
            gap_m = max(0.0, abs(apart_m) - float(within[0][i] + within[0][j]))
            gap_c = max(0.0, abs(apart_c) - float(within[1][i] + within[1][j]))
            if gap_m <= 0 and gap_c <= 0:
                continue
            ahead = apart_m > 0 if gap_m > 0 else apart_c > 0
            first, second = (i, j) if ahead else (j, i)
            found.append(Conflict(names[first], names[second], gap_m, gap_c))
    return tuple(sorted(found, key=lambda each: -float(find_distance(each.mired, each.cc))))
