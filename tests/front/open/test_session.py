"""A scenario in work: its text edited, decisions as `plan` makes them, nothing lost or spoiled."""

from __future__ import annotations

import difflib
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import wbplan
from tests.front.test_drafts import write_reading
from wbplan.core.errors import InputError
from wbplan.front.open.documents import Document
from wbplan.front.open.edits import EDITS, apply_edit
from wbplan.front.open.session import ConflictError, Session, read_document
from wbplan.front.open.shown import show_plan
from wbplan.front.open.start import begin_session
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import scale_to_lux
from wbplan.read.catalogue import list_shipped

WORKSHOP = list_shipped("scenarios")["dusk_workshop"]
FACE, PANELS = "potter's face", "ceiling panels"
LUX = {"do": "lux", "setup": 0, "position": FACE, "light": PANELS}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for each in ("dusk_workshop.yaml", "workshop_panel.csv"):
        shutil.copy(WORKSHOP.parent / each, tmp_path / each)
    return tmp_path


@pytest.fixture
def session(folder: Path) -> Session:
    return Session(read_document(folder / "dusk_workshop.yaml"))


def find_changed(one: str, other: str) -> tuple[list[str], list[str]]:
    found = list(difflib.ndiff(one.splitlines(), other.splitlines()))
    gone, come = ([e[2:].strip() for e in found if e[0] == side and e[2:].strip()] for side in "-+")
    return gone, come


# Each edit: what it says, the lines that go, and the lines that come.
STEPS: list[tuple[dict[str, Any], list[str], list[str]]] = [
    (
        {**LUX, "lux": 120.5},
        ["lux: {dusk window: 45, ceiling panels: 310, old tubes: 60, bench lamp: 25}"],
        ["lux: {dusk window: 45, ceiling panels: 120.5, old tubes: 60, bench lamp: 25}"],
    ),
    (
        {**LUX, "light": "bench lamp", "lux": None},
        ["lux: {dusk window: 45, ceiling panels: 120.5, old tubes: 60, bench lamp: 25}"],
        ["lux: {dusk window: 45, ceiling panels: 120.5, old tubes: 60}"],
    ),
    (
        {"do": "switch", "setup": 0, "light": "bench lamp", "on": False},
        [],
        ["sources: {bench lamp: {on: false}}"],
    ),
    (
        {"do": "switch", "setup": 0, "light": "bench lamp", "on": True},
        ["sources: {bench lamp: {on: false}}"],
        [],
    ),
    (
        {"do": "filters", "setup": 1, "light": PANELS, "filters": ["half orange"]},
        ["filter: [{generic: quarter orange}, {generic: quarter magenta}]"],
        ["filter: {generic: half orange}"],
    ),
    (
        {"do": "filters", "setup": 1, "light": PANELS, "filters": []},
        ["filter: {generic: half orange}"],
        [],
    ),
    (
        {"do": "level", "setup": 1, "light": "bench lamp", "stops": -1},
        [
            "lux: {ceiling panels: 240, old tubes: 40, bench lamp: 190}",
            "lux: {dusk window: 20, ceiling panels: 280, bench lamp: 60}",
        ],
        [
            "lux: {ceiling panels: 240, old tubes: 40, bench lamp: 95}",
            "lux: {dusk window: 20, ceiling panels: 280, bench lamp: 30}",
        ],
    ),
    (
        {"do": "key", "setup": 0, "position": "drying shelf"},
        ["key: potter's face"],
        ["key: drying shelf"],
    ),
    (
        {
            "do": "intent",
            "setup": 0,
            "position": "window wall",
            "intent": {"cool_mired": 30, "magenta_cc": 2},
        },
        ["intent: {cool_mired: 60}"],
        ["intent: {cool_mired: 30, magenta_cc: 2}"],
    ),
    (
        {"do": "intent", "setup": 0, "position": "street door", "intent": "watched"},
        ["intent: leave"],
        [],
    ),
    (
        {"do": "shooting", "setup": 0, "field": "t_stop", "value": 4},
        ["shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8}"],
        ["shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 4}"],
    ),
    (
        {"do": "camera", "setup": 0, "camera": "cfa-presets"},
        ["camera: cfa-mid"],
        ["camera: cfa-presets"],
    ),
    ({"do": "beside", "setup": 0, "cameras": ["nikon-d5100"]}, [], ["also_cameras: [nikon-d5100]"]),
    (
        {"do": "add position", "setup": 1, "position": "back: door"},
        [],
        ['"back: door": {lux: {dusk window: 0}}'],
    ),
    (
        {
            "do": "add light",
            "setup": 0,
            "light": "new bulb",
            "kind": "black_body_kelvin",
            "value": 3000,
        },
        [],
        ["new bulb: {black_body_kelvin: 3000}"],
    ),
    ({"do": "vouch", "setup": 0, "word": "invented"}, ["invented: true"], []),
    (
        {"do": "rename light", "setup": 0, "light": "new bulb", "name": "bulb: 2"},
        ["new bulb: {black_body_kelvin: 3000}"],
        ['"bulb: 2": {black_body_kelvin: 3000}'],
    ),
    (
        {"do": "rename position", "setup": 1, "position": "back: door", "name": "back door"},
        ['"back: door": {lux: {dusk window: 0}}'],
        ["back door: {lux: {dusk window: 0}}"],
    ),
    (
        {"do": "remove light", "setup": 0, "light": "bulb: 2"},
        ['"bulb: 2": {black_body_kelvin: 3000}'],
        [],
    ),
    (
        {"do": "remove position", "setup": 1, "position": "back door"},
        ["back door: {lux: {dusk window: 0}}"],
        [],
    ),
]


