"""The public calls: without a file on disk they give what files give; nothing else is public."""

from __future__ import annotations

import base64
import dataclasses
import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from types import FunctionType
from typing import Any

import numpy as np
import pytest
import yaml

import wbplan
from wbplan.core.tables import load_table
from wbplan.light.filters import make_ideal_filter

HOSTILE = "</div><script>alert('x')</script>\u202e & \"quoted\""


def make_said(tube: Any, camera: Any, **more: Any) -> dict[str, Any]:
    """Say a scene as a scenario file does."""
    return {
        "title": "Kitchen",
        "camera": camera,
        "sources": {"tube": tube, "window": {"daylight_kelvin": 6500}},
        "setups": [
            {
                "name": "At the sink",
                "shooting": {"ei": 800, "fps": 24, "shutter_angle_deg": 180, "t_stop": 2.8},
                "positions": {
                    "face": {"lux": {"tube": 300, "window": 40}},
                    "wall": {"lux": {"tube": 100}, "intent": "leave"},
                },
                **more,
            }
        ],
    }


@pytest.fixture(scope="module")
def scene() -> wbplan.Scene:
    return wbplan.read_scene(make_said(wbplan.find_light("FL11"), wbplan.find_camera("cfa-mid")))


@pytest.fixture(scope="module")
def decided(scene: wbplan.Scene) -> wbplan.Plan:
    return wbplan.plan(scene)


def test_every_public_name_is_there_and_no_other() -> None:
    assert wbplan.__all__ == sorted(wbplan.__all__)
    assert dir(wbplan) == wbplan.__all__
    for name in wbplan.__all__:
        assert getattr(wbplan, name) is not None
    with pytest.raises(AttributeError, match="write_plan"):
        _ = wbplan.write_plan  # type: ignore[attr-defined]


