"""`wbplan check`: every mistake in one go, told on standard error, with exit code 2."""

from __future__ import annotations

from pathlib import Path

import pytest

from wbplan.front.cli.main import main
from wbplan.read.catalogue import find_shipped_folder


def test_what_is_sound_is_said_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    profile = find_shipped_folder("camera_profiles") / "cfa-presets.yaml"
    assert main(["check", "night_market", str(profile)]) == 0
    done = capsys.readouterr()
    assert not done.err
    lines = [line for line in done.out.splitlines() if not line.startswith("  warning: ")]
    assert len(lines) == 2
    assert "no mistake: 3 setups, " in lines[0]
    assert "no mistake: a camera, " in lines[1]


def test_every_mistake_of_every_file_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "one.yaml").write_text("wbplan: 1\ntitel: a\nsetups: 3\n")
    (tmp_path / "two.yaml").write_text("like: cfa-mid\nbase_ei: 0\n")
    (tmp_path / "lesson.yaml").write_text("wbplan_lesson: 1\nstart: cfa-mid\nframe: x\n")
    names = ["one.yaml", "two.yaml", "lesson.yaml"]
    assert main(["check", *(str(tmp_path / name) for name in names)]) == 2
    done = capsys.readouterr()
    lines = done.err.splitlines()
    assert [line.split(": ")[1].removeprefix(f"{tmp_path}/") for line in lines] == [
        *("one.yaml:2:1", "one.yaml:3:9", "two.yaml:2:10"),
        *("lesson.yaml:1:1", "lesson.yaml:3:1", "lesson.yaml:3:8"),
    ]
    assert not done.out
    assert all("; allowed: " in line for line in lines)


def test_plan_tells_them_too_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("one.yaml").write_text("wbplan: 1\ntitel: a\nsetups: 3\n")
    assert main(["plan", "one.yaml"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["one.yaml"]
