"""How different two colours look: CIELAB and the CIEDE2000 colour difference.

A difference of 1 can just be told by trained eyes with the two fields side by side; 2 to 3 passes
in a picture; over 5 anybody sees it. The formula was fitted on pairs of surface colours up to a
difference of about 5, beyond which it only ranks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

TOLD_CIEDE2000 = 1.0
"""From where on two colours side by side can be told apart; common practice, no source."""
_KNEE = 6.0 / 29.0  # CIE 15:2018, 8.2.1.1
_POWER_7_OF_25 = 25.0**7
_OPPOSITE = 180.0 + 1e-9  # so that rounding does not decide which way round opposite hues turn


def find_lab(xyz: ArrayLike, white_xyz: ArrayLike) -> Array:
    """Convert tristimulus values to CIELAB (CIE 15:2018, 8.2.1.1).

    Parameters
    ----------
    xyz
        (..., 3), in the unit of ``white_xyz``. Negative values, which no surface has but a
        matrix can make, go down the straight piece of the curve.
    white_xyz
        (..., 3) of the white that is adapted to, above 0; its leading axes broadcast.

    Returns
    -------
    ndarray
        (..., 3): L*, a*, b*.
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white_xyz, dtype=np.float64)
    root = np.cbrt(np.maximum(ratio, _KNEE**3))
    f = np.where(ratio > _KNEE**3, root, ratio / (3.0 * _KNEE**2) + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def find_delta_e_2000(lab_1: ArrayLike, lab_2: ArrayLike) -> Array:
    """Compute the CIEDE2000 difference of pairs of colours (ISO/CIE 11664-6:2022).

    Parameters
    ----------
    lab_1, lab_2
        (..., 3) CIELAB of the two colours; leading axes broadcast. The result does not depend on
        which comes first.

    Returns
    -------
    ndarray
        (...), 0 or more, with the parametric factors k_L = k_C = k_H = 1. The mean hue and the sign
        of the hue difference follow Sharma, Wu and Dalal (2005), "The CIEDE2000 color-difference
        formula", equations 7 to 14, which settle what the standard's text leaves open.
    """
    first, second = np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64)
    chroma_ab = np.hypot(first[..., 1], first[..., 2]) + np.hypot(second[..., 1], second[..., 2])
    power = (chroma_ab / 2.0) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(power / (power + _POWER_7_OF_25))
    a_1, a_2 = stretch * first[..., 1], stretch * second[..., 1]
    b_1, b_2 = first[..., 2], second[..., 2]
    c_1, c_2 = np.hypot(a_1, b_1), np.hypot(a_2, b_2)
    hue_1 = np.degrees(np.arctan2(b_1, a_1)) % 360.0
    hue_2 = np.degrees(np.arctan2(b_2, a_2)) % 360.0

    grey = c_1 * c_2 == 0.0
    turn = hue_2 - hue_1
    turn = np.where(turn > _OPPOSITE, turn - 360.0, np.where(turn < -_OPPOSITE, turn + 360.0, turn))
    turn = np.where(grey, 0.0, turn)
    total = hue_1 + hue_2
    far = np.abs(hue_1 - hue_2) > _OPPOSITE
    around = np.where(total < 360.0, total + 360.0, total - 360.0)
    hue = np.where(grey, total, np.where(far, around, total) / 2.0)

    lightness = (first[..., 0] + second[..., 0]) / 2.0
    chroma = (c_1 + c_2) / 2.0
    weight_hue = (
        1.0
        - 0.17 * _cos(hue - 30.0)
        + 0.24 * _cos(2.0 * hue)
        + 0.32 * _cos(3.0 * hue + 6.0)
        - 0.20 * _cos(4.0 * hue - 63.0)
    )
    off_middle = (lightness - 50.0) ** 2
    scale_l = 1.0 + 0.015 * off_middle / np.sqrt(20.0 + off_middle)
    scale_c = 1.0 + 0.045 * chroma
    scale_h = 1.0 + 0.015 * chroma * weight_hue
    power = chroma**7
    rotation = -2.0 * np.sqrt(power / (power + _POWER_7_OF_25))
    rotation *= np.sin(np.radians(60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2))))

    part_l = (second[..., 0] - first[..., 0]) / scale_l
    part_c = (c_2 - c_1) / scale_c
    part_h = 2.0 * np.sqrt(c_1 * c_2) * np.sin(np.radians(turn / 2.0)) / scale_h
    squared = part_l**2 + part_c**2 + part_h**2 + rotation * part_c * part_h
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))


def _cos(degrees: Array) -> Array:
    return np.asarray(np.cos(np.radians(degrees)))
