"""Light under a sky that is closed with cloud.

Idea
----
Level: the flat illuminance of an overcast sky rises with the sun behind it, 0.3 + 21 sin(elevation)
klx (IES 1984, recommended practice for the calculation of daylight availability, J. IES 13,
381-392; Krochmann 1963 before it). It is a mean, which a single hour may well double or halve:
twelve overcasts measured at Singapore lay at 1.1 to 2.2 of it, and at 6126 to 6853 K (Balakrishnan
2019, Measuring and Modelling Equatorial Light, thesis, SUTD), so the band goes a little farther.
Distribution: Moon and Spencer's, in `sky.dome`. Colour: CIE daylight of a Kelvin that is stated,
6500 K if it is not; overcasts run from about 6000 to 7500 K (common practice, no source), the bluer
the thicker the cloud is (Lee and Hernandez-Andres 2005, Applied Optics 44, 5712-5722).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import scale_to_lux
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing, Horizon, find_sky_view

LOWEST_SUN_DEG = 5.0  # under it cloud goes blue with twilight, which no model here holds
OVERCAST_KELVIN = 6500.0
OVERCAST_RANGE_KELVIN = (6000.0, 7500.0)
LEVEL_FACTOR = 2.5  # either way, around the mean
_GOLDEN = 0.6180339887498949
_LEAST_KLX, _MOST_KLX = 0.3, 21.0


def find_overcast_lux(elevation_deg: ArrayLike) -> Array:
    """Find the mean flat illuminance under an overcast sky, (...,) [lux], sun above the horizon."""
    height = np.sin(np.radians(np.asarray(elevation_deg, dtype=np.float64)))
    return np.asarray(1000.0 * (_LEAST_KLX + _MOST_KLX * height))


def light_by_overcast(
    elevation_deg: Array,
    kelvin: ArrayLike,
    level: ArrayLike,
    ground_albedo: float,
    facing: Facing,
    horizon: Horizon = FREE_VIEW,
) -> Array:
    """Find what an overcast sky and the ground under it give a surface.

    Parameters
    ----------
    elevation_deg
        (t,) of the sun behind the cloud.
    kelvin, level
        (m,) colour of the sky [K] and factor on its mean illuminance.
    ground_albedo
        What the ground sends back, 0 to 1.
    facing, horizon
        The surface, and what blocks its view.

    Returns
    -------
    ndarray
        (m, t, 401) [W m-2 nm-1].
    """
    view, flat = find_sky_view(facing, horizon), find_sky_view(FLAT, horizon)
    reach = view.overcast + ground_albedo * flat.overcast * view.ground
    lux = np.asarray(level)[:, None] * find_overcast_lux(elevation_deg) * reach
    power = radiate_daylight(np.asarray(kelvin))
    return scale_to_lux(np.repeat(power[:, None, :], lux.shape[1], axis=1), lux)


def spread_overcast(kelvin: float | None, count: int) -> tuple[Array, Array]:
    """Spread colour [K] and level of an overcast sky over what is usual, (count,) each.

    A Kelvin that is stated stays as it is. Even in mired, by an additive recurrence, and in the
    logarithm of the level, which rises from draw to draw: so without chance.
    """
    number = np.arange(1, count + 1)
    along, across = (0.5 + number * _GOLDEN) % 1.0, (number - 0.5) / count
    warm, cool = (1e6 / each for each in OVERCAST_RANGE_KELVIN)
    kelvins = 1e6 / (cool + (warm - cool) * along)
    if kelvin is not None:
        kelvins = np.full_like(kelvins, kelvin)
    return np.asarray(kelvins), np.asarray(LEVEL_FACTOR ** (2.0 * across - 1.0))
