"""The verdict: whom a setting is for, what it does to the key, and the change that helps most."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.planning.test_response import make_setup
from wbplan.camera.setting import Setting, find_distance, view_camera
from wbplan.light.generic_filters import GELS, make_gel
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.setups import decide_setup
from wbplan.planning.verdict import Verdict
from wbplan.read.catalogue import find_camera
from wbplan.report.plan.verdict import say_solved, say_verdict
from wbplan.scene.setup import Intent, Position, Setup

VIEW = view_camera(find_camera("cfa-mid", Path()))
LIGHTS = ("A", "LED-B3", "FL2", "D75", "sodium-high-pressure-2000k")
WATCHED = Intent(weight=0.0, aim="watched")


def decide(setup: Setup) -> tuple[SetupPlan, Verdict]:
    plan = decide_setup(setup, VIEW, "01-test")
    assert plan.verdict is not None
    return plan, plan.verdict


def make_kitchen(other: Intent) -> Setup:
    """Anna by a lamp and a panel; a sink, a window, a sill and a dark street read beside her."""
    rows = {
        "anna": ([190, 210, 0, 0, 0], Intent()),
        "sink": ([20, 0, 260, 0, 0], other),
        "window": ([0, 0, 0, 400, 0], other),
        "sill": ([0, 30, 0, 240, 0], other),
        "street": ([0, 0, 0, 0, 10], other),
    }
    places = tuple(Position(name, np.array(lux, float), how) for name, (lux, how) in rows.items())
    return make_setup([[1.0] * 5], LIGHTS, positions=places, key="anna")


def test_watched_places_leave_the_setting_to_the_key() -> None:
    """Of issue 17: with four places read beside her Anna came out 55 mired warm, unsaid."""
    kitchen = make_kitchen(WATCHED)
    alone, _ = decide(replace(kitchen, positions=kitchen.positions[:1]))
    # as it was before, every place alike: the key far off
    assert decide(make_kitchen(Intent()))[0].key.off_intent.mired.value > 20
    assert abs(alone.key.off_intent.mired.value) < 2.5
    plan, verdict = decide(kitchen)
    assert plan.key.off_intent.mired.value == pytest.approx(alone.key.off_intent.mired.value)
    assert (plan.dial.kelvin, plan.dial.tint_cc) == (alone.dial.kelvin, alone.dial.tint_cc)
    assert not verdict.is_far
    assert [each.name for each in verdict.others] == ["window", "sill", "sink"]
    assert [name for name, _ in verdict.dark] == ["street"]
    # 10 lux under 400 are log2(40) stops
    assert verdict.dark[0][1] == pytest.approx(np.log2(40.0), abs=1e-9)
    said = say_solved(verdict)
    assert said.startswith("for anna, as meant")
    assert "; window comes out " in said
    assert said.endswith("; dark: street (5.3 stops under)")
    assert say_verdict(verdict) == ""


def test_a_key_that_is_pulled_off_is_said_with_what_helps_most() -> None:
    plan, verdict = decide(make_kitchen(Intent()))
    assert verdict.is_far
    assert plan.key.off_intent.mired.value > 5
    assert verdict.remedy is not None
    assert verdict.remedy.way == "setting"
    alone, _ = decide(replace(plan.setup, positions=plan.setup.positions[:1]))
    assert verdict.remedy.setting == alone.dial
    left = alone.key.off_intent
    assert verdict.remedy.left_mired == pytest.approx(left.mired.value, abs=1e-9)
    assert "anna is not as meant" in say_verdict(verdict)
    assert f"dial {alone.dial.kelvin:.0f} K" in say_verdict(verdict)
    assert "for anna 20 %, sink 20 %" in say_solved(verdict)


def test_a_filter_that_helps_most_does_so_when_it_is_hung() -> None:
    """On a camera of one preset, without a LUT of use, brute force over light and filter."""
    camera = find_camera("cfa-mid", Path())
    menu = replace(camera.menu, kelvin=(), tint_cc=(0.0,), presets=(("sun", 5600.0, 0.0),))
    setup = make_setup([[100.0, 60.0, 0.0]], camera=replace(camera, menu=menu))
    plan, verdict = decide(setup)
    assert verdict.is_far
    assert verdict.remedy is not None
    assert verdict.remedy.way == "lut"  # it lands the key just as meant
    assert "load the LUT; it is then as meant" in say_verdict(verdict)
    shot = replace(setup, shot_at=Setting(5600.0, 0.0), keep="green")
    left = {}
    for row, source in enumerate(setup.sources[:2]):
        for gel in GELS:
            sources = list(shot.sources)
            sources[row] = replace(source, filter=make_gel(gel))
            off = decide(replace(shot, sources=tuple(sources)))[0].key.off_intent
            left[source.name, gel.name] = float(find_distance(*off.point))
    from wbplan.planning.response import respond_to_scene
    from wbplan.planning.verdict import _try_filters

    found = next(iter(_try_filters(respond_to_scene(shot, VIEW), plan.dial, 0)))
    assert (found.light, found.filter) == min(left, key=lambda each: left[each])
    assert found.distance == pytest.approx(min(left.values()), abs=1e-6)


def test_a_setting_that_is_shot_at_is_judged_as_given() -> None:
    setup = replace(make_kitchen(WATCHED), shot_at=Setting(5600.0, 0.0))
    _, verdict = decide(setup)
    assert verdict.is_given
    assert say_solved(verdict).startswith("as it is shot; anna ")
    assert verdict.remedy is not None


def test_a_limit_without_a_weight_holds_and_is_named() -> None:
    kitchen = make_kitchen(WATCHED)
    limit = Intent(weight=0.0, within_mired=30.0)
    places = (kitchen.positions[0], replace(kitchen.positions[1], intent=limit))
    plan, verdict = decide(replace(kitchen, positions=places))
    assert verdict.heeded == ("sink",)
    assert abs(plan.positions[1].off_intent.mired.value) <= 30.0 + 0.002
    assert "within what sink may be off" in say_solved(verdict)
