"""The page: whole, closed to the network, safe with hostile names, and saying what the plan says.

What a page has to be comes from HTML 5 and WAI-ARIA 1.2 (structure, names of images and tables)
and Content Security Policy Level 3; the plan it shows is built here from library calls.
"""

from __future__ import annotations

import re
from base64 import b64encode
from dataclasses import replace
from hashlib import sha256
from types import ModuleType
from urllib.parse import unquote
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.shared import Reader, decide, drop_script, make_kitchen, render_all, squeeze
from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.core.notes import Note, warn
from wbplan.exposure.equation import Shooting, name_t_stop
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import Spectrum
from wbplan.light.surfaces import GREY_ROW, GREY_ROWS, SKIN_ROWS
from wbplan.planning.casts import Cast
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.looks import HEADROOM, Look
from wbplan.report.base import words
from wbplan.report.exposure import words as exposurewords
from wbplan.report.plan.figures import draw_cast_map, draw_spectrum, list_outside_map
from wbplan.report.plan.page import render_figures, render_pages
from wbplan.report.plan.setup_page import collect_notes
from wbplan.scene.setup import Intent, Position, Source


@pytest.fixture(scope="session")
def page(plan: Plan) -> Reader:
    return Reader(render_all(plan))


def test_decision_is_said(plan: Plan, page: Reader) -> None:
    text = squeeze(page.text)
    for each in plan.setups:
        assert f"{each.dial.kelvin:.0f} K" in page.words["b"]
        assert words.name_tint(each.dial.tint_cc) in page.words["b"]
        low, high = each.exact.kelvin.low, each.exact.kelvin.high
        assert low <= each.exact.kelvin.value <= high
        assert f"Exact: {each.exact.kelvin.value:.0f} K" in text
        assert each.exposure is not None
        assert name_t_stop(each.exposure.t_stop) in page.words["span"]
        assert exposurewords.split_nd_shot(each.exposure)[0] in page.words["span"]
        assert each.lut is not None
        assert each.lut.file_name in page.words["a"]
        for position in each.positions:
            assert position.name in text
        assert words.say_cast(each.positions[0].cast) in text
    kelvin = plan.setups[0].exact.kelvin
    assert f"90 % band: {kelvin.low:.0f} to {kelvin.high:.0f} K" in text
    assert "EI 800, 24 fps, 180° (1/48 s)" in text
    assert "Sun" in page.words["b"] or "Indoor" in page.words["b"]
    assert "Invented data" in text
    assert "ab" * 32 in text


def test_warnings_follow_the_decision(plan: Plan, page: Reader) -> None:
    text = squeeze(page.text)
    start = text.index("Dial in on Three bell curves")
    warning = text.index("no data below 410 nm", start)
    assert warning < text.index("What each position will look like")
    assert "almost a single line" in text


def test_camera_and_meter_are_told_apart(kitchen: SetupPlan, page: Reader) -> None:
    tube = kitchen.lights[2]
    miss = words.find_meter_miss(tube.eye, tube.wanted)
    assert miss is not None
    metered = 1e6 / tube.eye.cct_kelvin
    assert miss.mired.value == pytest.approx(tube.wanted.mired.value - metered)
    assert miss.green_cc.value == tube.wanted.tint_cc.value > 2
    assert words.say_cast(miss) in squeeze(page.text)


def test_page_is_closed_to_the_network(plan: Plan, hostile: Plan) -> None:
    luts = {
        lut.file_name for each in (plan, hostile) for one in each.setups for lut in one.lut_files
    }
    pages = {**render_pages(plan), **render_pages(hostile)}
    for name, whole in (*render_pages(plan).items(), *render_pages(hostile).items()):
        others = {*pages, *luts} - {name}
        source = drop_script(whole)
        reader = Reader(source)
        assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import", source, re.I)
        for tag, attrs in reader.found:
            assert tag not in {"script", "link", "img", "iframe", "object", "embed", "form", "base"}
            assert not any(name.startswith("on") for name in attrs)
            target = attrs.get("href") or "#"
            assert target.startswith("#") or unquote(target) in others
            if target.startswith("#") and len(target) > 1:
                assert any(each.get("id") == target[1:] for _, each in reader.found)
            assert "src" not in attrs
        policy = [
            attrs["content"]
            for attrs in reader.attributes("meta")
            if attrs.get("http-equiv") == "Content-Security-Policy"
        ]
        assert len(policy) == 1
        assert "default-src 'none'; style-src 'unsafe-inline'; img-src data:" in str(policy[0])
        # The one script is let run by the SHA-256 of its text (Content Security Policy 3, 6.7).
        script = (
            whole[whole.index("<script>") + 8 : whole.index("</script>")]
            if (source != whole)
            else ""
        )
        digest = b64encode(sha256(script.encode()).digest()).decode()
        assert (f"script-src 'sha256-{digest}';" in str(policy[0])) == bool(script)
        assert ("script-src" in str(policy[0])) == bool(script)
        assert not re.search("innerHTML|eval|fetch|import|XMLHttp|document.write", script)


