"""Scene-linear ACES AP0 (ACES2065-1), as cameras and as a standard observer give it.

A camera's picture gets there as any encoding's gamut is reached (`lut.correction`): gains, then
the matrix of the Kelvin that is set, so a balanced neutral has three equal values, as the input
transforms of ACES are made (Academy P-2013-001, from memory). An observer's XYZ has no setting;
it is adapted from the white that the Kelvin stands for to that of ACES, which puts it on the same
footing as a picture balanced for that Kelvin.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.tables import Array, load_table
from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.lut.correction import adapt_white


def find_ap0() -> Encoding:
    """Look up linear ACES2065-1: primaries AP0, white at 0.32168, 0.33767."""
    return find_encoding("Linear", "ACES2065-1")


def find_setting_white(kelvin: float) -> Array:
    """Find XYZ (3,), Y = 1, of the reference light that a Kelvin stands for."""
    xyz = find_tristimulus(radiate_locus(np.clip(kelvin, *LOCUS_RANGE_KELVIN)))
    return np.asarray(xyz / xyz[1])


def find_family_matrices(sensitivities: ArrayLike, encoding: Encoding, kelvin: float) -> Array:
    """Find the matrices from balanced RGB of many cameras to an encoding's linear RGB at a Kelvin.

    Parameters
    ----------
    sensitivities
        (k, 401, 3).

    Returns
    -------
    ndarray
        (k, 3, 3): for each camera what `correction.find_camera_matrix` finds for one, with the
        same fit, the same surfaces and white kept.
    """
    curves = np.asarray(sensitivities, dtype=np.float64)
    observer, surfaces = load_table("observer"), load_table("samples")
    light = radiate_locus(np.clip(kelvin, *LOCUS_RANGE_KELVIN))
    seen = surfaces * light
    white = find_setting_white(kelvin)
    xyz = seen @ observer / (light @ observer)[1]
    weight = 1.0 / xyz[:, 1:2]
    rgb = np.swapaxes(np.tensordot(curves, seen, (1, 1)), 1, 2) / (light @ curves)[:, None, :]
    grey = rgb[..., 1:2]
    free = (rgb - grey)[..., [0, 2]] * weight
    wanted = (xyz - grey * white) * weight
    part = np.linalg.pinv(free) @ wanted  # (k, 2, 3)
    fitted = np.empty((curves.shape[0], 3, 3))
    fitted[..., [0, 2]] = np.swapaxes(part, 1, 2)
    fitted[..., 1] = white - part.sum(axis=1)
    x, y = encoding.white_xy
    adapted = adapt_white(white, np.array([x / y, 1.0, (1.0 - x - y) / y])) @ fitted
    matrix = np.linalg.inv(encoding.rgb_to_xyz) @ adapted
    return np.asarray(matrix / matrix.sum(axis=-1, keepdims=True))


def adapt_to_encoding(xyz: ArrayLike, encoding: Encoding, kelvin: float) -> Array:
    """Turn XYZ (..., 3) into an encoding's linear RGB, adapted from the white of a Kelvin.

    Bradford (Lam 1985), as the gamut conversions of ACES use it; the reference light of the Kelvin
    comes out with three equal values.
    """
    x, y = encoding.white_xy
    target = np.array([x / y, 1.0, (1.0 - x - y) / y])
    matrix = np.linalg.inv(encoding.rgb_to_xyz) @ adapt_white(find_setting_white(kelvin), target)
    return np.asarray(np.asarray(xyz, dtype=np.float64) @ matrix.T)
