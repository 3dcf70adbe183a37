"""Folders written whole or not at all, and nothing touched that was not asked for."""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import subprocess
from pathlib import Path
from typing import Any

import pytest

from wbplan.core.errors import OutputError
from wbplan.core.output import RECORD_NAME, SUMS_NAME, check_file, check_folder, write_folder

FILES = {"report.html": b"<p>\r\n", "plan.json": b"{}", "a.cube": b"\x00\xff"}


def read_tree(folder: Path) -> dict[str, bytes | None]:
    """Read all there is under a folder, without the sums: contents of files, None for folders."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
        if path.name != SUMS_NAME
    }


def write_sums(folder: Path, *lines: str) -> None:
    """Write a list of sums as an earlier output has it, with lines of one's own."""
    head = (folder / SUMS_NAME).read_text().split("\n")[0]
    (folder / SUMS_NAME).write_text("\n".join((head, *lines, "")))


def refuse(*_: Any, **__: Any) -> None:
    raise OSError(28, "No space left on device")


def test_a_new_folder_holds_the_bytes_given(tmp_path: Path) -> None:
    write_folder(tmp_path / "deep" / "plan", FILES)
    assert read_tree(tmp_path / "deep") == {
        "plan": None,
        **{f"plan/{name}": content for name, content in FILES.items()},
    }


def test_a_new_folder_has_the_rights_of_any_new_folder(tmp_path: Path) -> None:
    write_folder(tmp_path / "plan", FILES)
    (tmp_path / "other").mkdir()
    mode = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("plan", "other")]
    assert mode[0] == mode[1]


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "plan").mkdir()
    write_folder(tmp_path / "plan", FILES)
    assert read_tree(tmp_path / "plan") == FILES


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(OutputError, match=r"holds files already.*--force"):
        write_folder(tmp_path, FILES)
    assert read_tree(tmp_path) == {"note.txt": b"mine"}


def test_what_an_earlier_run_wrote_makes_way(tmp_path: Path) -> None:
    folder = tmp_path / "plan"
    write_folder(folder, {**FILES, "old.txt": b"1"}, what="plan of a.yaml")
    write_folder(folder, FILES, what="plan of a.yaml")
    assert read_tree(folder) == FILES
    assert check_folder(folder, what="plan of")
    for other in ("", "plan of b.yaml", "plan of a", "plan of a.yaml.yaml", "day of"):
        with pytest.raises(OutputError, match=r"\(plan of a\.yaml\)"):
            check_folder(folder, what=other)


def test_what_somebody_changed_or_added_does_not(tmp_path: Path) -> None:
    write_folder(tmp_path / "plan", FILES, what="plan of a.yaml")
    name = next(iter(FILES))
    for added in (name, "mine.txt", "deep/mine.txt"):
        path = tmp_path / "plan" / added
        path.parent.mkdir(exist_ok=True)
        before = path.read_bytes() if path.exists() else None
        path.write_bytes(b"mine")
        with pytest.raises(OutputError, match=f"{added} is not as it was written"):
            write_folder(tmp_path / "plan", FILES, what="plan of a.yaml")
        path.unlink()
        if before is not None:
            path.write_bytes(before)
    (tmp_path / "plan" / name).unlink()
    write_folder(tmp_path / "plan", FILES, what="plan of a.yaml")
    assert read_tree(tmp_path / "plan") == {**FILES, "deep": None}


def test_words_are_one_line(tmp_path: Path) -> None:
    write_folder(tmp_path / "plan", FILES, what="plan of a\n# plan of b")
    assert not check_folder(tmp_path / "new", what="plan of b")
    with pytest.raises(OutputError):
        check_folder(tmp_path / "plan", what="plan of b")


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "plan").write_text("mine")
    for replace in (False, True):
        with pytest.raises(OutputError, match="is a file"):
            write_folder(tmp_path / "plan", FILES, replace)
    assert read_tree(tmp_path) == {"plan": b"mine"}


