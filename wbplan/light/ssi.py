"""How alike two lights are: the spectral similarity index, and the gap in a crew's own terms.

The index compares spectra, not colours, so it holds for any camera: two lights that it calls alike
look alike to every sensor. The gap says what the eye sees between two lights, and what
ideal filter would close it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv, find_uv_prime, find_xy
from wbplan.light.filters import shape_ideal_filter
from wbplan.light.illuminants import DAYLIGHT_RANGE_KELVIN, radiate_reference
from wbplan.light.spectrum import WAVELENGTHS_NM

_FIRST_NM, _LAST_NM, _BAND_NM = 375, 675, 10
_MOST_MIRED, _MOST_CC = 500.0, 200.0
_STEPS, _CLOSE = 40, 1e-10  # u', v'


def radiate_ssi_reference(cct_kelvin: ArrayLike) -> Array:
    """Make the reference a light is compared with when no other is stated, (...,) to (..., 401).

    CIE daylight of the same CCT from 4000 K up, black body under it; see `radiate_reference`.
    """
    return radiate_reference(cct_kelvin, DAYLIGHT_RANGE_KELVIN[0])


def find_similarity(test: ArrayLike, reference: ArrayLike) -> Array:
    """Find the spectral similarity index of lights against a stated reference.

    Parameters
    ----------
    test, reference
        (..., 401) relative spectral power, broadcast against each other.

    Returns
    -------
    ndarray
        (...,), 100 for equal shapes, unrounded; it can go under 0 (SMPTE ST 2122:2020). Not
        symmetric: the reference weighs the differences. The standard begins at 375 nm and the
        shared grid at 380: the value there is held for both, which moves the index by under 0.2
        over the CIE illuminants.
    """
    weights = _make_ssi_weights()
    one, two = (np.asarray(each, dtype=np.float64) @ weights for each in (test, reference))
    with np.errstate(invalid="ignore", divide="ignore"):
        one = one / one.sum(-1, keepdims=True)
        two = two / two.sum(-1, keepdims=True)
    relative = (one - two) / (two + 1.0 / one.shape[-1])
    # the ends of the range count little, as in any camera
    ends = np.ones(one.shape[-1])
    ends[:5] = np.array([12.0, 22.0, 32.0, 40.0, 44.0]) / 45.0
    ends[-2:] = np.array([11.0, 3.0]) / 15.0
    weighted = relative * ends
    padded = np.pad(weighted, [(0, 0)] * (weighted.ndim - 1) + [(1, 1)])
    smooth = 0.22 * padded[..., :-2] + 0.56 * padded[..., 1:-1] + 0.22 * padded[..., 2:]
    return np.asarray(100.0 - 32.0 * np.sqrt((smooth**2).sum(-1)))


def _make_ssi_weights() -> Array:
    """Weights (401, 30) of the trapezoids over 10 nm from 375 to 675 nm."""
    grid = np.arange(_FIRST_NM, _LAST_NM + 1)
    row = np.maximum(grid - int(WAVELENGTHS_NM[0]), 0)
    bands = (_LAST_NM - _FIRST_NM) // _BAND_NM
    weights = np.zeros((WAVELENGTHS_NM.size, bands))
    for band in range(bands):
        inside = slice(_BAND_NM * band, _BAND_NM * (band + 1) + 1)
        share = np.ones(_BAND_NM + 1)
        share[[0, -1]] = 0.5
        np.add.at(weights[:, band], row[inside], share)
    return weights


class Gap(NamedTuple):
    """What lies between lights and another, to the eye; every field (...,).

    ``mired`` is that of the light less that of the other, by CCT [mired, + warmer]; NaN where one
    has no CCT. ``closing_mired`` and ``closing_cc`` are the ideal filter that on the light gives
    the chromaticity of the other (+ warms, + plus green); NaN where no filter within 500 mired
    and 200 CC does. ``xy`` and ``uv_prime`` are distances; ``ssi`` takes the other as reference.
    """

    mired: Array
    duv: Array
    closing_mired: Array
    closing_cc: Array
    xy: Array
    uv_prime: Array
    ssi: Array


def find_gap(power: ArrayLike, other: ArrayLike) -> Gap:
    """Find the gap from lights to another light.

    Parameters
    ----------
    power, other
        (..., 401) relative spectral power, broadcast against each other.
    """
    one, two = np.broadcast_arrays(
        np.asarray(power, dtype=np.float64), np.asarray(other, dtype=np.float64)
    )
    eye, their = find_cct_duv(one), find_cct_duv(two)
    xy, their_xy = find_xy(one), find_xy(two)
    shape = one.shape[:-1]
    wanted = find_uv_prime(their_xy).reshape(-1, 2)
    closing = _close_gap(one.reshape(-1, WAVELENGTHS_NM.size), wanted)
    return Gap(
        1e6 / eye[..., 0] - 1e6 / their[..., 0],
        eye[..., 1] - their[..., 1],
        closing[:, 0].reshape(shape),
        closing[:, 1].reshape(shape),
        np.linalg.norm(xy - their_xy, axis=-1),
        np.linalg.norm(find_uv_prime(xy) - find_uv_prime(their_xy), axis=-1),
        find_similarity(one, two),
    )


def _close_gap(power: Array, wanted: Array) -> Array:
    """Solve the ideal filters (n, 2), mired and CC, that bring lights to u', v' (n, 2), or NaN."""

    def miss(mired: Array, cc: Array) -> Array:
        return np.asarray(find_uv_prime(find_xy(power * shape_ideal_filter(mired, cc))) - wanted)

    mired, cc = np.zeros(power.shape[0]), np.zeros(power.shape[0])
    here = miss(mired, cc)
    for _ in range(_STEPS):
        if np.abs(here).max(initial=0.0) < _CLOSE:
            break
        # One-sided and away from 0 CC, where the filter's green part changes its shape.
        side = np.where((cc > 0) | ((cc == 0) & (here[:, 1] < 0)), 0.01, -0.01)
        slope = np.stack([(miss(mired + 0.1, cc) - here) / 0.1], axis=-1)
        slope = np.concatenate(
            [slope, ((miss(mired, cc + side) - here) / side[:, None])[..., None]], -1
        )
        det = np.linalg.det(slope)
        flat = np.abs(det) < 1e-16
        step = np.linalg.solve(np.where(flat[:, None, None], np.eye(2), slope), -here[..., None])
        step = np.where(flat[:, None], 0.0, step[..., 0])
        size = np.maximum(np.abs(step[:, 0]) / 80.0, np.abs(step[:, 1]) / 40.0)
        step /= np.maximum(size, 1.0)[:, None]
        mired = np.clip(mired + step[:, 0], -_MOST_MIRED, _MOST_MIRED)
        cc = np.clip(cc + step[:, 1], -_MOST_CC, _MOST_CC)
        here = miss(mired, cc)
    closed = np.abs(here).max(-1) < 1e-6
    return np.where(closed[:, None], np.stack([mired, cc], axis=-1), np.nan)
