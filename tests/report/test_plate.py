"""Plate notes as files: whole, closed to the network, kept to their schema, safe with nasty names.

What a page has to be comes from HTML 5 and WAI-ARIA 1.2; the schema is JSON Schema, draft 2020-12.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from tests.shared import (
    ENDS,
    HOSTILE,
    UNITS,
    Reader,
    decide,
    drop_script,
    make_kitchen,
    plan_shipped,
    refuse,
    squeeze,
    walk,
)
from wbplan.camera.setting import view_camera
from wbplan.exposure.flicker import Flicker
from wbplan.front.cli.main import main
from wbplan.front.files import make_files
from wbplan.front.plans import plan as plan_file
from wbplan.light.filters import make_measured_filter
from wbplan.light.spectrum import Spectrum
from wbplan.planning.decisions import Plan
from wbplan.planning.plate.bracket import STEP_STOPS
from wbplan.planning.plate.space import place_in_picture
from wbplan.planning.plate.view import view_plate
from wbplan.read.catalogue import list_shipped
from wbplan.record.schemas import read_schema_text
from wbplan.report.base import words
from wbplan.report.plate import words as said
from wbplan.report.plate.figure import draw_heights, draw_layout, mark_spots
from wbplan.report.plate.files import make_plate_files
from wbplan.scene.plate import PlateLens, Slate, Spot
from wbplan.sky.site import Site

UNITS_HERE = UNITS | {
    *("metres", "millimetres", "pixels", "prime", "linear", "m2"),
    *("per_lux", "lux"),
}
EIGHT_EAST = timezone(timedelta(hours=8))
LENS = PlateLens("no. 7", 50.0, 2.0, 3.0, 1.5, -4.0, 1.0, 205.0, 36.0, 24.0, 4096, 2304, ("mist",))
LAYOUT = (
    Spot("face", "position", 3.0, 0.0, 1.6, facing_deg=180.0),
    Spot("window", "light", 4.0, -60.0, 1.8, aimed_at="face", size_m=(1.5, 1.0)),
    Spot("lamp", "light", 2.0, 70.0, size_m=(0.5, 0.5)),
)


def add_plates(made: Plan) -> Plan:
    return replace(
        made,
        setups=tuple(
            replace(each, plate=view_plate(each, view_camera(each.setup.camera)))
            for each in made.setups
        ),
    )


@pytest.fixture(scope="module")
def full() -> Plan:
    """One setup with every field given, flickering, behind filters, and one with none."""
    setup = make_kitchen(
        lens=LENS,
        layout=LAYOUT,
        slate=Slate("41C", "41", "2", "41-2", "wet ground"),
        site=Site("Square", 23.5, -140.5, 10.0, "Etc/GMT-8"),
        when=datetime(2026, 11, 14, 19, 40, tzinfo=EIGHT_EAST),
    )
    window, lamp, tube, *rest = setup.sources
    tube = replace(tube, flicker=Flicker(100.0, 0.3, "square", 0.4))
    shut = replace(window, filter=make_measured_filter(Spectrum(np.zeros(401), "shut")))
    first = decide(replace(setup, sources=(window, lamp, tube, *rest)), "01-kitchen")
    second = decide(make_kitchen("dark", key="cellar"), "02-dark")
    third = decide(make_kitchen("shut", sources=(shut, lamp, tube, *rest)), "03-shut")
    made = Plan("A night's work", "s.yaml", "ab" * 32, "0.1.0", True, (first, second, third))
    return add_plates(made)


@pytest.fixture(scope="module")
def files(full: Plan) -> dict[str, bytes]:
    return make_plate_files(full)


@pytest.fixture(scope="module")
def records(files: dict[str, bytes]) -> list[dict[str, Any]]:
    return [
        json.loads(raw, parse_constant=refuse)
        for name, raw in files.items()
        if name.endswith(".json")
    ]


class PageReader(Reader):
    VOID = frozenset({"meta", "br", "wbr", "input"})


@pytest.fixture(scope="module")
def page(files: dict[str, bytes]) -> PageReader:
    return PageReader(files["01-kitchen_plate.html"].decode("utf-8"))


def check(record: dict[str, Any]) -> list[str]:
    found = Draft202012Validator(json.loads(read_schema_text("plate"))).iter_errors(record)
    return [f"{each.json_path}: {each.message[:200]}" for each in found]


def test_schema_is_one() -> None:
    Draft202012Validator.check_schema(json.loads(read_schema_text("plate")))


def test_records_keep_the_schema(records: list[dict[str, Any]]) -> None:
    assert len(records) == 3
    for each in records:
        assert check(each) == []
    broken = dict(records[0], extra=1)
    assert any("extra" in each for each in check(broken))
    del broken["extra"], broken["lights"]
    assert any("lights" in each for each in check(broken))


@pytest.mark.parametrize("name", sorted(list_shipped("scenarios")))
def test_shipped_scenarios_keep_the_schema(name: str) -> None:
    made = make_plate_files(plan_shipped(name, plate=True))
    records = [json.loads(raw) for file, raw in made.items() if file.endswith(".json")]
    assert records
    for each in records:
        assert check(each) == []
        assert each["invented"] is True


def test_keys_are_in_the_order_of_the_schema(records: list[dict[str, Any]]) -> None:
    schema = json.loads(read_schema_text("plate"))
    compared = 0

    def compare(value: Any, node: dict[str, Any]) -> None:
        nonlocal compared
        if "$ref" in node:
            node = schema["$defs"][node["$ref"].rpartition("/")[2]]
        if isinstance(value, dict):
            assert list(value) == list(node["properties"])
            compared += 1
            for name, each in value.items():
                compare(each, node["properties"][name])
        elif isinstance(value, list):
            for each in value:
                compare(each, node["items"])

    for each in records:
        compare(each, schema)
    assert compared > 100


def test_every_number_has_its_unit(records: list[dict[str, Any]]) -> None:
    stray = {
        key
        for each in records
        for key, value in walk(each)
        if isinstance(value, int | float) and not isinstance(value, bool)
        if re.sub(ENDS, "", key).split("_")[-1] not in UNITS_HERE
    }
    assert stray == set()


def test_record_says_what_was_given(full: Plan, records: list[dict[str, Any]]) -> None:
    one, two, three = records
    assert one["lens"]["focal_length_millimetres"] == 50
    assert one["lens"]["horizontal_view_degrees"] == pytest.approx(71.5, abs=0.02)
    assert one["when"] == {"local": "2026-11-14T19:40:00+08:00", "utc": "2026-11-14T11:40:00Z"}
    assert one["site"]["longitude_degrees"] == -140.5
    assert one["slate"]["scene"] == "41"
    window, lamp = one["lights"][0]["place"], one["lights"][1]["place"]
    # From (0, 3) to 4 m at 60 degrees left: the law of cosines, 9 + 16 - 2*3*4*cos 60 = 13.
    assert window["to_key_floor_metres"] == pytest.approx(13**0.5, abs=1e-4)  # to 0.1 mm
    assert window["to_key_metres"] == pytest.approx((13 + 0.2**2) ** 0.5, abs=1e-4)
    assert lamp["to_key_metres"] is lamp["height_metres"] is None
    assert one["lights"][2]["flicker"]["duty_percent"] == 40
    made = full.setups[0].plate
    assert made is not None
    assert made.positions[0].ap0 is not None
    assert one["positions"][0]["grey_ap0"]["red_linear"] == pytest.approx(
        made.positions[0].ap0[0].value, rel=1e-5
    )
    assert one["not_given"]["places"] == ["tube", "street", "spare", "wall", "corridor", "alley",
                                          "cellar"]  # fmt: skip
    assert [each["light"] for each in one["bracket"]["sources"]] == ["window", "lamp"]
    assert two["lens"] is two["slate"] is two["site"] is two["when"] is None
    assert two["positions"][0]["grey_ap0"] is two["lights"][0]["camera_ap0"] is None
    assert three["lights"][0]["spectra"] == []
    assert three["lights"][0]["eye_xyz"] is None


def test_files_are_named_and_digested(
    files: dict[str, bytes], records: list[dict[str, Any]]
) -> None:
    import hashlib

    assert all(re.fullmatch(r"0[123]-[a-z]+_plate[a-z0-9_.-]*", name) for name in files)
    for each in records:
        for entry in each["files"]:
            assert hashlib.sha256(files[entry["file"]]).hexdigest() == entry["sha256"]
    assert sum(name.endswith(".xml") for name in files) == 5 + 5 + 4
    assert sum(name.endswith(".csv") for name in files) == 5 + 1 + 5 + 4 + 1
    levels = files["01-kitchen_plate_levels.csv"].decode("utf-8-sig").splitlines()
    assert len(levels) == 1 + 4 + 3 + 2 + 1 - 1  # lights at face, wall, corridor, alley; spare off
    assert levels[0].startswith("setup_number,setup,position,light,illuminance_lux,red_acescg")


def test_the_same_plan_gives_the_same_bytes(full: Plan, files: dict[str, bytes]) -> None:
    assert make_plate_files(full) == files


def test_xml_says_what_stands_on_data(files: dict[str, bytes]) -> None:
    tube = files["01-kitchen_plate_light-03-tube.xml"].decode("utf-8")
    assert "Data stand on 410 to 780 nm." in tube
    assert "no data below 410 nm: the nearest value is held there" in tube
    assert "Invented data" in tube
    assert "2026-11-14T11:40:00Z" in tube
    window = files["01-kitchen_plate_light-01-window.xml"].decode("utf-8")
    assert "Modelled, not measured" in window
    assert "0001-01-01T00:00:00Z" in files["02-dark_plate_light-01-window.xml"].decode("utf-8")


def test_page_says_it(page: PageReader) -> None:
    text = squeeze(page.text)
    for each in (
        "Plate notes: kitchen",
        "2026-11-14 19:40 (UTC+08:00), 2026-11-14 11:40 UTC",
        "23.5000° N, 140.5000° W",
        "no. 7",
        "71.5°, worked out without distortion",
        "60° left",
        "No place is given for: tube, street",
        "ACES, through the LUT",
        "standard observer",
        "Light by position",
        "To dial in a 3D scene",
        "100 Hz, 30 %, square, on 40 %",
        "01-kitchen_plate_light-01-window.xml",
        "data from 410 to 780 nm",
        "common practice, no source",
        "protects no eye",
        "HDR bracket, frame by frame",
        "Local electrical",
        "Invented data",
    ):
        assert each in text, each
    assert text.index("Dialled in on") < text.index("Lens and camera") < text.index("Take care")
    assert "nan" not in re.findall(r"[a-z]+", text.lower())


def test_page_is_reachable_and_named(page: PageReader) -> None:
    ids = [attrs["id"] for _, attrs in page.found if attrs.get("id")]
    assert len(ids) == len(set(ids))
    boxes = page.attributes("input")
    labels = [attrs["for"] for attrs in page.attributes("label")]
    assert len(boxes) > 8
    assert [each["id"] for each in boxes] == labels
    assert {each["type"] for each in boxes} == {"checkbox"}
    assert page.count("caption") == page.count("table")
    assert page.count("figure") == page.count("svg") == page.count("desc") == 2
    regions = [a for t, a in page.found if t == "div" and "scroll" in str(a.get("class"))]
    assert len(regions) == page.count("table")
    for each in regions:
        assert each["role"] == "region"
        assert each["aria-label"]
    figure = page.words["desc"][0]
    for each in LAYOUT:
        assert each.name in figure
        assert any(each.name in row for row in page.words["th"])


def test_page_is_closed_to_the_network(files: dict[str, bytes]) -> None:
    for name, raw in files.items():
        if not name.endswith(".html"):
            continue
        source = drop_script(raw.decode("utf-8"))
        assert not re.search(r"https?:|//[a-z]|url\(|@import", source, re.IGNORECASE)
        reader = PageReader(source)
        for tag, attrs in reader.found:
            assert tag not in {"script", "link", "img", "iframe", "object", "embed", "form", "base"}
            assert not any(each.startswith("on") for each in attrs)
        policy = [a.get("http-equiv") for a in reader.attributes("meta")]
        assert "Content-Security-Policy" in policy


def test_nasty_text_stays_text(hostile: Plan) -> None:
    setup = hostile.setups[0].setup
    nasty = HOSTILE.replace("\x07", "")
    setup = replace(
        setup,
        lens=replace(LENS, name=nasty, filters=(nasty,)),
        layout=(Spot(HOSTILE, "light", 2.0, 10.0, aimed_at="camera"),),
        slate=Slate(nasty, nasty, nasty, nasty, nasty),
    )
    made = add_plates(replace(hostile, setups=(replace(hostile.setups[0], setup=setup),)))
    files = make_plate_files(made)
    stem = "01-script-alert-x-script-q-gnp-exe"
    assert set(files) >= {f"{stem}_plate.html", f"{stem}_plate.json"}
    assert all(re.fullmatch(r"[a-z0-9_.-]+", name) for name in files)
    source = drop_script(files[f"{stem}_plate.html"].decode("utf-8"))
    assert "<script" not in source.lower()
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b-\x1f\x7f-\x9f]", source)
    PageReader(source)
    text = files[f"{stem}_plate.json"].decode("utf-8")
    assert "\u202e" not in text
    record = json.loads(text)
    assert check(record) == []
    assert record["slate"]["scene"] == nasty
    for name, raw in files.items():
        if name.endswith(".csv"):
            if name.endswith("_levels.csv"):
                assert b"\n<script>" not in raw
                continue
            assert re.fullmatch(rb"[a-z_,\r\n0-9.e-]+", raw)


def test_figure_marks_each_kind_its_own_way() -> None:
    marks = mark_spots([f"l{n}" for n in range(28)], ["face", "l0"])
    assert marks["light", "l0"] == "A"
    assert marks["light", "l27"] == "AB"
    assert marks["position", "l0"] == "2"
    alone = (Spot("face", "position", 0.0, 0.0),)
    one = draw_layout(alone, (None,), marks, None, "x")
    assert one.count("<circle") >= 1  # a single spot, at the camera, is drawn all the same
    assert draw_heights(alone, (None,), marks, None, "x") is None
    for focal in (None, 5.0, 400.0):
        lens = replace(LENS, focal_length_mm=focal)
        seen = [place_in_picture(lens, each, LAYOUT) for each in LAYOUT]
        shown = mark_spots(["window", "lamp"], ["face"])
        for draw in (draw_layout, draw_heights):
            drawn = str(draw(LAYOUT, seen, shown, lens, "x"))
            numbers = re.findall(r"-?\d+\.?\d*", drawn.partition("<desc")[0])
            assert all(abs(float(each)) < 1e4 for each in numbers)
            assert "nan" not in drawn


def list_dotted(drawn: str) -> list[tuple[float, float]]:
    """List the dotted lines of a drawing as steps across and down."""
    found = re.findall(r'd="M(\S+) (\S+)L(\S+) (\S+)"[^>]*stroke-dasharray="2 4"', drawn)
    return [(float(c) - float(a), float(d) - float(b)) for a, b, c, d in found]


@pytest.mark.parametrize("layout", [LAYOUT, (Spot("far", "light", 40.0, 3.0, 1.5),), LAYOUT[2:]])
@pytest.mark.parametrize("focal", [18.0, 32.0, 50.0, 200.0])
def test_the_edges_of_the_picture_are_drawn_at_their_angle(
    layout: tuple[Spot, ...], focal: float
) -> None:
    """2 atan(w s / 2 f) and 2 atan(h / 2 f), in drawings that are wide, tall or square."""
    lens = replace(LENS, focal_length_mm=focal, roll_deg=0.0)
    shown = mark_spots(["window", "lamp", "far"], ["face"])
    above = list_dotted(draw_layout(layout, [None] * len(layout), shown, lens, "x"))
    ends = [np.degrees(np.arctan2(x, -y)) for x, y in above]
    across = np.degrees(2 * np.arctan(36.0 * 2 / (2 * focal)))
    assert ends[1] - ends[0] == pytest.approx(across, abs=0.2)
    assert ends[0] + ends[1] == pytest.approx(0.0, abs=0.2)
    side = draw_heights(layout, [None] * len(layout), shown, lens, "x")
    if side is not None:
        ends = [np.degrees(np.arctan2(-y, x)) for x, y in list_dotted(side)]
        up = np.degrees(2 * np.arctan(24.0 / (2 * focal)))
        assert abs(ends[1] - ends[0]) == pytest.approx(up, abs=0.2)
        assert sum(ends) / 2 == pytest.approx(-4.0, abs=0.2)


def test_what_is_in_the_picture_is_said_and_drawn_alike() -> None:
    """The shipped stall's sign stands 19 degrees off the axis of a view of 47 degrees."""
    plan = plan_shipped("night_market", plate=True)
    files = make_plate_files(plan)
    made = plan.setups[0]
    view = made.plate
    assert view is not None
    page = files[f"{made.stem}_plate.html"].decode("utf-8")
    record = json.loads(files[f"{made.stem}_plate.json"])
    start = page.index('aria-labelledby="plan-view')
    figure = page[start : page.index("</svg>", start)]
    classes = {"in": "seen", "out": "unseen", "partly": "partly", "open": "open"}
    for where, drawn in classes.items():
        said = sum(each is not None and each.where == where for each in view.pictured)
        assert figure.count(f'class="{drawn}"') == said
    stood = [*record["lights"], *record["positions"]]
    told = {each["name"]: each["place"]["in_picture"] for each in stood if each["place"]}
    assert told == {
        "festoon": "out",
        "sign": "partly",  # 1.2 m wide: its middle is in, its right end is not
        "vendor": "in",
        "back of the stall": "in",
    }
    assert "partly in the picture, its middle in it" in page


