"""The sun before a camera: its direction, when it comes into the picture, and the warnings."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.shared import make_kitchen
from wbplan.planning.sun import note_sun_in_lens, view_sun_and_moon
from wbplan.scene.plate import PlateLens
from wbplan.scene.setup import Setup
from wbplan.sky.dome import Horizon
from wbplan.sky.site import Site

ZONE = timezone(timedelta(hours=2))
SITE = Site("", 47.3, 3.1, 190.0, "Etc/GMT-2")
WHEN = datetime(2026, 6, 21, 9, 0, tzinfo=ZONE)
LENS = PlateLens(
    focal_length_mm=32.0, sensor_width_mm=28.0, sensor_height_mm=15.8, camera_height_m=1.5,
    tilt_deg=12.0, roll_deg=4.0, heading_deg=150.0,
)  # fmt: skip


def make_yard(lens: PlateLens | None = LENS, when: datetime = WHEN, site: Site = SITE) -> Setup:
    return make_kitchen(lens=lens, when=when, site=site)


def find_theirs(when: datetime) -> tuple[float, float]:
    """Elevation and azimuth by Reda and Andreas 2004, as pvlib carries it."""
    pytest.importorskip("pvlib")
    from wbplan.sky.sun_position import find_sun

    found = find_sun(when.timestamp(), SITE.latitude_deg, SITE.longitude_deg, SITE.altitude_m)
    return float(found.elevation_deg[0]), float(found.azimuth_deg[0])


def see(elevation: float, azimuth: float, lens: PlateLens) -> np.ndarray:
    """Turn a direction into a camera's x right, y up, z back by scipy's rotations."""
    up, east = np.radians(elevation), np.radians(azimuth)
    world = [np.sin(east) * np.cos(up), np.sin(up), -np.cos(east) * np.cos(up)]
    turn = Rotation.from_euler("y", -(lens.heading_deg or 0), degrees=True)
    turn *= Rotation.from_euler("x", lens.tilt_deg or 0, degrees=True)
    turn *= Rotation.from_euler("z", -(lens.roll_deg or 0), degrees=True)
    return np.asarray(turn.inv().apply(world))


def test_direction_in_the_cameras_frame() -> None:
    found = view_sun_and_moon(make_yard())
    assert found is not None
    elevation, azimuth = find_theirs(WHEN)
    assert found.sun.elevation_deg == pytest.approx(elevation, abs=0.02)
    assert found.sun.azimuth_deg == pytest.approx(azimuth, abs=0.02)
    assert found.sun.bearing_deg == pytest.approx(azimuth - 150.0, abs=0.02)
    theirs = see(elevation, azimuth, LENS)
    assert found.sun.direction == pytest.approx(tuple(theirs), abs=5e-4)
    assert found.sun.seen is not None
    assert found.sun.seen.axis_deg == pytest.approx(np.degrees(np.arccos(-theirs[2])), abs=0.05)


def test_when_it_enters_and_leaves() -> None:
    """A minute before and after, by the finer algorithm and scipy's rotations."""
    lens = replace(LENS, tilt_deg=55.0)  # looks up to where the sun will be at noon
    sun = view_sun_and_moon(make_yard(lens)).sun  # type: ignore[union-attr]

    def is_inside(after: float) -> bool:
        x, y, z = see(*find_theirs(WHEN + timedelta(seconds=after)), lens)
        return bool(z < 0 and abs(x) < -z * 14 / 32 and abs(y) < -z * 7.9 / 32)

    assert sun.enters_s is not None
    assert sun.leaves_s is not None
    assert 0 < sun.enters_s < sun.leaves_s < 86400
    assert [is_inside(sun.enters_s + each) for each in (-20, 20)] == [False, True]
    assert [is_inside(sun.leaves_s + each) for each in (-20, 20)] == [True, False]
    during = make_yard(lens, WHEN + timedelta(seconds=(sun.enters_s + sun.leaves_s) / 2))
    again = view_sun_and_moon(during).sun  # type: ignore[union-attr]
    assert again.enters_s == 0.0
    assert again.leaves_s == pytest.approx((sun.leaves_s - sun.enters_s) / 2, abs=1.5)


def test_what_is_not_known_stays_open() -> None:
    assert view_sun_and_moon(make_kitchen()) is None
    for lens in (None, replace(LENS, heading_deg=None)):
        sun = view_sun_and_moon(make_yard(lens)).sun  # type: ignore[union-attr]
        assert (sun.bearing_deg, sun.direction, sun.seen, sun.enters_s) == (None,) * 4
    sun = view_sun_and_moon(make_yard(replace(LENS, tilt_deg=None))).sun  # type: ignore[union-attr]
    assert sun.bearing_deg is not None
    assert (sun.direction, sun.enters_s) == (None, None)


def test_a_horizon_hides_it() -> None:
    walled = replace(SITE, horizon=Horizon(((0.0, 60.0), (180.0, 60.0))))
    found = view_sun_and_moon(make_yard(site=walled))
    assert found is not None
    assert not found.sun.is_up
    assert note_sun_in_lens(make_yard(site=walled), found) == ()


@pytest.mark.parametrize(
    ("heading", "tilt", "code", "said"),
    [
        (0.0, 0.0, "sun-in-picture", "stands in the picture, 3° off the lens axis"),
        (0.0, None, "sun-in-picture", "nothing tells whether the lens looks that high"),
        (33.0, 0.0, "sun-near-picture", "can flare into it"),
        (120.0, 0.0, "", ""),
    ],
)
def test_a_sun_that_looks_into_the_lens_is_warned_of(
    heading: float, tilt: float | None, code: str, said: str
) -> None:
    """``heading`` and ``tilt`` from where the sun stands at nine."""
    elevation, azimuth = find_theirs(WHEN)
    lens = replace(
        LENS,
        heading_deg=(azimuth + heading) % 360,
        tilt_deg=None if tilt is None else elevation + tilt - 3.0,
    )
    setup = make_yard(lens)
    notes = note_sun_in_lens(setup, view_sun_and_moon(setup))
    assert [each.code for each in notes] == ([code] if code else [])
    assert all(each.weight == "warning" and said in each.text for each in notes)
