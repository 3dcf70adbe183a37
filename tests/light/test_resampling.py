"""Bringing readings to the shared grid: every interval, lines keep their energy, range rules."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.errors import SpectrumError
from wbplan.light.colorimetry import find_cct_duv, find_xy
from wbplan.light.cri import find_cie_rendering
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import WAVELENGTHS_NM, resample
from wbplan.read.catalogue import find_source

INTERVALS = [1, 2, 5, 10]


def integrate(x: np.ndarray, y: np.ndarray) -> float:
    return float((np.diff(x) * (y[1:] + y[:-1]) / 2).sum())


@pytest.mark.parametrize("interval", INTERVALS)
def test_a_smooth_light_comes_back_from_any_interval(interval: int) -> None:
    x = np.arange(380, 781, interval)
    light = radiate_black_body(3200)
    values, notes = resample(x, light[::interval])
    np.testing.assert_allclose(values, light, rtol=2e-4)
    assert notes == ()


# Measured lights at 5 nm by CIE 15:2018: their chromaticity and Ra from every second sample stay
# within what the coarser sampling loses; at 10 nm lines of tubes are lost for good.
@pytest.mark.parametrize("name", ["A", "D65", "LED-B3", "LED-B5", "LED-V1"])
def test_continuous_lights_at_ten_nanometres(name: str) -> None:
    light = find_source(name).values
    values, _ = resample(np.arange(380, 781, 10), light[::10])
    np.testing.assert_allclose(find_xy(values), find_xy(light), atol=4e-4)
    one, two = (find_cie_rendering(each, find_cct_duv(each)[0]).ra for each in (values, light))
    assert one == pytest.approx(float(two), abs=1)


@pytest.mark.parametrize("interval", INTERVALS)
def test_line_spectra_keep_their_energy(interval: int) -> None:
    """What the samples hold between straight lines is what the grid holds, lines and all."""
    x = np.arange(380.0, 781, interval)
    y = np.full(x.size, 0.02)
    for wavelength in (420, 460, 550, 590, 650):
        y[np.searchsorted(x, wavelength)] = 1.0
    values, _ = resample(x, y)
    assert integrate(WAVELENGTHS_NM, values) == pytest.approx(integrate(x, y), rel=1e-6)


def test_lines_two_samples_apart_are_a_little_off() -> None:
    """The curve dips under zero between them, and what is set to zero there is gained."""
    x = np.arange(380.0, 781, 10)
    y = np.where(np.isin(x, [420, 440, 550, 570]), 1.0, 0.02)
    values, _ = resample(x, y)
    assert integrate(WAVELENGTHS_NM, values) == pytest.approx(integrate(x, y), rel=0.03)


def test_a_line_beside_the_end_of_the_data_is_a_little_off() -> None:
    """Within two samples of an end the curve's slope is not known from both sides."""
    x = np.arange(380.0, 781, 10)
    y = np.where(x == 400, 1.0, 0.02)
    values, _ = resample(x, y)
    assert integrate(WAVELENGTHS_NM, values) == pytest.approx(integrate(x, y), rel=0.08)


@pytest.mark.parametrize("name", ["FL2", "FL4", "FL11", "FL12", "HP1"])
@pytest.mark.parametrize("step", [5, 10])
def test_measured_tubes_keep_their_energy(name: str, step: int) -> None:
    light = find_source(name).values
    x = np.arange(380.0, 781, step)
    values, _ = resample(x, light[::step])
    whole = integrate(x, light[::step])
    assert integrate(WAVELENGTHS_NM, values) == pytest.approx(whole, rel=3e-3)


@st.composite
def irregular(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(draw(st.integers(0, 2**32)))
    step = draw(st.sampled_from([0.3, 0.8, 2.0, 5.0]))
    gaps = random.uniform(0.4, 1.6, int(430 / step)) * step
    x = 370 + np.cumsum(gaps)
    return x, random.uniform(0, 1, x.size) ** 3


@given(irregular())
def test_irregular_readings_keep_their_energy(drawn: tuple[np.ndarray, np.ndarray]) -> None:
    """Steps under 1 nm are averaged over each bin; wider ones of pure noise within a fifth."""
    x, y = drawn
    if x[-1] < 785:
        x = np.append(x, 790.0)
        y = np.append(y, 0.0)
    inside = np.union1d(x, [379.5, 780.5])
    inside = inside[(inside >= 379.5) & (inside <= 780.5)]
    whole = integrate(inside, np.interp(inside, x, y))
    values, _ = resample(x, y)
    assert values.min() >= 0
    fine = np.diff(x).min() < 0.999
    assert values.sum() == pytest.approx(whole, rel=1e-9 if fine else 0.2)


@given(irregular(), st.floats(0.01, 100))
def test_resampling_is_linear_in_level(drawn: tuple[np.ndarray, np.ndarray], scale: float) -> None:
    x, y = drawn
    one, two = resample(x, y)[0], resample(x, scale * y)[0]
    np.testing.assert_allclose(two, scale * one, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "code"),
    [
        (380, 780, ""),
        (350, 830, ""),
        (400, 700, "range-extended"),
        (390, 780, "range-extended"),
        (405, 780, "range-filled"),
        (380, 690, "range-filled"),
        (420, 680, "range-filled"),
    ],
)
def test_extension_is_held_and_reported(low: int, high: int, code: str) -> None:
    x = np.arange(low, high + 1, 5)
    y = 1 + (x - 300) / 100
    values, notes = resample(x, y)
    assert [note.code for note in notes] == ([code] if code else [])
    assert all((note.weight == "warning") == (code == "range-filled") for note in notes)
    if low > 380:
        np.testing.assert_array_equal(values[low > WAVELENGTHS_NM], y[0])
    if high < 780:
        np.testing.assert_array_equal(values[high < WAVELENGTHS_NM], y[-1])
        assert f"above {high} nm" in notes[0].text


@pytest.mark.parametrize(("low", "high"), [(425, 780), (380, 675), (450, 600)])
def test_too_short_a_range_is_refused(low: int, high: int) -> None:
    x = np.arange(low, high + 1, 5)
    with pytest.raises(SpectrumError, match="from 420 to 680 nm"):
        resample(x, np.ones(x.size))