def test_a_scale_is_left_where_rings_have_no_room() -> None:
    near = tuple(Spot(f"l{n}", "light", 0.5 * n, 0.0, 1.0) for n in range(1, 9))
    shown = mark_spots([each.name for each in near], [])
    drawn = str(draw_layout(near, [None] * 8, shown, None, "x"))
    bar = re.search(r'd="M10 (\S+)L(\S+) \1"', drawn)
    said = re.search(r">([0-9.]+) m</text>", drawn)
    assert bar is not None
    assert said is not None
    places = [float(each) for each in re.findall(r'd="M\S+ (\S+)h10v10h-10z"', drawn)]
    metre = (max(places) - min(places)) / 3.5
    assert (float(bar[2]) - 10) / metre == pytest.approx(float(said[1]), rel=0.01)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (said.say_linear(0.18451), "0.1845"),
        (said.say_linear(1.1056), "1.106"),
        (said.say_linear(float("nan")), "unknown"),
        (words.say_significant(1.465e-5), "0.0000147"),
        (said.say_bearing(-30.04), "30° left"),
        (said.say_bearing(0.0), "0°, straight ahead"),
        (said.say_bearing(180.0), "180°, back at the camera"),
        (said.say_tilt(-4.0), "4° down"),
        (said.say_roll(2.0), "2° clockwise"),
        (said.say_roll(-2.0), "2° counter-clockwise"),
        (said.say_metres(float("inf")), "infinity"),
        (said.say_metres(3.2049), "3.2 m"),
        (said.say_metres(None), ""),
        (said.say_size(LAYOUT[1]), "1.5 by 1 m"),
        (said.say_facing(LAYOUT[1]), "at face"),
        (said.say_apart(LAYOUT[0], LAYOUT[2]), "2.98 m along the floor"),
    ],
)
def test_words(found: str, expected: str) -> None:
    assert found == expected


