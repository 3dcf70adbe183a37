"""Dominant wavelength and purity against colour-science and what single lines must give."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from wbplan.core.tables import load_table
from wbplan.light.colorimetry import find_xy
from wbplan.light.purity import EQUAL_ENERGY_XY, find_dominance
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.read.catalogue import find_source, list_usable_sources


@pytest.mark.parametrize("wavelength_nm", [420, 450, 485, 520, 560, 600, 650])
def test_a_single_line_is_its_own_dominant_wavelength(wavelength_nm: float) -> None:
    found = find_dominance(find_xy(np.where(wavelength_nm == WAVELENGTHS_NM, 1.0, 0.0)))
    assert found.wavelength_nm == pytest.approx(wavelength_nm, abs=0.02)
    assert found.purity == pytest.approx(1, abs=1e-6)
    assert not found.is_complementary


def test_every_source_against_the_library(colour: ModuleType) -> None:
    white = np.array(EQUAL_ENERGY_XY)
    for record in list_usable_sources()[::3]:
        xy = find_xy(find_source(record.name).values)
        found = find_dominance(xy)
        # The library gives the nearest whole wavelength, and the sign of a complement.
        theirs, _, _ = colour.dominant_wavelength(xy, white)
        purity = colour.excitation_purity(xy, white)
        assert found.wavelength_nm == pytest.approx(abs(theirs), abs=0.51), record.name
        assert bool(found.is_complementary) == (theirs < 0), record.name
        assert found.purity == pytest.approx(purity, abs=2e-3), record.name


def test_a_purple_is_named_by_its_complement(colour: ModuleType) -> None:
    power = np.where((WAVELENGTHS_NM == 445) | (WAVELENGTHS_NM == 640), [[1.0]], 0.0)[0]
    xy = find_xy(power)
    found = find_dominance(xy)
    assert found.is_complementary
    theirs, _, _ = colour.dominant_wavelength(xy, np.array(EQUAL_ENERGY_XY))
    assert theirs == pytest.approx(-float(found.wavelength_nm), abs=0.51)
    assert found.purity > 0.9


def test_white_has_no_dominant_wavelength() -> None:
    found = find_dominance(np.array([EQUAL_ENERGY_XY, find_xy(np.ones(401))]))
    assert np.isnan(found.wavelength_nm).all()
    np.testing.assert_array_equal(found.purity, 0)


def test_batches() -> None:
    lights = load_table("sources")[:6].reshape(2, 3, 401)
    whole = find_dominance(find_xy(lights))
    assert whole.purity.shape == (2, 3)
    one = find_dominance(find_xy(lights[1, 2]))
    assert whole.wavelength_nm[1, 2] == pytest.approx(float(one.wavelength_nm), abs=1e-9)
