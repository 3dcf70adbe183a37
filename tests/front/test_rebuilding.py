"""A plan made again from its record: the same to the last byte, and refused where it cannot be."""

from __future__ import annotations

import base64
import copy
import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import wbplan
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.files import make_files
from wbplan.front.plans import plan
from wbplan.front.scenes import read_scene
from wbplan.planning.decisions import Plan
from wbplan.read.catalogue import find_shipped_folder, list_shipped

SCENARIO = """
wbplan: 1
title: Two lights
camera: {camera}
sources:
  panel: {{spectrum_file: '{panel}'}}
  window: {{daylight_kelvin: 6500}}
setups:
  - name: Wide
    also_cameras: [CFA mid]
    shooting: {{fps: 24, shutter_angle_deg: 180, t_stop: 2.8}}
    positions:
      face: {{lux: {{panel: 300, window: 40}}}}
"""


def write_again(made: dict[str, bytes], folder: Path) -> dict[str, bytes]:
    folder.mkdir()
    (folder / "plan.json").write_bytes(made["plan.json"])
    scene = read_scene(folder)
    assert scene.notes == ()
    return make_files(plan(scene))


@pytest.mark.parametrize(
    ("name", "more"),
    [("dusk_workshop", False), *((each, True) for each in list_shipped("scenarios"))],
)
def test_every_shipped_scenario_is_made_again_bit_for_bit(
    name: str, more: bool, tmp_path: Path
) -> None:
    made = make_files(plan(name, advise=more, band=0.8, plate=more, figures=more))
    assert any(each.endswith(".svg") for each in made) == more
    assert any(each.endswith("_plate.html") for each in made) == more
    assert write_again(made, tmp_path / "far") == made


def lay_out(root: Path) -> Path:
    """Lay out a job as people do: files above, beside, and on another disk, by absolute path."""
    cameras, scenarios = find_shipped_folder("camera_profiles"), find_shipped_folder("scenarios")
    job, lib, disk = root / "jobs" / "jo-surname", root / "jobs" / "lib", root / "disk"
    for each in (job, lib, disk / "curves"):
        each.mkdir(parents=True)
    shutil.copy(scenarios / "workshop_panel.csv", lib / "panel.csv")
    shutil.copy(cameras / "layered-measured.csv", disk / "curves" / "own.csv")
    text = (cameras / "layered-measured.yaml").read_text()
    (disk / "own.yaml").write_text(
        text.replace("layered-measured.csv", f"{disk}/curves/own.csv"), encoding="utf-8"
    )
    windows = "\ufeff" + SCENARIO.format(camera=f"{disk}/own.yaml", panel="../lib/panel.csv")
    (job / "two.yaml").write_bytes(windows.replace("\n", "\r\n").encode())
    return job / "two.yaml"


@pytest.mark.parametrize("camera", [None, "cfa presets", "../../disk/own.yaml"])
def test_no_path_of_the_machine_stays_and_none_is_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, camera: str | None
) -> None:
    root = tmp_path / "machine-one"
    scenario = lay_out(root)
    monkeypatch.chdir(scenario.parent)
    made = make_files(plan("two.yaml", camera))
    absolute = camera if camera != "../../disk/own.yaml" else f"{root}/disk/own.yaml"
    assert make_files(plan(scenario, absolute)) == made
    for content in made.values():
        for word in (b"machine-one", b"jo-surname", str(tmp_path).encode()):
            assert word not in content
    shutil.rmtree(root)
    monkeypatch.chdir(tmp_path)
    assert write_again(made, tmp_path / "far") == made


