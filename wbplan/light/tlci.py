"""Television lighting: TLCI-2012 for one light, TLMF-2013 for one beside another (EBU Tech 3355).

Idea
----
A standard camera with its matrix looks at a chart, a standard screen shows it, and CIEDE2000 tells
how far two such pictures are apart: under the light and under a reference of its own CCT, the
camera balanced on each (TLCI), or under the light and under another one, the camera balanced on the
other (TLMF). The index is 100 for no difference and falls to 50 at 3.16. All of it is done by 5 nm,
as the EBU does; lights come to 5 nm by bands, since to pick every fifth nanometre of a spectrum by
1 nm loses lines, and moves the index by up to 12.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array, load_television_table
from wbplan.light.bandpass import make_band_weights
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import DAYLIGHT_RANGE_KELVIN, radiate_daylight

_STEP_NM, _COUNT = 5, 77  # 380 to 760 nm
_GRID = slice(0, 381, _STEP_NM)  # of the shared grid, for references, which are smooth
_BLACK_BODY_TO_KELVIN, _DAYLIGHT_FROM_KELVIN = 3400.0, 5000.0  # 1.1.2: a blend between
_LEAST_KELVIN = 1000.0
_OLD_C2, _C2 = 1.4350e-2, 1.4388e-2  # [m K] in its black bodies; in the CCT that is given
_AT_560_NM = 36
_COUNTED = 18  # of the 24 surfaces; the greys count in TLMF only
_WHITE = 0.9  # of the white patch on which the camera is balanced
_HALF_AT, _STEEPNESS, _MEAN_POWER = 3.16, 2.4, 4.0  # 1.5
# 1.3.2; its saturation is set to 90 %
_MATRIX = np.array([[1.182, -0.209, 0.027], [0.107, 0.890, 0.003], [0.040, -0.134, 1.094]])
_SATURATION = 0.9 * np.eye(3) + 0.1 / 3.0
_SCREEN = np.array(  # 1.4.2: Rec. ITU-R BT.709 primaries
    [[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]]
)


def find_tlci(power: ArrayLike, cct_kelvin: ArrayLike) -> Array:
    """Find the television lighting consistency index of lights.

    Parameters
    ----------
    power
        (..., 401) relative spectral power.
    cct_kelvin
        (...,) their CCT [K]; NaN, or one outside 1000-25 000 K, gives NaN.

    Returns
    -------
    ndarray
        (...,) Qa, 0 to 100 (EBU Tech 3355, 1.1 to 1.5). Its own search for the CCT, in tables of
        black bodies of an older constant, is met by scaling the CCT under 5000 K.
    """
    light = _take_bands(power)
    kelvin = np.asarray(cct_kelvin, dtype=np.float64)
    known = (kelvin >= _LEAST_KELVIN) & (kelvin <= DAYLIGHT_RANGE_KELVIN[1])
    reference = _radiate_reference(np.where(known, kelvin, _DAYLIGHT_FROM_KELVIN))
    shift = find_delta_e_2000(_show(light, light), _show(reference, reference))
    return np.where(known, _score(shift[..., :_COUNTED]), np.nan)


def find_tlmf(power: ArrayLike, other: ArrayLike) -> Array:
    """Find the television luminaire matching factor of lights beside another light.

    Parameters
    ----------
    power, other
        (..., 401) relative spectral power, broadcast against each other; the camera is balanced
        on the other, and both light the white patch to one luma.

    Returns
    -------
    ndarray
        (...,) Qa, 0 to 100 (EBU Tech 3355). Not symmetric.
    """
    light, balanced = _take_bands(power), _take_bands(other)
    shift = find_delta_e_2000(_show(light, balanced), _show(balanced, balanced))
    return _score(shift)


def _take_bands(power: ArrayLike) -> Array:
    weights = make_band_weights(_STEP_NM)[:, :_COUNT]
    return np.asarray(np.maximum(np.asarray(power, dtype=np.float64) @ weights, 0.0))


def _radiate_reference(kelvin: Array) -> Array:
    """Make the reference of a CCT, (..., 77), 1 at 560 nm (1.1.2)."""
    old = kelvin * (_OLD_C2 / _C2)
    share = (old - _BLACK_BODY_TO_KELVIN) / (_DAYLIGHT_FROM_KELVIN - _BLACK_BODY_TO_KELVIN)
    share = np.where(kelvin >= _DAYLIGHT_FROM_KELVIN, 1.0, np.clip(share, 0.0, 1.0))[..., None]
    nm = load_television_table()[:, 0]
    warm = np.minimum(old, _BLACK_BODY_TO_KELVIN)[..., None]
    body = nm**-5.0 / np.expm1(_OLD_C2 * 1e9 / (nm * warm))
    body = body / body[..., _AT_560_NM, None]
    day = radiate_daylight(np.maximum(kelvin, _DAYLIGHT_FROM_KELVIN))[..., _GRID]
    return np.asarray((1.0 - share) * body + share * day / day[..., _AT_560_NM, None])


def _show(light: Array, balanced: Array) -> Array:
    """Take the 24 surfaces through camera and screen to CIELAB, (..., 24, 3)."""
    table = load_television_table()
    camera, surfaces = table[:, 1:4], table[:, 4:]
    white = balanced @ camera
    raw = np.einsum("...n,ns,nc->...sc", light, surfaces, camera, optimize=True)
    # the light's own white, brought to the luma of the white that the camera is balanced on
    level = (light @ camera / white) @ _MATRIX.T @ _SCREEN[1]
    linear = raw / (_WHITE * white * (level / _SCREEN[1].sum())[..., None])[..., None, :]
    linear = linear @ _MATRIX.T @ _SATURATION
    # Rec. ITU-R BT.709, 1.2; Rec. ITU-R BT.1886 with a black of 0
    high = 1.099 * np.maximum(linear, 0.018) ** 0.45 - 0.099
    signal = np.where(linear < 0.018, 4.5 * linear, high)
    shown = np.maximum(signal, 0.0) ** 2.4
    return find_lab(shown @ _SCREEN.T, _SCREEN.sum(axis=1))


def _score(shift: Array) -> Array:
    mean = (shift**_MEAN_POWER).mean(-1) ** (1.0 / _MEAN_POWER)
    return np.asarray(100.0 / (1.0 + (mean / _HALF_AT) ** _STEEPNESS))
