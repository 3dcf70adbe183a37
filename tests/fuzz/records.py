"""Mutated records of plans and days: what `compare` reads, and what a plan would be made of again.

The records are of small scenes, and every long list of numbers in them is cut to the same few, so
that a case costs a millisecond. `tests.fuzz.rebuilt` makes whole plans of whole records.
"""

from __future__ import annotations

import base64
import copy
import hashlib
import json
import random
from functools import cache
from pathlib import Path
from typing import Any, Final

import wbplan
from tests.fuzz.days import DAY, make_scenario
from tests.fuzz.loop import Patch, Target
from tests.fuzz.mutation import Words, mutate_bytes, mutate_tree, write_json
from wbplan.core.errors import InputError
from wbplan.core.names import clean_text
from wbplan.front.comparisons import compare
from wbplan.record.file import read_inputs, read_record
from wbplan.record.plan import format_record
from wbplan.report.compare.record import build_comparison
from wbplan.report.compare.terminal import format_comparison

SCENE: Final[dict[str, Any]] = {
    "title": "Kitchen",
    "camera": "cfa-mid",
    "sources": {"tube": {"lamp": "FL11"}, "window": {"daylight_kelvin": 6500}},
    "setups": [
        {
            "name": "At the sink",
            "shooting": {"ei": 800, "fps": 24, "shutter_angle_deg": 180},
            "positions": {
                "face": {"lux": {"tube": 300, "window": 40}},
                "wall": {"lux": {"window": 90}},
            },
        }
    ],
}
MOST_ITEMS: Final = 12
WORDS: Final = Words(more=("scenario/x.yaml", "wbplan plan", "wbplan day", "wbplan lights", 2, 1))


def _cut(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _cut(each) for name, each in value.items()}
    if isinstance(value, list):
        are_numbers = all(isinstance(each, float | int) for each in value)
        return [_cut(each) for each in (value[:MOST_ITEMS] if are_numbers else value)]
    return value


@cache
def make_records() -> tuple[dict[str, Any], ...]:
    """Make the record of a plan and that of a day; names of all their fields become `WORDS`."""
    day = {name: each for name, each in make_scenario(
        {"cloud": {"overcast": {"facing": "up"}}}, {"cloud": 900},
        day={**DAY, "from": "12:00", "to": "14:00", "step_minutes": 60},
    ).items() if name != "wbplan"}  # fmt: skip
    results = (wbplan.plan(SCENE), wbplan.plan_day(day))
    found = []
    for each in results:
        files = wbplan.make_files(each)
        found.append(_cut(json.loads(files["plan.json"])))
    names: set[str] = set()
    for each in found:
        _gather_names(each, names)
    WORDS.names[:] = sorted(names)
    return tuple(found)


def _gather_names(value: Any, names: set[str]) -> None:
    for each in value.values() if isinstance(value, dict) else value:
        if isinstance(each, dict | list):
            _gather_names(each, names)
    if isinstance(value, dict):
        names.update(value)


def mutate_record(draw: random.Random, record: dict[str, Any], words: Words) -> bytes:
    """Change a record by its values, by its bytes, or by a file that it carries."""
    kind = draw.random()
    if kind < 0.2 or "inputs" not in record:
        if kind < 0.1:
            return mutate_bytes(draw, write_json(record))
        return write_json(mutate_tree(draw, record, words))
    if kind < 0.5:
        return write_json(mutate_tree(draw, record, words))
    changed = copy.copy(record)
    if kind < 0.75:
        changed["inputs"] = mutate_tree(draw, record["inputs"], words)
        return write_json(changed)
    changed["inputs"] = copy.deepcopy(record["inputs"])
    file = draw.choice(changed["inputs"]["files"])
    held = (file["text"] or "").encode() or base64.b64decode(file["base64"] or "")
    raw = mutate_bytes(draw, held)
    try:
        file["text"], file["base64"] = raw.decode("utf-8"), None
    except UnicodeDecodeError:
        file["text"], file["base64"] = None, base64.b64encode(raw).decode("ascii")
    file["sha256"] = hashlib.sha256(raw).hexdigest()
    return write_json(changed)


def make_record(draw: random.Random) -> bytes:
    """Make a record that is changed."""
    records = make_records()
    record = draw.choice(records)
    if draw.random() < 0.3:  # where most of what is compared stands
        changed = copy.copy(record)
        changed["setups"] = mutate_tree(draw, record["setups"], WORDS)
        return write_json(changed)
    return mutate_record(draw, record, WORDS)


def read_and_compare(raw: bytes, folder: Path) -> bool:
    """Read the inputs of a record, and compare it with the good one, both ways, in words too."""
    path = folder / "plan.json"
    path.write_bytes(raw)
    refused: list[InputError] = []
    for act in (_read, _compare):
        try:
            act(path, folder.parent)
        except InputError as error:
            refused.append(error)
    if len(refused) == 2:
        raise refused[0]
    return not refused


def _read(path: Path, whole: Path) -> None:
    read_inputs(read_record(path))


def _compare(path: Path, whole: Path) -> None:
    found = None
    for number in range(2):
        try:
            good = make_good(number)
            found = compare(path, good)
            break
        except InputError as error:
            if number or "format" not in error.place.field:
                raise
    assert found is not None
    text = format_comparison(found, True, 80)
    assert all(clean_text(each) == each for each in text.split("\n")), text
    json.loads(format_record(build_comparison(found)))


@cache
def make_good(number: int) -> Path:
    """Write a record that nobody changed."""
    path = Path(GOOD[0]) / f"good-{number}.json"
    path.write_bytes(write_json(make_records()[number]))
    return path


GOOD: Final[list[str]] = []


def begin(folder: Path, patch: Patch) -> None:
    """Make the records."""
    make_records()
    good = folder / "good"
    good.mkdir()
    GOOD[:] = [str(good)]
    make_good.cache_clear()
    for number in range(2):
        make_good(number)


TARGET: Final = Target("records", make_record, read_and_compare, begin)
