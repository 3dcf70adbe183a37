"""What greys, skin and hues look like at each position, before the correction and after.

Idea
----
A cast in mired and CC is exact and says little to somebody who was not trained on it. So published
surfaces (`light.surfaces`) are carried through the camera: the light at a position, the sensor, the
gains of a setting, the matrix fitted for that Kelvin, and BT.709 for a screen. The same position is
seen as the meter's Kelvin would show it, at the dialled setting, and behind the LUT (encoded at the
dialled setting, read from the very file, decoded), each against the picture that is meant there:
the same camera set so that the position has just the cast that is wanted. Differences are CIEDE2000
in BT.709's white, so they are those of the cast alone; what the light itself does to colours is the
same in all of them.

Everything is drawn at one brightness, a perfect white at the same level in the camera's green:
stops are said elsewhere, and a face three stops down would hide its colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.colour_matrix import fit_colour_matrix
from wbplan.camera.setting import CameraView, Setting, find_setting_log2
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.codes.table3d import Cube, read_tetrahedral
from wbplan.core.tables import Array
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.light.spectrum import freeze
from wbplan.light.surfaces import list_surfaces
from wbplan.lut.correction import Shot, find_gamut_change, find_surface_rgb
from wbplan.lut.file import LutFile
from wbplan.planning.casts import WantedSetting
from wbplan.planning.eye_view import EyeView, see_as_eye
from wbplan.planning.positions import PositionPlan
from wbplan.planning.response import SceneResponse

HEADROOM = 0.8
"""Level of a perfect white in the pictures, a third of a stop down: room for a channel that a cast
lifts."""


@dataclass(frozen=True, eq=False)
class Look:
    """Surfaces at a position, as one setting shows them on a BT.709 screen.

    ``code`` is ``meter`` (the Kelvin that a meter shows at the key, no tint), ``dialled``,
    ``corrected`` (dialled, and the LUT), ``meant``, or for the key ``greenest`` and
    ``magentamost`` (dialled, at the ends of its band). ``screen_rgb`` (m, 3) are sRGB codes from 0
    to 1, held at the screen's ends; ``outside`` counts the surfaces that were. ``ciede2000`` (m,)
    is against what is meant, None where nothing is.
    """

    code: str
    kelvin: float
    tint_cc: float
    screen_rgb: Array
    outside: int
    ciede2000: Array | None


@dataclass(frozen=True, eq=False)
class PositionLooks:
    """How one position looks: before and after the correction, and as it is meant to.

    ``looks`` is empty where there is no light; ``meant`` is None where nothing is wanted or no
    setting neutralises the light.
    """

    name: str
    looks: tuple[Look, ...]
    meant: Look | None


@dataclass(frozen=True, eq=False)
class Appearance:
    """Positions as they will look, and where lights and the camera's neutral lie.

    ``bare`` are the lights as a meter sees them without their filters, in the order of the
    lights. ``neutral_xy`` and ``exact_neutral_xy`` are what the dialled and the exact setting
    show as neutral. ``surfaces`` names the rows of every look. ``key_ends`` are the key at the
    dialled setting, as green and as magenta as its band has it; empty where it has none.
    """

    positions: tuple[PositionLooks, ...]
    bare: tuple[EyeView, ...]
    neutral_xy: tuple[float, float]
    exact_neutral_xy: tuple[float, float]
    surfaces: tuple[str, ...]
    key_ends: tuple[Look, ...] = ()


@dataclass(frozen=True)
class Wish:
    """A setting that a picture is wanted of; ``code`` as of `Look`."""

    code: str
    mired: float
    tint_cc: float


@dataclass(frozen=True, eq=False)
class LutTable:
    """A LUT by what a picture goes through: its table, the encodings on both of its sides.

    ``cost_stops`` is what it takes from the level of the picture.
    """

    cube: Cube
    source: Encoding
    target: Encoding
    cost_stops: float


def take_table(lut: LutFile) -> LutTable:
    """Take the table of a LUT that is one."""
    if lut.cube is None:
        raise ValueError(f"a LUT that is no 3D table: {lut.form}")
    return LutTable(lut.cube, lut.source, lut.target, lut.recipe.cost_stops - lut.recipe.up_stops)


def show_positions(
    scene: SceneResponse,
    exact: WantedSetting,
    dial: Setting,
    positions: tuple[PositionPlan, ...],
    has_lut: bool,
    lut: LutFile | None = None,
) -> Appearance:
    """Work out how every position looks, and where lights and the camera's neutral lie.

    Parameters
    ----------
    positions
        What was decided about them.
    has_lut
        Whether a LUT carries the dialled setting to the exact one.
    lut
        Its table, through which ``corrected`` is seen; the exact setting itself where none is made
        yet.
    """
    setup, camera = scene.setup, scene.camera
    meter = positions[setup.key_row].eye.cct_kelvin
    wishes = []
    if np.isfinite(meter) and 1000.0 <= meter <= 25000.0:
        wishes.append(Wish("meter", 1e6 / meter, 0.0))
    wishes.append(Wish("dialled", dial.mired, dial.tint_cc))
    lit = np.flatnonzero(scene.position_power.sum(axis=-1) > 0)
    seen = {wish.code: picture_plainly(camera, wish, scene.position_power[lit]) for wish in wishes}
    if has_lut:
        corrected = Wish("corrected", *exact.point)
        wishes.append(corrected)
        seen["corrected"] = (
            picture_plainly(camera, corrected, scene.position_power[lit])
            if lut is None
            else picture_through(take_table(lut), scene, dial, scene.position_power[lit])
        )
    rows = {int(row): number for number, row in enumerate(lit)}
    looks: list[PositionLooks] = []
    for row, position in enumerate(positions):
        if row not in rows:
            looks.append(PositionLooks(position.name, (), None))
            continue
        meant, target, reference = find_meant(position, dial), None, None
        if meant is not None:
            reference = picture_plainly(camera, meant, scene.position_power[row][None])[0]
            target = judge_picture(meant, reference, reference)
        own = [judge_picture(wish, seen[wish.code][rows[row]], reference) for wish in wishes]
        looks.append(PositionLooks(position.name, tuple(own), target))
    key = setup.key_row
    ends = _list_ends(positions[key], dial) if key in rows else ()
    return Appearance(
        key_ends=tuple(
            judge_picture(
                each, picture_plainly(camera, each, scene.position_power[key][None])[0], None
            )
            for each in ends
        ),
        positions=tuple(looks),
        bare=see_as_eye(np.stack([each.spectrum.values for each in setup.sources])),
        neutral_xy=_find_neutral(camera, dial.mired, dial.tint_cc),
        exact_neutral_xy=_find_neutral(camera, *exact.point),
        surfaces=list_surfaces().names,
    )


def find_meant(position: PositionPlan, dial: Setting) -> Wish | None:
    """Find the setting at which a position has just the cast that is wanted there."""
    if position.trouble or not position.is_judged:
        return None
    mired = dial.mired + position.off_intent.mired.value
    if not 40.0 <= mired <= 1000.0:
        return None
    return Wish("meant", mired, dial.tint_cc + position.off_intent.green_cc.value)


def _list_ends(key: PositionPlan, dial: Setting) -> tuple[Wish, ...]:
    """List what is dialled on this camera to show the key as the ends of its band have it."""
    green = key.cast.green_cc
    if key.trouble or not green.is_open:
        return ()
    return (
        Wish("greenest", dial.mired, dial.tint_cc - (green.high - green.value)),
        Wish("magentamost", dial.mired, dial.tint_cc + (green.value - green.low)),
    )


def _find_display() -> Encoding:
    return find_encoding("sRGB", "ITU-R BT.709")


def picture_plainly(camera: CameraView, wish: Wish, lights: Array) -> Array:
    """Show the surfaces under lights (p, 401) at a setting, linear BT.709 (p, m, 3)."""
    shot = Shot(camera, _find_display(), (wish.mired, wish.tint_cc))
    return HEADROOM * find_surface_rgb(shot, lights, list_surfaces().reflectances)


def picture_through(lut: LutTable, scene: SceneResponse, dial: Setting, lights: Array) -> Array:
    """Show the surfaces dialled, encoded, read from a LUT and decoded, linear BT.709 (p, m, 3).

    What the LUT takes from the level of the picture, or adds to it, is left out.
    """
    shot = Shot(scene.camera, lut.source, (dial.mired, dial.tint_cc))
    codes = lut.source.encode(find_surface_rgb(shot, lights, list_surfaces().reflectances))
    corrected = lut.target.decode(read_tetrahedral(lut.cube, codes))
    change = find_gamut_change(lut.target, _find_display())
    return np.asarray(HEADROOM * 2.0**lut.cost_stops * corrected @ change.T)


def judge_picture(wish: Wish, linear: Array, reference: Array | None) -> Look:
    """Judge the surfaces of one position (m, 3), linear BT.709, against those that are meant."""
    display = _find_display()
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
