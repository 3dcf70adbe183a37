"""Lights and positions renamed and taken out: every mention follows, and nothing else changes."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.front.open.test_session import find_changed
from wbplan.core.errors import InputError
from wbplan.front.open.documents import Document, list_lights, list_positions
from wbplan.front.open.edits import apply_edit
from wbplan.front.open.names import tell_what_goes
from wbplan.front.open.session import ConflictError, Session, read_document
from wbplan.front.scenes import read_edited
from wbplan.read.scenario.reader import Scene

FULL = """# an invented room
wbplan: 1
title: Room
camera: cfa-mid
sources:
  # by the door
  lamp: {lamp: A}          # warm
  window: {daylight_kelvin: 6000}
  panel:
    channels: {warm: {lamp: LED-B1, lux: 620}, cool: {lamp: LED-B5, lux: 700}}
  unused: {lamp: FL2}
setups:
  - name: Wide
    shooting: {fps: 24, shutter_angle_deg: 180}
    key: Face     # the one who speaks
    positions:
      face: {lux: {lamp: 40, window: 110, panel: 30}}   # at the nose
      wall: {lux: {window: 60, lamp: 10}, weight: 0.5}
      door: {lux: {lamp: 90, panel: 0, window: 0}}
    luts:
      - {kind: light-match, from: lamp, to: face}
      - {kind: positions, position: wall}
      - {kind: monitor}
    layout:
      lamp: {distance_m: 3, bearing_deg: 20, aimed_at: face, height_m: 2}
      face: {distance_m: 2, bearing_deg: 0, height_m: 1}
      Wall: {distance_m: 5, bearing_deg: -10, height_m: 1, aimed_at: camera}
      door: {distance_m: 4, bearing_deg: 10, height_m: 1, aimed_at: lamp}
      panel: {distance_m: 2, bearing_deg: 40, height_m: 2}
    advise:
      lights:
        lamp:
          filters: generic
          now_m: {face: 2, wall: 3, door: 1}
          move: {up: {metres: {face: 3, wall: 4, door: 2}}}
        panel: {move: {there: {layout: wall}}}
        window: {filters: generic}
      ratios:
        - {key: face, fill: wall, ratio: 2}
        - {key: lamp, fill: window, at: face, ratio: 2}
      tune: {panel: {match: lamp}}
    plate: {slate: lamp, notes: the lamp at the face, lamps_seen_from: face}
  - name: Close
    like: wide
    positions: {face: {lux: {lamp: 44}}}
    luts: [{kind: monitor}]
  - name: Lamp anew
    shooting: {fps: 24, shutter_angle_deg: 180}
    sources: {lamp: {lamp: FL2}, own: {lamp: A}}
    positions: {face: {lux: {lamp: 40, window: 3}}}
  - name: Own
    shooting: {fps: 24, shutter_angle_deg: 180}
    sources: {own: {lamp: FL2}}
    positions: {face: {lux: {own: 40}}}
