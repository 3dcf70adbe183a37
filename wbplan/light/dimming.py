"""Lamps turned down: what is left of their light, and of a filament's colour.

Idea
----
A filament that gives half the light is a black body that has cooled until it gives half: Planck's
law leaves nothing open, since tungsten's emissivity hardly moves, and it comes to 27 mired a stop
from any lamp. Its spectrum then is the one that was read times the ratio of the two black bodies.

The volts are what a person sets: flux goes with their 3.4th power (Fink and Beaty, Standard
Handbook for Electrical Engineers, 11th edition, 22-8; from memory), a stop for 82 % of them. The
same table has colour temperature go with their 0.42nd, near the rated volts. From 3200 K that ends
1 mired warmer than Planck's law after one stop, 4 after two and 9 after three; from 2800 K 4, 12
and 22: so much is open until somebody reads the lamp. An LED's colour and a discharge's are taken
to stay.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.illuminants import SECOND_RADIATION_CONSTANT_NM_K, radiate_black_body
from wbplan.light.spectrum import find_illuminance_lux

FLUX_EXPONENT, KELVIN_EXPONENT = 3.4, 0.42
_GRID_KELVIN = 1e6 / np.linspace(1000.0, 250.0, 301)  # 1000 to 4000 K


def find_dimmed_volts(stops: ArrayLike) -> Array:
    """Find the share of its volts at which a filament gives (...,) stops less, 1 for none."""
    return np.asarray(2.0 ** (-np.asarray(stops, dtype=np.float64) / FLUX_EXPONENT))


def find_dimmed_kelvin(kelvin: ArrayLike, stops: ArrayLike) -> Array:
    """Find a filament's colour temperature when it is dimmed, by Planck's law.

    Parameters
    ----------
    kelvin
        (...,) before [K], at most 4000; broadcast with ``stops``.
    stops
        (...,) by which it is dimmed, 0 or more.

    Returns
    -------
    ndarray
        (...,) [K]; held at 1000.
    """
    at_560 = np.expm1(SECOND_RADIATION_CONSTANT_NM_K / (560.0 * _GRID_KELVIN))
    level = np.log2(find_illuminance_lux(radiate_black_body(_GRID_KELVIN)) / at_560)
    mired = 1e6 / np.asarray(kelvin, dtype=np.float64)
    before = np.interp(-mired, -1e6 / _GRID_KELVIN, level)
    after = np.asarray(before - np.asarray(stops, dtype=np.float64))
    return np.asarray(-1e6 / np.interp(after, level, -1e6 / _GRID_KELVIN))


def find_handbook_kelvin(kelvin: ArrayLike, stops: ArrayLike) -> Array:
    """Find it, (...,) [K], by the handbook's exponents, which are meant for volts near the rated
    ones.
    """
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
