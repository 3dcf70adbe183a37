"""How a light serves one camera: exposure of each channel, and colours that come out wrong.

Idea
----
A meter's lux weigh a light by the eye. The camera's channels weigh it by their own curves, so the
same lux of another light expose them otherwise: that is the exposure offset, in stops, against
CIE daylight of 5500 K, under which a camera's exposure index is stated.

For colour the camera is balanced on the light, and its picture goes through the 3x3 matrix that it
would use under the reference light of the Kelvin it was balanced to. A light like its reference
gives the picture that the reference gives; what differs is the light's doing, and it is told as
CIEDE2000 of each surface against the same camera's picture under the reference. What the camera
itself gets wrong under the reference, against the eye, stands apart.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_matrix import find_balanced_rgb, fit_colour_matrix, fit_white_kept
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.core.tables import Array, load_table
from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import RATED_UNDER_KELVIN, radiate_daylight, radiate_locus
from wbplan.light.spectrum import scale_to_lux

_AT_ONCE = 12  # lights; some 30 MB in all with 64 cameras


def find_exposure_offset(power: ArrayLike, sensitivities: ArrayLike) -> Array:
    """Find how lights expose each channel, against what their lux say.

    Parameters
    ----------
    power
        (..., 401) relative spectral power.
    sensitivities
        (401, 3), or (k, 401, 3) for k cameras.

    Returns
    -------
    ndarray
        (..., 3) or (..., k, 3) [stops]: log2 of the raw value per lux over that of CIE daylight of
        5500 K. +1 in green means that the light exposes as twice its lux would.
    """
    per_lux = scale_to_lux(power, np.ones(np.shape(power)[:-1]))
    here = find_log2_response(respond(per_lux, sensitivities))
    return np.asarray(here - find_daylight_log2(sensitivities))


def find_daylight_log2(sensitivities: ArrayLike) -> Array:
    """Find what one lux of 5500 K daylight gives, (..., 3) log2 [stops], from (..., 401, 3)."""
    power = scale_to_lux(radiate_daylight(RATED_UNDER_KELVIN), 1.0)
    return find_log2_response(respond(power, sensitivities))


class Rendition(NamedTuple):
    """CIEDE2000 of surfaces through cameras.

    ``error`` (n, k, m) is the light's doing: against the same camera under the reference light;
    ``camera_error`` (n, k, m) is the camera's own under that reference, against the eye. Of the
    first camera also the CIELAB ``shift`` (n, m, 3) that makes its error, and ``mended`` (n, m),
    what is left of it after the matrix that serves the light best.
    """

    error: Array
    camera_error: Array
    shift: Array
    mended: Array


def find_rendition(
    power: ArrayLike, sensitivities: ArrayLike, kelvin: ArrayLike, reflectances: ArrayLike
) -> Rendition:
    """Find how wrong surfaces come out under lights, through cameras balanced on them.

    Parameters
    ----------
    power
        (n, 401) relative spectral power.
    sensitivities
        (k, 401, 3).
    kelvin
        (n,) the Kelvin whose reference light and matrix each light is judged by, 1000 to 25 000;
        NaN gives NaN.
    reflectances
        (m, 401).

    Returns
    -------
    Rendition
        The matrix is `colour_matrix.fit_colour_matrix`'s, for each camera. A light that a channel
        does not see gives NaN. Lights are worked through a few at a time, so that memory holds for
        many cameras.
    """
    lights, curves = np.asarray(power, dtype=np.float64), np.asarray(sensitivities)
    surfaces, temperature = np.asarray(reflectances), np.asarray(kelvin, dtype=np.float64)
    error = np.full((lights.shape[0], curves.shape[0], surfaces.shape[0]), np.nan)
    own = error.copy()
    shift = np.full((lights.shape[0], surfaces.shape[0], 3), np.nan)
    mended = shift[..., 0].copy()
    white_y = load_table("observer")[:, 1]
    samples = load_table("samples")
    known = np.flatnonzero(np.isfinite(temperature))
    for rows in np.array_split(known, max(1, -(-known.size // _AT_ONCE))):
        reference = radiate_locus(temperature[rows])
        white = (find_tristimulus(reference) / (reference @ white_y)[:, None])[:, None, None, :]
        matrix = fit_colour_matrix(curves, reference)
        wanted = find_lab(_picture(reference, surfaces, curves, matrix), white)
        seen = find_tristimulus(surfaces * reference[:, None, :])
        seen = seen / (reference @ white_y)[:, None, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            found = find_lab(_picture(lights[rows], surfaces, curves, matrix), white)
            error[rows] = find_delta_e_2000(found, wanted)
            shift[rows] = (found - wanted)[:, 0]
            first = curves[:1]
            meant = _picture(reference, samples, first, matrix[:, :1])
            best = find_balanced_rgb(lights[rows], samples, first)
            best = fit_white_kept(best, meant, np.broadcast_to(white[:, 0], meant[:, 0, :1].shape))
            now = find_lab(_picture(lights[rows], surfaces, first, best), white)
            mended[rows] = find_delta_e_2000(now, wanted[:, :1])[:, 0]
        own[rows] = find_delta_e_2000(wanted, find_lab(seen[:, None], white))
    return Rendition(error, own, shift, mended)


def _picture(light: Array, surfaces: Array, curves: Array, matrix: Array) -> Array:
    """XYZ (..., k, m, 3) that cameras balanced on lights make of surfaces."""
    return np.asarray(find_balanced_rgb(light, surfaces, curves) @ np.swapaxes(matrix, -1, -2))
