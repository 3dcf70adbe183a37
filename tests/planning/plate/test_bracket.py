"""The bracket frame by frame: arithmetic of stops, and the sun among what it spans."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from tests.planning.plate.test_environment import SCENE
from tests.shared import decide, make_kitchen
from wbplan.camera.setting import view_camera
from wbplan.exposure.flicker import Flicker
from wbplan.exposure.nd_kit import Kit, Piece
from wbplan.front.plans import plan as plan_file
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.values import Bracket
from wbplan.planning.plate.view import view_plate

KIT = Kit((Piece("ND 0.6", 2.0, 2), Piece("ND 1.2", 4.0)), (2.0, 4.0, 6.0))


def bracket_of(plan: SetupPlan) -> Bracket:
    found = view_plate(plan, view_camera(plan.setup.camera)).bracket
    assert found is not None
    return found


def check_frames(plan: SetupPlan, bracket: Bracket) -> None:
    """Each frame is as many stops off the planned exposure, t EI / 2^ND, as it says."""
    assert plan.exposure is not None
    shooting = plan.setup.shooting
    planned = math.log2(shooting.exposure_time_s * shooting.ei) - plan.exposure.nd_stops
    steps = [each.from_planned_stops for each in bracket.frames]
    assert steps == [2.0 * round(steps[0] / 2) + 2.0 * n for n in range(len(steps))]
    for each in bracket.frames:
        made = math.log2(each.exposure_time_s * each.ei) - each.nd_stops
        assert made - planned == pytest.approx(each.from_planned_stops)
        assert each.exposure_time_s >= min(1 / 8000, shooting.exposure_time_s)
        assert each.nd_stops >= 0
    # The brightest thing is at middle grey or under it in the first, black over it in the last.
    assert -steps[0] >= bracket.darker_stops
    assert steps[-1] >= bracket.brighter_stops


def test_steady_light_goes_by_shutter_then_nd() -> None:
    plan = decide(make_kitchen(), "x")
    bracket = bracket_of(plan)
    check_frames(plan, bracket)
    assert plan.exposure is not None
    assert {each.ei for each in bracket.frames} == {800.0}
    for each in bracket.frames:
        assert each.nd_stops == pytest.approx(plan.exposure.nd_stops) or (
            each.exposure_time_s == pytest.approx(1 / 8000)
        )
    assert not bracket.is_whole  # nothing tells how bright the lamps themselves are
    assert -bracket.frames[0].from_planned_stops >= bracket.darker_stops + 6


def test_flickering_light_keeps_its_shutter() -> None:
    setup = make_kitchen()
    window, *rest = setup.sources
    window = replace(window, flicker=Flicker(100.0, 0.3))
    plan = decide(replace(setup, sources=(window, *rest)), "x")
    bracket = bracket_of(plan)
    check_frames(plan, bracket)
    assert {each.exposure_time_s for each in bracket.frames} == {1 / 48}
    for each in bracket.frames:
        assert each.ei == 800.0 or each.nd_stops == 0.0


def test_a_kit_is_put_together_or_named_too_small() -> None:
    setup = make_kitchen(kit=KIT)
    window, *rest = setup.sources
    window = replace(window, flicker=Flicker(100.0, 0.3))
    plan = decide(replace(setup, sources=(window, *rest)), "x")
    cost = {each.name: each.stops for each in KIT.pieces}
    for each in bracket_of(plan).frames:
        assert each.glass is not None
        assert each.camera_nd_stops is not None
        made = sum(cost[name] for name in each.glass) + each.camera_nd_stops
        assert made - each.nd_stops == pytest.approx(each.miss_stops)
        # In two steps of whole stops up to 8 of glass and 6 within, the nearest is a stop off.
        assert abs(each.miss_stops) <= 1.0 or each.nd_stops > 14.0


def test_charts_bring_each_grey_to_the_middle() -> None:
    plan = decide(make_kitchen(), "x")
    lux = {each.name: each.lux.value for each in plan.positions}
    charts = dict(bracket_of(plan).charts)
    assert set(charts) == {name for name in lux if lux[name] > 0}
    for name, stops in charts.items():
        assert stops == pytest.approx(math.log2(lux["face"] / lux[name]), abs=1e-9)


def plan_yard(sources: dict[str, Any], lux: dict[str, Any]) -> SetupPlan:
    setup = {**SCENE["setups"][0], "positions": {"face": {"lux": lux}}}
    del setup["layout"]
    scene = {**SCENE, "sources": sources, "setups": [setup]}
    return plan_file(scene, plate=True).setups[0]


def test_the_sun_is_the_brightest_thing_there() -> None:
    """Its lux on a surface that faces it over the solid angle of half a degree, 6.8e-5 sr.

    The sun's disc has 1.6e9 cd/m2 outside the air (from memory), and less through it.
    """
    pytest.importorskip("pvlib")
    facing = {"facing": {"azimuth_deg": 150, "tilt_deg": 40}}
    both = {"sun": {"sun": facing}, "sky": {"sky": facing}}
    plan = plan_yard(both, {"sun": "model", "sky": "model"})
    bracket = bracket_of(plan)
    check_frames(plan, bracket)
    assert bracket.peak == "sun"
    assert bracket.is_whole
    (glow,) = bracket.glows
    assert 0.9e9 < glow.luminance_cd_m2 < 1.6e9
    grey = 0.18 * plan.key.lux.value / math.pi
    assert plan.exposure is not None
    landed = plan.exposure.positions[0].landings[0].from_grey_stops.value
    assert glow.from_grey_stops == pytest.approx(landed + math.log2(glow.luminance_cd_m2 / grey))
    assert bracket.darker_stops == pytest.approx(glow.from_grey_stops)
    assert bracket.free_sun_stops is None


def test_a_sun_that_is_up_and_no_light_is_told() -> None:
    """By a published formula, which agrees with the model to a third of a stop."""
    pytest.importorskip("pvlib")
    facing = {"facing": {"azimuth_deg": 150, "tilt_deg": 40}}
    without = bracket_of(plan_yard({"lamp": {"black_body_kelvin": 3200}}, {"lamp": 90000}))
    assert without.free_sun_stops is not None
    sun = plan_yard({"sun": {"sun": facing}}, {"sun": 90000})
    (glow,) = bracket_of(sun).glows
    assert without.free_sun_stops == pytest.approx(glow.from_grey_stops, abs=0.35)
