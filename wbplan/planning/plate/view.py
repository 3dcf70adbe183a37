"""From a planned setup to what goes with its plate; the scale is told in `plate.values`."""

from __future__ import annotations

import math

import numpy as np

from wbplan.camera.setting import CameraView
from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.spectrum import find_data_range_nm
from wbplan.lut.correction import (
    Shot,
    adapt_to_encoding,
    find_correction_matrix,
    find_setting_white,
)
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.lights import LightPlan
from wbplan.planning.plate.aces import find_ap0
from wbplan.planning.plate.bracket import note_turned_away, plan_bracket
from wbplan.planning.plate.levels import find_levels
from wbplan.planning.plate.seen import Seen, SeenScene, see_scene
from wbplan.planning.plate.space import place_in_picture
from wbplan.planning.plate.stage import set_stage
from wbplan.planning.plate.values import LightPlate, PlacePlate, PlateView, Triple
from wbplan.planning.response import SceneResponse, find_luminous, respond_to_scene


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
    scene = see_scene(response, dial)
    lit = response.position_lux > 0
    correction, cost = _find_correction(plan, camera)
    white = find_setting_white(dial.kelvin)
    landed = float("nan")
    if plan.exposure is not None:
        landed = plan.exposure.positions[key].landings[0].from_grey_stops.value
    lights = tuple(
        _view_light(scene, response, row, each, plan) for row, each in enumerate(plan.lights)
    )
    return PlateView(
        positions=tuple(
            _view_place(scene, row, each.name, bool(lit[key]), correction, landed)
            if lit[row]
            else PlacePlate(each.name, None, None, None, None, None)
            for row, each in enumerate(plan.positions)
        ),
        lights=lights,
        levels=find_levels(scene, setup, lights),
        stage=set_stage(plan, lights),
        key_lux=plan.positions[key].lux,
        key_from_grey_stops=landed,
        lut_cost_stops=cost,
        white_kelvin=dial.kelvin,
        white_xy=(float(white[0] / white.sum()), float(white[1] / white.sum())),
        bracket=plan_bracket(plan),
        pictured=tuple(place_in_picture(setup.lens, each, setup.layout) for each in setup.layout),
        notes=note_turned_away(plan),
    )


def _find_correction(plan: SetupPlan, camera: CameraView) -> tuple[Array | None, float | None]:
    """Find what the setup's LUT does to linear AP0, (3, 3), and its cost; None without a LUT."""
    if plan.lut is None:
        return None, None
    shot = Shot(camera, find_ap0(), (plan.dial.mired, plan.dial.tint_cc), plan.setup.keep)
    matrix, cost = find_correction_matrix(shot, plan.lut.wanted.point)
    return matrix * 2.0**plan.setup.lut_up_stops, cost


def _view_place(
    scene: SeenScene,
    row: int,
    name: str,
    key_is_lit: bool,
    correction: Array | None,
    landed: float,
) -> PlacePlate:
    def find_grey(seen: Seen) -> Array:
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
    scene: SeenScene, response: SceneResponse, row: int, light: LightPlan, plan: SetupPlan
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
