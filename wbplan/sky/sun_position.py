"""Where the sun stands, seen from a place on the earth at an instant.

Idea
----
The solar position algorithm of NREL (Reda and Andreas 2004, Solar Energy 76, 577-589, with the
corrigendum of 2007) gives zenith and azimuth to 0.0003 degrees for the years -2000 to 6000; pvlib
carries it, and is imported here when it is asked for. Time is seconds since 1970-01-01 00:00 UTC,
so nothing here knows of clocks or time zones. Angles are apparent ones: with refraction, by the
formula of Saemundsson (1986) that the algorithm takes too. The algorithm drops it where the sun is
down, with a jump of 0.6 degrees; here it goes on to where the sun's middle is 0.575 degrees under
the horizon and fades from there, as in the calculator of NOAA's Global Monitoring Laboratory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.errors import InputError
from wbplan.core.tables import Array

_REFRACTION_AT_HORIZON_DEG = 0.5667  # SPA's own default
_TEMPERATURE_C = 12.0  # only bends refraction: 10 degrees more move the sun at 10 degrees by 0.003
_PA_PER_MBAR = 100.0
_FADE_DEG = -0.575  # where refraction begins to fade
_FADE_ARCSEC = 20.772
_USUAL_PA = 101325.0
_DEEPEST_DEG, _STEP_DEG = -18.0, 0.01


@dataclass(frozen=True, eq=False)
class SunPosition:
    """Where the sun stands: (t,) apparent elevation and azimuth [degrees], and the day of the year.

    Azimuth counts from north over east. ``day_of_year`` (t,) is that of UTC, 1 to 366.
    """

    elevation_deg: Array
    azimuth_deg: Array
    day_of_year: np.ndarray


def load_pvlib() -> Any:
    """Import pvlib, or refuse in words that tell how to get it.

    Raises
    ------
    InputError
        If it is not installed.
    """
    try:
        import pvlib
    except ImportError:
        found = "a modelled light of the sun or sky, and no pvlib to model it with"
        raise InputError(found, 'pvlib, installed by: pip install "wbplan[sky]"') from None
    return pvlib


def find_pressure_pa(altitude_m: float) -> float:
    """Find the mean air pressure [Pa] at an altitude [m] (ISO 2533 standard atmosphere).

    With the rounded constants that pvlib has too.
    """
    return float(100.0 * ((44331.514 - altitude_m) / 11880.516) ** (1.0 / 0.1902632))


def find_sun(
    seconds: ArrayLike, latitude_deg: float, longitude_deg: float, altitude_m: float = 0.0
) -> SunPosition:
    """Find where the sun stands.

    Parameters
    ----------
    seconds
        (t,) since 1970-01-01 00:00 UTC [s].
    latitude_deg, longitude_deg
        + north, + east [degrees].
    altitude_m
        Above sea level [m].

    Returns
    -------
    SunPosition
        Without an atmosphere the elevation would be less by the refraction: 0.09 degrees at 10,
        0.5 at the horizon.
    """
    when = np.atleast_1d(np.asarray(seconds, dtype=np.float64))
    spa = load_pvlib().spa
    days = when.astype("datetime64[s]").astype("datetime64[D]")
    years = days.astype("datetime64[Y]")
    months = days.astype("datetime64[M]")
    year = years.astype(int) + 1970
    month = (months - years).astype(int) + 1
    delta_t = spa.calculate_deltat(year, month)
    pressure = find_pressure_pa(altitude_m) / _PA_PER_MBAR
    found = spa.solar_position(
        when,
        latitude_deg,
        longitude_deg,
        altitude_m,
        pressure,
        _TEMPERATURE_C,
        delta_t,
        _REFRACTION_AT_HORIZON_DEG,
    )
    true, azimuth = np.asarray(found[3], dtype=float), np.asarray(found[4], dtype=float)
    elevation = true + find_refraction_deg(true, pressure * _PA_PER_MBAR)
    return SunPosition(elevation, azimuth, (days - years).astype(int) + 1)


def find_refraction_deg(true_elevation_deg: ArrayLike, pressure_pa: float = _USUAL_PA) -> Array:
    """Find by how much the air lifts a light [degrees], from its elevation without air, (...,)."""
    true = np.asarray(true_elevation_deg, dtype=np.float64)
    up = np.maximum(true, _FADE_DEG)
    bent = 1.02 / 60.0 / np.tan(np.radians(up + 10.3 / (up + 5.11)))
    down = np.minimum(true, _FADE_DEG)
    faded = -_FADE_ARCSEC / 3600.0 / np.tan(np.radians(down))
    air = pressure_pa / 101000.0 * 283.0 / (273.0 + _TEMPERATURE_C)
    return np.asarray(np.where(true >= _FADE_DEG, bent, faded) * air)


def remove_refraction(elevation_deg: ArrayLike, pressure_pa: float = _USUAL_PA) -> Array:
    """Find the elevation without air [degrees] of what is seen at an elevation, (...,)."""
    true = np.arange(_DEEPEST_DEG, 90.0 + _STEP_DEG, _STEP_DEG)
    seen = np.asarray(elevation_deg, dtype=np.float64)
    return np.asarray(np.interp(seen, true + find_refraction_deg(true, pressure_pa), true))
