"""Page, record, terminal and tables of one plan say the same figures.

The figures of the record are rounded here anew, by the rules that README states for a reader
(whole Kelvin, a CC to a tenth, stops to a tenth), not by the functions that the page calls.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import re
from html.parser import HTMLParser
from typing import Any

import pytest

from tests.shared import plan_shipped
from wbplan.front.files import make_files
from wbplan.report.plan.terminal import format_plan

THIRDS = {0: "", 1: " and 1/3", 2: " and 2/3"}
FULL_STOPS = (
    "1",
    "1.4",
    "2",
    "2.8",
    "4",
    "5.6",
    "8",
    "11",
    "16",
    "22",
    "32",
    "45",
)  # ISO 517's series


class Texts(HTMLParser):
    """What a page says: the text of each element by its class, rows of tables, and all of it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.by_class: dict[str, list[str]] = {}
        self.rows: list[list[str]] = []
        self.said = ""
        self._open: list[tuple[str, list[str], list[str]]] = []
        self.feed(page)
        self.said = " ".join(self.said.split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        if tag in ("wbr", "br", "input", "meta", "path", "circle", "rect"):
            return
        self._open.append((tag, (dict(attrs).get("class") or "").split(), []))

    def handle_endtag(self, tag: str) -> None:
        while self._open:
            name, classes, texts = self._open.pop()
            text = " ".join("".join(texts).split())
            for each in classes:
                self.by_class.setdefault(each, []).append(text)
            if name in ("td", "th"):
                self.rows[-1].append(text)
            if self._open:
                self._open[-1][2].append("".join(texts))
            if name == tag:
                return

    def handle_data(self, data: str) -> None:
        if any(name in ("style", "title", "desc") for name, _, _ in self._open):
            return
        self.said += data
        if self._open:
            self._open[-1][2].append(data)


def name_tint(tint_cc: float) -> str:
    rounded = round(abs(tint_cc), 1)
    if rounded == 0:
        return "no tint"
    return f"{'magenta' if tint_cc > 0 else 'green'} {rounded:g} CC"


def say_stop(t_number: float) -> str:
    thirds = round(6 * math.log2(t_number))
    if not 0 <= thirds < 36:
        return f"T{float(f'{t_number:.2g}'):g}"
    return f"T{FULL_STOPS[thirds // 3]}{THIRDS[thirds % 3]}"


@pytest.fixture(scope="module", params=["dusk_workshop", "night_market", "reading_room"])
def made(request: pytest.FixtureRequest) -> tuple[dict[str, Any], dict[str, bytes], str]:
    plan = plan_shipped(request.param, advise=True, plate=True)
    files = make_files(plan)
    return json.loads(files["plan.json"]), files, format_plan(plan, "full", 400)


def open_page(files: dict[str, bytes], number: int, kind: str) -> Texts:
    name = next(each for each in files if each.startswith(f"{number:02d}-") and kind in each)
    return Texts(files[name].decode("utf-8"))


def test_the_decision_is_the_records(
    made: tuple[dict[str, Any], dict[str, bytes], str],
) -> None:
    record, files, terminal = made
    lines = " ".join(terminal.split())
    index = Texts(files["report.html"].decode("utf-8"))
    for number, setup in enumerate(record["setups"], 1):
        dial, exact = setup["dialled_setting"], setup["exact_setting"]
        kelvin, tint = f"{dial['kelvin']:.0f} K", name_tint(dial["tint_cc"])
        wanted = f"{exact['kelvin']:.0f} K, {name_tint(exact['tint_cc'])}"
        for kind in ("_report.html", "_plate.html"):
            page = open_page(files, number, kind)
            assert page.by_class["kelvin"] == [kelvin]
            assert page.by_class["tint"] == [tint]
            assert f"Exact: {wanted}" in page.said
            assert say_stop(setup["exposure"]["t_stop"]) == page.by_class["big"][0]
        assert kelvin in index.by_class["kelvin"]
        assert f"set {kelvin}, {tint}" in lines
        assert f"exact {wanted}" in lines
        stop = say_stop(setup["exposure"]["t_stop"])
        assert f"expose {stop} at" in lines or f"for {stop}" in lines
        nd = setup["exposure"]["nd_stops"]
        report = open_page(files, number, "_report.html")
        decision = report.said.split("Run at")[0]
        if setup["exposure"]["packs"]:
            pack = setup["exposure"]["packs"][0]
            assert pack["loss_stops"] == nd
            assert " + ".join(pack["glass"]) in decision
            nd = pack["camera_nd_stops"]
        assert not nd or f"{round(nd, 1):g} stop" in decision


def test_every_lut_is_the_file_beside_it(
    made: tuple[dict[str, Any], dict[str, bytes], str],
) -> None:
    record, files, _ = made
    for number, setup in enumerate(record["setups"], 1):
        luts = [each for each in [setup["lut"], *setup["luts"]] if each]
        report, plate = (open_page(files, number, each) for each in ("_report", "_plate.html"))
        for lut in luts:
            digest = hashlib.sha256(files[lut["file"]]).hexdigest()
            assert lut["sha256"] == digest
            assert any(lut["file"] in row and digest in row for row in report.rows)
            assert digest in plate.said
            assert lut["file"] in plate.said


def test_positions_stand_alike_in_page_record_and_table(
    made: tuple[dict[str, Any], dict[str, bytes], str],
) -> None:
    record, files, _ = made
    text = files["positions.csv"].decode("utf-8-sig")
    table = list(csv.DictReader(io.StringIO(text, newline="")))
    assert len(table) == sum(len(each["positions"]) for each in record["setups"])
    for number, setup in enumerate(record["setups"], 1):
        page = open_page(files, number, "_report.html")
        for place in setup["positions"]:
            row = next(
                each
                for each in table
                if (each["setup_number"], each["position"]) == (str(number), place["name"])
            )
            lux = place["illuminance_lux"]
            assert float(row["illuminance_lux"]) == lux
            assert float(row["cast_mired"]) == place["cast"]["mired"]
            levels = next(
                each for each in page.rows if each[1:2] == [place["name"]] and len(each) >= 7
            )
            said = float(re.match(r"[\d.]+", levels[2].replace(" ", ""))[0])  # type: ignore[index]
            assert said == pytest.approx(lux, rel=0.006)  # three digits
            assert levels[3].startswith(say_stop(place["t_stop"]).split(" ")[0])
            shares = sum(each["share_percent"] for each in place["shares"])
            assert shares == pytest.approx(100)
            mired = abs(place["cast"]["mired"])
            cast = next(each for each in page.rows if each[1:2] != [] and place["name"] in each[1])
            if not place["trouble"] and round(mired):
                side = "warm" if place["cast"]["mired"] > 0 else "cool"
                shown = re.match(r"([\d.]+) mired (warm|cool)", cast[3])
                assert shown
                assert float(shown[1]) == pytest.approx(mired, abs=0.5 + 0.005 * mired)
                assert shown[2] == side
