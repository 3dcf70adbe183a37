"""Scenario files: what is understood, and what is refused with its place."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.camera.setting import Setting, view_camera
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.planning.setups import plan_setup
from wbplan.read.catalogue import find_source
from wbplan.read.scenario.reader import read_scenario

GOOD = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  lamp: {lamp: A}
setups:
  - name: one
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8}
    positions:
      face: {lux: {window: 100, lamp: 50}}
      wall: {lux: {lamp: 30}, intent: {warm_mired: 40, green_cc: 2}, weight: 0.5}
"""

BAD = [
    ("wbplan: 1", "wbplan: 2", ["s.yaml:1:9", "wbplan", "found 2", "scenario format 1"]),
    ("wbplan: 1\n", "", ["wbplan"]),
    ("title: Test\n", "", ["title"]),
    ("camera: cfa-mid", "camera: cfa-midd", ["s.yaml:3:9", "camera", "cfa-midd", "cfa-mid"]),
    ("camera: cfa-mid\n", "", ["no camera"]),
    ("lamp: A}", "lamp: A1}", ["s.yaml:6:16", "sources.lamp.lamp", "'A1'", "did you mean 'A'"]),
    ("lamp: A}", "lamp: A, daylight_kelvin: 5000}", ["only one of lamp"]),
    ("lamp: A}", "black_body_kelvin: 900}", ["black_body_kelvin", "900", "from 1000 to 25000"]),
    ("daylight_kelvin: 6000", "daylight_kelvin: 3000", ["3000", "from 4000 to 25000"]),
    ("daylight_kelvin: 6000", "daylight_kelvin: warm", ["'warm'", "a number"]),
    ("daylight_kelvin: 6000", "spectrum_file: no.csv", ["no.csv"]),
    (
        "daylight_kelvin: 6000",
        "daylite_kelvin: 6000",
        ["unknown field", "did you mean 'daylight_kelvin'"],
    ),
    ("lamp: 30}", "lmap: 30}", ["positions.wall.lux.lmap", "did you mean 'lamp'"]),
    ("lamp: 30}", "lamp: -30}", ["positions.wall.lux.lamp", "-30"]),
    ("lamp: 30}", "lamp: 1e9}", ["lux.lamp", "1e9"]),
    ("warm_mired: 40", "warm_mired: 40, cool_mired: 3", ["only one of warm_mired"]),
    ("warm_mired: 40", "warm_mried: 40", ["warm_mried", "did you mean 'warm_mired'"]),
    ("intent: {warm_mired: 40, green_cc: 2}", "intent: warm", ["intent", "neutral, leave"]),
    ("weight: 0.5", "weight: -0.5", ["weight", "from 0 to 1000"]),
    ("fps: 24", "fps: 0", ["setups[0].shooting.fps", "from 0.0001 to 100000"]),
    ("fps: 24", "fps: 1e-300", ["setups[0].shooting.fps", "from 0.0001 to 100000"]),
    ("ei: 800", "ei: 1e10", ["setups[0].shooting.ei", "from 0.01 to 1000000000"]),
    (
        "shutter_angle_deg: 180",
        "shutter_time_s: 1e-300",
        ["shutter_time_s", "at least 0.000000001"],
    ),
    ("shutter_angle_deg: 180", "shutter_angle_deg: 1e-300", ["e-304 s", "at least 1e-09 s"]),
    ("shutter_angle_deg: 180", "shutter_angle_deg: 400", ["400", "360"]),
    ("shutter_angle_deg: 180", "shutter_time_s: 0.1", ["at most one frame"]),
    ("shutter_angle_deg: 180, ", "", ["exactly one of shutter_angle_deg, shutter_time_s"]),
    ("t_stop: 2.8", "t_stop: 0", ["t_stop", "0.1 to 1000"]),
    ("t_stop: 2.8", "iso: 800", ["unknown field 'iso'"]),
    ("ei: 800", "ei: '800'", ["ei", "quotes"]),
    ("    shooting:", "    key: nobody\n    shooting:", ["key", "nobody", "face, wall"]),
    (
        "    shooting:",
        "    shot_at: {kelvin: 5601}\n    shooting:",
        ["shot_at", "5601 K", "nearest is 5600 K"],
    ),
    (
        "    shooting:",
        "    encoding: {curve: S-Log3, gamut: nope}\n    shooting:",
        ["encoding", "nope"],
    ),
    (
        "setups:\n",
        "setups:\n  - name: ONE\n    shooting: {fps: 24, shutter_angle_deg: 180}\n"
        "    positions: {a: {lux: {lamp: 1}}}\n",
        ["a name of its own"],
    ),
    ("      wall:", "      face:", ["face", "line 11"]),
    ("title: Test", "title: Test\ntitle: Again", ["title"]),
    ("lamp: A}", "lamp: A, filter: {shift: {}}}", ["filter.shift"]),
    ("lamp: A}", "lamp: A, filter: {gel: 3}}", ["shift, nd_stops, generic, diffusion_stops"]),
]