def test_the_package_loads_nothing_and_calls_stay_calls() -> None:
    """`wbplan.plan` is the call even after every module is loaded."""
    code = (
        "import sys, pkgutil, importlib, wbplan\n"
        "assert 'numpy' not in sys.modules, 'numpy'\n"
        "for each in pkgutil.walk_packages(wbplan.__path__, 'wbplan.'):\n"
        "    if '.data.' not in each.name and not each.name.endswith('__main__'):\n"
        "        importlib.import_module(each.name)\n"
        "from types import FunctionType\n"
        "calls = [name for name in wbplan.__all__ if name[0].islower()]\n"
        "assert all(isinstance(getattr(wbplan, name), FunctionType) for name in calls)\n"
        "assert not set(wbplan.__all__) & set(vars(wbplan)) - {'__version__'}\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)
    assert isinstance(wbplan.plan, FunctionType)


def test_a_scene_of_values_plans_as_its_file_does(tmp_path: Path, decided: wbplan.Plan) -> None:
    text = {"wbplan": 1, **make_said({"lamp": "FL11"}, "cfa-mid")}
    (tmp_path / "k.yaml").write_text(yaml.safe_dump(text))
    read = wbplan.plan(tmp_path / "k.yaml").setups[0]
    made = decided.setups[0]
    assert (made.dial, made.exact, made.gains) == (read.dial, read.exact, read.gains)
    assert [each.cast for each in made.positions] == [each.cast for each in read.positions]
    assert [each.is_model for each in made.lights] == [False, True]
    tube = wbplan.find_light("FL11")
    assert made.lights[0].origin == tube.origin
    np.testing.assert_array_equal(made.setup.sources[0].spectrum.values, tube.values)


def test_a_plan_of_values_is_made_again_from_its_record(
    tmp_path: Path, decided: wbplan.Plan
) -> None:
    files = wbplan.make_files(decided)
    (tmp_path / "plan.json").write_bytes(files["plan.json"])
    again = wbplan.read_scene(tmp_path)
    assert again.notes == ()
    assert wbplan.make_files(wbplan.plan(again)) == files
    names = [each["name"] for each in json.loads(files["plan.json"])["inputs"]["files"]]
    assert names == [
        *("scenario/scene.yaml", "scenario/given/fl11.csv"),
        *("scenario/given/cfa-mid.yaml", "scenario/given/cfa-mid.csv"),
    ]


def test_a_model_stays_a_model_and_what_was_filled_is_said(tmp_path: Path) -> None:
    (tmp_path / "short.csv").write_text(
        "".join(f"{nm},{1 + nm % 7}\n" for nm in range(420, 691, 5))
    )
    (short,) = wbplan.read_spectra(tmp_path / "short.csv")
    model = wbplan.find_light("black-body-3200K")
    for light in (short, model):
        scene = wbplan.read_scene(make_said(light, "cfa-mid"))
        spectrum = scene.setups[0].sources[0].spectrum
        assert (spectrum.is_model, spectrum.origin) == (light.is_model, light.origin)
        assert {each.code for each in light.notes} <= {each.code for each in spectrum.notes}
        relative = light.values / light.values.max()
        np.testing.assert_allclose(spectrum.values, relative, rtol=1e-12)


def test_a_camera_goes_in_and_comes_out_as_it_is(scene: wbplan.Scene) -> None:
    for name in ("cfa-mid", "cfa-presets", "layered-measured"):
        camera = wbplan.find_camera(name)
        other = wbplan.read_scene(make_said({"lamp": "FL11"}, "cfa-mid"), camera)
        seen = other.setups[0].camera
        assert (seen.menu, seen.family, seen.base_ei) == (
            camera.menu,
            camera.family,
            camera.base_ei,
        )
        assert (seen.curve, seen.gamut, seen.name) == (camera.curve, camera.gamut, camera.name)
        assert seen.headroom_stops == camera.headroom_stops
        np.testing.assert_allclose(seen.sensitivities, camera.sensitivities, rtol=1e-12)
    with pytest.raises(wbplan.InputError, match="a camera beside a Scene"):
        wbplan.plan(scene, "cfa-mid")


def test_a_filter_may_be_a_spectrum() -> None:
    gel = make_ideal_filter(mired=40.0)
    worn = wbplan.Spectrum(gel.transmittance, "gel")
    said = make_said({"lamp": "FL11", "filter": {"transmittance_file": worn}}, "cfa-mid")
    filt = wbplan.read_scene(said).setups[0].sources[0].filter
    np.testing.assert_allclose(filt.transmittance, gel.transmittance, rtol=1e-12)


def test_a_scene_that_was_changed_has_no_files(scene: wbplan.Scene) -> None:
    """The record says what a plan was made from, or nothing; never what it was not made from."""
    assert wbplan.plan(scene).inputs.files  # type: ignore[union-attr]
    for change in ({"title": "Other"}, {"invented": True}):
        other = dataclasses.replace(scene, **change)
        record = json.loads(wbplan.make_files(wbplan.plan(other))["plan.json"])
        assert record["inputs"] is None
    face = scene.setups[0].positions[0]
    brighter = dataclasses.replace(face, lux=face.lux * 2)
    setup = dataclasses.replace(scene.setups[0], positions=(brighter,))
    plan = wbplan.plan(wbplan.Scene("By hand", (setup,)))
    assert plan.setups[0].key.lux.value == pytest.approx(680)
    assert json.loads(wbplan.make_files(plan)["plan.json"])["inputs"] is None


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"title": "t", "camera": "cfa-mid"}, "setups: found no such field"),
        (make_said({"lamp": "FL1111"}, "cfa-mid"), "sources.tube.lamp: found the source 'FL1111'"),
        (make_said({"lamp": "FL11"}, object()), "camera: found a value of type object; allowed"),
        (make_said({"lamp": "FL11"}, "cfa-mid", shot={}), r"setups\[0\]"),
    ],
)
def test_a_mapping_is_refused_by_its_field(said: dict[str, Any], words: str) -> None:
    with pytest.raises(wbplan.InputError, match=f"^{words}"):
        wbplan.read_scene(said)


