"""Units of irradiance, as people write them."""

from __future__ import annotations

import math

import pytest

from wbplan.read.spectra.units import find_irradiance_factors, find_unit_factors

UNITS = {
    "W/m2/nm": 1.0,
    "irradiance (W/m²/nm)": 1.0,
    "Spectral irradiance [mW m⁻² nm⁻¹]": 1e-3,
    "uW/cm^2/nm": 1e-2,
    "µW/(cm²·nm)": 1e-2,
    "W·m-2·nm-1": 1.0,
    "W/(m2 nm)": 1.0,
    "W per m2 per nm": 1.0,
    "nW/cm2/nm": 1e-5,
    "irradiance_W/m2/nm": 1.0,
    "Unit: mW/m2/nm": 1e-3,
}
NO_UNITS = ["power", "W/m2/sr/nm", "W/nm", "lm/m2", "flow m2 nm", "380 nm", "", "W/m2/nms", "cm"]


@pytest.mark.parametrize("text", UNITS)
def test_units(text: str) -> None:
    (factor,) = find_unit_factors(text)
    assert factor == pytest.approx(UNITS[text])


@pytest.mark.parametrize("text", NO_UNITS)
def test_other_words_are_no_unit(text: str) -> None:
    assert find_unit_factors(text) == set()


def test_a_column_may_have_its_own_unit() -> None:
    found = find_irradiance_factors(("a", "b (W/m2/nm)"), ["measured in mW/m2/nm"])
    assert found == (1e-3, 1.0)


def test_two_units_above_the_numbers_settle_nothing() -> None:
    assert find_irradiance_factors(("a",), ["W/m2/nm", "mW/m2/nm"]) == ()
    one, two = find_irradiance_factors(("a", "b W/m2/nm"), ["W/m2/nm", "mW/m2/nm"])
    assert math.isnan(one)
    assert two == 1.0


@pytest.mark.parametrize("text", ["w m" + "per " * 30000, "w" * 100000, "w." * 50000, "μw" * 50000])
def test_hostile_text_costs_no_time(text: str) -> None:
    assert find_unit_factors(text) == set()
