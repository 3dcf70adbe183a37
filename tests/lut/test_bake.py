"""Baked corrections against the exact transform, other readers and counts made another way."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from wbplan.codes.encodings import find_encoding, list_curves
from wbplan.codes.table3d import Cube, format_cube, parse_cube
from wbplan.core.errors import InputError
from wbplan.lut import bake as lut
from wbplan.lut.bake import (
    LUT_SIZES,
    LinearCorrection,
    bake_lut,
    choose_lut,
    find_lowest_node,
    measure_lut,
    normalise_gains,
    scene_codes,
)

CAMERAS = {
    "ACEScct": "ACEScg",
    "ARRI LogC3": "ARRI Wide Gamut 3",
    "S-Log3": "S-Gamut3.Cine",
}
GAINS = np.diag([1.3, 1.0, 0.75])
# Invented: a camera's native primaries in the encoding's gamut, rows summing to 1, so that gains
# in the native primaries are a full matrix in the gamut.
NATIVE = np.array([[1.60, -0.45, -0.15], [-0.15, 1.45, -0.30], [0.02, -0.40, 1.38]])
MIXED = NATIVE @ GAINS @ np.linalg.inv(NATIVE)


def make_encoding(curve):
    return find_encoding(curve, CAMERAS.get(curve, "ITU-R BT.2020"))


def make_reflectances(m=40, seed=3):
    """Make colours of surfaces, invented: a lightness times a moderate tint."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0.03, 0.9, (m, 1)) * rng.uniform(0.5, 1.5, (m, 3))


def make_case(curve, matrix):
    encoding = make_encoding(curve)
    return LinearCorrection(encoding, matrix), scene_codes(encoding, make_reflectances())


def test_exact_transform_equals_reference_library(colour):
    for curve in CAMERAS:
        correction, codes = make_case(curve, MIXED)
        linear = colour.log_decoding(codes, function=curve)
        with np.errstate(all="ignore"):  # the library takes logarithms of negatives
            expected = colour.log_encoding(linear @ MIXED.T, function=curve)
        np.testing.assert_allclose(correction.apply(codes), expected, atol=1e-12)
    # Worked by hand: in linear the correction is the matrix and nothing else.
    plain = LinearCorrection(find_encoding("Linear", "sRGB"), np.arange(9).reshape(3, 3))
    np.testing.assert_allclose(plain.apply([1.0, 2.0, 3.0]), [8.0, 26.0, 44.0])


@pytest.mark.parametrize("curve", ["ACEScct", "ARRI LogC3", "S-Log3", "V-Log", "Log3G10", "sRGB"])
def test_identity_is_exact_to_rounding_at_17(curve):
    correction, codes = make_case(curve, np.eye(3))
    error = measure_lut(bake_lut(correction, 17), correction, codes)
    assert error.worst_codes < 1e-9
    written = choose_lut(correction, codes)
    assert (written.size, written.met) == (17, True)
    assert written.error.worst_codes < 0.5e-6 * 1023 + 1e-9  # six decimals
    assert written.error.out_of_gamut_percent == 0.0
    assert written.error.clipped_percent == 0.0


@pytest.mark.parametrize("matrix", [GAINS, MIXED], ids=["gains", "mixed"])
@pytest.mark.parametrize("curve", CAMERAS)
def test_errors_fall_with_size(curve, matrix):
    correction, codes = make_case(curve, matrix)
    errors = [measure_lut(bake_lut(correction, n), correction, codes) for n in (9, 17, 33, 65)]
    for way in ("trilinear", "tetrahedral"):
        means = [getattr(error, way).mean_codes for error in errors]
        assert all(fine < coarse / 2 for coarse, fine in pairwise(means))
        worst = [getattr(error, way).worst_codes for error in errors]
        assert worst == sorted(worst, reverse=True)


@pytest.mark.parametrize("curve", CAMERAS)
def test_gains_at_33_miss_by_a_code_or_two(curve):
    # Measured once with OpenColorIO 2.6, apart from this code, for these gains and 33 nodes: 1.1 to
    # 2.1 codes, depending on the curve, the matrix and a little on the test colours.
    correction, codes = make_case(curve, GAINS)
    error = measure_lut(bake_lut(correction, 33), correction, codes)
    assert 0.5 < error.trilinear.worst_codes < 3.0
    assert 0.5 < error.tetrahedral.worst_codes < 3.0
    assert 0.0 < error.tetrahedral.worst_stops < 0.1


