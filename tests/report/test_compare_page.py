"""The page of two plans compared: the decision first, the same words as in the terminal."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

import wbplan
from tests.shared import Reader, call, plan_shipped, squeeze
from wbplan.planning.decisions import Plan
from wbplan.record.compare_plans import Comparison
from wbplan.record.plan import build_record, format_record
from wbplan.report.compare.page import render_comparison_page
from wbplan.report.compare.terminal import format_comparison


def exchange_first(plan: Plan) -> Plan:
    """Give the first setup of a plan what is set and loaded for its second, as if it had been so
    the day before.
    """
    one, two = plan.setups
    old = replace(one, dial=two.dial, exact=two.exact, lut=two.lut)
    return replace(plan, setups=(old, two), digest="0" * 64)


def write_record(plan: Plan, folder: Path) -> None:
    """Write a plan's record and its LUTs, without the pages that take longest."""
    folder.mkdir(exist_ok=True)
    (folder / "plan.json").write_text(format_record(build_record(plan)), encoding="utf-8")
    for setup in plan.setups:
        for lut in setup.lut_files:
            (folder / lut.file_name).write_bytes(lut.data)


@pytest.fixture(scope="module")
def found() -> Comparison:
    plan = plan_shipped("dusk_workshop")
    return wbplan.compare(exchange_first(plan), plan)


def test_the_decision_is_said_first_and_alike_everywhere(found: Comparison) -> None:
    trial = found.setups[0].trial
    assert trial is not None
    assert trial.choice == "take"
    page = Reader(render_comparison_page(found))
    terminal = squeeze(format_comparison(found, width=1000))
    said = "Take the new setting and LUT"
    assert page.text.index(said) < page.text.index("4400 K") < page.text.index("Why")
    for text in (said, "potter's face errs by ", " on skin with the old setting and LUT; "):
        assert text in squeeze(page.text)
        assert text in terminal
    assert terminal.index(said) < terminal.index("exact setting")
    # Nothing is loaded otherwise in the second setup: nothing to choose, nothing tried.
    assert found.setups[1].trial is None
    assert "Close on the wheel: nothing differs" in terminal
    assert "nothing differs" in squeeze(page.text)


def test_every_difference_is_on_the_page(found: Comparison) -> None:
    page = squeeze(Reader(render_comparison_page(found)).text)
    for change in found.setups[0].changes:
        for value in (change.before, change.after):
            if isinstance(value, str):
                assert value in page
    assert "Old Pottery workshop at dusk" in page
    assert "Invented data." in page


def test_the_page_is_closed_and_names_are_text(plan: Plan, hostile: Plan) -> None:
    for pair in ((hostile, plan), (plan, hostile)):
        source = render_comparison_page(wbplan.compare(*pair))
        assert "<script" not in source.lower()
        assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import", source, re.I)
        assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b-\x1f\x7f-\x9f]", source)
        assert "&lt;script&gt;" in source
        Reader(source)


def test_it_is_written_where_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = plan_shipped("dusk_workshop")
    write_record(exchange_first(plan), tmp_path / "old")
    write_record(plan, tmp_path / "new")
    ask = ("compare", "old", "new", "--out", "what-changed")
    ran = call(*ask, cwd=tmp_path, monkeypatch=monkeypatch)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert max(map(len, ran.stdout.splitlines())) <= 80
    assert "Written to what-changed: compare.html, compare.json" in ran.stdout
    assert squeeze(ran.stdout).endswith("Wide of the room Take the new setting and LUT")
    record = json.loads((tmp_path / "what-changed" / "compare.json").read_text())
    tried = record["setups"][0]["old_lut_tried"]
    assert tried["choice"] == "take"
    place = tried["positions"][0]
    assert place["old"]["grey_ciede2000"] > place["new"]["grey_ciede2000"] + 1
    # Its own unchanged output makes way; what somebody changed does not.
    assert call(*ask, cwd=tmp_path, monkeypatch=monkeypatch).returncode == 0
    (tmp_path / "what-changed" / "compare.html").write_text("mine")
    ran = call(*ask, cwd=tmp_path, monkeypatch=monkeypatch)
    assert ran.returncode == 2
    assert "compare.html is not as it was written" in ran.stderr


def test_why_a_lut_was_not_tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = plan_shipped("dusk_workshop")
    write_record(exchange_first(plan), tmp_path / "old")
    write_record(plan, tmp_path / "new")
    lut = exchange_first(plan).setups[0].lut
    assert lut is not None
    path = tmp_path / "old" / lut.file_name
    path.write_bytes(path.read_bytes() + b"\n")
    said = wbplan.compare(tmp_path / "old", tmp_path / "new").setups[0].untried
    assert said == f"{path} is not as it was written"
    path.unlink()
    ran = call("compare", "old", "new", cwd=tmp_path, monkeypatch=monkeypatch)
    assert ran.returncode == 0
    assert "Not tried whether the old LUT still does" in squeeze(ran.stdout)
    record = json.loads((tmp_path / "new" / "plan.json").read_text())
    del record["inputs"]
    (tmp_path / "new" / "plan.json").write_text(json.dumps(record))
    write_record(exchange_first(plan), tmp_path / "old")
    said = wbplan.compare(tmp_path / "old", tmp_path / "new").setups[0].untried
    assert "no inputs" in said
