"""Ends of intervals, held to numpy's own quantiles to the last bit."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.core.intervals import find_ends, find_quantile, make_interval


@pytest.mark.parametrize("share", [0.5, 0.8, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("count", [1, 2, 3, 64, 255, 256, 257, 1000])
def test_ends_are_numpys_quantiles(share: float, count: int) -> None:
    draws = np.random.default_rng(count).normal(size=(5, 3, count))
    draws[0, 0] = 7.0
    wanted = np.quantile(draws, [(1 - share) / 2, (1 + share) / 2], axis=-1)
    for mine, theirs in zip(find_ends(draws, share), wanted, strict=True):
        np.testing.assert_array_equal(mine, theirs)
    np.testing.assert_array_equal(find_quantile(draws, share), np.quantile(draws, share, axis=-1))


def test_a_draw_that_is_no_number_leaves_no_end() -> None:
    draws = np.array([[1.0, np.nan, 3.0], [1.0, 2.0, 3.0]])
    low, high = find_ends(draws)
    assert np.isnan([low[0], high[0]]).all()
    assert low[1] < high[1]
    assert np.isnan(find_quantile(draws, 0.5)).tolist() == [True, False]


def test_the_value_lies_in_its_interval() -> None:
    made = make_interval(5.0, np.array([1.0, 2.0]))
    assert (made.low, made.high) == (1.05, 5.0)
    assert not make_interval(5.0, None).is_open
