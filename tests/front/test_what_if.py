"""`plan --set` and `plan --watch`: what is tried is said, and what changes is planned."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

import pytest

import wbplan
from tests.read.test_mistakes import GOOD
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.cli.watch import watch_plan


def test_what_is_tried_is_said_and_made_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("s.yaml").write_text(GOOD)
    word = "setups.Close.positions.face.lux.window=60"
    assert main(["plan", "s.yaml", "--lut-size", "17", "--set", word]) == 0
    said = capsys.readouterr().out
    assert f"warning what if: {word} is tried here" in said
    assert "Written to s-tried" in said
    record = json.loads(Path("s-tried/plan.json").read_text())
    assert record["inputs"]["tried"] == [word]
    assert "is tried here" in Path("s-tried/01-close_report.html").read_text()
    assert Path("s.yaml").read_text() == GOOD
    assert main(["plan", "--from", "s-tried", "--out", "again"]) == 0
    assert "comes out the same to the last byte" in capsys.readouterr().out
    assert main(["plan", "--from", "s-tried", "--set", word]) == 2
    assert "--from with --set" in capsys.readouterr().err


def test_it_counts_in_the_digest(tmp_path: Path) -> None:
    (tmp_path / "s.yaml").write_text(GOOD)
    scenes = [wbplan.read_scene(tmp_path / "s.yaml", tried=t) for t in ((), ("shooting.ei=400",))]
    plain, tried = (each.find_digest(each.inputs.asked) for each in scenes if each.inputs)
    assert plain != tried
    with pytest.raises(InputError, match="beside a record"):
        wbplan.read_scene(tmp_path / "plan.json", tried=["shooting.ei=400"])


def test_a_change_is_planned_and_a_mistake_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "s.yaml"
    path.write_text(GOOD)
    planned: list[str] = []

    def plan(options: Namespace) -> None:
        planned.append(path.read_text())
        wbplan.read_scene(path)

    def act() -> Iterator[None]:
        yield
        path.write_text(GOOD.replace("110", "1100"))
        yield  # seen
        yield  # still so: planned
        path.write_text(GOOD.replace("fps", "fsp"))
        yield
        yield  # planned, and refused
        (tmp_path / "out" / "report.html").write_text("not watched")
        (tmp_path / ".hidden").touch()
        yield
        yield
        (tmp_path / "readings").mkdir()
        (tmp_path / "readings" / "a.csv").write_text("new")
        yield
        yield
        raise KeyboardInterrupt

    (tmp_path / "out").mkdir()
    steps = act()
    options = Namespace(
        scenario=str(path), out=str(tmp_path / "out"), deliver=None, camera=None, tried=[]
    )
    with pytest.raises(InputError, match="--deliver with --watch"):
        watch_plan(Namespace(**{**vars(options), "deliver": "d"}), plan)
    watch_plan(options, plan, lambda seconds: next(steps))
    assert planned == [GOOD, GOOD.replace("110", "1100"), *[GOOD.replace("fps", "fsp")] * 2]
    said = capsys.readouterr().err.splitlines()
    assert [line for line in said if "changed: " in line] == [
        *["wbplan: changed: s.yaml"] * 2,
        "wbplan: changed: a.csv",
    ]
    assert sum("did you mean 'fps'" in line for line in said) == 4, "two setups, twice"
    assert said[-1] == "wbplan: watching ended; what was planned last is whole"
