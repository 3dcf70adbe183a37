"""Values with the interval they lie in, and how an interval is taken from draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.band import BAND_SHARE
from wbplan.core.tables import Array


@dataclass(frozen=True)
class Interval:
    """A value and the interval it lies in; low and high equal it where nothing is unsure."""

    value: float
    low: float
    high: float

    @property
    def is_open(self) -> bool:
        """Whether the interval has any width."""
        return self.high > self.low

    def moved(self, by: float) -> Interval:
        """The same interval, moved up by an amount."""
        return Interval(self.value + by, self.low + by, self.high + by)


def find_ends(draws: ArrayLike, share: float = BAND_SHARE) -> tuple[Array, Array]:
    """Find the ends of the central intervals that hold a share of draws (..., k), each (...,).

    To the last bit those of ``np.quantile``, as `find_quantile` has it.
    """
    ordered = np.sort(np.asarray(draws, dtype=np.float64), axis=-1)
    return _read_ordered(ordered, (1 - share) / 2), _read_ordered(ordered, (1 + share) / 2)


def find_quantile(values: ArrayLike, share: float) -> Array:
    """Find the value under which a share of values (..., k) lies, (...,).

    To the last bit that of ``np.quantile``, whose overhead would be most of the time of a plan
    that is made at every keystroke.
    """
    given = np.asarray(values, dtype=np.float64)
    row = int((given.shape[-1] - 1) * share)
    needed = (row, min(row + 1, given.shape[-1] - 1), given.shape[-1] - 1)
    return _read_ordered(np.partition(given, needed, axis=-1), share)


def _read_ordered(ordered: Array, share: float) -> Array:
    """Read a quantile off values (..., k) from least to most; NaN where any is."""
    at = (ordered.shape[-1] - 1) * share
    row = int(at)
    below, part = ordered[..., row], at - row
    above = ordered[..., min(row + 1, ordered.shape[-1] - 1)]
    step = above - below
    end = below + step * part if part < 0.5 else above - step * (1 - part)
    return np.where(np.isnan(ordered[..., -1]), np.nan, end)


def make_interval(value: float, draws: ArrayLike | None, share: float = BAND_SHARE) -> Interval:
    """Make the central interval that holds a share of draws (k,), and the value itself.

    Closed where there are no draws, or None: nothing is unsure.
    """
    sample = np.asarray(() if draws is None else draws, dtype=np.float64)
    if sample.size == 0:
        return Interval(value, value, value)
    low, high = find_ends(sample, share)
    return Interval(value, min(value, float(low)), max(value, float(high)))
