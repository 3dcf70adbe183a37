"""Described lights as tables, record and page: complete, marked, clean, and the same every time."""

from __future__ import annotations

import html.parser
import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from wbplan.camera.setting import view_camera
from wbplan.core.intervals import Interval
from wbplan.description.lights import LightSet, describe_lights
from wbplan.front.files import make_light_record
from wbplan.light.filters import make_ideal_filter
from wbplan.light.spectrum import WAVELENGTHS_NM, Reading, Spectrum
from wbplan.read.catalogue import find_camera, find_source
from wbplan.report.light import words as say
from wbplan.report.light.page import MOST_DRAWN, render_light_page
from wbplan.report.light.terminal import format_lights

LINE = Spectrum(np.where(WAVELENGTHS_NM == 530, 1.0, 0.0), "line")
HOSTILE = '<script>alert(1)</script>\u202e"&\x1b[2J'


@pytest.fixture(scope="module")
def lights() -> LightSet:
    readings = (
        Reading("tube", find_source("FL4"), 640.0, "column 2"),
        Reading("model lamp", Spectrum(find_source("LED-B3").values, "m", "a formula", True)),
        Reading("line", LINE),
        Reading(HOSTILE, find_source("D65"), understood=HOSTILE),
    )
    view = view_camera(find_camera("cfa-mid", Path()))
    against = Reading("D55", find_source("D55"))
    refused = (("bad.csv", "bad.csv:3: found 'x'; allowed: a number"),)
    return describe_lights(readings, view, against, make_ideal_filter(30, 5), refused)


def test_the_record_is_whole(lights: LightSet) -> None:
    record = json.loads(make_light_record(lights))
    assert record["format"] == "wbplan lights"
    assert record["format_version"] == 1
    assert len(record["lights"]) == 8
    tube = record["lights"][0]
    assert tube["illuminance_lux"] == 640
    assert tube["illuminance_footcandle"] == pytest.approx(59.458, abs=1e-3)
    assert len(tube["cie_special_indices"]) == 15
    assert len(tube["tm30_bin_chroma_shift_ratio"]) == 16
    assert len(tube["spectrum_relative"]) == 401
    assert tube["against"]["other"] == "D55"
    assert set(tube["camera"]["exposure_offset"]) >= {"red_stops", "green_stops_low"}
    assert record["lights"][1]["through_filter"]["other"] == "the bare light"
    assert [each["is_model"] for each in record["lights"]] == [
        *(False, True), *(True, True), *(False, True), *(False, True)
    ]  # fmt: skip
    line = record["lights"][4]
    assert line["cct_kelvin"] is None
    assert line["cie_ra"] is None
    assert line["camera"]["hue_mean_ciede2000"] is None
    assert record["refused"] == [{"file": "bad.csv", "reason": lights.refused[0][1]}]


def test_every_number_has_its_unit_in_its_key(lights: LightSet) -> None:
    units = (
        *("lux", "footcandle", "kelvin", "mired", "nm", "stops", "cc", "duv", "ratio", "ciede2000"),
        *("radians", "percent", "version", "count", "low", "high"),
        *("steps", "cielab", "level"),
    )
    bare = {"x", "y", "u_prime", "v_prime", "cie_ra", "tm30_rf", "tm30_rg", "tm30_skin_rf", "ssi"}
    bare |= {"distance_xy", "distance_uv_prime", "tlci_qa", "tlmf_qa"}

    def check(value: object) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                if isinstance(inner, int | float) and not isinstance(inner, bool):
                    assert key in bare or key.endswith(units), key
                check(inner)
        elif isinstance(value, list):
            for each in value:
                check(each)

    check(json.loads(make_light_record(lights)))