"""


@pytest.fixture
def room(tmp_path: Path) -> Document:
    return write(tmp_path, FULL)


def write(folder: Path, text: str, **files: str) -> Document:
    (folder / "room.yaml").write_text(text)
    for name, data in files.items():
        (folder / f"{name}.csv").write_text(data, newline="")
    return read_document(folder / "room.yaml")


def change(document: Document, do: str, **said: Any) -> Document:
    kind = do.split()[1]
    edit = {"do": do, "setup": said.pop("setup", 0), kind: said.pop("of"), **said}
    return apply_edit(document, edit)


def read(document: Document) -> Scene:
    return read_edited(document.path, document.files)


HOSTILE = ("a: b", "- x", "#1", "[x]", "on", "'", '"', "x\\y", "Léa 👩\u200d🔧", "a, b", "*x")


def test_any_name_comes_and_goes_without_a_trace(room: Document) -> None:
    for new in HOSTILE:
        made = change(room, "rename light", of="lamp", name=new)
        made = change(made, "rename position", of="door", name=f"{new} 2", setup=1)
        assert list_lights(made.whole, 0)[new] == ("sources", new)
        assert list_positions(made, 1) == ("face", "wall", f"{new} 2")
        made = change(made, "rename position", of=f"{new} 2", name="door")
        assert change(made, "rename light", of=new, name="lamp").files == room.files


def test_a_light_is_renamed_wherever_it_is_meant(room: Document) -> None:
    new = "a: lamp"
    before = read(room)
    made = change(room, "rename light", of="lamp", name=new)
    gone, come = find_changed(room.text, made.text)
    assert len(gone) == len(come) == 13
    assert not [each for each in gone if "slate" in each or each.startswith("#")]
    assert "by the door" in made.text
    after = read(made)
    for one, other in zip(before.setups, after.setups, strict=True):
        names = [new if each.name == "lamp" else each.name for each in one.sources]
        assert [each.name for each in other.sources] == names
        for a, b in zip(one.positions, other.positions, strict=True):
            np.testing.assert_array_equal(a.lux, b.lux)
    wide = after.setups[0]
    assert wide.luts[0].start == new
    assert {each.name: each.aimed_at for each in wide.layout}["door"] == new
    assert wide.wish is not None
    assert (wide.wish.lights[0].light, wide.wish.matches[0].light) == (new, new)
    assert wide.wish.ratios[1].key == new
    # Of two setups with a light of their own by one name, each has its own.
    made = change(room, "rename light", of="own", name="old", setup=3)
    assert made.text == room.text.replace("{own: {lamp: FL2}}", "{old: {lamp: FL2}}").replace(
        "{lux: {own: 40}}", "{lux: {old: 40}}"
    )


def test_a_position_is_renamed_wherever_it_is_meant(room: Document) -> None:
    new = '"Léa", [1]'
    made = change(room, "rename position", of="face", name=new)
    scene = read(made)
    wide, close, anew, _ = scene.setups
    assert wide.key == close.key == new
    assert anew.key == "face"
    assert wide.luts[0].end == wide.slate.lamps_seen_from == new  # type: ignore[union-attr]
    assert wide.layout[0].aimed_at == new
    assert wide.wish is not None
    assert (wide.wish.ratios[0].key, wide.wish.ratios[1].at) == (new, new)
    assert close.positions[0].lux[0] == 44
    assert "the lamp at the face" in made.text
    assert "# the one who speaks" in made.text
    back = change(made, "rename position", of=new, name="face")
    assert back.text == FULL.replace("key: Face", "key: face")
    # "Wall" is the position "wall" in the layout, as readers understand names.
    made = change(room, "rename position", of="wall", name="brick", setup=1)
    assert len(re.findall("wall", made.text, re.I)) == 0


@pytest.mark.parametrize(
    ("kind", "of", "new", "fragment"),
    [
        ("light", "lamp", "window", "a name of its own"),
        ("light", "lamp", "Win-dow", "beside 'window'"),
        ("light", "lamp", "face", "a name of its own"),
        ("position", "face", "camera", "a name of its own"),
        ("position", "face", "  ", "a text of 1 to"),
        ("position", "face", "x" * 81, "1 to 80"),
        ("position", "face", "a\nb", "1 to 80"),
        ("position", "face", "a\u2028b", "1 to 80"),
        ("position", "face", "\u200b", "can be seen"),
        ("position", "face", "\ud800", "1 to 80"),
        ("position", "face", "a\ufffe", "without touching"),
        ("position", "nowhere", "x", "one that is there"),
        ("light", "face", "x", "one that is there"),
    ],
)
def test_a_name_that_cannot_be_is_refused(
    room: Document, kind: str, of: str, new: str, fragment: str
) -> None:
    with pytest.raises(InputError, match=fragment):
        apply_edit(room, {"do": f"rename {kind}", "setup": 0, kind: of, "name": new})


def test_a_new_name_is_one_of_its_own(room: Document) -> None:
    for new in ("Lamp", "WALL", "camera", "\u200b"):
        with pytest.raises(InputError):
            apply_edit(room, {"do": "add position", "setup": 0, "position": new})
        said = {"do": "add light", "setup": 2, "light": new, "kind": "lamp", "value": "A"}
        with pytest.raises(InputError):
            apply_edit(room, said)


def test_a_light_goes_with_what_names_it(room: Document) -> None:
    said = tell_what_goes(room, 0, "light", "lamp")
    assert said == [
        "readings of 3 positions", "LUT 1 that is asked for", "what may be changed about it",
        "its place in the layout", "what door is aimed at", "the same in Close, Lamp anew",
    ]  # fmt: skip
    made = change(room, "remove light", of="lamp")
    wide, close = read(made).setups[:2]
    assert [each.name for each in wide.sources] == ["window", "panel"]
    assert [each.lux.tolist() for each in wide.positions] == [[110, 30], [60, 0], [0, 0]]
    assert [each.lux.tolist() for each in close.positions] == [[110, 30], [60, 0], [0, 0]]
    assert [each.kind for each in wide.luts] == ["positions", "monitor"]
    assert wide.wish is not None
    assert [each.light for each in wide.wish.lights] == ["panel", "window"]
    assert (len(wide.wish.ratios), wide.wish.matches) == (1, ())
    assert [each.name for each in wide.layout] == ["face", "wall", "door", "panel"]
    assert "# at the nose" in made.text
    assert "by the door" not in made.text
    made = change(made, "remove light", of="unused")
    made = change(made, "remove light", of="panel")
    assert "tune" not in made.text
    with pytest.raises(InputError, match="one light at least"):
        change(made, "remove light", of="window")


def test_a_position_goes_with_what_names_it(room: Document) -> None:
    said = tell_what_goes(room, 1, "position", "face")
    assert said == [
        "readings of 3 lights", "it is the key: wall becomes the key", "LUT 1 that is asked for",
        "what may be changed about it", "what lamp is aimed at", "its place in the layout",
        "where lamps are seen from", "the same in Wide",
    ]  # fmt: skip
    made = change(room, "remove position", of="face", setup=1)
    wide, close, *_ = read(made).setups
    assert wide.key == close.key == "wall"
    assert [each.name for each in close.positions] == ["wall", "door"]
    assert wide.wish is not None
    assert wide.wish.ratios == ()
    made = change(made, "remove position", of="wall")
    wish = read(made).setups[0].wish
    assert wish is not None
    assert [each.light for each in wish.lights] == ["lamp", "window"]  # the panel had moved there
    with pytest.raises(InputError, match="one position at least"):
        change(made, "remove position", of="door")
    with pytest.raises(InputError, match="one position at least"):  # found by a fuzzer
        tell_what_goes(made, 0, "position", "door")


SHEETED = """wbplan: 1
title: Sheet
camera: cfa-mid
sources: {window: {daylight_kelvin: 6000}, lamp: {lamp: A}}
setups:
  - {name: one, shooting: {fps: 24, shutter_angle_deg: 180}, readings: r.csv, key: face}
  - name: two
    shooting: {fps: 24, shutter_angle_deg: 180}
    readings: r.csv
    positions: {face: {intent: leave}, wall: {weight: 1}}
