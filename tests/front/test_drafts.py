"""A scenario begun from a folder: from readings to a decision without a question."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import yaml

import wbplan
from tests.front.test_cli import run
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.drafts import say_no_places
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux, scale_to_lux
from wbplan.read.scenario.reader import read_scenario


def write_reading(path: Path, power: np.ndarray, head: str = "wavelength_nm,W/m2/nm") -> None:
    rows = [f"{nm:g},{each:.7g}" for nm, each in zip(WAVELENGTHS_NM, power, strict=True)]
    path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Invented readings of a walk: absolute, relative with and without lux, and a stray file."""
    folder = tmp_path_factory.mktemp("walk") / "readings"
    folder.mkdir()
    day, bulb = radiate_daylight(6500.0), radiate_black_body(2850.0)
    write_reading(folder / "window at Anna.csv", scale_to_lux(day, 310.0))
    write_reading(folder / "bulb at Anna.csv", scale_to_lux(bulb, 45.0))
    write_reading(folder / "bulb_at_sink.csv", scale_to_lux(bulb, 110.0))
    head = "title: The panel\nIlluminance: 412 lux\nwavelength_nm,power"
    write_reading(folder / "r0004.csv", bulb + day, head)
    (folder / "notes.txt").write_text("parked by the gate\n")
    return folder


def test_a_folder_becomes_a_decision_without_a_question(walk: Path) -> None:
    home = walk.parent
    begun = run("new", "readings", "--out", "loc.yaml", cwd=home)
    assert begun.returncode == 0, begun.stderr
    assert "notes.txt" in begun.stderr
    assert "wbplan plan loc.yaml" in begun.stdout
    done = run("plan", "loc.yaml", cwd=home)
    assert done.returncode == 0, done.stderr
    assert " set  " in done.stdout
    for word in ("camera", "key", "shooting"):
        assert f"warning {word}:" in done.stdout
    assert "warning lux" not in done.stdout


def test_lux_names_and_places_are_those_of_the_readings(walk: Path) -> None:
    made = wbplan.draft_scenario(walk, walk.parent / "x.yaml")
    said = yaml.safe_load(made.files["x.yaml"])
    assert made.places == ("Anna", "sink", "at The panel")
    assert list(said["sources"]) == ["bulb", "The panel", "window"]
    lux = {name: each["lux"] for name, each in said["setups"][0]["positions"].items()}
    assert lux["Anna"] == pytest.approx({"bulb": 45, "window": 310}, rel=1e-3)
    assert lux["sink"] == pytest.approx({"bulb": 110}, rel=1e-3)
    assert lux["at The panel"] == {"The panel": 412}
    wbplan.write(made, walk.parent)
    setup = read_scenario(walk.parent / "x.yaml").setups[0]
    window = setup.sources[2].spectrum.values
    np.testing.assert_allclose(window / window.max(), radiate_daylight(6500.0) /
                               radiate_daylight(6500.0).max(), atol=1e-6)  # fmt: skip


def test_what_no_reading_states_stands_in_and_says_so(tmp_path: Path) -> None:
    write_reading(tmp_path / "lamp.csv", radiate_black_body(3000.0), "nm,relative")
    made = wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml")
    assert made.assumed == ("camera", "key", "shooting", "lux")
    text = made.files["x.yaml"].decode()
    assert "{lamp: 100}}   # CHECK" in text
    given = wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml", "nikon-d5100", "AT LAMP")
    assert given.assumed == ("shooting", "lux")
    assert (given.camera, given.key) == ("nikon-d5100", "at lamp")


def test_numbered_files_take_the_names_in_them_or_say_what_is_missing(tmp_path: Path) -> None:
    day, bulb = radiate_daylight(6500.0), radiate_black_body(2850.0)
    for number, (power, name) in enumerate(((day, "Window at Anna"), (bulb, "Bulb_at_Anna")), 1):
        head = f"Name;{name}\nSample name: {name}\nwavelength_nm,power"
        write_reading(tmp_path / f"{number:03}.csv", power, head)
    made = wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml")
    assert made.places == ("Anna",)
    assert [each[0] for each in made.lights] == ["Window", "Bulb"]
    assert say_no_places(made) == ""
    for number, power in enumerate((day, bulb), 1):
        write_reading(tmp_path / f"{number:03}.csv", power, "Name: The meter\nnm,power")
    made = wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml")
    assert made.places == ("at 001", "at 002")  # a name that all share is no light's
    assert "window at Anna.csv" in say_no_places(made)


def test_a_file_of_several_lights_is_picked_apart(tmp_path: Path) -> None:
    day, bulb = radiate_daylight(6500.0), radiate_black_body(2850.0)
    rows = [f"{nm:g},{a:.7g},{b:.7g}" for nm, a, b in zip(WAVELENGTHS_NM, day, bulb, strict=True)]
    (tmp_path / "two.csv").write_text("\n".join(["nm,sky,2nd lamp", *rows]))
    made = wbplan.draft_scenario(tmp_path / "two.csv", tmp_path / "x.yaml")
    wbplan.write(made, tmp_path)
    setup = read_scenario(tmp_path / "x.yaml").setups[0]
    assert [each.name for each in setup.sources] == ["sky", "2nd lamp"]
    for source, power in zip(setup.sources, (day, bulb), strict=True):
        np.testing.assert_allclose(source.spectrum.values, power / power.max(), atol=1e-6)