def write(folder: Path, text: str = GOOD) -> Path:
    path = folder / "s.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("was", "becomes", "fragments"), BAD)
def test_bad_scenarios_are_refused(
    tmp_path: Path, was: str, becomes: str, fragments: list[str]
) -> None:
    assert was in GOOD
    with pytest.raises(InputError) as caught:
        read_scenario(write(tmp_path, GOOD.replace(was, becomes, 1)))
    said = str(caught.value)
    assert said.startswith(str(tmp_path))
    assert "\n" not in said
    for fragment in fragments:
        assert fragment in said


def test_good_scenario(tmp_path: Path) -> None:
    scenario = read_scenario(write(tmp_path))
    setup = scenario.setups[0]
    assert not scenario.invented
    assert [each.name for each in setup.sources] == ["window", "lamp"]
    assert setup.positions[1].lux.tolist() == [0.0, 30.0]
    assert setup.positions[1].intent.words == "keep 40 mired warm, 2 CC green"
    assert setup.key == "face"
    assert setup.shooting.exposure_time_s == pytest.approx(1 / 48)
    assert setup.encoding.curve == "ACEScct"


def test_camera_by_argument_takes_the_place_of_every_camera(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD.replace("camera: cfa-mid", "camera: no-such"))
    assert read_scenario(path, "layered-measured").setups[0].camera.name == "layered-measured"


def test_all_positions_left_as_they_fall_is_refused(tmp_path: Path) -> None:
    text = GOOD.replace("lamp: 50}}", "lamp: 50}, intent: leave}")
    text = text.replace("intent: {warm_mired: 40, green_cc: 2}, weight: 0.5", "intent: leave")
    with pytest.raises(InputError, match="no light that counts"):
        read_scenario(write(tmp_path, text))


def test_csv_source_filter_file_and_column(tmp_path: Path) -> None:
    wavelengths = np.arange(380, 781, 5)
    values = find_source("FL2").values[::5]
    rows = "\n".join(f"{w};{v:.6f};{50 + w / 100:.3f}%" for w, v in zip(wavelengths, values))  # noqa: B905
    (tmp_path / "two.csv").write_text("nm;tube;gel\n" + rows)
    (tmp_path / "gel.csv").write_text(
        "nm;t\n" + "\n".join(f"{w};{50 + w / 100:.3f}%" for w in wavelengths)
    )
    text = GOOD.replace(
        "lamp: A}",
        "spectrum_file: two.csv, column: tube, "
        "filter: [{transmittance_file: gel.csv}, {nd_stops: 1}]}",
    )
    source = read_scenario(write(tmp_path, text)).setups[0].sources[1]
    assert find_cct_duv(source.spectrum.values)[0] == pytest.approx(4230, rel=0.002)  # CIE 15: FL2
    assert source.filter.transmittance[180] == pytest.approx(0.5 * 0.556, rel=1e-3)
    assert not source.spectrum.is_model
    assert source.filter.is_model  # the ND in the stack is one


