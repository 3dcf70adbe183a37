"""Lamps turned down: Planck's law solved another way, and the handbook's exponents beside it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.dimming import (
    find_dimmed_kelvin,
    find_dimmed_volts,
    find_handbook_kelvin,
    shape_dimming,
)
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux

C2_NM_K = 1.438776877e7


def radiate(kelvin: float) -> float:
    power = WAVELENGTHS_NM**-5.0 / np.expm1(C2_NM_K / (WAVELENGTHS_NM * kelvin))
    return float(find_illuminance_lux(power))


@pytest.mark.parametrize("kelvin", [2700.0, 3200.0, 3400.0])
@pytest.mark.parametrize("stops", [0.0, 0.5, 1.0, 2.0, 4.0])
def test_a_filament_cools_until_it_gives_so_much_less(kelvin: float, stops: float) -> None:
    wanted = radiate(kelvin) * 2.0**-stops
    solved = brentq(lambda each: radiate(each) - wanted, 1000.0, kelvin + 1.0)
    assert 1e6 / find_dimmed_kelvin(kelvin, stops) == pytest.approx(1e6 / solved, abs=0.01)


def test_the_handbooks_exponents() -> None:
    """Flux ~ V^3.4, colour temperature ~ V^0.42: Fink and Beaty, Standard Handbook for Electrical
    Engineers, 11th edition, 22-8 (from memory). At 95 % of the volts: 84 % of the light and
    97.9 % of the Kelvin.
    """
    stops = -np.log2(0.95**3.4)
    assert 2.0**-stops == pytest.approx(0.840, abs=5e-4)
    assert find_dimmed_volts(stops) == pytest.approx(0.95)
    assert find_handbook_kelvin(3200.0, stops) == pytest.approx(3132, abs=1)
    # near the rated volts of a studio lamp Planck's law, with no exponent in it, says the same
    assert find_dimmed_kelvin(3200.0, stops) == pytest.approx(3132, abs=2)
    assert find_dimmed_volts(0.0) == 1.0


@pytest.mark.parametrize(
    ("kelvin", "apart"), [(3200.0, (0.6, 3.6, 9.2)), (2800.0, (4.4, 11.6, 21.8))]
)
def test_how_far_the_two_are_apart_stands_in_the_module(
    kelvin: float, apart: tuple[float, ...]
) -> None:
    stops = np.array([1.0, 2.0, 3.0])
    gap = 1e6 / find_handbook_kelvin(kelvin, stops) - 1e6 / find_dimmed_kelvin(kelvin, stops)
    np.testing.assert_allclose(gap, apart, atol=0.1)


@given(stops=st.floats(0.0, 4.0), kelvin=st.floats(2600.0, 3400.0))
def test_a_dimmed_black_body_is_a_black_body(stops: float, kelvin: float) -> None:
    dimmed = radiate_black_body(kelvin) * shape_dimming(kelvin, stops)
    after = float(find_dimmed_kelvin(kelvin, stops))
    np.testing.assert_allclose(dimmed, radiate_black_body(after), rtol=1e-12)
    assert find_cct_duv(dimmed)[0] == pytest.approx(after, abs=0.5)
    assert 1e6 / after - 1e6 / kelvin == pytest.approx(27.4 * stops, abs=1.5)
