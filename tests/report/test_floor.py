"""What a page is on the floor: a phone's first screen, cards, one sheet of paper, swatches."""

from __future__ import annotations

import re
from importlib.resources import files

import numpy as np
import pytest

from tests.shared import Reader, decide, drop_script, make_kitchen, plan_shipped
from wbplan.camera.setting import find_distance, view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import parse_cube, read_trilinear
from wbplan.light.surfaces import SKIN_ROWS, list_surfaces
from wbplan.lut.correction import Shot, find_gamut_change, find_surface_rgb
from wbplan.planning.decisions import Plan
from wbplan.planning.looks import HEADROOM
from wbplan.planning.response import respond_to_scene
from wbplan.report.base.templates import label_cells, quote_style
from wbplan.report.plan.page import render_figures, render_pages
from wbplan.report.plan.verdict import say_lut_at_key


@pytest.fixture(scope="module")
def dusk() -> Plan:
    return plan_shipped("dusk_workshop")


@pytest.fixture(scope="module")
def pages(dusk: Plan) -> dict[str, str]:
    return render_pages(dusk)


@pytest.mark.parametrize(
    ("rows", "heads", "expected"),
    [
        ("<tr><th>a</th><td>1</td></tr>", ["X", "Y"], ["X", "Y"]),
        ('<tr><td colspan="2">a</td><td>1</td></tr>', ["X", "Y", "Z"], ["X", "Z"]),
        (
            '<tr><th rowspan="2">a</th><td>1</td></tr><tr><td>2</td></tr><tr><th>b</th></tr>',
            "<th scope='col'>X</th><th>Y <b>z</b></th>",
            ["X", "Y z", "Y z", "X"],
        ),
        ("<tr><td>1</td></tr>", ['"><script>'], ["&#34;&gt;&lt;script&gt;"]),
        ("<tr><td>1</td><td>2</td></tr>", ["X"], ["X"]),
    ],
)
def test_a_cell_names_its_column(rows: str, heads: list[str] | str, expected: list[str]) -> None:
    made = label_cells(rows, heads)
    assert re.findall(r'data-label="([^"]*)"', made) == expected
    assert re.sub(r' data-label="[^"]*"', "", made) == rows


def test_every_cell_of_a_page_has_its_head(pages: dict[str, str]) -> None:
    for name, source in pages.items():
        if name.endswith("_report.html"):
            cells = re.findall(r"<td([^>]*)>", source.split("<main>")[1])
            assert len(cells) > 100
            assert all("data-label" in each for each in cells), name


def test_a_name_in_a_style_sheet_is_text() -> None:
    # CSS Syntax 3, 4.3.7: a backslash, the number in hexadecimal, one space.
    assert quote_style('a"}') == '"a\\22 \\7d "'
    assert quote_style("</style>\n") == '"\\3c \\2f style\\3e  "'


def test_each_setup_has_a_sheet_that_says_the_same(dusk: Plan, pages: dict[str, str]) -> None:
    for each in dusk.setups:
        sheet = Reader(drop_script(pages[f"{each.stem}_sheet.html"]))
        page = Reader(drop_script(pages[f"{each.stem}_report.html"]))
        links = {attrs.get("href") for attrs in sheet.attributes("a")}
        assert {"report.html", f"{each.stem}_report.html", each.lut_files[0].file_name} <= links
        assert f"{each.stem}_sheet.html" in {a.get("href") for a in page.attributes("a")}
        for kind in ("kelvin", "tint"):
            said = [
                re.search(rf'class="{kind}">([^<]*)', pages[f"{each.stem}_{which}.html"])
                for which in ("sheet", "report")
            ]
            assert all(said)
            assert said[0][1] == said[1][1]  # type: ignore[index]


def test_the_picture_of_the_readme_is_what_is_drawn(dusk: Plan) -> None:
    drawn = render_figures(dusk)[f"{dusk.setups[0].stem}_figure_decision.svg"]
    kept = files("wbplan").joinpath("guide", "dusk_workshop.svg").read_text(encoding="utf-8")
    assert drawn == kept


def test_every_lut_is_a_link(dusk: Plan, pages: dict[str, str]) -> None:
    for each in dusk.setups:
        for lut in each.lut_files:
            for name in ("report.html", f"{each.stem}_report.html"):
                assert f'href="{lut.file_name}"' in pages[name]


def test_swatches_with_the_lut_are_read_from_its_file(dusk: Plan) -> None:
    """Encoded at the dialled setting, read trilinear, decoded, by hand: within what a screen shows.

    The page reads the file tetrahedrally; both ways differ by a ten-bit code or so (its error).
    """
    display = find_encoding("sRGB", "ITU-R BT.709")
    for plan in dusk.setups:
        scene = respond_to_scene(plan.setup, view_camera(plan.setup.camera))
        file = plan.lut_files[0]
        shot = Shot(scene.camera, file.source, (plan.dial.mired, plan.dial.tint_cc))
        light = scene.position_power[:1]
        linear = find_surface_rgb(shot, light, list_surfaces().reflectances)[0]
        read = read_trilinear(parse_cube(file.data.decode()), file.source.encode(linear))
        change = find_gamut_change(file.source, display)
        wanted = display.encode(np.clip(HEADROOM * file.source.decode(read) @ change.T, 0, 1))
        assert plan.appearance is not None
        look = next(e for e in plan.appearance.positions[0].looks if e.code == "corrected")
        np.testing.assert_allclose(look.screen_rgb, wanted, atol=2 / 255)


def test_the_ends_of_the_band_are_greener_and_more_magenta(dusk: Plan) -> None:
    for plan in dusk.setups:
        seen = plan.appearance
        assert seen is not None
        dialled = next(
            each for each in seen.positions[plan.setup.key_row].looks if each.code == "dialled"
        )
        green, magenta = seen.key_ends
        for row in SKIN_ROWS:  # green against the mean of red and blue, in codes
            tint = [
                float(each.screen_rgb[row] @ np.array([-0.5, 1, -0.5]))
                for each in (magenta, dialled, green)
            ]
            assert tint == sorted(tint)
            assert tint[2] - tint[0] > 0.01


def test_a_lut_that_takes_the_key_further_off_says_so() -> None:
    dusk = plan_shipped("dusk_workshop").setups[1]
    key, exact = dusk.key, dusk.exact
    after = (
        key.off_intent.mired.value + dusk.dial.mired - exact.mired.value,
        key.off_intent.green_cc.value + dusk.dial.tint_cc - exact.tint_cc.value,
    )
    said = say_lut_at_key(dusk)
    assert "aimed at the mean" in said
    worse = find_distance(*after) > find_distance(*key.off_intent.point) + 0.5
    assert ("further off" in said) == bool(worse)
    alone = decide(make_kitchen(), "x")
    if len(alone.verdict.solved_for) == 1:  # type: ignore[union-attr]
        assert say_lut_at_key(alone) == ""
