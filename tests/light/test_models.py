"""Modelled lights: the stated colour is met, shapes against colour-science and measured lamps."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.tables import load_table
from wbplan.light.colorimetry import find_cct_duv, find_xy
from wbplan.light.models import (
    Line,
    find_xy_of,
    make_discharge_lamp,
    make_phosphor_led,
    make_xenon_flash,
    mix_channels,
    shape_led,
    shape_lines,
    shape_phosphor,
)
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.light.ssi import find_similarity, radiate_ssi_reference
from wbplan.read.catalogue import find_source

RGB = shape_led([630, 525, 460], [18, 32, 22])
RGBWA = np.concatenate([RGB, [make_phosphor_led(4500)], shape_led([592], [16])])


# ANSI C78.377-2008 centres (x, y from memory; CCT and Duv computed with two implementations)
@pytest.mark.parametrize(
    ("cct_kelvin", "duv", "xy"),
    [
        (2725, 0.000, (0.4578, 0.4101)),
        (3985, 0.001, (0.3818, 0.3797)),
        (5028, 0.002, (0.3447, 0.3553)),
        (6530, 0.003, (0.3123, 0.3282)),
    ],
)
def test_chromaticity_of_cct_and_duv(cct_kelvin: float, duv: float, xy: tuple[float, ...]) -> None:
    np.testing.assert_allclose(find_xy_of(cct_kelvin, duv), xy, atol=2e-4)


@given(st.floats(2300, 12000), st.floats(-0.006, 0.006))
def test_a_phosphor_led_has_the_stated_colour(cct_kelvin: float, duv: float) -> None:
    power = make_phosphor_led(cct_kelvin, duv)
    found = find_cct_duv(power)
    assert found[0] == pytest.approx(cct_kelvin, rel=1e-4)
    assert found[1] == pytest.approx(duv, abs=1e-5)
    assert power.min() >= 0
    assert power.max() == 1


# CIE 15:2018 measured phosphor LED illuminants. The usual widths were chosen on them, so this
# holds the model's realism, not an independent truth.
@pytest.mark.parametrize("name", ["LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"])
def test_a_phosphor_led_looks_like_measured_ones(name: str) -> None:
    measured = find_source(name).values
    model = make_phosphor_led(*find_cct_duv(measured))
    assert find_similarity(model, measured) > 90


def test_a_phosphor_led_is_nearer_to_another_than_daylight_is() -> None:
    # A measured lamp that had no part in the choice of the widths (Ohno and Davis 2008). The warm
    # lamps of that set carry a red phosphor beside the yellow one, which one hump cannot follow.
    measured = find_source("led-phosphor-6800k").values
    kelvin, duv = find_cct_duv(measured)
    plain = find_similarity(radiate_ssi_reference(kelvin), measured)
    assert find_similarity(make_phosphor_led(kelvin, duv), measured) > plain


def test_a_phosphor_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="no phosphor"):
        make_phosphor_led(1700, 0.04)
    with pytest.raises(ValueError, match="no phosphor"):
        make_phosphor_led(25000, -0.05, pump_nm=480)


def test_single_led_against_the_library(colour: ModuleType) -> None:
    # The library takes Ohno's own width parameter; the full width at half height is 0.9218 of it.
    theirs = colour.sd_single_led(525, half_spectral_width=32 / 0.921823)
    inside = np.isin(theirs.wavelengths, WAVELENGTHS_NM)
    np.testing.assert_allclose(shape_led(525, 32), theirs.values[inside], atol=1e-12)


@pytest.mark.parametrize("shape", [shape_led, shape_phosphor])
def test_widths_are_full_widths_at_half_height(shape) -> None:  # type: ignore[no-untyped-def]
    curve = shape(560, 60)
    above = WAVELENGTHS_NM[curve >= 0.5]
    assert above[-1] - above[0] == pytest.approx(60, abs=1.5)
    assert WAVELENGTHS_NM[curve.argmax()] == 560


@given(
    st.floats(2200, 10000),
    st.floats(-0.004, 0.006),
    st.sampled_from([RGB, RGBWA, RGBWA[[0, 1, 2, 3]]]),
)
def test_a_mix_has_the_wanted_colour_and_no_negative_channel(
    cct_kelvin: float, duv: float, channels: np.ndarray
) -> None:
    mix = mix_channels(channels, find_xy_of(cct_kelvin, duv))
    np.testing.assert_allclose(find_xy(mix.power), find_xy_of(cct_kelvin, duv), atol=1e-6)
    assert (mix.lux_share >= 0).all()
    assert mix.lux_share.sum() == pytest.approx(1)


def test_three_channels_leave_no_choice() -> None:
    """The shares of three channels follow from linear algebra alone."""
    xy = find_xy_of(3200)
    mix = mix_channels(RGB, xy)
    xyz = RGB @ load_table("observer")
    target = [xy[0] / xy[1], 1, (1 - xy.sum()) / xy[1]]
    drive = np.linalg.solve(xyz.T, target)
    shares = drive * xyz[:, 1]
    np.testing.assert_allclose(mix.lux_share, shares / shares.sum(), atol=1e-6)


def test_a_channel_the_colour_has_no_use_for_stays_off() -> None:
    # On the line between green and red, blue can only pull away.
    red, green, _ = RGB
    xy = find_xy(red + green)
    assert mix_channels(RGB, xy).lux_share[2] == pytest.approx(0, abs=1e-6)


def test_a_colour_outside_the_channels_is_refused() -> None:
    with pytest.raises(ValueError, match="do not reach"):
        mix_channels(RGB, [0.1, 0.8])
    with pytest.raises(ValueError, match="do not reach"):
        mix_channels(RGB[:2], find_xy_of(5600))
    with pytest.raises(ValueError, match="do not reach"):
        mix_channels(RGB[:1], find_xy_of(5600))


def test_lines_keep_their_energy() -> None:
    lines = [Line(435.83, 2.0), Line(546.07, 1.0, 0.2), Line(611.3, 0.5, 6.0)]
    power = shape_lines(lines)
    assert power.sum() == pytest.approx(3.5, rel=1e-4)
    assert power[(WAVELENGTHS_NM > 540) & (WAVELENGTHS_NM < 552)].sum() == pytest.approx(1.0)


def test_a_mercury_lamp_looks_like_one() -> None:
    # Strong visible lines of Hg I (NIST Atomic Spectra Database, from memory); powers read off the
    # usual lamp (common practice, no source). Measured: Ohno and Davis (2008).
    lines = [Line(404.7, 20), Line(435.8, 45), Line(546.1, 55), Line(577.0, 30), Line(579.1, 30)]
    model = make_discharge_lamp(lines, 5000, 30)
    measured = find_source("mercury-clear-6300k").values
    assert find_similarity(model, measured) > find_similarity(find_source("D65").values, measured)


def test_the_continuum_has_its_share() -> None:
    bare = make_discharge_lamp([Line(546.1, 1.0)])
    glow = make_discharge_lamp([Line(546.1, 1.0)], 5000, 3.0)
    assert np.count_nonzero(bare > 1e-6) < 20
    # a quarter of the whole power is the line's
    without = np.where(np.abs(WAVELENGTHS_NM - 546) < 8, 0, glow)
    assert without.sum() / glow.sum() == pytest.approx(0.75, abs=0.05)


@pytest.mark.parametrize("cct_kelvin", [4500, 5600, 6342, 9000])
@pytest.mark.parametrize("line_percent", [0, 4, 15])
def test_a_xenon_flash_has_the_stated_cct(cct_kelvin: float, line_percent: float) -> None:
    power = make_xenon_flash(cct_kelvin, line_percent)
    assert find_cct_duv(power)[0] == pytest.approx(cct_kelvin, rel=1e-4)


def test_a_xenon_flash_is_near_a_measured_xenon_lamp() -> None:
    # A steady xenon lamp, by way of Borer (2017): the same gas, softer lines
    measured = find_source("xenon-6300k").values
    assert find_similarity(make_xenon_flash(float(find_cct_duv(measured)[0])), measured) > 85
