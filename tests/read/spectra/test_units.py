"""Units of spectral power as people write them, and what a column is by its words."""

from __future__ import annotations

import math

import pytest

from wbplan.read.spectra.quantities import judge_columns
from wbplan.read.spectra.units import find_units

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


MILLIWATTS = [
    *("mW/nm/m2", "mW/(nm·m2)", "mW nm-1 m-2", "mW·nm^-1·m^-2", "mW/nm·m²", "mW/nm/m^2"),
    *("mWm-2nm-1", "mW*m**-2*nm**-1", "mW per nm per m2", "mW/m2-nm", "mW/m²·nm", "mW/sqm/nm"),
    *("milliwatts per square metre per nanometre", "mW.m-2.nm-1", "mW m^{-2} nm^{-1}"),
    *("mW m^(-2) nm^(-1)", "mW/m2 / nm", "mW_per_m2_per_nm", "mW/m2.nm", "mW m⁻² nm⁻¹"),
    *("mW/[m2 nm]", "[mW/m**2/nm]", "mW/m2/nm", "mW/(m^2*nm)", "mW nm⁻¹ m⁻²", "mW/m²/nm"),
    *("mW m−2 nm−1", "W/m2/um", "milliwatt/m2/nm", "mW / (m2 · nm)"),
]
PHOTONS = {
    "umol m-2 s-1 nm-1": 1e-6,
    "µmol/s/m2/nm": 1e-6,
    "µmol photons m⁻² s⁻¹ nm⁻¹": 1e-6,
    "micromoles per square meter per second per nm": 1e-6,
    "photons/s/cm2/nm": 1e4 / 6.02214076e23,
    "quanta cm-2 s-1 nm-1": 1e4 / 6.02214076e23,
}


@pytest.mark.parametrize("text", UNITS)
def test_units(text: str) -> None:
    (found,) = find_units(text)
    assert found == ("irradiance", pytest.approx(UNITS[text]))


@pytest.mark.parametrize("text", MILLIWATTS)
def test_every_way_to_write_a_unit(text: str) -> None:
    (found,) = find_units(text)
    assert found == ("irradiance", pytest.approx(1e-3))


@pytest.mark.parametrize("text", PHOTONS)
def test_photons(text: str) -> None:
    (found,) = find_units(f"Values in {text}")
    assert found == ("photon irradiance", pytest.approx(PHOTONS[text]))


@pytest.mark.parametrize("text", ["W/m2/sr/nm", "W/sr/m2/nm", "mW sr-1 m-2 nm-1", "W/(m²·sr·nm)"])
def test_radiance_is_no_irradiance(text: str) -> None:
    (found,) = find_units(text)
    assert found.quantity == "radiance"


@pytest.mark.parametrize("text", NO_UNITS)
def test_other_words_are_no_unit(text: str) -> None:
    assert find_units(text) <= {("radiance", 1.0), ("flux", 1.0)}


def test_a_column_may_have_its_own_unit() -> None:
    found = judge_columns(("a", "b (W/m2/nm)"), ["measured in mW/m2/nm"])
    assert [each.factor for each in found] == [1e-3, 1.0]


def test_two_units_above_the_numbers_settle_nothing() -> None:
    (only,) = judge_columns(("a",), ["W/m2/nm", "mW/m2/nm"])
    assert math.isnan(only.factor)
    one, two = judge_columns(("a", "b W/m2/nm"), ["W/m2/nm", "mW/m2/nm"])
    assert math.isnan(one.factor)
    assert two.factor == 1.0


def test_a_relative_column_has_no_unit() -> None:
    for label in ("Normalised", "relative", "norm.", "second"):
        unit, bare = judge_columns(("lamp W/m2/nm", label), [])
        assert (unit.factor, bare.name) == (1.0, "relative")
        assert math.isnan(bare.factor)


WORDS = {
    "log10(W/m2/nm)": "a logarithm",
    "log irradiance": "a logarithm",
    "level (dB)": "a logarithm",
    "counts": "raw counts",
    "ADU": "raw counts",
    "T (%)": "",
    "Transmission %": "transmittance",
    "OD": "optical density",
    "Optical density": "optical density",
    "Absorbance": "absorbance",
    "photon flux density": "photons",
    "quantum": "photons",
    "radiance (W/m2/nm)": "radiance",
    "Kitchen lamp": "",
    "catalogue": "",
    "country": "",
    "spectral sensitivity": "a sensitivity",
}


@pytest.mark.parametrize("label", WORDS)
def test_words_of_a_label(label: str) -> None:
    (found,) = judge_columns((label,), [])
    assert found.name == WORDS[label]


LINES = {
    "Saturated: yes": "a saturated reading",
    "saturation,1": "a saturated reading",
    "Saturated: no": "",
    "Saturation: 43 %": "",
    "not saturated": "",
    "uncalibrated": "an uncalibrated reading",
    "Calibration: none": "an uncalibrated reading",
    "Calibrated: no": "an uncalibrated reading",
    "Calibration: 2026-02-01": "",
    "Unit: counts": "raw counts",
    "Sensor: raw quantum transmission": "",
    "Title: through 30 % transmission": "",
    "Quantity: photon flux density": "photons",
    "spectral transmittance of a sheet": "transmittance",
    "Noise: 40 dB": "",
}


@pytest.mark.parametrize("line", LINES)
def test_words_above_the_numbers(line: str) -> None:
    (found,) = judge_columns(("",), [line])
    assert found.name == LINES[line]


@pytest.mark.parametrize("text", ["w m" + "per " * 30000, "w" * 100000, "w." * 50000, "μw" * 50000])
def test_hostile_text_costs_no_time(text: str) -> None:
    assert find_units(text) == set()
    judge_columns((text,), [text])
