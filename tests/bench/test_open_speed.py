"""How long an edit in the browser takes until its decision is there, without the network.

Wanted: at most 100 ms for two setups of five lights and five positions, 250 ms for 25 by 15 on a
quiet laptop. Run as `test_plan_speed` says; ratios to the import of numpy (80 ms there) tell one
machine from another.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.bench.test_plan_speed import report, start, take_median
from wbplan.front.open.session import Session, read_document
from wbplan.front.open.start import begin_session
from wbplan.read.catalogue import find_shipped_folder

LAMPS = ("A", "FL2", "FL11", "LED-B1", "LED-B5", "LED-RGB1", "LED-V1")


def write_large(path: Path, lights: int = 25, positions: int = 15) -> Path:
    lines = ["wbplan: 1", "title: Large", "camera: cfa-mid", "meter: {illuminance_percent: 4}"]
    lines += ["sources:", *(f"  light {n}: {{lamp: {LAMPS[n % 7]}}}" for n in range(lights))]
    lines += ["setups:", "  - name: Wide", "    shooting: {fps: 24, shutter_angle_deg: 180}"]
    lines += ["    positions:"]
    for place in range(positions):
        lux = (f"light {n}: {1 + (place * 7 + n * 13) % 90}" for n in range(lights))
        lines.append(f"      place {place}: {{lux: {{{', '.join(lux)}}}}}")
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")
    return path


def time_edits(benchmark: Any, session: Session, position: str, light: str, setup: int = 0) -> None:
    said = {"do": "lux", "setup": setup, "position": position, "light": light}
    lux = iter(range(50, 1000))

    def edit() -> None:
        session.edit(session.version, {**said, "lux": next(lux)})
        json.dumps(session.show())

    benchmark.pedantic(edit, rounds=15, warmup_rounds=2)
    report(benchmark, "import numpy over an edit", take_median(start("-c", "import numpy")))


def test_edit_of_the_demo(benchmark: Any, tmp_path: Path) -> None:
    for each in ("dusk_workshop.yaml", "workshop_panel.csv"):
        shutil.copy(find_shipped_folder("scenarios") / each, tmp_path)
    session = begin_session(str(tmp_path))
    time_edits(benchmark, session, "potter's face", "ceiling panels")


def test_edit_of_a_large_scenario(benchmark: Any, tmp_path: Path) -> None:
    session = Session(read_document(write_large(tmp_path / "large.yaml")))
    time_edits(benchmark, session, "place 3", "light 7")


@pytest.mark.parametrize("name", ["dusk_workshop"])
def test_ready_to_be_asked(benchmark: Any, name: str) -> None:
    code = f"from wbplan.front.open.start import begin_session; begin_session({name!r})"
    benchmark.pedantic(start("-c", code), rounds=5, warmup_rounds=1)
    report(benchmark, "import numpy over the start", take_median(start("-c", "import numpy")))
