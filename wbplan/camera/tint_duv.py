"""Tint along Duv: the way of cameras that count tint across the black-body locus.

Idea
----
Such a camera turns its balanced RGB into a chromaticity by the matrix it uses at that Kelvin, and
its tint moves the white across the black-body direction of the 1960 u, v diagram. So a neutral
wants the Kelvin at which its offset from the reference white has no part along the locus, and
the part across it is the tint. Matrices are fitted on published reflectances, since makers' own
are not known, and tabulated over mired like the locus itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_matrix import fit_colour_matrix
from wbplan.camera.sensitivities import STOPS_PER_CC
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_tristimulus, find_uv_1960
from wbplan.light.illuminants import (
    RATED_UNDER_KELVIN,
    find_mired,
    radiate_black_body,
    radiate_locus,
)

_STEP = 1e-4
_LEAST = 1e-9


@dataclass(frozen=True, eq=False)
class DuvTint:
    """What a camera whose tint works along Duv needs at each Kelvin.

    ``mired`` (n,) of the table. ``matrices`` (n, 3, 3) from RGB balanced for the reference light to
    XYZ. ``across`` (n, 2) unit vectors of +Duv in 1960 u, v. ``duv_per_cc`` is the Duv of one
    CC, the same at every Kelvin: that which moves green by 1 CC at 5500 K.
    """

    mired: Array
    matrices: Array
    across: Array
    duv_per_cc: float


def tabulate_duv_tint(sensitivities: ArrayLike, mired: Array) -> DuvTint:
    """Tabulate the Duv tint of a profile (401, 3) at mired (n,), from 40 to 1000."""
    curves = np.asarray(sensitivities, dtype=np.float64)
    lights = radiate_locus(np.clip(find_mired(mired), 1000.0, 25000.0))
    matrices = fit_colour_matrix(curves, lights)
    ends = find_mired(mired[:, None] + np.array([-0.5, 0.5]))
    near = find_uv_1960(find_tristimulus(radiate_black_body(ends)))
    along = near[:, 1] - near[:, 0]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    unscaled = DuvTint(mired, matrices, across, 1.0)
    stops = find_tint_shift(unscaled, np.array([1e6 / RATED_UNDER_KELVIN]), np.array([_STEP]))[0]
    green = float(stops[1] - (stops[0] + stops[2]) / 2)
    return DuvTint(mired, matrices, across, _STEP / green * STOPS_PER_CC)


def _read(table: DuvTint, mired: Array) -> tuple[Array, Array]:
    low = np.clip(np.searchsorted(table.mired, mired, side="right") - 1, 0, table.mired.size - 2)
    share = (mired - table.mired[low]) / (table.mired[low + 1] - table.mired[low])
    matrix = table.matrices[low]
    matrix = matrix + share[..., None, None] * (table.matrices[low + 1] - matrix)
    across = table.across[low] + share[..., None] * (table.across[low + 1] - table.across[low])
    return matrix, across / np.linalg.norm(across, axis=-1, keepdims=True)


def find_duv_offset(table: DuvTint, mired: Array, stops: Array) -> tuple[Array, Array]:
    """Find where neutrals lie from the reference white.

    Parameters
    ----------
    mired
        (...,) of the reference light.
    stops
        (..., 3) log2 of the neutral's response over that to the reference light.

    Returns
    -------
    tuple
        The offset along the locus (+ = warmer) in 1960 u, v, and the tint in CC, (...,) each.
    """
    matrix, across = _read(table, mired)
    level = stops - stops.max(axis=-1, keepdims=True)
    xyz = np.einsum("...ij,...j->...i", matrix, np.exp2(level))
    # A neutral that the matrix throws out of the diagram stays finite, far out on its side.
    xyz[..., 1] = np.maximum(xyz[..., 1], _LEAST)
    offset = find_uv_1960(xyz) - find_uv_1960(matrix.sum(axis=-1))
    along = np.stack([across[..., 1], -across[..., 0]], axis=-1)
    return (offset * along).sum(-1), (offset * across).sum(-1) / table.duv_per_cc


def find_tint_shift(table: DuvTint, mired: Array, tint_cc: Array) -> Array:
    """Find what a tint does to a setting's neutral, (..., 3) [stops]; the level is free."""
    matrix, across = _read(table, mired)
    place = find_uv_1960(matrix.sum(axis=-1)) + (tint_cc * table.duv_per_cc)[..., None] * across
    u, v = place[..., 0], place[..., 1]
    xyz = np.stack([1.5 * u, v, (4.0 - u - 10.0 * v) / 2.0], axis=-1) / v[..., None]
    rgb = np.linalg.solve(matrix, xyz[..., None])[..., 0]
    return np.asarray(np.log2(np.maximum(rgb, _LEAST)))
