"""What a grey, skin and a chart look like at each position, before the correction and after.

Idea
----
A cast in mired and CC is exact and says little to somebody who was not trained on it. So the chart
is carried through the camera: the light at a position on published reflectances, the sensor, the
gains of a setting, the matrix the camera uses at that Kelvin, and BT.709 for a screen. The same
position is seen as the meter's Kelvin would show it, at the dialled setting, and behind the
LUT, each against the picture that is meant there: the same camera set so that the position has
just the cast that is wanted. Differences are CIEDE2000 in BT.709's white, so they are those of
the cast alone; what the light itself does to colours is the same in all of them.

Everything is drawn at one brightness, a perfect white at the same level in the camera's green:
stops are said elsewhere, and a face three stops down would hide its colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.colour_matrix import fit_colour_matrix
from wbplan.camera.setting import CameraView, Setting, find_setting_log2
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.tables import Array, list_chart_patches, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.light.spectrum import freeze
from wbplan.lut.correction import find_surface_rgb
from wbplan.planning.decisions import Appearance, Look, PositionLooks, PositionPlan, WantedSetting
from wbplan.planning.judging import see_as_eye
from wbplan.scene.setup import Setup

HEADROOM = 0.8
"""Level of a perfect white in the pictures, a third of a stop down: room for a channel that a cast
lifts."""


@dataclass(frozen=True)
class _Wish:
    code: str
    mired: float
    tint_cc: float


def show_positions(
    setup: Setup,
    camera: CameraView,
    exact: WantedSetting,
    dial: Setting,
    at_positions: Array,
    positions: tuple[PositionPlan, ...],
    has_lut: bool,
) -> Appearance:
    """Work out how every position looks, and where lights and the camera's neutral lie.

    Parameters
    ----------
    at_positions
        (p, 401) the light at each position.
    positions
        What was decided about them, in the same order.
    has_lut
        Whether a LUT carries the dialled setting to the exact one.
    """
    display = find_encoding("sRGB", "ITU-R BT.709")
    key = next(each for each in positions if each.name == setup.key)
    wishes = []
    if np.isfinite(key.eye.cct_kelvin) and 1000.0 <= key.eye.cct_kelvin <= 25000.0:
        wishes.append(_Wish("meter", 1e6 / key.eye.cct_kelvin, 0.0))
    wishes.append(_Wish("dialled", dial.mired, dial.tint_cc))
    if has_lut:
        wishes.append(_Wish("corrected", exact.mired.value, exact.tint_cc.value))
    chart = load_table("chart")
    lit = np.flatnonzero(at_positions.sum(axis=-1) > 0)
    seen = {wish.code: _picture(camera, display, wish, at_positions[lit], chart) for wish in wishes}
    looks: list[PositionLooks] = []
    rows = {int(row): number for number, row in enumerate(lit)}
    for row, position in enumerate(positions):
        if row not in rows:
            looks.append(PositionLooks(position.name, (), None))
            continue
        meant = _find_meant(position, dial)
        reference = None
        if meant is not None:
            reference = _picture(camera, display, meant, at_positions[row][None], chart)[0]
        own = [_judge(wish, seen[wish.code][rows[row]], reference, display) for wish in wishes]
        target = None
        if meant is not None and reference is not None:
            target = _judge(meant, reference, reference, display)
        looks.append(PositionLooks(position.name, tuple(own), target))
    bare = np.stack([each.spectrum.values for each in setup.sources])
    return Appearance(
        positions=tuple(looks),
        bare=see_as_eye(bare),
        neutral_xy=_find_neutral(camera, dial.mired, dial.tint_cc),
        exact_neutral_xy=_find_neutral(camera, exact.mired.value, exact.tint_cc.value),
        patches=list_chart_patches(),
    )


def _find_meant(position: PositionPlan, dial: Setting) -> _Wish | None:
    """Find the setting at which a position has just the cast that is wanted there."""
    if position.trouble or position.weight == 0:
        return None
    mired = dial.mired + position.off_intent.mired.value
    if not 40.0 <= mired <= 1000.0:
        return None
    return _Wish("meant", mired, dial.tint_cc + position.off_intent.green_cc.value)


def _picture(
    camera: CameraView, display: Encoding, wish: _Wish, lights: Array, chart: Array
) -> Array:
    """Linear BT.709 (p, 24, 3) of the chart."""
    at = (wish.mired, wish.tint_cc)
    return HEADROOM * find_surface_rgb(camera, display, at, lights, chart)


def _judge(wish: _Wish, linear: Array, reference: Array | None, display: Encoding) -> Look:
    held = np.clip(linear, 0.0, 1.0)
    differs = None
    if reference is not None:
        white = display.rgb_to_xyz @ np.ones(3) * HEADROOM
        here, there = (find_lab(each @ display.rgb_to_xyz.T, white) for each in (linear, reference))
        differs = freeze(find_delta_e_2000(here, there))
    return Look(
        code=wish.code,
        kelvin=1e6 / wish.mired,
        tint_cc=wish.tint_cc,
        screen_rgb=freeze(display.encode(held)),
        outside=int((np.abs(linear - held) > 1e-3).any(axis=-1).sum()),
        ciede2000=differs,
    )


def _find_neutral(camera: CameraView, mired: float, tint_cc: float) -> tuple[float, float]:
    """Find the x, y of the light that a setting shows as neutral, by the camera's own matrix.

    Without a tint it is the reference light of that Kelvin exactly; with one it is as good as the
    matrix, which is fitted on published reflectances (`colour_matrix.fit_colour_matrix`).
    """
    light = radiate_locus(np.clip(1e6 / mired, *LOCUS_RANGE_KELVIN))
    matrix = fit_colour_matrix(camera.profile.sensitivities, light)
    settings = find_setting_log2(camera.locus, np.full(2, mired), np.array([0.0, tint_cc]))
    xyz = matrix @ np.exp2(settings[1] - settings[0])
    if xyz.min() <= 0:
        return (float("nan"), float("nan"))
    return (float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum()))
