"""A room planned from drawings: lux from photometry files until somebody reads them."""

# ruff: noqa: E501  # a change of the scenario and what it is refused with, a line for each

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import wbplan
from tests.read.photometry_files import write_lm63
from tests.shared import render_all
from wbplan.core.errors import InputError
from wbplan.planning.decisions import Plan
from wbplan.read.scenario.reader import read_scenario
from wbplan.record.plan import build_record
from wbplan.record.schemas import read_schema_text
from wbplan.report.plan.terminal import format_plan
from wbplan.report.plate.record import build_plate_record
from wbplan.scene.setup import Setup

SCENARIO = """wbplan: 1
title: A room on paper
invented: true
camera: cfa-mid
sources:
  panel: {phosphor_led: {cct_kelvin: 5600}}
  bulb: {lamp: A}
  day: {daylight_kelvin: 6500, is_a: window}
setups:
  - name: Wide
    shooting: {fps: 24, shutter_angle_deg: 180}
    lens: {camera_height_m: 1.5}
    positions:
      face: {intent: neutral}
      wall: {lux: {bulb: 20}}
    layout:
      face: {distance_m: 3, bearing_deg: 0, height_m: 1.5}
      wall: {distance_m: 5, bearing_deg: 0, height_m: 1.5}
      Panel: {distance_m: 1, bearing_deg: 0, height_m: 1.5, aimed_at: face,
              photometry: panel.ies, dimmer: 0.5}
"""
GAMMA = np.arange(0.0, 91.0)
COSINE = write_lm63([0], GAMMA, 1000 * np.cos(np.radians(GAMMA))[None])


def read(folder: Path, *changes: tuple[str, str], photometry: str = COSINE) -> Setup:
    (folder / "panel.ies").write_text(photometry)
    text = SCENARIO
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (folder / "s.yaml").write_text(text)
    return read_scenario(folder / "s.yaml").setups[0]


def list_notes(setup: Setup) -> list[str]:
    return [each.code for each in setup.notes]


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("room")
    read(folder)
    return wbplan.plan(wbplan.read_scene(folder / "s.yaml"), plate=True, lut_size=17)


def test_a_place_without_a_reading_gets_the_inverse_square(tmp_path: Path) -> None:
    """On the axis: 1000 cd at half, 2 m and 4 m away."""
    setup = read(tmp_path)
    assert [each.name for each in setup.sources] == ["panel", "bulb"]
    assert [each.lux.tolist() for each in setup.positions] == [
        pytest.approx([125.0, 0.0]),
        pytest.approx([31.25, 20.0]),
    ]
    assert setup.positions[1].predicted == ((0.8, 1.1), None)
    assert list_notes(setup) == ["predicted-lux"]


def test_a_reading_takes_its_place_one_by_one(tmp_path: Path) -> None:
    setup = read(tmp_path, ("{lux: {bulb: 20}}", "{lux: {bulb: 20, panel: 0}}"))
    face, wall = setup.positions
    assert (face.lux[0], wall.lux[0]) == (pytest.approx(125.0), 0.0)
    assert (face.predicted, wall.predicted) == (((0.8, 1.1), None), ())
    assert "the lux at face is predicted" in str(setup.notes[0])


def test_aim_and_plane_count_by_their_cosines(tmp_path: Path) -> None:
    """The lamp hangs 2 m over and 2 m before the face: 1000 cos 45 cd, 8 m2, halved by dimmer."""
    hang = (
        "bearing_deg: 0, height_m: 1.5, aimed_at: face",
        "bearing_deg: 0, height_m: 3.5, tilt_deg: -90",
    )
    face = "face: {distance_m: 3, bearing_deg: 0, height_m: 1.5"
    cosine = np.sqrt(0.5)
    lux = [
        read(tmp_path, hang, (face, face + more)).positions[0].lux[0]
        for more in ("", ", facing_deg: 180, tilt_deg: 0", ", aimed_at: camera")
    ]  # fmt: skip
    assert lux == pytest.approx([62.5 * cosine, 62.5 * 0.5, 62.5 * 0.5], abs=0.01)


def test_the_band_reaches_lux_stop_and_cast(plan: Plan) -> None:
    """90 % of readings within -20 to +10 %; the stop goes by the square root; half is common."""
    face, wall = plan.setups[0].positions
    assert (face.lux.low, face.lux.high) == pytest.approx((100.0, 137.5), rel=0.04)
    assert face.t_stop.low / face.t_stop.value == pytest.approx(0.8**0.5, rel=0.02)
    assert face.t_stop.high / face.t_stop.value == pytest.approx(1.1**0.5, rel=0.02)
    assert (face.predicted, wall.predicted) == (("panel",), ("panel",))


