"""Advice, trade-off and further cameras in the page, the record and the terminal."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from typing import Any

import pytest

from tests.shared import ENDS, UNITS, plan_shipped, render_all, walk
from wbplan.planning.advice import Change, RatioLeft
from wbplan.planning.decisions import Plan
from wbplan.planning.trade_off import KeptRange
from wbplan.record.plan import build_record, format_record
from wbplan.report.mixed import words as mixed
from wbplan.report.mixed.trade_off import draw_tradeoff
from wbplan.report.plan.terminal import format_plan
from wbplan.scene.changes import LevelRatio
from wbplan.scene.dialling import DialPlace

NASTY = "<b>\u202eit's</b> & co"


@pytest.fixture(scope="module")
def advised() -> Plan:
    return plan_shipped("reading_room", advise=True)


@pytest.fixture(scope="module")
def record(advised: Plan) -> dict[str, Any]:
    return dict(json.loads(format_record(build_record(advised))))


@pytest.mark.parametrize(
    ("steps", "panel", "said"),
    [
        (255, None, "dial 4300 K, Duv 0.0020 green (warm 184, cool 255 of 255)"),
        (0, DialPlace(4350, -2, 0.634), "set it to 4350 K, 2 CC magenta, level 63 %"),
        (255, DialPlace(4350, 0, 160 / 255), "set it to 4350 K, level 160 of 255"),
    ],
)
def test_a_fixture_is_said_as_it_can_be_set(steps: int, panel: DialPlace | None, said: str) -> None:
    drives = (("warm", 184 / 255), ("cool", 1.0))
    change = Change("panel", (), 0, drives, 0.0, 4300.0, 0.002, False, False)
    assert mixed.say_change(replace(change, drive_steps=steps, panel=panel)) == said


def test_record_holds_the_advice(advised: Plan, record: dict[str, Any]) -> None:
    setup, kept = advised.setups[0], record["setups"][0]
    advice = setup.advice
    assert advice is not None
    assert kept["advice"]["packs_count"] == advice.packs_count
    assert kept["advice"]["best_is_proven"] is advice.is_exact
    assert kept["advice"]["suggested_number"] == advice.suggested + 1
    for made, said in zip(advice.plans, kept["advice"]["plans"], strict=True):
        assert said["rms_mired"] == pytest.approx(made.rms_mired, rel=1e-5)
        assert said["dialled_setting"]["kelvin"] == made.dial.kelvin
        assert [c["light"] for c in said["changes"]] == [c.light for c in made.changes]
    fixture = kept["advice"]["fixtures"][1]
    assert fixture["is_reached"] is True
    assert max(each["drive_percent"] for each in fixture["drives"]) == 100
    conflict = kept["trade_off"]["conflicts"][0]
    assert (conflict["warmer"], conflict["cooler"]) == ("table top", "reader's face")
    assert kept["trade_off"]["all_kept"] is None
    assert len(kept["trade_off"]["kelvin"]) == len(kept["trade_off"]["weighted_rms_mired"])
    assert [each["name"] for each in kept["cameras_beside"]["cameras"]] == [
        "cfa-duv-tint",
        "layered-measured",
    ]
    assert kept["intent"]["positions"][0]["within_mired"] == 10
    assert kept["intent"]["positions"][3]["within_cc"] is None


def test_every_number_has_its_unit_in_the_key(record: dict[str, Any]) -> None:
    keys = {k for k, v in walk(record) if isinstance(v, int | float) and not isinstance(v, bool)}
    assert {key for key in keys if re.sub(ENDS, "", key).split("_")[-1] not in UNITS} == set()


def test_page_says_what_changes_what_remains_and_what_it_costs(advised: Plan) -> None:
    page = render_all(advised)
    advice = advised.setups[0].advice
    assert advice is not None
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    for each in advice.plans[advice.suggested].changes:
        assert each.light in text
        assert mixed.say_change(each) in text
    for place in advice.plans[advice.suggested].places:
        assert mixed.say_left(place) in text
    for heading in (
        "What each Kelvin does to the others",
        "What to change on the lights",
        "Other cameras on the same light",
    ):
        assert heading in page
    assert "suggested" in text
    assert "generic" in text
    assert render_all(advised) == page


def test_page_without_advice_keeps_quiet(advised: Plan) -> None:
    plain = replace(advised.setups[0], advice=None, agreement=None)
    page = render_all(replace(advised, setups=(plain,)))
    assert "What to change on the lights" not in page
    assert "Other cameras" not in page
    assert "--advise" in format_plan(replace(advised, setups=(plain,)))


def test_terminal_says_the_plans(advised: Plan) -> None:
    said = format_plan(advised, "full", 400)
    advice = advised.setups[0].advice
    assert advice is not None
    assert f">{advice.suggested}" in said
    assert "as it is" in said
    assert "no setting keeps them all" in said
    for fixture in advice.fixtures:
        assert mixed.say_drives(fixture.drives) in said
    assert "cfa-duv-tint" in said
    assert max(map(len, format_plan(advised).splitlines())) <= 80


def test_nasty_names_stay_text(advised: Plan) -> None:
    setup = advised.setups[0]
    advice, tradeoff = setup.advice, setup.tradeoff
    assert advice is not None
    assert tradeoff is not None
    plans = tuple(
        replace(
            each,
            changes=tuple(replace(c, light=NASTY, filters=(NASTY,)) for c in each.changes),
            places=tuple(replace(p, name=NASTY) for p in each.places),
        )
        for each in advice.plans
    )
    fixtures = tuple(replace(each, fixture=NASTY, wanted=NASTY) for each in advice.fixtures)
    broken = replace(setup, advice=replace(advice, plans=plans, fixtures=fixtures))
    whole = replace(advised, setups=(broken,))
    for said in (render_all(whole), format_plan(whole)):
        assert "\u202e" not in said
    assert "<b>\ufffdit" not in render_all(whole)
    json.loads(format_record(build_record(whole)))


def test_figure_keeps_inside_and_names_every_position(advised: Plan) -> None:
    setup = advised.setups[0]
    assert setup.tradeoff is not None
    numbers = {each.name: row + 1 for row, each in enumerate(setup.positions)}
    drawn = str(draw_tradeoff(setup.tradeoff, numbers, setup.dial, "x"))
    width, height = (float(v) for v in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawn)[0])
    for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", drawn):
        assert 0 <= float(x) <= width
        assert 0 <= float(y) <= height
    for name in setup.tradeoff.names:
        assert name.replace("'", "&#39;") in drawn
    common = KeptRange("all", 225.0, 235.0, -1.0, 1.0)
    shaded = str(draw_tradeoff(replace(setup.tradeoff, common=common), numbers, setup.dial, "x"))
    assert "<rect" in shaded
    assert "<rect" not in drawn


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        (
            KeptRange("a", 200.0, 250.0, -2.0, 1.0),
            "4000 to 5000 K; tint 2 CC green to 1 CC magenta",
        ),
        (KeptRange("a", -float("inf"), float("inf"), 0.0, 1.0), "tint 0 CC to 1 CC magenta"),
        (KeptRange("a", -5.0, 250.0, -float("inf"), float("inf")), "4000 to over 100000 K"),
    ],
)
def test_ranges_are_said_with_their_sides(kept: KeptRange, said: str) -> None:
    assert mixed.say_range(kept) == said


@pytest.mark.parametrize(
    ("stops", "said"),
    [(0.02, "no light lost"), (1.0, "1 stop lost"), (-0.5, "0.5 stops gained")],
)
def test_losses_are_said(stops: float, said: str) -> None:
    assert mixed.say_loss(stops) == said


# Lights that are not filtered ---------------------------------------------------------------------


def make_change(**values: Any) -> Change:
    plain = Change("lamp", (), 0, (), 1.0, 2700.0, 0.0, False, False)
    return replace(plain, **values)


def test_changes_are_said_as_a_crew_says_them() -> None:
    for change, said in (
        (make_change(kind="off", loss_stops=math.inf), "off"),
        (make_change(kind="moved", to="the door"), "move to the door"),
        (make_change(kind="bounced", to="the ceiling"), "bounce off the ceiling"),
        (make_change(kind="dimmed", dimmed_stops=1.0), "dim 1 stop"),
        (
            make_change(kind="dimmed", dimmed_stops=1.0, volts_share=0.8156),
            "dim 1 stop (82 % of the volts, 2700 K)",
        ),
        (make_change(filters=("half blue",) * 2, pieces=1), "half blue twice"),
        (make_change(filters=("half blue",) * 3, pieces=4), "half blue three times, 4 pieces each"),
        (
            make_change(kind="moved", to="the door", filters=("silk", "half blue"), pieces=2),
            "move to the door; silk + half blue, 2 pieces each",
        ),
    ):
        assert mixed.say_change(change) == said
    assert mixed.say_loss(math.inf) == "all light lost"


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (4.0, "4:1, wanted 4:1"),
        (0.25, "1:4, wanted 4:1, not reached"),
        (math.inf, "light against all dark, wanted 4:1, not reached"),
        (0.0, "all dark against light, wanted 4:1, not reached"),
    ],
)
def test_ratios_say_what_comes_of_them(ratio: float, said: str) -> None:
    wanted = LevelRatio("lamp", "window", 4.0, 0.25, "face")
    assert mixed.say_ratio(RatioLeft(wanted, ratio)) == f"lamp to window at face {said}"


def test_costs_name_trips_pieces_and_area(advised: Plan) -> None:
    advice = advised.setups[0].advice
    assert advice is not None
    bare = advice.plans[0]
    hung = make_change(filters=("half blue", "silk"), pieces=3, gel_m2=4.2, trips=2)
    off = make_change(kind="off")
    assert mixed.say_costs(replace(bare, changes=(off,))) == "1 trip"
    both = replace(bare, changes=(hung, off))
    assert mixed.say_costs(both) == "3 trips, 6 pieces of filter, 4.2 m2"
    nobody_said = replace(bare, changes=(replace(hung, gel_m2=None),))
    assert mixed.say_costs(nobody_said) == "2 trips, 6 pieces of filter"
