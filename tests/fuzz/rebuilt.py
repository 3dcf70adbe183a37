"""Plans made again of mutated records, by the command line, to the last file."""

from __future__ import annotations

import contextlib
import io
import json
import random
import shutil
from functools import cache
from pathlib import Path
from typing import Any, Final

from tests.fuzz.loop import Patch, Target
from tests.fuzz.mutation import Words
from tests.fuzz.records import mutate_record
from wbplan.front.cli.main import main
from wbplan.front.files import make_files
from wbplan.front.plans import plan
from wbplan.read.model.scenario import SCENARIO

WORDS: Final = Words(SCENARIO, more=("scenario/dusk_workshop.yaml",))


@cache
def make_records() -> tuple[dict[str, Any], ...]:
    """Make the records that are changed: one with a sheet beside it, one with plate notes."""
    made = (plan("dusk_workshop"), plan("night_market", plate=True))
    return tuple(json.loads(make_files(each)["plan.json"]) for each in made)


def make_record(draw: random.Random) -> bytes:
    """Make a record that is changed."""
    return mutate_record(draw, draw.choice(make_records()), WORDS)


def make_again(raw: bytes, folder: Path) -> bool:
    """Make a plan again: exit code 0 and a folder, or 2, one printable line, and nothing."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    path = folder / "plan.json"
    path.write_bytes(raw)
    said = io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
        code = main(["plan", "--from", str(path), "--out", str(out)])
    assert code in (0, 2), (code, said.getvalue())
    assert (out / "plan.json").is_file() == (code == 0)
    if code == 0:
        return True
    lines = said.getvalue().splitlines()
    assert all(each.isprintable() for each in lines), lines
    assert str(path) in lines[-1] or " more" in lines[-1], lines
    assert {each.name for each in folder.iterdir()} == {"plan.json"}
    return False


def begin(folder: Path, patch: Patch) -> None:
    """Make the records."""
    make_records()


TARGET: Final = Target("rebuilt", make_record, make_again, begin)
