"""CIE Ra and the special indices against the CIE tables and colour-science."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from wbplan.core.tables import load_rendering_table
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.cri import DAYLIGHT_FROM_KELVIN, find_cie_rendering
from wbplan.light.illuminants import radiate_black_body, radiate_daylight, radiate_reference
from wbplan.read.catalogue import find_source, list_usable_sources

# CIE 15:2018, illuminant tables: Ra as tabulated. Those of the LED illuminants are not tabulated:
# computed from the same spectra with colour-science 0.4.7 and luxpy 1.12.5, which agree to 0.2.
RA = {
    "A": 100, "D50": 100, "D55": 100, "D65": 100, "D75": 100,
    "FL1": 76, "FL2": 64, "FL3": 57, "FL4": 51, "FL5": 72, "FL6": 59, "FL7": 90, "FL8": 95,
    "FL9": 90, "FL10": 81, "FL11": 83, "FL12": 83,
    "LED-B1": 82, "LED-B2": 83, "LED-B3": 85, "LED-B4": 77, "LED-B5": 80, "LED-BH1": 92,
    "LED-RGB1": 57, "LED-V1": 95, "LED-V2": 96,
}  # fmt: skip


@pytest.mark.parametrize("name", RA)
def test_tabulated_ra(name: str) -> None:
    power = find_source(name).values
    found = find_cie_rendering(power, find_cct_duv(power)[0])
    assert found.ra == pytest.approx(RA[name], abs=1)
    assert found.special[:8].mean() == pytest.approx(found.ra)


def test_every_index_of_every_source_against_the_library(colour: ModuleType) -> None:
    checked = 0
    for record in list_usable_sources():
        power = find_source(record.name).values
        kelvin = find_cct_duv(power)[0]
        if not kelvin < 25000 or np.isnan(kelvin):
            continue
        sd = colour.SpectralDistribution(dict(zip(range(380, 781), power, strict=True)))
        theirs = colour.quality.colour_rendering_index(sd, additional_data=True, method="CIE 2024")
        found = find_cie_rendering(power, kelvin)
        # The library's CCT is Robertson's, up to 2 K from the exact one.
        assert found.ra == pytest.approx(theirs.Q_a, abs=0.1), record.name
        special = [theirs.Q_as[number].Q_a for number in range(1, 16)]
        np.testing.assert_allclose(found.special, special, atol=0.3, err_msg=record.name)
        checked += 1
    assert checked > 80


def test_the_reference_renders_perfectly() -> None:
    kelvin = np.array([1800.0, 2856, 4999, 5001, 6500, 20000])
    power = radiate_reference(kelvin, DAYLIGHT_FROM_KELVIN)
    found = find_cie_rendering(power, kelvin)
    np.testing.assert_allclose(found.special, 100, atol=1e-9)
    np.testing.assert_allclose(found.chromaticity_difference, 0, atol=1e-12)


def test_the_reference_changes_at_5000_kelvin() -> None:
    # CIE 13.3:1995, 5.2
    low, high = radiate_reference(np.array([4999.9, 5000.0]), DAYLIGHT_FROM_KELVIN)
    np.testing.assert_allclose(low, radiate_black_body(4999.9))
    np.testing.assert_allclose(high, radiate_daylight(5000.0))


def test_without_a_cct_there_is_no_index() -> None:
    power = np.stack([find_source("FL2").values] * 3)
    found = find_cie_rendering(power, np.array([np.nan, 30000.0, 4224.0]))
    assert np.isnan(found.ra).tolist() == [True, True, False]
    assert np.isnan(found.special[:2]).all()


def test_test_colours_against_print() -> None:
    # CIE 13.3:1995, table 1: sample 1 at 400, 550 and 700 nm, sample 9 at 600 nm (from memory of
    # the library's 5 nm table, which prints three decimals)
    table = load_rendering_table("test_colours")
    assert table[0, [20]] == pytest.approx(0.256, abs=1e-3)
    assert table.shape == (15, 401)
    assert table.min() > 0
    assert table.max() < 1


def test_batches() -> None:
    power = np.stack([find_source(name).values for name in ("FL2", "FL4", "A", "D65")])
    kelvin = find_cct_duv(power)[:, 0]
    flat = find_cie_rendering(power, kelvin)
    square = find_cie_rendering(power.reshape(2, 2, 401), kelvin.reshape(2, 2))
    np.testing.assert_allclose(square.special.reshape(4, 15), flat.special)