def test_hostile_names_are_text(hostile: Plan) -> None:
    assert "<script" not in render_all(hostile).lower()
    source = render_pages(hostile)[f"{hostile.setups[0].stem}_report.html"]
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b-\x1f\x7f-\x9f]", source)
    reader = Reader(source)
    said = "<script>alert(\"x\")</script> & 'q' \ufffdgnp.exe\ufffd \ufffd"
    assert said in reader.words["h1"][0]
    assert any(said in each for each in reader.words["figcaption"])
    assert any(said in each for each in reader.words["title"][1:])
    assert any(said in each for each in reader.words["desc"])
    assert all(
        set(attrs) <= {"class", "id", "aria-labelledby"} for attrs in reader.attributes("section")
    )


@pytest.mark.parametrize("number", [0, 1])
def test_figures_and_tables_have_names(plan: Plan, number: int) -> None:
    page = Reader([*render_pages(plan).values()][number + 1])
    figures = page.attributes("svg")
    # Map, trade-off, lights, two of bars; five spectra; looks at four lit positions, of which two
    # have a wish.
    assert len(figures) == page.count("figure") == 5 + 5 + 4 * 3 + 2
    ids = [attrs["id"] for _, attrs in page.found if attrs.get("id")]
    assert len(ids) == len(set(ids))
    for attrs in figures:
        assert attrs["role"] == "img"
        assert attrs["viewbox"]
        assert all(each in ids for each in str(attrs["aria-labelledby"]).split())
    assert page.count("desc") == len(figures)
    assert all(each.strip() for each in page.words["desc"] + page.words["title"])
    named = sum(bool(each.get("aria-label")) for each in page.attributes("div"))
    assert named == page.count("table")
    scopes = {"col", "row", "rowgroup"}
    assert all(attrs.get("scope") in scopes for attrs in page.attributes("th"))
    # The script makes a stop of the Tab key of what scrolls alone; see test_browser.
    assert not any("tabindex" in attrs for _, attrs in page.found)
    assert page.count("input") == page.count("label") > 5


def test_figures_draw_in_the_colour_of_the_page(kitchen: SetupPlan) -> None:
    drawn = draw_cast_map(kitchen.positions, "m") + draw_spectrum(kitchen.lights[0], "s")
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn)) <= {"currentColor", "none"}
    assert not re.search(r"\d\.\d{3}", drawn)
    assert "nan" not in drawn.lower()


def test_map_keeps_inside_and_leaves_out_what_has_no_setting(kitchen: SetupPlan) -> None:
    drawn = draw_cast_map(kitchen.positions, "m")
    width, height = map(float, re.findall(r'viewBox="0 0 (\S+) (\S+)"', drawn)[0])
    dots = re.findall(r'<circle cx="(\S+)" cy="(\S+)" r="4.5"', drawn)
    # The corridor is left as it falls and lies outside: an arrow at the edge, with its number.
    assert len(dots) == 2
    assert list_outside_map(kitchen.positions) == (3,)
    assert all(0 < float(x) < width and 0 < float(y) < height for x, y in dots)
    assert "alley" not in drawn
    assert re.search(r">3[ <]", drawn)
    # Warm lies right of the setting, cool left: the intent of the wall is 25 mired cool.
    rings = [float(x) for x in re.findall(r'<circle cx="(\S+)" cy="\S+" r="7"', drawn)]
    assert len(rings) == 2
    assert rings[1] < rings[0]


