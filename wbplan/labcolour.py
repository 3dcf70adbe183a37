"""CIELAB and the CIEDE2000 difference, for whole batches of colours at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.tables import Array

_LINEAR_BELOW = (6.0 / 29.0) ** 3
_TO_THE_7 = 25.0**7


def find_lab(xyz: ArrayLike, white: ArrayLike) -> Array:
    """Convert XYZ to CIELAB.

    Parameters
    ----------
    xyz
        (..., 3); a camera's matrix may give a little under 0, which the linear part carries.
    white
        (..., 3) of the white, broadcast against ``xyz``, in the same unit.

    Returns
    -------
    ndarray
        (..., 3) L*, a*, b* (ISO/CIE 11664-4:2019).
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    cube = np.cbrt(np.maximum(ratio, _LINEAR_BELOW))
    f = np.where(ratio > _LINEAR_BELOW, cube, ratio * (29.0 / 6.0) ** 2 / 3.0 + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def find_ciede2000(lab_one: ArrayLike, lab_two: ArrayLike) -> Array:
    """Find the CIEDE2000 colour difference, kL = kC = kH = 1.

    Parameters
    ----------
    lab_one, lab_two
        (..., 3) L*, a*, b*, broadcast against each other; the order does not count.

    Returns
    -------
    ndarray
        (...,) (ISO/CIE 11664-6:2014; the hue rules as Sharma, Wu and Dalal 2005 settle them).
        About 1 can just be told side by side.
    """
    one, two = np.broadcast_arrays(
        np.asarray(lab_one, dtype=np.float64), np.asarray(lab_two, dtype=np.float64)
    )
    mean_chroma = (np.hypot(one[..., 1], one[..., 2]) + np.hypot(two[..., 1], two[..., 2])) / 2
    stretch = 1.5 - 0.5 * np.sqrt(mean_chroma**7 / (mean_chroma**7 + _TO_THE_7))
    a1, b1, a2, b2 = stretch * one[..., 1], one[..., 2], stretch * two[..., 1], two[..., 2]
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360.0, np.degrees(np.arctan2(b2, a2)) % 360.0
    no_hue = c1 * c2 == 0

    turn = h2 - h1
    turn = turn - 360.0 * (turn > 180.0) + 360.0 * (turn < -180.0)
    turn = np.where(no_hue, 0.0, turn)
    d_hue = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2.0)
    d_light, d_chroma = two[..., 0] - one[..., 0], c2 - c1

    light, chroma, total = (one[..., 0] + two[..., 0]) / 2, (c1 + c2) / 2, h1 + h2
    apart = np.abs(h1 - h2) > 180.0
    around = np.where(total < 360.0, 180.0, -180.0)
    hue = np.where(no_hue, total, total / 2 + np.where(apart, around, 0.0))
    weight = (
        1.0
        - 0.17 * np.cos(np.radians(hue - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * hue))
        + 0.32 * np.cos(np.radians(3.0 * hue + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * hue - 63.0))
    )
    level = (light - 50.0) ** 2
    s_light = 1.0 + 0.015 * level / np.sqrt(20.0 + level)
    s_chroma, s_hue = 1.0 + 0.045 * chroma, 1.0 + 0.015 * chroma * weight
    tilt = 60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2))
    rotation = -2.0 * np.sqrt(chroma**7 / (chroma**7 + _TO_THE_7)) * np.sin(np.radians(tilt))
    l, c, h = d_light / s_light, d_chroma / s_chroma, d_hue / s_hue  # noqa: E741
    return np.asarray(np.sqrt(np.maximum(l**2 + c**2 + h**2 + rotation * c * h, 0.0)))
