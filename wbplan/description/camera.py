"""What one camera does with a light, and with the gap between two.

A meter for the eye has no word for any of it: the setting the light wants, how far each channel is
exposed from what the lux say, which surfaces come out wrong. Every figure carries the band that the
profile's family spans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.colour_error import Surfaces, find_exposure_offset, find_rendition, list_surfaces
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import CameraView, Coordinates, solve_coordinates
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.tables import Array
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN
from wbplan.planning.decisions import Cast, WantedSetting
from wbplan.planning.judging import find_trouble

WORST_NAMED = 3
_COLOUR_MEMBERS = 64  # of the family, for the band of colour errors, which cost most


@dataclass(frozen=True)
class SurfaceError:
    """How wrong one surface comes out through a camera, CIEDE2000."""

    name: str
    ciede2000: float


@dataclass(frozen=True, eq=False)
class CameraFigures:
    """What one camera does with a light.

    ``exposure`` are red, green, blue [stops] per lux against daylight of 5500 K. The errors are
    CIEDE2000 against the same camera's picture under the reference light of ``judged_kelvin``:
    mean and worst of the chart's coloured patches and of skin, and the surfaces that suffer most.
    ``own_error`` is the camera's mean error under that reference, against the eye. NaN where
    ``trouble`` says why no setting neutralises the light.
    """

    wanted: WantedSetting
    trouble: str
    exposure: tuple[Interval, Interval, Interval]
    judged_kelvin: float
    chart_mean: Interval
    chart_worst: Interval
    skin_mean: Interval
    skin_worst: Interval
    own_error: float
    worst: tuple[SurfaceError, ...]


def _solve(power: Array, camera: CameraView) -> tuple[Array, Coordinates, Coordinates | None]:
    """Find the response of the camera itself, and where it and its family place lights."""
    own_raw = find_log2_response(respond(power, camera.profile.sensitivities[None]))
    own = solve_coordinates(camera.locus, own_raw)
    if camera.member_locus is None:
        return own_raw[:, 0], own, None
    drawn = find_log2_response(respond(power, camera.members))
    return own_raw[:, 0], own, solve_coordinates(camera.member_locus, drawn)


def _judge(power: Array, log2_raw: Array, own: Coordinates, camera: CameraView) -> list[str]:
    return find_trouble(power, log2_raw, own, camera.locus)


def find_camera_gaps(power: Array, other: Array, camera: CameraView) -> list[Cast | None]:
    """Find how far lights (n, 401) are from others (n, 401) in a camera's terms, with bands.

    Each member of the family sees both lights, so what they share drops out of the band. None
    where one of the two cannot be neutralised.
    """
    log2_raw, own, draws = _solve(power, camera)
    their_raw, theirs, their_draws = _solve(other, camera)
    trouble = zip(
        _judge(power, log2_raw, own, camera),
        _judge(other, their_raw, theirs, camera),
        strict=True,
    )
    result: list[Cast | None] = []
    for row, (one, two) in enumerate(trouble):
        if one or two:
            result.append(None)
            continue
        none = (np.empty(0), np.empty(0))
        spread = none
        if draws is not None and their_draws is not None:
            spread = (
                draws.mired[row] - their_draws.mired[row],
                draws.tint_cc[row] - their_draws.tint_cc[row],
            )
        mired = float(own.mired[row, 0] - theirs.mired[row, 0])
        green = float(own.tint_cc[row, 0] - theirs.tint_cc[row, 0])
        share = camera.band_share
        result.append(
            Cast(make_interval(mired, spread[0], share), make_interval(green, spread[1], share))
        )
    return result


def see_by_camera(power: Array, camera: CameraView) -> list[CameraFigures | None]:
    """Find what a camera does with lights (n, 401): setting, exposure, colours, with bands."""
    log2_raw, own, draws = _solve(power, camera)
    trouble = _judge(power, log2_raw, own, camera)
    curves = np.concatenate([camera.profile.sensitivities[None], camera.members])
    exposure = find_exposure_offset(power, curves)
    kelvin = np.clip(1e6 / own.mired[:, 0], *LOCUS_RANGE_KELVIN)
    kelvin = np.where([bool(each) for each in trouble], np.nan, kelvin)
    surfaces = list_surfaces()
    judges = curves[: 1 + _COLOUR_MEMBERS]
    error, own_error = find_rendition(power, judges, kelvin, surfaces.reflectances)
    chart, skin = error[..., surfaces.chart_rows], error[..., surfaces.skin_rows]
    figures = [chart.mean(-1), chart.max(-1), skin.mean(-1), skin.max(-1)]
    none, share = np.empty(0), camera.band_share
    result: list[CameraFigures | None] = []
    for row in range(power.shape[0]):
        wanted = WantedSetting(
            make_interval(
                float(own.mired[row, 0]), none if draws is None else draws.mired[row], share
            ),
            make_interval(
                float(own.tint_cc[row, 0]), none if draws is None else draws.tint_cc[row], share
            ),
        )
        red, green, blue = (
            make_interval(float(exposure[row, 0, c]), exposure[row, 1:, c], share) for c in range(3)
        )
        chart_mean, chart_worst, skin_mean, skin_worst = (
            make_interval(float(each[row, 0]), each[row, 1:], share) for each in figures
        )
        result.append(
            CameraFigures(
                wanted=wanted,
                trouble=trouble[row],
                exposure=(red, green, blue),
                judged_kelvin=float(kelvin[row]),
                chart_mean=chart_mean,
                chart_worst=chart_worst,
                skin_mean=skin_mean,
                skin_worst=skin_worst,
                own_error=float(own_error[row, 0].mean()),
                worst=_name_worst(error[row, 0], surfaces),
            )
        )
    return result


def _name_worst(error: Array, surfaces: Surfaces) -> tuple[SurfaceError, ...]:
    if not np.isfinite(error).all():
        return ()
    order = np.argsort(-error, kind="stable")[:WORST_NAMED]
    return tuple(SurfaceError(surfaces.names[i], float(error[i])) for i in order)