def test_each_edit_changes_its_lines_and_no_other(folder: Path) -> None:
    document = read_document(folder / "dusk_workshop.yaml")
    assert {each[0]["do"] for each in STEPS} == set(EDITS)
    for said, gone, come in STEPS:
        made = apply_edit(document, said)
        first = [each for each in find_changed(document.text, made.text)[0] if each]
        assert (first, [e for e in find_changed(document.text, made.text)[1] if e]) == (
            gone,
            come,
        ), said
        document = made


def test_what_is_kept_plans_as_it_was_shown(session: Session, folder: Path) -> None:
    """The file that was saved, planned whole, says what the page said: every word of it."""
    for said, _, _ in STEPS[:12]:
        session.edit(session.version, said)
    shown = session.show()
    assert not shown["kept"]
    before = (folder / "dusk_workshop.yaml").read_text()
    session.keep(session.version)
    assert session.show()["kept"]
    assert (folder / "dusk_workshop.yaml").read_text() != before
    planned = wbplan.plan(folder / "dusk_workshop.yaml", lut_size=17)
    whole = [show_plan(each) for each in planned.setups]
    for one, other in zip(whole, shown["decided"], strict=True):
        extra = [each for each in one["warnings"] if "LUT:" in each]
        assert one | {"warnings": []} == other | {"warnings": []}
        assert [each for each in one["warnings"] if each not in extra] == other["warnings"]


def test_what_if_values_are_marked_until_they_are_kept(session: Session) -> None:
    session.edit(session.version, {**LUX, "lux": 99})
    cell = session.show()["setups"][0]["positions"][0]["lux"][PANELS]
    assert cell == {"now": "99", "kept": "310"}
    session.keep(session.version)
    cell = session.show()["setups"][0]["positions"][0]["lux"][PANELS]
    assert cell == {"now": "99", "kept": "99"}


def test_undo_goes_back_step_by_step_and_forward_again(session: Session) -> None:
    texts = [session.document.text]
    for lux in (100, 200, 300):
        session.edit(session.version, {**LUX, "lux": lux})
        texts.append(session.document.text)
    for text in reversed(texts[:-1]):
        session.move(session.version, -1)
        assert session.document.text == text
    session.move(session.version, -1)
    assert session.document.text == texts[0]
    session.move(session.version, 1)
    assert session.document.text == texts[1]
    session.edit(session.version, {**LUX, "lux": 7})
    session.move(session.version, 1)  # what was undone is gone after a new step
    assert "ceiling panels: 7," in session.document.text


def test_a_profile_that_is_changed_on_the_disk_counts_from_the_next_edit(tmp_path: Path) -> None:
    text = SHEET.replace("readings: r.csv", "positions: {face: {lux: {window: 3}}}")
    (tmp_path / "s.yaml").write_text(text.replace("cfa-mid", "my.yaml"))
    (tmp_path / "my.yaml").write_text("like: cfa-mid\ntitle: One\n")
    session = Session(read_document(tmp_path / "s.yaml"))
    lux = {"do": "lux", "setup": 0, "position": "face", "light": "window"}
    shown = []
    for title in ("One", "Two"):
        (tmp_path / "my.yaml").write_text(f"like: cfa-mid\ntitle: {title}\n")
        session.edit(session.version, {**lux, "lux": 4 + len(shown)})
        shown.append(session.show()["decided"][0]["camera"])
    assert shown == ["One", "Two"]


