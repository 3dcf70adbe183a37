"""The pages in a real browser: quiet, closed to the network, readable, printable, reachable.

Where there is no Chromium these tests are skipped. Limits: WCAG 2.2 (W3C Recommendation), success
criteria 1.4.3 (contrast of text), 1.4.10 (reflow at 320 CSS pixels), 1.4.11 (contrast of graphics),
2.1.1 and 2.4.7 (keyboard, visible focus); paper sizes ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import wbplan
from tests.read.test_lesson import write_lesson
from tests.report.test_compare_page import exchange_first
from tests.shared import plan_shipped
from wbplan.report.day.sheet import render_day_sheet

playwright = pytest.importorskip("playwright.sync_api")
pypdf = pytest.importorskip("pypdf")
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]
QUIET = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    "--renderer-process-limit=1",
    *("--disable-background-networking", "--disable-component-update"),
]
PHONE, DESKTOP, NARROWEST = 390, 1280, 320
# How text and its ground differ (WCAG 2.2, definition of contrast ratio and relative luminance),
# for every piece of text that is shown, with its opacity and that of what it stands in.
CONTRAST = """
() => {
  const parse = (text) => {
    const found = text.match(/[\\d.]+/g).map(Number);
    return {rgb: found.slice(0, 3), alpha: found.length > 3 ? found[3] : 1};
  };
  const linear = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const level = (c) => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
  const mix = (top, a, under) => top.map((v, i) => a * v + (1 - a) * under[i]);
  const ground = (element) => {
    for (let each = element; each; each = each.parentElement) {
      const found = parse(getComputedStyle(each).backgroundColor);
      if (found.alpha > 0) return found.rgb;
    }
    return [255, 255, 255];
  };
  const result = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    const text = walker.currentNode.data.trim();
    if (!text || element.closest("title, desc, style")) continue;
    if (!element.getClientRects().length) continue;
    const style = getComputedStyle(element);
    const drawn = element.closest("svg") !== null;
    const ink = parse(drawn ? style.fill : style.color);
    const alpha = ink.alpha * (drawn ? Number(style.fillOpacity) : 1) * Number(style.opacity);
    const under = ground(element);
    const [a, b] = [level(mix(ink.rgb, alpha, under)), level(under)].sort((x, y) => y - x);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    result.push({text, ratio: (a + 0.05) / (b + 0.05), least: large ? 3 : 4.5});
  }
  for (const bar of document.querySelectorAll("rect.red, rect.green, rect.blue")) {
    const under = ground(bar), ink = parse(getComputedStyle(bar).fill);
    const [a, b] = [level(ink.rgb), level(under)].sort((x, y) => y - x);
    result.push({text: "bar " + bar.className.baseVal, ratio: (a + 0.05) / (b + 0.05), least: 3});
  }
  return result;
}
"""
OUTSIDE = """
() => {
  const a = document.documentElement.getBoundingClientRect();
  return [...document.querySelectorAll("text")].filter((each) => {
    const b = each.getBoundingClientRect();
    const across = b.left < a.left - 1 || b.right > a.right + 1;
    return across || b.top < a.top - 2 || b.bottom > a.bottom + 2;
  }).map((each) => each.textContent);
}
"""
# Words of a picture that lie on each other, or have no words for those who do not see it.
CROWDED = """
() => {
  const found = [];
  for (const picture of document.querySelectorAll("svg:not([aria-hidden])")) {
    for (const name of ["title", "desc"]) {
      const said = picture.querySelector(name)?.textContent.trim();
      if (!said || /\\b(nan|inf|None|undefined)\\b/.test(said)) found.push([name, said]);
    }
    const out = picture.getBoundingClientRect();
    const texts = [...picture.querySelectorAll("text:not([clip-path] text)")];
    const boxes = texts.map((e) => [e.textContent, e.getBoundingClientRect()]);
    boxes.forEach(([text, a], row) => {
      if (a.left < out.left - 1 || a.right > out.right + 1) found.push([text, "sticks out"]);
      for (const [other, b] of boxes.slice(row + 1)) {
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > 2 && down > 0.35 * Math.min(a.height, b.height)) found.push([text, other]);
      }
    });
  }
  return found;
}
"""
FOCUSABLE = "a[href], input, [tabindex='0']"


def write_odd(folder: Path) -> Path:
    """Write a scenario as nobody should: long words, many lights, odd levels, hostile names."""
    lights = [f"light {row} by the wall" for row in range(9)]
    lights += [
        "W" * 80,
        "L\u00e1mp",
        "Lamp",
        "<b>bold</b>",
        "\u05e9\u05dc\u05d5\u05dd " * 6,
        "=1+1;@x",
    ]
    lamps = ("A", "FL2", "FL11", "LED-B1", "LED-B5", "LED-RGB1", "LED-V1")
    places = ["Z" * 80, "x" * 40 + " " + "y" * 39, *(f"place {row}" for row in range(9))]
    lines = ["wbplan: 1", f"title: {'T' * 80}", "camera: cfa-mid", "mains_hz: 50", "setups:"]
    lines += [f"  - name: {'N' * 80}", "    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180,"]
    lines += ["      t_stop: 2.8}", "    sources:"]
    lines += [f"      '{each}': {{lamp: {lamps[row % 7]}}}" for row, each in enumerate(lights)]
    lines += ["    layout:"]
    for row, each in enumerate([*lights, *places]):
        near = 1 + row % 4
        lines.append(f"      '{each}': {{distance_m: {near}, bearing_deg: {row * 7 % 60}}}")
    lines += ["    positions:"]
    for row, each in enumerate(places):
        lux = [f"'{name}': {1 + (row * 7 + at) % 90}" for at, name in enumerate(lights)]
        lux = lux if row < 9 else [f"'{lights[0]}': {(0.0001, 400000)[row - 9]}"]
        lines.append(f"      '{each}': {{lux: {{{', '.join(lux)}}}}}")
    lines += [
        "  - name: sodium alone",
        "    shooting: {fps: 24, shutter_angle_deg: 180, t_stop: 8}",
    ]
    lines += ["    sources: {street: {lamp: sodium-low-pressure-1700k}}"]
    lines += ["    positions: {road: {lux: {street: 5}}}"]
    path = folder / "odd.yaml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Pages of every kind, in folders of their own."""
    whole = tmp_path_factory.mktemp("pages")
    dusk = wbplan.plan("dusk_workshop", figures=True)
    wbplan.write(dusk, whole / "dusk")
    wbplan.write(wbplan.compare(exchange_first(dusk), dusk), whole / "compare")
    wbplan.write(plan_shipped("reading_room", advise=True), whole / "room")
    wbplan.write(plan_shipped("night_market", plate=True), whole / "market")
    odd = wbplan.plan(write_odd(whole), plate=True)
    wbplan.write(odd, whole / "odd")
    pytest.importorskip("pvlib")
    day = wbplan.plan_day("mill_yard")
    wbplan.write(day, whole / "day")
    crowded = render_day_sheet(replace(day, setups=day.setups * 3))
    (whole / "crowded_day.html").write_text(crowded, encoding="utf-8")
    lights = wbplan.describe(["FL2", "LED-B3"], camera="cfa-mid")
    wbplan.write(lights, whole / "lights")
    (whole / "lesson").mkdir()
    wbplan.write(wbplan.learn(write_lesson(whole / "lesson")), whole / "learned")
    return whole


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield opened
        opened.close()


