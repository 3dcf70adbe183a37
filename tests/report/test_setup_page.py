"""Checklists and origins: complete, in order, and honest about what nobody measured."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.shared import plan_shipped
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.report.plan.checklist import list_camera_duties, list_light_duties
from wbplan.report.plan.provenance import list_data
from wbplan.report.plan.setup_page import prepare_setup


@pytest.fixture(scope="module")
def market() -> Plan:
    return plan_shipped("night_market")


@pytest.fixture(scope="module")
def room() -> Plan:
    return plan_shipped("reading_room", advise=True)


def test_every_light_has_its_duties(kitchen: SetupPlan) -> None:
    duties = list_light_duties(kitchen)
    assert [each.name for each in duties] == [each.name for each in kitchen.lights]
    said = {each.name: " ".join(each.do) for each in duties}
    assert said["spare"] == "Switched off"
    assert said["lamp"].startswith("Hang ideal 60 mired cool")
    assert "read it again behind the filter" in said["lamp"]  # an ideal filter is a model
    assert "nothing before it" in said["window"]
    assert not any(each.instead for each in duties)  # nothing was asked of a search


def test_camera_is_set_in_order(kitchen: SetupPlan) -> None:
    lines = list_camera_duties(kitchen).do
    assert lines[0].startswith(f"White balance {kitchen.dial.kelvin:.0f} K")
    assert lines[1] == "EI 800, 24 fps, shutter 180° (1/48 s)"
    assert lines[2].startswith("T2.8 for face")
    assert kitchen.lut is not None
    assert any(kitchen.lut.file_name in each for each in lines)
    assert "grey card" in lines[-1]
    exact = replace(
        kitchen,
        exact=replace(
            kitchen.exact,
            mired=replace(kitchen.exact.mired, low=200.0, high=200.0, value=200.0),
            tint_cc=replace(kitchen.exact.tint_cc, low=0.0, high=0.0, value=0.0),
        ),
    )
    assert "grey card" not in list_camera_duties(exact).do[-1]


def test_flash_and_flicker_are_duties(market: Plan) -> None:
    lines = [
        line for setup in market.setups for each in list_light_duties(setup) for line in each.do
    ]
    assert any(line.startswith("Flash: once within every exposure") for line in lines)
    assert any("keep to a safe shutter" in line for line in lines)


def test_what_the_search_suggests_stands_apart(room: Plan) -> None:
    setup = room.setups[0]
    assert setup.advice is not None
    chosen = setup.advice.plans[setup.advice.suggested]
    duties = {each.name: each for each in list_light_duties(setup)}
    changed = {each.light for each in chosen.changes}
    assert {name for name, each in duties.items() if each.instead} == changed
    for each in chosen.changes:
        assert "on the camera" in duties[each.light].instead[0]


def test_every_datum_says_where_it_is_from(plan: Plan, market: Plan) -> None:
    for whole in (plan, market):
        for setup in whole.setups:
            data = list_data(whole, setup)
            assert all(each.what and each.used and each.origin for each in data)
            names = [each.what for each in data]
            assert len(names) == len(set(names))
            for light in setup.lights:
                assert f"Spectrum of {light.name}" in names
            models = {each.what for each in data if each.is_model}
            for light, source in zip(setup.lights, setup.setup.sources, strict=True):
                assert (f"Spectrum of {light.name}" in models) == source.spectrum.is_model
            said = {each.what: each.origin for each in data}
            lux = said["Lux of each light at each position"]
            assert ("invented" in lux) == whole.invented


def test_origins_tell_stated_from_taken(kitchen: SetupPlan) -> None:
    whole = Plan("t", "f", "d", "v", False, (kitchen,))
    said = {each.what: each for each in list_data(whole, kitchen)}
    assert said["Middle grey to clip"].origin == "taken: ISO 12232:2019"
    assert said["Constant C of the incident meter"].origin.startswith("ISO 2720:1974")
    assert said["Error of the meter"].origin == "scenario"
    bare = replace(kitchen, setup=replace(kitchen.setup, meter=replace(kitchen.setup.meter,
                   illuminance_percent=0.0, chromaticity_xy=0.0)))  # fmt: skip
    said = {each.what: each for each in list_data(whole, bare)}
    assert said["Error of the meter"].origin == "not stated: readings are taken as exact"


def test_page_lists_what_lies_on_it(kitchen: SetupPlan) -> None:
    page = prepare_setup(kitchen, "x.html", "y.html")
    codes = [code for code, _ in page.list_figures()]
    assert codes[:5] == ["casts", "kelvin", "lights", "headroom", "channels"]
    assert len(codes) == len(set(codes))
    assert len(page.luts) == 1
    assert len(page.luts[0].sha256) == 64
    assert [each.name for each in page.looks] == ["face", "wall", "corridor", "alley"]