def test_the_tables_say_what_matters(lights: LightSet) -> None:
    said = format_lights(lights)
    for part in (
        "1  tube\n   meter   640 lux, 59.5 fc; 2938 K, Duv", "3  model lamp (model)",
        "no CCT: coloured", "do      dial 2750 K", "anybody sees it: CIEDE2000",
        "treat it as colour", "Of 6 pairs none match to the eye", "1 tube / 3 model lamp",
        "to black body 2938 K", "chroma %, hue bin", "Against D55", "Camera cfa-mid", "TLMF",
        "nothing that can be set", "warning  line: CCT, Ra, TM-30", "refused  bad.csv:3",
        "read as  tube: column 2", "Behind ideal 30 mired warm, 5 CC green", "costs",
    ):  # fmt: skip
        assert part in said, part
    assert max(map(len, said.splitlines())) <= 80
    assert "to meet D55 in this camera, hang" in " ".join(said.split())
    assert not re.search(r"\bnan\b", said.lower())
    assert "\x1b" not in said
    assert "\u202e" not in said


class Checker(html.parser.HTMLParser):
    """Collects ids and tags, and holds the nesting of tags."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in ("meta", "path", "circle", "rect", "br", "wbr", "link"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in ("path", "circle", "rect"):
            assert self.open.pop() == tag


def test_the_page_is_whole_and_safe(lights: LightSet) -> None:
    page = render_light_page(lights, "0")
    checker = Checker()
    checker.feed(page)
    assert checker.open == []
    assert len(checker.ids) == len(set(checker.ids))
    assert "script" not in checker.tags
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert "&lt;script&gt;" in page
    assert not re.search(r'(?:href|src)="(?!#|data:)', page)
    for part in (
        "640 lux", ">model</span>", "<dt>skin</dt>", "Side by side",
        "goes on to the right", "What the eye makes of them", "Colour rendering", "Against D55",
        "Behind ideal 30 mired warm", "bad.csv, not described", "Take care", "R15",
    ):  # fmt: skip
        assert part in page, part
    assert page.count("<svg role") == 3 + 6  # the single line has no hue bins, bare or filtered
    assert not re.search(r"\bnan\b", page.lower())


def test_the_same_lights_give_the_same_bytes(lights: LightSet) -> None:
    assert render_light_page(lights, "0") == render_light_page(lights, "0")
    assert make_light_record(lights) == make_light_record(lights)


def test_many_lights_draw_the_first_dozen() -> None:
    many = describe_lights(tuple(Reading(f"l{n}", find_source("FL2")) for n in range(30)))
    page = render_light_page(many, "0")
    assert f"first {MOST_DRAWN} lights; the tables hold all 30" in page
    assert page.count("<svg role") == 3 + MOST_DRAWN
    said = format_lights(many)
    assert "CIE samples" not in said
    assert max(map(len, said.splitlines())) <= 80
    assert "Of 435 pairs 435 match to the eye." in said
    assert "The 15 nearest" in said


@pytest.mark.parametrize(
    ("interval", "said", "span"),
    [
        (Interval(0.42, 0.3, 0.5), "0.4 over", "0.3 to 0.5 over"),
        (Interval(-0.21, -0.3, -0.1), "0.2 under", "0.1 to 0.3 under"),
        (Interval(0.01, -0.1, 0.1), "as lux", "0.1 under to 0.1 over"),
        (Interval(-0.1, -0.2, 0.0), "0.1 under", "0 to 0.2 under"),
        (Interval(0.2, 0.2, 0.2), "0.2 over", ""),
    ],
)
def test_exposure_is_said_with_a_side(interval: Interval, said: str, span: str) -> None:
    assert say.say_signed_stops(interval) == said
    assert say.say_stops_span(interval) == span


def test_small_words() -> None:
    assert say.say_whole(math.nan) == "–"
    assert say.say_whole(-0.4) == "0"
    assert say.say_percent_shift(0.004) == "0 %"
    assert say.say_percent_shift(-0.123) == "-12 %"
    assert say.say_mired_gap(-12.3) == "12 mired cooler"
    assert say.say_mired_gap(0.02) == "as warm"
    assert say.say_mired_gap(math.nan) == "no CCT"