# One page of every kind: an index, setups with and without advice, with flash, notes, lights.
KINDS = (
    "market/report.html",
    "dusk/01-*_report.html",
    "market/01-*_sheet.html",
    "odd/01-*_sheet.html",
    "room/01-*_report.html",
    "market/02-*_report.html",
    "market/01-*_plate.html",
    "odd/report.html",
    "odd/01-*_report.html",
    "odd/01-*_plate.html",
    "odd/02-*_report.html",
    "lights/lights.html",
    "day/day.html",
    "day/day_sheet.html",
    "compare/compare.html",
    "learned/l-lesson.html",
)


def list_pages(folder: Path) -> list[Path]:
    return [next(folder.glob(each)) for each in KINDS]


class Pages:
    """Pages kept open in one context: a look at another width or scheme needs no new one."""

    def __init__(self, browser: Any) -> None:
        self.context = browser.new_context()
        self.kept: dict[Path, Any] = {}

    def load(self, path: Path) -> Any:
        """Open a page anew, keeping what it says and asks for."""
        if path in self.kept:
            self.kept.pop(path).close()
        page = self.kept[path] = self.context.new_page()
        page.said, page.asked = [], []
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.on("request", lambda request: page.asked.append(request.url))
        page.set_viewport_size({"width": DESKTOP, "height": 900})
        page.goto(path.as_uri())
        return page

    def turn(self, page: Any, path: Path) -> Any:
        """Turn a page to another file, for what is looked at once."""
        page.said.clear()
        page.asked.clear()
        page.goto(path.as_uri())
        return page

    def __call__(self, path: Path, width: int = DESKTOP, **media: Any) -> Any:
        """Look at a page at a width, in a medium and a scheme."""
        page = self.kept.get(path) or self.load(path)
        page.set_viewport_size({"width": width, "height": 900})
        plain = {
            "media": "screen",
            "color_scheme": "light",
            "forced_colors": "none",
            "reduced_motion": "no-preference",
        }
        page.emulate_media(**{**plain, **media})
        return page