def test_map_with_many_positions_sets_no_label_on_another(kitchen: SetupPlan) -> None:
    crowd = tuple(
        replace(
            kitchen.positions[0],
            name=f"place {row}",
            cast=Cast(Interval(row % 6 * 4.0, 0, 20), Interval(row // 6 * 0.25, 0, 0.75)),
        )
        for row in range(18)
    )
    drawn = draw_cast_map(crowd, "m")
    labels = re.findall(r'<text x="(\S+)" y="(\S+)" class="halo">([^<]+)<', drawn)
    assert {int(each[2].split()[0]) for each in labels} == set(range(1, 19))
    letter, line = 7.0, 14.0  # of a 14 unit sans serif, on average
    spots = [(float(x), float(y), float(x) + letter * len(text)) for x, y, text in labels]
    for row, (left, middle, right) in enumerate(spots):
        for other_left, other_middle, other_right in spots[row + 1 :]:
            apart = abs(middle - other_middle) >= line
            assert apart or right <= other_left or other_right <= left


def test_light_of_nothing_is_drawn_flat(kitchen: SetupPlan) -> None:
    dark = replace(kitchen.lights[0], power=np.zeros(401))
    assert "No light gets through" in draw_spectrum(dark, "s")


def test_exact_profile_and_no_lut(kitchen: SetupPlan) -> None:
    bare = replace(kitchen, lut=None, notes=(warn("no-lut", "no LUT is made", "LUT"),))
    source = render_all(Plan("t", "f", "d", "v", False, (bare,)))
    assert "none made, see the warnings" in source
    assert "Invented" not in source
    assert 'rel="next"' not in source


def test_notes_are_collected_once_under_the_light(kitchen: SetupPlan) -> None:
    note = Note("extended", "held above 730 nm")
    lights = tuple(replace(each, notes=(note, note)) for each in kitchen.lights[:2])
    found = collect_notes(replace(kitchen, lights=lights, notes=()))
    assert [str(each) for each in found] == [
        "window: held above 730 nm",
        "lamp: held above 730 nm",
    ]


def test_same_plan_gives_the_same_page(plan: Plan) -> None:
    assert render_pages(plan) == render_pages(plan)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (12345.6, "12300"),
        (0.012345, "0.0123"),
        (9.996, "10.0"),
        (0.0, "0"),
        (-2.0, "-2.00"),
        (1e7, "10000000"),
        (float("nan"), "unknown"),
    ],
)
def test_significant_digits(value: float, said: str) -> None:
    assert words.say_significant(value) == said


@pytest.mark.parametrize(
    ("mired", "cc", "said"),
    [
        (12.4, 2.04, "12 mired warm, 2 CC green"),
        (-9.96, -0.04, "10 mired cool"),
        (8.24, -3.26, "8.2 mired warm, 3.3 CC magenta"),
        (0.04, 0.0, "neutral"),
        (-131.4, 0.0, "131 mired cool"),
    ],
)
def test_casts_in_words(mired: float, cc: float, said: str) -> None:
    assert words.say_shift(mired, cc) == said


@pytest.mark.parametrize(
    ("low", "high", "mired", "green", "tint"),
    [
        (1, 4, "1 to 4 mired warm", "1 to 4 CC green", "1 to 4 CC magenta"),
        (-4, -1, "1 to 4 mired cool", "1 to 4 CC magenta", "1 to 4 CC green"),
        (-1, 4, "1 mired cool to 4 mired warm", "1 CC magenta to 4 CC green",
         "1 CC green to 4 CC magenta"),
        (0, 4, "0 to 4 mired warm", "0 to 4 CC green", "0 to 4 CC magenta"),
        (-4, 0.01, "0 to 4 mired cool", "0 to 4 CC magenta", "0 to 4 CC green"),
        (-0.01, 0.01, "0 mired", "0 CC", "0 CC"),
        (12.2, 12.4, "12 mired warm", "12.2 to 12.4 CC green", "12.2 to 12.4 CC magenta"),
    ],
)  # fmt: skip
def test_spans_in_words(low: float, high: float, mired: str, green: str, tint: str) -> None:
    interval = Interval((low + high) / 2, low, high)
    assert words.say_mired_span(interval) == mired
    assert words.say_green_span(interval) == green
    assert words.say_tint_span(interval) == tint


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (words.say_duv(0.00324), "Duv 0.0032 green"),
        (words.say_duv(-0.0008), "Duv 0.0008 magenta"),
        (words.say_duv(float("nan")), ""),
        (words.say_duv(-0.00004), "Duv 0.0000"),
        (words.say_kelvin(float("nan")), "no CCT"),
        (words.say_kelvin(-25000.0), "over 100000 K"),
        (words.say_kelvin_span(Interval(2e4, 19000.4, -1e6)), "19000 to over 100000 K"),
        (words.say_from_key(1.26), "1.3 stops over"),
        (words.say_from_key(-1.0), "1 stop under"),
        (words.say_from_key(-np.inf), "no light"),
        (words.say_nd(2.34), "ND of 2.3 stops"),
        (words.say_nd(-0.8), "0.8 stops too dark"),
        (words.say_nd(-np.inf), "no light"),
        (words.say_stops(np.inf), "all of it"),
        (words.say_percent(0.004), "under 0.01 %"),
        (words.say_percent(9.6), "10 %"),
        (words.say_percent(0.42), "0.42 %"),
        (words.say_exposure_time(Shooting(800, 25, 1 / 50)), "180° (1/50 s)"),
        (clean_text("a\nb\u202e\x00 \ud800 ű"), "a b\ufffd\ufffd \ufffd ű"),
    ],
)
def test_small_words(said: str, expected: str) -> None:
    assert said == expected


