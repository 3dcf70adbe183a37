"""Stop a write at every step of it, a process each; test_exchange.py runs it as a program.

An audit hook of Python counts what the writer asks of the file system and stops the writer just
before the n-th, for every n until it gets to its end. The product knows nothing of this.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
from pathlib import Path

from wbplan.core import exchange
from wbplan.core.output import SUMS_NAME, finish_writes, write_file, write_files, write_folder

OLD = {"report.html": b"old", "plan.json": b"{1}", "old.cube": b"1" * 5000, "luts/a.cube": b"old"}
NEW = {"report.html": b"new", "plan.json": b"{2}", "new.cube": b"2" * 5000, "luts/a.cube": b"new"}
PLAIN = ("report.html", "plan.json")  # files of a folder that stays, as `open` has them
MINE = {"note.txt": b"mine", "stills/shot.txt": b"mine", "luts/mine.txt": b"mine"}
DONE_ALL_THE_SAME = 5
STEPS = ("open", "os.", "shutil.", "tempfile.", "ctypes.dlsym")


def read_all(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != SUMS_NAME
    }


def write_target(case: str, target: Path) -> None:
    if case == "file":
        write_file(target / "one.cube", b"new", replace=True)
    elif case == "files":
        write_files(target, {name: NEW[name] for name in PLAIN}, replace=True)
    else:
        write_folder(target, NEW, replace=case != "new" or target.exists())


def prepare(case: str, target: Path) -> None:
    os.chdir("/")
    shutil.rmtree(target.parent, ignore_errors=True)
    target.parent.mkdir(parents=True)
    if case == "file":
        write_file(target / "one.cube", b"old")
    elif case == "files":
        write_files(target, {name: OLD[name] for name in PLAIN})
    elif case != "new":
        write_folder(target, OLD)
    if case in ("files", "replace", "two_renames", "inside"):
        for name, data in MINE.items():
            (target / name).parent.mkdir(exist_ok=True)
            (target / name).write_bytes(data)
    if case == "inside":
        os.chdir(target)
    if case == "two_renames":
        exchange._exchange = lambda one, other: False  # type: ignore[assignment]


def name_state(case: str, target: Path) -> str:
    if not target.exists():
        return "none"
    found = {name: data for name, data in read_all(target).items() if not name.startswith(".wbp")}
    mine = {} if case in ("new", "file") else MINE
    before, after = OLD, NEW
    if case == "file":
        before, after = {"one.cube": b"old"}, {"one.cube": b"new"}
    elif case == "files":
        before, after = ({name: each[name] for name in PLAIN} for each in (OLD, NEW))
    if any(found.get(name) != data for name, data in mine.items()):
        return "lost"
    return (
        {True: "new", False: "half"}[found == {**after, **mine}]
        if found != {**before, **mine}
        else "old"
    )


def run(case: str, how: int, root: Path) -> dict[str, int]:
    target = root / "out" / "plan"
    counts: dict[str, int] = {"steps": 0}
    for point in range(1, 2000):
        prepare(case, target)
        child = os.fork()
        if child == 0:
            _stop_at(point, how, lambda: write_target(case, target))
        _, status = os.waitpid(child, 0)
        ended = os.WIFEXITED(status) and os.WEXITSTATUS(status) == 0
        state = name_state(case, target)
        counts[state] = counts.get(state, 0) + 1
        if os.WIFEXITED(status) and os.WEXITSTATUS(status) == DONE_ALL_THE_SAME and state != "new":
            counts["said done, was not"] = counts.get("said done, was not", 0) + 1
        if how == signal.SIGINT and any(
            each.name.startswith(".wbplan-") for each in target.parent.rglob(".*")
        ):
            counts["hidden left"] = counts.get("hidden left", 0) + 1
        if case == "files":
            finish_writes(target)
            finished = name_state(case, target)
            if finished not in ("old", "new"):
                counts["not finished"] = counts.get("not finished", 0) + 1
        write_target(case, target)
        after = name_state(case, target)
        hidden = list(target.parent.rglob(".wbplan-*"))
        if after != "new" or hidden:
            counts["not recovered"] = counts.get("not recovered", 0) + 1
        counts["steps"] += 1
        if ended:
            break
    return counts


def run_pairs(pairs: int, root: Path) -> dict[str, int]:
    """Let two writers write into one folder at once."""
    target = root / "out" / "plan"
    counts: dict[str, int] = {}
    for _ in range(pairs):
        prepare("replace", target)
        children = []
        for files in (OLD, NEW):
            child = os.fork()
            if child == 0:
                for _ in range(3):
                    write_folder(target, files, replace=True)
                os._exit(0)
            children.append(child)
        ends = [os.waitpid(child, 0)[1] for child in children]
        found = read_all(target)
        state = "whole" if found in ({**OLD, **MINE}, {**NEW, **MINE}) and ends == [0, 0] else "bad"
        counts[state] = counts.get(state, 0) + 1
    return counts


def _stop_at(point: int, how: int, work: object) -> None:
    seen = [0]

    def count(event: str, arguments: tuple[object, ...]) -> None:
        if event.startswith(STEPS):
            seen[0] += 1
            if seen[0] == point:
                os.kill(os.getpid(), how)

    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 2)
    sys.addaudithook(count)
    try:
        work()  # type: ignore[operator]
    except KeyboardInterrupt:
        os._exit(3)
    except BaseException:
        os._exit(4)
    os._exit(0 if seen[0] < point else DONE_ALL_THE_SAME)


if __name__ == "__main__":
    case, number, root = sys.argv[1], int(sys.argv[2]), Path(sys.argv[3])
    os.fsync = lambda _: None  # every step is still taken, none waits for the disk
    print(json.dumps(run_pairs(number, root) if case == "pairs" else run(case, number, root)))