@pytest.mark.parametrize("way", ["trilinear", "tetrahedral"])
@pytest.mark.parametrize("curve", CAMERAS)
def test_measured_error_is_what_opencolorio_makes_of_the_file(colour, tmp_path, curve, way):
    ocio = pytest.importorskip("PyOpenColorIO")
    correction, codes = make_case(curve, MIXED)
    baked = choose_lut(correction, codes, sizes=(33,))
    path = tmp_path / "a.cube"
    path.write_bytes(baked.data)
    kind = {"trilinear": ocio.INTERP_LINEAR, "tetrahedral": ocio.INTERP_TETRAHEDRAL}[way]
    transform = ocio.FileTransform(str(path), interpolation=kind)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    pixels = codes.astype(np.float32)
    processor.applyRGB(pixels)
    linear = colour.log_decoding(codes, function=curve)
    result = linear @ MIXED.T
    inside = (linear >= -1e-9).all(-1) & (result >= -1e-9).all(-1)
    with np.errstate(all="ignore"):
        exact = colour.log_encoding(result, function=curve)
    miss = np.abs(pixels - exact)[inside] * 1023
    measured = getattr(baked.error, way)
    assert measured.worst_codes == pytest.approx(miss.max(), abs=0.02)  # single precision
    assert measured.mean_codes == pytest.approx(miss.mean(), abs=0.002)
    assert baked.error.out_of_gamut_percent == pytest.approx(100 * (~inside).mean())
    assert baked.error.clipped_percent == pytest.approx(100 * (exact > 1).any(-1).mean())


def test_chosen_size_is_the_smallest_and_no_larger_one_is_baked(monkeypatch):
    correction, codes = make_case("ACEScct", GAINS)
    tried = []
    bake = lut.bake_nodes
    monkeypatch.setattr(lut, "bake_nodes", lambda c, n: (tried.append(n), bake(c, n))[1])
    chosen = choose_lut(correction, codes)
    assert chosen.met
    assert tried == [chosen.size] != [LUT_SIZES[0]]
    for size in LUT_SIZES[: LUT_SIZES.index(chosen.size)]:
        assert not choose_lut(correction, codes, sizes=(size,)).met


def test_larger_limit_takes_a_smaller_table_and_an_impossible_one_is_said():
    correction, codes = make_case("S-Log3", GAINS)
    assert choose_lut(correction, codes, limit_codes=20.0).size == 17
    hopeless = choose_lut(correction, codes, sizes=(5, 9), limit_codes=0.001)
    assert (hopeless.size, hopeless.met) == (9, False)


@pytest.mark.parametrize("sizes", [(), (33, 17), (17, 17), (1,), (130,)])
def test_sizes_that_make_no_sense_are_refused(sizes):
    correction, codes = make_case("ACEScct", GAINS)
    with pytest.raises(InputError):
        choose_lut(correction, codes, sizes=sizes)


def test_error_is_that_of_the_bytes():
    correction, codes = make_case("ARRI LogC3", MIXED)
    baked = choose_lut(correction, codes, sizes=(17,), title="kitchen", comments=["from a test"])
    parsed = parse_cube(baked.data.decode("ascii"))
    np.testing.assert_array_equal(parsed.table, baked.cube.table)
    assert measure_lut(parsed, correction, codes) == baked.error
    head = baked.data.decode("ascii").split("LUT_3D_SIZE")[0].splitlines()
    assert head[0] == "# from a test"
    assert "ARRI LogC3, ARRI Wide Gamut 3" in head[1]
    assert f"{baked.bounded_nodes} of 4913" in head[2]
    assert head[-1] == 'TITLE "kitchen"'
    again = choose_lut(correction, codes, sizes=(17,), title="kitchen", comments=["from a test"])
    assert again.data == baked.data
    unrounded = bake_lut(correction, 17)
    np.testing.assert_allclose(parsed.table, unrounded.table, atol=0.5001e-6)


