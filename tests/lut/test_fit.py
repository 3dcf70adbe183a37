"""Fitted tables: better on colours held back from the fit, and taken only where they are."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import Cube
from wbplan.lut.bake import LinearCorrection, bake_lut, find_lowest_node, measure_lut, scene_codes
from wbplan.lut.fit import bake_at_size, fit_table

# Invented, as in the tests of sampled tables: gains in a camera's native primaries.
NATIVE = np.array([[1.60, -0.45, -0.15], [-0.15, 1.45, -0.30], [0.02, -0.40, 1.38]])
MIXED = NATIVE @ np.diag([1.3, 1.0, 0.75]) @ np.linalg.inv(NATIVE)
ENCODINGS = {"S-Log3": "S-Gamut3.Cine", "V-Log": "V-Gamut", "ARRI LogC3": "ARRI Wide Gamut 3"}


def make_case(curve, seed=3):
    encoding = find_encoding(curve, ENCODINGS[curve])
    rng = np.random.default_rng(seed)
    colours = rng.uniform(0.03, 0.9, (60, 1)) * rng.uniform(0.6, 1.4, (60, 3))
    return LinearCorrection(encoding, MIXED), scene_codes(encoding, colours)


@pytest.mark.parametrize("curve", ENCODINGS)
def test_a_fitted_table_errs_less_on_colours_held_back(curve):
    correction, codes = make_case(curve)
    _, held_back = make_case(curve, seed=4)
    sampled = measure_lut(bake_lut(correction, 33), correction, held_back)
    fitted = measure_lut(Cube(fit_table(correction, codes, 33)), correction, held_back)
    assert fitted.worst_codes < sampled.worst_codes
    # Greys are read from two nodes, at which a sampled table is exact, so that one way alone need
    # not gain; both together do.
    means = [each.trilinear.mean_codes + each.tetrahedral.mean_codes for each in (fitted, sampled)]
    assert means[0] < 0.8 * means[1]


def test_nodes_that_no_colour_touches_stay_as_sampled():
    correction, codes = make_case("S-Log3")
    sampled = bake_lut(correction, 17).table
    fitted = fit_table(correction, codes, 17)
    corner = fitted[0, 16, 0]  # a saturated green of full code
    np.testing.assert_array_equal(corner, sampled[0, 16, 0])
    assert (fitted != sampled).any()
    assert fitted.min() >= find_lowest_node(correction.encoding)
    assert np.abs(fitted - sampled).max() < 0.3


def test_a_fit_is_the_same_every_time():
    correction, codes = make_case("V-Log")
    np.testing.assert_array_equal(fit_table(correction, codes, 9), fit_table(correction, codes, 9))


def test_a_table_that_is_good_enough_is_left_alone_and_the_better_one_is_taken():
    correction, codes = make_case("S-Log3")
    plain = LinearCorrection(correction.encoding, np.eye(3))
    assert b"Nodes sampled" in bake_at_size(plain, codes, 17).data
    baked = bake_at_size(correction, codes, 33, title="t", comments=["a comment"])
    assert b"# a comment" in baked.data
    assert b"Nodes fitted by least squares" in baked.data
    sampled = measure_lut(bake_lut(correction, 33), correction, codes)
    assert baked.error.worst_codes < sampled.worst_codes
    assert baked.size == 33


def test_a_linear_transform_is_fitted_exactly():
    """In a linear encoding a matrix is what a table holds exactly: there is nothing to gain."""
    matrix = np.array([[0.8, 0.1, 0.1], [0.1, 0.8, 0.1], [0.05, 0.05, 0.9]])
    correction = LinearCorrection(find_encoding("Linear", "sRGB"), matrix)
    codes = np.random.default_rng(0).uniform(0, 1, (500, 3))
    np.testing.assert_allclose(
        fit_table(correction, codes, 9), bake_lut(correction, 9).table, atol=1e-12
    )
