"""Every table that ships has its row in the ledger, and every row its table and its notice."""

from __future__ import annotations

import json
from importlib.metadata import distribution
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from wbplan.front.cli.main import main
from wbplan.read.catalogue import find_shipped_folder, read_data_ledger

DATA, CAMERAS = Path(str(files("wbplan.data"))), find_shipped_folder("camera_profiles")
FIELDS = {"file", "table", "what", "from", "by", "terms", "named", "notice", "made_by"}
KEPT_WITH_ITS_SOURCE = {".py", ".yaml"}  # makers and the ledger; profiles state their provenance
ENTRIES = read_data_ledger()


def list_tables(path: Path) -> set[str]:
    """List the tables of a file: arrays, groups of rows, parts, or the whole."""
    if path.suffix == ".npz":
        with np.load(path) as archive:
            return set(archive.files)
    if path.name == "sources.json":
        content = json.loads(path.read_text("ascii"))
        return {each["dataset"] for each in content["sources"]} | set(content) - {
            *("sources", "made_by")
        }
    if path.suffix == ".json":
        return set(json.loads(path.read_text("ascii")))
    return {"whole"}


def list_shipped_tables() -> set[tuple[str, str]]:
    found = set()
    for name, folder in (("data", DATA), ("camera_profiles", CAMERAS)):
        for path in folder.rglob("*"):
            below = path.relative_to(folder)
            if path.is_dir() or path.suffix in KEPT_WITH_ITS_SOURCE | {".pyc"}:
                continue
            if below.parts[0] == "notices" or path.name == "LICENSE":
                continue
            found |= {(f"{name}/{below.as_posix()}", each) for each in list_tables(path)}
    return found


def test_every_table_has_its_row_and_no_row_is_orphaned() -> None:
    rows = [(each["file"], each["table"]) for each in ENTRIES]
    assert len(rows) == len(set(rows))
    assert set(rows) == list_shipped_tables()


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda each: f"{each['file']}:{each['table']}")
def test_a_row_is_whole(entry: dict[str, str]) -> None:
    assert set(entry) == FIELDS
    assert all(isinstance(each, str) and each.strip() for each in entry.values())
    assert entry["made_by"] == "hand" or (DATA / entry["made_by"]).is_file()
    assert entry["notice"] == "none" or (DATA / "notices" / entry["notice"]).is_file()
    # What a library or a data set asks to be told along has its notice here.
    asked = ("BSD", "MIT", "Apache", "CC BY")
    if any(each in entry["terms"] for each in asked):
        assert entry["notice"] != "none"


def test_no_notice_is_orphaned_and_each_row_of_rows_is_of_a_known_set() -> None:
    notices = {each.name for each in (DATA / "notices").iterdir()}
    assert notices == {each["notice"] for each in ENTRIES} - {"none"}


def test_the_notice_of_the_library_is_its_own_text() -> None:
    """As the installed package carries it."""
    own = distribution("colour-science").read_text("licenses/LICENSE")
    assert own is not None
    assert (DATA / "notices" / "colour-science.txt").read_text("utf-8") == own


def test_the_command_prints_terms_and_the_owners_choice(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["data"]) == 0
    said = capsys.readouterr().out
    assert said.count("terms: ") == len(ENTRIES)
    assert "its owner's to choose" in said
    assert max(map(len, said.splitlines()[:-3])) <= 80
    assert main(["data", "observer"]) == 0
    assert capsys.readouterr().out.count("terms: ") == 2
    assert main(["data", "nosuch"]) != 0
    assert "nosuch" in capsys.readouterr().err