def test_comparing_plans_is_comparing_their_records(tmp_path: Path, decided: wbplan.Plan) -> None:
    other = wbplan.plan(make_said(wbplan.find_light("FL2"), "cfa-mid"))
    for name, plan in (("a", decided), ("b", other)):
        wbplan.write(plan, tmp_path / name)
    direct = wbplan.compare(decided, other)
    assert not direct.is_same
    assert repr(direct.setups) == repr(  # type: ignore[union-attr]
        wbplan.compare(tmp_path / "a", tmp_path / "b").setups  # type: ignore[union-attr]
    )
    wbplan.write(decided, tmp_path / "a")  # takes the place of itself
    (tmp_path / "a" / "note.txt").touch()
    with pytest.raises(wbplan.OutputError, match=r"note\.txt"):
        wbplan.write(decided, tmp_path / "a")


def test_settings_of_many_lights_are_those_of_each() -> None:
    """Against `describe`, which goes another way, and against each light alone at another scale."""
    names = ["FL2", "LED-B3", "daylight-5600K", "sodium-low-pressure-1700k", "HP1"]
    lights = wbplan.read_spectra(names)
    power = np.stack([each.values for each in lights])
    found = wbplan.solve_settings("cfa-mid", power, band=0.8)
    described = wbplan.describe(lights, camera="cfa-mid", band=0.8)
    for row, each in enumerate(described.lights):
        view = each.camera
        assert view is not None
        assert found.trouble[row] == view.trouble
        figures = [found.kelvin_low, found.kelvin, found.kelvin_high, found.tint_cc_low]
        figures += [found.tint_cc, found.tint_cc_high]
        mine = [float(each[row]) for each in figures if each is not None]
        if view.trouble:
            assert np.isnan(mine).all()
            continue
        kelvin, tint = view.wanted.kelvin, view.wanted.tint_cc
        theirs = [kelvin.low, kelvin.value, kelvin.high, tint.low, tint.value, tint.high]
        np.testing.assert_allclose(mine, theirs, rtol=1e-7, atol=1e-7)
        alone = wbplan.solve_settings("cfa-mid", 37.0 * power[row])
        np.testing.assert_allclose(alone.kelvin, found.kelvin[row], rtol=1e-9)
        assert alone.kelvin_low is None
    assert found.trouble[3].startswith("almost a single line")
    # CIE daylight is what the reference locus is made of: the camera wants its Kelvin and no tint.
    np.testing.assert_allclose([found.kelvin[2], found.tint_cc[2]], [5600, 0], atol=0.01)


@pytest.mark.parametrize(
    ("spectra", "words"),
    [
        (np.ones((2, 400)), r"spectra: found an array of shape \(2, 400\)"),
        (np.ones((0, 401)), "found an array of shape"),
        (-np.ones((2, 401)), "row 0; allowed: power of 0 or more"),
        (np.full(401, np.nan), "NaN"),
    ],
)
def test_spectra_that_are_none_are_refused(spectra: Any, words: str) -> None:
    with pytest.raises(wbplan.InputError, match=words):
        wbplan.solve_settings("cfa-mid", spectra)
    assert wbplan.solve_settings("cfa-mid", np.zeros(401)).trouble == ("no light here",)


