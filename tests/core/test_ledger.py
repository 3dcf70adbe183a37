"""The ledger: names say what was written, never where a file lay, and are found again."""

from __future__ import annotations

from collections.abc import Hashable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.errors import InputError, SpectrumError
from wbplan.core.files import read_bytes, recall_files
from wbplan.core.ledger import (
    MOST_INPUT_BYTES,
    Ledger,
    find_ledger,
    join_path,
    name_beside,
    name_files,
)


def fill(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")


def ask(ledger: Ledger, folder: Path, written: list[str]) -> list[bytes]:
    with ledger.scope("scenario", folder):
        return [read_bytes(join_path(folder, each), 1000) for each in written]


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("panel.csv", "scenario/panel.csv"),
        ("./sub/panel.csv", "scenario/sub/panel.csv"),
        ("sub/../panel.csv", "scenario/panel.csv"),
        ("../panel.csv", "scenario-above-1/panel.csv"),
        ("../../lib/panel.csv", "scenario-above-2/lib/panel.csv"),
        ("{here}/panel.csv", "scenario/elsewhere/panel.csv"),
        ("{here}/../panel.csv", "scenario/elsewhere/panel.csv"),
    ],
)
@pytest.mark.parametrize("spelled", ["relative", "absolute", "dot"])
def test_names_follow_from_what_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: str, name: str, spelled: str
) -> None:
    here = tmp_path / "show" / "day"
    for each in ("panel.csv", "sub/panel.csv", "../panel.csv", "../../lib/panel.csv"):
        fill(here, {each: each})
    monkeypatch.chdir(here if spelled == "dot" else tmp_path)
    folder = {"relative": Path("show/day"), "absolute": here, "dot": Path()}[spelled]
    ledger = Ledger()
    raw = ask(ledger, folder, [written.format(here=here)])
    assert [(each.name, each.data) for each in ledger.files] == [(name, raw[0])]
    assert find_ledger() is None


def test_what_was_read_is_found_again_without_the_disk(tmp_path: Path) -> None:
    fill(tmp_path, {"a/x.csv": "1", "x.csv": "2", "b/x.csv": "3", "a/deep/x.csv": "4"})
    written = [
        *("x.csv", "../x.csv", f"{tmp_path}/b/x.csv", "deep/x.csv", f"{tmp_path}/a/x.csv"),
        *("deep/../x.csv", "x.csv", f"{tmp_path}/b/x.csv"),
    ]
    first = Ledger()
    raw = ask(first, tmp_path / "a", written)
    assert raw == [b"1", b"2", b"3", b"4", b"1", b"1", b"1", b"3"]
    names = [each.name for each in first.files]
    assert len(set(names)) == len(names)
    assert "scenario/elsewhere/2/x.csv" in names
    stored = {each.name: each.data for each in first.files}
    again = Ledger(stored, Path("far/plan.json"))
    moved = [each.replace(f"{tmp_path}/b", "elsewhere") for each in written]
    moved[4] = "elsewhere/2/x.csv"
    for asked in (written, moved):
        again = Ledger(stored, Path("far/plan.json"))
        assert ask(again, Path("far/plan.json/scenario"), asked) == raw
        assert again.files == first.files


def test_an_absolute_path_is_replaced_in_the_text_that_writes_it(tmp_path: Path) -> None:
    lamp, other = f"{tmp_path}/lamp.csv", f"{tmp_path}/lamp.csv.old"
    text = f'file: "{lamp}" # {lamp}\nelse: {other}\nnone: {lamp}2 elsewhere/lamp.csv'
    fill(tmp_path, {"s.yaml": text, "lamp.csv": lamp, "lamp.csv.old": ""})
    ledger = Ledger()
    ask(ledger, tmp_path, ["s.yaml", lamp, other])
    scenario, curve, _ = ledger.files
    moved = "elsewhere/2/lamp.csv"  # the first name is written there already
    assert scenario.data.decode() == (
        f'file: "{moved}" # {moved}\nelse: elsewhere/lamp.csv.old\nnone: {lamp}2 elsewhere/lamp.csv'
    )
    assert curve.data.decode() == lamp  # in another folder, as it stands