def test_a_drag_is_one_step_from_where_it_began(session: Session) -> None:
    level = {"do": "level", "setup": 0, "light": PANELS}
    for stops in (-0.3, -0.7, -1.0):
        session.edit(session.version, {**level, "stops": stops}, "drag 1")
    assert "ceiling panels: 155," in session.document.text
    session.edit(session.version, {**level, "stops": -1}, "drag 2")
    assert "ceiling panels: 77.5," in session.document.text
    session.move(session.version, -1)
    session.move(session.version, -1)
    assert session.document.text == WORKSHOP.read_text()


def test_of_two_people_none_loses_a_change(session: Session) -> None:
    seen = session.version
    session.edit(seen, {**LUX, "lux": 99})
    with pytest.raises(ConflictError):
        session.edit(seen, {**LUX, "light": "old tubes", "lux": 1})
    for act in (session.keep, session.reload):
        with pytest.raises(ConflictError):
            act(seen)
    with pytest.raises(ConflictError):
        session.move(seen, -1)
    assert session.version == seen + 1
    assert "ceiling panels: 99," in session.document.text


def test_a_file_that_another_program_changed_is_not_written_over(
    session: Session, folder: Path
) -> None:
    path = folder / "dusk_workshop.yaml"
    session.edit(session.version, {**LUX, "lux": 99})
    theirs = path.read_text().replace("title: Pottery", "title: Their pottery")
    path.write_text(theirs)
    assert session.is_stale()
    with pytest.raises(ConflictError, match="changed on the disk"):
        session.keep(session.version)
    assert path.read_text() == theirs
    session.reload(session.version)
    assert session.show()["title"].startswith("Their pottery")
    assert session.show()["kept"]
    session.edit(session.version, {**LUX, "lux": 98})
    path.write_text(theirs + "# more\n")
    session.keep(session.version, over=True)
    assert "ceiling panels: 98," in path.read_text()


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"do": "lux"}, "light"),
    ({"do": "erase"}, "lux, level"),
    ({**LUX, "setup": 7, "lux": 1}, "the number of a setup"),
    ({**LUX, "setup": True, "lux": 1}, "the number of a setup"),
    ({**LUX, "light": "lamp 9", "lux": 1}, "one that is there"),
    ({**LUX, "position": "nowhere", "lux": 1}, "one that is there"),
    ({**LUX, "lux": "many"}, "a number"),
    ({**LUX, "lux": -3}, "0, or a number from"),
    ({**LUX, "lux": float("inf")}, "a number"),
    ({"do": "key", "setup": 0, "position": "street doo"}, "one that is there"),
    ({"do": "filters", "setup": 0, "light": PANELS, "filters": ["blue glass"]}, "a generic filter"),
    ({"do": "shooting", "setup": 0, "field": "fps", "value": 0}, "0.0001 to 100000"),
    ({"do": "shooting", "setup": 0, "field": "fps", "value": None}, "fps"),
    ({"do": "shooting", "setup": 0, "field": "name", "value": 3}, "one that is there"),
    ({"do": "camera", "setup": 0, "camera": "cfa-mif"}, "cfa-mid"),
    ({"do": "camera", "setup": 0, "camera": "../../etc/mine.yaml"}, "in the scenario"),
    ({"do": "beside", "setup": 0, "cameras": ["/etc/mine.yaml"]}, "in the scenario"),
    ({"do": "intent", "setup": 0, "position": FACE, "intent": {"warm_mired": 9e9}}, "0 to 500"),
    ({"do": "intent", "setup": 0, "position": FACE, "intent": {"pink": 3}}, "warm_mired"),
    ({"do": "add position", "setup": 0, "position": FACE}, "a name of its own"),
    ({"do": "add light", "setup": 0, "light": "x", "kind": "lamp", "value": "A1"}, "did you mean"),
    (
        {"do": "add light", "setup": 0, "light": "x", "kind": "spectrum_file", "value": "/x"},
        "one that",
    ),
    ({"do": "switch", "setup": 0, "light": PANELS, "on": "yes"}, "true or false"),
    ({"do": "level", "setup": 0, "light": PANELS, "stops": 90}, "-40 to 40"),
]


def test_an_edit_that_cannot_be_is_refused_and_changes_nothing(session: Session) -> None:
    for said, fragment in REFUSED:
        before, version = session.document, session.version
        with pytest.raises(InputError, match=fragment):
            session.edit(version, said)
        assert (session.document, session.version) == (before, version), said


def test_the_last_light_of_the_key_cannot_be_put_out_unsaid(session: Session) -> None:
    for light in ("dusk window", "old tubes", "bench lamp"):
        session.edit(session.version, {"do": "switch", "setup": 0, "light": light, "on": False})
    said = {"do": "switch", "setup": 0, "light": PANELS, "on": False}
    with pytest.raises(InputError, match="no light that counts"):
        session.edit(session.version, said)


