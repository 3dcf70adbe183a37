"""How a flash is spread over time, and how much of it an exposure catches.

A flash rises at once and fades as its capacitor empties, near enough as exp(-t / tau). Its duration
is stated over half of its peak (t0.5) or over a tenth of it (t0.1), as ISO 2827:1988 has them:
tau is t0.5 / ln 2 or t0.1 / ln 10. Flashes that are cut short electronically end sooner than that,
so what is found to be caught is the least.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array


@dataclass(frozen=True)
class Burst:
    """What one exposure's flash is made of.

    ``fade_s`` is tau of its exp(-t / tau) [s]; ``pops`` are fired in an exposure, ``gap_s`` apart
    [s]; ``most_hz`` is how often a burst can be fired [1/s], infinite if not stated;
    ``is_synced`` whether the shutter fires it.
    """

    fade_s: float = 0.0
    pops: int = 1
    gap_s: float = 0.0
    most_hz: float = math.inf
    is_synced: bool = True

    @property
    def span_s(self) -> float:
        """From the first pop until the last is down to a tenth [s]."""
        return (self.pops - 1) * self.gap_s + self.fade_s * math.log(10.0)


def find_fade_s(duration_s: float, share: float) -> float:
    """Find tau [s] from how long a flash stays over a share of its peak: 0.5 or 0.1."""
    return duration_s / -math.log(share)


def find_caught_share(burst: Burst, exposure_time_s: ArrayLike) -> Array:
    """Find the share of a burst that exposures (...,) [s] catch, fired as the shutter opens."""
    time = np.asarray(exposure_time_s, dtype=np.float64)[..., None]
    left = np.maximum(time - np.arange(burst.pops) * burst.gap_s, 0.0)
    if burst.fade_s <= 0:
        return np.asarray((left > 0).mean(-1))
    return np.asarray(-np.expm1(-left / burst.fade_s).mean(-1))
