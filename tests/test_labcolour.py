"""CIELAB and CIEDE2000 against printed pairs and colour-science."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.labcolour import find_ciede2000, find_lab

# Sharma, Wu and Dalal (2005), table 1: pairs that catch the usual mistakes (hue of near-greys, hue
# means across 0 degrees, the blue rotation); from memory of the printed table.
PAIRS = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
    ((50.0, 2.8361, -74.0200), (50.0, 0.0, -82.7485), 3.4412),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0009), 7.1792),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0011), 7.2195),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((63.0109, -31.0961, -5.8663), (62.8187, -29.7946, -4.0864), 1.2630),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("one", "two", "difference"), PAIRS)
def test_printed_pairs(one: tuple[float, ...], two: tuple[float, ...], difference: float) -> None:
    assert find_ciede2000(one, two) == pytest.approx(difference, abs=5e-5)
    assert find_ciede2000(two, one) == pytest.approx(difference, abs=5e-5)


def test_thousands_of_pairs_against_the_library(colour: ModuleType) -> None:
    random = np.random.default_rng(5)
    one = random.normal(0, 1, (4000, 3)) * [20, 40, 40] + [50, 0, 0]
    two = np.where(np.arange(4000)[:, None] % 2, random.permutation(one), one + 3)
    two[::17, 1:] = 0
    theirs = colour.delta_E(one, two, method="CIE 2000")
    np.testing.assert_allclose(find_ciede2000(one, two), theirs, atol=1e-9)


def test_lab_against_the_library(colour: ModuleType) -> None:
    random = np.random.default_rng(6)
    xyz = random.uniform(0, 1, (500, 3)) ** 4
    white = np.array([0.9643, 1.0, 0.8251])
    theirs = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
    np.testing.assert_allclose(find_lab(xyz, white), theirs, atol=2e-3)


def test_lab_of_white_black_and_a_little_less_than_nothing() -> None:
    white = np.array([0.9, 1.0, 1.1])
    np.testing.assert_allclose(find_lab(white, white), [100, 0, 0], atol=1e-12)
    np.testing.assert_allclose(find_lab(np.zeros(3), white), 0, atol=1e-12)
    assert np.isfinite(find_lab(-0.05 * white, white)).all()


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=3))
def test_no_difference_from_itself(lab: list[float]) -> None:
    assert find_ciede2000(lab, lab) == 0