def test_mix_is_by_lux(tmp_path: Path) -> None:
    text = GOOD.replace("lamp: A}", "mix: [{lamp: A, share: 3}, {lamp: D65, share: 1}]}")
    mixed = read_scenario(write(tmp_path, text)).setups[0].sources[1].spectrum.values
    a, d65 = find_source("A").values, find_source("D65").values
    wanted = 3 * a / find_illuminance_lux(a) + d65 / find_illuminance_lux(d65)
    assert mixed / mixed.sum() == pytest.approx(wanted / wanted.sum(), rel=1e-9)


def test_transmittance_over_one_is_refused(tmp_path: Path) -> None:
    (tmp_path / "gel.csv").write_text("\n".join(f"{w};{w / 10}" for w in range(380, 781, 5)))
    text = GOOD.replace("lamp: A}", "lamp: A, filter: {transmittance_file: gel.csv}}")
    with pytest.raises(InputError, match="transmittance of up to 78"):
        read_scenario(write(tmp_path, text))


def test_unread_source_of_a_setup_is_noted(tmp_path: Path) -> None:
    text = GOOD.replace("    shooting:", "    sources: {spare: {lamp: D65}}\n    shooting:")
    setup = read_scenario(write(tmp_path, text)).setups[0]
    assert [note.code for note in setup.notes] == ["unused-source"]


def test_digest_follows_every_value(tmp_path: Path) -> None:
    base = digest_values(read_scenario(write(tmp_path)))
    assert base == digest_values(read_scenario(write(tmp_path)))
    for was, becomes in (("100", "101"), ("A}", "D65}"), ("40", "41"), ("fps: 24", "fps: 25")):
        assert digest_values(read_scenario(write(tmp_path, GOOD.replace(was, becomes, 1)))) != base


def test_shot_at_is_kept_and_the_lut_starts_there(tmp_path: Path) -> None:
    text = GOOD.replace(
        "    shooting:", "    shot_at: {kelvin: 3200, magenta_cc: 3}\n    shooting:"
    )
    setup = read_scenario(write(tmp_path, text)).setups[0]
    decided = plan_setup(setup, view_camera(setup.camera), "x")
    assert decided.dial == Setting(3200.0, 3.0)
    assert decided.dial_is_given
    assert decided.lut is not None
    assert "3200K-magenta3CC" in decided.lut.file_name
    assert any(note.code == "setting-leaves" for note in decided.notes)


@pytest.mark.parametrize(
    ("fields", "weight", "aim", "words"),
    [
        ("", 0.0, "watched", "watched"),
        (", weight: 2", 2.0, "meant", "neutral"),
        (", intent: neutral", 0.0, "meant", "neutral (watched)"),
        (", intent: {cool_mired: 30}", 0.0, "meant", "keep 30 mired cool (watched)"),
        (", intent: leave", 0.0, "left", "leave as it falls"),
        (", within: {mired: 10}", 0.0, "meant", "neutral, within 10 mired"),
    ],
)
def test_a_position_that_is_not_the_key_pulls_only_if_it_has_a_weight(
    tmp_path: Path, fields: str, weight: float, aim: str, words: str
) -> None:
    text = f"""
wbplan: 1
title: Kitchen
camera: cfa-mid
sources: {{lamp: {{lamp: A}}}}
setups:
  - name: Kitchen
    key: anna
    shooting: {{ei: 800, fps: 24, shutter_angle_deg: 180}}
    positions:
      sink: {{lux: {{lamp: 50}}{fields}}}
      anna: {{lux: {{lamp: 100}}}}
"""
    sink, anna = (each.intent for each in read_scenario(write(tmp_path, text)).setups[0].positions)
    assert (anna.weight, anna.aim, anna.words) == (1.0, "meant", "neutral")
    assert (sink.weight, sink.aim, sink.words) == (weight, aim, words)