def test_nodes_are_the_exact_transform_but_for_the_bound():
    correction = LinearCorrection(make_encoding("ACEScct"), MIXED)
    encoding, n = correction.encoding, 9
    lowest = find_lowest_node(encoding)
    cube = bake_lut(correction, n)
    bounded = 0
    for r in range(n):
        for g in range(n):
            for b in range(n):
                exact = correction.apply(np.array([r, g, b]) / (n - 1))
                np.testing.assert_allclose(
                    cube.table[r, g, b], np.maximum(exact, lowest), atol=1e-12
                )
                bounded += bool((exact < lowest - 1e-7).any())
    assert choose_lut(correction, [[0.4, 0.4, 0.4]], sizes=(n,)).bounded_nodes == bounded > 0
    assert cube.table.max() > 1.0  # nodes above code 1 are kept


def test_lowest_node_is_code_zero_or_that_of_a_small_negative():
    assert find_lowest_node(make_encoding("ACEScct")) == 0.0  # scene -0.0069
    # Code 0 is at scene -0.056. Worked by hand from the white paper: sigma (R - R0)^2.
    apple = 47.28711236 * (-0.02 + 0.05641088) ** 2
    assert find_lowest_node(make_encoding("Apple Log Profile")) == pytest.approx(apple, rel=1e-9)
    # ACES S-2014-003: black is at (9.72 - 16) / 17.52, below code 0.
    assert find_lowest_node(make_encoding("ACEScc")) == pytest.approx(-6.28 / 17.52)
    assert find_lowest_node(make_encoding("Linear")) == 0.0


def test_no_signed_zeros_are_written():
    for curve in (*CAMERAS, "Linear", "Log3G10"):
        assert b"-0.000000" not in choose_lut(*make_case(curve, MIXED), sizes=(9,)).data


@settings(max_examples=30)
@given(st.sampled_from(list_curves()), hnp.arrays(float, (3, 3), elements=st.floats(-1e6, 1e6)))
def test_nodes_are_finite_and_bounded_for_any_matrix(curve, matrix):
    encoding = make_encoding(curve)
    cube = bake_lut(LinearCorrection(encoding, matrix), 5)
    assert np.isfinite(cube.table).all()
    assert cube.table.min() >= find_lowest_node(encoding)
    parse_cube(format_cube(cube).decode("ascii"))


def test_colours_out_of_gamut_are_counted_and_left_out():
    encoding = make_encoding("ARRI LogC3")
    matrix = np.array([[1.0, 0.0, 0.0], [-1.0, 2.0, 0.0], [0.0, 0.0, 1.0]])
    correction = LinearCorrection(encoding, matrix)
    linear = np.array(
        [
            [0.2, 0.2, 0.2],  # stays inside
            [0.5, 0.2, 0.2],  # green becomes -0.1
            [0.2, 0.2, -0.01],  # blue is negative before and after
            [-0.01, 0.2, 0.2],  # red too
        ]
    )
    codes = encoding.encode(linear)
    cube = bake_lut(correction, 33)
    error = measure_lut(cube, correction, codes)
    assert error.n_samples == 4
    assert error.out_of_gamut_percent == 75.0
    alone = measure_lut(cube, correction, codes[:1])
    assert error.trilinear == alone.trilinear
    with pytest.raises(InputError, match="at least one"):
        measure_lut(cube, correction, codes[1:])


def test_numbers_of_an_error_worked_by_hand():
    # An identity table one code too high everywhere, in a linear encoding.
    axis = np.linspace(0, 1, 5)
    table = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1) + 1 / 1023
    correction = LinearCorrection(find_encoding("Linear", "sRGB"), np.eye(3))
    codes = [[0.5, 0.5, 0.5], [0.01, 0.5, 0.5], [0.0, 0.25, 1.0], [0.0005, 0.9, 0.9]]
    for error in (
        measure_lut(Cube(table), correction, codes).trilinear,
        measure_lut(Cube(table), correction, codes).tetrahedral,
    ):
        assert error.worst_codes == pytest.approx(1.0)
        assert error.mean_codes == pytest.approx(1.0)
        # The darkest value over 1/1000 is 0.01.
        assert error.worst_stops == pytest.approx(np.log2((0.01 + 1 / 1023) / 0.01))
    table += 1 / 1023
    doubled = measure_lut(Cube(table), correction, codes)
    assert doubled.worst_codes == pytest.approx(2.0)
    assert doubled.trilinear.over_one_percent == 100.0
    brighter = LinearCorrection(correction.encoding, 1.5 * np.eye(3))
    assert measure_lut(Cube(table), brighter, codes).clipped_percent == 50.0


