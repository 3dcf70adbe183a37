"""The shared grid: resampling, what is refused and noted, and the photometric integrals."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from wbplan.core.errors import SpectrumError
from wbplan.light.colorimetry import find_xy
from wbplan.light.spectrum import (
    WAVELENGTHS_NM,
    Spectrum,
    find_effective_width_nm,
    find_illuminance_lux,
    resample,
    scale_to_lux,
)

GRID = WAVELENGTHS_NM
FLAT = np.ones(GRID.size)


def curve(wavelength_nm: np.ndarray) -> np.ndarray:
    """A smooth light: a wide hump and a phosphor-like one on a floor."""
    x = np.asarray(wavelength_nm)
    return 0.2 + np.exp(-0.5 * ((x - 600) / 45) ** 2) + 0.7 * np.exp(-0.5 * ((x - 455) / 25) ** 2)


def line(centre_nm: float) -> np.ndarray:
    return np.where(centre_nm == GRID, 1.0, 0.0)


def test_the_grid() -> None:
    assert GRID[0] == 380
    assert GRID[-1] == 780
    assert (np.diff(GRID) == 1).all()
    with pytest.raises(ValueError, match="read-only"):
        GRID[0] = 1


# Resampling ------------------------------------------------------------------------------------


def test_data_on_the_grid_stay_as_they_are() -> None:
    result, notes = resample(GRID, curve(GRID))
    np.testing.assert_array_equal(result, curve(GRID))
    assert notes == ()


def test_data_that_hold_the_grid_and_more_are_cut() -> None:
    wide = np.arange(300.0, 831.0)
    result, notes = resample(wide, curve(wide))
    np.testing.assert_array_equal(result, curve(GRID))
    assert notes == ()


# Interpolated humps of 25 nm standard deviation; the tolerances are a thousandth of the peak at
# 5 nm and finer, five thousandths at 10 nm, which is under a hundredth of a stop.
@pytest.mark.parametrize(("step_nm", "tolerance"), [(2, 1e-3), (5, 1e-3), (10, 5e-3)])
@pytest.mark.parametrize("first_nm", [380.0, 370.0, 377.3])
def test_coarser_data_come_up_to_the_grid(
    step_nm: float, tolerance: float, first_nm: float
) -> None:
    x = np.arange(first_nm, 795.0, step_nm)
    result, notes = resample(x, curve(x))
    np.testing.assert_allclose(result, curve(GRID), atol=tolerance)
    assert notes == ()


def test_half_nanometre_data_are_averaged() -> None:
    x = np.arange(380.0, 780.1, 0.5)
    result, _ = resample(x, curve(x))
    # the mean over 1 nm differs from the value by curvature / 24
    np.testing.assert_allclose(result[1:-1], curve(GRID)[1:-1], atol=2e-4)


@given(seed=st.integers(0, 2**32 - 1))
def test_irregular_steps(seed: int) -> None:
    steps = np.random.default_rng(seed).uniform(1.0, 6.0, 400)
    x = 379.0 + np.concatenate([[0.0], np.cumsum(steps)])
    x = x[x < 785]
    result, _ = resample(x, curve(x))
    inside = (x[-1] >= GRID) & (x[0] <= GRID)
    np.testing.assert_allclose(result[inside], curve(GRID)[inside], atol=3e-3)


@given(
    centre_nm=st.floats(390, 770),
    width_nm=st.floats(0.3, 3.0),
    step_nm=st.sampled_from([0.1, 0.2, 0.25, 0.5, 0.9]),
)
def test_a_narrow_line_in_fine_data_keeps_its_energy(
    centre_nm: float, width_nm: float, step_nm: float
) -> None:
    x = np.arange(380.0, 780.0 + step_nm / 2, step_nm)
    power = np.maximum(1.0 - np.abs(x - centre_nm) / width_nm, 0.0)
    assume(power.any())
    result, _ = resample(x, power)
    assert result.sum() == pytest.approx(np.trapezoid(power, x), rel=1e-9)


def test_a_line_between_two_points_of_the_grid_is_not_lost() -> None:
    x = np.arange(380.0, 780.1, 0.5)
    result, _ = resample(x, np.where(x == 550.5, 1.0, 0.0))
    assert result.sum() == pytest.approx(0.5)  # a triangle 1 nm wide at its foot
    assert result[GRID == 550] == result[GRID == 551] == pytest.approx(0.25)


@given(
    values=st.lists(st.floats(0, 1e6), min_size=81, max_size=81),
    step_nm=st.sampled_from([0.5, 5.0]),
)
def test_nothing_negative_comes_of_data_that_are_not(values: list[float], step_nm: float) -> None:
    x = np.linspace(580 - 40 * step_nm, 580 + 40 * step_nm, 81) if step_nm > 1 else None
    if x is None:  # fine steps in the middle of coarse ones
        x = np.concatenate([np.arange(380.0, 560, 10), 560 + 0.5 * np.arange(45), [600.0]])
        x = np.concatenate([x, 610.0 + 10 * np.arange(81 - x.size)])
    result, _ = resample(x, values)
    assert (result >= 0).all()
    assert np.isfinite(result).all()


def test_several_curves_at_once() -> None:
    for step in (0.5, 1.0, 5.0):
        x = np.arange(380.0, 780.1, step)
        both = np.stack([curve(x), 2 * curve(x)], axis=1)
        result, _ = resample(x, both)
        assert result.shape == (401, 2)
        np.testing.assert_allclose(result[:, 0], resample(x, curve(x))[0])
        np.testing.assert_allclose(result[:, 1], 2 * result[:, 0])


@pytest.mark.parametrize(
    ("first_nm", "last_nm"), [(421, 700), (400, 679), (500, 600), (781, 900), (100, 379)]
)
def test_data_that_miss_the_middle_are_refused(first_nm: float, last_nm: float) -> None:
    x = np.arange(first_nm, last_nm + 0.5)
    with pytest.raises(SpectrumError, match=f"{first_nm:g} to {last_nm:g} nm.*420 to 680 nm"):
        resample(x, np.ones(x.size))


@pytest.mark.parametrize(
    ("first_nm", "last_nm", "code", "weight", "words"),
    [
        (420, 680, "range-filled", "warning", "below 420 nm and above 680 nm"),
        (380, 695, "range-filled", "warning", "above 695 nm"),
        (400, 700, "range-extended", "remark", "below 400 nm and above 700 nm"),
        (380, 730, "range-extended", "remark", "above 730 nm"),
        (385, 780, "range-extended", "remark", "below 385 nm"),
    ],
)
@pytest.mark.parametrize("step_nm", [0.5, 1.0, 5.0])
def test_a_filled_range_is_held_and_noted(
    first_nm: float, last_nm: float, code: str, weight: str, words: str, step_nm: float
) -> None:
    x = np.arange(first_nm, last_nm + 0.1, step_nm)
    result, (note,) = resample(x, curve(x))
    assert (note.code, note.weight) == (code, weight)
    assert words in note.text
    np.testing.assert_allclose(result[first_nm > GRID], curve(x)[0])
    np.testing.assert_allclose(result[last_nm < GRID], curve(x)[-1])


@pytest.mark.parametrize("x", [[400, 500, 500, 700], [400, 600, 500, 700], [700, 600, 500, 400]])
def test_wavelengths_must_rise(x: list[float]) -> None:
    with pytest.raises(ValueError, match="strictly increasing"):
        resample(x, np.ones(4))


# The module's own claims about sampling --------------------------------------------------------


@pytest.mark.parametrize("centre_nm", [611.0, 611.25, 611.5])
def test_a_line_two_nanometres_wide_is_safe_at_one_nanometre_and_not_at_five(
    centre_nm: float,
) -> None:
    sigma = 2.0 / np.sqrt(8 * np.log(2))  # 2 nm wide at half its height
    power = np.exp(-0.5 * ((GRID - centre_nm) / sigma) ** 2)
    true = sigma * np.sqrt(2 * np.pi)
    assert abs(np.log2(power.sum() / true)) < 1e-3
    coarse = power[::5].sum() * 5
    assert abs(np.log2(coarse / true)) > 0.2


# CIE 15:2018, illuminant tables: x, y as tabulated.
FLUORESCENT_XY = {
    "FL1": (0.3131, 0.3371),
    "FL2": (0.3721, 0.3751),
    "FL4": (0.4402, 0.4031),
    "FL7": (0.3129, 0.3292),
    "FL11": (0.3805, 0.3769),
    "FL12": (0.4370, 0.4042),
}


def find_miss(colour: ModuleType, name: str, straight: bool) -> float:
    sd = colour.SDS_ILLUMINANTS[name]
    values = np.interp(GRID, sd.wavelengths, sd.values)
    if not straight:
        values, _ = resample(sd.wavelengths, sd.values)
    return float(np.abs(find_xy(values) - FLUORESCENT_XY[name]).max())


def test_five_nanometre_data_keep_their_chromaticity(colour: ModuleType) -> None:
    for name in FLUORESCENT_XY:
        assert find_miss(colour, name, straight=False) <= 2e-4, name
    # where straight lines would not
    assert max(find_miss(colour, name, straight=True) for name in FLUORESCENT_XY) > 2e-4


def test_interpolation_dips_under_zero_by_next_to_nothing(colour: ModuleType) -> None:
    from scipy.interpolate import Akima1DInterpolator

    for name, sd in colour.SDS_ILLUMINANTS.items():
        inside = GRID[(sd.wavelengths[0] <= GRID) & (sd.wavelengths[-1] >= GRID)]
        values = Akima1DInterpolator(sd.wavelengths, sd.values, method="makima")(inside)
        assert -np.minimum(values, 0).sum() <= 2e-6 * values.sum(), name


# Photometry ------------------------------------------------------------------------------------


def test_a_watt_at_555_nanometres_is_683_lumen() -> None:
    # The definition of the candela: 683 lm/W at 540e12 Hz, which is 555.016 nm in air;
    # V(lambda) is 1 at 555 nm (CIE S 017, CIE 15:2018).
    assert find_illuminance_lux(line(555)) == pytest.approx(683.0, rel=1e-6)


def test_lumens_at_other_wavelengths() -> None:
    # V(510) = 0.503 and V(610) = 0.503 (CIE 1924, from memory of the printed table)
    assert find_illuminance_lux(line(510)) == pytest.approx(683 * 0.503)
    assert find_illuminance_lux(line(610)) == pytest.approx(683 * 0.503)


def test_equal_energy_light() -> None:
    # The sum of V(lambda) at 1 nm is 106.857 (CIE 15:2018, from memory).
    assert find_illuminance_lux(FLAT) == pytest.approx(683 * 106.857, rel=1e-5)


positive = st.floats(1e-3, 1e3)


@given(
    weights=st.lists(positive, min_size=3, max_size=3),
    lux=st.just(0.0) | st.floats(1e-3, 1e6),
    factor=positive,
)
def test_scaling_gives_the_lux_that_were_asked_for(
    weights: list[float], lux: float, factor: float
) -> None:
    light = np.array(weights) @ np.stack([FLAT, curve(GRID), line(600)])
    scaled = scale_to_lux(light, lux)
    assert find_illuminance_lux(scaled) == pytest.approx(lux, rel=1e-12)
    # neither the scale before, nor the shape, counts
    np.testing.assert_allclose(scale_to_lux(light * factor, lux), scaled, rtol=1e-9)
    if lux:
        np.testing.assert_allclose(scaled / scaled.sum(), light / light.sum(), rtol=1e-9)


@given(first=st.floats(0, 1e5), second=st.floats(0, 1e5))
def test_light_adds(first: float, second: float) -> None:
    total = scale_to_lux(FLAT, first) + scale_to_lux(curve(GRID), second)
    assert find_illuminance_lux(total) == pytest.approx(first + second, rel=1e-12)


def test_scaling_in_batches() -> None:
    lights = np.stack([FLAT, curve(GRID), line(555)])
    scaled = scale_to_lux(lights, [1.0, 20.0, 300.0])
    assert scaled.shape == (3, 401)
    np.testing.assert_allclose(find_illuminance_lux(scaled), [1, 20, 300])
    np.testing.assert_allclose(scale_to_lux(lights, 5.0)[2], scale_to_lux(lights[2], 5.0))


def test_darkness_cannot_be_scaled() -> None:
    with pytest.raises(ValueError, match="without luminous power"):
        scale_to_lux(np.stack([FLAT, 0 * FLAT]), 100.0)


def test_effective_width() -> None:
    assert find_effective_width_nm(line(600)) == 1
    assert find_effective_width_nm(line(500) + line(600)) == 2
    assert find_effective_width_nm(FLAT) == 401
    assert find_effective_width_nm(7.5 * FLAT) == pytest.approx(401)
    assert find_effective_width_nm(0 * FLAT) == 0
    assert find_effective_width_nm(np.stack([FLAT, line(600)])).shape == (2,)
    # a Gaussian of standard deviation s has the effective width 2 s sqrt(pi)
    gauss = np.exp(-0.5 * ((GRID - 580) / 20) ** 2)
    assert find_effective_width_nm(gauss) == pytest.approx(40 * np.sqrt(np.pi), rel=1e-6)


# The value -------------------------------------------------------------------------------------


def test_a_spectrum_is_its_own_copy_and_read_only() -> None:
    values = curve(GRID)
    spectrum = Spectrum(values, "key")
    values[0] = 9
    assert spectrum.values[0] == curve(GRID)[0]
    with pytest.raises(ValueError, match="read-only"):
        spectrum.values[0] = 1
    with pytest.raises(AttributeError):
        spectrum.name = "fill"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (FLAT[:-1], "ends in"),
        (np.where(GRID == 500, np.nan, 1.0), "finite"),
        (np.where(GRID == 500, np.inf, 1.0), "finite"),
        (np.where(GRID == 500, -1e-9, 1.0), "0 or more"),
    ],
)
def test_what_is_no_spectrum_is_refused(values: np.ndarray, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Spectrum(values)
