"""A flash over time, against the exponential's own figures and a numerical sum."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.exposure.burst import Burst, find_caught_share, find_fade_s


def test_both_durations_are_of_one_flash() -> None:
    # exp(-t / tau) is 0.5 at tau ln 2 and 0.1 at tau ln 10: t0.1 is 3.32 times t0.5 (arithmetic;
    # what makers state as about three times, common practice, no source)
    assert find_fade_s(0.001, 0.5) == pytest.approx(find_fade_s(0.00332193, 0.1), rel=1e-6)
    assert Burst(find_fade_s(0.0033, 0.1)).span_s == pytest.approx(0.0033)


# Caught by t0.5 is 1/2, by t0.1 nine tenths (the integral of an exponential).
@pytest.mark.parametrize(("share", "caught"), [(0.5, 0.5), (0.1, 0.9)])
def test_what_its_duration_catches(share: float, caught: float) -> None:
    burst = Burst(find_fade_s(0.002, share))
    assert find_caught_share(burst, 0.002) == pytest.approx(caught)


def test_pops_against_a_sum_over_time() -> None:
    burst = Burst(0.001, pops=4, gap_s=0.0025)
    step = 1e-6
    time = (np.arange(60_000) + 0.5) * step
    light = np.zeros_like(time)
    for pop in range(4):
        after = time - pop * 0.0025
        light += np.where(after > 0, np.exp(-np.maximum(after, 0) / 0.001), 0.0)
    for exposure in (0.002, 0.006, 0.0125, 0.05):
        caught = light[time < exposure].sum() / light.sum()
        assert find_caught_share(burst, exposure) == pytest.approx(caught, abs=1e-3)


def test_an_instant_flash_is_whole() -> None:
    assert find_caught_share(Burst(), np.array([1e-4, 0.02])).tolist() == [1.0, 1.0]
