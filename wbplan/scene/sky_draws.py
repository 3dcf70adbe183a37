"""What the unknown air, or cloud, adds to the bands of a scene.

Each plausible camera meets one plausible air, and all lights of the sky in a scene meet the same
one, since there is one sky. A level that was read stays as it was read; a level that the
model gave goes up and down with the air. The meter's error of colour is not in a modelled light.
"""

from __future__ import annotations

import numpy as np

from wbplan.camera.sensitivities import respond
from wbplan.core.tables import Array
from wbplan.scene.setup import Setup


def has_sky(setup: Setup) -> bool:
    """Tell whether any source of a setup is a modelled light of the sky."""
    return any(each.sky is not None for each in setup.sources)


def pair_draws(count: int, airs: int) -> np.ndarray:
    """Number the air that each of ``count`` cameras meets, (count,)."""
    return np.arange(count) % airs


def list_model_shares(setup: Setup) -> Array:
    """List the share of the modelled level at each position, (p, n), NaN where it was read."""
    none = (None,) * len(setup.sources)
    rows = [each.model_share or none for each in setup.positions]
    return np.array([[np.nan if x is None else x for x in row] for row in rows], dtype=np.float64)


def respond_to_airs(draw_power: Array, through: Array, curves: Array) -> Array:
    """Work out what cameras make of one light through as many airs as they meet.

    Parameters
    ----------
    draw_power
        (m, t, 401) per lux, or (m, 401).
    through
        (401,) the filter before it.
    curves
        (k, 401, 3).

    Returns
    -------
    ndarray
        (t, k, 3), or (k, 3).
    """
    airs = draw_power.shape[0]
    meets = pair_draws(curves.shape[0], airs)
    result = np.empty((*draw_power.shape[1:-1], curves.shape[0], 3))
    for air in range(airs):
        mine = meets == air
        if mine.any():
            result[..., mine, :] = respond(draw_power[air] * through, curves[mine])
    return result


def vary_sky_colour(setup: Setup, curves: Array, drawn: Array) -> Array:
    """Let what cameras (k, 401, 3) make of each light, (n, k, 3), meet plausible airs."""
    drawn = drawn.copy()
    for row, source in enumerate(setup.sources):
        if source.sky is not None:
            through = source.filter.transmittance
            drawn[row] = respond_to_airs(source.sky.draw_power, through, curves)
    return drawn


def vary_sky_level(setup: Setup, read: Array) -> Array:
    """Let the readings (p, n, k) that are modelled meet plausible airs."""
    read, share = read.copy(), list_model_shares(setup)
    for row, source in enumerate(setup.sources):
        sky = source.sky
        if sky is None or sky.lux <= 0 or not source.on:
            continue
        level = sky.draw_lux[pair_draws(read.shape[-1], sky.draw_lux.size)]
        modelled = np.isfinite(share[:, row])
        read[modelled, row] = share[modelled, row, None] * level
    return read
