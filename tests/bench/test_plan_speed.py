"""How fast the whole command is, against what it must not be slower than.

Run with ``python -m pytest tests/bench --benchmark-only -s``. Ratios are taken within one run;
nothing here asserts a time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import find_locus_response, solve_coordinates
from wbplan.core.tables import load_table
from wbplan.read.catalogue import find_camera

QUIET = "import warnings; warnings.simplefilter('ignore'); import colour"


def start(*arguments: str) -> Callable[[], None]:
    def run() -> None:
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)

    return run


def take_median(run: Callable[[], None], rounds: int = 5) -> float:
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        run()
        times.append(time.perf_counter() - began)
    return float(np.median(times))


def report(benchmark: Any, what: str, other: float) -> None:
    ratio = other / benchmark.stats.stats.median
    benchmark.extra_info[what] = round(ratio, 2)
    print(f"\n{what}: {ratio:.2f}")


def test_help(benchmark: Any) -> None:
    benchmark.pedantic(start("-m", "wbplan", "--help"), rounds=9, warmup_rounds=1)
    report(benchmark, "0.25 s over --help", 0.25)


def measure_cpu(*arguments: str) -> float:
    """User and system time of a process of Python's [s], one thread of the matrix library."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    before = os.times()
    subprocess.run(
        [sys.executable, *arguments],
        env={**kept, "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"},
        check=True,
        stdout=subprocess.DEVNULL,
    )
    after = os.times()
    spent = zip(before, after, strict=True)
    user, system = [last - first for first, last in spent][2:4]  # of children
    return user + system


def test_cold_plan_of_the_demo(benchmark: Any, tmp_path: Path) -> None:
    plan = ("-m", "wbplan", "plan", "dusk_workshop", "--out", str(tmp_path / "o"), "--force")
    pairs = [(measure_cpu("-c", QUIET), measure_cpu(*plan)) for _ in range(1 + 7)]
    alone, whole = np.median(pairs[1:], axis=0)  # the first writes what the others load
    benchmark.extra_info["plan over import colour, CPU"] = round(whole / alone, 3)
    print(f"\nplan over import colour, CPU: {whole / alone:.3f} ({whole:.2f} s, {alone:.2f} s)")
    benchmark.pedantic(start(*plan), rounds=3)


def test_settings_of_ten_thousand_pairs(benchmark: Any, colour: ModuleType) -> None:
    lights = load_table("sources")
    lights = lights[np.isfinite(lights).all(axis=1)][:100]
    base = find_camera("cfa-mid", Path()).sensitivities
    generator = np.random.default_rng(1)
    cameras = base * np.exp(generator.normal(0, 0.05, (100, 1, 3)))

    def solve() -> None:
        locus = find_locus_response(cameras)
        solve_coordinates(locus, find_log2_response(respond(lights, cameras)))

    benchmark(solve)
    # One pair at a time: align the light and the camera's curves, and integrate; no solve at all.
    shape = colour.SpectralShape(380, 780, 1)
    camera = next(iter(colour.MSDS_CAMERA_SENSITIVITIES.values()))
    pairs = 20
    began = time.perf_counter()
    for light in list(colour.SDS_ILLUMINANTS.values())[:pairs]:
        power, curves = light.copy().align(shape), camera.copy().align(shape)
        (curves.values * power.values[:, None]).sum(axis=0)
    one_by_one = (time.perf_counter() - began) / pairs * lights.shape[0] * len(cameras)
    report(benchmark, "one at a time over one call, 10 000 pairs", one_by_one)