def test_files_that_are_not_utf8_come_back(tmp_path: Path) -> None:
    panel = (find_shipped_folder("scenarios") / "workshop_panel.csv").read_bytes()
    (tmp_path / "panel.csv").write_bytes("# Gerät\n".encode("cp1252") + panel)
    (tmp_path / "wide.csv").write_bytes(b"\xff\xfe" + panel.decode().encode("utf-16-le"))
    for name in ("panel.csv", "wide.csv"):
        (tmp_path / "s.yaml").write_text(SCENARIO.format(camera="cfa-mid", panel=name))
        made = make_files(plan(tmp_path / "s.yaml"))
        kept = json.loads(made["plan.json"])["inputs"]["files"]
        (odd,) = [each for each in kept if each["text"] is None]
        raw = base64.b64decode(odd["base64"])
        assert raw == (tmp_path / name).read_bytes()
        assert odd["sha256"] == hashlib.sha256(raw).hexdigest()
        assert write_again(made, tmp_path / f"far-{name}") == made


@pytest.fixture(scope="session")
def small() -> Plan:
    return plan("harbour_noon", "cfa-presets")


@pytest.fixture(scope="session")
def written(small: Plan) -> bytes:
    return make_files(small)["plan.json"]


@pytest.fixture
def record(written: bytes) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(written)
    return made


def test_the_record_carries_what_ships_too(record: dict[str, Any]) -> None:
    inputs = record["inputs"]
    assert [each["name"] for each in inputs["files"]] == [
        "scenario/harbour_noon.yaml",
        "shipped-cameras/cfa-presets.yaml",
        "shipped-cameras/cfa-mid.csv",
    ]
    assert inputs["scenario"] == "scenario/harbour_noon.yaml"
    assert inputs["camera_in_place_of_all"] == "cfa-presets"
    assert (inputs["band_share_ratio"], inputs["advise"]) == (0.9, False)
    shipped = list_shipped("camera_profiles")["cfa-presets"].read_text(encoding="utf-8")
    assert inputs["files"][1]["text"] == shipped


def test_what_the_record_carries_counts_not_what_ships(
    record: dict[str, Any], tmp_path: Path
) -> None:
    """Another version may ship another profile under the same name."""
    file = record["inputs"]["files"][1]
    file["text"] = file["text"].replace("3200", "3000")
    file["sha256"] = hashlib.sha256(file["text"].encode()).hexdigest()
    (tmp_path / "plan.json").write_text(json.dumps(record))
    scene = read_scene(tmp_path / "plan.json")
    kelvin = [each[1] for each in plan(scene).setups[0].setup.camera.menu.presets]
    assert 3000 in kelvin
    assert 3200 not in kelvin
    assert [each.code for each in scene.notes] == ["other-digest"]


def test_another_version_is_warned_of(record: dict[str, Any], tmp_path: Path) -> None:
    record["wbplan_version"] = "0.0.9\x1b[31m"
    (tmp_path / "plan.json").write_text(json.dumps(record))
    (note,) = wbplan.read_scene(tmp_path).notes
    assert note.code == "other-version"
    assert "\x1b" not in note.text


Change = Callable[[dict[str, Any]], Any]


def name_file(name: str) -> Change:
    return lambda record: record["inputs"]["files"][1].update(name=name)


