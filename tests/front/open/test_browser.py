"""The page in a real browser: from nothing to a decision, and what can go wrong on the way.

Where there is no Chromium these tests are skipped. Limits: WCAG 2.2 (W3C Recommendation), success
criteria 1.4.3 (contrast), 1.4.10 (reflow at 320 CSS pixels), 2.1.1 (keyboard), 2.5.5 (targets of 44
CSS pixels), 4.1.2 (names).
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

import wbplan
from tests.front.test_drafts import write_reading
from tests.report.test_browser import CHROMIUM, CONTRAST, QUIET
from wbplan.front.open.server import Server
from wbplan.front.open.session import Session
from wbplan.front.open.start import begin_session
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import scale_to_lux
from wbplan.read.catalogue import find_shipped_folder

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]
PHONE, DESKTOP = 390, 1280
FACE, PANELS = "potter's face", "ceiling panels"
CELL = f"{PANELS} at {FACE}, lux"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield opened
        opened.close()


class Desk:
    """A served session, and pages that look at it."""

    def __init__(self, browser: Any, session: Session) -> None:
        self.browser, self.session = browser, session
        self.server = Server(session)
        self._contexts: list[Any] = []
        self._thread = threading.Thread(target=self.server.serve_forever, args=(0.02,))
        self._thread.start()

    def open(self, width: int = DESKTOP, may_edit: bool = True, **more: Any) -> Any:
        context = self.browser.new_context(viewport={"width": width, "height": 844}, **more)
        context.set_default_timeout(60_000)
        self._contexts.append(context)
        page = context.new_page()
        page.said, page.asked = [], []
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(self.server.make_url(may_edit))
        page.wait_for_selector("#sheet .reading")
        return page

    def close_pages(self) -> None:
        for each in self._contexts:
            each.close()
        self._contexts.clear()

    def close(self) -> None:
        self.close_pages()
        self.server.shutdown()
        self._thread.join()
        self.server.server_close()


@pytest.fixture(scope="module")
def served(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("served")
    for each in ("dusk_workshop.yaml", "workshop_panel.csv"):
        shutil.copy(find_shipped_folder("scenarios") / each, folder)
    made = Desk(browser, begin_session(str(folder / "dusk_workshop.yaml")))
    yield made
    made.close()


@pytest.fixture
def workshop(served: Desk) -> Iterator[Desk]:
    """The shipped scenario, as it is saved."""
    served.session.reload(served.session.version)
    yield served
    served.close_pages()


@pytest.fixture
def kitchen(browser: Any, tmp_path: Path) -> Iterator[Desk]:
    """A new scenario, of nothing."""
    made = Desk(browser, begin_session(str(tmp_path)))
    yield made
    made.close()


def do(page: Any, act: Callable[[], object]) -> None:
    """Do something, and wait for the version that comes of it."""
    before = page.get_attribute("body", "data-version")
    act()
    page.wait_for_selector(f"body:not([data-version='{before}'])")


def find(page: Any, label: str) -> Any:
    return page.get_by_label(label, exact=True)


def enter(page: Any, label: str, text: str) -> None:
    """Type into a field and leave it."""
    field = find(page, label)
    field.fill(text)
    do(page, lambda: field.press("Tab"))


def press(page: Any, name: str) -> None:
    do(page, page.get_by_role("button", name=name, exact=True).click)


def test_from_nothing_to_a_decision_saved_planned_and_opened_again(
    kitchen: Desk, tmp_path: Path
) -> None:
    """A person without a file: readings, a drop, a camera, save, plan, reload."""
    page = kitchen.open()
    enter(page, "window at face, lux", "310,5")
    enter(page, "lamp at face, lux", "45")
    path = tmp_path / "bulb at face.csv"
    write_reading(path, scale_to_lux(radiate_black_body(3000.0), 55.0))
    page.set_input_files("[data-files]", [path])
    find(page, "bulb at face, lux").wait_for()
    assert "Its 55 lux stand at face" in page.inner_text("#notice")
    path.unlink()
    page.get_by_label("name of a new position").fill("wall")
    page.get_by_role("button", name="Add position").click()
    find(page, "lamp at wall, lux").wait_for()
    enter(page, "lamp at wall, lux", "60")
    enter(page, "camera", "nikon-d5100")
    do(page, page.get_by_role("button", name="It was measured").click)
    shown = page.inner_text("#decision h1")
    assert "what-if" in page.inner_text("#decision")
    page.keyboard.press("Control+s")
    page.get_by_text("saved in location.yaml").wait_for()
    assert path.exists()
    said = yaml.safe_load((tmp_path / "location.yaml").read_text())
    lux = said["setups"][0]["positions"]
    assert lux["face"]["lux"] == {"window": 310.5, "lamp": 45, "bulb": 55}
    assert lux["wall"]["lux"]["lamp"] == 60
    assert (said["camera"], "camera" in said["assumed"]) == ("nikon-d5100", False)
    assert "invented" not in said
    decided = wbplan.plan(tmp_path / "location.yaml", lut_size=17).setups[0]
    assert shown.split()[0] == f"{decided.dial.kelvin:.0f}"
    page.get_by_role("button", name="Plan").click()
    page.get_by_role("link", name="Open the report").wait_for()
    assert (tmp_path / "location-plan" / "report.html").exists()
    page.reload()
    page.wait_for_selector("#sheet .reading")
    assert find(page, "window at face, lux").input_value() == "310.5"
    assert page.said == []
    own = f"http://127.0.0.1:{kitchen.server.port}/"
    assert all(each.startswith(own) or each == "data:," for each in page.asked)


def test_an_edit_is_marked_undone_and_refused_with_its_reason(workshop: Desk) -> None:
    page = workshop.open()
    before = page.inner_text("#decision h1")
    enter(page, CELL, "12")
    cell = find(page, CELL)
    assert "whatif" in cell.get_attribute("class")
    assert "was 310" in page.inner_text("#sheet")
    assert page.inner_text("#decision h1") != before
    press(page, "Undo")
    assert page.inner_text("#decision h1") == before
    assert cell.input_value() == "310"
    cell.fill("-5")
    cell.press("Tab")
    assert cell.get_attribute("aria-invalid") == "true"
    cell.fill("1e9")
    cell.press("Tab")
    page.get_by_text("allowed: 0, or a number from 0.000001 to 10000000").wait_for()
    assert page.inner_text("#decision h1") == before
    do(page, lambda: find(page, PANELS).uncheck())
    without = workshop.session.document
    slider = page.get_by_label("old tubes, turn up or down in stops")
    slider.focus()
    for _ in range(3):
        slider.press("ArrowLeft")
    page.get_by_text("−0.3 stops").wait_for()
    page.wait_for_selector(f'[data-at="lux old tubes {FACE}"].whatif')
    while "old tubes: 48.74" not in workshop.session.document.text:  # 60 lux down 0.3 stops
        page.wait_for_timeout(20)
    page.wait_for_selector(f"body[data-version='{workshop.session.version}']")
    press(page, "Undo")  # the whole drag is one step
    assert workshop.session.document == without


def test_a_bad_file_is_named_with_its_reason_and_good_ones_come_in(
    workshop: Desk, tmp_path: Path
) -> None:
    page = workshop.open()
    (tmp_path / "notes.csv").write_text("hello <b>there</b>\n")
    (tmp_path / "image.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    write_reading(tmp_path / "good.csv", radiate_black_body(3000.0), "nm,relative")
    names = [tmp_path / each for each in ("notes.csv", "good.csv", "image.png")]
    page.set_input_files("[data-files]", names)
    page.get_by_text("image.png is refused").wait_for()
    said = page.inner_text("#notice")
    assert "notes.csv is refused: found no row of numbers" in said
    assert re.search(r"good: .*It states no lux", said)
    find(page, f"good at {FACE}, lux").wait_for()


def test_of_two_pages_the_second_is_told_and_shown_what_stands(workshop: Desk) -> None:
    one, two = workshop.open(), workshop.open()
    two.route("**/state?*", lambda route: route.fulfill(json={"same": True}))  # not heard yet
    enter(one, CELL, "99")
    field = find(two, f"old tubes at {FACE}, lux")
    field.fill("1")
    field.press("Tab")
    two.get_by_text("Your change was not made").wait_for()
    assert find(two, CELL).input_value() == "99"
    assert field.input_value() == "60"
    two.get_by_label("rename or remove old tubes").first.click()
    enter(one, CELL, "97")
    two.get_by_label("name of the light").fill("tubes")
    two.get_by_role("button", name="Rename", exact=True).click()
    two.get_by_text("Your change was not made").wait_for()
    assert two.locator("dialog").count() == 0
    assert find(two, CELL).input_value() == "97"
    viewer = workshop.open(may_edit=False)
    assert viewer.get_by_label("rename or remove").count() == 0
    assert find(viewer, CELL).is_disabled()
    assert viewer.get_by_role("button", name="Save").count() == 0
    enter(one, CELL, "98")
    viewer.wait_for_selector(f"body[data-version='{workshop.session.version}']")
    assert find(viewer, CELL).input_value() == "98"


def test_a_light_and_a_position_are_renamed_and_taken_out_by_keys_alone(workshop: Desk) -> None:
    page = workshop.open()
    button = page.get_by_label("rename or remove old tubes", exact=True)
    button.focus()
    page.keyboard.press("Enter")
    page.keyboard.type("ceiling panels")
    page.keyboard.press("Enter")
    page.locator("dialog [role=alert]", has_text="a name of its own").wait_for()
    page.keyboard.press("Control+a")
    page.keyboard.type("shop tubes")
    do(page, lambda: page.keyboard.press("Enter"))
    assert page.evaluate("document.activeElement.dataset.at") == "name light shop tubes"
    assert find(page, f"shop tubes at {FACE}, lux").input_value() == "60"
    assert "was old tubes" in page.inner_text("#sheet")
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    assert page.locator("dialog").count() == 0
    page.get_by_label(f"rename or remove {FACE}", exact=True).focus()
    page.keyboard.press("Enter")
    page.locator("dialog li", has_text="it is the key").wait_for()
    for _ in range(3):
        page.keyboard.press("Tab")
    do(page, lambda: page.keyboard.press("Enter"))
    assert find(page, f"shop tubes at {FACE}, lux").count() == 0
    do(page, lambda: page.keyboard.press("Enter"))  # on Undo, which has the focus
    assert find(page, f"shop tubes at {FACE}, lux").input_value() == "60"
    press(page, "Undo")
    assert find(page, f"old tubes at {FACE}, lux").input_value() == "60"
    assert page.said == ["Failed to load resource: the server responded with a status of 422 "
                         "(Unprocessable Entity)"]  # fmt: skip


def test_a_phone_shows_the_decision_first_and_everything_can_be_reached(workshop: Desk) -> None:
    page = workshop.open(PHONE)
    box = page.locator("#decision").bounding_box()
    assert box["y"] == 0
    assert box["height"] < 844 / 3
    page.mouse.wheel(0, 3000)
    page.wait_for_timeout(200)
    assert page.locator("#decision h1").bounding_box()["y"] >= 0  # still in view
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        weak = [each for each in page.evaluate(CONTRAST) if each["ratio"] < each["least"]]
        assert weak == [], scheme
    small = page.eval_on_selector_all(
        "button, select, input[type=text], input[type=range], label.key, .light label",
        "all => all.filter(e => e.getClientRects().length && (e.getBoundingClientRect().height < 44"
        " || e.matches('.edit') && e.getBoundingClientRect().width < 44)).map(e => e.outerHTML)",
    )
    assert small == []
    nameless = page.eval_on_selector_all(
        "button, select, input:not(.unseen)",
        "all => all.filter(e => !e.ariaLabel && !e.labels?.length && !e.textContent.trim())"
        ".map(e => e.outerHTML)",
    )
    assert nameless == []
    for width in (PHONE, 320, 768):
        page.set_viewport_size({"width": width, "height": 844})
        page.wait_for_timeout(150)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.said == []


def test_names_that_are_meant_to_run_are_only_read(browser: Any, tmp_path: Path) -> None:
    bad = "<img src=x onerror=alert(1)>"
    lines = ["wbplan: 1", f"title: '{bad}'", "camera: cfa-mid", "sources:"]
    lines += [f"  '{bad}': {{lamp: A}}", "setups:", f"  - name: '{bad}'"]
    lines += ["    shooting: {fps: 24, shutter_angle_deg: 180}"]
    lines += [
        f"    positions: {{'{bad}': {{lux: {{'{bad}': 3}}}}, \"'\\\"]\": {{lux: {{'{bad}': 5}}}}}}"
    ]
    (tmp_path / "bad.yaml").write_text("\n".join([*lines, ""]))
    desk = Desk(browser, begin_session(str(tmp_path)))
    page = desk.open()
    enter(page, f"{bad} at {bad}, lux", "4")
    enter(page, f"{bad} at '\"], lux", "6")
    said, images = page.said, page.locator("img").count()
    desk.close()
    assert (said, images) == ([], 0)


def test_keys_alone_go_down_a_column_and_keep_their_place(workshop: Desk) -> None:
    page = workshop.open()
    find(page, f"dusk window at {FACE}, lux").focus()
    for text in ("50", "300", "70"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        page.wait_for_timeout(150)
    page.wait_for_selector(f"[data-at='lux bench lamp {FACE}']:focus".replace("'s", "\\'s"))
    values = [find(page, f"{each} at {FACE}, lux").input_value()
              for each in ("dusk window", PANELS, "old tubes")]  # fmt: skip
    assert values == ["50", "300", "70"]


def test_a_server_that_dies_while_saving_leaves_the_old_file_or_the_new(
    browser: Any, tmp_path: Path
) -> None:
    old = (find_shipped_folder("scenarios") / "dusk_workshop.yaml").read_text()
    new = old.replace("ceiling panels: 310,", "ceiling panels: 311,")
    shutil.copy(find_shipped_folder("scenarios") / "workshop_panel.csv", tmp_path)
    path = tmp_path / "dusk_workshop.yaml"
    path.write_text(old)
    command = [sys.executable, "-m", "wbplan", "open", str(path), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        try:
            assert running.stdout is not None
            url = re.search(r"http://\S+", running.stdout.readline())
            assert url
            context = browser.new_context()
            context.set_default_timeout(60_000)
            page = context.new_page()
            page.goto(url[0])
            page.wait_for_selector("#sheet .reading")
            enter(page, CELL, "311")
            page.get_by_role("button", name="Save").click(no_wait_after=True)
            time.sleep(0.002)
            os.kill(running.pid, signal.SIGKILL)
            running.wait()
            page.get_by_text("wbplan has ended").first.wait_for()
            context.close()
        finally:
            running.kill()
    assert path.read_text() in (old, new)
