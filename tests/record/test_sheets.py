"""The flat tables: RFC 4180 as the csv module reads it, the record's own values, no formulas."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.shared import ENDS, HOSTILE, UNITS, plan_shipped
from wbplan.front.files import make_files
from wbplan.planning.decisions import Plan
from wbplan.record.numbers import round_by_unit
from wbplan.record.plan import build_record
from wbplan.record.sheets import LIGHTS_NAME, POSITIONS_NAME, guard_cell, make_sheets


def read(raw: bytes) -> list[dict[str, str]]:
    assert raw.startswith(b"\xef\xbb\xbf")
    text = raw.decode("utf-8-sig")
    assert text.count("\r\n") == text.count("\n") == text.count("\r")
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert all(None not in row and None not in row.values() for row in rows)
    return rows


@pytest.fixture(scope="module")
def day() -> Plan:
    return plan_shipped("night_market")


def test_a_row_for_each_light_and_position_of_each_setup(day: Plan) -> None:
    files = make_files(day)
    lights, positions = read(files[LIGHTS_NAME]), read(files[POSITIONS_NAME])
    assert list(lights[0])[:4] == ["setup_number", "setup", "light_number", "light"]
    assert list(positions[0])[:4] == ["setup_number", "setup", "position_number", "position"]
    assert [(row["setup_number"], row["setup"], row["light"]) for row in lights] == [
        (str(number), setup.name, light.name)
        for number, setup in enumerate(day.setups, 1)
        for light in setup.lights
    ]
    assert [(row["setup"], row["position"]) for row in positions] == [
        (setup.name, place.name) for setup in day.setups for place in setup.positions
    ]


def test_figures_are_the_records_own(day: Plan) -> None:
    record = round_by_unit(build_record(day))
    files = make_sheets(record)
    places = [each for setup in record["setups"] for each in setup["positions"]]
    for row, place in zip(read(files[POSITIONS_NAME]), places, strict=True):
        for column, value in {
            "illuminance_lux_high": place["illuminance_lux_high"],
            "cast_mired_low": place["cast"]["mired_low"],
            "wanted_kelvin": place["wanted"]["kelvin"],
            "off_intent_green_cc": place["off_intent"]["green_cc"],
            "t_stop": place["t_stop"],
            "from_key_stops": place["from_key_stops"],
        }.items():
            assert float(row[column]) == value
            assert re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", row[column])
    lights = read(files[LIGHTS_NAME])
    assert sum(float(row["share_at_key_percent"]) for row in lights) == pytest.approx(300)


def test_what_has_no_meaning_is_empty(plan: Plan) -> None:
    rows = read(make_files(plan)[POSITIONS_NAME])
    dark = rows[4]
    assert dark["trouble"] == "no light here"
    assert dark["cct_kelvin"] == dark["duv"] == dark["from_key_stops"] == ""
    assert dark["illuminance_lux"] == "0"
    assert rows[0]["is_key"] == "true"


def test_every_number_has_its_unit_in_the_header(day: Plan, plan: Plan) -> None:
    for made in (day, plan):
        for raw in make_sheets(build_record(made)).values():
            for row in read(raw):
                for column, cell in row.items():
                    if re.fullmatch(r"-?[0-9.]+", cell):
                        assert re.sub(ENDS, "", column).split("_")[-1] in UNITS, column


def test_plain_digits_however_small() -> None:
    record: dict[str, Any] = build_record(plan_shipped("harbour_noon"))
    record["setups"][0]["positions"][0]["eye"]["duv"] = -3e-7
    record["setups"][0]["positions"][0]["illuminance_lux"] = 1.5e16
    row = read(make_sheets(record)[POSITIONS_NAME])[0]
    assert row["duv"] == "-0.0000003"
    assert row["illuminance_lux"] == "15000000000000000"


# OWASP, "CSV Injection": a cell that begins with = + - @, tab or carriage return; full-width forms
# and separators inside are named there too.
GUARDED = {
    "=1+1": "'=1+1",
    "+1": "'+1",
    "-1": "'-1",
    "@SUM(A1)": "'@SUM(A1)",
    " =1": "' =1",
    "\t=1": "' =1",
    "\r\n=1": "' =1",
    "\n\n-1": "' -1",
    "\u00a0=1": "'\u00a0=1",
    "\u3000=1": "'\u3000=1",
    "\ufeff=1": "\ufffd=1",
    "\u200b@x": "\ufffd@x",
    "\u200d@x": "'\u200d@x",
    "＝1": "'＝1",
    "＋1": "'＋1",
    "－1": "'－1",
    "＠x": "'＠x",
    "﹦1": "'﹦1",
    "−1": "'−1",
    "a;=1": "a;'=1",
    "a; -1": "a;' -1",
    '"=1': '"=1',
    "": "",
    " ": " ",
    "key light": "key light",
    "5600 K = day": "5600 K = day",
    "back-light": "back-light",
    "jo@set": "jo@set",
    "Küche, hinten": "Küche, hinten",
    "日本": "日本",
    "a\tb\nc": "a b c",
    "'quoted": "'quoted",
}


@pytest.mark.parametrize("text", GUARDED)
def test_guarded_cells(text: str) -> None:
    assert guard_cell(text) == GUARDED[text]


def pass_over(text: str) -> str:
    """Drop what a reader may pass over at the start of a cell."""
    start = 0
    while start < len(text) and (
        text[start].isspace() or unicodedata.category(text[start]) in ("Cc", "Cf", "Zs", "Zl", "Zp")
    ):
        start += 1
    return unicodedata.normalize("NFKC", text[start:])


START = st.text(st.sampled_from("\t\r\n\x00\x0b \u00a0\u2028\u200b\ufeff\u202e;=+-@＝＋－＠'\",|"))


@given(st.builds("{}{}".format, START, st.text()))
@example("\x00=1")
@example("\x1b+1")
@example(HOSTILE)
def test_no_text_begins_a_formula(text: str) -> None:
    guarded = guard_cell(text)
    for separator in ("\0", ";"):
        for part in guarded.split(separator):
            assert not pass_over(part).startswith(("=", "+", "-", "@"))
    assert not re.search("[\x00-\x1f]", guarded)
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\r\n").writerow(["1", guarded, "-2.5"])
    assert next(csv.reader(io.StringIO(stream.getvalue(), newline=""))) == ["1", guarded, "-2.5"]


def test_hostile_names_stay_in_their_cell(hostile: Plan) -> None:
    for raw in make_sheets(build_record(hostile)).values():
        for row in read(raw):
            assert row["setup"] == guard_cell(HOSTILE)
            assert row["setup_number"] == "1"
