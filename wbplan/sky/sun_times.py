"""When the sun rises, stands highest and sets, and the golden and blue hours.

Idea
----
Each is a crossing of a figure of `sky.sun_position`, found between minutes by a straight line,
which errs by under a second but where the sun grazes the height. Sunrise and sunset: the upper
edge of the disc on a level horizon, with the refraction that almanacs take (34' and 16': the middle
0.8333 degrees under it without air; U.S. Naval Observatory, Astronomical Almanac). Solar noon: the
sun passes from the eastern half of the sky to the western one. Golden hour: its middle from 4
degrees under the horizon to 6 over it; blue hour: from 6 to 4 under it (common practice, no source:
others draw them a degree or two elsewhere).

Weakness: hills, roofs and the height of the place over its surroundings move sunrise; the span
`CLEAR_OF_SITE` tells when the middle of the disc stands over what the site says blocks its view.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.tables import Array
from wbplan.sky.dome import find_horizon_deg
from wbplan.sky.site import Site
from wbplan.sky.sun_position import find_pressure_pa, find_sun, remove_refraction

SUNRISE, SOLAR_NOON, SUNSET = "sunrise", "solar noon", "sunset"
GOLDEN, BLUE, CLEAR_OF_SITE = "golden hour", "blue hour", "clear of the site's horizon"
RISING_DEG = -0.8333
GOLDEN_DEG, BLUE_DEG = (-4.0, 6.0), (-6.0, -4.0)
_STEP_S = 60.0


@dataclass(frozen=True)
class SunTime:
    """An instant of the sun: its name, seconds since 1970-01-01 00:00 UTC, where it stands."""

    name: str
    second: float
    elevation_deg: float
    azimuth_deg: float


@dataclass(frozen=True)
class SunSpan:
    """Time through which the sun stands so, between two instants [s]; cut at the ends asked for."""

    name: str
    first: float
    last: float


@dataclass(frozen=True)
class SunTimes:
    """What the sun does between two instants, each kind in order of time; empty where it does not.

    In polar summer and winter it neither rises nor sets, and has its noon all the same.
    """

    times: tuple[SunTime, ...]
    spans: tuple[SunSpan, ...]


def find_sun_times(site: Site, first: float, last: float) -> SunTimes:
    """Find what the sun does at a place.

    Parameters
    ----------
    site
        Where; its horizon counts for `CLEAR_OF_SITE` alone.
    first, last
        Between which instants, seconds since 1970-01-01 00:00 UTC [s]; the end counts.

    Returns
    -------
    SunTimes
        Elevations in it are apparent ones.
    """
    seconds = np.append(np.arange(first, last, _STEP_S), last)
    sun = find_sun(seconds, site.latitude_deg, site.longitude_deg, site.altitude_m)
    height = sun.elevation_deg
    over_rise = remove_refraction(height, find_pressure_pa(site.altitude_m)) - RISING_DEG
    west = -np.sin(np.radians(sun.azimuth_deg))
    found: list[tuple[float, str]] = []
    for name, values, rising in (
        (SUNRISE, over_rise, True),
        (SOLAR_NOON, west, True),
        (SUNSET, over_rise, False),
    ):
        up = _find_crossings(seconds, values if rising else -values)
        found += [(each, name) for each in up]
    found.sort()
    at = np.array([each for each, _ in found])
    then = find_sun(at, site.latitude_deg, site.longitude_deg, site.altitude_m) if found else sun
    times = tuple(
        SunTime(name, second, float(then.elevation_deg[row]), float(then.azimuth_deg[row]))
        for row, (second, name) in enumerate(found)
    )
    spans = [
        (name, np.minimum(height - low, high - height))
        for name, (low, high) in ((GOLDEN, GOLDEN_DEG), (BLUE, BLUE_DEG))
    ]
    if site.horizon.points:
        clear = np.minimum(height - find_horizon_deg(site.horizon, sun.azimuth_deg), height)
        spans.append((CLEAR_OF_SITE, clear))
    return SunTimes(
        times,
        tuple(
            SunSpan(name, *ends) for name, values in spans for ends in _find_spans(seconds, values)
        ),
    )


def _find_crossings(seconds: Array, values: Array) -> list[float]:
    """Find where a figure rises through 0, between two neighbours by a straight line."""
    rows = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    part = values[rows] / (values[rows] - values[rows + 1])
    return [float(each) for each in seconds[rows] + part * (seconds[rows + 1] - seconds[rows])]


def _find_spans(seconds: Array, values: Array) -> list[tuple[float, float]]:
    """Find from when to when a figure is over 0."""
    starts, ends = _find_crossings(seconds, values), _find_crossings(seconds, -values)
    if values[0] >= 0:
        starts.insert(0, float(seconds[0]))
    if values[-1] > 0:
        ends.append(float(seconds[-1]))
    return [(a, b) for a, b in zip(starts, ends, strict=False) if b > a]
