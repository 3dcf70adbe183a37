"""The surfaces that pages show, chosen again with colour-science and held against the datasets."""

from __future__ import annotations

from types import ModuleType

import numpy as np

from wbplan.core.tables import load_table
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.light.surfaces import GREY_ROW, GREY_ROWS, HUE_ROWS, SKIN_ROWS, list_surfaces

NAMES, REFLECTANCES = list_surfaces()


def at(wavelength_nm: float) -> int:
    return int(np.searchsorted(WAVELENGTHS_NM, wavelength_nm))


def find_lab(colour: ModuleType, reflectances: np.ndarray) -> np.ndarray:
    """CIELAB under D65 for the 1931 observer, by colour-science."""
    shape = colour.SpectralShape(380, 780, 1)
    sds = colour.MultiSpectralDistributions(reflectances.T, shape.wavelengths)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape)
    xyz = colour.msds_to_XYZ(sds, observer, light, method="Integration", shape=shape) / 100
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    return np.asarray(colour.XYZ_to_Lab(xyz, white))


def test_all_are_named_and_in_order() -> None:
    assert len(set(NAMES)) == len(NAMES) == len(REFLECTANCES) == 22
    assert [*GREY_ROWS, *SKIN_ROWS, *HUE_ROWS] == list(range(22))
    assert NAMES[GREY_ROW] == "grey 18 %"
    assert REFLECTANCES.min() > 0
    assert REFLECTANCES.max() < 1


def test_greys_are_flat_and_a_stop_apart() -> None:
    greys = REFLECTANCES[GREY_ROWS.start : GREY_ROWS.stop]
    np.testing.assert_allclose(np.ptp(greys, axis=1), 0, atol=1e-15)
    np.testing.assert_allclose(np.log2(greys[:, 0] / 0.18), [-2, -1, 0, 1, 2])


def test_hues_are_chosen_by_the_rule(colour: ModuleType) -> None:
    # Every 30 degrees of hue the most colourful of the 99 samples within 7.5 degrees.
    samples = load_table("samples")
    _, a, b = find_lab(colour, samples).T
    hue, chroma = np.degrees(np.arctan2(b, a)), np.hypot(a, b)
    for step, row in enumerate(HUE_ROWS):
        apart = np.abs((hue - 30 * step + 180) % 360 - 180)
        best = np.argmax(np.where(apart <= 7.5, chroma, 0))
        np.testing.assert_array_equal(REFLECTANCES[row], samples[best])
        assert NAMES[row] == f"hue {30 * step}°"


def test_skins_go_in_even_steps_from_dark_to_light(colour: ModuleType) -> None:
    # Of a hundred people the nearest to each step.
    skins = REFLECTANCES[SKIN_ROWS.start : SKIN_ROWS.stop]
    lightness, a, b = find_lab(colour, skins).T
    np.testing.assert_allclose(
        lightness, np.linspace(lightness[0], lightness[-1], len(skins)), atol=1
    )
    assert lightness[-1] - lightness[0] > 25
    # Hue of skin lies between red and yellow, at some 45 to 70 degrees, whatever its lightness
    # (common practice, no source).
    hue = np.degrees(np.arctan2(b, a))
    assert ((hue > 40) & (hue < 75)).all()


def test_skins_are_skin() -> None:
    # Blood: oxyhaemoglobin absorbs most at 542 and 577 nm and less between them (Prahl 1998,
    # tabulated molar extinction), so light skin has a bump at 560 between two dips.
    light = REFLECTANCES[SKIN_ROWS.stop - 1]
    bump = light[at(560)]
    assert bump > light[at(542)]
    assert bump > light[at(577)]
    # Red passes the skin, blue does not (melanin absorbs more towards blue; Jacques 1998).
    skins = REFLECTANCES[SKIN_ROWS.start : SKIN_ROWS.stop]
    assert (skins[:, at(680)] > 1.5 * skins[:, at(460)]).all()


def test_skins_are_those_of_the_published_table() -> None:
    # Cooksey, Allen and Tsai 2017, doi:10.18434/M38597: the means of people 44, 17, 70, 26 and 42
    # at 550 nm.
    skins = REFLECTANCES[SKIN_ROWS.start : SKIN_ROWS.stop, at(550)]
    np.testing.assert_allclose(skins, [0.1136, 0.1699, 0.2302, 0.3047, 0.4162], atol=1e-6)
