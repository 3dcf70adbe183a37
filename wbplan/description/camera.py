"""What one camera does with a light.

A meter for the eye has no word for any of it: the setting the light wants, how far each channel is
exposed from what the lux say, which surfaces come out wrong. Every figure carries the band that the
profile's family spans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.coarse import draw_coarse, is_coarse
from wbplan.camera.colour_error import find_exposure_offset, find_rendition
from wbplan.camera.neutralisable import find_trouble
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import (
    CameraView,
    Coordinates,
    Setting,
    list_plausible,
    round_setting,
    solve_coordinates,
)
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.tables import Array
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN
from wbplan.light.spectrum import Spectrum
from wbplan.light.surfaces import HUE_ROWS, SKIN_ROWS, list_surfaces
from wbplan.planning.casts import Cast, WantedSetting, make_wanted

WORST_NAMED = 3
_COLOUR_MEMBERS = 64  # of the family, for the band of colour errors, which cost most


@dataclass(frozen=True)
class SurfaceError:
    """How wrong one surface comes out through a camera, CIEDE2000."""

    name: str
    ciede2000: float


@dataclass(frozen=True)
class SkinShift:
    """Which way a camera's picture of skin moves, the mean of the skins in CIELAB.

    ``chroma`` (+ more colourful) and ``hue`` (+ towards yellow, - towards pink), both as distances;
    ``mended`` is the mean CIEDE2000 that the best matrix for this light would leave.
    """

    chroma: float
    hue: float
    mended: float


@dataclass(frozen=True, eq=False)
class CameraFigures:
    """What one camera does with a light.

    ``dial`` is the nearest setting of its menu, ``metered`` the cast that stays if the light's CCT
    is dialled instead and no tint; None where there is none, or no setting neutralises the light.
    ``exposure`` are red, green, blue [stops] per lux against daylight of 5500 K. The errors are
    CIEDE2000 against the same camera's picture under the reference light of ``judged_kelvin``:
    mean and worst of the hues and of skin (`light.surfaces`), and the surfaces that suffer most.
    ``own_error`` is the camera's mean error under that reference, against the eye. NaN where
    ``trouble`` says why no setting neutralises the light.
    """

    wanted: WantedSetting
    dial: Setting | None
    metered: Cast | None
    trouble: str
    exposure: tuple[Interval, Interval, Interval]
    judged_kelvin: float
    hue_mean: Interval
    hue_worst: Interval
    skin_mean: Interval
    skin_worst: Interval
    skin_shift: SkinShift
    own_error: float
    worst: tuple[SurfaceError, ...]


def place_lights(
    power: Array, camera: CameraView, lights: tuple[Spectrum, ...] = ()
) -> tuple[Coordinates, Coordinates | None, tuple[str, ...]]:
    """Find where a camera and its family place lights (n, 401), and why no setting neutralises one.

    The family's are (n, k), None for a profile that is taken as exact. With the ``lights`` as read
    they hold what coarse steps leave open, too.
    """
    log2_raw = find_log2_response(respond(power, camera.profile.sensitivities[None]))
    own = solve_coordinates(camera.locus, log2_raw)
    trouble = find_trouble(power, log2_raw[:, 0], own, camera.locus)
    if camera.member_locus is None and not is_coarse(lights):
        return own, None, trouble
    curves, locus = list_plausible(camera)
    drawn = respond(power, curves)
    if is_coarse(lights):
        drawn = drawn + draw_coarse(lights, np.ones_like(power), curves)
    return own, solve_coordinates(locus, find_log2_response(drawn)), trouble


def see_by_camera(
    lights: tuple[Spectrum, ...], cct_kelvin: Array, camera: CameraView
) -> list[CameraFigures | None]:
    """Find what a camera does with n lights of CCTs (n,): setting, exposure, colours."""
    power = np.stack([each.values for each in lights])
    own, draws, trouble = place_lights(power, camera, lights)
    curves = np.concatenate([camera.profile.sensitivities[None], camera.members])
    exposure = find_exposure_offset(power, curves)
    kelvin = np.clip(1e6 / own.mired[:, 0], *LOCUS_RANGE_KELVIN)
    kelvin = np.where([bool(each) for each in trouble], np.nan, kelvin)
    # Greys are left out: balancing puts them right.
    names, reflectances = list_surfaces()
    names, reflectances = names[SKIN_ROWS.start :], reflectances[SKIN_ROWS.start :]
    skins, hues = len(SKIN_ROWS), len(HUE_ROWS)
    judges = curves[: 1 + _COLOUR_MEMBERS]
    error, own_error, shift, mended = find_rendition(power, judges, kelvin, reflectances)
    skin, hue = error[..., :skins], error[..., -hues:]
    figures = [hue.mean(-1), hue.max(-1), skin.mean(-1), skin.max(-1)]
    share = camera.band_share
    result: list[CameraFigures | None] = []
    for row in range(power.shape[0]):
        red, green, blue = (
            make_interval(float(exposure[row, 0, c]), exposure[row, 1:, c], share) for c in range(3)
        )
        hue_mean, hue_worst, skin_mean, skin_worst = (
            make_interval(float(each[row, 0]), each[row, 1:], share) for each in figures
        )
        wanted = make_wanted(own, draws, row, share)
        can_set = not trouble[row]
        metered = None
        if can_set and np.isfinite(cct_kelvin[row]):
            metered = wanted.less(1e6 / float(cct_kelvin[row]), 0.0)
        result.append(
            CameraFigures(
                wanted=wanted,
                dial=round_setting(camera.profile.menu, *wanted.point) if can_set else None,
                metered=metered,
                trouble=trouble[row],
                exposure=(red, green, blue),
                judged_kelvin=float(kelvin[row]),
                hue_mean=hue_mean,
                hue_worst=hue_worst,
                skin_mean=skin_mean,
                skin_worst=skin_worst,
                skin_shift=_find_skin_shift(shift[row, :skins], mended[row, :skins]),
                own_error=float(own_error[row, 0].mean()),
                worst=_name_worst(error[row, 0], names),
            )
        )
    return result


_SKIN_HUE_DEG = 57.0  # of the five skins under D65, CIELAB, to 5 degrees


def _find_skin_shift(shift: Array, mended: Array) -> SkinShift:
    """Turn CIELAB shifts of skins (m, 3) into more or less colour, and towards yellow or pink."""
    along = np.array([np.cos(np.deg2rad(_SKIN_HUE_DEG)), np.sin(np.deg2rad(_SKIN_HUE_DEG))])
    a, b = shift[:, 1:].mean(0)
    chroma, hue = float(a * along[0] + b * along[1]), float(b * along[0] - a * along[1])
    return SkinShift(chroma, hue, float(mended.mean()))


def _name_worst(error: Array, names: tuple[str, ...]) -> tuple[SurfaceError, ...]:
    if not np.isfinite(error).all():
        return ()
    order = np.argsort(-error, kind="stable")[:WORST_NAMED]
    return tuple(SurfaceError(names[i], float(error[i])) for i in order)
