"""Points that fill a box evenly and without chance, for bands that can be made again."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from wbplan.core.tables import Array

_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37)


def spread_evenly(count: int, columns: Iterable[int]) -> Array:
    """Spread points between 0 and 1, (count, columns).

    Each column holds the middles of ``count`` equal steps, in the order of the multiples of a
    prime's square root (Kronecker): a Latin hypercube whose columns hardly go together. Column
    numbers run from 0 to 11, so that two calls with others can be laid side by side.
    """
    number = np.arange(1, count + 1)
    roots = np.sqrt([_PRIMES[each] for each in columns])
    rank = np.argsort(np.argsort((number[:, None] * roots) % 1.0, axis=0), axis=0)
    return np.asarray((rank + 0.5) / count)
