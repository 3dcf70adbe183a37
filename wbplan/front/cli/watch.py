"""`wbplan plan --watch`: planned again whenever a file in the scenario's folder changes."""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from wbplan.core.errors import InputError, Place, WbplanError, escape_unprintable
from wbplan.front.cli.options import find_plan_folder

POLL_S: Final = 0.5
_MOST_FILES: Final = 5000

State = dict[str, tuple[int, int]]  # by path: when it was changed [ns], and its size


def watch_plan(
    options: argparse.Namespace,
    run: Callable[[argparse.Namespace], None],
    wait: Callable[[float], None] = time.sleep,
) -> None:
    """Plan, and plan again after each change, until the person stops it.

    Parameters
    ----------
    run
        Plans once.
    wait
        Waits for so many seconds.

    Raises
    ------
    WbplanError
        Where the scenario is not there, or a delivery is asked for; other ones are printed.
    """
    from wbplan.read.catalogue import find_scenario_file

    if options.deliver:
        allowed = "one of them: a delivery is handed over, and made once"
        raise InputError("--deliver with --watch", allowed, Place(field="--deliver"))
    scenario = find_scenario_file(options.scenario)
    out = find_plan_folder(options, scenario)
    apart = [out.resolve()]
    beside = [Path(options.camera)] if options.camera and Path(options.camera).is_file() else []
    try:
        seen = _look(scenario.parent, apart, beside)
        _run(options, run)
        while True:
            _say(f"watching {scenario.parent or '.'}; Ctrl-C ends it")
            seen = _wait_for_change(seen, lambda: _look(scenario.parent, apart, beside), wait)
            _run(options, run)
    except KeyboardInterrupt:
        _say("watching ended; what was planned last is whole")


def _run(options: argparse.Namespace, run: Callable[[argparse.Namespace], None]) -> None:
    try:
        run(options)
    except WbplanError as error:
        for line in str(error).split("\n"):
            _say(line)
    sys.stdout.flush()


def _say(text: str) -> None:
    print(f"wbplan: {escape_unprintable(text)}", file=sys.stderr, flush=True)


def _wait_for_change(
    seen: State, look: Callable[[], State], wait: Callable[[float], None]
) -> State:
    """Wait until files are otherwise than they were, and have stayed so for one look."""
    now = seen
    while True:
        wait(POLL_S)
        before, now = now, look()
        if now != seen and now == before:
            names = sorted(each for each in {*seen, *now} if seen.get(each) != now.get(each))
            more = f" and {len(names) - 1} more" if len(names) > 1 else ""
            _say(f"changed: {Path(names[0]).name}{more}")
            return now


def _look(folder: Path, apart: list[Path], beside: list[Path]) -> State:
    """Look when each file was changed, below a folder and beside it; hidden ones do not count."""
    found: State = {}
    waiting = [folder]
    while waiting and len(found) < _MOST_FILES:
        inside = waiting.pop()
        try:
            with os.scandir(inside) as entries:
                for each in entries:
                    if each.name.startswith("."):
                        continue
                    if each.is_dir(follow_symlinks=False):
                        if Path(each.path).resolve() not in apart:
                            waiting.append(Path(each.path))
                    else:
                        status = each.stat()
                        found[each.path] = status.st_mtime_ns, status.st_size
        except OSError:
            continue
    for path in beside:
        if path.is_file():
            found[str(path)] = path.stat().st_mtime_ns, path.stat().st_size
    return found
