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

from wbplan.camera import find_log2_response, respond
from wbplan.colorimetry import find_tristimulus
from wbplan.illuminants import radiate_daylight, radiate_locus
from wbplan.labcolour import find_ciede2000, find_lab
from wbplan.spectrum import scale_to_lux
from wbplan.tables import Array, list_chart_patches, load_rendering_table, load_table

RATED_UNDER_KELVIN = 5500.0  # ISO 12232:2019 rates exposure indices under daylight (ISO 7589)
COLOURED_PATCHES = 18  # of the chart's 24; the rest are greys, which balancing puts right
_SKIN_OF_CHART = ("dark skin", "light skin")


class Surfaces(NamedTuple):
    """Reflectances (m, 401) with their names, and which rows are of the chart and which are skin.

    The two chart patches that stand for skin are in both groups.
    """

    names: tuple[str, ...]
    reflectances: Array
    chart_rows: tuple[int, ...]
    skin_rows: tuple[int, ...]


def list_surfaces() -> Surfaces:
    """List the surfaces a light is judged by through a camera.

    The 18 coloured patches of the ISO 17321-1 chart, and skin: that chart's two, the test-colour
    samples 13 and 15 of CIE 13.3 (light and Japanese complexion), and samples 15 and 18 of CIE
    224:2017, of which ANSI/IES TM-30-20 makes its skin figure.
    """
    names = list_chart_patches()[:COLOURED_PATCHES]
    test_colours, samples = load_rendering_table("test_colours"), load_table("samples")
    more = {
        "light complexion (CIE 13.3, 13)": test_colours[12],
        "Japanese complexion (CIE 13.3, 15)": test_colours[14],
        "skin (CIE 224, 15)": samples[14],
        "skin (CIE 224, 18)": samples[17],
    }
    reflectances = np.concatenate(
        [load_table("chart")[:COLOURED_PATCHES], np.stack([*more.values()])]
    )
    skin = [names.index(each) for each in _SKIN_OF_CHART]
    added = range(COLOURED_PATCHES, COLOURED_PATCHES + len(more))
    chart = tuple(range(COLOURED_PATCHES))
    return Surfaces((*names, *more), reflectances, chart, (*skin, *added))


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
    day = scale_to_lux(radiate_daylight(RATED_UNDER_KELVIN), 1.0)
    per_lux = scale_to_lux(power, np.ones(np.shape(power)[:-1]))
    here = find_log2_response(respond(per_lux, sensitivities))
    return np.asarray(here - find_log2_response(respond(day, sensitivities)))


class Rendition(NamedTuple):
    """CIEDE2000 of surfaces through cameras.

    ``error`` (n, k, m) is the light's doing: against the same camera under the reference light;
    ``camera_error`` (n, k, m) is the camera's own under that reference, against the eye.
    """

    error: Array
    camera_error: Array


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
        The matrix is fitted with white kept, by `camera.fit_colour_matrix`'s rule, on the 99
        samples of CIE 224:2017 for each camera. A light that a channel does not see gives NaN.
        Lights are worked through one by one, so that memory holds for many cameras.
    """
    lights, curves = np.asarray(power, dtype=np.float64), np.asarray(sensitivities)
    surfaces, temperature = np.asarray(reflectances), np.asarray(kelvin, dtype=np.float64)
    error = np.full((lights.shape[0], curves.shape[0], surfaces.shape[0]), np.nan)
    own = error.copy()
    for row in np.flatnonzero(np.isfinite(temperature)):
        reference = radiate_locus(temperature[row])
        white = find_tristimulus(reference)
        white = white / white[1]
        matrix = fit_colour_matrices(curves, reference)
        wanted = find_lab(_picture(reference, surfaces, curves, matrix), white)
        with np.errstate(divide="ignore", invalid="ignore"):
            found = find_lab(_picture(lights[row], surfaces, curves, matrix), white)
            seen = find_tristimulus(surfaces * reference) / find_tristimulus(reference)[1]
            error[row] = find_ciede2000(found, wanted)
        own[row] = find_ciede2000(wanted, find_lab(seen, white))
    return Rendition(error, own)


def _picture(light: Array, surfaces: Array, curves: Array, matrix: Array) -> Array:
    """XYZ (k, m, 3) that cameras balanced on a light make of surfaces."""
    raw = np.moveaxis(respond(surfaces * light, curves) / respond(light, curves), 1, 0)
    return np.asarray(raw @ np.swapaxes(matrix, -1, -2))


def fit_colour_matrices(sensitivities: ArrayLike, light: ArrayLike) -> Array:
    """Fit `camera.fit_colour_matrix` for many cameras at once, (k, 401, 3) to (k, 3, 3)."""
    curves, power = np.asarray(sensitivities), np.asarray(light)
    lit = load_table("samples") * power
    white = find_tristimulus(power)
    xyz = find_tristimulus(lit) / white[1]
    white = white / white[1]
    rgb = np.moveaxis(respond(lit, curves) / respond(power, curves), 1, 0)
    weight = 1.0 / xyz[:, 1:2]
    grey = rgb[..., 1:2]
    free = (rgb - grey)[..., [0, 2]] * weight
    wanted = (xyz - grey * white) * weight
    turned = np.swapaxes(free, -1, -2)
    part = np.linalg.solve(turned @ free, turned @ wanted)
    matrix = np.zeros((curves.shape[0], 3, 3))
    matrix[:, :, [0, 2]] = np.swapaxes(part, -1, -2)
    matrix[:, :, 1] = white - matrix.sum(-1)
    return matrix
