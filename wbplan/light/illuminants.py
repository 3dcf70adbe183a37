"""Lights that a formula gives: black body, CIE daylight, and the reference locus made of both.

A camera's Kelvin dial is understood on the reference locus: black body below 4000 K, CIE daylight
above 5000 K, and a blend of equal-luminance spectra between (ANSI/IES TM-30-20; CIE 224:2017).
All functions take kelvin or mired along any leading axes and add the wavelength axis last.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM

SECOND_RADIATION_CONSTANT_NM_K = 1.438776877e7  # c2, exact in the SI of 2019
DAYLIGHT_RANGE_KELVIN = (4000.0, 25000.0)
LOCUS_RANGE_KELVIN = (1000.0, 25000.0)
RATED_UNDER_KELVIN = 5500.0
"""The daylight that a camera is counted against: ISO 12232:2019 rates under that of ISO 7589."""
_DAYLIGHT_SWITCH_KELVIN = 7000.0


def find_mired(kelvin: ArrayLike) -> Array:
    """Convert kelvin to mired, 1e6 / K; the same call converts mired to kelvin."""
    return np.asarray(1e6 / np.asarray(kelvin, dtype=np.float64))


def radiate_black_body(kelvin: ArrayLike) -> Array:
    """Compute the relative spectral power of a black body.

    Parameters
    ----------
    kelvin
        (...,) absolute temperature [K], above 0.

    Returns
    -------
    ndarray
        (..., 401), Planck's law per nm of wavelength, normalised to 1 at 560 nm.
    """
    temperature = np.asarray(kelvin, dtype=np.float64)[..., None]
    x = SECOND_RADIATION_CONSTANT_NM_K / (WAVELENGTHS_NM * temperature)
    x560 = SECOND_RADIATION_CONSTANT_NM_K / (560.0 * temperature)
    return np.asarray((560.0 / WAVELENGTHS_NM) ** 5 * np.expm1(x560) / np.expm1(x))


def _find_daylight_x(kelvin: Array, above_switch: bool | NDArray[np.bool_]) -> Array:
    low = -4.6070e9 / kelvin**3 + 2.9678e6 / kelvin**2 + 0.09911e3 / kelvin + 0.244063
    high = -2.0064e9 / kelvin**3 + 1.9018e6 / kelvin**2 + 0.24748e3 / kelvin + 0.237040
    return np.where(above_switch, high, low)


def _compose_daylight(kelvin: Array, above_switch: bool | NDArray[np.bool_]) -> Array:
    x = _find_daylight_x(kelvin, above_switch)
    y = -3.000 * x**2 + 2.870 * x - 0.275
    scale = 0.0241 + 0.2562 * x - 0.7341 * y
    m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / scale
    m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / scale
    weights = np.stack([np.ones_like(m1), m1, m2], axis=-1)
    return np.asarray(np.maximum(weights @ load_table("daylight").T, 0.0) / 100.0)


def radiate_daylight(cct_kelvin: ArrayLike) -> Array:
    """Compute the relative spectral power of CIE daylight.

    Parameters
    ----------
    cct_kelvin
        (...,) correlated colour temperature [K], 4000 to 25 000. For the nominal D50, D55, D65
        and D75 the standard multiplies the nominal figure by 1.4388/1.4380.

    Returns
    -------
    ndarray
        (..., 401), 1 at 560 nm (CIE 15:2018, 4.1.2; M1 and M2 unrounded, as CIE 224 uses them).

    Raises
    ------
    ValueError
        Outside 4000-25 000 K, where the formula is not defined.
    """
    kelvin = np.asarray(cct_kelvin, dtype=np.float64)
    low, high = DAYLIGHT_RANGE_KELVIN
    if ((kelvin < low) | (kelvin > high)).any():
        raise ValueError(f"CIE daylight is defined from {low:g} to {high:g} K")
    return _compose_daylight(kelvin, kelvin > _DAYLIGHT_SWITCH_KELVIN)


def radiate_reference(cct_kelvin: ArrayLike, daylight_from_kelvin: float) -> Array:
    """Compute the light that one of a CCT is compared with: a black body, or CIE daylight.

    Parameters
    ----------
    cct_kelvin
        (...,) [K].
    daylight_from_kelvin
        From where up it is daylight [K], 4000 or more.

    Returns
    -------
    ndarray
        (..., 401), relative; NaN where there is no CCT, or one over 25 000 K, for which daylight is
        not defined.
    """
    kelvin = np.asarray(cct_kelvin, dtype=np.float64)
    known = kelvin <= DAYLIGHT_RANGE_KELVIN[1]
    safe = np.where(known, kelvin, daylight_from_kelvin)
    day = radiate_daylight(np.maximum(safe, daylight_from_kelvin))
    is_day = (safe >= daylight_from_kelvin)[..., None]
    return np.where(known[..., None], np.where(is_day, day, radiate_black_body(safe)), np.nan)


def _level(power: Array) -> Array:
    return np.asarray(power / (power @ load_table("photopic"))[..., None])


def _blend(kelvin: Array) -> Array:
    share = ((kelvin - 4000.0) / 1000.0)[..., None]
    warm = _level(radiate_black_body(kelvin))
    return (1.0 - share) * warm + share * _level(_compose_daylight(kelvin, False))


# The locus in pieces, each smooth beyond both its ends, so that slopes exist at the joints.
LOCUS_JOINTS_MIRED: Array = find_mired([25000.0, _DAYLIGHT_SWITCH_KELVIN, 5000.0, 4000.0, 1000.0])
LOCUS_JOINTS_MIRED.flags.writeable = False


def radiate_locus_piece(mired: ArrayLike, piece: int) -> Array:
    """Compute equal-luminance spectra of one smooth piece of the reference locus.

    Parameters
    ----------
    mired
        (...,) [mired]; a little beyond the piece's ends is allowed, for slopes at the joints.
    piece
        0 daylight above 7000 K, 1 daylight 5000-7000 K, 2 blend 4000-5000 K, 3 black body
        below 4000 K; between the entries of ``LOCUS_JOINTS_MIRED``.

    Returns
    -------
    ndarray
        (..., 401), the sum over V(lambda) is 1.
    """
    kelvin = find_mired(mired)
    if piece == 0:
        return _level(_compose_daylight(kelvin, True))
    if piece == 1:
        return _level(_compose_daylight(kelvin, False))
    return _level(_blend(kelvin) if piece == 2 else radiate_black_body(kelvin))


def radiate_locus(kelvin: ArrayLike) -> Array:
    """Compute the reference light at a Kelvin, equal-luminance.

    Parameters
    ----------
    kelvin
        (...,) [K], 1000 to 25 000.

    Returns
    -------
    ndarray
        (..., 401), the sum over V(lambda) is 1 (ANSI/IES TM-30-20; CIE 224:2017, 4.3).

    Raises
    ------
    ValueError
        Outside 1000-25 000 K.
    """
    temperature = np.asarray(kelvin, dtype=np.float64)
    low, high = LOCUS_RANGE_KELVIN
    if ((temperature < low) | (temperature > high)).any():
        raise ValueError(f"the reference locus runs from {low:g} to {high:g} K")
    flat = temperature.reshape(-1)
    piece = np.searchsorted(LOCUS_JOINTS_MIRED[1:-1], find_mired(flat))
    result = np.empty((flat.size, WAVELENGTHS_NM.size))
    for number in {*piece.tolist()}:
        here = piece == number
        result[here] = radiate_locus_piece(find_mired(flat[here]), number)
    return result.reshape((*temperature.shape, WAVELENGTHS_NM.size))
