"""What a standard human eye makes of a light: chromaticity, CCT and Duv.

These are the figures that a meter shows, and the yardstick against which a camera's own view is
told. They are closed arithmetic over the shared grid, so they need no library at run time; the
tests hold them against the CIE tables and colour-science.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array, load_table
from wbplan.light.illuminants import find_mired, radiate_black_body

DUV_LIMIT = 0.05  # beyond it a correlated colour temperature has no meaning (CIE 15:2018, 9.5)
UV_PRIME_STEP = 0.0011  # radius of a 1-step circle in u', v' (CIE TN 001:2014)
_SEARCH_MIRED = (10.0, 1000.0)


def find_tristimulus(power: ArrayLike, observer: ArrayLike | None = None) -> Array:
    """Integrate to XYZ of the CIE 1931 observer.

    Parameters
    ----------
    power
        (..., 401), relative spectral power or its product with a reflectance.
    observer
        (401, 3) colour-matching functions; the CIE 1931 2 degree observer if not given.

    Returns
    -------
    ndarray
        (..., 3) in the unit of ``power`` (CIE 15:2018, 7.1, summation at 1 nm).
    """
    matching = load_table("observer") if observer is None else np.asarray(observer)
    return np.asarray(np.asarray(power, dtype=np.float64) @ matching)


def find_xy(power: ArrayLike) -> Array:
    """Find the chromaticity x, y, (..., 2), of light (..., 401) (CIE 15:2018, 7.3)."""
    xyz = find_tristimulus(power)
    return np.asarray(xyz[..., :2] / xyz.sum(-1, keepdims=True))


def find_white_xyz(xy: ArrayLike) -> Array:
    """Find XYZ (..., 3) with Y = 1 of a chromaticity x, y, (..., 2)."""
    chromaticity = np.asarray(xy, dtype=np.float64)
    x, y = chromaticity[..., 0], chromaticity[..., 1]
    return np.stack([x / y, np.ones_like(y), (1.0 - x - y) / y], axis=-1)


def find_uv_prime(xy: ArrayLike) -> Array:
    """Convert x, y to u', v' (CIE 15:2018, 8.1), both (..., 2)."""
    chromaticity = np.asarray(xy, dtype=np.float64)
    x, y = chromaticity[..., 0], chromaticity[..., 1]
    scale = -2.0 * x + 12.0 * y + 3.0
    return np.stack([4.0 * x / scale, 9.0 * y / scale], axis=-1)


def find_uv_1960(xyz: Array) -> Array:
    """Convert XYZ to the 1960 u, v that CCT and Duv are counted in, (..., 2) (CIE 15:2018, 9.5)."""
    scale = xyz @ np.array([1.0, 15.0, 3.0])
    return np.stack([4.0 * xyz[..., 0] / scale, 6.0 * xyz[..., 1] / scale], axis=-1)


@cache
def _radiate_coarse() -> tuple[Array, Array]:
    """Give black bodies (n, 401) over the whole range that is searched, and their mired (n,)."""
    mired = np.geomspace(*_SEARCH_MIRED, 200)
    spectra = radiate_black_body(find_mired(mired))
    for each in (mired, spectra):
        each.flags.writeable = False
    return mired, spectra


def find_cct_duv(power: ArrayLike, observer: ArrayLike | None = None) -> Array:
    """Find correlated colour temperature and distance from the black-body locus.

    Parameters
    ----------
    power
        (..., 401) relative spectral power.
    observer
        (401, 3); the CIE 1931 2 degree observer if not given.

    Returns
    -------
    ndarray
        (..., 2): CCT [K] of the nearest point of the Planckian locus in the 1960 u, v diagram,
        and Duv, positive above the locus, which is the green side (Ohno 2013, definitions;
        CIE 15:2018, 9.5). Where |Duv| passes 0.05, or the nearest point would lie at an end of
        the searched range (1000 to 100 000 K), CCT has no meaning and is NaN.
    """
    uv = find_uv_1960(find_tristimulus(power, observer))

    def locate(mired: Array) -> Array:
        return find_uv_1960(find_tristimulus(radiate_black_body(find_mired(mired)), observer))

    low, high = _SEARCH_MIRED
    coarse, spectra = _radiate_coarse()
    table = find_uv_1960(find_tristimulus(spectra, observer))
    nearest = ((uv[..., None, :] - table) ** 2).sum(-1).argmin(-1)
    inside = (nearest > 0) & (nearest < coarse.size - 1)
    mired = coarse[np.clip(nearest, 1, coarse.size - 2)]
    # The nearest point is where the offset has no component along the locus: Newton's method.
    for _ in range(6):
        step = 1e-3 * mired
        here, ahead, behind = locate(mired), locate(mired + step), locate(mired - step)
        slope = (ahead - behind) / (2 * step)[..., None]
        bend = (ahead - 2 * here + behind) / (step**2)[..., None]
        offset = here - uv
        gradient = (offset * slope).sum(-1)
        curvature = (slope**2).sum(-1) + (offset * bend).sum(-1)
        move = gradient / np.where(curvature > 0, curvature, (slope**2).sum(-1))
        mired = np.clip(mired - np.clip(move, -0.1 * mired, 0.1 * mired), low, high)
    offset = uv - locate(mired)
    duv = np.sign(offset[..., 1]) * np.sqrt((offset**2).sum(-1))
    meaningful = inside & (np.abs(duv) <= DUV_LIMIT)
    return np.stack([np.where(meaningful, find_mired(mired), np.nan), duv], axis=-1)
