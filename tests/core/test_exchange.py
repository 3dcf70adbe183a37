"""A write that is stopped at any of its steps, or meets another, leaves old or new, whole."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="stops forked processes")


def run_kill_points(what: str, number: int, root: Path) -> dict[str, int]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.core.kill_points", what, str(number), str(root)],
        cwd=Path(__file__).resolve().parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    counts: dict[str, int] = json.loads(done.stdout)
    return counts


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
@pytest.mark.parametrize(
    ("case", "allowed"),
    [
        ("new", {"none", "new"}),
        ("replace", {"old", "new"}),
        ("two_renames", {"old", "new", "none"}),  # none for one step; the next run finishes it
        ("inside", {"old", "new", "half"}),  # half only with a journal; the next run finishes it
        ("file", {"old", "new"}),
        ("files", {"old", "new", "half"}),  # half only with a journal; the next read finishes it
    ],
)
def test_a_write_stopped_at_any_step_is_old_or_new_and_recovered(
    tmp_path: Path, case: str, allowed: set[str], how: signal.Signals
) -> None:
    counts = run_kill_points(case, how, tmp_path)
    if how == signal.SIGINT:
        allowed = allowed - ({"half", "none"} if case != "new" else set())
    assert counts.pop("steps") >= 12
    assert counts["new"] > 3
    assert set(counts) <= allowed  # nothing lost, nothing hidden left, nothing not recovered


def test_of_two_writers_at_once_each_leaves_the_folder_whole(tmp_path: Path) -> None:
    assert run_kill_points("pairs", 8, tmp_path) == {"whole": 8}
