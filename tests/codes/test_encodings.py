"""Log curves and gamuts against colour-science, published check values, and their own laws."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.codes import encodings as encoding
from wbplan.codes.curves import SCENE_LIMIT
from wbplan.codes.encodings import (
    ALIASES,
    find_encoding,
    list_aliases,
    list_curves,
    list_gamuts,
    note_ei,
)
from wbplan.core.errors import UnknownNameError, fold_name

STATED = sorted(encoding._LAWS)
SCENE = np.concatenate([np.linspace(-0.02, 1.0, 40001), np.geomspace(1e-6, 60.0, 20001)])

# Publications round the two sides of a join so that they miss each other a little, and there a
# code is decoded by the other side. Largest miss, relative to scene + 0.01, and nothing elsewhere.
# (The D-Log paper also gives its inverse with constants of its own, rounded to six digits.)
JOIN_MISS = {"D-Log": 1e-4, "F-Log": 2e-3, "L-Log": 1e-2, "N-Log": 1e-3}

# The standard's E at our scene 1.0, 203 cd/m2 on the screen (Rep. BT.2408-7, table 1): BT.2100-2,
# table 4, where BT.709's signal to the power of 2.4 is 2.03, in which E is times 59.5208; HLG's
# 75 %, BT.2100-2, table 5, which colour-science also inverts to this.
PQ_OF_ONE = ((2.03 ** (1 / 2.4) + 0.099) / 1.099) ** (1 / 0.45) / 59.5208
SCENE_OF_ONE = {"ITU-R BT.2100 PQ": PQ_OF_ONE, "ITU-R BT.2100 HLG": 0.26496256042100724}
LEVEL_BELOW_BLACK = {"ACEScc", "ITU-R BT.2100 PQ"}

# Ten-bit full-range codes of scene-linear 0, 0.18 and 0.9 (None: not in the publication). The
# tables of Sony, Panasonic, Fujifilm and Canon are as colour-science quotes them; the others are
# from memory of the paper named.
PUBLISHED_CODES = {
    # Sony, Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3 V1.00, code table.
    "S-Log3": (95, 420, 598),
    # Sony, S-Log2 Technical Paper (2012), code table.
    "S-Log2": (90, 347, 582),
    # Panasonic, VARICAM V-Log/V-Gamut (2014), Fig. 2.2.
    "V-Log": (128, 433, 602),
    # Fujifilm, F-Log Data Sheet Ver.1.1, table 2-2.
    "F-Log": (95, 470, 705),
    # Fujifilm, F-Log2 Data Sheet Ver.1.0, table 2-2.
    "F-Log2": (95, 400, 570),
    # ARRI, ALEXA Log C Curve: Usage in VFX (2012): black 95, 18 % grey 400 at EI 800.
    "ARRI LogC3": (95, 400, None),
    # Cooper and Brendel, ARRI LogC4 specification (2022): black 95; grey 0.2784 = 284.8.
    "ARRI LogC4": (95, 285, None),
    # RED, White Paper on REDWideGamutRGB and Log3G10 (2017): mid grey at one third.
    "Log3G10": (None, 341, None),
    # Thorpe, Canon-Log Transfer Characteristic (2012), table 2.
    "Canon Log": (128, 351, 614),
}


def reference(colour, curve):
    if curve == "Linear":
        return (lambda x: x), (lambda x: x)
    if curve in SCENE_OF_ONE:  # BT.2100's camera curves count from their peak, ours from white
        one = SCENE_OF_ONE[curve]
        encode, decode = colour.OETFS[curve], colour.OETF_INVERSES[curve]
        return (lambda x: encode(x * one)), (lambda y: decode(y) / one)
    return colour.CCTF_ENCODINGS[curve], colour.CCTF_DECODINGS[curve]


@pytest.mark.parametrize("curve", STATED)
def test_stated_curve_equals_reference_library(colour, curve):
    encode, decode = reference(colour, curve)
    ours = find_encoding(curve, "sRGB")
    # A display's curve has no darker than black; the library decodes negatives to it.
    scene = SCENE[SCENE >= 0.0] if curve == "ITU-R BT.1886" else SCENE
    with np.errstate(all="ignore"):  # the library takes logarithms of negatives and drops them
        expected = encode(scene)
        expected_linear = decode(expected)
    np.testing.assert_allclose(ours.encode(scene), expected, rtol=0, atol=1e-9)
    rtol = 1e-5 if curve == "D-Log" else 1e-9
    np.testing.assert_allclose(ours.decode(expected), expected_linear, rtol=rtol, atol=1e-9)


@pytest.mark.parametrize("curve", STATED)
def test_decoding_equals_reference_library_over_all_codes(colour, curve):
    codes = np.random.default_rng(2).uniform(0.0, 1.0, 20000)  # so that none is a join itself
    with np.errstate(all="ignore"):
        expected = reference(colour, curve)[1](codes)
    rtol = 1e-5 if curve == "D-Log" else 1e-9
    np.testing.assert_allclose(
        find_encoding(curve, "sRGB").decode(codes), expected, rtol=rtol, atol=1e-9
    )


@pytest.mark.parametrize("curve", STATED)
def test_decoding_undoes_encoding(curve):
    ours = find_encoding(curve, "sRGB")
    scene = SCENE[SCENE >= 0.0] if curve in LEVEL_BELOW_BLACK else SCENE
    miss = np.abs(ours.decode(ours.encode(scene)) - scene) / (np.abs(scene) + 0.01)
    assert miss.max() < JOIN_MISS.get(curve, 1e-12)
    assert np.mean(miss > 1e-12) < 0.002


@pytest.mark.parametrize("curve", PUBLISHED_CODES)
def test_published_codes(curve):
    codes = find_encoding(curve, "sRGB").encode([0.0, 0.18, 0.9]) * 1023.0
    for got, expected in zip(codes, PUBLISHED_CODES[curve], strict=True):
        assert expected is None or round(got) == expected


def test_published_grey_as_fractions():
    # ACES S-2016-001, annex: 0.18 encodes to 0.4135884 (and S-2014-003 for ACEScc).
    for curve in ("ACEScct", "ACEScc"):
        assert find_encoding(curve, "ACEScg").encode(0.18) == pytest.approx(0.4135884, abs=5e-8)
    # ARRI LogC4 specification (2022), from memory: mid grey 0.2783958.
    grey = find_encoding("ARRI LogC4", "ARRI Wide Gamut 4").encode(0.18)
    assert grey == pytest.approx(0.2783958, abs=5e-8)
    # Blackmagic Design, Wide Gamut Intermediate (2020), from memory: 0.18 at 0.336043, 1.0 at
    # 0.513837, 100.0 at 1.0.
    di = find_encoding("DaVinci Intermediate", "DaVinci Wide Gamut").encode([0.18, 1.0, 100.0])
    np.testing.assert_allclose(di, [0.336043, 0.513837, 1.0], atol=1e-6)
    # Panasonic, VARICAM V-Log/V-Gamut (2014), Fig. 2.2: 18 % grey at 42 IRE, 90 % at 61, where
    # IRE counts the legal range, codes 64 to 940.
    ire = find_encoding("V-Log", "V-Gamut").encode([0.18, 0.9]) * 1023.0
    np.testing.assert_allclose((ire - 64.0) / 8.76, [42.3, 61.5], atol=0.5)
    # RED white paper (2017), from memory: 0.18 at one third, 184.32 (ten stops over) at 1.
    red = find_encoding("Log3G10", "REDWideGamutRGB").encode([0.18, 184.32])
    np.testing.assert_allclose(red, [1 / 3, 1.0], atol=1e-5)


def test_published_levels_of_broadcast_curves():
    # Rep. ITU-R BT.2408-7, table 1: HLG of an 18 % grey card 38 %, of 83 % 71, 90 % 73, white 75.
    hlg = find_encoding("ITU-R BT.2100 HLG", "ITU-R BT.2020")
    levels = 100 * hlg.encode([0.18, 0.83, 0.90, 1.0])
    np.testing.assert_allclose(levels, [38, 71, 73, 75], atol=0.6)
    # Rec. ITU-R BT.2100-2, table 5: E = 1/12 is code 0.5, E = 1 is code 1.
    white = SCENE_OF_ONE["ITU-R BT.2100 HLG"]
    np.testing.assert_allclose(hlg.encode([1 / 12 / white, 1 / white]), [0.5, 1.0], atol=1e-6)
    # SMPTE ST 2084:2014 as quoted in Rep. BT.2390: 100 cd/m2 is 50.8 % PQ, 10 000 is 100 %.
    pq = find_encoding("ITU-R BT.2100 PQ", "ITU-R BT.2020")
    bright = ((2.03 ** (1 / 2.4) + 0.099) / 1.099) ** (1 / 0.45)
    levels = 100 * pq.encode([1.0 / bright, 1.0, 59.5208 / bright])
    np.testing.assert_allclose(levels, [50.8, 58.1, 100.0], atol=0.05)
    # Rep. ITU-R BT.2408-7, table 1: grey and white, 38 and 58 % in PQ, 38 and 75 % in HLG.
    np.testing.assert_allclose(100 * pq.encode([0.18, 1.0]), [38, 58], atol=0.6)
    # Rec. ITU-R BT.1886, annex 1: half signal is 0.5^2.4 of white, 18.9 %.
    assert find_encoding("ITU-R BT.1886", "ITU-R BT.709").decode(0.5) == pytest.approx(0.5**2.4)
    # Rec. ITU-R BT.709-6, item 1.2: 18 % is 40.9 % signal.
    assert find_encoding("ITU-R BT.709", "ITU-R BT.709").encode(0.18) == pytest.approx(0.409, 1e-3)


# A second source for three curves, besides colour-science: the built-in transforms of
# OpenColorIO 2, written by its own authors from the makers' papers.
@pytest.mark.parametrize(
    ("style", "curve", "gamut"),
    [
        ("ACEScct_to_ACES2065-1", "ACEScct", "ACEScg"),
        ("ACEScc_to_ACES2065-1", "ACEScc", "ACEScg"),
        ("ARRI_ALEXA-LOGC-EI800-AWG_to_ACES2065-1", "ARRI LogC3", "ARRI Wide Gamut 3"),
        ("SONY_SLOG3-SGAMUT3_to_ACES2065-1", "S-Log3", "S-Gamut3"),
        ("PANASONIC_VLOG-VGAMUT_to_ACES2065-1", "V-Log", "V-Gamut"),
        ("RED_LOG3G10-RWG_to_ACES2065-1", "Log3G10", "REDWideGamutRGB"),
        ("CANON_CLOG2-CGAMUT_to_ACES2065-1", "Canon Log 2", "Cinema Gamut"),
        ("ARRI_LOGC4_to_ACES2065-1", "ARRI LogC4", "ARRI Wide Gamut 4"),
        ("CANON_CLOG3-CGAMUT_to_ACES2065-1", "Canon Log 3", "Cinema Gamut"),
        ("APPLE_LOG_to_ACES2065-1", "Apple Log Profile", "ITU-R BT.2020"),
    ],
)
def test_curve_equals_a_second_library(style, curve, gamut):
    ocio = pytest.importorskip("PyOpenColorIO")
    transform = ocio.BuiltinTransform(style)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    codes = np.linspace(0.15, 0.85, 141)
    pixels = np.repeat(codes[:, None], 3, axis=1).astype(np.float32)
    processor.applyRGB(pixels)
    # White is kept by the matrix to ACES, so that a grey is the curve alone.
    expected = find_encoding(curve, gamut).decode(codes)
    np.testing.assert_allclose(pixels[:, 1], expected, rtol=3e-4, atol=2e-6)


def test_levels_say_what_zero_to_one_stands_for():
    full, legal, expanded = (
        find_encoding("S-Log3", "S-Gamut3", levels)
        for levels in ("full", "legal", "legal-expanded")
    )
    # Sony's code table: 18 % grey is 420, black 95. A reader that stretches 64..940 to 0..1 makes
    # (420 - 64) / 876 of it (arithmetic); a signal 420/1023 squeezed in is 64 + 876 x 420/1023.
    assert full.encode(0.18) * 1023 == pytest.approx(420, abs=0.01)
    assert expanded.encode(0.18) == pytest.approx((420 - 64) / 876, abs=1e-5)
    assert legal.encode(0.18) * 1023 == pytest.approx(64 + 876 * 420 / 1023, abs=0.01)
    # Rec. BT.709-6, item 3.4: ten-bit black 64, nominal peak 940.
    video = find_encoding("ITU-R BT.709", "ITU-R BT.709", "legal")
    np.testing.assert_allclose(video.encode([0.0, 1.0]) * 1023, [64, 940])
    for each in (full, legal, expanded):
        back = each.decode(each.encode([0.0, 0.18, 5.0]))
        np.testing.assert_allclose(back, [0, 0.18, 5.0], rtol=1e-9, atol=1e-12)
    assert legal.levels == "legal"
    assert "64 to 940" in legal.words
    with pytest.raises(UnknownNameError, match="'legal'"):
        find_encoding("S-Log3", "S-Gamut3", "leagl")


def test_levels_against_reference_library(colour):
    codes = np.linspace(0.1, 0.9, 9)
    full = find_encoding("S-Log3", "S-Gamut3").decode(codes)
    legal = find_encoding("S-Log3", "S-Gamut3", "legal").decode(
        colour.full_to_legal(codes, bit_depth=10)
    )
    np.testing.assert_allclose(legal, full, rtol=1e-12)


@pytest.mark.parametrize("curve", list_curves())
def test_any_finite_value_gives_a_finite_one_in_order(curve):
    ours = find_encoding(curve, "sRGB")
    wild = np.array([-1e308, -1e9, -65504.0, -1.0, -1e-300, 0.0, 1e-300, 1.0, 65504.0, 1e308])
    for convert in (ours.encode, ours.decode):
        result = convert(wild)
        assert result.shape == wild.shape
        assert np.isfinite(result).all()
        assert (np.diff(result) >= -1e-15).all()  # rounding at a join
        assert np.abs(ours.decode(result)).max() <= SCENE_LIMIT


@given(
    st.sampled_from([name for name in STATED if name not in {*JOIN_MISS, *LEVEL_BELOW_BLACK}]),
    st.floats(-0.02, 1e4),
)
def test_round_trip(curve, scene):
    ours = find_encoding(curve, "sRGB")
    assert float(ours.decode(ours.encode(scene))) == pytest.approx(scene, rel=1e-9, abs=1e-10)


@given(
    st.sampled_from(STATED),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(allow_nan=False, allow_infinity=False),
)
def test_order_is_kept(curve, first, second):
    low, high = sorted((first, second))
    ours = find_encoding(curve, "sRGB")
    # L-Log and F-Log step down by 0.0009 and 0.0001 at the join, as published.
    step = {"L-Log": 1e-3, "F-Log": 2e-4}.get(curve, 1e-12)
    assert ours.encode(low) <= ours.encode(high) + step


def test_shapes_are_kept():
    ours = find_encoding("ACEScct", "ACEScg")
    for shape in ((), (3,), (0, 3), (2, 4, 3)):
        assert ours.encode(np.full(shape, 0.18)).shape == shape
        assert ours.decode(np.full(shape, 0.4)).shape == shape


def test_gamuts_equal_reference_library(colour):
    assert len(list_gamuts()) >= 20
    for name in list_gamuts():
        ours, space = find_encoding("Linear", name), colour.RGB_COLOURSPACES[name]
        # an inverse: its last bits follow the number of threads that the library was given
        np.testing.assert_allclose(ours.rgb_to_xyz, space.matrix_RGB_to_XYZ, atol=1e-14, rtol=0)
        np.testing.assert_array_equal(ours.white_xy, space.whitepoint)


def test_curve_names_are_the_reference_librarys(colour):
    assert set(list_curves()) - {"Linear"} <= set(colour.LOG_ENCODINGS) | set(colour.CCTF_ENCODINGS)


def test_data_file_is_what_its_script_makes(colour):
    stored = json.loads(json.dumps(encoding._read_data()))  # a copy
    if stored["colour_science"] != colour.__version__:
        pytest.skip("made by another version of colour-science; the other tests compare it")
    script = encoding.files("wbplan").joinpath("data", "make_encodings.py").read_text()
    space: dict = {"__name__": "make_encodings"}
    exec(compile(script, "make_encodings.py", "exec"), space)
    made = json.loads(json.dumps(space["collect_encodings"]()))
    # last bits follow the number of threads that the linear algebra was given
    for gamut in (*made["gamuts"].values(), *stored["gamuts"].values()):
        gamut["rgb_to_xyz"] = np.round(gamut["rgb_to_xyz"], 13).tolist()
    assert made == stored


@pytest.mark.parametrize("gamut", list_gamuts())
def test_equal_rgb_is_the_gamuts_white(gamut):
    ours = find_encoding("Linear", gamut)
    xyz = ours.rgb_to_xyz @ np.ones(3)
    # Published matrices have as few as four digits.
    np.testing.assert_allclose(xyz[:2] / xyz.sum(), ours.white_xy, atol=2e-3)
    assert xyz[1] == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("spelling", ["arri logc3", "ARRI-LogC3", "Arri_Log_C3", " ARRILOGC3"])
def test_case_and_separators_do_not_count(spelling):
    found = find_encoding(spelling, "arri wide-gamut_3")
    assert (found.curve, found.gamut) == ("ARRI LogC3", "ARRI Wide Gamut 3")


@pytest.mark.parametrize(
    ("curve", "gamut", "words"),
    [
        ("S-Log4", "S-Gamut3", ["log curve 'S-Log4'", "'S-Log3'"]),
        ("S-Log3", "S-Gamut4", ["gamut 'S-Gamut4'", "'S-Gamut3'"]),
        ("", "sRGB", ["log curve ''", "one of"]),
        ("zzzz", "sRGB", ["one of ACEScc", "more"]),
    ],
)
def test_unknown_names_are_refused_with_the_nearest(curve, gamut, words):
    with pytest.raises(UnknownNameError) as caught:
        find_encoding(curve, gamut)
    for word in words:
        assert word in str(caught.value)


def test_arrays_are_read_only():
    ours = find_encoding("ACEScct", "ACEScg")
    with pytest.raises(ValueError, match="read-only"):
        ours.rgb_to_xyz[0, 0] = 0.0


def test_stated_curves_do_not_import_the_reference_library():
    code = (
        "import sys; from wbplan.codes.encodings import *; list_gamuts(); "
        "e = find_encoding('S-Log3', 'S-Gamut3'); e.decode(e.encode([0.18] * 3)); "
        "[find_encoding(each, 'sRGB').encode(0.18) for each in list_curves()]; "
        "sys.exit('colour' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


LOGC3_EIS = (160, 200, 250, 320, 400, 500, 640, 800, 1000, 1280, 1600)


@pytest.mark.parametrize("ei", LOGC3_EIS)
def test_logc3_by_ei_against_reference_library(colour, ei):
    """The published curve at each EI, linear scene exposure, SUP 3.x."""
    ours = find_encoding("LogC3", "AWG3", ei=ei)
    assert ours.ei == ei
    assert f"EI {ei}" in ours.words
    scene = np.geomspace(1e-3, 30.0, 200)
    theirs = colour.models.log_encoding_ARRILogC3(
        scene, firmware="SUP 3.x", method="Linear Scene Exposure Factor", EI=ei
    )
    np.testing.assert_allclose(ours.encode(scene), theirs, atol=1e-9)
    np.testing.assert_allclose(ours.decode(theirs), scene, rtol=1e-5)


@pytest.mark.parametrize(("ei", "taken"), [(100, 160), (720, 800), (3200, 1600), (1100, 1000)])
def test_an_ei_without_a_published_curve_takes_the_nearest_and_warns(ei, taken):
    found = find_encoding("LogC3", "AWG3", ei=ei)
    assert found.ei == taken
    (note,) = note_ei(found, ei)
    assert note.weight == "warning"
    assert str(taken) in note.text
    assert note_ei(found, taken) == ()
    assert note_ei(find_encoding("S-Log3", "S-Gamut3", ei=ei), ei) == ()


def test_short_names_are_of_one_thing_each():
    for known in (list_curves(), list_gamuts()):
        folded = [fold_name(each) for name in known for each in (name, *list_aliases(name))]
        assert len(set(folded)) == len(folded)
    assert {*ALIASES} <= {*list_curves(), *list_gamuts()}


@pytest.mark.parametrize(
    ("curve", "gamut", "names"),
    [
        ("LogC3", "AWG3", ("ARRI LogC3", "ARRI Wide Gamut 3")),
        ("SLog3", "SGamut3.Cine", ("S-Log3", "S-Gamut3.Cine")),
        ("PQ", "Rec.2020", ("ITU-R BT.2100 PQ", "ITU-R BT.2020")),
        ("C-Log2", "AP1", ("Canon Log 2", "ACEScg")),
    ],
)
def test_names_that_people_type(curve, gamut, names):
    found = find_encoding(curve, gamut)
    assert (found.curve, found.gamut) == names
