"""The view on a BT.1886 monitor against the standards it is made of, and its own laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError
from wbplan.lut.correction import find_gamut_change
from wbplan.lut.gamut import GamutBend, compress_chroma, read_gamut_bend
from wbplan.lut.monitor import KNEE, find_steepness, make_monitor_encoding
from wbplan.lut.trials import find_lit_rgb
from wbplan.scene.luts import Monitor

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


LOG = find_encoding("ARRI LogC4", "ARRI Wide Gamut 4")
SCENE = np.array([0.0, 0.01, 0.1, 0.18, 0.3, 0.49])


@pytest.mark.parametrize(
    ("screen", "gamut"),
    [("p3-d65", "P3-D65"), ("p3-dci", "DCI-P3"), ("pq", "ITU-R BT.2020"), ("hlg", "ITU-R BT.2020")],
)
def test_screens_have_the_librarys_gamuts(colour, screen, gamut):
    shown = make_monitor_encoding(LOG, Monitor(screen))
    assert shown.gamut == gamut
    np.testing.assert_allclose(shown.rgb_to_xyz, colour.RGB_COLOURSPACES[gamut].matrix_RGB_to_XYZ)


@pytest.mark.parametrize("screen", ["p3-d65", "p3-dci"])
def test_p3_shows_the_light_of_bt1886_by_its_own_power(colour, screen):
    """SMPTE RP 431-2: light is signal to 2.6, by the library."""
    plain = make_monitor_encoding(LOG).encode(SCENE)
    signal = make_monitor_encoding(LOG, Monitor(screen)).encode(SCENE)
    light = colour.RGB_COLOURSPACES["DCI-P3"].cctf_decoding(signal)
    wanted = colour.EOTFS["ITU-R BT.1886"](plain, L_B=0.0, L_W=1.0)
    np.testing.assert_allclose(light, wanted, rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("white", [100.0, 203.0, 300.0, 500.0])
def test_pq_shows_white_where_it_says_and_ends_at_the_peak(colour, white):
    """SMPTE ST 2084 and the OOTF of Rec. ITU-R BT.2100-2, table 4, both by colour-science."""
    shown = make_monitor_encoding(LOG, Monitor("pq", white=white))
    light = colour.EOTFS["ITU-R BT.2100 PQ"](shown.encode([1.0, float(LOG.decode(1.0))]))
    np.testing.assert_allclose(light, [white, 1000.0], rtol=1e-6)
    # below the knee the standard's OOTF, at the level that puts white there
    level = ((white / 100.0) ** (1 / 2.4) + 0.099) / 1.099
    scene = SCENE[1:]
    wanted = colour.OOTFS["ITU-R BT.2100 PQ"](scene * level ** (1 / 0.45) / 59.5208)
    np.testing.assert_allclose(
        colour.EOTFS["ITU-R BT.2100 PQ"](shown.encode(scene)), wanted, rtol=1e-4
    )


@pytest.mark.parametrize("white", [100.0, 203.0, 300.0, 500.0])
def test_hlg_shows_white_where_it_says_and_ends_at_the_peak(colour, white):
    """The EOTF of Rec. ITU-R BT.2100-2, table 5, on 1000 cd/m2, by colour-science."""
    shown = make_monitor_encoding(LOG, Monitor("hlg", white=white))
    signal = shown.encode([1.0, float(LOG.decode(1.0))])
    light = colour.EOTFS["ITU-R BT.2100 HLG"](np.repeat(signal[:, None], 3, axis=1), L_W=1000.0)
    # 75 % of signal is 203 cd/m2 by Rep. ITU-R BT.2408-7, table 1, rounded there.
    np.testing.assert_allclose(light[:, 0], [white, 1000.0], rtol=2e-3)
    if white == 203.0:
        assert float(shown.encode(1.0)) == pytest.approx(0.75)
        assert float(shown.encode(0.18)) == pytest.approx(0.38, abs=0.005)


@pytest.mark.parametrize("screen", ["bt-1886", "p3-d65", "p3-dci", "pq", "hlg"])
def test_levels_and_the_way_back(screen):
    """Rec. ITU-R BT.2100-2, table 9: ten-bit black is 64 and peak 940."""
    full = make_monitor_encoding(LOG, Monitor(screen))
    legal = make_monitor_encoding(LOG, Monitor(screen, "legal"))
    scene = np.array([0.0, 0.18, 1.0, 30.0])
    np.testing.assert_allclose(legal.encode(scene) * 1023, full.encode(scene) * 876 + 64)
    assert legal.levels == "legal"
    np.testing.assert_allclose(legal.decode(legal.encode(scene)), scene, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (("bt-2020",), ["bt-2020", "p3-d65"]),
        (("pq", "narrow"), ["narrow", "legal"]),
        (("p3-dci", "full", 100.0), ["white", "48"]),
        (("pq", "full", 20.0), ["20", "100 to 500"]),
    ],
)
def test_monitors_that_are_none_are_refused(asked, words):
    with pytest.raises(InputError) as caught:
        Monitor(*asked)
    for word in words:
        assert word in str(caught.value)


GAMUTS = ["ITU-R BT.709", "P3-D65", "DCI-P3", "ITU-R BT.2020"]


@pytest.fixture(scope="module", params=GAMUTS)
def led(request):
    """Surfaces in LED light: RGB of a gamut before and after, and the XYZ under D65 of both."""
    own, plain = find_encoding("Linear", request.param), find_encoding("Linear", "ITU-R BT.709")
    before = find_lit_rgb(plain) @ np.linalg.inv(find_gamut_change(own, plain)).T
    after = compress_chroma(before, request.param)
    there = plain.rgb_to_xyz @ find_gamut_change(own, plain)
    return request.param, before, after, before @ there.T, after @ there.T


def find_hue(lab):
    return np.degrees(np.arctan2(lab[:, 2], lab[:, 1])), np.hypot(lab[:, 1], lab[:, 2])


def test_led_light_comes_inside_with_its_hue(colour, led):
    """Oklab by colour-science (Ottosson 2020); Jzazbz (Safdar et al. 2017) had no part in it."""
    _, before, after, xyz, made = led
    assert (before.min(axis=-1) < -0.01).mean() > 0.2
    assert after.min() >= 0.0
    far = (np.abs(after - before) > 0).any(axis=-1)
    for turn, limit, mean in (
        (colour.XYZ_to_Oklab, 2.0, 0.1),
        (lambda x: colour.XYZ_to_Jzazbz(100.0 * x), 10.0, 1.0),
    ):
        old, new = turn(xyz), turn(made)
        (hue, chroma), (hue_after, _) = find_hue(old), find_hue(new)
        part = far & (chroma > 0.1 * chroma.max())
        moved = np.abs((hue_after - hue + 180.0) % 360.0 - 180.0)[part]
        assert moved.max() < limit
        assert moved.mean() < mean
    # lightness is kept too
    old, new = colour.XYZ_to_Oklab(xyz)[:, 0], colour.XYZ_to_Oklab(made)[:, 0]
    np.testing.assert_allclose(old, new, rtol=1e-3, atol=1e-6)


# Hung and Berns, Color Research and Application 20 (1995) 285-295, table III: XYZ of colours that
# people set to the hue of the last of each row, at a quarter, a half and 3/4 of its chroma.
SAME_HUE = {
    "red": "36.03 30.90 24.48 41.95 30.90 15.28 48.55 30.90 9.19 54.45 30.90 2.54",
    "red-yellow": "60.78 61.38 52.57 63.03 61.38 35.73 65.02 61.38 20.64 68.22 61.38 7.91",
    "yellow": "93.75 100.41 89.27 91.17 100.41 62.45 88.00 100.41 38.11 86.15 100.41 14.92",
    "yellow-green": "84.07 94.72 85.50 77.72 94.72 59.31 71.61 94.72 36.22 65.62 94.72 15.28",
    "green": "64.22 77.65 69.76 54.54 77.65 46.58 45.32 77.65 27.70 35.93 77.65 13.93",
    "green-cyan": "74.58 84.76 94.56 66.21 84.76 92.61 58.29 84.76 91.06 50.38 84.76 86.02",
    "cyan": "65.51 72.27 91.62 60.35 72.27 99.51 55.31 72.27 108.44 49.55 72.27 114.91",
    "cyan-blue": "42.39 45.26 65.59 39.95 45.26 77.71 37.85 45.26 91.85 37.25 45.26 111.12",
    "blue": "10.77 10.77 23.69 11.53 10.77 39.05 14.36 10.77 59.71 21.68 10.77 105.09",
    "blue-magenta": "27.15 23.30 40.33 32.40 23.30 56.33 37.74 23.30 77.25 44.79 23.30 105.63",
    "magenta": "42.86 36.83 55.50 50.64 36.83 67.45 59.35 36.83 81.76 68.73 36.83 106.85",
    "magenta-red": "41.74 35.53 45.24 49.23 35.53 51.21 56.77 35.53 53.13 64.36 35.53 53.66",
}


def test_lines_of_one_hue_lie_near_those_that_people_set(colour):
    """Oklab is what the compression follows: nearer than CIELAB, by far for blue."""
    loci = {name: np.array(row.split(), float).reshape(4, 3) for name, row in SAME_HUE.items()}
    off = {}
    for space, turn in (
        ("Oklab", colour.XYZ_to_Oklab),
        ("CIELAB", lambda xyz: colour.XYZ_to_Lab(xyz, [0.3127, 0.3290])),
    ):
        hue = {name: find_hue(turn(row / 100.0))[0] for name, row in loci.items()}
        off[space] = {
            name: np.abs((each[:3] - each[3] + 180.0) % 360.0 - 180.0) for name, each in hue.items()
        }
    mean = {space: np.mean(list(each.values())) for space, each in off.items()}
    assert mean["Oklab"] < 5.5 < 6.5 < mean["CIELAB"]
    assert off["Oklab"]["blue"].max() < 10.5 < 20.0 < off["CIELAB"]["blue"].max()
    # a quarter of chroma taken off, which is more than compression does inside any of these
    assert max(each[2] for each in off["Oklab"].values()) < 6.0


def test_inner_colours_are_left_alone(led):
    _, before, after, _, _ = led
    inner = before.min(axis=-1) > 0.35 * before.max(axis=-1)
    assert inner.any()
    np.testing.assert_array_equal(after[inner], before[inner])


@pytest.mark.parametrize("gamut", ["ITU-R BT.709", "P3-D65"])
def test_more_chroma_stays_more_and_never_becomes_more(colour, gamut):
    """Along lines of one hue and lightness, drawn by colour-science in Oklab."""
    angle = np.radians(np.arange(0.0, 360.0, 5.0))[:, None]
    chroma = np.linspace(0.0, 0.4, 201)
    lab = np.stack(
        np.broadcast_arrays(0.6, chroma * np.cos(angle), chroma * np.sin(angle)), axis=-1
    )
    rgb_to_xyz = find_encoding("Linear", gamut).rgb_to_xyz
    out = compress_chroma(colour.Oklab_to_XYZ(lab) @ np.linalg.inv(rgb_to_xyz).T, gamut)
    after = colour.XYZ_to_Oklab(out @ rgb_to_xyz.T)
    made = np.hypot(after[..., 1], after[..., 2])
    assert (np.diff(made, axis=-1) > 0.0).all()
    assert (made <= chroma + 2e-4).all()
    step = np.diff(made, axis=-1) / np.diff(chroma)
    assert np.abs(np.diff(step, axis=-1)).max() < 0.25  # no kink: steps of 0.002 in chroma


@given(st.floats(0.001, 1000.0), st.integers(0, 7000))
def test_compression_scales_with_exposure_and_keeps_greys(scale, row):
    rgb = find_lit_rgb(find_encoding("Linear", "ITU-R BT.709"))[row]
    one, other = compress_chroma([rgb, scale * rgb], "ITU-R BT.709")
    np.testing.assert_allclose(other, scale * one, rtol=1e-6, atol=1e-12 * scale)
    np.testing.assert_array_equal(compress_chroma([[scale] * 3], "ITU-R BT.709"), [[scale] * 3])


@pytest.mark.parametrize(
    "wild", [[0.0] * 3, [-1.0] * 3, [-5.0, 0.1, 2.0], [0, 0, 1e-9], [6e4, -6e4, 0]]
)
def test_compression_of_anything_is_finite_and_not_negative(wild):
    out = compress_chroma([wild], "ITU-R BT.709")
    assert np.isfinite(out).all()
    assert out.min() >= 0.0


def test_a_bend_moves_and_is_read_back():
    bend = read_gamut_bend(GamutBend("ITU-R BT.709", np.eye(3)).state())
    change = np.array([[0.9, 0.1, 0.0], [0.0, 1.1, -0.1], [0.05, 0.0, 0.95]])
    light = np.array([[1.0, -0.2, 0.1], [0.2, 0.2, 0.3]])
    moved = bend.move(change)
    np.testing.assert_allclose(moved.apply(light @ change.T), bend.apply(light) @ change.T)
