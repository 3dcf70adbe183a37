"""A day of many positions: worked out by blocks, told in part, its size said before the work."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from wbplan import __version__
from wbplan.camera.setting import view_camera
from wbplan.core.errors import InputError
from wbplan.day import scene as scenes
from wbplan.day.scene import DayScene, respond_to_day
from wbplan.day.setups import DayPlan, DaySetup, plan_day_setup
from wbplan.day.times import DayWish, list_moments, list_seconds
from wbplan.planning import readings
from wbplan.read.scenario.reader import read_scenario
from wbplan.record import size
from wbplan.record.day import build_day_record
from wbplan.record.plan import format_record
from wbplan.report.day.long import MOST_SHOWN, choose_shown, cut_positions
from wbplan.report.day.page import render_day_page
from wbplan.report.day.terminal import format_day_plan
from wbplan.scene.setup import Setup

pytest.importorskip("pvlib")

COUNT = 30
WISH = DayWish(date(2026, 6, 21), 540, 1080, 30)
SCENARIO = """\
wbplan: 1
title: Yard
camera: cfa-mid
site: {latitude_deg: 54.4, longitude_deg: 4.4, time_zone: Europe/Brussels}
sources:
  window: {sky: {facing: {azimuth_deg: 315}}}
  lamp: {lamp: LED-B3}
setups:
  - name: Yard
    when: 2026-06-21 14:30
    key: place 5
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8}
    positions:
"""


@pytest.fixture(scope="module")
def setup(tmp_path_factory: pytest.TempPathFactory) -> Setup:
    lux = np.random.default_rng(8).integers(1, 500, (COUNT, 2))
    lines = [
        f"      place {row}: {{lux: {{window: {a}, lamp: {b}}}"
        f"{', weight: 1' if row in (5, 21) else ''}}}"
        for row, (a, b) in enumerate(lux)
    ]
    path = tmp_path_factory.mktemp("day") / "yard.yaml"
    path.write_text(SCENARIO + "\n".join([*lines, ""]))
    return read_scenario(path).setups[0]


@pytest.fixture(scope="module")
def long(setup: Setup) -> DaySetup:
    return plan_day_setup(setup, view_camera(setup.camera), WISH, "01-yard")


def list_arrays(scene: DayScene) -> list[np.ndarray]:
    found = []
    for each in fields(scene):
        value = getattr(scene, each.name)
        ends = (value.value, value.low, value.high) if hasattr(value, "low") else (value,)
        found += [np.asarray(end) for end in ends]
    return found


def test_blocks_of_times_and_positions_change_nothing(
    setup: Setup, monkeypatch: pytest.MonkeyPatch
) -> None:
    seconds = list_seconds(list_moments(date(2026, 6, 21), "Europe/Brussels", WISH))
    camera = view_camera(setup.camera)
    whole = respond_to_day(setup, camera, seconds)
    monkeypatch.setattr(scenes, "_CELLS", 7 * COUNT)
    monkeypatch.setattr(readings, "_NEUTRALS", 256 * 7 * 4)
    cut = respond_to_day(setup, camera, seconds)
    for one, other in zip(list_arrays(whole), list_arrays(cut), strict=True):
        assert (one == other).all() if one.dtype.kind in "bUO" else np.allclose(
            one, other, rtol=1e-9, atol=1e-9, equal_nan=True
        )  # fmt: skip


def test_the_key_what_pulls_and_what_gets_farthest_are_shown(long: DaySetup) -> None:
    rows = choose_shown(long)
    assert len(rows) == MOST_SHOWN
    assert {5, 21} <= set(rows)
    assert long.whole is not None
    off = long.scene.mired.value - long.whole.setting.mired
    green = long.scene.tint_cc.value - long.whole.setting.tint_cc
    far = np.nanmax(np.hypot(off, 7 * green), axis=0)  # all are meant to be neutral
    left_out = set(range(COUNT)) - set(rows)
    assert max(far[list(left_out)]) <= min(far[list(set(rows) - {5, 21})])
    short = cut_positions(long)
    assert cut_positions(short) is short


def test_a_page_and_the_terminal_say_what_they_leave_out(long: DaySetup) -> None:
    plan = DayPlan("Long", "long.yaml", "0" * 64, __version__, True, (long,), (), 0.9)
    said = f"{MOST_SHOWN} of {COUNT} positions are shown"
    page = render_day_page(plan)
    text = format_day_plan(plan, "full")
    assert f"The first 8 of {MOST_SHOWN + 1} lines are drawn." in page  # with the exact setting's
    left_out = sorted(set(range(COUNT)) - set(choose_shown(long)))[-1]
    for each in (page, text):
        assert said in each
        assert f"place {left_out} " not in each
        assert f"place {left_out}<" not in each
    assert len(build_day_record(plan)["setups"][0]["positions"]) == COUNT


def test_the_estimate_is_near_what_comes_out(long: DaySetup) -> None:
    plan = DayPlan("Long", "long.yaml", "0" * 64, __version__, True, (long,), (), 0.9)
    made = len(format_record(build_day_record(plan)))
    assert 0.6 < size.estimate_day_bytes([long.setup], WISH) / made < 1.6


def test_what_no_reader_takes_is_refused_before_the_work(
    setup: Setup, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_minute = replace(WISH, step_minutes=1)
    assert size.say_day_size([setup], WISH) == ""
    said = "1 setup of 2 lights at 30 positions, every 1 minutes: a record of some 5 MB"
    assert size.say_day_size([setup], by_minute) == said
    monkeypatch.setattr(size, "MOST_RECORD_BYTES", 5_000_000)
    with pytest.raises(InputError, match="every 1 minutes: a record of some 5 MB"):
        size.say_day_size([setup], by_minute)


def test_the_command_says_the_size(
    setup: Setup,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from wbplan.front.cli.main import main

    path = tmp_path / "yard.yaml"
    path.write_text(f"{SCENARIO}      place 5: {{lux: {{window: 90, lamp: 9}}}}\n")
    monkeypatch.setattr(size, "TOLD_BYTES", 1000)
    monkeypatch.setattr(size, "MOST_RECORD_BYTES", 20_000)
    assert main(["day", str(path), "--out", str(tmp_path / "out")]) == 2
    assert "a record of some" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
