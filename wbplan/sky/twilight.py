"""Light on flat ground with the sun at the horizon and under it.

Idea
----
Colour: spectra of downwelling light measured at a rural site (Spitschan, Aguirre, Brainard and
Sweeney 2016, Scientific Reports 6:26756), which `wbplan.data.make_twilight` makes from the
published basis and weights; between two elevations their logarithm is a straight line. Any weather
is in them. Level: the polynomials of the U.S. Naval Observatory for a clear sky (Janiczek and
DeYoung 1987, circular 171; as in Vallado, Fundamentals of Astrodynamics, table 5-1), less 0.2
stop: what was measured at a city and at Singapore lies 0.7 under them to 0.1 over them, and the
glossary of the American Meteorological Society 0.4 to 0.9 under.

Elevations here are without refraction, which the two sources mean: the polynomials are joined at
-0.8 degrees, where the sun rises.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array, load_twilight
from wbplan.light.spectrum import scale_to_lux

LOWEST_SUN_DEG = -8.0
UNDER_TABLE_STOPS = 0.2  # what measured levels lie under the polynomials
# From an elevation up: log10 of lux as a polynomial of elevation / 90.
_LEVELS = (
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
    (5.0, (3.05, 13.28, -45.98, 64.33)),
    (20.0, (3.74, 3.97, -4.07, 1.47)),
)


def find_clear_lux(true_elevation_deg: ArrayLike) -> Array:
    """Find the published illuminance of flat ground under a clear sky, sun and all.

    Parameters
    ----------
    true_elevation_deg
        (...,) of the sun's middle without refraction, -12 to 90 [degrees].

    Returns
    -------
    ndarray
        (...,) [lux]; 759 at the horizon, 3.4 at -6. The pieces meet to 1 %.

    Raises
    ------
    ValueError
        For an elevation under -12 or over 90.
    """
    elevation = np.asarray(true_elevation_deg, dtype=np.float64)
    if (elevation < _LEVELS[0][0]).any() or (elevation > 90.0).any():
        raise ValueError("expected elevations from -12 to 90 degrees")
    lux = np.zeros_like(elevation)
    for begin, terms in _LEVELS:
        found = 10.0 ** np.polynomial.polynomial.polyval(elevation / 90.0, terms)
        lux = np.where(elevation >= begin, found, lux)
    return lux


def light_by_twilight(true_elevation_deg: Array) -> Array:
    """Find the spectra on flat ground, (t, 401) [W m-2 nm-1].

    Parameters
    ----------
    true_elevation_deg
        (t,) from -9.3 to 8.7 [degrees]; the tables end there, and so does what is taken from them
        outside.
    """
    known, power = load_twilight()
    log = np.log(power)
    place = np.interp(true_elevation_deg, known, np.arange(known.size, dtype=np.float64))
    low = np.minimum(place.astype(int), known.size - 2)
    part = (place - low)[:, None]
    shape = np.exp((1.0 - part) * log[low] + part * log[low + 1])
    lux = find_clear_lux(true_elevation_deg) * 2.0**-UNDER_TABLE_STOPS
    return scale_to_lux(shape, lux)
