"""Setups of many positions and lights: what pages and terminal show of them, what is refused."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import wbplan
from tests.shared import make_camera, make_setup
from wbplan import __version__
from wbplan.camera.setting import view_camera
from wbplan.core.errors import InputError
from wbplan.core.ledger import PlanInputs
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.setups import plan_setup
from wbplan.record import size
from wbplan.record.plan import build_record, format_record
from wbplan.report.plan.long import MOST_SHOWN, choose_drawn, choose_shown, cut_positions
from wbplan.report.plan.page import render_pages
from wbplan.report.plan.terminal import format_plan
from wbplan.scene.setup import Intent

COUNT = 60


@pytest.fixture(scope="module")
def long() -> SetupPlan:
    lux = np.random.default_rng(5).uniform(1, 500, (COUNT, 3))
    setup = make_setup(lux.tolist(), key="place 7", camera=make_camera("exact"))
    watched = Intent(weight=0.0, aim="watched")
    places = [replace(x, intent=watched) for x in setup.positions]
    for row in (7, 50):
        places[row] = setup.positions[row]
    setup = replace(setup, positions=tuple(places))
    return plan_setup(setup, view_camera(setup.camera), "01-long")


def make_plan(setup: SetupPlan) -> Plan:
    return Plan(
        "Long", "long.yaml", "0" * 64, __version__, True, (setup,), inputs=PlanInputs("", ())
    )


def test_the_key_what_pulls_and_what_is_farthest_are_shown(long: SetupPlan) -> None:
    rows = choose_shown(long)
    assert len(rows) == MOST_SHOWN
    assert list(rows) == sorted(rows)
    assert {7, 50} <= set(rows)
    far = [np.hypot(x.off_intent.mired.value, 7 * x.off_intent.green_cc.value)
           for x in long.positions]  # fmt: skip
    left_out = set(range(COUNT)) - set(rows)
    chosen = set(rows) - {7, 50}
    assert max(far[row] for row in left_out) <= min(far[row] for row in chosen)


def test_a_page_and_the_terminal_say_what_they_leave_out(long: SetupPlan) -> None:
    plan = make_plan(long)
    page = render_pages(plan)["01-long_report.html"]
    said = f"{MOST_SHOWN} of {COUNT} positions are shown"
    assert said in page
    assert said in format_plan(plan)
    shown = [f"place {row}" for row in choose_shown(long)]
    hidden = [f"place {row}" for row in range(COUNT) if f"place {row}" not in shown]
    assert all(f">{name}<" in page or f">{name} <" in page for name in shown)
    assert not any(f">{name}<" in page or f">{name} <" in page for name in hidden)
    record = build_record(plan)["setups"][0]
    assert len(record["positions"]) == COUNT
    assert len(record["exposure"]["contrasts"]) == 2 * COUNT - 3


def test_a_setup_of_few_positions_is_left_as_it_is(long: SetupPlan) -> None:
    few = replace(long, positions=long.positions[:MOST_SHOWN])
    assert cut_positions(few) is few
    assert choose_drawn(few) == (0, 1, 2)


def test_the_estimate_is_near_what_comes_out(long: SetupPlan) -> None:
    made = len(format_record(build_record(make_plan(long))))
    # Without the pictures of a plan with bands it is less; never beyond what is told as "some".
    assert 0.6 < size.estimate_record_bytes([long.setup]) / made < 1.6


def test_what_no_reader_takes_is_refused_before_the_work(
    long: SetupPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert size.say_size([long.setup]) == ""
    many = [long.setup] * 8
    assert size.say_size(many) == "8 setups of 3 lights at 60 positions: a record of some 6 MB"
    monkeypatch.setattr(size, "MOST_RECORD_BYTES", 5_500_000)
    with pytest.raises(InputError, match="8 setups of 3 lights at 60 positions"):
        size.say_size(many)
    with pytest.raises(InputError, match="a record of 6 MB"):
        size.check_record_bytes(b" " * 6_000_000, "plan.json")


def test_many_lights_are_said_by_what_they_give(long: SetupPlan) -> None:
    from wbplan.report.base.words import say_shares

    lights = tuple(replace(long.lights[0], name=f"lamp {row}") for row in range(30))
    shares = tuple([0.02] * 28 + [0.14, 0.30])
    said = say_shares(replace(long, lights=lights), shares)
    assert said[-3:] == ["lamp 28 14 %", "lamp 29 30 %", "18 more 36 %"]
    assert len(said) == 13


def test_plate_notes_of_many_positions_and_lights_show_what_gives_most() -> None:
    lights = {f"lamp {row}": {"black_body_kelvin": 2500 + 100 * row} for row in range(15)}
    lux = np.random.default_rng(9).integers(5, 500, (45, 15))
    positions = {
        f"place {row}": {"lux": dict(zip(lights, map(int, own), strict=True))}
        for row, own in enumerate(lux)
    }
    shooting = {"ei": 800, "fps": 24, "shutter_angle_deg": 180}
    setup = {"name": "Hall", "key": "place 9", "positions": positions, "shooting": shooting}
    scene = {"title": "Hall", "camera": "cfa-mid", "sources": lights, "setups": [setup]}
    files = wbplan.make_files(wbplan.plan(scene, plate=True))
    page = files["01-hall_plate.html"].decode()
    assert f"{MOST_SHOWN} of 45 positions are shown" in page
    assert page.count("and 3 more that give less") == MOST_SHOWN
    levels = page.partition('id="levels"')[2].partition("<h2")[0]
    at_key = levels.partition(">place 9 ")[2].partition("and 3 more")[0]
    least = sorted(range(15), key=lambda number: lux[9, number])[:3]
    said = set(re.findall(r"lamp \d+", at_key))
    assert said == {f"lamp {number}" for number in range(15) if number not in least}
    sheet = files["01-hall_plate_levels.csv"].decode()
    assert len(sheet.splitlines()) == 1 + 45 * 15
