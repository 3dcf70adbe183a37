"""The best setting for many positions, within their hard limits and on the camera's menu.

Idea
----
Every position's neutral has coordinates (mired, CC) in the camera's own terms, and the cast under a
setting is the difference. The wanted cast subtracted, the weighted sum of squared distances is a
quadratic in each coordinate, so the best exact setting is the weighted mean: closed form, unique.
Squares, because one face far off is worse than two a little off.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.neutralisable import NO_LIGHT
from wbplan.camera.setting import Setting
from wbplan.core.intervals import make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.illuminants import LOCUS_JOINTS_MIRED
from wbplan.planning.casts import WantedSetting
from wbplan.planning.limits import (
    Limits,
    bend_limits,
    find_limits,
    move_inside,
    round_within_limits,
)
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Intent, Setup


def solve_balance(
    mired: ArrayLike,
    cc: ArrayLike,
    wanted_mired: ArrayLike,
    wanted_cc: ArrayLike,
    weight: ArrayLike,
) -> tuple[Array, Array]:
    """Solve the setting that brings positions nearest to their intents.

    Parameters
    ----------
    mired, cc
        (p, ...) coordinates of the positions [mired, CC].
    wanted_mired, wanted_cc, weight
        (p,) wanted casts and weights, at least one weight above 0.

    Returns
    -------
    tuple
        Mired and CC of the setting, (...,) each: the exact minimum of the weighted sum of
        squared distances.

    Raises
    ------
    ValueError
        If no position has a weight.
    """
    share = np.asarray(weight, dtype=np.float64)
    if share.sum() <= 0:
        raise ValueError("at least one position needs a weight above 0")
    share = share / share.sum()
    places = np.asarray(mired, dtype=np.float64)
    tints = np.asarray(cc, dtype=np.float64)
    return (
        np.asarray(np.tensordot(share, places, 1) - share @ np.asarray(wanted_mired)),
        np.asarray(np.tensordot(share, tints, 1) - share @ np.asarray(wanted_cc)),
    )


def solve_within_limits(
    mired: Array,
    cc: Array,
    intents: Sequence[Intent],
    weight: Array,
    within: tuple[Array, Array],
) -> tuple[Array, Array, Limits]:
    """Solve the best setting among those at which the hard limits bend least, not at all if may be.

    Parameters
    ----------
    mired, cc
        (p, ...) coordinates of the positions [mired, CC].
    weight
        (p,); where none is above 0 all pull alike.
    within
        The limits, from `limits.find_limits`.

    Returns
    -------
    tuple
        Mired and CC of the setting, (...,) each, and the limits in the camera's coordinates.
    """
    shape = (-1,) + (1,) * (mired.ndim - 1)
    want_m = np.array([each.mired for each in intents])
    want_c = np.array([each.green_cc for each in intents])
    pull = weight if weight.sum() > 0 else np.ones_like(weight)
    best = solve_balance(mired, cc, want_m, want_c, pull)
    limits = Limits(
        mired - want_m.reshape(shape), cc - want_c.reshape(shape), within[0], within[1], weight
    )
    return *move_inside(*best, bend_limits(limits)), limits


def choose_dial(setup: Setup, mired: float, tint_cc: float, limits: Limits) -> Setting:
    """Choose what to dial in: what is shot at anyway, else the menu's nearest, in limits if any."""
    return setup.shot_at or round_within_limits(setup.camera.menu, mired, tint_cc, limits)


def solve_exact(scene: SceneResponse) -> tuple[WantedSetting, Limits, tuple[Note, ...]]:
    """Solve by the positions with a weight that can be neutralised, or that have light if none can.

    The hard limits hold, or bend least, whatever the weights.

    Raises
    ------
    ValueError
        If no position with light has a weight.
    """
    setup, trouble = scene.setup, scene.position_trouble
    intents = [each.intent for each in setup.positions]
    weight = np.array([each.weight for each in intents])
    usable = np.array([not said for said in trouble])
    within = find_limits(intents, usable)
    fine = weight * usable
    weight = fine if fine.sum() > 0 else weight * np.array([said != NO_LIGHT for said in trouble])
    if weight.sum() <= 0:
        raise ValueError(
            f"setup '{setup.name}': neither the key position nor one with a weight has light, so "
            "there is nothing to set the camera by"
        )
    own, draws = scene.position, scene.position_draws
    mired, cc, limits = solve_within_limits(
        own.mired[:, 0], own.tint_cc[:, 0], intents, weight, within
    )
    mired_draws, cc_draws = np.empty(0), np.empty(0)
    if draws is not None:
        solved = solve_within_limits(draws.mired, draws.tint_cc, intents, weight, within)
        mired_draws, cc_draws = solved[:2]
    ends = (LOCUS_JOINTS_MIRED[0], LOCUS_JOINTS_MIRED[-1])
    bounded = float(np.clip(mired, *ends))
    notes: tuple[Note, ...] = ()
    if bounded != float(mired):
        text = (
            f"the intents ask for a setting of {float(mired):.0f} mired, beyond any Kelvin from "
            f"{1e6 / ends[1]:.0f} to {1e6 / ends[0]:.0f}: the end of that range is taken, and "
            f"{abs(float(mired) - bounded):.0f} mired of the wish stays open"
        )
        notes = (warn("off-locus", text, "setting"),)
    wanted = WantedSetting(
        make_interval(bounded, np.clip(mired_draws, *ends), setup.band_share),
        make_interval(float(cc), cc_draws, setup.band_share),
    )
    return wanted, limits, notes
