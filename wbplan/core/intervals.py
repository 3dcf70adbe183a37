"""Values with the interval they lie in, and how an interval is taken from draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.errors import InputError, Place

BAND_SHARE = 0.90


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


def check_band(share: float) -> None:
    """Refuse a share that an interval cannot sensibly hold.

    Raises
    ------
    InputError
        Outside 0.5 to 0.99.
    """
    if not 0.5 <= share <= 0.99:
        raise InputError(f"a band of {share:g}", "a share from 0.5 to 0.99", Place(field="band"))


def make_interval(value: float, draws: ArrayLike | None, share: float = BAND_SHARE) -> Interval:
    """Make the central interval that holds a share of draws (k,), and the value itself.

    Closed where there are no draws, or None: nothing is unsure.
    """
    sample = np.asarray(() if draws is None else draws, dtype=np.float64)
    if sample.size == 0:
        return Interval(value, value, value)
    low, high = np.quantile(sample, [(1 - share) / 2, (1 + share) / 2])
    return Interval(value, min(value, float(low)), max(value, float(high)))
