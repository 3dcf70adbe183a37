"""Where things are in the picture, and the light of panels, by quadrature and rotations of others.

Nothing here calls what it checks for its expected values: rotations are scipy's, panels are summed
over patches by Lambert's cosine law, dE = L cos cos dA / d^2.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from tests.shared import decide, make_kitchen
from wbplan.camera.setting import view_camera
from wbplan.planning.plate.bracket import find_reading_lux
from wbplan.planning.plate.panel import find_panel_lux
from wbplan.planning.plate.space import (
    find_aim,
    find_in_picture,
    find_panel_m,
    place_in_picture,
)
from wbplan.planning.plate.view import view_plate
from wbplan.scene.plate import PlateLens, Spot

LENS = PlateLens(
    focal_length_mm=32.0,
    sensor_width_mm=28.0,
    sensor_height_mm=15.8,
    camera_height_m=1.55,
    tilt_deg=-4.0,
)


def sum_patches(
    middle: np.ndarray, aim: np.ndarray, wide: np.ndarray, size: tuple[float, float],
    at: np.ndarray, facing: np.ndarray | None, count: int = 300,
) -> float:  # fmt: skip
    """Sum a panel of 1 cd/m2 over patches; width level, as the scenario says."""
    tall = np.cross(wide, aim)
    step = (np.arange(count) + 0.5) / count - 0.5
    u, v = np.meshgrid(step * size[0], step * size[1])
    patch = middle + u[..., None] * wide + v[..., None] * tall
    ray = at - patch
    far = np.linalg.norm(ray, axis=-1)
    away = middle - at
    normal = away / np.linalg.norm(away) if facing is None else facing
    out = np.maximum(ray @ aim / far, 0.0)
    into = np.maximum(-(ray @ normal) / far, 0.0)
    return float((out * into / far**2).mean() * size[0] * size[1])


@settings(max_examples=20, deadline=None)
@given(
    bearing=st.floats(-180, 180), distance=st.floats(1.5, 6), height=st.floats(0, 4),
    facing=st.floats(-180, 180), tilt=st.floats(-90, 90),
    size=st.tuples(st.floats(0.2, 2), st.floats(0.2, 2)), plane=st.booleans(),
)  # fmt: skip
def test_a_panel_gives_what_its_patches_give(
    bearing: float, distance: float, height: float, facing: float, tilt: float,
    size: tuple[float, float], plane: bool,
) -> None:  # fmt: skip
    light = Spot("panel", "light", distance, bearing, height, facing, tilt, size_m=size)
    aim = find_aim(light, (light,), None)
    assert aim is not None
    f, t = math.radians(facing), math.radians(tilt)
    aim_here = np.array([math.sin(f) * math.cos(t), math.cos(f) * math.cos(t), math.sin(t)])
    assert aim.vector == pytest.approx(aim_here, abs=1e-12)
    wide = np.array([math.cos(f), -math.sin(f), 0.0])
    middle = np.array([*light.plan_m, height])
    at = np.array([0.0, 0.0, 1.6])
    surface = np.array([0.0, 0.6, 0.8]) if plane else None
    if (at - middle) @ aim_here < 0.05 * np.linalg.norm(at - middle):
        return
    expected = sum_patches(middle, aim_here, wide, size, at, surface)
    found = find_panel_lux(find_panel_m(light, aim), at, surface)
    assert found == pytest.approx(expected, rel=3e-3, abs=2e-6)


def test_a_panel_on_its_axis_is_the_published_closed_form() -> None:
    """Centre line of a rectangle: 2L(a/p atan(b/p) + b/q atan(a/q)), p^2 = a^2 + d^2.

    Of a parallel surface opposite the middle (view factor of radiation handbooks, from memory).
    """
    a, b, d = 0.3, 0.15, 1.0
    p, q = math.hypot(a, d), math.hypot(b, d)
    expected = 2 * (a / p * math.atan(b / p) + b / q * math.atan(a / q))
    light = Spot("x", "light", 0.0, 0.0, 2.0, 0.0, -90.0, size_m=(0.6, 0.3))
    face = Spot("face", "position", 0.0, 0.0, 1.0)
    lux, given_aim = find_reading_lux(light, face, (light, face), None)
    assert lux == pytest.approx(expected, rel=1e-12)
    assert lux * 5000 == pytest.approx(838, abs=0.5)  # and by quadrature elsewhere
    assert given_aim


def test_a_panel_gives_nothing_backwards_or_to_a_surface_turned_away() -> None:
    up = Spot("up", "light", 0.0, 0.0, 2.0, 0.0, 90.0, size_m=(1.0, 1.0))
    below = Spot("below", "position", 0.0, 0.0, 1.0)
    assert find_reading_lux(up, below, (up, below), None)[0] == 0.0
    down = Spot("down", "light", 0.0, 0.0, 2.0, 0.0, -90.0, size_m=(1.0, 1.0))
    floor = Spot("floor", "position", 0.0, 0.0, 1.0, None, -90.0)
    assert find_reading_lux(down, floor, (down, floor), None)[0] == 0.0


@settings(max_examples=60, deadline=None)
@given(
    azimuth=st.floats(-180, 180), elevation=st.floats(-80, 80),
    tilt=st.floats(-90, 90), roll=st.floats(-180, 180),
)  # fmt: skip
def test_in_the_picture_as_rotations_have_it(
    azimuth: float, elevation: float, tilt: float, roll: float
) -> None:
    """Against scipy's rotations, with x right, y up, z back, as cameras of 3D programs have them.

    The camera is turned by its roll about the lens, then tilted; a direction is in the picture if
    it lies within the four planes through the edges.
    """
    a, e = math.radians(azimuth), math.radians(elevation)
    world = np.array([math.sin(a) * math.cos(e), math.cos(a) * math.cos(e), math.sin(e)])
    turned = Rotation.from_euler("z", -roll, degrees=True)  # clockwise from behind is negative
    turned = Rotation.from_euler("x", tilt, degrees=True) * turned
    x, y, z = turned.inv().apply([world[0], world[2], -world[1]])
    lens = PlateLens(
        focal_length_mm=32.0, squeeze_ratio=2.0, sensor_width_mm=24.0, sensor_height_mm=20.0,
        camera_height_m=0.0, tilt_deg=tilt, roll_deg=roll,
    )  # fmt: skip
    wide, high = 24.0 * 2 / 64, 20.0 / 64
    edges = [(abs(x) + wide * z), (abs(y) + high * z), z]
    if min(abs(each) for each in edges) < 1e-6:
        return
    seen = find_in_picture(lens, 7.0 * world)
    assert seen is not None
    assert (seen.where == "in") == all(each < 0 for each in edges)
    assert ("behind" in seen.sides) == (z > 0)
    if z < 0:
        assert ("right" in seen.sides) == (x > -wide * z)
        assert ("above" in seen.sides) == (y > -high * z)
    assert seen.axis_deg == pytest.approx(math.degrees(math.atan2(math.hypot(x, y), -z)), abs=1e-5)


def test_what_nobody_said_stays_open() -> None:
    face = Spot("face", "position", 3.0, 5.0, 1.6)
    seen = [place_in_picture(lens, face, (face,)) for lens in (
        None, PlateLens(focal_length_mm=32.0), LENS, PlateLens(focal_length_mm=32.0,
        sensor_width_mm=28.0), PlateLens(focal_length_mm=32.0, sensor_width_mm=28.0,
        sensor_height_mm=15.8, camera_height_m=1.5))]  # fmt: skip
    assert seen[:2] == [None, None]
    assert [each.where for each in seen[2:] if each] == ["in", "open", "open"]
    side = place_in_picture(LENS, Spot("side", "light", 3.0, 24.0), ())
    assert side is not None
    assert (side.where, side.sides, side.axis_deg) == ("out", ("right",), None)
    # tan 23.63 degrees is 14 / 32: the edge itself.
    assert place_in_picture(LENS, Spot("x", "light", 3.0, 23.5), ()) != side


def test_a_soft_source_is_seen_with_all_its_face() -> None:
    """A sign whose middle is out by a little and whose near side is in; 1.2 m wide."""
    edge = math.degrees(math.atan(14 / 32))
    sign = Spot("sign", "light", 4.0, edge + 3.0, 1.5, 180.0, 0.0, size_m=(1.2, 0.4))
    seen = place_in_picture(LENS, sign, (sign,))
    assert seen is not None
    assert (seen.where, seen.sides) == ("partly", ("right",))
    narrow = Spot("sign", "light", 4.0, edge + 3.0, 1.5, 180.0, 0.0, size_m=(0.1, 0.1))
    assert place_in_picture(LENS, narrow, (narrow,)).where == "out"  # type: ignore[union-attr]


def test_a_light_that_turns_its_back_is_named() -> None:
    layout = (
        Spot("face", "position", 3.0, 0.0, 1.6),
        Spot("wall", "position", 6.0, 0.0, 1.6),
        Spot("window", "light", 4.5, 0.0, 2.0, aimed_at="wall", size_m=(1.0, 1.0)),
    )
    plan = decide(make_kitchen(layout=layout), "x")
    view = view_plate(plan, view_camera(plan.setup.camera))
    (note,) = view.notes
    assert (note.code, note.about, note.weight) == ("turned-away", "window", "warning")
    assert "points away from face, which gets 400 lux" in note.text
    assert view.bracket is not None
    assert [each.position for each in view.bracket.glows] == ["wall"]  # the one before it