def test_the_sums_are_those_of_an_independent_program(tmp_path: Path) -> None:
    program = shutil.which("sha256sum")  # GNU coreutils
    if program is None:
        pytest.skip("no sha256sum on this machine")
    write_folder(tmp_path / "plan", {**FILES, "luts/b.cube": b"2"})
    command = [program, "--check", "--strict", SUMS_NAME]
    done = subprocess.run(command, cwd=tmp_path / "plan", capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count(": OK") == 4


@pytest.mark.parametrize("is_inside", [False, True])
def test_replacing_takes_away_only_what_an_earlier_output_left_unchanged(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    is_inside: bool,
) -> None:
    target = tmp_path / "plan"
    write_folder(target, {"old.cube": b"1", "report.html": b"2", "edited.csv": b"3"})
    (target / "edited.csv").write_bytes(b"mine")
    (target / "note.txt").write_text("mine")
    (target / "stills").mkdir()
    (target / "stills" / "old.cube").write_text("mine")
    (target / "empty").mkdir()
    (target / "link").symlink_to("/nowhere")
    if is_inside:
        monkeypatch.chdir(target)
    write_folder(target, FILES, replace=True)
    assert read_tree(target) == {
        **FILES,
        "edited.csv": b"mine",
        "note.txt": b"mine",
        "stills": None,
        "stills/old.cube": b"mine",
        "empty": None,
        "link": None,
    }
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]
    assert "edited.csv was kept: it was changed" in caplog.text


@pytest.mark.parametrize(
    "sums",
    [
        b"",
        b"\xff\xfe",
        b"# another program\n" + hashlib.sha256(b"mine").hexdigest().encode() + b"  note.txt\n",
        hashlib.sha256(b"mine").hexdigest().encode() + b"  note.txt\n",
    ],
)
def test_a_folder_without_sums_of_ours_loses_nothing(tmp_path: Path, sums: bytes) -> None:
    (tmp_path / SUMS_NAME).write_bytes(sums)
    (tmp_path / RECORD_NAME).write_text('{"format": "wbplan plan", "files": ["note.txt"]}')
    (tmp_path / "note.txt").write_text("mine")
    write_folder(tmp_path, FILES, replace=True)
    assert read_tree(tmp_path) == {**FILES, "note.txt": b"mine"}


@pytest.mark.parametrize(
    "name",
    ["../note.txt", "..", ".", "", "stills", "stills/../../note.txt", "a\0b", "x" * 300, "a//b"],
)
def test_sums_cannot_reach_out_of_their_folder(tmp_path: Path, name: str) -> None:
    target = tmp_path / "plan"
    write_folder(target, {"old.cube": b"1"})
    (target / "stills").mkdir()
    for folder in (tmp_path, target / "stills"):
        (folder / "note.txt").write_text("mine")
    mine = hashlib.sha256(b"mine").hexdigest()
    write_sums(target, f"{mine}  {name}", f"{mine}  {tmp_path / 'note.txt'}")
    write_folder(target, FILES, replace=True)
    assert read_tree(tmp_path) == {
        "note.txt": b"mine",
        "plan": None,
        "plan/old.cube": b"1",
        "plan/stills": None,
        "plan/stills/note.txt": b"mine",
        **{f"plan/{each}": content for each, content in FILES.items()},
    }


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_folder_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "plan").mkdir(mode=0)
    with pytest.raises(OutputError, match="cannot be read"):
        write_folder(tmp_path / "plan", FILES, replace=True)


def test_a_pipe_in_the_folder_is_kept_and_not_read(tmp_path: Path) -> None:
    target = tmp_path / "plan"
    write_folder(target, FILES)
    os.mkfifo(target / "pipe")
    write_folder(target, FILES, replace=True)
    assert stat.S_ISFIFO((target / "pipe").stat().st_mode)


def test_a_pipe_in_the_place_of_a_file_is_replaced_and_not_read(tmp_path: Path) -> None:
    for name in FILES:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        os.mkfifo(tmp_path / name)
    write_folder(tmp_path, FILES, replace=True)
    assert read_tree(tmp_path) == FILES


@pytest.mark.parametrize("name", ["x" * 256, "a\0b"])
def test_a_name_that_no_file_can_have_is_refused_before_the_work(name: str, tmp_path: Path) -> None:
    for check in (check_folder, check_file):
        with pytest.raises(OutputError):
            check(tmp_path / name)
    with pytest.raises(OutputError):
        write_folder(tmp_path / "plan", {name: b""})
    assert read_tree(tmp_path) == {}


