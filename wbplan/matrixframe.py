"""What a published camera matrix says, as a frame to learn from.

Open raw formats carry a matrix from XYZ to camera RGB for each of two calibration lights (the
algorithm is open: DNG 1.6, chapter 6). Applied to surfaces under its light, it predicts what that
camera would read, as well as a 3x3 can: a frame with an error of a few percent.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.colorimetry import find_tristimulus
from wbplan.learning import Frame
from wbplan.tables import Array

MATRIX_NOISE = 0.03  # what a 3x3 fit misses on a chart's colours, of the order; common practice


def make_matrix_frame(
    name: str,
    light: ArrayLike,
    xyz_to_camera: ArrayLike,
    reflectances: Array,
    surfaces: tuple[str, ...],
) -> Frame:
    """Turn a matrix and its light into a frame.

    Parameters
    ----------
    light
        (401,) the calibration light.
    xyz_to_camera
        (3, 3), of any scale.
    reflectances
        (m, 401) of surfaces with m names; those that the matrix turns negative are left out.

    Raises
    ------
    ValueError
        If fewer than six surfaces stay positive: no camera has such a matrix.
    """
    power = np.asarray(light, dtype=np.float64) * reflectances
    raw = find_tristimulus(power) @ np.asarray(xyz_to_camera, dtype=np.float64).T
    white = find_tristimulus(light)[1]
    good = (raw > 0.005 * white * np.abs(np.asarray(xyz_to_camera)).max()).all(axis=1)
    if good.sum() < 6:
        raise ValueError("the matrix turns most colours negative")
    kept = tuple(each for each, use in zip(surfaces, good, strict=True) if use)
    return Frame(name, power[good], raw[good], kept, "matrix", MATRIX_NOISE)
