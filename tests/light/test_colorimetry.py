"""Chromaticity, CCT and Duv against the CIE tables, worked examples and colour-science."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.tables import load_table
from wbplan.light.colorimetry import (
    find_cct_duv,
    find_tristimulus,
    find_uv_prime,
    find_white_xyz,
    find_xy,
)
from wbplan.light.filters import make_ideal_filter
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import WAVELENGTHS_NM, resample
from wbplan.read.catalogue import find_source, list_usable_sources
from wbplan.read.spectra.upright import read_table

GRID = WAVELENGTHS_NM

# CIE 15:2018, illuminant tables: x, y and CCT [K] as tabulated. Duv, defined by Ohno (2013), is
# not in the tables: computed from the same spectra with colour-science 0.4.7 and luxpy 1.12.5,
# which agree to the four decimals given here.
ILLUMINANTS: dict[str, tuple[float, float, float, float]] = {
    "A": (0.4476, 0.4074, 2856, 0.0000),
    "D50": (0.3457, 0.3585, 5003, +0.0032),
    "D55": (0.3324, 0.3474, 5503, +0.0033),
    "D65": (0.3127, 0.3290, 6504, +0.0032),
    "D75": (0.2990, 0.3149, 7504, +0.0031),
    "FL1": (0.3131, 0.3371, 6430, +0.0071),
    "FL2": (0.3721, 0.3751, 4230, +0.0018),
    "FL3": (0.4091, 0.3941, 3450, +0.0007),
    "FL4": (0.4402, 0.4031, 2940, -0.0008),
    "FL5": (0.3138, 0.3452, 6350, +0.0107),
    "FL6": (0.3779, 0.3882, 4150, +0.0060),
    "FL7": (0.3129, 0.3292, 6500, +0.0032),
    "FL8": (0.3458, 0.3586, 5000, +0.0032),
    "FL9": (0.3741, 0.3727, 4150, 0.0000),
    "FL10": (0.3458, 0.3588, 5000, +0.0033),
    "FL11": (0.3805, 0.3769, 4000, 0.0000),
    "FL12": (0.4370, 0.4042, 3000, 0.0000),
    "LED-B1": (0.4560, 0.4078, 2733, -0.0007),
    "LED-B2": (0.4357, 0.4012, 2998, -0.0010),
    "LED-B3": (0.3756, 0.3723, 4103, -0.0007),
    "LED-B4": (0.3422, 0.3502, 5109, +0.0005),
    "LED-B5": (0.3118, 0.3236, 6598, +0.0009),
    "LED-BH1": (0.4474, 0.4066, 2851, -0.0003),
    "LED-RGB1": (0.4557, 0.4211, 2840, +0.0043),
    "LED-V1": (0.4548, 0.4044, 2724, -0.0019),
    "LED-V2": (0.3781, 0.3775, 4070, +0.0010),
}


def check_illuminant(name: str, power: np.ndarray) -> None:
    x, y, cct_kelvin, duv = ILLUMINANTS[name]
    np.testing.assert_allclose(find_xy(power), [x, y], atol=2e-4)
    found_cct, found_duv = find_cct_duv(power)
    assert found_cct == pytest.approx(cct_kelvin, rel=2e-3)
    # the tabled Duv is rounded to four decimals, half a unit of which is 5e-5
    assert found_duv == pytest.approx(duv, abs=2e-4)


@pytest.mark.parametrize("name", ILLUMINANTS)
def test_standard_illuminants_of_the_catalogue(name: str) -> None:
    check_illuminant(name, find_source(name).values)


@pytest.mark.parametrize("name", ILLUMINANTS)
def test_standard_illuminants_from_a_file_at_five_nanometres(
    colour: ModuleType, tmp_path: Path, name: str
) -> None:
    sd = colour.SDS_ILLUMINANTS[name]
    rows = (sd.wavelengths % 5 == 0) & (sd.wavelengths >= 380) & (sd.wavelengths <= 780)
    assert (np.diff(sd.wavelengths[rows]) == 5).all()
    path = tmp_path / "light.csv"
    points = zip(sd.wavelengths[rows], sd.values[rows].tolist(), strict=True)
    lines = [f"{x:g},{y!r}" for x, y in points]
    path.write_text("\n".join(["wavelength_nm,power", *lines]) + "\n")
    table = read_table(path)
    power, notes = resample(table.wavelength_nm, table.values[:, 0])
    assert notes == ()
    check_illuminant(name, power)


# The Planckian locus of the 1931 observer, computed with colour-science and luxpy.
@pytest.mark.parametrize(("kelvin", "xy"), [(3200, (0.42336, 0.39895)), (5600, (0.33020, 0.33908))])
def test_planckian_points(kelvin: float, xy: tuple[float, float]) -> None:
    np.testing.assert_allclose(find_xy(radiate_black_body(kelvin)), xy, atol=5e-5)


@given(st.floats(1100, 50_000))
def test_a_black_body_has_its_own_temperature(kelvin: float) -> None:
    cct, duv = find_cct_duv(radiate_black_body(kelvin))
    assert cct == pytest.approx(kelvin, rel=1e-6)
    assert abs(duv) < 1e-9


# Lights of a wanted chromaticity -----------------------------------------------------------------


def make_light(u: float, v: float) -> np.ndarray:
    """Make three lines whose mixture has the 1960 chromaticity u, v."""
    xyz = np.array([1.5 * u / v, 1.0, (4 - u - 10 * v) / (2 * v)])
    lines = np.isin(GRID, [440.0, 550.0, 650.0])
    power = np.zeros(GRID.size)
    power[lines] = np.linalg.solve(load_table("observer")[lines].T, xyz)
    assert (power >= 0).all()
    return power


def find_uv(x: float, y: float) -> tuple[float, float]:
    scale = -2 * x + 12 * y + 3
    return 4 * x / scale, 6 * y / scale


def find_theirs(colour: ModuleType, uv: tuple[float, float]) -> tuple[float, float]:
    """Ask the library, its observer cut to the grid, so that both have the same locus."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy()
    observer.trim(colour.SpectralShape(380, 780, 1))
    cct, duv = colour.temperature.uv_to_CCT_Ohno2013(np.array(uv), observer)
    return float(cct), float(duv)


