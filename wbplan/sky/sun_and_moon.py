"""Where sun and moon stand, by short formulas that need no other library.

Idea
----
The low-precision formulas of the Astronomical Almanac (pages C5 and D22 of any recent year, from
memory): for 1950 to 2050 they promise the sun within 0.01 degrees and the moon within 0.3 in
longitude and 0.2 in latitude. The moon is then seen from the place on the earth, which moves it by
up to a degree, and both are lifted by refraction. That is good for drawing them into a picture; the
light of the sky is modelled with the finer `sky.sun_position`. Angles and time are as there.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.sky.sun_position import find_pressure_pa, find_refraction_deg

SUN_WIDTH_DEG = 0.533  # at the mean distance: 2 asin(696 000 km / 1 au)
_J2000_S = 946_728_000.0  # seconds since 1970 of 2000-01-01 12:00
_DAY_S, _CENTURY_D = 86_400.0, 36_525.0
_SUN_RADII = 23_455.0  # 1 au in radii of the earth
# Degrees, and degrees a century: longitude, latitude and parallax of the moon.
_LONGITUDE = (
    *((6.29, 135.0, 477198.87), (-1.27, 259.3, -413335.36), (0.66, 235.7, 890534.22)),
    *((0.21, 269.9, 954397.74), (-0.19, 357.5, 35999.05), (-0.11, 186.5, 966404.03)),
)
_LATITUDE = (
    *((5.13, 93.3, 483202.02), (0.28, 228.2, 960400.89)),
    *((-0.28, 318.3, 6003.15), (-0.17, 217.6, -407332.21)),
)
_PARALLAX = (
    *((0.0518, 135.0, 477198.87), (0.0095, 259.3, -413335.36)),
    *((0.0078, 235.7, 890534.22), (0.0028, 269.9, 954397.74)),
)


class BodyPosition(NamedTuple):
    """Where a body stands, (t,) each [degrees]: apparent elevation; azimuth from north over east.

    ``lit_share`` is how much of its disc is lit, 1 for the sun.
    """

    elevation_deg: Array
    azimuth_deg: Array
    lit_share: Array


def find_sun_and_moon(
    seconds: ArrayLike, latitude_deg: float, longitude_deg: float, altitude_m: float = 0.0
) -> tuple[BodyPosition, BodyPosition]:
    """Find where sun and moon stand.

    Parameters
    ----------
    seconds
        (t,) since 1970-01-01 00:00 UTC [s].
    latitude_deg, longitude_deg
        + north, + east [degrees].
    altitude_m
        Above sea level [m], for the refraction.
    """
    days = (np.atleast_1d(np.asarray(seconds, dtype=np.float64)) - _J2000_S) / _DAY_S
    turn = np.radians(280.46062 + 360.98564737 * days + longitude_deg)
    up = np.radians(latitude_deg)
    zenith = np.stack(
        [np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.full_like(turn, np.sin(up))]
    )
    sun, moon = _SUN_RADII * _point_at_sun(days), _find_moon_radii(days)
    moon_seen = moon - zenith
    between = _find_angle(moon_seen, sun)
    distance = np.linalg.norm(moon_seen, axis=0)
    phase = np.arctan2(_SUN_RADII * np.sin(between), distance - _SUN_RADII * np.cos(between))
    pressure = find_pressure_pa(altitude_m)
    ones = np.ones_like(days)
    return (
        _stand(sun - zenith, zenith, turn, pressure, ones),
        _stand(moon_seen, zenith, turn, pressure, (1.0 + np.cos(phase)) / 2.0),
    )


def _point_at_sun(days: Array) -> Array:
    """Find the direction of the sun along the equator's axes, (3, t)."""
    length = 280.460 + 0.9856474 * days
    anomaly = np.radians(357.528 + 0.9856003 * days)
    longitude = length + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly)
    return _turn_to_equator(np.radians(longitude), np.zeros_like(days), days)


def _find_moon_radii(days: Array) -> Array:
    """Find the moon along the equator's axes, (3, t) [radii of the earth], from its middle."""
    century = days / _CENTURY_D
    longitude = 218.32 + 481267.881 * century + _sum_waves(_LONGITUDE, century, np.sin)
    latitude = _sum_waves(_LATITUDE, century, np.sin)
    parallax = 0.9508 + _sum_waves(_PARALLAX, century, np.cos)
    # The formulas are of the equinox of date, as the sun's.
    way = _turn_to_equator(np.radians(longitude), np.radians(latitude), days)
    return np.asarray(way / np.sin(np.radians(parallax)))


def _sum_waves(
    waves: tuple[tuple[float, float, float], ...], century: Array, wave: np.ufunc
) -> Array:
    size, start, speed = np.array(waves).T[..., None]
    return np.asarray((size * wave(np.radians(start + speed * century))).sum(axis=0))


def _turn_to_equator(longitude: Array, latitude: Array, days: Array) -> Array:
    tilt = np.radians(23.439 - 0.0000004 * days)
    x = np.cos(latitude) * np.cos(longitude)
    y = np.cos(latitude) * np.sin(longitude)
    z = np.sin(latitude)
    return np.stack([x, y * np.cos(tilt) - z * np.sin(tilt), y * np.sin(tilt) + z * np.cos(tilt)])


def _find_angle(one: Array, two: Array) -> Array:
    across = np.linalg.norm(np.cross(one, two, axis=0), axis=0)
    return np.asarray(np.arctan2(across, (one * two).sum(axis=0)))


def _stand(
    line: Array, zenith: Array, turn: Array, pressure_pa: float, lit_share: Array
) -> BodyPosition:
    """Bring a direction to elevation and azimuth at a place."""
    east = np.stack([-np.sin(turn), np.cos(turn), np.zeros_like(turn)])
    north = np.cross(zenith, east, axis=0)
    e, n, u = ((line * axis).sum(axis=0) for axis in (east, north, zenith))
    true = np.degrees(np.arctan2(u, np.hypot(e, n)))
    seen = true + find_refraction_deg(true, pressure_pa)
    return BodyPosition(seen, np.degrees(np.arctan2(e, n)) % 360.0, lit_share)
