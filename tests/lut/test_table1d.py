"""One-dimensional tables: text, readers, the choice of a size, and gains worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding, list_curves
from wbplan.core.errors import InputError, Place
from wbplan.lut.bake import LinearCorrection, scene_codes
from wbplan.lut.table1d import (
    CurveTable,
    choose_curves,
    find_channel_gains,
    format_curves,
    parse_curves,
    read_curves,
)

GAINS = np.array([1.3, 1.0, 0.75])
GOLDEN = b"""# made for a test
TITLE "golden"
LUT_1D_SIZE 3
0.000000 0.100000 1.500000
0.500000 -0.250000 2.000000
1.000000 0.200000 12.000000
"""


def make_golden():
    return CurveTable(np.array([[0, 0.1, 1.5], [0.5, -0.25, 2.0], [1, 0.2, 12.0]]), "golden")


def make_case(curve):
    encoding = find_encoding(curve, "ITU-R BT.2020")
    colours = np.random.default_rng(1).uniform(0.03, 0.9, (40, 3))
    return LinearCorrection(encoding, np.diag(GAINS)), scene_codes(encoding, colours)


def test_golden_file():
    assert format_curves(make_golden(), ["made for a test"]) == GOLDEN
    parsed = parse_curves(GOLDEN.decode())
    np.testing.assert_array_equal(parsed.table, make_golden().table)
    assert (parsed.title, parsed.size) == ("golden", 3)


def test_reading_is_linear_and_held_at_the_ends():
    got = read_curves(make_golden(), [[0.25, 0.75, -3.0], [1.0, 0.5, 2.0]])
    np.testing.assert_allclose(got, [[0.25, -0.025, 1.5], [1.0, -0.25, 12.0]])
    with pytest.raises(InputError, match="finite"):
        read_curves(make_golden(), [0.0, np.nan, 0.0])


@pytest.mark.parametrize("curve", list_curves())
def test_gains_are_under_a_code_for_every_curve(curve):
    correction, codes = make_case(curve)
    baked = choose_curves(correction, codes)
    if curve == "ACESproxy":  # whole ten-bit codes, so a step between entries is a code
        assert baked.error.worst_codes < 2.0
        return
    if curve in ("ITU-R BT.1886", "L-Log", "N-Log"):  # steep at black, a step at the join
        assert baked.error.worst_codes < 5.0
        return
    assert baked.met, baked.error
    assert baked.size <= 4096


@pytest.mark.parametrize("curve", ["S-Log3", "ACEScct", "ARRI LogC3", "V-Log", "Log3G10"])
def test_1024_entries_are_as_good_as_exact(curve):
    baked = choose_curves(*make_case(curve))
    assert baked.size == 1024
    assert baked.error.trilinear.mean_codes < 0.002
    assert len(baked.data) < 40_000


def test_entries_are_the_exact_transform_worked_by_hand():
    # In linear a curve is its gain: the entry k of n is gain x k / (n - 1).
    correction = LinearCorrection(find_encoding("Linear", "sRGB"), np.diag(GAINS))
    baked = choose_curves(correction, scene_codes(correction.encoding, [[0.2, 0.3, 0.4]]))
    np.testing.assert_allclose(baked.curves.table[-1], GAINS)
    np.testing.assert_allclose(baked.curves.table[512], GAINS * 512 / 1023, atol=1e-6)


def test_only_a_gain_per_channel_is_one():
    encoding = find_encoding("ACEScct", "ACEScg")
    np.testing.assert_array_equal(
        find_channel_gains(LinearCorrection(encoding, np.diag(GAINS))), GAINS
    )
    mixed = np.diag(GAINS)
    mixed[0, 1] = 1e-6
    assert find_channel_gains(LinearCorrection(encoding, mixed)) is None
    with pytest.raises(InputError, match="mixes channels"):
        choose_curves(LinearCorrection(encoding, mixed), [[0.4, 0.4, 0.4]])


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("LUT_3D_SIZE 2\n" + "0 0 0\n" * 8, 1, "'LUT_3D_SIZE'"),
        ("LUT_1D_SIZE 1\n0 0 0\n", 1, "'1'"),
        ("LUT_1D_SIZE 70000\n", 1, "'70000'"),
        ("LUT_1D_SIZE 2\n0 0 0\n", 3, "1 rows"),
        ("LUT_1D_SIZE 2\n" + "0 0 0\n" * 3, 4, "a further row"),
        ("LUT_1D_SIZE 2\n0 0 nan\n1 1 1\n", 2, "'nan'"),
        ("LUT_1D_SIZE 2\nLUT_3D_SIZE 2\n0 0 0\n1 1 1\n", 2, "'LUT_3D_SIZE'"),
        ("", 1, "an empty file"),
    ],
)
def test_faults_are_named(text, line, found):
    with pytest.raises(InputError) as caught:
        parse_curves(text, Place("a.cube"))
    assert found in caught.value.found
    assert caught.value.place.line == line


@pytest.mark.parametrize("table", [np.zeros((1, 3)), np.zeros((4, 2)), np.full((4, 3), np.nan)])
def test_tables_that_make_no_sense_are_refused(table):
    with pytest.raises(InputError):
        CurveTable(table)
