"""CIE colour rendering: Ra and the special indices R1 to R15 of CIE 13.3.

Idea
----
Fifteen surfaces are looked at under the light and under the reference of the same CCT, a black body
below 5000 K and CIE daylight from there on; each index is 100 less 4.6 times the distance
between the two colours in the 1964 W*, U*, V* space. All lights are done at once: light times
surface times observer is one matrix (401, 45), made once.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array, load_rendering_table, load_table
from wbplan.light.colorimetry import find_tristimulus, find_uv_1960
from wbplan.light.illuminants import radiate_reference

DAYLIGHT_FROM_KELVIN = 5000.0  # CIE 13.3:1995, 5.2; a black body below
MOST_CHROMATICITY_DIFFERENCE = 5.4e-3  # CIE 13.3:1995, 5.3: beyond it the figure is less accurate
_COUNTED = 8  # of the fifteen that make Ra


class CieRendering(NamedTuple):
    """Ra (...,), R1 to R15 (..., 15), and how far light and reference are apart in u, v (...,)."""

    ra: Array
    special: Array
    chromaticity_difference: Array


@cache
def _load_weights() -> Array:
    """Surface times observer, (401, 45)."""
    samples, observer = load_rendering_table("test_colours"), load_table("observer")
    product = samples.T[:, :, None] * observer[:, None, :]
    return product.reshape(samples.shape[1], -1)


def find_cie_rendering(power: ArrayLike, cct_kelvin: ArrayLike) -> CieRendering:
    """Find Ra and R1 to R15 of lights.

    Parameters
    ----------
    power
        (..., 401) relative spectral power.
    cct_kelvin
        (...,) their CCT [K]; NaN, where a light has none, gives NaN throughout.

    Returns
    -------
    CieRendering
        CIE 13.3:1995, 5; R15 with the sample that CIE published in 2024. The reference follows
        the CCT unrounded.
    """
    light = np.asarray(power, dtype=np.float64)
    reference = radiate_reference(cct_kelvin, DAYLIGHT_FROM_KELVIN)
    weights = _load_weights()

    def look(spectrum: Array) -> tuple[Array, Array, Array]:
        white = find_tristimulus(spectrum)
        xyz = (spectrum @ weights).reshape((*spectrum.shape[:-1], 15, 3))
        return find_uv_1960(white), find_uv_1960(xyz), 100.0 * xyz[..., 1] / white[..., None, 1]

    white_t, uv_t, level_t = look(light)
    white_r, uv_r, level_r = look(reference)
    # von Kries adaptation from the light's white to the reference's (CIE 13.3:1995, 5.7)
    c_t, d_t = _find_cd(white_t)
    c_r, d_r = _find_cd(white_r)
    c, d = _find_cd(uv_t)
    c, d = c * (c_r / c_t)[..., None], d * (d_r / d_t)[..., None]
    scale = 16.518 + 1.481 * c - d
    adapted = np.stack([(10.872 + 0.404 * c - 4.0 * d) / scale, 5.520 / scale], axis=-1)
    distance = np.linalg.norm(
        _find_wuv(adapted, level_t, white_r) - _find_wuv(uv_r, level_r, white_r), axis=-1
    )
    special = 100.0 - 4.6 * distance
    apart = np.linalg.norm(white_t - white_r, axis=-1)
    return CieRendering(special[..., :_COUNTED].mean(-1), special, apart)


def _find_cd(uv: Array) -> tuple[Array, Array]:
    u, v = uv[..., 0], uv[..., 1]
    return (4.0 - u - 10.0 * v) / v, (1.708 * v + 0.404 - 1.481 * u) / v


def _find_wuv(uv: Array, level: Array, white: Array) -> Array:
    lightness = 25.0 * np.cbrt(level) - 17.0
    chromatic = 13.0 * lightness[..., None] * (uv - white[..., None, :])
    return np.concatenate([lightness[..., None], chromatic], axis=-1)
