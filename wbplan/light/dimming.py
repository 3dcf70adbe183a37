"""Lamps turned down: what is left of their light, and of a filament's colour.

Idea
----
A filament follows its voltage: luminous flux goes with its 3.4th power and colour temperature with
its 0.42nd (Fink and Beaty, Standard Handbook for Electrical Engineers, 11th edition, 22-8; from
memory). So a stop down is 82 % of the volts and 8 % of the Kelvin. The figures are meant for
volts near the rated ones. A black body that is cooled until it gives the same flux says how far
they carry: from 3200 K it ends 1 mired cooler after one stop, 3 after two and 9 after three.
Its spectrum then is the one that was read times the ratio of the two black bodies, since tungsten's
emissivity hardly moves. An LED's colour and a discharge's are taken to stay.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.illuminants import radiate_black_body

FLUX_EXPONENT, KELVIN_EXPONENT = 3.4, 0.42


def find_dimmed_volts(stops: ArrayLike) -> Array:
    """Find the share of its volts at which a filament gives (...,) stops less, 1 for none."""
    return np.asarray(2.0 ** (-np.asarray(stops, dtype=np.float64) / FLUX_EXPONENT))


def find_dimmed_kelvin(kelvin: ArrayLike, stops: ArrayLike) -> Array:
    """Find a filament's colour temperature (...,) [K] when it is dimmed by so many stops."""
    return np.asarray(kelvin, dtype=np.float64) * find_dimmed_volts(stops) ** KELVIN_EXPONENT


def shape_dimming(kelvin: float, stops: float) -> Array:
    """Shape what dimming by so many stops does to a filament's spectrum.

    Returns
    -------
    ndarray
        (401,) to multiply with, 1 at 560 nm: how much light is left is not in it.
    """
    after = float(find_dimmed_kelvin(kelvin, stops))
    return np.asarray(radiate_black_body(after) / radiate_black_body(kelvin))
