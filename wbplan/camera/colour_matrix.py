"""The matrix from balanced camera RGB to colour, fitted on published reflectances with white kept.

Idea
----
A camera balanced on a light gives a perfect white 1, 1, 1; a matrix then makes colours of its RGB.
Makers' own matrices are not known, so one is fitted on the 99 colour samples of CIE 224:2017 under
that light. White has to come out exactly, so only the differences from grey are free, and only
those of two channels: two numbers for each row, the third makes up the white (Finlayson and Drew
1997, white-point preserving least squares). Each surface is weighted by the inverse of its
luminance, so that dark colours count by their relative error.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import respond
from wbplan.core.tables import Array, load_table
from wbplan.light.colorimetry import find_tristimulus

_LEAST_COLOUR = 1e-6  # of all surfaces together, against white


def find_balanced_rgb(light: ArrayLike, surfaces: ArrayLike, sensitivities: ArrayLike) -> Array:
    """Find what cameras balanced on lights make of surfaces, white at (1, 1, 1).

    Parameters
    ----------
    light
        (..., 401) relative spectral power.
    surfaces
        (m, 401) reflectances.
    sensitivities
        (k, 401, 3) for k cameras, or (401, 3) for one.

    Returns
    -------
    ndarray
        (..., k, m, 3), or (..., m, 3) for one camera.
    """
    power = np.asarray(light, dtype=np.float64)
    curves = np.asarray(sensitivities, dtype=np.float64)
    lit = power[..., None, :] * np.asarray(surfaces, dtype=np.float64)
    raw = respond(lit.reshape(-1, lit.shape[-1]), curves)  # one product, not one for each light
    raw = raw.reshape((*lit.shape[:-1], *raw.shape[1:]))
    if curves.ndim == 2:
        return np.asarray(raw / respond(power, curves)[..., None, :])
    return np.asarray(np.moveaxis(raw / respond(power, curves)[..., None, :, :], -2, -3))


def fit_white_kept(rgb: ArrayLike, wanted: ArrayLike, white: ArrayLike) -> Array:
    """Fit the matrix that brings colours (..., m, 3) to wanted ones, white kept exactly.

    Parameters
    ----------
    rgb
        (..., m, 3) of m surfaces, white at (1, 1, 1).
    wanted
        (..., m, 3) of the same surfaces; each is weighted by the inverse of its second number.
    white
        (..., 3) what (1, 1, 1) is to become.

    Returns
    -------
    ndarray
        (..., 3, 3). Surfaces without any colour say nothing of it: such directions are left at
        grey.
    """
    a, b, to = (np.asarray(each, dtype=np.float64) for each in (rgb, wanted, white))
    weight = 1.0 / np.maximum(b[..., 1:2], 1e-6)
    grey = a[..., 1:2]
    free = (a - grey)[..., [0, 2]] * weight
    left, size, right = np.linalg.svd(free, full_matrices=False)
    inverse = np.where(size > _LEAST_COLOUR, 1.0 / np.maximum(size, _LEAST_COLOUR), 0.0)
    turned = np.swapaxes(left, -1, -2) @ ((b - grey * to[..., None, :]) * weight)
    part = np.swapaxes(np.swapaxes(right, -1, -2) @ (turned * inverse[..., None]), -1, -2)
    return np.stack([part[..., 0], to - part.sum(axis=-1), part[..., 1]], axis=-1)


def fit_colour_matrix(sensitivities: ArrayLike, light: ArrayLike) -> Array:
    """Fit the matrix from balanced camera RGB to XYZ, for one camera or many, one light or many.

    Parameters
    ----------
    sensitivities
        (k, 401, 3) for k cameras, or (401, 3) for one.
    light
        (..., 401) relative spectral power that the cameras are balanced on.

    Returns
    -------
    ndarray
        (..., k, 3, 3), or (..., 3, 3) for one camera: XYZ with Y = 1 for white.
    """
    power, samples = np.asarray(light, dtype=np.float64), load_table("samples")
    white = find_tristimulus(power)
    xyz = find_tristimulus(samples * power[..., None, :]) / white[..., None, 1:2]
    white = white / white[..., 1:2]
    if np.ndim(sensitivities) == 3:
        xyz, white = xyz[..., None, :, :], white[..., None, :]
    return fit_white_kept(find_balanced_rgb(power, samples, sensitivities), xyz, white)