def test_test_colours_cover_the_exposures_and_black():
    encoding = make_encoding("S-Log3")
    codes = scene_codes(encoding, [[0.18, 0.18, 0.18], [0.9, 0.5, 0.2]])
    assert codes.min() >= 0.0
    assert codes.max() <= 1.0
    linear = encoding.decode(codes)
    neutral = codes[np.ptp(codes, axis=-1) == 0][:, 0]
    assert encoding.decode(neutral.min()) == pytest.approx(0.0, abs=1e-12)
    assert neutral.max() == 1.0
    coloured = linear[np.ptp(linear, axis=-1) > 1e-9]
    np.testing.assert_allclose(coloured / coloured[:, :1], [[1, 5 / 9, 2 / 9]] * len(coloured))
    stops = np.log2(coloured[:, 0] / 0.9)
    np.testing.assert_allclose(stops, np.arange(-18, 13) / 3, atol=1e-9)


def test_test_colours_outside_the_codes_are_dropped_and_their_number_is_held():
    encoding = make_encoding("ACEScct")
    neutrals = 4096
    assert len(scene_codes(encoding, [[1e9, 1.0, 1.0]])) == neutrals
    assert len(scene_codes(encoding, [[-1e9, 1.0, 1.0]])) == neutrals
    assert len(scene_codes(encoding, np.zeros((0, 3)))) == neutrals
    many = scene_codes(encoding, make_reflectances(20000))
    assert 20000 < len(many) <= 32768


@pytest.mark.parametrize(
    ("gains", "keep", "expected", "cost"),
    [
        ([2.6, 2.0, 1.5], "green", [1.3, 1.0, 0.75], 0.0),
        # log2(1.3) = 0.3785 stop.
        ([1.3, 1.0, 0.75], "no_clip", [1.0, 0.769231, 0.576923], 0.378512),
        ([0.5, 1.0, 0.75], "no_clip", [0.5, 1.0, 0.75], 0.0),
        ([1.0, 1.0, 4.0], "no_clip", [0.25, 0.25, 1.0], 2.0),
    ],
)
def test_gains_keep_a_level(gains, keep, expected, cost):
    result, stops = normalise_gains(gains, keep)
    np.testing.assert_allclose(result, expected, atol=1e-6)
    assert stops == pytest.approx(cost, abs=1e-6)


@given(st.lists(st.floats(0.1, 10), min_size=3, max_size=3))
def test_gains_that_may_not_clip_never_brighten_a_neutral_matrix(gains):
    kept, stops = normalise_gains(gains, "no_clip")
    assert kept.max() == 1.0
    assert stops >= 0.0
    by_green, _ = normalise_gains(gains, "green")
    np.testing.assert_allclose(by_green / 2.0**stops, kept, rtol=1e-12)


@pytest.mark.parametrize(
    ("gains", "keep"),
    [
        ([1.0, 0.0, 1.0], "green"),
        ([1.0, -1.0, 1.0], "green"),
        ([1.0, np.nan, 1.0], "no_clip"),
        ([1.0, np.inf, 1.0], "no_clip"),
        ([1.0, 1.0], "green"),
        ([[1.0, 1.0, 1.0]], "green"),
        ([1.0, 1.0, 1.0], "red"),
    ],
)
def test_gains_that_make_no_sense_are_refused(gains, keep):
    with pytest.raises(InputError):
        normalise_gains(gains, keep)


@pytest.mark.parametrize("matrix", [np.eye(2), np.full((3, 3), np.nan), np.ones(3), [[np.inf] * 3]])
def test_matrices_that_make_no_sense_are_refused(matrix):
    with pytest.raises(InputError, match="matrix"):
        LinearCorrection(make_encoding("ACEScct"), matrix)
