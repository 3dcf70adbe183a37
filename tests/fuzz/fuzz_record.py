"""Fuzzing of `plan --from` and `compare` with changed records; run on demand, not by pytest.

    python tests/fuzz/fuzz_record.py --minutes 5 --seed 1

A record is mutated by its bytes, by its values (types, odd numbers, hostile names, depth), and by
the files that it carries, whose SHA-256 are then stated anew so that the readers behind get to see
them. The promise: the command ends with 0, or with 2 and one printable line that names the record;
never by another way, and never with a file outside the folder asked for. The seed and the round of
what breaks it are printed with the record's place, which stays.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import copy
import hashlib
import io
import json
import random
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from wbplan.front.cli.main import main
from wbplan.front.files import make_files
from wbplan.front.plans import plan

ODD: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 1e308, -1e308, 5e-324, 10**400, 0.5, "", "\0", "..", "../x"),
    *("/etc/passwd", "C:\\x", "CON", "nul", "a" * 100_000, "\ud800", "\u202e", "\x1b[31m", "=1+1"),
    *("<script>", "🔥", "é", "1e999", "NaN", [], {}, [[]], {"": ""}, [None], {"a": {"b": []}}),
    *("scenario", "scenario/", "scenario/..", "a/b", "con/aux.", "x" * 300 + "/y", "%00", "a:b/c"),
)
TEXTS = (*(b"\0", b"..", b"1e999", b".nan", b"-.inf", b"*a", b"&a [*a]", b"{", b"}", b"'", b"\xff"),
         *(b"\n", b": ", b"- ", b"!!python/object", b"0", b"-1", b"1e308", b"\xe2\x80\xae", b"#"),
         *(b"../../x.csv", b"/etc/passwd", b"/dev/zero", b"true", b"a" * 5000))  # fmt: skip


def make_records() -> list[dict[str, Any]]:
    """Make the records that are mutated: one small, one with a table beside it, one with a kit."""
    found = []
    for name, more in (("dusk_workshop", {}), ("night_market", {"plate": True})):
        found.append(json.loads(make_files(plan(name, **more))["plan.json"]))
    return found


def mutate_bytes(draw: random.Random, raw: bytes) -> bytes:
    """Change, take, repeat or put in bytes at a few places."""
    changed = bytearray(raw)
    for _ in range(draw.choice((1, 1, 2, 5))):
        at = draw.randrange(len(changed) or 1)
        end = at + draw.choice((0, 1, 1, 4, 64, 4096))
        piece = draw.choice(
            (bytes([draw.randrange(256)]), b"", draw.choice(TEXTS), changed[at:end])
        )
        changed[at:end] = piece * draw.choice((1, 1, 2))
    return bytes(changed[: draw.randrange(len(changed))] if draw.random() < 0.05 else changed)


def list_places(value: Any) -> list[tuple[Any, Any]]:
    """List every (container, key) inside a value."""
    found: list[tuple[Any, Any]] = []
    pending = [value]
    while pending:
        each = pending.pop()
        keys = each if isinstance(each, dict) else range(len(each))
        for key in keys:
            found.append((each, key))
            if isinstance(each[key], dict | list):
                pending.append(each[key])
    return found


def mutate_values(draw: random.Random, record: dict[str, Any]) -> bytes:
    """Put odd values into a record, mostly where its inputs are."""
    changed = copy.deepcopy(record)
    for _ in range(draw.choice((1, 1, 2, 4))):
        base = changed["inputs"] if draw.random() < 0.6 and "inputs" in changed else changed
        places = list_places(base) if isinstance(base, dict | list) else []
        container, key = draw.choice(places or list_places(changed))
        act = draw.random()
        if act < 0.7:
            container[key] = copy.deepcopy(draw.choice(ODD))
        elif act < 0.85:
            del container[key]
        elif isinstance(container, dict):
            container[str(draw.choice(ODD))[:300]] = container.pop(key)
        else:
            container.append(copy.deepcopy(container[key]))
    text = json.dumps(changed)
    if draw.random() < 0.1:
        text = text.replace("null", draw.choice(("NaN", "-Infinity", "1e999", "-0", "[" * 9000)), 1)
    if draw.random() < 0.05:
        text = text.replace('"inputs":', '"inputs": 1, "inputs":', 1)
    return text.encode("utf-8", "surrogatepass")


def mutate_files(draw: random.Random, record: dict[str, Any]) -> bytes:
    """Change what a record carries, and state its SHA-256 anew."""
    changed = copy.deepcopy(record)
    file = draw.choice(changed["inputs"]["files"])
    raw = (file["text"] or "").encode() or base64.b64decode(file["base64"] or "")
    if draw.random() < 0.5:
        raw = mutate_bytes(draw, raw)
    else:  # one value of a line
        lines = raw.split(b"\n")
        at = draw.randrange(len(lines))
        start, colon, _ = lines[at].partition(draw.choice((b": ", b",")))
        lines[at] = (
            start + colon + draw.choice((*TEXTS, str(draw.choice(ODD)).encode("utf-8", "replace")))
        )
        raw = b"\n".join(lines)
    try:
        file["text"], file["base64"] = raw.decode("utf-8"), None
    except UnicodeDecodeError:
        file["text"], file["base64"] = None, base64.b64encode(raw).decode("ascii")
    file["sha256"] = hashlib.sha256(raw).hexdigest()
    return json.dumps(changed).encode()


def run(words: list[str]) -> tuple[int, str]:
    """Run a command in this process; give its exit code and what it said on stderr."""
    said = io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
        code = main(words)
    return code, said.getvalue()


def check(raw: bytes, whole: Path, good: Path) -> None:
    """Run both commands on a record, and hold what they do against the promise."""
    job = whole / "job"
    shutil.rmtree(job, ignore_errors=True)
    job.mkdir()
    (job / "plan.json").write_bytes(raw)
    before = {str(each) for each in whole.rglob("*")}
    code, said = run(["plan", "--from", str(job / "plan.json"), "--out", str(job / "out")])
    after = {str(each) for each in whole.rglob("*") if not each.is_relative_to(job / "out")}
    assert after == before, after ^ before
    assert code in (0, 2), (code, said)
    assert code or (job / "out" / "plan.json").is_file()
    if code:
        last = said.strip().splitlines()[-1]
        assert str(job / "plan.json") in last, said
        assert all(each.isprintable() for each in said.splitlines()), said
        assert ": found " in last, said
        assert not (job / "out").exists()
    code, said = run(["compare", str(job), str(good)])
    assert code in (0, 2), (code, said)
    if code:
        assert str(job / "plan.json") in said, said
        assert said.strip().isprintable(), said


def fuzz(minutes: float, seed: int) -> int:
    """Fuzz for a while; give how many rounds broke the promise."""
    records = make_records()
    whole = Path(tempfile.mkdtemp(prefix="fuzz-record-"))
    good = whole / "good.json"
    good.write_text(json.dumps(records[0]), encoding="utf-8")
    texts = [json.dumps(each).encode() for each in records]
    end = time.monotonic() + 60 * minutes
    broken = rounds = 0
    while time.monotonic() < end:
        draw = random.Random(f"{seed}-{rounds}")
        which = draw.randrange(len(records))
        kind = draw.random()
        if kind < 0.2:
            raw = mutate_bytes(draw, texts[which])
        elif kind < 0.55:
            raw = mutate_values(draw, records[which])
        else:
            raw = mutate_files(draw, records[which])
        try:
            check(raw, whole, good)
        except Exception as error:
            broken += 1
            kept = whole.parent / f"broken-record-{seed}-{rounds}.json"
            kept.write_bytes(raw)
            print(f"seed {seed}, round {rounds}, kept as {kept}: {type(error).__name__}: {error}")
        rounds += 1
    shutil.rmtree(whole)
    print(f"{rounds} rounds, {broken} broken")
    return broken


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    sys.exit(1 if fuzz(options.minutes, options.seed) else 0)