def test_the_worked_example_of_ohno() -> None:
    # Ohno (2013), as the documentation of colour-science has it: uv to CCT and Duv. Its locus is
    # integrated from 360 to 830 nm; the range that meters read, 380 to 780 nm, moves the
    # locus there by 2 K, which is 0.05 mired, and 2e-5 of Duv.
    cct, duv = find_cct_duv(make_light(0.1977999, 0.3122004))
    assert 1e6 / cct == pytest.approx(1e6 / 6507.43, abs=0.05)
    assert duv == pytest.approx(0.003224, abs=2e-5)


# 2.3 K and 1.5e-5 is how far colour-science and luxpy are apart at most, over 52 CIE spectra.
@pytest.mark.parametrize("cct_kelvin", [2700, 3200, 4000, 5000, 6500, 10_000])
@pytest.mark.parametrize("duv", [-0.02, -0.005, 0.0, 0.005, 0.02])
def test_cct_and_duv_against_the_library(colour: ModuleType, cct_kelvin: float, duv: float) -> None:
    uv = colour.temperature.CCT_to_uv_Ohno2013([cct_kelvin, duv])
    found_cct, found_duv = find_cct_duv(make_light(*uv))
    theirs_cct, theirs_duv = find_theirs(colour, uv)
    assert found_cct == pytest.approx(theirs_cct, abs=2.3)
    assert found_duv == pytest.approx(theirs_duv, abs=1.5e-5)


def test_every_usable_source_against_the_library(colour: ModuleType) -> None:
    compared = 0
    for record in list_usable_sources():
        power = find_source(record.name).values
        cct, duv = find_cct_duv(power)
        if not np.isfinite(cct):
            continue
        x, y = (float(value) for value in find_xy(power))
        theirs_cct, theirs_duv = find_theirs(colour, find_uv(x, y))
        assert cct == pytest.approx(theirs_cct, abs=2.3), record.name
        assert duv == pytest.approx(theirs_duv, abs=1.5e-5), record.name
        compared += 1
    assert compared > 80


def test_duv_is_positive_on_the_green_side() -> None:
    for kelvin in (2500, 3200, 5600, 8000):
        light = radiate_black_body(kelvin)
        assert find_cct_duv(light * make_ideal_filter(green_cc=15).transmittance)[1] > 1e-3
        assert find_cct_duv(light * make_ideal_filter(green_cc=-15).transmittance)[1] < -1e-3


# CIE 15:2018, 9.5: a correlated colour temperature means nothing where Duv passes 0.05.
@pytest.mark.parametrize("wavelength_nm", [450, 520, 546, 650])
def test_a_single_line_has_no_cct(wavelength_nm: float) -> None:
    cct, _ = find_cct_duv(np.where(wavelength_nm == GRID, 1.0, 0.0))
    assert np.isnan(cct)


def test_a_green_line_has_a_duv_all_the_same() -> None:
    _, duv = find_cct_duv(np.where(GRID == 520, 1.0, 0.0))
    assert duv > 0.05