def test_what_lies_beside_an_absolute_file_is_named_beside_it(tmp_path: Path) -> None:
    fill(tmp_path, {"job/s.yaml": "", "cams/b.yaml": "", "cams/b.csv": "", "c.csv": ""})
    ledger = Ledger()
    with ledger.scope("scenario", tmp_path):  # cams/b.csv is below this folder too
        profile = join_path(tmp_path, f"{tmp_path}/cams/b.yaml")
        with name_beside(profile):
            for path in (profile, join_path(profile.parent, "b.csv")):
                read_bytes(path, 10)
            read_bytes(join_path(profile.parent, "../c.csv"), 10)
        with name_files("camera", tmp_path / "cams"):
            read_bytes(tmp_path / "cams" / "b.csv", 10)
    assert [each.name for each in ledger.files] == [
        "scenario/elsewhere/b.yaml",
        "scenario/elsewhere/b.csv",
        "scenario/c.csv",
        "camera/b.csv",
    ]


def test_a_file_is_read_once(tmp_path: Path) -> None:
    fill(tmp_path, {"x.csv": "first"})
    ledger = Ledger()
    ask(ledger, tmp_path, ["x.csv"])
    fill(tmp_path, {"x.csv": "second"})
    assert ask(ledger, tmp_path, ["x.csv"]) == [b"first"]
    with pytest.raises(SpectrumError, match="allowed: at most"), ledger.scope("scenario", tmp_path):
        read_bytes(tmp_path / "x.csv", 3, SpectrumError)


def test_what_was_made_of_files_is_made_again_when_one_of_them_changes(tmp_path: Path) -> None:
    """The law: what is recalled is what would be made now; an outer value sees inner files too."""
    for name in ("a", "b"):
        (tmp_path / name).write_text(name)
    made: list[str] = []

    def make_inner() -> str:
        made.append("inner")
        return read_bytes(tmp_path / "b", 99).decode()

    def make_outer() -> str:
        made.append("outer")
        return read_bytes(tmp_path / "a", 99).decode() + recall_files("inner", make_inner)

    memory: dict[Hashable, Any] = {}

    def plan() -> tuple[str, list[str], list[str]]:
        made.clear()
        ledger = Ledger(memory=memory)
        with ledger.scope("scenario", tmp_path):
            said = recall_files("outer", make_outer)
        return said, made.copy(), [each.name for each in ledger.files]

    read = ["scenario/a", "scenario/b"]
    assert plan() == ("ab", ["outer", "inner"], read)
    assert plan() == ("ab", [], read)
    (tmp_path / "b").write_text("c")
    assert plan() == ("ac", ["outer", "inner"], read)
    (tmp_path / "a").write_text("d")
    assert plan() == ("dc", ["outer"], read)
    (tmp_path / "b").unlink()
    with pytest.raises(InputError):
        plan()
    (tmp_path / "b").write_text("c")
    assert plan()[0] == "dc"
    memory.clear()
    assert recall_files("outer", make_outer) == "dc"  # without a ledger nothing is kept
    assert memory == {}


def test_what_a_record_does_not_carry_is_refused(tmp_path: Path) -> None:
    fill(tmp_path, {"plan.json/scenario/x.csv": "on the disk"})
    ledger = Ledger({"scenario/y.csv": b""}, tmp_path / "plan.json")
    with pytest.raises(
        InputError, match=r"plan.json/scenario/x.csv: found no file 'scenario/x.csv"
    ):
        ask(ledger, ledger.place_of("scenario"), ["x.csv"])


def test_files_of_one_plan_have_a_limit(tmp_path: Path) -> None:
    (tmp_path / "big").write_bytes(bytes(MOST_INPUT_BYTES // 2 + 1))
    (tmp_path / "more").write_bytes(bytes(MOST_INPUT_BYTES // 2 + 1))
    ledger = Ledger()
    with ledger.scope("scenario", tmp_path):
        read_bytes(tmp_path / "big", MOST_INPUT_BYTES)
        read_bytes(tmp_path / "big", MOST_INPUT_BYTES)
        with pytest.raises(InputError, match="over 64 MB with the files read before it"):
            read_bytes(tmp_path / "more", MOST_INPUT_BYTES)


@given(st.lists(st.sampled_from(["..", "a", "b", "a b", "ü", "c\\d", "e\n", "f:"]), min_size=1))
def test_a_name_never_leaves_its_folder(parts: list[str]) -> None:
    ledger = Ledger({}, Path("r"))
    with ledger.scope("scenario", Path("r")), pytest.raises(InputError) as caught:
        read_bytes(join_path(Path("r"), "/".join([*parts, "x.csv"])), 10)
    name = caught.value.found.removeprefix("no file '").removesuffix("'")
    assert name.startswith("scenario")
    assert not {"", ".", ".."} & set(name.split("/"))
    assert not any(each in name for each in "\\\n")
