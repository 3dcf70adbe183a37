"""Numbers that belong to what they are drawn for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import kstest

from wbplan.core.draws import draw_normals


def test_a_pair_has_the_same_numbers_in_any_company() -> None:
    many = draw_normals(7, 64, ["a", "b", "c"], ["x", "y"])
    assert (draw_normals(7, 64, ["c"], ["y", "z"])[0, 0] == many[2, 1]).all()
    assert not (draw_normals(8, 64, ["c"], ["y"])[0, 0] == many[2, 1]).all()
    swapped = draw_normals(7, 64, ["x"], ["a"])[0, 0]
    assert not (swapped == many[0, 0]).all()


def test_each_is_the_normal_distribution_and_no_two_go_together() -> None:
    count, marks = 256, [str(each) for each in range(14)]
    drawn = draw_normals(7, count, marks, marks).reshape(-1, count)
    middles = ndtri((np.arange(count) + 0.5) / count)  # scipy's inverse of the distribution
    assert np.sort(drawn, axis=1) == pytest.approx(np.tile(middles, (len(drawn), 1)), abs=1e-12)
    scores = np.corrcoef(drawn)[np.triu_indices(len(drawn), 1)] * np.sqrt(count - 1)
    assert kstest(scores, "norm").pvalue > 1e-3
