"""Sunrise, noon, sunset and the hours around them, against almanac algorithms of others."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.sky.dome import Horizon
from wbplan.sky.site import Site
from wbplan.sky.sun_position import find_sun
from wbplan.sky.sun_times import (
    BLUE,
    CLEAR_OF_SITE,
    GOLDEN,
    SOLAR_NOON,
    SUNRISE,
    SUNSET,
    find_sun_times,
)

pvlib = pytest.importorskip("pvlib")

DAY = 86400.0


def start(date: str) -> float:
    return float(np.datetime64(date).astype("datetime64[s]").astype(float))


def test_the_worked_example_of_the_algorithm() -> None:
    """Reda and Andreas 2004, appendix: 17 October 2003, 39.742476 N, 105.1786 W: sunrise 13:12:43
    UT, transit 18:46:05 UT, sunset 00:20:19 UT, that of the evening before by the clock there.
    """
    first = start("2003-10-17")
    found = find_sun_times(Site("", 39.742476, -105.1786, 1830.14, "UTC"), first, first + DAY)
    at = {each.name: each.second - first for each in found.times}
    assert at[SUNRISE] == pytest.approx(13 * 3600 + 12 * 60 + 43.46, abs=2)
    assert at[SOLAR_NOON] == pytest.approx(18 * 3600 + 46 * 60 + 4.97, abs=0.5)
    assert at[SUNSET] == pytest.approx(20 * 60 + 19.19, abs=2)


def test_random_places_against_the_librarys_own_solver() -> None:
    """pvlib's `spa.transit_sunrise_sunset`, three-point interpolation, no search (its own code)."""
    generator = np.random.default_rng(5)
    for _ in range(25):
        latitude, longitude = generator.uniform(-58, 58), generator.uniform(-90, 90)
        first = start("2026-01-01") + DAY * generator.integers(0, 365)
        transit, rise, sets = (
            float(each[0])
            for each in pvlib.spa.transit_sunrise_sunset(
                np.array([first]), latitude, longitude, 69.2, 1
            )
        )
        found = find_sun_times(Site("", latitude, longitude, 0.0, "UTC"), first, first + DAY)
        for name, theirs in ((SOLAR_NOON, transit), (SUNRISE, rise), (SUNSET, sets)):
            ours = [each.second for each in found.times if each.name == name]
            if first + 120 < theirs < first + DAY - 120:
                # theirs takes the day's declination from three points: some seconds
                assert min(abs(each - theirs) for each in ours) < 20, (latitude, longitude, name)


def test_hours_lie_between_their_heights() -> None:
    """Golden from 4 under to 6 over the horizon, blue from 6 to 4 under (common practice)."""
    site = Site("", 49.8, -0.8, 60.0, "Europe/Paris", Horizon(((90.0, 10.0), (270.0, 20.0))))
    first = start("2026-06-20")
    found = find_sun_times(site, first, first + DAY)
    kinds = [each.name for each in found.spans]
    assert kinds.count(GOLDEN) == kinds.count(BLUE) == 2
    assert kinds.count(CLEAR_OF_SITE) == 1
    for span in found.spans:
        ends = find_sun([span.first, span.last], 49.8, -0.8, 60.0).elevation_deg
        want = {GOLDEN: (-4, 6), BLUE: (-6, -4)}.get(span.name)
        if want:
            assert sorted(ends) == pytest.approx(want, abs=0.01)
        else:
            assert 10 < ends[0] < 15
            assert 15 < ends[1] < 20


def test_polar_summer_and_winter() -> None:
    """At 70 north the sun stays up in June, and down in December with a noon of twilight."""
    site = Site("", 70.0, 20.0, 0.0, "UTC")
    june, december = (
        find_sun_times(site, start(each), start(each) + DAY)
        for each in ("2026-06-21", "2026-12-21")
    )
    assert [each.name for each in june.times] == [SOLAR_NOON]
    assert [each.name for each in december.times] == [SOLAR_NOON]
    assert -4 < december.times[0].elevation_deg < -3
    assert {each.name for each in december.spans} == {GOLDEN, BLUE}