@pytest.fixture(scope="module")
def opened(browser: Any) -> Iterator[Pages]:
    pages = Pages(browser)
    yield pages
    pages.context.close()


def test_pages_are_quiet_and_ask_for_nothing(opened: Pages, folder: Path) -> None:
    every = sorted(folder.rglob("*.html"))
    page = opened.load(every[0])
    for path in (*every[1:], every[0]):
        opened.turn(page, path)
        assert page.said == [], path.name
        assert page.asked == [path.as_uri()], path.name
        assert page.evaluate("document.compatMode") == "CSS1Compat"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [PHONE, DESKTOP])
def test_text_and_bars_can_be_read(opened: Pages, folder: Path, scheme: str, width: int) -> None:
    for path in list_pages(folder):
        page = opened(path, width, color_scheme=scheme)
        found = page.evaluate(CONTRAST)
        assert len(found) > 20
        weak = [each for each in found if each["ratio"] < each["least"]]
        assert weak == [], path.name


def test_printed_text_can_be_read(opened: Pages, folder: Path) -> None:
    for path in list_pages(folder):
        page = opened(path, color_scheme="dark", media="print")
        weak = [each for each in page.evaluate(CONTRAST) if each["ratio"] < each["least"]]
        assert weak == [], path.name


@pytest.mark.parametrize("width", [PHONE, DESKTOP])
def test_no_word_of_a_picture_hides_another(opened: Pages, folder: Path, width: int) -> None:
    for path in list_pages(folder):
        page = opened(path, width)
        assert page.evaluate(CROWDED) == [], path.name


def test_sentences_stand_apart(opened: Pages, folder: Path) -> None:
    for path in list_pages(folder):
        said = opened(path).evaluate("document.body.innerText")
        assert re.findall(r".*[a-z)%]\.[A-Z][a-z].*", said) == [], path.name


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forced_colours_leave_everything_there(opened: Pages, folder: Path, scheme: str) -> None:
    for path in list_pages(folder):
        page = opened(path, color_scheme=scheme, forced_colors="active", reduced_motion="reduce")
        assert [
            e for e in page.evaluate(CONTRAST) if e["ratio"] < 4.5 and "bar" not in e["text"]
        ] == []
        looks = page.eval_on_selector_all(
            ".strip svg [fill^='#']", "all => new Set(all.map(e => getComputedStyle(e).fill)).size"
        )
        assert looks == 0 or looks > 20, path.name