def test_dropped_files_become_lights(session: Session, folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    write_reading(path, scale_to_lux(radiate_black_body(3000.0), 55.0))
    said = session.drop(session.version, "bulb at window wall.csv", path.read_bytes(), 0, FACE)
    assert "Its 55 lux stand at window wall" in said[0]
    assert session.show()["setups"][0]["positions"][3]["lux"]["bulb"]["now"] == "55"
    assert not (folder / "bulb at window wall.csv").exists()
    write_reading(path, radiate_black_body(3000.0), "nm,relative")
    said = session.drop(session.version, "../../evil/Other.CSV", path.read_bytes(), 0, FACE)
    assert "states no lux" in said[0]
    version = session.version
    for name, data in (("bad.csv", b"hello\n"), ("run.exe", b"MZ"), ("big.csv", b"")):
        with pytest.raises(InputError):
            session.drop(version, name, data, 0, FACE)
    assert session.version == version
    session.keep(version)
    assert sorted(each.name for each in folder.glob("*.[cC][sS][vV]")) == [
        *("Other.CSV", "bulb at window wall.csv", "workshop_panel.csv", "x.csv"),
    ]
    setup = wbplan.read_scene(folder / "dusk_workshop.yaml").setups[0]
    bulb = next(each for each in setup.sources if each.name == "bulb")
    np.testing.assert_allclose(
        bulb.spectrum.values,
        radiate_black_body(3000.0) / radiate_black_body(3000.0).max(),
        atol=1e-6,
    )
    # A file of that name that is not the same is left alone.
    write_reading(path, radiate_black_body(4000.0), "nm,relative")
    session.drop(session.version, "Other.CSV", path.read_bytes(), 0, FACE)
    assert "Other-2.CSV" in session.document.files


SHEET = """# my sheet
wbplan: 1
title: Sheet
assumed: [camera, key]
camera: cfa-mid
sources: {window: {daylight_kelvin: 6000}, lamp: {lamp: A}}
setups:
  - {name: one, shooting: {fps: 24, shutter_angle_deg: 180}, readings: r.csv}
"""


def test_a_sheet_is_edited_where_it_stands(tmp_path: Path) -> None:
    (tmp_path / "s.yaml").write_text(SHEET)
    (tmp_path / "r.csv").write_text("lux;window\r\nface;310,5\r\nwall;20\r\n", newline="")
    session = Session(read_document(tmp_path / "s.yaml"))
    lux = {"do": "lux", "setup": 0, "position": "wall"}
    session.edit(session.version, {**lux, "light": "window", "lux": 12.5})
    session.edit(session.version, {**lux, "light": "lamp", "lux": 7})
    session.edit(session.version, {"do": "add position", "setup": 0, "position": "door; back"})
    session.edit(session.version, {"do": "key", "setup": 0, "position": "wall"})
    session.edit(session.version, {"do": "level", "setup": 0, "light": "window", "stops": 1})
    session.edit(session.version, {"do": "vouch", "setup": 0, "word": "camera"})
    session.keep(session.version)
    assert (tmp_path / "r.csv").read_bytes().decode() == (
        'lux;window;lamp\r\nface;621\r\nwall;25;7\r\n"door; back";0;\r\n'
    )
    assert (tmp_path / "s.yaml").read_text() == SHEET.replace(
        "assumed: [camera, key]\n", ""
    ).replace("readings: r.csv}", "readings: r.csv, key: wall}")
    scene = wbplan.read_scene(tmp_path / "s.yaml")
    assert [each.name for each in scene.setups[0].positions] == ["face", "wall", "door; back"]


ALIKE = """wbplan: 1
title: Alike
camera: cfa-mid
sources: {window: {daylight_kelvin: 6000}, lamp: {lamp: A, on: false, filter: {nd_stops: 1}}}
setups:
  - name: Wide
    shooting: {fps: 24, shutter_angle_deg: 180, t_stop: 4}
    positions: {face: {lux: {window: 30, lamp: 7}, intent: neutral}}
  - {name: Close, like: wide}
"""


def test_a_reading_stands_in_one_place_where_setups_are_alike(tmp_path: Path) -> None:
    (tmp_path / "s.yaml").write_text(ALIKE)
    session = Session(read_document(tmp_path / "s.yaml"))
    shown = session.show()["setups"][1]
    assert shown["positions"][0]["lux"]["window"]["now"] == "30"
    assert shown["lights"][1]["on"] is False
    close = {"setup": 1, "position": "face", "light": "window"}
    session.edit(session.version, {"do": "lux", **close, "lux": 40})
    session.edit(session.version, {"do": "switch", "setup": 1, "light": "lamp", "on": True})
    stop = {"do": "shooting", "setup": 1, "field": "t_stop"}
    session.edit(session.version, {**stop, "value": 2.8})
    text = session.document.text
    assert "lux: {window: 40, lamp: 7}" in text
    line = "{name: Close, like: wide, sources: {lamp: {on: true}}, shooting: {t_stop: 2.8}}"
    assert line in text
    assert [each["lights"][1]["on"] for each in session.show()["setups"]] == [False, True]
    session.edit(session.version, {**stop, "value": None})
    session.edit(session.version, {"do": "switch", "setup": 1, "light": "lamp", "on": False})
    assert session.document.text == ALIKE.replace("window: 30", "window: 40")
    for said in ({**stop, "value": None}, {"do": "intent", **close, "intent": "watched"}):
        with pytest.raises(InputError, match="stands in another place"):
            session.edit(session.version, said)
    scene = wbplan.read_scene(tmp_path / "s.yaml")
    assert [each.lux.tolist() for each in scene.setups[1].positions] == [[30.0, 7.0]]


def test_a_new_scenario_is_written_when_it_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    session = begin_session(None)
    assert list(tmp_path.iterdir()) == []
    assert not session.show()["kept"]
    session.keep(session.version)
    names = sorted(each.name for each in tmp_path.iterdir())
    assert names == ["location.yaml", "wbplan-scenario.schema.json"]
    assert begin_session(".").show()["kept"]
    (tmp_path / "more").mkdir()
    write_reading(tmp_path / "more" / "lamp.csv", scale_to_lux(radiate_black_body(3000.0), 55.0))
    (tmp_path / "more" / "notes.txt").write_text("parked by the gate\n")
    shown = begin_session("more").show()
    assert [each[:25] for each in shown["remarks"]] == ["notes.txt was passed over"]
    assert shown["setups"][0]["positions"][0]["lux"]["lamp"]["now"] == "55"
    copied = begin_session("dusk_workshop")
    copied.keep(copied.version)
    assert (tmp_path / "dusk_workshop.yaml").read_text() == WORKSHOP.read_text()
    assert (tmp_path / "workshop_panel.csv").exists()
    with pytest.raises(InputError, match=r"2 scenarios in \. \(dusk_workshop\.yaml, location"):
        begin_session(".")
    with pytest.raises(InputError):
        begin_session("gone.yaml")


def test_what_somebody_has_looked_at_says_check_no_more(tmp_path: Path) -> None:
    session = begin_session(str(tmp_path))
    assert session.document.text.count("# CHECK") == 6
    for word in ("lux", "shooting", "invented"):
        session.edit(session.version, {"do": "vouch", "setup": 0, "word": word})
    text = session.document.text
    assert "put your own here" not in text
    assert text.count("# CHECK") == 3
    session.edit(session.version, {"do": "camera", "setup": 0, "camera": "cfa-presets"})
    session.edit(session.version, {"do": "key", "setup": 0, "position": "face"})
    text = session.document.text
    assert "CHECK" not in text
    assert "camera: cfa-presets\n" in text
    assert "# The position that the exposure is for, and the setting: usually a face.\n" in text
    assert "assumed" not in text


def test_a_new_scenario_does_not_write_over_one_that_came_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    session = begin_session(None)
    (tmp_path / "location.yaml").write_text("theirs")
    with pytest.raises(ConflictError):
        session.keep(session.version)
    assert (tmp_path / "location.yaml").read_text() == "theirs"


def test_every_shipped_scenario_opens_and_shows_what_plan_decides() -> None:
    pytest.importorskip("pvlib")
    for name in ("night_market", "reading_room"):
        shown: Mapping[str, Any] = begin_session(name).show()
        assert len(shown["decided"]) == len(shown["setups"])
        for setup, decided in zip(shown["setups"], shown["decided"], strict=True):
            names = [each["name"] for each in decided["positions"]]
            assert names == [each["name"] for each in setup["positions"]]


def test_a_document_keeps_its_byte_order_mark_and_line_ends(tmp_path: Path) -> None:
    text = "\ufeff" + SHEET.replace("readings: r.csv", "positions: {face: {lux: {window: 3}}}")
    path = tmp_path / "s.yaml"
    path.write_bytes(text.replace("\n", "\r\n").encode())
    document = read_document(path)
    assert isinstance(document, Document)
    made = apply_edit(document, {**LUX, "position": "face", "light": "window", "lux": 4})
    assert made.files["s.yaml"] == document.files["s.yaml"].replace(b"window: 3", b"window: 4")