"""


def test_a_sheet_follows_and_all_setups_that_read_it(tmp_path: Path) -> None:
    text = "# by hand\r\nlux;window;lamp\r\nface;310,5; 7\r\n\r\nwall;20;\r\ndoor;;3\r\n"
    document = write(tmp_path, SHEETED, r=text)
    made = change(document, "rename light", of="lamp", name="a; b")
    made = change(made, "rename position", of="face", name="#1 Anna", setup=1)
    sheet = made.files["r.csv"].decode()
    assert sheet == text.replace(";lamp", ';"a; b"').replace("face;", '"#1 Anna";')
    one, two = read(made).setups
    assert one.key == "#1 Anna"
    assert two.positions[0].intent.weight == 0
    made = change(made, "remove light", of="a; b")
    assert made.files["r.csv"].decode() == (
        '# by hand\r\nlux;window\r\n"#1 Anna";310,5\r\n\r\nwall;20\r\ndoor;0\r\n'
    )
    made = change(made, "remove position", of="#1 Anna")
    assert made.files["r.csv"].decode() == "# by hand\r\nlux;window\r\n\r\nwall;20\r\ndoor;0\r\n"
    assert "key" not in made.text
    assert "positions: {wall: {weight: 1}}" in made.text


def test_what_anchors_carry_is_renamed_with_them_or_refused(tmp_path: Path) -> None:
    text = SHEETED.replace("readings: r.csv, key: face", "positions: {face: {lux: &l {lamp: 3}}}")
    more = "positions: {wall: {lux: *l}, door: {lux: {<<: *l, window: 4}}}"
    text = text[: text.index("readings")] + more + "\n"
    document = write(tmp_path, text)
    made = change(document, "rename light", of="lamp", name="bulb")
    assert made.text == text.replace("lamp: 3", "bulb: 3").replace(", lamp: {", ", bulb: {")
    apart = text.replace("sources: {window: {daylight_kelvin: 6000}, lamp: {lamp: A}}\n", "")
    own = "sources: {window: {lamp: FL2}, lamp: {lamp: A}}, positions"
    apart = apart.replace(" positions", f" {own}", 1)
    apart = apart.replace("    positions", f"    {own.replace(', positions', '')}\n    positions")
    with pytest.raises(InputError, match="by hand"):  # each setup has a lamp of its own
        change(write(tmp_path, apart), "rename light", of="lamp", name="bulb")


def test_a_rename_is_one_step_and_of_two_people_one_is_told(tmp_path: Path) -> None:
    lux = "readings: r.csv, positions: {face: {intent: neutral}}"
    text = SHEETED[: SHEETED.index("  - name: two")].replace("readings: r.csv, key: face", lux)
    begun = write(tmp_path, text, r="lux,window,lamp\nface,110,40\nwall,60,10\n")
    session = Session(begun)
    seen = session.version
    said = {"do": "rename position", "setup": 0, "position": "face", "name": "Anna"}
    session.edit(seen, said)
    with pytest.raises(ConflictError):
        session.edit(seen, {**said, "name": "Bert"})
    shown = session.show()
    assert [each["name"] for each in shown["decided"][0]["positions"]] == ["Anna", "wall"]
    place = shown["setups"][0]["positions"][0]
    assert (place["name"], place["was"], place["lux"]["lamp"]) == (
        "Anna", "face", {"now": "40", "kept": "40"},
    )  # fmt: skip
    session.edit(session.version, {"do": "rename light", "setup": 0, "light": "lamp", "name": "L1"})
    light = session.show()["setups"][0]["lights"][1]
    assert (light["name"], light["was"], light["changed"]) == ("L1", "lamp", False)
    assert session.show()["setups"][0]["positions"][1]["lux"]["L1"] == {"now": "10", "kept": "10"}
    session.edit(session.version, {"do": "remove light", "setup": 0, "light": "L1"})
    for _ in range(3):
        session.move(session.version, -1)
    assert session.document == begun
    assert session.show()["undo"] == ""
