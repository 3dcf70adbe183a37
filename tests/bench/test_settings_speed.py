"""Ten thousand lights asked for their settings in one call, and the same one at a time.

Run with ``python -m pytest tests/bench --benchmark-only -s -o addopts=""``. Ratios are printed;
nothing is asserted about time, but that both ways agree.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

import wbplan

COUNT, ALONE = 10_000, 20


def mix_lights(count: int) -> np.ndarray:
    """Mix pairs of tabulated sources by random shares: as unlike as lights come."""
    generator = np.random.default_rng(1)
    names = [name for name, *_ in wbplan.list_known("sources")]
    table = np.stack([each.values for each in wbplan.read_spectra(names)])
    picks = generator.integers(0, len(table), (count, 2))
    share = generator.uniform(0, 1, (count, 1))
    return np.asarray(share * table[picks[:, 0]] + (1 - share) * table[picks[:, 1]])


@pytest.mark.parametrize("band", [None, 0.9])
def test_many_lights_in_one_call(benchmark: BenchmarkFixture, band: float | None) -> None:
    camera, lights = wbplan.find_camera("cfa-mid"), mix_lights(COUNT)
    found = benchmark.pedantic(
        wbplan.solve_settings, args=(camera, lights, band), rounds=1, iterations=1
    )
    began = time.perf_counter()
    alone = [wbplan.solve_settings(camera, each, band) for each in lights[:ALONE]]
    each_s = (time.perf_counter() - began) / ALONE
    kelvin = np.array([one.kelvin[0] for one in alone])
    np.testing.assert_allclose(kelvin, found.kelvin[:ALONE], rtol=1e-9)
    whole_s = benchmark.stats.stats.mean
    print(
        f"\n{COUNT} lights, band {band}: {whole_s:.2f} s in one call, "
        f"{each_s * COUNT:.0f} s one at a time ({each_s * COUNT / whole_s:.0f} times)"
    )
