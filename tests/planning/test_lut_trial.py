"""An old LUT under a new light: its misses by another library, and when it may stay."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import numpy as np
import pytest

from tests.shared import decide, make_setup
from wbplan.camera.setting import Setting, view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import format_cube
from wbplan.light.surfaces import list_surfaces
from wbplan.lut.correction import Shot, find_surface_rgb
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.looks import find_meant, take_table
from wbplan.planning.lut_trial import LutTrial, Side, find_misses, try_lut
from wbplan.planning.response import SceneResponse, respond_to_scene


class Planned(NamedTuple):
    plan: SetupPlan
    scene: SceneResponse
    side: Side


def take(lux: list[list[float]], dial: Setting | None = None) -> Planned:
    setup = make_setup(lux, lut_size=17, shot_at=dial)
    plan = decide(setup, "x")
    assert plan.lut is not None
    side = Side(plan.dial, plan.exact.point, take_table(plan.lut.file))
    return Planned(plan, respond_to_scene(setup, view_camera(setup.camera)), side)


def attempt(old: Planned, new: Planned) -> LutTrial:
    found = try_lut(new.scene, new.plan.positions, old.side, new.side)
    assert found is not None
    return found


DIAL = Setting(4000.0, 0.0)


@pytest.fixture(scope="module")
def warm() -> Planned:
    return take([[300, 0, 20], [200, 100, 0]])


@pytest.fixture(scope="module")
def cool() -> Planned:
    return take([[20, 300, 80], [0, 200, 100]])


@pytest.fixture(scope="module")
def held_warm() -> Planned:
    return take([[300, 0, 20]], DIAL)


@pytest.fixture(scope="module")
def held_cool() -> Planned:
    return take([[20, 300, 80]], DIAL)


def judge_apart(
    colour: ModuleType, planned: Planned, row: int, dial: Setting, cube: Path
) -> tuple[float, float]:
    """Find the misses of grey and of the worst skin, all after the camera by colour-science."""
    reflectances = list_surfaces().reflectances
    light = planned.scene.position_power[row][None]
    encoding = find_encoding("ACEScct", "ACEScct")
    shot = Shot(planned.scene.camera, encoding, (dial.mired, dial.tint_cc))
    codes = colour.log_encoding(find_surface_rgb(shot, light, reflectances)[0], "ACEScct")
    lut = colour.read_LUT(str(cube))
    read = lut.apply(codes, interpolator=colour.algebra.table_interpolation_tetrahedral)
    linear = colour.log_decoding(read, "ACEScct")
    ap1, screen = (colour.RGB_COLOURSPACES[each] for each in ("ACEScct", "ITU-R BT.709"))
    white = colour.xy_to_XYZ(screen.whitepoint)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(ap1.whitepoint), white, "Bradford"
    )
    xyz = linear @ (adapt @ ap1.matrix_RGB_to_XYZ).T
    meant = find_meant(planned.plan.positions[row], planned.plan.dial)
    assert meant is not None
    own = Shot(
        planned.scene.camera, find_encoding("sRGB", "ITU-R BT.709"), (meant.mired, meant.tint_cc)
    )
    wanted = find_surface_rgb(own, light, reflectances)[0] @ screen.matrix_RGB_to_XYZ.T
    # A picture that no channel of the camera clips in: levels as they are, white at 1.
    lab, target = (colour.XYZ_to_Lab(each, screen.whitepoint) for each in (xyz, wanted))
    misses = colour.delta_E(lab, target, method="CIE 2000")
    names = list_surfaces().names
    skins = [misses[row] for row, name in enumerate(names) if name.startswith("skin")]
    return float(misses[names.index("grey 18 %")]), float(max(skins))


def test_misses_are_those_of_another_library(
    colour: ModuleType, warm: Planned, cool: Planned, tmp_path: Path
) -> None:
    """Within 0.01 of CIEDE2000: what six decimals in a file and rounded primaries leave."""
    files = {}
    for name, each in (("old", warm), ("new", cool)):
        files[name] = tmp_path / f"{name}.cube"
        files[name].write_bytes(format_cube(each.side.lut.cube))
    trial = attempt(warm, cool)
    assert [each.name for each in trial.places] == ["place 0", "place 1"]
    for row, place in enumerate(trial.places):
        assert place.mixed is not None
        for look, dial, name in (
            (place.old, warm.side.dial, "old"),
            (place.mixed, cool.side.dial, "old"),
            (place.new, cool.side.dial, "new"),
        ):
            apart = judge_apart(colour, cool, row, dial, files[name])
            assert find_misses(look) == pytest.approx(apart, abs=0.01)


def test_the_cast_that_stays_is_that_of_the_exact_settings(warm: Planned, cool: Planned) -> None:
    """A LUT carries its setting to its exact one: what a place wants less that stays."""
    for place, position in zip(attempt(warm, cool).places, cool.plan.positions, strict=True):
        wanted = np.array([position.wanted.mired.value, position.wanted.tint_cc.value])
        assert place.old_off == pytest.approx(wanted - warm.plan.exact.point, abs=1e-9)
        assert place.new_off == pytest.approx(wanted - cool.plan.exact.point, abs=1e-9)


def test_another_light_takes_its_own_lut(held_warm: Planned, held_cool: Planned) -> None:
    """At one setting for both a LUT carries all of the difference."""
    trial = attempt(held_warm, held_cool)
    assert trial.choice == "take"
    (place,) = trial.places
    assert place.mixed is None
    # Tungsten against a phosphor LED of 4100 K: over 5 anybody sees (`light.delta_e`).
    assert min(find_misses(place.old)) > 5
    # One place alone: its own LUT misses by no more than its table.
    assert max(find_misses(place.new)) < 0.3


def test_where_the_setting_carries_the_difference_the_old_lut_may_stay(
    warm: Planned, cool: Planned
) -> None:
    trial = attempt(warm, cool)
    assert trial.choice == "set"
    assert trial.worst.find_worse(trial.worst.old) > 5


def test_the_same_light_keeps_its_lut(warm: Planned) -> None:
    near = take([[300, 0, 20.5], [200, 101, 0]], warm.side.dial)
    trial = attempt(warm, near)
    assert trial.choice == "keep"
    same = attempt(warm, warm)
    assert same.choice == "keep"
    for place in same.places:
        assert find_misses(place.old) == find_misses(place.new)


def test_what_is_dark_or_not_meant_is_not_judged(warm: Planned, cool: Planned) -> None:
    first, second = cool.plan.positions
    positions = (first, replace(second, from_key_stops=-4.1))
    trial = try_lut(cool.scene, positions, warm.side, cool.side)
    assert trial is not None
    assert [each.name for each in trial.places] == ["place 0"]
    left = [replace(each, aim="left") for each in (first, second)]
    assert try_lut(cool.scene, left, warm.side, cool.side) is None
    troubled = [replace(each, trouble="no light here") for each in (first, second)]
    assert try_lut(cool.scene, troubled, warm.side, cool.side) is None
