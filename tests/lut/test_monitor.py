"""The view on a BT.1886 monitor against the standards it is made of, and its own laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.codes.encodings import find_encoding
from wbplan.lut.monitor import KNEE, find_steepness, make_monitor_encoding

SOURCES = ["S-Log3", "ARRI LogC4", "ACEScct", "V-Log", "Linear", "ITU-R BT.709"]


@pytest.mark.parametrize("curve", SOURCES)
def test_grey_and_black_are_those_of_bt709(curve):
    shown = make_monitor_encoding(find_encoding(curve, "ITU-R BT.2020"))
    # Rec. ITU-R BT.709-6, item 1.2: 1.099 x 0.18^0.45 - 0.099 = 0.409.
    assert shown.encode(0.18) == pytest.approx(0.409, abs=5e-4)
    assert shown.encode(0.0) == 0.0
    assert shown.encode(0.01) == pytest.approx(0.045)
    assert shown.gamut == "ITU-R BT.709"


def test_light_on_the_screen_is_the_standards_end_to_end(colour):
    """BT.709 shown on BT.1886 is the OOTF of Rec. ITU-R BT.2100-2, table 4."""
    shown = make_monitor_encoding(find_encoding("S-Log3", "S-Gamut3"))
    scene = np.linspace(0.0, KNEE, 50)
    screen = colour.EOTFS["ITU-R BT.1886"](shown.encode(scene), L_B=0.0, L_W=100.0)
    np.testing.assert_allclose(screen, colour.OOTFS["ITU-R BT.2100 PQ"](scene / 59.5208), rtol=1e-6)


@pytest.mark.parametrize("curve", SOURCES)
def test_the_files_end_is_full_signal_and_nothing_before_it_clips(curve):
    source = find_encoding(curve, "ITU-R BT.2020")
    shown = make_monitor_encoding(source)
    codes = np.linspace(0.0, 1.0, 2001)
    signal = shown.encode(source.decode(codes))
    assert signal[-1] == pytest.approx(1.0, abs=1e-9)
    assert (np.diff(signal) >= -1e-12).all()
    assert signal.max() <= 1.0 + 1e-9


def test_the_shoulder_begins_without_a_kink():
    shown = make_monitor_encoding(find_encoding("S-Log3", "S-Gamut3"))
    step = 1e-6
    below, at, above = shown.encode([KNEE - step, KNEE, KNEE + step])
    assert (above - at) / (at - below) == pytest.approx(1.0, abs=1e-3)


def test_the_picture_is_the_standards_up_to_half_of_white_and_bent_from_there():
    # Rec. ITU-R BT.709-6, item 1.2: 1.099 x E^0.45 - 0.099.
    shown = make_monitor_encoding(find_encoding("S-Log3", "S-Gamut3"))
    scene = np.array([0.2, 0.4, 0.499])
    np.testing.assert_allclose(shown.encode(scene), 1.099 * scene**0.45 - 0.099, atol=5e-4)
    plain = 1.099 * 0.53**0.45 - 0.099
    assert shown.encode(0.53) < plain - 0.001


@given(st.floats(-10.0, 60000.0))
def test_decoding_undoes_encoding(scene):
    shown = make_monitor_encoding(find_encoding("S-Log3", "S-Gamut3"))
    assert float(shown.decode(shown.encode(scene))) == pytest.approx(scene, rel=1e-6, abs=1e-9)


@given(st.floats(1.0, 1e5))
def test_steepness_solves_its_equation(top):
    c = find_steepness(top)
    reach = (top - KNEE) / (1.0 - KNEE)
    if reach > 1.01:
        assert np.log1p(c * reach) / c == pytest.approx(1.0, abs=1e-6)


def test_no_shoulder_where_the_file_holds_no_more_than_the_screen():
    assert find_steepness(1.0) == 0.0
    shown = make_monitor_encoding(find_encoding("ITU-R BT.709", "ITU-R BT.709"))
    codes = np.linspace(0, 1, 11)
    source = find_encoding("ITU-R BT.709", "ITU-R BT.709")
    np.testing.assert_allclose(shown.encode(source.decode(codes)), codes, atol=1e-12)


@pytest.mark.parametrize("value", [-1e308, 1e308, 65504.0, -65504.0])
def test_wild_values_stay_finite(value):
    shown = make_monitor_encoding(find_encoding("ARRI LogC4", "ARRI Wide Gamut 4"))
    assert np.isfinite(shown.encode(value))
    assert np.isfinite(shown.decode(value))