def test_the_crew_may_say_the_band(tmp_path: Path) -> None:
    setup = read(tmp_path, ("dimmer: 0.5", "dimmer: 0.5, band_percent: [-40, 0]"))
    assert setup.positions[0].predicted == ((0.6, 1.0), None)
    assert "within -40 to +0 %" in str(setup.notes[0])


def test_it_is_called_predicted_everywhere(plan: Plan) -> None:
    said = format_plan(plan, "full", 200)
    assert "125 lux predicted" in said
    assert "expose  T2.8 at face, T-number 2.9 (2.6 to 3.0) as predicted" in said
    page = render_all(plan)
    assert "predicted: panel" in page
    assert "Its lux is predicted at face, wall: read it there" in page
    record = build_record(plan)
    places = record["setups"][0]["positions"]
    assert [each["predicted_lights"] for each in places] == [["panel"], ["panel"]]
    assert "scenario/panel.ies" in [each["name"] for each in record["inputs"]["files"]]
    plate = build_plate_record(plan, plan.setups[0], 1, ())
    assert [x["is_predicted"] for x in plate["lights"][0]["illuminance"]] == [True, True]
    for name, each in (("plan", {**record, "files": []}), ("plate", plate)):
        Draft202012Validator(json.loads(read_schema_text(name))).validate(each)


@pytest.mark.parametrize(
    ("change", "photometry", "code"),
    [
        (("aimed_at: face,", "aimed_at: face, size_m: [0.5, 0.3],"), COSINE, "predicted-near"),
        (("      wall: {distance_m: 5, bearing_deg: 0, height_m: 1.5}\n", ""), COSINE, "not-predicted"),
        (("{phosphor_led: {cct_kelvin: 5600}}", "{black_body_kelvin: 3200}"), COSINE, "predicted-dimmed"),
        (("dimmer: 0.5", "dimmer: 1"), COSINE.replace("1 -1 1", "1 1000 1", 1), "photometry-flux"),
    ],
)  # fmt: skip
def test_what_is_doubtful_is_said(
    change: tuple[str, str], photometry: str, code: str, tmp_path: Path
) -> None:
    assert code in list_notes(read(tmp_path, change, photometry=photometry))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("bearing_deg: 0, height_m: 1.5, aimed_at", "bearing_deg: 0, aimed_at"), "Panel.height_m: found no height"),
        (("distance_m: 3, bearing_deg: 0, height_m: 1.5", "distance_m: 3, bearing_deg: 0"), "face.height_m: found no height"),
        (("aimed_at: face,", ""), "tilt_deg: found no aim; allowed: aimed_at, or facing_deg"),
        (("aimed_at: face,", "tilt_deg: -30,"), "facing_deg: found a tilt without"),
        (("distance_m: 1,", "distance_m: 3,"), "aimed_at: found 'face', which is in the same place"),
        (("distance_m: 1, bearing_deg: 0, height_m: 1.5, aimed_at: face", "distance_m: 3, bearing_deg: 0, height_m: 1.5, tilt_deg: -90"), "distance_m: found where 'face' is"),
        (("panel.ies", "none.ies"), "found no such file: 'none.ies'; allowed: did you mean 'panel.ies'"),
        (("dimmer: 0.5", "dimmer: 1.5"), "dimmer: found 1.5; allowed: a number from 0 to 1"),
        (("dimmer: 0.5", "band_percent: [5, 10]"), "band_percent: found from 5 to 10 %"),
        (("wall: {distance_m: 5,", "wall: {dimmer: 1, distance_m: 5,"), "dimmer: found dimmer without photometry"),
        (("5, bearing_deg: 0, height_m: 1.5}", "5, bearing_deg: 0, height_m: 1.5, photometry: panel.ies}"), "the photometry of a position"),
        (("{phosphor_led: {cct_kelvin: 5600}}", "{phosphor_led: {cct_kelvin: 5600}, flash: true}"), "'panel', a flash; allowed: a lamp"),
        (("{phosphor_led: {cct_kelvin: 5600}}", "{daylight_kelvin: 5600, is_a: window}"), "'panel', daylight or a window"),
    ],
)  # fmt: skip
def test_what_cannot_be_predicted_is_refused(
    change: tuple[str, str], said: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, change)
    assert said in str(caught.value)


def test_a_position_without_lux_is_still_refused_where_nothing_predicts(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such field"):
        read(tmp_path, ("photometry: panel.ies, dimmer: 0.5", "size_m: [1, 1]"))
