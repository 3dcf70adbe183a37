"""What a camera, and its plausible neighbours, make of every light and place of a setup.

Light adds in native RGB, so a position needs only the responses to its sources. Meter error, where
the setup states it, is drawn with the cameras: each lux reading by its own factor, each source's
chromaticity by a smooth spectral tilt and bow of the size that gives the stated error in x and y.
Each is drawn for the light and the position (`scene.marks`), so their order, lights of 0 lux and
one light written as two leave the bands as they are.
What a file's coarse steps leave open of a light is drawn with them (`camera.coarse`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.coarse import draw_coarse, is_coarse
from wbplan.camera.neutralisable import find_trouble
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import (
    CameraView,
    Coordinates,
    LocusResponse,
    list_plausible,
    solve_coordinates,
)
from wbplan.core.draws import draw_normals
from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux
from wbplan.planning.readings import Readings
from wbplan.scene.marks import mark_light
from wbplan.scene.predicted import has_predicted
from wbplan.scene.setup import Setup, find_position_lux, find_source_power
from wbplan.scene.sky_draws import has_sky, vary_sky_colour

_COLOUR_SEED = 40712


@dataclass(frozen=True, eq=False)
class SceneDraws:
    """The k plausible cameras and readings behind a band.

    ``curves`` (k, 401, 3) and their ``locus``; ``raw`` (n, k, 3) is what they make of one lux of
    each source, as read bare; ``readings`` are the lux, a flash's as in `find_position_lux`, and
    ``place_raw`` (p, k, 3) is the light at each position.
    """

    curves: Array
    locus: LocusResponse
    raw: Array
    readings: Readings
    place_raw: Array


@dataclass(frozen=True, eq=False)
class SceneResponse:
    """A setup with what its camera makes of it, for the profile itself and for its draws.

    ``power`` (n, 401) are the sources behind their filters, per lux read bare, ``lux`` (p, n) the
    readings and ``position_power`` (p, 401) the light at each position. ``source`` (n, 1) and
    ``position`` (p, 1) are coordinates, ``source_draws`` (n, k) and ``position_draws`` (p, k)
    those of the plausible cameras and meter errors, None where nothing is unsure.
    ``source_log2`` (n, 3) and ``position_log2`` (p, 3) are the profile's own responses [stops].
    ``source_trouble`` and ``position_trouble`` say why no setting neutralises one, empty where one
    does. ``source_lux`` (n,) is what a filter leaves of one lux, ``position_lux`` (p,) [lux] and
    ``lux_draws`` (p, k) are the light behind the filters. ``draws`` is what the bands were made
    from.
    """

    setup: Setup
    camera: CameraView
    power: Array
    lux: Array
    position_power: Array
    source: Coordinates
    source_draws: Coordinates | None
    position: Coordinates
    position_draws: Coordinates | None
    source_log2: Array
    source_lux: Array
    source_trouble: tuple[str, ...]
    position_log2: Array
    position_lux: Array
    position_trouble: tuple[str, ...]
    lux_draws: Array
    draws: SceneDraws | None = None

    @property
    def lit_power(self) -> Array:
        """The light (., 401) at the positions that have any."""
        return np.asarray(self.position_power[self.position_power.sum(-1) > 0])


def respond_to_scene(setup: Setup, camera: CameraView) -> SceneResponse:
    """Work out what a camera makes of every light and place; see `SceneResponse`."""
    power, lux = find_source_power(setup), find_position_lux(setup)
    own = respond(power, setup.camera.sensitivities)[:, None, :]
    luminous = find_luminous(power)
    at_positions = lux @ power
    source_log2 = find_log2_response(own)
    position_log2 = find_log2_response(np.einsum("pn,nkc->pkc", lux, own))
    source = solve_coordinates(camera.locus, source_log2)
    position = solve_coordinates(camera.locus, position_log2)
    draws, lux_draws = _draw_scene(setup, camera, power, lux, luminous)
    source_draws = position_draws = None
    if draws is not None:
        source_draws = solve_coordinates(draws.locus, find_log2_response(draws.raw))
        position_draws = solve_coordinates(draws.locus, find_log2_response(draws.place_raw))
    return SceneResponse(
        setup=setup,
        camera=camera,
        power=power,
        lux=lux,
        position_power=at_positions,
        source=source,
        source_draws=source_draws,
        position=position,
        position_draws=position_draws,
        source_log2=source_log2[:, 0],
        source_lux=luminous,
        source_trouble=find_trouble(power, source_log2[:, 0], source, camera.locus),
        position_log2=position_log2[:, 0],
        position_lux=lux @ luminous,
        position_trouble=find_trouble(at_positions, position_log2[:, 0], position, camera.locus),
        lux_draws=lux_draws,
        draws=draws,
    )


def _draw_scene(
    setup: Setup, camera: CameraView, power: Array, lux: Array, luminous: Array
) -> tuple[SceneDraws | None, Array]:
    """Draw plausible cameras, readings, predictions and skies; None where nothing is unsure.

    And the light at each position, (p, k) [lux].
    """
    meter = setup.meter
    lights = tuple(each.spectrum for each in setup.sources)
    is_unsure = (
        meter.illuminance_percent
        or meter.chromaticity_xy
        or has_sky(setup)
        or has_predicted(setup)
        or is_coarse(lights)
    )
    if camera.member_locus is None and not is_unsure:
        return None, np.empty((lux.shape[0], 0))
    curves, locus = list_plausible(camera)
    count = curves.shape[0]
    drawn = respond(power, curves)
    if meter.chromaticity_xy:
        marks = [mark_light(each) for each in setup.sources]
        error = np.moveaxis(draw_normals(_COLOUR_SEED, count, marks, ("x", "y")), 1, 2)
        drawn = drawn + _tilt(power, curves, meter.chromaticity_xy * error)
    if is_coarse(lights):
        bare = np.stack([each.values for each in lights])
        through = np.stack([each.filter.transmittance for each in setup.sources])
        per_lux = through / find_illuminance_lux(bare)[:, None]
        drawn = drawn + draw_coarse(lights, per_lux, curves)
    if has_sky(setup):
        drawn = vary_sky_colour(setup, curves, drawn)
    readings = Readings(setup, lux, count)
    level = np.broadcast_to(luminous[:, None, None], (*drawn.shape[:2], 1))
    there = readings.sum_lights(np.concatenate([drawn, level], axis=-1))
    return SceneDraws(curves, locus, drawn, readings, there[..., :3]), there[..., 3]


def find_luminous(power: ArrayLike) -> Array:
    """Find how many lux of each source are left behind its filter, (n,), per lux read bare."""
    return np.asarray(np.asarray(power) @ load_table("photopic") * 683.0)


def _tilt(power: Array, curves: Array, error: Array) -> Array:
    """Find the change of raw response, (n, k, 3), that errors in x, y, (n, k, 2), stand for."""
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
    size = np.clip(error @ np.swapaxes(inverse, 1, 2), -0.5, 0.5)
    return np.asarray(np.einsum("nks,nskc->nkc", size, respond(shaped, curves)))
