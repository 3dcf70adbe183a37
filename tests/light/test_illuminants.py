"""Lights that a formula gives, against the constants of physics and colour-science."""

from __future__ import annotations

import warnings
from types import ModuleType

import numpy as np
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.tables import load_table
from wbplan.light.colorimetry import find_xy
from wbplan.light.illuminants import (
    LOCUS_JOINTS_MIRED,
    SECOND_RADIATION_CONSTANT_NM_K,
    find_mired,
    radiate_black_body,
    radiate_daylight,
    radiate_locus,
    radiate_locus_piece,
)
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.read.catalogue import find_source

GRID = WAVELENGTHS_NM
AT_560 = int(np.searchsorted(GRID, 560))


# 1e6 / K (arithmetic)
@pytest.mark.parametrize(
    ("kelvin", "mired"), [(3200, 312.5), (5000, 200), (5500, 181.818), (6500, 153.846)]
)
def test_mired(kelvin: float, mired: float) -> None:
    assert find_mired(kelvin) == pytest.approx(mired, abs=5e-4)


@given(st.floats(1000, 25_000))
def test_mired_and_back(kelvin: float) -> None:
    assert find_mired(find_mired(kelvin)) == pytest.approx(kelvin, rel=1e-12)


# Black body ------------------------------------------------------------------------------------


def test_the_radiation_constant() -> None:
    # CODATA 2018, by way of scipy: h c / k, exact in the SI of 2019
    c2 = scipy.constants.value("second radiation constant") * 1e9
    assert pytest.approx(c2, rel=1e-9) == SECOND_RADIATION_CONSTANT_NM_K


@pytest.mark.parametrize("kelvin", [1000, 2856, 5500, 25_000])
def test_black_body_is_plancks_law(kelvin: float) -> None:
    # spectral exitance 2 pi h c^2 / lambda^5 / (exp(h c / lambda k T) - 1), in SI units
    h, c, k = scipy.constants.h, scipy.constants.c, scipy.constants.k
    metres = GRID * 1e-9
    exitance = 2 * np.pi * h * c**2 / metres**5 / np.expm1(h * c / (metres * k * kelvin))
    np.testing.assert_allclose(radiate_black_body(kelvin), exitance / exitance[AT_560], rtol=1e-7)


@pytest.mark.parametrize("kelvin", [1000, 2856, 5500, 25_000])
def test_black_body_against_the_library(colour: ModuleType, kelvin: float) -> None:
    # The library rounds the second radiation constant to 1.4388e-2 m K, which moves the ends of
    # the spectrum by 2e-4 at 1000 K.
    theirs = colour.sd_blackbody(kelvin, colour.SpectralShape(380, 780, 1)).values
    np.testing.assert_allclose(radiate_black_body(kelvin), theirs / theirs[AT_560], rtol=2.5e-4)


def test_wiens_displacement() -> None:
    # peak at 2.897771955e-3 m K / T (CODATA 2018)
    for kelvin in (4000, 5000, 6500):
        peak = GRID[radiate_black_body(kelvin).argmax()]
        assert peak == pytest.approx(2.897771955e6 / kelvin, abs=0.5)


def test_illuminant_a_is_a_black_body() -> None:
    # CIE 15:2018: A was defined at 2848 K with c2 = 1.435e-2 m K, so at 2848 x 1.4388 / 1.435 =
    # 2855.5 K with today's constant; x, y as tabulated.
    kelvin = 2848 * 1.4388 / 1.435
    assert kelvin == pytest.approx(2855.5, abs=0.1)
    np.testing.assert_allclose(find_xy(radiate_black_body(kelvin)), [0.4476, 0.4074], atol=2e-4)
    table = find_source("A").values
    ratio = table / radiate_black_body(kelvin)
    np.testing.assert_allclose(ratio / ratio[AT_560], 1.0, atol=1e-3)


# CIE daylight ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kelvin", [4000, 5000, 5503, 6504, 7000, 7001, 9300, 25_000])
def test_daylight_against_the_library(colour: ModuleType, kelvin: float) -> None:
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    sd = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False)
    on_grid = np.isin(sd.wavelengths, GRID)
    at_theirs = np.isin(GRID, sd.wavelengths)
    mine, theirs = radiate_daylight(kelvin), sd.values[on_grid]
    # the same formula on the same components: nothing but rounding of the last digits
    np.testing.assert_allclose(
        mine[at_theirs], theirs / theirs[sd.wavelengths[on_grid] == 560], atol=1e-10
    )


@pytest.mark.parametrize(
    ("kelvin", "xy"),
    [
        # CIE 15:2018, 4.1.2, x_D by hand from the formula; at 6504 K it gives y = 0.32912, which
        # is not D65's tabulated 0.3290
        (6504, (0.31271, 0.32912)),
        (5003, (0.34565, 0.35860)),
    ],
)
def test_chromaticity_that_the_daylight_formula_aims_at(
    kelvin: float, xy: tuple[float, float]
) -> None:
    # M1 and M2 by least squares from the spectrum, then the formula for them solved for x and y
    weights = np.linalg.lstsq(load_table("daylight"), radiate_daylight(kelvin) * 100, rcond=None)[0]
    assert weights[0] == pytest.approx(1)
    m1, m2 = weights[1:]
    left = [
        [0.2562 * m1 + 1.7703, -0.7341 * m1 - 5.9114],
        [0.2562 * m2 + 31.4424, -0.7341 * m2 - 30.0717],
    ]
    right = [-1.3515 - 0.0241 * m1, 0.0300 - 0.0241 * m2]
    np.testing.assert_allclose(np.linalg.solve(left, right), xy, atol=1.5e-5)