def test_every_figure_stands_alone(plan: Plan, hostile: Plan) -> None:
    # SVG 2 (W3C), 5.1.1 and 5.9: the outermost element, its name space, title and description.
    for each in (plan, hostile):
        files = render_figures(each)
        assert len(files) == len({name.casefold() for name in files})
        pages = render_pages(each)
        shown = sum(page.count("<svg") for page in pages.values())
        assert len(files) == shown + len(each.setups)  # and a card of each decision
        for name, text in files.items():
            assert re.fullmatch(r"[a-z0-9_-]{1,200}\.svg", name)
            root = ElementTree.fromstring(text)
            assert root.tag == "{http://www.w3.org/2000/svg}svg"
            assert [child.tag.split("}")[1] for child in root][:3] == ["style", "title", "desc"]
            assert not re.search(r"nan|inf[^o]", text.split("</desc>")[1])
            assert "<script" not in text.lower()


def test_greys_keep_neutral_where_the_light_is_what_the_camera_is_set_to() -> None:
    # Under the reference light of the setting every grey has three equal codes, by the meaning of
    # the word, and nothing differs from what is meant.
    setup = make_kitchen()
    lit = replace(
        setup,
        sources=(Source("sky", Spectrum(radiate_daylight(5600.0), name="D", origin="CIE 15")),),
        positions=(Position("face", np.array([500.0]), Intent()),),
        shot_at=Setting(5600.0, 0.0),
    )
    made = decide(lit, "one")
    assert made.appearance is not None
    place = made.appearance.positions[0]
    dialled = next(each for each in place.looks if each.code == "dialled")
    for row in GREY_ROWS:
        assert np.ptp(dialled.screen_rgb[row]) < 0.003
    assert dialled.ciede2000 is not None
    assert dialled.ciede2000.max() < 0.05
    # CIE daylight of 5600 K lies at x 0.3302, y 0.3414 + (CIE 15:2018, 4.1.2: y from x).
    x = 0.244063 + 0.09911e3 / 5600 + 2.9678e6 / 5600**2 - 4.6070e9 / 5600**3
    y = -3.000 * x**2 + 2.870 * x - 0.275
    assert made.appearance.neutral_xy == pytest.approx((x, y), abs=5e-4)


def test_a_cast_shows_on_its_own_side(kitchen: SetupPlan) -> None:
    # Warm is more red than blue, cool the other way, by the meaning of the words.
    assert kitchen.appearance is not None
    for place, seen in zip(kitchen.positions, kitchen.appearance.positions, strict=True):
        for look in seen.looks:
            if look.code == "dialled" and abs(place.cast.mired.value) > 10 and not place.trouble:
                red, _, blue = look.screen_rgb[GREY_ROW]
                assert (red > blue) == (place.cast.mired.value > 0)
    assert kitchen.appearance.positions[-1].looks == ()  # the cellar has no light


def test_looks_agree_with_the_library(kitchen: SetupPlan, colour: ModuleType) -> None:
    # The difference in the table is that of colour-science from the sRGB codes themselves (IEC
    # 61966-2-1, CIEDE2000 by ISO/CIE 11664-6), where nothing was held at the screen's edge.
    assert kitchen.appearance is not None
    place = kitchen.appearance.positions[0]
    assert place.meant is not None
    space = colour.RGB_COLOURSPACES["sRGB"]

    def find_lab(look: Look) -> np.ndarray:
        linear = colour.cctf_decoding(look.screen_rgb, function="sRGB") / HEADROOM
        white = colour.xy_to_XYZ(space.whitepoint)
        return np.asarray(
            colour.XYZ_to_Lab(linear @ space.matrix_RGB_to_XYZ.T, colour.XYZ_to_xy(white))
        )

    rows = [GREY_ROW, *SKIN_ROWS]  # well inside
    for look in place.looks:
        assert look.ciede2000 is not None
        theirs = colour.delta_E(find_lab(look), find_lab(place.meant), method="CIE 2000")
        assert look.ciede2000[rows] == pytest.approx(theirs[rows], abs=0.05)
