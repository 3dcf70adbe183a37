"""How long the browser waits: until the page has its first decision, and after each edit.

    python -m tests.bench.open_latency

Wanted on a quiet laptop: the first decision within 1 s of the start of the process, the answer to
an edit within 100 ms for two setups of five lights by five positions, within 250 ms for 25 by 15.
Wall time is what people wait for; processor time is told too, for a machine that has other things
to do. To compare machines, the first line tells what importing numpy takes on this one.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from tests.bench.test_open_speed import write_large
from wbplan.front.open.session import Session, read_document
from wbplan.read.catalogue import find_shipped_folder

ROUNDS, WARM_UP, STARTS = 15, 3, 5
_TICK_S = 1.0 / os.sysconf("SC_CLK_TCK")


class Case(NamedTuple):
    name: str
    file: str
    wanted_ms: int
    edits: Iterator[dict[str, Any]]


def list_cases(folder: Path) -> list[Case]:
    for each in ("dusk_workshop.yaml", "workshop_panel.csv"):
        shutil.copy(find_shipped_folder("scenarios") / each, folder)
    write_large(folder / "large.yaml")
    lux = {"do": "lux", "setup": 0, "position": "potter's face", "light": "ceiling panels"}
    far = {"do": "lux", "setup": 0, "position": "place 3", "light": "light 7"}
    demo, large = "dusk_workshop.yaml", "large.yaml"
    return [
        Case("5 x 5, one of two setups", demo, 100, _step(lambda n: {**lux, "lux": 50 + n})),
        Case("5 x 5, both setups", demo, 100, _step(_rename)),
        Case("25 x 15", large, 250, _step(lambda n: {**far, "lux": 50 + n})),
    ]


def _rename(number: int) -> dict[str, Any]:
    light = f"panels {number - 1}" if number else "ceiling panels"
    return {"do": "rename light", "setup": 0, "light": light, "name": f"panels {number}"}


def _step(make: Callable[[int], dict[str, Any]]) -> Iterator[dict[str, Any]]:
    number = 0
    while True:
        yield make(number)
        number += 1


class Spent(NamedTuple):
    """Wall and processor time [ms]: the median, and the worst of the wall."""

    wall: float
    worst: float
    processor: float


def time_rounds(run: Callable[[], None], clock: Callable[[], float]) -> Spent:
    for _ in range(WARM_UP):
        run()
    walls, begun = [], clock()
    for _ in range(ROUNDS):
        start = time.perf_counter()
        run()
        walls.append(1e3 * (time.perf_counter() - start))
    return Spent(statistics.median(walls), max(walls), 1e3 * (clock() - begun) / ROUNDS)


def time_in_process(path: Path, case: Case) -> Spent:
    session = Session(read_document(path))

    def edit() -> None:
        session.edit(session.version, next(case.edits))
        json.dumps(session.show())

    return time_rounds(edit, time.process_time)


def find_processor_s(pid: int) -> float:
    """Find what a process has used; NaN where the system does not tell it like Linux."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return (int(fields[11]) + int(fields[12])) * _TICK_S


@contextmanager
def serve(path: Path) -> Iterator[tuple[int, Callable[..., dict[str, Any]], float]]:
    """Run `wbplan open`: its process, what asks it on one connection, and when it was begun."""
    begun = time.perf_counter()
    command = [sys.executable, "-m", "wbplan", "open", str(path), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        try:
            assert running.stdout is not None
            found = re.search(r"http://\S+", running.stdout.readline())
            assert found is not None
            url = urlsplit(found[0])
            link = http.client.HTTPConnection("127.0.0.1", url.port or 0, timeout=60)
            link.request("GET", f"/?{url.query}")
            first = link.getresponse()
            first.read()
            cookie = first.headers["Set-Cookie"].partition(";")[0]
            heads = {
                "Cookie": cookie,
                "Sec-Fetch-Site": "same-origin",
                "Content-Type": "application/json",
            }

            def ask(where: str, body: dict[str, Any] | None = None) -> dict[str, Any]:
                method, data = ("GET", None) if body is None else ("POST", json.dumps(body))
                link.request(method, where, data, heads)
                answer = link.getresponse()
                said: dict[str, Any] = json.loads(answer.read())
                assert answer.status == 200, said
                return said

            yield running.pid, ask, begun
        finally:
            running.kill()


def time_served(path: Path, case: Case) -> Spent:
    with serve(path) as (pid, ask, _):
        version = ask("/state")["version"]

        def edit() -> None:
            nonlocal version
            body = {"version": version, "edit": next(case.edits)}
            version = ask("/edit", body)["version"]

        return time_rounds(edit, lambda: find_processor_s(pid))


def time_start(path: Path) -> Spent:
    walls, used = [], []
    for _ in range(STARTS):
        with serve(path) as (pid, ask, begun):
            assert ask("/state")["decided"]
            walls.append(1e3 * (time.perf_counter() - begun))
            used.append(1e3 * find_processor_s(pid))
    return Spent(statistics.median(walls), max(walls), statistics.median(used))


def main() -> None:
    code = "import time; s = time.process_time(); import numpy; print(time.process_time() - s)"
    took = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True).stdout)
        for _ in range(STARTS)
    ]
    print(f"import numpy: {1e3 * statistics.median(took):.0f} ms of processor")
    print(f"{'':<26} {'how':<11} {'wanted':>6} {'wall':>6} {'worst':>6} {'processor':>9}   [ms]")

    def tell(name: str, how: str, wanted: int, spent: Spent) -> None:
        wall, worst, used = (f"{each:.0f}" for each in spent)
        print(f"{name:<26} {how:<11} {wanted:>6} {wall:>6} {worst:>6} {used:>9}", flush=True)

    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        cases = list_cases(folder)
        tell("first decision, 5 x 5", "served", 1000, time_start(folder / cases[0].file))
        for case in cases:
            tell(case.name, "in process", case.wanted_ms, time_in_process(folder / case.file, case))
        for case in list_cases(folder):
            tell(case.name, "served", case.wanted_ms, time_served(folder / case.file, case))


if __name__ == "__main__":
    main()