def test_checklist_follows_the_setup(full: Plan) -> None:
    first, second, _ = full.setups
    told = {each.code: each.text for each in said.list_reminders(first)}
    assert list(told) == [
        "slate", "white-balance", "chart", "grey-ball", "chrome-ball", "clean-plate", "bracket",
        "lens-grid", "dark-frame", "distances", "again",
    ]  # fmt: skip
    assert "Scene 41, slate 41C, take 2, clip 41-2" in told["slate"]
    assert f"{first.dial.kelvin:.0f} K" in told["white-balance"]
    assert told["chart"].startswith("At face, then at wall, corridor and alley")
    assert "tube flickers: keep the planned shutter" in told["bracket"]
    assert "window itself is about" in told["bracket"]
    assert "at 50 mm, focused at 3 m as in the take, squeeze 2" in told["lens-grid"]
    assert "no height for lamp" in told["distances"]
    assert first.plate is not None
    assert first.plate.bracket is not None
    dark = re.search(r"from (\d+) stops darker to (\d+) brighter", told["bracket"])
    assert dark is not None
    assert int(dark[1]) >= first.plate.bracket.darker_stops + STEP_STOPS
    assert int(dark[2]) >= first.plate.bracket.brighter_stops
    plain = {each.code: each.text for each in said.list_reminders(second)}
    assert "at the focal length and focus of the take" in plain["lens-grid"]
    assert "no height of the camera" in plain["distances"]


