"""CIELAB and CIEDE2000 against published pairs and colour-science."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.light.delta_e import find_delta_e_2000, find_lab

# Sharma, Wu and Dalal (2005), "The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations", table 1: L, a, b of both, Delta E 00.
PAIRS = """
 50.0000   2.6772 -79.7751    50.0000   0.0000 -82.7485    2.0425
 50.0000   3.1571 -77.2803    50.0000   0.0000 -82.7485    2.8615
 50.0000   2.8361 -74.0200    50.0000   0.0000 -82.7485    3.4412
 50.0000  -1.3802 -84.2814    50.0000   0.0000 -82.7485    1.0000
 50.0000  -1.1848 -84.8006    50.0000   0.0000 -82.7485    1.0000
 50.0000  -0.9009 -85.5211    50.0000   0.0000 -82.7485    1.0000
 50.0000   0.0000   0.0000    50.0000  -1.0000   2.0000    2.3669
 50.0000  -1.0000   2.0000    50.0000   0.0000   0.0000    2.3669
 50.0000   2.4900  -0.0010    50.0000  -2.4900   0.0009    7.1792
 50.0000   2.4900  -0.0010    50.0000  -2.4900   0.0010    7.1792
 50.0000   2.4900  -0.0010    50.0000  -2.4900   0.0011    7.2195
 50.0000   2.4900  -0.0010    50.0000  -2.4900   0.0012    7.2195
 50.0000  -0.0010   2.4900    50.0000   0.0009  -2.4900    4.8045
 50.0000  -0.0010   2.4900    50.0000   0.0010  -2.4900    4.8045
 50.0000  -0.0010   2.4900    50.0000   0.0011  -2.4900    4.7461
 50.0000   2.5000   0.0000    50.0000   0.0000  -2.5000    4.3065
 50.0000   2.5000   0.0000    73.0000  25.0000 -18.0000   27.1492
 50.0000   2.5000   0.0000    61.0000  -5.0000  29.0000   22.8977
 50.0000   2.5000   0.0000    56.0000 -27.0000  -3.0000   31.9030
 50.0000   2.5000   0.0000    58.0000  24.0000  15.0000   19.4535
 50.0000   2.5000   0.0000    50.0000   3.1736   0.5854    1.0000
 50.0000   2.5000   0.0000    50.0000   3.2972   0.0000    1.0000
 50.0000   2.5000   0.0000    50.0000   1.8634   0.5757    1.0000
 50.0000   2.5000   0.0000    50.0000   3.2592   0.3350    1.0000
 60.2574 -34.0099  36.2677    60.4626 -34.1751  39.4387    1.2644
 63.0109 -31.0961  -5.8663    62.8187 -29.7946  -4.0864    1.2630
 61.2901   3.7196  -5.3901    61.4292   2.2480  -4.9620    1.8731
 35.0831 -44.1164   3.7933    35.0232 -40.0716   1.5901    1.8645
 22.7233  20.0904 -46.6940    23.0331  14.9730 -42.5619    2.0373
 36.4612  47.8580  18.3852    36.2715  50.5065  21.2231    1.4146
 90.8027  -2.0831   1.4410    91.1528  -1.6435   0.0447    1.4441
 90.9257  -0.5406  -0.9208    88.6381  -0.8985  -0.7239    1.5381
  6.7747  -0.2908  -2.4247     5.8714  -0.0985  -2.2286    0.6377
  2.0776   0.0795  -1.1350     0.9033  -0.0636  -0.5514    0.9082
"""
TABLE = np.array([[float(word) for word in line.split()] for line in PAIRS.split("\n") if line])
D65 = np.array([0.95047, 1.0, 1.08883])


@pytest.mark.parametrize("row", range(len(TABLE)))
def test_published_pairs(row: int) -> None:
    first, second, wanted = TABLE[row, :3], TABLE[row, 3:6], TABLE[row, 6]
    assert find_delta_e_2000(first, second) == pytest.approx(wanted, abs=5.1e-5)
    assert find_delta_e_2000(second, first) == pytest.approx(wanted, abs=5.1e-5)


def test_the_table_is_whole_and_read_at_once() -> None:
    assert TABLE.shape == (34, 7)
    assert find_delta_e_2000(TABLE[:, :3], TABLE[:, 3:6]) == pytest.approx(TABLE[:, 6], abs=5.1e-5)


def test_against_colour_science(colour: ModuleType) -> None:
    generator = np.random.default_rng(2005)
    first = generator.uniform([0, -100, -100], [100, 100, 100], (5000, 3))
    second = first + generator.normal(0, 10, (5000, 3))
    theirs = colour.delta_E(first, second, method="CIE 2000")
    np.testing.assert_allclose(find_delta_e_2000(first, second), theirs, atol=1e-9)


def test_lab_against_colour_science(colour: ModuleType) -> None:
    xyz = np.random.default_rng(1).uniform(0, 1.2, (500, 3)) ** 3  # a third below the knee
    white_xy = colour.XYZ_to_xy(D65)
    theirs = colour.XYZ_to_Lab(xyz, white_xy)
    np.testing.assert_allclose(find_lab(xyz, D65), theirs, atol=1e-9)


def test_lab_of_known_colours() -> None:
    """CIE 15:2018, 8.2.1: white is 100, 0, 0, black is 0, 0, 0; 18.42 % is L* 50 (the formula)."""
    np.testing.assert_allclose(find_lab(D65, D65), [100, 0, 0], atol=1e-12)
    np.testing.assert_allclose(find_lab(0 * D65, D65), [0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(find_lab(0.184187 * D65, D65), [50, 0, 0], atol=1e-4)


def test_lab_of_negative_values_is_finite_and_goes_on_falling() -> None:
    falling = find_lab(np.linspace(0.02, -0.05, 50)[:, None] * D65, D65)[:, 0]
    assert np.isfinite(falling).all()
    assert (np.diff(falling) < 0).all()


LABS = st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120))


@given(LABS, LABS)
def test_a_difference_is_even_finite_and_zero_for_the_same(first: tuple, second: tuple) -> None:  # type: ignore[type-arg]
    one, other = np.array(first), np.array(second)
    assert find_delta_e_2000(one, one) == 0
    there, back = find_delta_e_2000(one, other), find_delta_e_2000(other, one)
    assert np.isfinite(there)
    assert there == pytest.approx(back, rel=1e-6, abs=1e-7)


def test_many_against_one() -> None:
    many = TABLE[:, :3].reshape(17, 2, 3)
    result = find_delta_e_2000(many, TABLE[3, 3:6])
    assert result.shape == (17, 2)
    assert result[1, 1] == pytest.approx(TABLE[3, 6], abs=5.1e-5)
