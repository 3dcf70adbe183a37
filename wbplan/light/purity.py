"""Dominant wavelength and purity: how a coloured light is named when its CCT means nothing.

A line from the equal-energy white through the light's chromaticity meets the edge of all real
colours, which is the locus of single wavelengths and the straight line of purples that closes it.
Where it meets the locus is the dominant wavelength; a purple is named by the wavelength on the
other side, its complement.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM

EQUAL_ENERGY_XY = (1.0 / 3.0, 1.0 / 3.0)
_LEAST_DISTANCE = 1e-4  # x, y; nearer to white than this a direction is noise
_END_NM = 700.0  # beyond it the locus turns back on itself within the table's digits


class Dominance(NamedTuple):
    """The dominant wavelength of lights.

    ``wavelength_nm`` (...,) is NaN for a light that is white; ``is_complementary`` marks purples,
    named by the wavelength opposite; ``purity`` (...,) is the excitation purity, 0 for white and 1
    on the edge.
    """

    wavelength_nm: Array
    is_complementary: NDArray[np.bool_]
    purity: Array


def find_dominance(xy: ArrayLike) -> Dominance:
    """Find dominant wavelength and excitation purity against the equal-energy white.

    Parameters
    ----------
    xy
        (..., 2) chromaticity of the 1931 observer.

    Returns
    -------
    Dominance
        CIE 15:2018, 7.5 (dominant wavelength, excitation purity); between the table's nanometres
        the locus is taken as straight.
    """
    points = np.asarray(xy, dtype=np.float64)
    seen = WAVELENGTHS_NM <= _END_NM
    observer = load_table("observer")[seen]
    locus = observer[:, :2] / observer.sum(-1, keepdims=True)
    ring = np.concatenate([locus, locus[:1]])  # the last side is the line of purples
    start, side = ring[:-1], np.diff(ring, axis=0)
    offset = points - EQUAL_ENERGY_XY

    def meet(direction: Array) -> tuple[Array, Array, Array]:
        """Find where rays from white meet the ring: side, share of it, and how far [rays]."""
        ray = direction[..., None, :]
        from_white = start - EQUAL_ENERGY_XY
        across = ray[..., 0] * side[:, 1] - ray[..., 1] * side[:, 0]
        across = np.where(across == 0, np.nan, across)
        far = (from_white[:, 0] * side[:, 1] - from_white[:, 1] * side[:, 0]) / across
        share = (from_white[:, 0] * ray[..., 1] - from_white[:, 1] * ray[..., 0]) / across
        hit = (far > 0) & (share >= -1e-12) & (share <= 1 + 1e-12)
        number = np.where(hit, far, -np.inf).argmax(-1)
        pick = number[..., None]
        return (
            number,
            np.take_along_axis(share, pick, -1)[..., 0],
            np.take_along_axis(far, pick, -1)[..., 0],
        )

    with np.errstate(invalid="ignore"):
        coloured = np.hypot(offset[..., 0], offset[..., 1]) > _LEAST_DISTANCE
        direction = np.where(coloured[..., None], offset, 1.0)
        number, share, far = meet(direction)
        opposite, opposite_share, _ = meet(-direction)
        purple = number == locus.shape[0] - 1
        side_number = np.where(purple, opposite, number)
        part = np.where(purple, opposite_share, share)
        wavelength = WAVELENGTHS_NM[seen][side_number] + part
        return Dominance(
            np.where(coloured, wavelength, np.nan),
            purple & coloured,
            np.where(coloured, 1.0 / far, 0.0),
        )
