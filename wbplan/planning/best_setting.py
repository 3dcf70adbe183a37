"""The best setting for many positions, with the interval it lies in.

Idea
----
Every position's neutral has coordinates (mired, CC) in the camera's own terms, and the cast under a
setting is the difference. The wanted cast subtracted, the weighted sum of squared distances is a
quadratic in each coordinate, so the best exact setting is the weighted mean: closed form, unique.
Squares, because one face far off is worse than two a little off. Light adds in native RGB, so
a position needs only the responses to its sources.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import (
    CameraView,
    Coordinates,
    LocusResponse,
    find_locus_response,
    solve_coordinates,
)
from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.scene.setup import Setup, find_position_lux, find_source_power
from wbplan.scene.sky_draws import has_sky, vary_sky

_METER_DRAWS = 256
_METER_SEED = 40711


@dataclass(frozen=True, eq=False)
class SceneDraws:
    """The k plausible cameras and readings behind a band.

    ``curves`` (k, 401, 3) and their ``locus``; ``raw`` (n, k, 3) is what they make of one lux of
    each source, as read bare; ``lux`` (p, n, k) are the readings, a flash's as in
    `find_position_lux`.
    """

    curves: Array
    locus: LocusResponse
    raw: Array
    lux: Array


@dataclass(frozen=True, eq=False)
class SceneResponse:
    """Coordinates of sources and positions for a setup's camera and for its draws.

    ``source`` (n, 1) and ``position`` (p, 1) for the profile itself; ``source_draws`` (n, k)
    and ``position_draws`` (p, k) for the plausible cameras and meter errors, k may be 0.
    ``source_log2`` (n, 3) and ``position_log2`` (p, 3) are the profile's own responses [stops].
    ``source_lux`` (n,) is what a filter leaves of one lux, ``position_lux`` (p,) [lux] and
    ``lux_draws`` (p, k) are the light behind the filters. ``draws`` is what the bands were made
    from, None where nothing is unsure.
    """

    source: Coordinates
    source_draws: Coordinates | None
    position: Coordinates
    position_draws: Coordinates | None
    source_log2: Array
    source_lux: Array
    position_log2: Array
    position_lux: Array
    lux_draws: Array
    draws: SceneDraws | None = None


def respond_to_scene(setup: Setup, camera: CameraView) -> SceneResponse:
    """Work out what the camera, and its plausible neighbours, make of every light and place.

    Meter error, where the setup states it, is drawn with the cameras: each lux reading by its own
    factor, each source's chromaticity by a smooth spectral tilt and bow of the size that
    gives the stated error in x and y.
    """
    power, lux = find_source_power(setup), find_position_lux(setup)
    own = respond(power, setup.camera.sensitivities)[:, None, :]
    position = np.einsum("pn,nkc->pkc", lux, own)
    luminous = find_luminous(power)
    curves, member_locus = camera.members, camera.member_locus
    meter = setup.meter
    is_unsure = meter.illuminance_percent or meter.chromaticity_xy or has_sky(setup)
    if member_locus is None and is_unsure:
        curves = np.repeat(setup.camera.sensitivities[None], _METER_DRAWS, axis=0)
        member_locus = find_locus_response(curves, camera.locus.duv)
    source_draws = position_draws = None
    lux_draws = np.empty((lux.shape[0], 0))
    draws = None
    if member_locus is not None:
        generator = np.random.default_rng(_METER_SEED)
        drawn = respond(power, curves)
        if meter.chromaticity_xy:
            drawn = drawn + _draw_tilts(power, curves, meter.chromaticity_xy, generator)
        factors = generator.normal(
            1.0, meter.illuminance_percent / 100.0, (*lux.shape, curves.shape[0])
        )
        read = lux[..., None] * np.maximum(factors, 0.0)
        if has_sky(setup):
            drawn, read = vary_sky(setup, curves, drawn, read)
        at_positions = np.einsum("pnk,nkc->pkc", read, drawn)
        source_draws = solve_coordinates(member_locus, find_log2_response(drawn))
        position_draws = solve_coordinates(member_locus, find_log2_response(at_positions))
        lux_draws = np.einsum("pnk,n->pk", read, luminous)
        draws = SceneDraws(curves, member_locus, drawn, read)
    source_log2, position_log2 = find_log2_response(own), find_log2_response(position)
    return SceneResponse(
        solve_coordinates(camera.locus, source_log2),
        source_draws,
        solve_coordinates(camera.locus, position_log2),
        position_draws,
        source_log2[:, 0],
        luminous,
        position_log2[:, 0],
        lux @ luminous,
        lux_draws,
        draws,
    )


def find_luminous(power: ArrayLike) -> Array:
    """Find how many lux of each source are left behind its filter, (n,), per lux read bare."""
    return np.asarray(np.asarray(power) @ load_table("photopic") * 683.0)


def _draw_tilts(power: Array, curves: Array, sd_xy: float, generator: np.random.Generator) -> Array:
    """Draw the change of raw response, (n, k, 3), that an error in x, y stands for."""
    place = (WAVELENGTHS_NM - 560.0) / 180.0
    shapes = np.stack([place, place**2])
    observer, sight = load_table("observer"), load_table("photopic")
    shaped = power[:, None, :] * shapes
    level = power @ sight
    share = (shaped @ sight) / np.where(level > 0, level, 1.0)[:, None]
    shaped = shaped - power[:, None, :] * share[..., None]  # lux stays as read
    xyz, change = power @ observer, shaped @ observer
    total = np.where(level > 0, xyz.sum(-1), 1.0)[:, None, None]
    xy = xyz[:, None, :2] / total
    jacobian = (change[..., :2] - xy * change.sum(-1, keepdims=True)) / total
    inverse = np.linalg.pinv(np.swapaxes(jacobian, 1, 2), rcond=1e-2)
    error = generator.normal(0.0, sd_xy, (power.shape[0], curves.shape[0], 2))
    size = np.clip(error @ np.swapaxes(inverse, 1, 2), -0.5, 0.5)
    return np.asarray(np.einsum("nks,nskc->nkc", size, respond(shaped, curves)))


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