@pytest.mark.parametrize("width", [NARROWEST, PHONE, 768, DESKTOP])
def test_nothing_sticks_out_at_the_side(opened: Pages, folder: Path, width: int) -> None:
    for path in list_pages(folder):
        page = opened(path, width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path.name
        boxes = ".cards > li, section.setup, fieldset, .facts, .decision > div, .strip figure"
        out = page.eval_on_selector_all(
            boxes, "all => all.filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"
        )
        assert out == [], path.name


def test_the_decision_is_large_and_first_on_a_phone(opened: Pages, folder: Path) -> None:
    # Legible at arm's length, 0.6 m: letters of 20 minutes of arc are 3.5 mm high (ISO 9241-303
    # recommends 20 to 22), at 0.7 of the size and 160 CSS pixels an inch a size of 32.
    for path in list_pages(folder):
        page = opened(path, PHONE)
        if not page.locator("#decision .kelvin").count():
            continue  # no setup's page
        for name, least in (("kelvin", 50), ("tint", 32), ("big", 30)):
            sizes = page.eval_on_selector_all(
                f"#decision .{name}",
                "all => all.map(e => parseFloat(getComputedStyle(e).fontSize))",
            )
            assert sizes, name
            assert min(sizes) >= least, name
        place = page.eval_on_selector("#decision .kelvin", "e => e.getBoundingClientRect().bottom")
        assert place < 700


def test_a_phones_first_screen_says_what_to_set_and_how_the_key_looks(
    opened: Pages, folder: Path
) -> None:
    # The setting, the stop, the ND, the key's look and the first warning, in 390 by 844.
    for name in ("dusk", "market"):
        page = opened(next((folder / name).glob("01-*_report.html")), PHONE)
        for part in (
            ".kelvin",
            ".tint",
            ".facts .big >> nth=1",
            ".keylook",
            ".alert ul li >> nth=0",
        ):
            box = page.locator(f"#decision {part}").first.bounding_box()
            assert box is not None
            assert box["y"] + min(box["height"], 60) <= 844, (name, part)


def test_tables_are_cards_on_a_phone_and_tables_on_paper(opened: Pages, folder: Path) -> None:
    hidden = (
        "() => [...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth"
        " + 1).map(e => e.ariaLabel)"
    )
    shown = "e => getComputedStyle(e).display"
    for name in ("dusk/01-*_report.html", "room/01-*_report.html", "market/report.html"):
        page = opened(next(folder.glob(name)), PHONE)
        assert page.evaluate(hidden) == [], name
        assert page.eval_on_selector(".scroll tbody tr", shown) == "block"
        assert page.locator("[tabindex='0']").count() == 0
        page.emulate_media(media="print")
        page.set_viewport_size({"width": 700, "height": 900})
        assert page.eval_on_selector(".scroll tbody tr", shown) == "table-row"


def test_ticks_are_there_when_the_page_is_opened_again(browser: Any, folder: Path) -> None:
    context = browser.new_context()
    one, other = sorted((folder / "dusk").glob("*_report.html"))
    page = context.new_page()
    page.goto(one.as_uri())
    page.locator("input[type=checkbox]").first.check()
    page.reload()
    assert page.locator("input[type=checkbox]").first.is_checked()
    assert page.locator("input[type=checkbox]:checked").count() == 1
    page.goto(other.as_uri())
    assert page.locator("input[type=checkbox]:checked").count() == 0
    page.goto(one.as_uri())
    page.locator("input[type=checkbox]").first.uncheck()
    page.reload()
    assert page.locator("input[type=checkbox]:checked").count() == 0
    context.close()


def test_a_call_sheet_is_one_sheet_of_a4(opened: Pages, folder: Path) -> None:
    for path in sorted(folder.rglob("*_sheet.html")):
        page = opened(path, media="print")
        sheets = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
        assert len(sheets) == 1, path
        assert "1 of 1" in " ".join(sheets[0].extract_text().split())


def test_paper_says_which_setup_and_which_sheet(opened: Pages, folder: Path) -> None:
    page = opened(next((folder / "dusk").glob("01-*_report.html")), media="print")
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    for number, sheet in enumerate(sheets, 1):
        said = sheet.extract_text()
        assert f"{number} of {len(sheets)}" in said
        assert "Wide of the room, Pottery workshop at dusk" in said


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"), [("A4", 210, 297), ("Letter", 215.9, 279.4)]
)
def test_pages_print_whole(
    opened: Pages, folder: Path, paper: str, width_mm: float, height_mm: float
) -> None:
    margin_mm, dot = 13.0, 96 / 25.4
    inside = (width_mm - 2 * margin_mm) * dot
    pages = list_pages(folder) if paper == "A4" else list_pages(folder)[1:2]
    for path in pages:
        if path.name == "day_sheet.html":  # lies across, see below
            continue
        page = opened(path, round(inside), media="print")
        # Nothing is wider than the paper, and what may not be broken fits on one sheet.
        assert page.evaluate("document.documentElement.scrollWidth") <= inside + 1, path.name
        tall = page.eval_on_selector_all(
            "figure, tr, fieldset, .decision",
            "all => all.map(e => [getComputedStyle(e).breakInside, e.offsetHeight || "
            "e.getBoundingClientRect().height])",
        )
        assert all(kept == "avoid" for kept, _ in tall), path.name
        assert max(each for _, each in tall) < (height_mm - 2 * margin_mm) * dot, path.name
        sheets = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
        assert 1 <= len(sheets.pages) <= (18 if path.parent.name != "odd" else 30), path.name
        words = "".join(each.extract_text() for each in sheets.pages)
        assert "Made by wbplan" in words
        size = sheets.pages[0].mediabox
        assert float(size.width) / 72 * 25.4 == pytest.approx(width_mm, abs=1)
        for sheet in sheets.pages[:-1]:
            assert len(sheet.extract_text().split()) > 10  # no sheet is left all but empty


