"""Random numbers that belong to a thing, not to its place in a list.

Each pair of marks (a light's and a position's digest, say) has a stretch of its own in one
counter-based stream, Philox 4x64-10 (Salmon et al. 2011), so what is drawn for one thing stays the
same whatever else there is and in whatever order. What is drawn is the order in which it meets the
middles of equal shares of the distribution (a Latin hypercube), so that one thing alone has the
distribution's own spread, whatever its marks.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wbplan.core.digest import digest_values
from wbplan.core.tables import Array


def draw_normals(seed: int, count: int, rows: Sequence[str], columns: Sequence[str]) -> Array:
    """Draw from the standard normal distribution for pairs of marks.

    Parameters
    ----------
    seed
        What the numbers are for.
    count
        How many for each pair.
    rows, columns
        Marks, any text; equal marks get equal numbers.

    Returns
    -------
    ndarray
        (rows, columns, count).
    """
    from statistics import NormalDist

    stream = np.random.Philox(key=seed)
    state = stream.state
    own, other = ([int(digest_values(x)[:16], 16) for x in marks] for marks in (rows, columns))
    normal = NormalDist()
    middles = np.array([normal.inv_cdf((each + 0.5) / count) for each in range(count)])
    lots = np.empty((len(own), len(other), count), dtype=np.uint64)
    for row, one in enumerate(own):
        for column, two in enumerate(other):
            state["state"]["counter"][:] = (0, one, two, 0)
            stream.state = state
            lots[row, column] = stream.random_raw(count)
    return np.asarray(middles[lots.argsort(axis=-1)])