def test_a_steady_setup_is_bracketed_by_shutter_then_nd() -> None:
    made = add_plates(Plan("t", "s", "d", "v", False, (decide(make_kitchen(), "x"),)))
    told = {each.code: each.text for each in said.list_reminders(made.setups[0])}
    assert "By shutter, " in told["bracket"]
    assert "1/8000 s, then ND of" in told["bracket"] or "never by the stop" in told["bracket"]


def test_a_flash_has_to_fire(tmp_path: Path) -> None:
    made = plan_file("night_market", plate=True).setups[1]
    told = {each.code: each.text for each in said.list_reminders(made)}
    assert "strobe has to fire in each frame" in told["clean-plate"]
    assert "strobe is a flash: keep the planned shutter" in told["bracket"]


def test_command_writes_and_clears_them(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert main(["plan", "night_market", "--plate", "--out", str(out)]) == 0
    names = {each.name for each in out.iterdir()}
    record = json.loads((out / "plan.json").read_text("utf-8"))
    assert {"SHA256SUMS", *record["files"]} == names
    assert sum("_plate" in name for name in names) == 3 * (5 + 2 * 2)
    assert main(["plan", "night_market", "--out", str(out), "--force"]) == 0
    assert not any("_plate" in each.name for each in out.iterdir())


def test_without_the_wish_there_are_none() -> None:
    made = plan_file("night_market")
    assert all(each.plate is None for each in made.setups)
    assert not any("_plate" in name for name in make_files(made))
    assert make_plate_files(made) == {}