def test_a_lesson_of_values_gives_the_camera_that_is_written(tmp_path: Path) -> None:
    camera = wbplan.find_camera("nikon-d5100")
    light = wbplan.find_light("LED-B3")
    raw = (light.values * load_table("chart")) @ camera.sensitivities
    frame = {"light": light, "patches": raw}
    told: list[float] = []
    made = wbplan.learn(
        {"title": "Mine", "name": "mine", "start": "cfa-mid", "frames": [frame]},
        lambda share, _: told.append(share),
    )
    assert told == sorted(told)
    assert told[-1] == 1.0
    names = wbplan.write(made, tmp_path / "profile")
    assert set(names) == {
        "mine.yaml",
        "mine.csv",
        "mine-band.csv",
        "mine-lesson.html",
        "mine-lesson.json",
    }
    again = wbplan.find_camera(tmp_path / "profile" / "mine.yaml")
    np.testing.assert_array_equal(again.sensitivities, made.camera.sensitivities)
    np.testing.assert_array_equal(again.members, made.camera.members)
    # The frame says what the camera is: FL2 lies nearer to where the camera itself puts it.
    tube = wbplan.find_light("FL2")
    start, learned, truth = (
        1e6 / wbplan.solve_settings(each, tube).kelvin[0]
        for each in ("cfa-mid", made.camera, camera)
    )
    assert abs(learned - truth) < abs(start - truth)


def test_what_is_shown_is_well_formed_and_escaped(decided: wbplan.Plan) -> None:
    light = wbplan.find_light("LED-B3")
    odd = dataclasses.replace(light, name=HOSTILE, origin=HOSTILE)
    position = {HOSTILE[:60]: {"lux": {HOSTILE[:60]: 300}}}
    said = make_said({"lamp": "FL11"}, "cfa-mid")
    said["title"] = said["setups"][0]["name"] = HOSTILE[:60]
    said["sources"] = {HOSTILE[:60]: {"lamp": "FL11"}}
    said["setups"][0]["positions"] = position
    lights = wbplan.describe([odd, "FL2"], camera="cfa-mid")
    for value in (odd, lights, decided, wbplan.plan(said)):
        shown = value._repr_html_()
        ET.fromstring(re.sub(r"(<img [^>]*)>", r"\1/>", shown))  # every tag is closed
        assert "<script" not in shown
        assert "\u202e" not in shown
        pictures = re.findall(r"base64,([A-Za-z0-9+/=]+)", shown)
        assert pictures
        for each in pictures:
            svg = ET.fromstring(base64.b64decode(each))
            assert svg.tag == "{http://www.w3.org/2000/svg}svg"
            assert not svg.findall(".//{http://www.w3.org/2000/svg}script")
    assert ET.fromstring(odd._repr_svg_() or "").tag.endswith("svg")
    dark = wbplan.Spectrum(np.zeros(401), "nothing")
    assert dark._repr_svg_() is None
    assert "nothing" in dark._repr_html_()
    said_by_page = wbplan.make_files(decided)["01-at-the-sink_report.html"].decode()
    set_to = re.search(r"set (\d+ K, [^<]+)<", decided._repr_html_())
    assert set_to is not None
    assert set_to[1] in said_by_page


def test_each_long_call_tells_how_far_it_is(tmp_path: Path) -> None:
    told: list[float] = []

    def progress(share: float, doing: str) -> None:
        assert doing
        told.append(share)

    def check() -> None:
        assert told
        assert told == sorted(told)
        assert told[-1] == pytest.approx(1.0)
        told.clear()

    (tmp_path / "a.csv").write_text("".join(f"{nm},1\n" for nm in range(380, 781, 5)))
    wbplan.plan("reading_room", advise=True, progress=progress)
    check()
    wbplan.read_spectra(tmp_path, progress=progress)
    check()
    wbplan.describe(tmp_path, progress=progress)
    check()
    wbplan.solve_settings("cfa-mid", np.ones((3, 401)), 0.9, progress)
    check()
    lut = wbplan.make_lut("cfa-mid", 5600, 3200, size=17, progress=progress)
    check()
    wbplan.apply_lut(lut.files[0], np.full((2, 2, 3), 0.5), progress=progress)
    check()
    pytest.importorskip("pvlib")
    wbplan.plan_day("mill_yard", begin="12:00", end="13:00", step_minutes=60, progress=progress)
    check()