def test_a_link_to_a_folder_is_written_where_it_leads(tmp_path: Path) -> None:
    (tmp_path / "disk" / "plan").mkdir(parents=True)
    (tmp_path / "plan").symlink_to(tmp_path / "disk" / "plan")
    write_folder(tmp_path / "plan", {"old.cube": b"1"})
    write_folder(tmp_path / "plan", FILES, replace=True)
    assert (tmp_path / "plan").is_symlink()
    assert read_tree(tmp_path / "disk" / "plan") == FILES


@pytest.mark.parametrize("replace", [False, True])
@pytest.mark.parametrize(
    "name", ["../out.cube", "/out.cube", "a//b", "a/", "./a", ".", "..", "", "../../etc/x"]
)
def test_names_that_are_no_plain_names_are_refused(
    tmp_path: Path, name: str, replace: bool
) -> None:
    with pytest.raises(OutputError, match="not a plain file name"):
        write_folder(tmp_path / "plan", {"a.cube": b"1", name: b"2"}, replace)
    assert read_tree(tmp_path) == {}


def test_a_name_the_system_refuses_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written: File name too long"):
        write_folder(tmp_path / "plan", {"a.cube": b"1", "x" * 300: b"2"})
    assert read_tree(tmp_path) == {}


@pytest.mark.parametrize("method", ["rename", "open", "chmod"])
def test_a_failure_before_the_end_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, method: str
) -> None:
    monkeypatch.setattr(Path, method, refuse)
    with pytest.raises(OutputError, match="plan cannot be written: No space left on device"):
        write_folder(tmp_path / "plan", FILES)
    monkeypatch.undo()
    assert read_tree(tmp_path) == {}


@pytest.mark.parametrize("method", ["open", "mkdir"])
def test_a_failure_before_replacing_leaves_the_earlier_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, method: str
) -> None:
    target = tmp_path / "plan"
    write_folder(target, {"old.cube": b"1"})
    before = read_tree(tmp_path)
    monkeypatch.setattr(Path, method, refuse)
    with pytest.raises(OutputError, match="No space left on device"):
        write_folder(target, FILES, replace=True)
    monkeypatch.undo()
    assert read_tree(tmp_path) == before


@pytest.mark.parametrize("calls_that_work", range(5))
def test_a_failure_midway_puts_the_earlier_plan_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, calls_that_work: int
) -> None:
    target = tmp_path / "plan"
    write_folder(target, {"old.cube": b"1", "report.html": b"2", RECORD_NAME: b"3"})
    before = read_tree(tmp_path)
    monkeypatch.chdir(target)  # where files move one by one
    calls: list[int] = []
    move = Path.replace

    def fail_once(self: Path, other: Path) -> Path:
        calls.append(1)
        return refuse() if len(calls) == calls_that_work + 1 else move(self, other)

    monkeypatch.setattr(Path, "replace", fail_once)
    with pytest.raises(OutputError, match="No space left on device"):
        write_folder(target, FILES, replace=True)
    monkeypatch.undo()
    assert read_tree(tmp_path) == before


def test_a_folder_in_the_place_of_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "plan" / "report.html").mkdir(parents=True)
    with pytest.raises(OutputError, match="is a folder"):
        write_folder(tmp_path / "plan", FILES, replace=True)


def test_an_empty_working_directory_can_be_the_target(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write_folder(Path(), FILES)
    assert read_tree(tmp_path) == FILES


def test_a_failure_of_the_second_file_writes_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[int] = []
    monkeypatch.setattr("os.fsync", lambda _: refuse() if calls else calls.append(1))
    with pytest.raises(OutputError):
        write_folder(tmp_path / "plan", FILES)
    monkeypatch.undo()
    assert calls
    assert read_tree(tmp_path) == {}


def test_a_parent_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutputError, match="cannot be written"):
        write_folder(tmp_path / "file" / "plan", FILES)
    assert read_tree(tmp_path) == {"file": b"mine"}


def test_a_symbolic_link_is_not_followed_out(tmp_path: Path) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_text("mine")
    target = tmp_path / "plan"
    target.mkdir()
    (target / "report.html").symlink_to(outside)
    write_folder(target, FILES, replace=True)
    assert outside.read_text() == "mine"
    assert (target / "report.html").read_bytes() == FILES["report.html"]
    assert not (target / "report.html").is_symlink()