def test_the_call_sheet_of_a_day_is_one_sheet_of_a4_across(opened: Pages, folder: Path) -> None:
    page = opened(folder / "day" / "day_sheet.html", media="print")
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    assert len(sheets) == 1
    size = [
        float(each) / 72 * 25.4 for each in (sheets[0].mediabox.width, sheets[0].mediabox.height)
    ]
    assert size == pytest.approx([297, 210], abs=1)
    page = opened(folder / "crowded_day.html", media="print")
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    assert len(sheets) == 2  # of six setups
    assert "4 Workroom by the window" in sheets[0].extract_text()


def test_everything_is_reached_by_the_keyboard(opened: Pages, folder: Path) -> None:
    for path in list_pages(folder):
        page = opened.load(path)  # where the focus stands is that of a new page
        wanted = page.eval_on_selector_all(FOCUSABLE, "all => all.length")
        seen = []
        page.bring_to_front()
        for _ in range(wanted):
            page.keyboard.press("Tab")
            seen.append(
                page.evaluate(
                    "() => { const e = document.activeElement, s = getComputedStyle(e);"
                    f' return [[...document.querySelectorAll("{FOCUSABLE}")].indexOf(e),'
                    " parseFloat(s.outlineWidth) > 0 && s.outlineStyle !== 'none']; }"
                )
            )
        assert [each for each, _ in seen] == list(range(wanted)), path.name
        assert all(outlined for _, outlined in seen), path.name


def test_boxes_are_ticked_by_the_space_bar_and_by_their_words(opened: Pages, folder: Path) -> None:
    page = opened.load(next(folder.rglob("01-*_report.html")))
    box = page.locator("input[type=checkbox]").first
    box.focus()
    page.keyboard.press("Space")
    assert box.is_checked()
    page.locator("label").first.click()
    assert not box.is_checked()


def test_links_lead_to_pages_that_are_there(opened: Pages, folder: Path) -> None:
    for path in list_pages(folder):
        page = opened(path)
        for target in page.eval_on_selector_all("a[href]", "all => all.map(e => e.href)"):
            assert target.startswith("file:")
            file, _, anchor = target.removeprefix("file://").partition("#")
            assert Path(file).is_file(), target
            if anchor:
                assert page.locator(f"[id='{anchor}']").count() == 1, target


def test_a_screen_reader_finds_its_way(opened: Pages, folder: Path) -> None:
    for path in list_pages(folder):
        page = opened(path)
        levels = page.eval_on_selector_all("h1, h2, h3, h4", "all => all.map(e => +e.tagName[1])")
        assert levels[0] == 1
        assert levels.count(1) == 1, path.name
        assert all(b - a <= 1 for a, b in pairwise(levels)), path.name
        assert page.locator("main").count() == 1
        assert page.evaluate("document.documentElement.lang") == "en"
        for picture in page.get_by_role("img").all():
            named = map(picture.get_attribute, ("aria-labelledby", "aria-label"))
            assert any(named)


def test_figures_open_on_their_own(opened: Pages, folder: Path) -> None:
    files = sorted((folder / "dusk").glob("*_figure_[!l]*.svg"))  # looks are squares all alike
    files += sorted((folder / "dusk").glob("*_figure_lights.svg"))
    assert len(files) > 15
    page = opened(next(folder.glob(KINDS[0])), 600)
    for path in files[::3]:
        opened.turn(page, path)
        assert page.said == []
        assert page.asked == [path.as_uri()]
        # Every word of it lies inside the picture.
        out = page.evaluate(OUTSIDE)
        assert out == [], path.name
