"""The short formulas for sun and moon, against finer ones of others and a published example."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest

from wbplan.sky.sun_and_moon import find_sun_and_moon


def find_apart(up: np.ndarray, around: np.ndarray, up2: np.ndarray, around2: np.ndarray) -> float:
    """The largest angle between two sets of directions [degrees], by their vectors."""
    one, two = (
        np.stack([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
        for e, a in ((np.radians(up), np.radians(around)), (np.radians(up2), np.radians(around2)))
    )
    chord = np.linalg.norm(one - two, axis=0)
    return float(np.degrees(2 * np.arcsin(chord / 2)).max())


@pytest.mark.parametrize(("first", "last"), [(1950, 2050), (2050, 2099)])
def test_the_sun_is_where_the_finer_algorithm_has_it(first: int, last: int) -> None:
    """Reda and Andreas 2004 (0.0003 degrees) as pvlib carries it; 0.015 over 150 years."""
    pytest.importorskip("pvlib")
    from wbplan.sky.sun_position import find_sun

    seconds = (np.linspace(first, last, 400) - 1970) * 365.2425 * 86400 + 11111.0
    for latitude, longitude in ((0.0, 10.0), (51.0, -100.0), (-66.0, 170.0)):
        ours = find_sun_and_moon(seconds, latitude, longitude, 200.0)[0]
        theirs = find_sun(seconds, latitude, longitude, 200.0)
        up = theirs.elevation_deg > -0.5
        apart = find_apart(
            ours.elevation_deg[up], ours.azimuth_deg[up],
            theirs.elevation_deg[up], theirs.azimuth_deg[up],
        )  # fmt: skip
        assert apart < 0.015
        assert (ours.lit_share == 1).all()


# Topocentric with refraction at 1013.25 mbar and 12 C, by the ephem package 4.2.1 (XEphem's full
# series), once: moment UTC, latitude, longitude, elevation, azimuth, lit share.
MOON = [
    ((2026, 11, 14, 11, 40), 23.5, 123.0, 13.34, 234.24, 0.230),
    ((2026, 6, 21, 20, 0), 51.5, 0.0, 29.48, 217.10, 0.493),
    ((2024, 1, 5, 3, 30), 40.7, -74.0, -30.44, 77.17, 0.405),
    ((2030, 3, 12, 9, 0), -33.9, 18.4, -35.79, 83.94, 0.502),
    ((2035, 9, 17, 22, 15), 64.1, -21.9, 12.79, 126.70, 0.998),
    ((1994, 7, 3, 18, 0), -12.0, -77.0, 10.94, 290.15, 0.236),
]


@pytest.mark.parametrize(("when", "latitude", "longitude", "up", "around", "lit"), MOON)
def test_the_moon_is_where_a_full_series_has_it(
    when: tuple[int, ...], latitude: float, longitude: float, up: float, around: float, lit: float
) -> None:
    """To 0.4 degrees, less than its own width, and its light to 0.01."""
    moment = datetime(*when, tzinfo=UTC).timestamp()  # type: ignore[arg-type, misc]
    moon = find_sun_and_moon(moment, latitude, longitude)[1]
    apart = find_apart(moon.elevation_deg, moon.azimuth_deg, np.array([up]), np.array([around]))
    assert apart < 0.4
    assert moon.lit_share[0] == pytest.approx(lit, abs=0.012)


def test_the_moon_of_the_worked_example() -> None:
    """Meeus, Astronomical Algorithms, 2nd edition, examples 47.a and 48.a (from memory).

    12 April 1992, 0 h: right ascension 134.6885, declination 13.7684, 368 410 km away; 0.6786 lit.
    From the middle of the earth; over the place where it stands in the zenith a parallax does not
    move it, so there it has to stand overhead.
    """
    moment = datetime(1992, 4, 12, tzinfo=UTC).timestamp() - 59.0  # 0 h of dynamical time
    sidereal = (280.46061837 + 360.98564736629 * (moment / 86400 - 10957.5)) % 360
    longitude = (134.6885 - sidereal + 180) % 360 - 180
    moon = find_sun_and_moon(moment, 13.7684, longitude)[1]
    assert moon.elevation_deg[0] > 90 - 0.3
    assert moon.lit_share[0] == pytest.approx(0.6786, abs=0.012)


def test_directions_are_those_of_a_compass() -> None:
    """At an equinox's noon the sun stands south at 90 less the latitude; six hours on, west."""
    noon = datetime(2026, 3, 20, 12, 7, tzinfo=UTC).timestamp()
    sun = find_sun_and_moon(noon + np.array([0.0, 6 * 3600.0]), 50.0, 0.0)[0]
    assert sun.elevation_deg == pytest.approx([40.0, 0.4], abs=0.6)
    assert sun.azimuth_deg == pytest.approx([180.0, 270.0], abs=0.6)
    assert math.isfinite(sun.elevation_deg[0])
