"""Sheets of lux: what spreadsheets write is read alike, and what can be wrong is named by cell."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.core.ledger import Ledger
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.scenario.sheet import parse_sheet
from wbplan.read.yaml.tree import build_tree

SCENARIO = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  a, lamp: {lamp: A}
  strobe: {lamp: D55, flash: true}
setups:
  - name: one
    shooting: {fps: 24, shutter_angle_deg: 180}
    readings: r.csv
    positions:
      wall: {intent: leave}
"""
ROWS = [
    ["lux", "window", "a, lamp", "strobe"],
    ["face", "310.5", "20", ""],
    ["wall", "", "3", "2.5"],
    ['the "far" door', "7", "0", ""],
]


def write(folder: Path, sheet: str | bytes, scenario: str = SCENARIO) -> Path:
    path = folder / "s.yaml"
    path.write_text(scenario, encoding="utf-8")
    data = sheet if isinstance(sheet, bytes) else sheet.encode("utf-8")
    (folder / "r.csv").write_bytes(data)
    return path


def make_sheet(delimiter: str = ",", comma: bool = False, end: str = "\r\n") -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=end)
    writer.writerows([[c.replace(".", ",") if comma else c for c in row] for row in ROWS])
    return stream.getvalue()


@pytest.mark.parametrize(
    "sheet",
    [
        make_sheet(),
        make_sheet(end="\n").rstrip("\n"),
        "\ufeff" + make_sheet(";", comma=True),
        make_sheet("\t", comma=True),
        "\ufeff# read at noon\r\n\r\n" + make_sheet() + ",,,\r\n",
        make_sheet().replace("\r\n", ",,\r\n"),
        make_sheet(";").encode("utf-16"),
        make_sheet().replace("lux", ""),
    ],
)
def test_what_spreadsheets_write_is_read_alike(tmp_path: Path, sheet: str | bytes) -> None:
    """RFC 4180 as Python's csv writes it, and the other separators of spreadsheets."""
    setup = read_scenario(write(tmp_path, sheet)).setups[0]
    assert [each.name for each in setup.sources] == ROWS[0][1:]
    assert [each.name for each in setup.positions] == ["face", "wall", 'the "far" door']
    wanted = [[310.5, 20, 0], [0, 3, 2.5], [7, 0, 0]]
    np.testing.assert_array_equal([each.lux for each in setup.positions], wanted)
    assert setup.key == "face"
    assert setup.positions[1].intent.aim == "left"


def test_a_sheet_gives_what_the_same_lux_give_in_the_scenario(tmp_path: Path) -> None:
    lux = "positions: {face: {lux: {window: 310.5, 'a, lamp': 20}}, wall: {intent: leave, lux: "
    lux += "{'a, lamp': 3}, flash_lux_s: {strobe: 2.5}}, 'the \"far\" door': {lux: {window: 7, "
    lux += "'a, lamp': 0}}}\n"
    plain = SCENARIO[: SCENARIO.index("readings:")] + lux
    one = read_scenario(write(tmp_path, make_sheet())).setups[0]
    other = read_scenario(write(tmp_path, "", plain)).setups[0]
    for a, b in zip(one.positions, other.positions, strict=True):
        assert (a.name, a.intent, list(a.lux)) == (b.name, b.intent, list(b.lux))


def test_the_sheet_is_kept_for_the_record(tmp_path: Path) -> None:
    ledger = Ledger()
    path = write(tmp_path, make_sheet())
    with ledger.scope("scenario", tmp_path):
        read_scenario(path)
    assert "scenario/r.csv" in [each.name for each in ledger.files]


def test_cells_know_where_they_stand() -> None:
    text = make_sheet()
    sheet = parse_sheet(text, "r.csv")
    for name, cells in sheet.rows.items():
        for cell in cells:
            assert text[cell.start : cell.end].strip('"') == cell.text, name


@pytest.mark.parametrize(
    ("sheet", "fragments"),
    [
        ("", ["r.csv", "an empty sheet"]),
        ("lux,window\n", ["r.csv:1", "no position"]),
        ("lux\nface\n", ["r.csv:1", "no light"]),
        ("lux,window\nface,abc\n", ["r.csv:2:2", "face", "window", "'abc'", "a number"]),
        ("lux,window\nface,-3\n", ["r.csv:2:2", "-3", "0, or a number from 0.000001 to"]),
        ("lux,window\nface,1e-300\n", ["r.csv:2:2", "0, or a number from 0.000001 to"]),
        ("lux,window\nface,310 lx\n", ["r.csv:2:2", "'310 lx'", "without unit"]),
        ("lux,window\nface,1e9\n", ["r.csv:2:2"]),
        ("lux;window\nface;1,234\n", ["r.csv:2:2", "1234 or 1.234"]),
        ("lux,widow\nface,3\n", ["r.csv:1:2", "'widow'", "did you mean 'window'"]),
        ("lux,window,window\nface,3,4\n", ["r.csv:1:3", "twice", "r.csv:1:2"]),
        ("lux,window\nface,3\nface,4\n", ["r.csv:3:1", "twice", "r.csv:2:1"]),
        ("lux,window\nface,3,4\n", ["r.csv:2:3", "without a light"]),
        ("lux,window\n,3\n", ["r.csv:2:1", "no name"]),
        ("lux,window\nface,\n", ["r.csv:2", "face", "no reading"]),
        ("fc,window\nface,3\n", ["r.csv:1:1", "in lux"]),
        ("lux,window\nfase,3\n", ["s.yaml:13", "'wall'", "no row in r.csv"]),
        (b"\x89PNG\r\n\x1a\n\x00\x00", ["r.csv"]),
    ],
)
def test_what_is_wrong_is_named_by_row_and_column(
    tmp_path: Path, sheet: str | bytes, fragments: list[str]
) -> None:
    scenario = SCENARIO if "fase" in str(sheet) else SCENARIO[: SCENARIO.index("    positions")]
    with pytest.raises(InputError) as caught:
        read_scenario(write(tmp_path, sheet, scenario))
    for each in fragments:
        assert each in str(caught.value)


def test_a_reading_stands_in_one_place(tmp_path: Path) -> None:
    twice = SCENARIO.replace("{intent: leave}", "{lux: {window: 3}}")
    with pytest.raises(InputError, match=r"s\.yaml:13.*lux beside the row of 'wall' in r\.csv"):
        read_scenario(write(tmp_path, make_sheet(), twice))
    own = twice.replace("wall:", "sink:")
    setup = read_scenario(write(tmp_path, make_sheet(), own)).setups[0]
    assert [each.name for each in setup.positions][-1] == "sink"


def test_what_stands_in_is_warned_of(tmp_path: Path) -> None:
    said = SCENARIO.replace("camera:", "assumed: [camera, KEY]\ncamera:")
    path = write(tmp_path, make_sheet(), said)
    notes = [each for each in read_scenario(path).setups[0].notes if each.code == "assumed"]
    assert [(each.about, each.weight) for each in notes] == [
        ("camera", "warning"),
        ("key", "warning"),
    ]
    given = read_scenario(path, "nikon-d5100").setups[0]
    assert [each.about for each in given.notes if each.code == "assumed"] == ["key"]
    path.write_text(said.replace("KEY", "kee"))
    with pytest.raises(InputError, match=r"assumed\[1\].*'kee'.*did you mean 'key'"):
        read_scenario(path)
    assert build_tree(said, "").entries["assumed"][1].items
