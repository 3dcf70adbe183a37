"""Coordinates of very many neutrals at once, off a table that is made once for a camera.

Idea
----
Where tint moves green alone, mired depends on red against blue only, and tint is green less
what the locus has there: two functions of one number, tabulated evenly in stops, so that a reading
is an index and a straight line. With 32 768 points it stays within 0.001 mired and 0.001 CC of
`setting.solve_coordinates`. Where tint goes along Duv both depend on green as well: a
plane of 641 x 97 points, read bilinearly, in 99 of 100 places within 0.06 mired and 0.01 CC of
the solve and at worst 0.5 mired. Who ranks by the table solves again for what is reported.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wbplan.camera.sensitivities import STOPS_PER_CC
from wbplan.camera.setting import LocusResponse, find_locus_log2, solve_coordinates
from wbplan.core.tables import Array
from wbplan.light.spectrum import freeze

_POINTS = 32_768
_PLANE = (641, 97)
_PLANE_GREEN_STOPS = 0.75  # to either side: 22 CC
_BLOCKS = 256


@dataclass(frozen=True, eq=False)
class NeutralTable:
    """Mired and tint over red against blue [stops], from ``low`` to ``high``.

    ``mired`` and ``tint_cc`` are (n,) for a green tint, to which green / 0.0332 is added; for one
    along Duv they are (n, g), and the second axis is green from -0.75 to 0.75 stops about
    ``middle``, the mean green of the locus: how high a camera's curves stand is no tint.
    """

    low: float
    high: float
    mired: Array
    tint_cc: Array
    middle: float = 0.0

    @property
    def is_plane(self) -> bool:
        """Whether tint goes along Duv."""
        return self.mired.ndim == 2

    def read(self, red_blue: Array, green: Array) -> tuple[Array, Array, np.ndarray]:
        """Read mired, CC and whether the neutral lies within the table, all (...,).

        ``red_blue`` is log2 R/B and ``green`` log2 G less the mean of the two [stops].
        """
        inside = (red_blue >= self.low) & (red_blue <= self.high)
        row, part = self._find_row(red_blue)
        if not self.is_plane:
            mired = self.mired[row]
            tint = self.tint_cc[row]
            mired = mired + part * (self.mired[row + 1] - mired)
            tint = tint + part * (self.tint_cc[row + 1] - tint)
            return np.asarray(mired), np.asarray(tint + green * (1.0 / STOPS_PER_CC)), inside
        above = green - self.middle
        inside &= np.abs(above) <= _PLANE_GREEN_STOPS
        across = self.mired.shape[1]
        height = (above + _PLANE_GREEN_STOPS) * ((across - 1) / (2 * _PLANE_GREEN_STOPS))
        height = np.minimum(np.maximum(height, 0.0), across - 1.000001)
        column = np.maximum(height.astype(np.intp), 0)
        share = height - column

        def blend(plane: Array) -> Array:
            left = plane[row, column] * (1 - share) + plane[row, column + 1] * share
            right = plane[row + 1, column] * (1 - share) + plane[row + 1, column + 1] * share
            return np.asarray(left + part * (right - left))

        return blend(self.mired), blend(self.tint_cc), inside

    def read_mired(self, red_blue: Array) -> Array:
        """Read mired alone, of a line table."""
        row, part = self._find_row(red_blue)
        mired = self.mired.take(row)
        return np.asarray(mired + part * (self.mired.take(row + 1) - mired))

    def _find_row(self, red_blue: Array) -> tuple[np.ndarray, Array]:
        """Find the row below a reading and which share of the way to the next it lies."""
        count = self.mired.shape[0]
        place = (red_blue - self.low) * ((count - 1) / (self.high - self.low))
        place = np.minimum(np.maximum(place, 0.0), count - 1.000001)
        row = np.maximum(place.astype(np.intp), 0)  # a dark place has no number, and no row
        return row, np.asarray(place - row)


def tabulate_neutrals(locus: LocusResponse) -> NeutralTable:
    """Tabulate one camera (k = 1)."""
    ends = find_locus_log2(locus, locus.edges[[0, -1], None])[:, 0]
    low, high = (float(each[0] - each[2]) for each in ends)
    middle = 0.0
    if locus.duv is None:
        red_blue: Array = np.linspace(low, high, _POINTS)
        green: Array = np.zeros(_POINTS)
    else:
        along = find_locus_log2(locus, locus.edges[:, None])[:, 0]
        middle = float(np.mean(along[:, 1] - (along[:, 0] + along[:, 2]) / 2))
        across = middle + np.linspace(-_PLANE_GREEN_STOPS, _PLANE_GREEN_STOPS, _PLANE[1])
        red_blue = np.repeat(np.linspace(low, high, _PLANE[0])[:, None], across.size, axis=1)
        green = np.broadcast_to(across, red_blue.shape)
    neutral = np.stack([red_blue / 2, green, -red_blue / 2], axis=-1)[..., None, :]
    found = solve_coordinates(locus, neutral)
    return NeutralTable(
        low, high, freeze(found.mired[..., 0]), freeze(found.tint_cc[..., 0]), middle
    )


@dataclass(frozen=True, eq=False)
class RangeTable:
    """Least and greatest tint of a line table over any interval of red against blue.

    ``least`` and ``greatest`` (levels, n) hold blocks of 2^level neighbours.
    """

    low: float
    high: float
    least: Array
    greatest: Array

    def read(self, low: Array, high: Array) -> tuple[Array, Array]:
        """Read the least and greatest value between low and high [stops], a block wider at most."""
        blocks = self.least.shape[1]
        scale = blocks / (self.high - self.low)
        first = np.clip(((low - self.low) * scale).astype(np.intp), 0, blocks - 1)
        last = np.clip(((high - self.low) * scale).astype(np.intp), 0, blocks - 1)
        last = np.maximum(first, last)
        level = np.log2(last - first + 1.0).astype(np.intp)
        second = last + 1 - (1 << level)
        return (
            np.minimum(self.least[level, first], self.least[level, second]),
            np.maximum(self.greatest[level, first], self.greatest[level, second]),
        )


def tabulate_tint_ranges(table: NeutralTable) -> RangeTable:
    """Tabulate the tint ranges of a line table."""
    edges = np.linspace(0, table.tint_cc.size - 1, _BLOCKS + 1)
    pieces = [table.tint_cc[int(np.floor(a)) : int(np.ceil(b)) + 1] for a, b in pairwise(edges)]
    least = [np.array([each.min() for each in pieces])]
    greatest = [np.array([each.max() for each in pieces])]
    width = 1
    while 2 * width <= _BLOCKS:
        for rows, better in ((least, np.minimum), (greatest, np.maximum)):
            before = rows[-1]
            joined = before.copy()
            joined[: before.size - width] = better(before[:-width], before[width:])
            rows.append(joined)
        width *= 2
    return RangeTable(table.low, table.high, np.stack(least), np.stack(greatest))
