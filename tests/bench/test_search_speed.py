"""How fast packs are searched, in CPU time, and against trying every pack.

Run with ``python -m pytest tests/bench --benchmark-only -s``. Nothing here asserts a time.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations_with_replacement
from statistics import median
from typing import Any

import numpy as np
import pytest

from tests.bench.drive_trial import make_scene
from tests.mixed.test_search import FILTERS, LIGHTS, make_options, make_problem, see
from wbplan.light.filters import stack_filters
from wbplan.mixed.gel_packs import Problem
from wbplan.mixed.search import search_packs, try_every_pack


def make_thirty(seed: int) -> Problem:
    """Make six lights of 30 options, at five places."""
    return make_problem(seed, lights=6, filters=29, places=5)


def make_stacked(seed: int, filters: int = 29) -> Problem:
    """Make six lights that may wear any two of so many filters, or one of them doubled."""
    problem = make_problem(seed, lights=6, filters=1, places=5)
    generator, view = np.random.default_rng(seed), see("cfa-mid")[0]
    lights = []
    for row in range(6):
        held = [FILTERS[each] for each in generator.permutation(len(FILTERS))[:filters]]
        lux = generator.lognormal(4, 1.3, 5) * (generator.random(5) < 0.7)
        groups = [g for size in (1, 2) for g in combinations_with_replacement(held, size)]
        worn = tuple(stack_filters(each) for each in groups)
        made = make_options(view, LIGHTS[row], worn, lux, float(lux[0]))
        lights.append(replace(made, changes=np.array([0, *(len(each) for each in groups)])))
    return replace(problem, lights=tuple(lights))


def make_two_fixtures(seed: int) -> Problem:
    """Make two fixtures of six channels and two lights of 17 options, at four places."""
    scene = make_scene(seed, (6, 6))
    lights = make_problem(seed, lights=2, filters=16, places=4).lights
    return replace(scene.problem, lights=lights)


@pytest.mark.parametrize("make", [make_thirty, make_stacked, make_two_fixtures])
def test_twenty_searches(benchmark: Any, make: Callable[[int], Problem]) -> None:
    def search() -> None:
        spent, proven = [], 0
        for seed in range(20):
            problem = make(seed)
            began = os.times()
            proven += search_packs(problem).exact
            now = os.times()
            spent.append(now.user + now.system - began.user - began.system)
        print(
            f"\n{make.__name__}: {median(spent):.2f} s of CPU at the median of 20, "
            f"{max(spent):.2f} at most; {proven} proven"
        )

    benchmark.pedantic(search, rounds=1)


def test_search_against_every_pack(benchmark: Any) -> None:
    problem = make_problem(1, lights=4, filters=29, places=5)
    result = benchmark.pedantic(search_packs, args=(problem,), rounds=3, warmup_rounds=1)
    began = time.perf_counter()
    every = try_every_pack(problem)
    ratio = (time.perf_counter() - began) / benchmark.stats.stats.median
    same = [each.picks for each in result.found] == [each.picks for each in every.found]
    benchmark.extra_info["every pack over search"] = round(ratio, 1)
    print(f"\n{every.packs} packs, {'the same' if same else 'NOT the same'}, {ratio:.1f} x as fast")
