"""From a planned setup to what goes with its plate; the scale is told in `plate.values`."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import CameraView, Setting, find_setting_gains
from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.spectrum import find_data_range_nm
from wbplan.lut.correction import (
    Shot,
    adapt_to_encoding,
    find_camera_matrix,
    find_correction_matrix,
    find_setting_white,
)
from wbplan.planning.channels import Channels, make_channels
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.lights import LightPlan
from wbplan.planning.plate.aces import find_ap0
from wbplan.planning.plate.bracket import note_turned_away, plan_bracket
from wbplan.planning.plate.space import place_in_picture
from wbplan.planning.plate.values import LightPlate, PlacePlate, PlateView, Triple
from wbplan.planning.response import SceneResponse, find_luminous, respond_to_scene


@dataclass(frozen=True, eq=False)
class _Seen:
    """A scene as k cameras see it at the dialled setting.

    ``lights`` (n, k, 3) native RGB of each light per lux read bare, ``places`` (p, k, 3) that of
    the light at each position, ``key`` the row of the key; ``gains`` (k, 3) and ``matrix``
    (k, 3, 3) to AP0.
    """

    lights: Array
    places: Array
    key: int
    gains: Array
    matrix: Array

    def find_ap0(self, raw: Array) -> Array:
        """Bring native RGB (k, 3) to AP0, on the scale on which the key's green is 1."""
        key = self.places[self.key, :, 1:2]
        level = raw / np.where(key > 0, key, np.nan) * self.gains
        return np.asarray(np.einsum("kij,kj->ki", self.matrix, level))


@dataclass(frozen=True, eq=False)
class _Scene:
    """What the profile's own curves see, and the draws behind its bands, if anything is unsure."""

    own: _Seen
    drawn: _Seen | None
    share: float

    def band(self, find: Callable[[_Seen], Array]) -> Channels:
        """Make three intervals of what ``find`` gives, (k, 3), for each camera."""
        sample = None
        if self.drawn is not None:
            sample = find(self.drawn)
            sample = sample[np.isfinite(sample).all(-1)]
        return make_channels(find(self.own)[0], sample, self.share)


def view_plate(plan: SetupPlan, camera: CameraView) -> PlateView:
    """Work out what goes with a setup's plate.

    Parameters
    ----------
    plan
        As `setups.plan_setup` made it.
    camera
        The same camera that it was planned with.
    """
    setup, dial = plan.setup, plan.dial
    response = respond_to_scene(setup, camera)
    key = setup.key_row
    scene = _see(response, dial)
    lit = response.position_lux > 0
    correction, cost = _find_correction(plan, camera)
    white = find_setting_white(dial.kelvin)
    landed = float("nan")
    if plan.exposure is not None:
        landed = plan.exposure.positions[key].landings[0].from_grey_stops.value
    return PlateView(
        positions=tuple(
            _view_place(scene, row, each.name, bool(lit[key]), correction, landed)
            if lit[row]
            else PlacePlate(each.name, None, None, None, None, None)
            for row, each in enumerate(plan.positions)
        ),
        lights=tuple(
            _view_light(scene, response, row, each, plan) for row, each in enumerate(plan.lights)
        ),
        key_lux=plan.positions[key].lux,
        key_from_grey_stops=landed,
        lut_cost_stops=cost,
        white_kelvin=dial.kelvin,
        white_xy=(float(white[0] / white.sum()), float(white[1] / white.sum())),
        bracket=plan_bracket(plan),
        pictured=tuple(place_in_picture(setup.lens, each, setup.layout) for each in setup.layout),
        notes=note_turned_away(plan),
    )


def _see(response: SceneResponse, dial: Setting) -> _Scene:
    setup, camera = response.setup, response.camera
    ap0, key = find_ap0(), setup.key_row
    lights = respond(response.power, setup.camera.sensitivities)[:, None, :]
    own = _Seen(
        lights,
        np.einsum("pn,nkc->pkc", response.lux, lights),
        key,
        find_setting_gains(camera.locus, dial.mired, dial.tint_cc),
        find_camera_matrix(setup.camera.sensitivities[None], ap0, dial.kelvin),
    )
    draws = response.draws
    if draws is None:
        return _Scene(own, None, setup.band_share)
    places = np.einsum("pnk,nkc->pkc", draws.lux, draws.raw)
    # A meter drawn so far out that it reads nothing at the key gives no figure and does not count.
    fine = places[key, :, 1] > 0
    if not fine.any():  # the key is dark: nothing is scaled by it
        fine[:] = True
    gains = find_setting_gains(draws.locus, dial.mired, dial.tint_cc)
    matrix = find_camera_matrix(draws.curves, ap0, dial.kelvin)
    drawn = _Seen(draws.raw[:, fine], places[:, fine], key, gains[fine], matrix[fine])
    return _Scene(own, drawn, setup.band_share)


def _find_correction(plan: SetupPlan, camera: CameraView) -> tuple[Array | None, float | None]:
    """Find what the setup's LUT does to linear AP0, (3, 3), and its cost; None without a LUT."""
    if plan.lut is None:
        return None, None
    shot = Shot(camera, find_ap0(), (plan.dial.mired, plan.dial.tint_cc), plan.setup.keep)
    matrix, cost = find_correction_matrix(shot, plan.lut.wanted.point)
    return matrix * 2.0**plan.setup.lut_up_stops, cost


def _view_place(
    scene: _Scene,
    row: int,
    name: str,
    key_is_lit: bool,
    correction: Array | None,
    landed: float,
) -> PlacePlate:
    def find_grey(seen: _Seen) -> Array:
        return MIDDLE_GREY * seen.find_ap0(seen.places[row])

    ap0 = corrected = shot = None
    if key_is_lit:
        ap0 = scene.band(find_grey)
        if math.isfinite(landed):
            shot = scene.band(lambda seen: find_grey(seen) * 2.0**landed)
        if correction is not None:
            corrected = scene.band(lambda seen: find_grey(seen) @ correction.T)
    return PlacePlate(
        name,
        raw=scene.band(lambda seen: _level_green(seen.places[row])),
        balanced=scene.band(lambda seen: _level_green(seen.places[row] * seen.gains)),
        ap0=ap0,
        corrected=corrected,
        shot=shot,
    )


def _view_light(
    scene: _Scene, response: SceneResponse, row: int, light: LightPlan, plan: SetupPlan
) -> LightPlate:
    camera: Channels | None = None
    eye: Triple | None = None
    xyz: Triple | None = None
    power, luminous = response.power[row], float(find_luminous(response.power[row]))
    if luminous > 0:
        tristimulus = find_tristimulus(power)
        tristimulus = tristimulus / tristimulus[1]
        xyz = _triple(tristimulus)
        if plan.key.lux.value > 0:
            adapt = adapt_to_encoding(find_ap0(), plan.dial.kelvin)
            eye = _triple(tristimulus @ adapt.T / plan.key.lux.value)
            camera = scene.band(lambda seen: seen.find_ap0(seen.lights[row] / luminous))
    return LightPlate(
        name=light.name,
        lux=tuple(float(each) for each in response.lux[:, row] * response.source_lux[row]),
        camera_per_lux=camera,
        eye_per_lux=eye,
        xyz=xyz,
        data_nm=find_data_range_nm(light.notes),
    )


def _level_green(rgb: Array) -> Array:
    """Scale RGB (k, 3) so that green is 1; NaN where green sees nothing."""
    green = rgb[:, 1:2]
    return np.asarray(rgb / np.where(green > 0, green, np.nan))


def _triple(values: Array) -> Triple:
    return float(values[0]), float(values[1]), float(values[2])