def test_a_sheet_is_written_or_taken_as_it_lies(walk: Path, tmp_path: Path) -> None:
    made = wbplan.draft_scenario(walk, walk.parent / "x.yaml", sheet=True)
    sheet = made.files["readings.csv"].decode().splitlines()
    assert sheet[0] == "lux,bulb,window,The panel"
    assert sheet[1] == "Anna,45,310,"
    write_reading(tmp_path / "lamp.csv", radiate_black_body(3000.0), "nm,relative")
    (tmp_path / "readings.csv").write_text("lux,lamp\ndoor,12\nface,80\n")
    made = wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml")
    assert (made.places, made.key) == (("door", "face"), "door")
    assert list(made.files) == ["x.yaml", "wbplan-scenario.schema.json"]
    assert made.assumed == ("camera", "key", "shooting")
    (tmp_path / "readings.csv").write_text("lux,lmap\ndoor,12\n")
    with pytest.raises(InputError, match=r"readings\.csv:1:2.*'lmap'.*did you mean 'lamp'"):
        wbplan.draft_scenario(tmp_path, tmp_path / "x.yaml")


def test_from_nothing_a_scenario_begins_that_can_be_planned(tmp_path: Path) -> None:
    made = wbplan.draft_scenario(out=tmp_path / "x.yaml")
    wbplan.write(made, tmp_path)
    setup = wbplan.read_scene(tmp_path / "x.yaml").setups[0]
    assert float(find_illuminance_lux(setup.sources[0].spectrum.values)) > 0
    assert wbplan.read_scene(tmp_path / "x.yaml").invented
    assert "wbplan-scenario.schema.json" not in wbplan.draft_scenario(out=tmp_path / "y.yaml").files


def test_an_editor_finds_the_schema_and_it_takes_what_was_begun(walk: Path, tmp_path: Path) -> None:
    """By the modeline of the YAML language server, and jsonschema, the reference library."""
    jsonschema = pytest.importorskip("jsonschema")
    for more in ({}, {"sheet": True}):
        made = wbplan.draft_scenario(walk, tmp_path / "z.yaml", **more)
        first = made.files["z.yaml"].decode().splitlines()[0]
        name = first.removeprefix("# yaml-language-server: $schema=")
        schema = json.loads(made.files.get(name) or (walk.parent / name).read_bytes())
        jsonschema.validate(yaml.safe_load(made.files["z.yaml"]), schema)


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (("plan", "."), ["a folder", "wbplan new . --out"]),
        (("plan", "a b.csv"), ["a file of readings", "wbplan new 'a b.csv' --out 'a b'.yaml"]),
        (("new", "empty"), ["empty", ".csv"]),
        (("new", "gone.csv"), ["gone.csv", "no such file"]),
        (("new", "--key", "face2"), ["position 'face2'", "'face'"]),
        (("new", "--out", "no/x.yaml"), ["--out", "no", "one that is there"]),
        (("new", "--out", "x.txt"), [".yaml"]),
        (("new", "--out", "a b.csv/x.yaml"), ["a b.csv/x.yaml", "cannot be written"]),
        (("new", "--out", "mine.yml"), ["exists already", "--force"]),
    ],
)
def test_what_cannot_be_done_names_the_way_on(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    fragments: list[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    (tmp_path / "a b.csv").write_text("x")
    (tmp_path / "mine.yml").write_text("x")
    assert main(list(arguments)) == 2
    said = capsys.readouterr().err
    for each in fragments:
        assert each in said
    assert [each.name for each in tmp_path.glob("*.yaml")] == []


def test_a_person_is_asked_and_a_mistake_is_asked_again(walk: Path, tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "wbplan", "new", str(walk), "--out", "loc.yaml"]
    with subprocess.Popen(
        command, stdin=theirs, stdout=subprocess.PIPE, stderr=theirs, cwd=tmp_path
    ) as running:
        os.close(theirs)
        os.write(ours, b"nikon-d5\nnikon-d5100\nsink\n")
        assert running.stdout is not None
        running.stdout.read()
        asked = b""
        try:
            while part := os.read(ours, 4096):
                asked += part
        except OSError:  # the other end is gone
            pass
    os.close(ours)
    assert running.returncode == 0
    assert b"the camera 'nikon-d5'" in asked
    assert b"Positions: Anna, sink, at The panel" in asked
    said = yaml.safe_load((tmp_path / "loc.yaml").read_text())
    assert (said["camera"], said["setups"][0]["key"]) == ("nikon-d5100", "sink")
    assert said["assumed"] == ["shooting"]