# Nominal kelvin x 1.4388 / 1.4380, and M1 and M2 rounded to three decimals in the tables, which
# is worth up to a tenth of a percent of the value at 560 nm (CIE 15:2018, 4.1.2).
@pytest.mark.parametrize("nominal", [5000, 5500, 6500, 7500])
def test_daylight_against_the_tables(nominal: int) -> None:
    table = find_source(f"D{nominal // 100}").values
    mine = radiate_daylight(nominal * 1.4388 / 1.4380)
    # between its 5 and 10 nm points the table says nothing, so it is read at every tenth
    points = slice(0, None, 10)
    np.testing.assert_allclose((table / table[AT_560])[points], mine[points], atol=1e-3)
    np.testing.assert_allclose(find_xy(table), find_xy(mine), atol=2e-4)


def test_daylight_is_one_at_560() -> None:
    assert radiate_daylight([4000, 6504, 25_000])[:, AT_560] == pytest.approx(1.0)


@pytest.mark.parametrize("kelvin", [3999.0, 25_001.0, [5000.0, 1000.0]])
def test_daylight_outside_its_range_is_refused(kelvin: float) -> None:
    with pytest.raises(ValueError, match="4000 to 25000 K"):
        radiate_daylight(kelvin)


# The reference locus ---------------------------------------------------------------------------


def test_the_locus_is_black_body_below_and_daylight_above() -> None:
    sight = load_table("photopic")
    for kelvin, light in (
        (1000, radiate_black_body(1000)),
        (3999, radiate_black_body(3999)),
        (5001, radiate_daylight(5001)),
        (12_000, radiate_daylight(12_000)),
    ):
        np.testing.assert_allclose(radiate_locus(kelvin), light / (light @ sight), rtol=1e-12)


def test_halfway_the_two_have_equal_luminance() -> None:
    # CIE 224:2017, 4.3; ANSI/IES TM-30-20: between 4000 and 5000 K the two, both at that
    # temperature and of equal Y, are mixed in proportion.
    sight = load_table("photopic")
    warm, cool = radiate_black_body(4500), radiate_daylight(4500)
    mixed = (warm / (warm @ sight) + cool / (cool @ sight)) / 2
    np.testing.assert_allclose(radiate_locus(4500), mixed, rtol=1e-12)


@pytest.mark.parametrize("kelvin", [3500, 4000, 4250, 4500, 4900, 5000, 6500])
def test_the_locus_against_the_library(colour: ModuleType, kelvin: float) -> None:
    # The reference illuminant of CIE 224:2017 as colour-science has it. It rounds M1 and M2 to
    # three decimals, worth up to 5e-4 x (S1 + S2) / 100 = 2.1e-4 of the value at 560 nm, and the
    # black body's constant to 1.4388e-2 m K, worth less than 1e-4. Between the 5 nm points of the
    # daylight components it runs a curve, where CIE 15:2018, 4.1.2 has straight lines.
    shape = colour.SpectralShape(360, 830, 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it says that it trims its observer
        sd = colour.quality.cfi2017.sd_reference_illuminant(kelvin, shape)
    theirs = sd.values[np.isin(sd.wavelengths, GRID)] / sd[560]
    mine = radiate_locus(kelvin)
    np.testing.assert_allclose((mine / mine[AT_560])[::5], theirs[::5], atol=3e-4)


@given(st.floats(1000, 25_000))
def test_the_locus_has_equal_luminance(kelvin: float) -> None:
    light = radiate_locus(kelvin)
    assert light @ load_table("photopic") == pytest.approx(1, rel=1e-12)
    assert (light >= 0).all()


@pytest.mark.parametrize("joint_mired", LOCUS_JOINTS_MIRED[1:-1])
def test_the_locus_has_no_step_at_its_joints(joint_mired: float) -> None:
    kelvin = 1e6 / joint_mired
    below, above = radiate_locus([kelvin * (1 - 1e-9), kelvin * (1 + 1e-9)])
    # At 7000 K the two published cubics for x_D differ by 1e-5 of the spectrum.
    np.testing.assert_allclose(below, above, rtol=2e-5)


def test_pieces_meet() -> None:
    for piece, joint in enumerate(LOCUS_JOINTS_MIRED[1:-1]):
        np.testing.assert_allclose(
            radiate_locus_piece(joint, piece), radiate_locus_piece(joint, piece + 1), rtol=2e-5
        )


def test_the_locus_in_batches() -> None:
    kelvin = np.array([[2000.0, 4500.0, 6000.0], [9000.0, 1000.0, 25_000.0]])
    lights = radiate_locus(kelvin)
    assert lights.shape == (2, 3, 401)
    for index in np.ndindex(kelvin.shape):
        np.testing.assert_allclose(lights[index], radiate_locus(kelvin[index]))
    assert radiate_black_body(kelvin).shape == (2, 3, 401)


@pytest.mark.parametrize("kelvin", [999.0, 25_001.0, [5000.0, 0.0]])
def test_the_locus_outside_its_range_is_refused(kelvin: float) -> None:
    with pytest.raises(ValueError, match="1000 to 25000 K"):
        radiate_locus(kelvin)