BAD: dict[str, tuple[Change, str]] = {
    "no record": (lambda r: r.update(format="wbplan lights"), r"format: found 'wbplan lights'"),
    "no format": (lambda r: r.pop("format"), "format: found none"),
    "format is a list": (lambda r: r.update(format=[]), "format: found a list of 0; allowed: a te"),
    "later format": (
        lambda r: r.update(format_version=3),
        "format_version: found 3; allowed: 1 or 2",
    ),
    "version is text": (lambda r: r.update(format_version="1"), "format_version: found '1'"),
    "no version": (lambda r: r.pop("wbplan_version"), "wbplan_version: found no such field"),
    "no digest": (lambda r: r.update(digest_sha256=None), "digest_sha256: found null"),
    "no inputs": (lambda r: r.pop("inputs"), "inputs: found no inputs, in a record of wbplan"),
    "inputs null": (lambda r: r.update(inputs=None), "inputs: found no inputs"),
    "inputs a list": (lambda r: r.update(inputs=[1]), "inputs: found a list of 1; allowed: an obj"),
    "no files": (lambda r: r["inputs"].pop("files"), r"inputs.scenario: found 'scenario/harb"),
    "files empty": (lambda r: r["inputs"].update(files=[]), "inputs.scenario: found 'scenario/har"),
    "file a text": (lambda r: r["inputs"].update(files=["x"]), r"inputs.files\[0\]: found 'x'"),
    "files a text": (
        lambda r: r["inputs"].update(files="x"),
        "inputs.files: found 'x'; allowed: a",
    ),
    "up": (name_file("scenario/../../x"), r"inputs.files\[1\].name: found 'scenario/../../x'"),
    "from the root": (
        name_file("/etc/passwd"),
        r"files\[1\].name: found '/etc/passwd'; allowed: a",
    ),
    "drive": (name_file("C:/x"), r"files\[1\].name: found 'C:/x'"),
    "backslash": (name_file("scenario\\x/y"), r"files\[1\].name: found 'scenario"),
    "control": (name_file("scenario/\x1b[2J"), r"files\[1\].name: found 'scenario/.x1b"),
    "no folder": (name_file("x.yaml"), r"files\[1\].name: found 'x.yaml'"),
    "long": (name_file("a/" + "b" * 2000), r"files\[1\].name: found 'a/bbb"),
    "twice": (name_file("scenario/harbour_noon.yaml"), r"files\[1\].(sha256|name): found"),
    "not carried": (name_file("shipped-cameras/other.yaml"), "found the camera 'cfa-presets'"),
    "text a number": (lambda r: r["inputs"]["files"][0].update(text=5), r"files\[0\].text: found"),
    "both": (lambda r: r["inputs"]["files"][0].update(base64=""), "found both text and base64"),
    "neither": (lambda r: r["inputs"]["files"][0].update(text=None), "found neither text nor base"),
    "no base64": (
        lambda r: r["inputs"]["files"][0].update(text=None, base64="!"),
        r"files\[0\].base64: found text that is no base64",
    ),
    "odd base64": (
        lambda r: r["inputs"]["files"][0].update(text=None, base64="ü"),
        r"files\[0\].base64: found characters that no file holds",
    ),
    "surrogate": (
        lambda r: r["inputs"]["files"][0].update(text="\ud800"),
        r"files\[0\].text: found characters that no file holds",
    ),
    "changed": (
        lambda r: r["inputs"]["files"][0].update(text="wbplan: 1"),
        r"files\[0\].sha256: found .*this record was changed",
    ),
    "no scenario": (lambda r: r["inputs"].pop("scenario"), "inputs.scenario: found no such field"),
    "camera": (
        lambda r: r["inputs"].update(camera_in_place_of_all="camera/x.yaml"),
        "inputs.camera_in_place_of_all: found 'camera/x.yaml'; allowed: the name of one of the fil",
    ),
    "camera with an escape": (
        lambda r: r["inputs"].update(camera_in_place_of_all="\x1b[2J"),
        r"inputs.camera_in_place_of_all: found '.x1b\[2J'",
    ),
    "camera on the disk": (
        lambda r: r["inputs"].update(camera_in_place_of_all="x.yaml"),
        "inputs.camera_in_place_of_all: found 'x.yaml'",
    ),
    "band": (
        lambda r: r["inputs"].update(band_share_ratio=2),
        "inputs.band_share_ratio: found a b",
    ),
    "no band": (
        lambda r: r["inputs"].pop("band_share_ratio"),
        "inputs.band_share_ratio: found a b",
    ),
    "huge band": (
        lambda r: r["inputs"].update(band_share_ratio=10**400),
        "inputs.band_share_ratio: found 'a whole number'; allowed: a number",
    ),
    "advise": (lambda r: r["inputs"].update(advise="no"), "inputs.advise: found 'no'; allowed: tr"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_record_that_was_tampered_with_is_refused(
    case: str, record: dict[str, Any], tmp_path: Path
) -> None:
    change, message = BAD[case]
    change(record)
    (tmp_path / "plan.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match=message) as caught:
        read_scene(tmp_path)
    assert "plan.json" in str(caught.value)
    assert "\x1b" not in str(caught.value)


def test_a_fault_inside_a_carried_file_is_told_by_its_line(
    record: dict[str, Any], tmp_path: Path
) -> None:
    file = record["inputs"]["files"][0]
    file["text"] = file["text"].replace("fps: 25", "fps: fast")
    file["sha256"] = hashlib.sha256(file["text"].encode()).hexdigest()
    (tmp_path / "plan.json").write_text(json.dumps(record))
    place = r"plan.json/scenario/harbour_noon.yaml:12:\d+: setups\[0\].shooting.fps: found 'fast'"
    with pytest.raises(InputError, match=place):
        read_scene(tmp_path)


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", r"plan.json:1:1: found broken JSON"),
        (b"\x89PNG", "found bytes that are not UTF-8"),
        (b"[1]", "found a list of 1"),
        (b"7", "found 'a whole number'"),
        (b'{"format": "wbplan plan",}', r"plan.json:1:\d+: found broken JSON"),
        (b"[" * 100_000, "found values nested too deep"),
        (b'{"a":' * 100_000, "found values nested too deep"),
        (b'{"format_version": NaN}', "found NaN, which JSON does not have"),
        (b'{"a": 1, "a": 2}', "found the field 'a' twice"),
        (b'{"a": ' + b"1" * 5000 + b"}", "found a number too long"),
    ],
)
def test_what_is_no_record_is_refused(raw: bytes, message: str, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(raw)
    with pytest.raises(InputError, match=message):
        read_scene(tmp_path)


def test_files_that_are_too_much_are_refused(
    record: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "plan.json").write_text(json.dumps(record))
    monkeypatch.setattr("wbplan.record.file.MOST_INPUT_BYTES", 2000)
    with pytest.raises(InputError, match=r"inputs.files: found more; allowed: at most"):
        read_scene(tmp_path)
    with (tmp_path / "big.json").open("wb") as stream:
        stream.truncate(200_000_000)
    with pytest.raises(InputError, match=r"big.json: found a file of 200.0 MB"):
        read_scene(tmp_path / "big.json")


def test_the_command(
    record: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    small: Plan,
) -> None:
    monkeypatch.chdir(tmp_path)
    made = make_files(small)
    Path("plan.json").write_bytes(made["plan.json"])
    assert main(["plan", "--from", "plan.json"]) == 0
    out, err = capsys.readouterr()
    assert "comes out the same to the last byte" in out
    assert err == ""
    written = {each.name: each.read_bytes() for each in Path("harbour_noon-plan").iterdir()}
    assert written.pop("SHA256SUMS").count(b"\n") == 2 + len(made)
    assert written == made
    assert main(["plan", "--from", "harbour_noon-plan", "--out", "harbour_noon-plan"]) == 0
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "note.txt").touch()
    assert main(["plan", "--from", "harbour_noon-plan", "--out", "x"]) == 2
    assert "holds files already" in capsys.readouterr().err
    assert main(["plan", "--from", "harbour_noon-plan", "--out", "x", "--force"]) == 0
    capsys.readouterr()
    changed = copy.deepcopy(record)
    changed["wbplan_version"] = "9"
    Path("plan.json").write_text(json.dumps(changed))
    assert main(["plan", "--from", "plan.json", "--out", "y"]) == 0
    assert "'plan.json': made by wbplan '9'" in capsys.readouterr().err
    changed = {**record, "title": "Another"}
    Path("plan.json").write_text(json.dumps(changed))
    assert main(["plan", "--from", "plan.json", "--out", "z"]) == 0
    assert "does not come out the same" in capsys.readouterr().err


@pytest.mark.parametrize(
    "more", [["dusk_workshop"], ["--camera", "cfa-mid"], ["--band", "0.9"], ["--advise"]]
)
def test_what_the_record_states_cannot_be_given_beside_it(
    more: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", "--from", str(tmp_path), *more]) == 2
    assert "since the record states what it was made with" in capsys.readouterr().err


def test_neither_scenario_nor_record(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan"]) == 2
    assert "allowed: a scenario, or --from a record" in capsys.readouterr().err
