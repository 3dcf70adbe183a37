"""How fast packs are searched: 6 lights of 30 options, and against trying every pack.

Run with ``python -m pytest tests/bench --benchmark-only -s``. Nothing here asserts a time.
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import pytest

from tests.bench.drive_trial import make_scene
from tests.mixed.test_search import make_problem
from wbplan.mixed.search import search_packs, try_every_pack


@pytest.mark.parametrize("seed", range(20))
def test_six_lights_of_thirty_options(benchmark: Any, seed: int) -> None:
    problem = make_problem(seed, lights=6, filters=29, places=5)
    result = benchmark.pedantic(search_packs, args=(problem,), rounds=3, warmup_rounds=1)
    benchmark.extra_info["packs"] = result.packs
    benchmark.extra_info["proven"] = result.exact
    best = min(each.left for each in result.found) ** 0.5
    print(
        f"\n{result.packs} packs in {benchmark.stats.stats.median:.2f} s, "
        f"{'proven' if result.exact else 'best found'}: {best:.2f} mired stay, "
        f"none under {result.bound[-1] ** 0.5:.2f}"
    )


@pytest.mark.parametrize("seed", range(5))
def test_two_fixtures_of_six_channels(benchmark: Any, seed: int) -> None:
    scene = make_scene(seed, (6, 6))
    lights = make_problem(seed, lights=2, filters=16, places=4).lights
    problem = replace(scene.problem, lights=lights)
    result = benchmark.pedantic(search_packs, args=(problem,), rounds=2)
    best = min(each.left for each in result.found) ** 0.5
    print(f"\n{benchmark.stats.stats.median:.2f} s, {best:.2f} mired stay")


def test_search_against_every_pack(benchmark: Any) -> None:
    problem = make_problem(1, lights=4, filters=29, places=5)
    result = benchmark.pedantic(search_packs, args=(problem,), rounds=3, warmup_rounds=1)
    began = time.perf_counter()
    every = try_every_pack(problem)
    ratio = (time.perf_counter() - began) / benchmark.stats.stats.median
    same = [each.picks for each in result.found] == [each.picks for each in every.found]
    benchmark.extra_info["every pack over search"] = round(ratio, 1)
    print(f"\n{every.packs} packs, {'the same' if same else 'NOT the same'}, {ratio:.1f} x as fast")
