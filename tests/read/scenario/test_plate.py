"""What a scenario says for the plate: what is understood, what is refused, and the digest."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.read.scenario.test_reader import GOOD
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.read.scenario.reader import read_scenario
from wbplan.scene.plate import PlateLens, Slate, Spot, find_facing_deg, find_separation

LENS = (
    "    lens: {name: no. 7, focal_length_mm: 50, squeeze_ratio: 2, focus_distance_m: 3,"
    " camera_height_m: 1.5, tilt_deg: -4, roll_deg: 1, heading_deg: 205, sensor_width_mm: 36,"
    " sensor_height_mm: 24, picture_width_px: 4096, picture_height_px: 2304, filters: [mist 1/8]}\n"
)
LAYOUT = (
    "    layout:\n"
    "      face: {distance_m: 3, bearing_deg: 0, height_m: 1.6}\n"
    "      window: {distance_m: 4, bearing_deg: 270, height_m: 1.6, aimed_at: face,"
    " size_m: [2, 1]}\n"
    "      lamp: {distance_m: 0, bearing_deg: -180, facing_deg: -200, tilt_deg: 10}\n"
)
PLATE = "    plate: {slate: 41C, scene: 41, take: 2, clip: 41-2, notes: 'wet ground; =no'}\n"
WHOLE = GOOD.replace("    positions:\n", LENS + LAYOUT + PLATE + "    positions:\n")


def write(folder: Path, text: str = WHOLE) -> Path:
    path = folder / "s.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_all_fields_are_read(tmp_path: Path) -> None:
    setup = read_scenario(write(tmp_path)).setups[0]
    assert setup.lens == PlateLens(
        "no. 7", 50.0, 2.0, 3.0, 1.5, -4.0, 1.0, 205.0, 36.0, 24.0, 4096, 2304, ("mist 1/8",)
    )
    face, window, lamp = setup.layout
    assert face == Spot("face", "position", 3.0, 0.0, 1.6)
    assert window == Spot("window", "light", 4.0, -90.0, 1.6, aimed_at="face", size_m=(2.0, 1.0))
    assert (lamp.bearing_deg, lamp.facing_deg, lamp.tilt_deg) == (180.0, 160.0, 10.0)
    assert setup.slate == Slate("41C", "41", "2", "41-2", "wet ground; =no")


def test_nothing_is_invented_for_what_is_absent(tmp_path: Path) -> None:
    setup = read_scenario(write(tmp_path, GOOD)).setups[0]
    assert (setup.lens, setup.layout, setup.slate) == (None, (), None)
    some = GOOD.replace("    positions:\n", "    lens: {focal_length_mm: 35}\n    positions:\n")
    lens = read_scenario(write(tmp_path, some)).setups[0].lens
    assert lens == PlateLens(focal_length_mm=35.0)
    assert lens.horizontal_angle_deg is None


def test_focus_may_be_infinity(tmp_path: Path) -> None:
    text = WHOLE.replace("focus_distance_m: 3,", "focus_distance_m: Infinity,")
    lens = read_scenario(write(tmp_path, text)).setups[0].lens
    assert lens is not None
    assert lens.focus_distance_m == math.inf


@pytest.mark.parametrize(
    ("was", "becomes", "fragments"),
    [
        ("focal_length_mm: 50", "focal_length_mm: 0", ["s.yaml:", "lens.focal_length_mm", "above"]),
        ("focal_length_mm: 50", "focal_length_mm: 50 mm", ["focal_length_mm", "plain decimal"]),
        ("focal_length_mm", "focal_lenght_mm", ["lens.focal_lenght_mm", "did you mean"]),
        ("squeeze_ratio: 2", "squeeze_ratio: 0.5", ["squeeze_ratio", "from 1 to 3"]),
        ("focus_distance_m: 3", "focus_distance_m: far", ["focus_distance_m", "or infinity"]),
        ("focus_distance_m: 3", "focus_distance_m: -1", ["focus_distance_m", "-1", "above 0"]),
        ("tilt_deg: -4", "tilt_deg: -94", ["lens.tilt_deg", "-94", "from -90 to 90"]),
        ("heading_deg: 205", "heading_deg: -5", ["heading_deg", "from 0 to 360"]),
        ("picture_width_px: 4096", "picture_width_px: 4096.5", ["picture_width_px", "whole"]),
        ("filters: [mist 1/8]", "filters: mist", ["lens.filters", "a list"]),
        (f"filters: [{'mist 1/8'}]", f"filters: [{', '.join('a' * 13)}]", ["13 filters", "12"]),
        ("      lamp: {dis", "      lmap: {dis", ["layout.lmap", "'lmap'", "did you mean 'lamp'"]),
        ("      lamp: {dis", "      FACE: {dis", ["layout.FACE", "'face' twice"]),
        ("      lamp: {dis", "      door: {dis", ["layout.door", "one of window, lamp, face"]),
        ("distance_m: 3, bearing_deg: 0", "bearing_deg: 0", ["layout.face.distance_m"]),
        ("distance_m: 3, bearing", "distance_m: -3, bearing", ["layout.face.distance_m", "-3"]),
        ("bearing_deg: 270", "bearing_deg: east", ["bearing_deg", "'east'", "a number"]),
        ("aimed_at: face", "aimed_at: fase", ["aimed_at", "fase", "did you mean 'face'"]),
        ("aimed_at: face", "aimed_at: window", ["aimed_at", "camera, lamp"]),
        ("aimed_at: face", "aimed_at: face, facing_deg: 3", ["facing_deg", "or a direction"]),
        ("size_m: [2, 1]", "size_m: [2]", ["size_m", "a list of 2"]),
        ("size_m: [2, 1]", "size_m: [2, 0]", ["size_m[1]", "above 0"]),
        ("height_m: 1.6}\n      w", "size_m: [1, 1]}\n      w", ["face.size_m", "a light"]),
        ("plate: {slate", "plate: {slaet", ["plate.slaet", "did you mean 'slate'"]),
        ("slate: 41C", "slate: [41C]", ["plate.slate", "a text"]),
        ("take: 2", f"take: {'9' * 81}", ["plate.take", "at most 80"]),
        ("    lens: {", "    lens: 50\n    lense: {", ["lens"]),
    ],
)  # fmt: skip
def test_refusals(tmp_path: Path, was: str, becomes: str, fragments: list[str]) -> None:
    assert was in WHOLE
    with pytest.raises(InputError) as caught:
        read_scenario(write(tmp_path, WHOLE.replace(was, becomes, 1)))
    for each in fragments:
        assert each in str(caught.value)


def test_a_name_of_a_light_and_a_position_is_refused(tmp_path: Path) -> None:
    text = WHOLE.replace("      wall: {lux", "      lamp: {lux")
    with pytest.raises(InputError, match="'lamp', which is a light and a position"):
        read_scenario(write(tmp_path, text))


def test_names_that_differ_in_case_alone_are_kept_apart(tmp_path: Path) -> None:
    text = WHOLE.replace("  lamp: {lamp: A}\n", "  lamp: {lamp: A}\n  Lamp: {lamp: FL2}\n")
    text = text.replace("lamp: 50}", "lamp: 50, Lamp: 20}")
    text = text.replace("      lamp: {distance_m: 0,", "      Lamp: {distance_m: 9,")
    places = {each.name: each for each in read_scenario(write(tmp_path, text)).setups[0].layout}
    assert places["Lamp"].distance_m == 9
    assert "lamp" not in places


def test_the_digest_follows_each_field(tmp_path: Path) -> None:
    digests = {digest_values(read_scenario(write(tmp_path, GOOD)))}
    changes = [("", ""), ("no. 7", "no. 8"), ("distance_m: 4", "distance_m: 4.1"), ("41C", "41D")]
    for was, becomes in changes:
        digests.add(digest_values(read_scenario(write(tmp_path, WHOLE.replace(was, becomes, 1)))))
    assert len(digests) == 1 + len(changes)


@pytest.mark.parametrize(("focal", "degrees"), [(24, 73.7), (35, 54.4), (50, 39.6), (85, 23.9)])
def test_angle_of_view(focal: float, degrees: float) -> None:
    # Tables of angles of view across a 36 mm wide frame, from memory; to a tenth of a degree.
    lens = PlateLens(focal_length_mm=focal, sensor_width_mm=36.0)
    assert lens.horizontal_angle_deg == pytest.approx(degrees, abs=0.06)
    wide = PlateLens(focal_length_mm=2 * focal, sensor_width_mm=36.0, squeeze_ratio=2.0)
    assert wide.horizontal_angle_deg == lens.horizontal_angle_deg  # 2x squeeze doubles the width


def test_places_on_the_floor() -> None:
    """A 3-4-5 triangle (Euclid I.47), and what has no height has no line."""
    face = Spot("face", "position", 3.0, 0.0, 1.5)
    window = Spot("window", "light", 4.0, 90.0, 1.5, aimed_at="face")
    assert window.plan_m == pytest.approx((4.0, 0.0))
    apart = find_separation(face, window)
    assert (apart.floor_m, apart.rise_m, apart.straight_m) == pytest.approx((5.0, 0.0, 5.0))
    low = Spot("low", "light", 4.0, 90.0)
    assert (find_separation(face, low).rise_m, find_separation(face, low).straight_m) == (None,) * 2
    layout = (face, window)
    facing = find_facing_deg(window, layout)
    assert facing == pytest.approx(-math.degrees(math.atan2(4, 3)))
    back = Spot("back", "light", 2.0, 0.0, aimed_at="camera")
    assert find_facing_deg(back, layout) == pytest.approx(180.0)
    assert find_facing_deg(Spot("x", "light", 1.0, 0.0, aimed_at="gone"), layout) is None
    assert find_facing_deg(Spot("x", "light", 3.0, 0.0, aimed_at="face"), layout) is None