@pytest.mark.parametrize("duv", [0.049, 0.051, -0.049, -0.051])
def test_a_cct_ends_where_duv_passes_a_twentieth(duv: float) -> None:
    """CIE 15:2018, 9.5: 0.05 in 1960 u, v, here across the locus of a 4000 K black body.

    u = 4x / (12y - 2x + 3), v = 6y / (12y - 2x + 3), and three lines mixed by a linear solve.
    """

    def find_uv_of(kelvin: float) -> np.ndarray:
        x, y, z = radiate_black_body(kelvin) @ load_table("observer")
        return np.array([4 * x, 6 * y]) / (x + 15 * y + 3 * z)

    along = find_uv_of(3990.0) - find_uv_of(4010.0)  # towards red, so up is to the left of it
    u, v = find_uv_of(4000.0) + duv * np.array([-along[1], along[0]]) / np.hypot(*along)
    wanted = np.array([1.5 * u, v, 2.0 - 0.5 * u - 5.0 * v]) / v  # X, Y, Z with Y = 1
    lines = np.isin(GRID, 460) * 1.0, np.isin(GRID, 540) * 1.0, np.isin(GRID, 610) * 1.0
    share = np.linalg.solve((np.stack(lines) @ load_table("observer")).T, wanted)
    cct, found = find_cct_duv(share @ np.stack(lines))
    assert found == pytest.approx(duv, abs=1e-5)
    if abs(duv) < 0.05:
        assert cct == pytest.approx(4000.0, abs=1.0)
    else:
        assert np.isnan(cct)


def test_lights_beyond_the_ends_have_no_cct() -> None:
    # bluer than a black body without limit: short waves against its lambda^-4
    assert np.isnan(find_cct_duv((500 / GRID) ** 8)[0])
    assert np.isnan(find_cct_duv(radiate_black_body(900))[0])


# Chromaticity -----------------------------------------------------------------------------------


def test_equal_energy_is_at_a_third() -> None:
    # CIE 15:2018: illuminant E has x = y = 1/3 (0.33334, 0.33331 from the table's digits)
    np.testing.assert_allclose(find_xy(np.ones(401)), 1 / 3, atol=2e-5)


def test_tristimulus_of_a_line_is_the_observer() -> None:
    np.testing.assert_allclose(find_tristimulus(np.eye(401)), load_table("observer"))


def test_uniform_chromaticity_against_the_library(colour: ModuleType) -> None:
    xy = np.array([values[:2] for values in ILLUMINANTS.values()])
    np.testing.assert_allclose(find_uv_prime(xy), colour.xy_to_Luv_uv(xy), rtol=1e-12)


def test_uniform_chromaticity_of_d65() -> None:
    # CIE 15:2018, D65: u' = 0.1978, v' = 0.4683 as tabulated
    np.testing.assert_allclose(find_uv_prime([0.3127, 0.3290]), [0.1978, 0.4683], atol=1e-4)


@given(scale=st.floats(1e-6, 1e6), name=st.sampled_from(list(ILLUMINANTS)))
def test_level_does_not_count(scale: float, name: str) -> None:
    power = find_source(name).values
    np.testing.assert_allclose(find_xy(power * scale), find_xy(power), rtol=1e-9)
    np.testing.assert_allclose(
        find_cct_duv(power * scale), find_cct_duv(power), rtol=1e-6, atol=1e-9
    )


def test_batches() -> None:
    lights = np.stack([find_source(name).values for name in ("A", "D65", "FL2", "FL11")])
    pairs = lights.reshape(2, 2, 401)
    assert find_tristimulus(pairs).shape == (2, 2, 3)
    assert find_xy(pairs).shape == find_cct_duv(pairs).shape == (2, 2, 2)
    for row in range(4):
        np.testing.assert_allclose(
            find_cct_duv(pairs).reshape(4, 2)[row],
            find_cct_duv(lights[row]),
            rtol=1e-9,
            atol=1e-15,
        )


def test_another_observer_can_be_used(colour: ModuleType) -> None:
    # CIE 15:2018: D65 under the 1964 observer is x = 0.3138, y = 0.3310
    theirs = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]
    observer = theirs.values[np.isin(theirs.wavelengths, GRID)]
    xyz = find_tristimulus(find_source("D65").values, observer)
    np.testing.assert_allclose(xyz[:2] / xyz.sum(), [0.3138, 0.3310], atol=2e-4)
    assert find_cct_duv(radiate_black_body(4000), observer)[0] == pytest.approx(4000, rel=1e-6)


def test_white_of_a_chromaticity() -> None:
    """D65 as BT.709 has it: x, y 0.3127, 0.3290 is X, Y, Z 0.9505, 1, 1.0891 (IEC 61966-2-1)."""
    assert find_white_xyz((0.3127, 0.3290)) == pytest.approx((0.9505, 1.0, 1.0891), abs=1e-4)
