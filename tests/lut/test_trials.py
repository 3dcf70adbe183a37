"""Errors by kinds of colours, against a transform and colours that had no part in stating them."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import read_tetrahedral, read_trilinear
from wbplan.core.tables import load_scored_surfaces
from wbplan.lut.bake import LinearCorrection, choose_lut, find_lowest_node, scene_codes
from wbplan.lut.fit import bake_at_size
from wbplan.lut.trials import NOISE, draw_trials, find_plain_rgb

# Invented: gains in a camera's native primaries, as in the tests of sampled tables.
NATIVE = np.array([[1.60, -0.45, -0.15], [-0.15, 1.45, -0.30], [0.02, -0.40, 1.38]])
MIXED = NATIVE @ np.diag([0.72, 1.0, 1.9]) @ np.linalg.inv(NATIVE)
ENCODINGS = {
    "S-Log3": "S-Gamut3.Cine",
    "ACEScct": "ACEScg",
    "ARRI LogC3": "ARRI Wide Gamut 3",
    "V-Log": "V-Gamut",
}
MANY = 250_000
ALLOWED = 1.2


def make_case(curve):
    encoding = find_encoding(curve, ENCODINGS[curve])
    linear = find_plain_rgb(encoding, [[1.0, 1.0, 1.0], [1.3, 1.0, 0.6]])
    return LinearCorrection(encoding, MIXED), linear


def draw_apart(colour, curve, rng):
    """Draw linear colours of each kind another way: LED light through the library's observer."""
    encoding = find_encoding(curve, ENCODINGS[curve])
    shape = colour.SpectralShape(380, 780, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    surfaces = load_scored_surfaces()[1]
    nm = shape.range()
    peaks, widths = rng.uniform(435, 665, 120), rng.uniform(15, 40, 120)
    lights = np.exp(-4 * np.log(2) * ((nm - peaks[:, None]) / widths[:, None]) ** 2)
    lights = lights / lights.sum(1, keepdims=True)
    share = rng.uniform(0.4, 1.0, (120, 1))
    lights = share * lights + (1 - share) / len(nm)
    to_rgb = np.linalg.inv(colour.RGB_COLOURSPACES[encoding.gamut].matrix_RGB_to_XYZ)
    lit = ((lights[:, None] * surfaces) @ observer @ to_rgb.T).reshape(-1, 3)
    lit = lit / np.abs(lit).max(1, keepdims=True)
    lit = lit[rng.integers(0, len(lit), MANY)]
    # Saturation from none to far beyond, so that the edges of both gamuts are crossed everywhere.
    grey = lit.mean(1, keepdims=True)
    coloured = (grey + (lit - grey) * rng.uniform(0, 3, (MANY, 1))) * 2.0 ** rng.uniform(
        -7, 4, (MANY, 1)
    )
    warm = colour.sd_blackbody(3200, shape).values
    plain = (surfaces * warm) @ observer @ to_rgb.T
    plain = plain / (warm @ observer @ to_rgb.T)
    plain = plain[rng.integers(0, len(plain), MANY)] * np.array([1.3, 1.0, 0.6]) ** rng.uniform(
        0, 1, (MANY, 1)
    )
    dark = plain * 0.01 * rng.uniform(0, 1, (MANY, 1)) + rng.normal(0, NOISE, (MANY, 3))
    return plain * 2.0 ** rng.uniform(-6, 3, (MANY, 1)), coloured, dark


@pytest.mark.parametrize("curve", ENCODINGS)
def test_no_colour_of_a_kind_errs_by_more_than_is_stated(colour, curve):
    correction, linear = make_case(curve)
    encoding = correction.encoding
    trials = draw_trials(correction, linear)
    baked = choose_lut(correction, scene_codes(encoding, linear), (33,), trials=trials)
    stated = {each.kind: each for each in baked.error.kinds}
    plain, coloured, dark = draw_apart(colour, curve, np.random.default_rng(7))
    lowest = find_lowest_node(encoding)

    def encode(values):
        with np.errstate(all="ignore"):
            return colour.log_encoding(values, function=curve)

    for kind, drawn in (
        ("surfaces", plain),
        ("coloured-light", coloured),
        ("near-black", dark),
        ("coded-negatives", coloured),
    ):
        codes = encode(drawn)
        after = drawn @ MIXED.T
        exact = encode(after)
        kept = ((codes >= 0) & (codes <= 1)).all(1) & np.isfinite(exact).all(1)
        negative = (np.minimum(drawn, after) < 0).any(1)
        if kind in ("surfaces", "coloured-light"):
            kept &= ~negative
        else:
            kept &= (exact >= lowest).all(1)
        if kind == "coded-negatives":
            kept &= negative
        if kind == "near-black":
            kept &= drawn.max(1) < 0.18 / 16
        assert kept.sum() > 4_000, kind
        for way, read in (("trilinear", read_trilinear), ("tetrahedral", read_tetrahedral)):
            miss = np.abs(read(baked.cube, codes[kept]) - exact[kept]).max(1) * 1023
            said = getattr(stated[kind], way)
            assert miss.max() <= ALLOWED * said.worst_codes, (kind, way)


@pytest.mark.parametrize("curve", ENCODINGS)
def test_coloured_light_is_where_a_table_fails_and_is_said_to(curve):
    correction, linear = make_case(curve)
    codes = scene_codes(correction.encoding, linear)
    baked = bake_at_size(correction, codes, 33, trials=draw_trials(correction, linear))
    by_kind = {each.kind: each for each in baked.error.kinds}
    assert by_kind["coloured-light"].worst_codes > max(50.0, by_kind["surfaces"].worst_codes)
    assert "coloured-light" not in baked.error.list_met()
    assert f"coloured light {by_kind['coloured-light'].trilinear.worst_codes:.2f}" in (
        baked.data.decode("ascii").split("LUT_3D_SIZE")[0].replace("\n# ", " ")
    )


@pytest.mark.parametrize("curve", ENCODINGS)
def test_a_clf_holds_every_kind_to_a_code(curve):
    pytest.importorskip("PyOpenColorIO")
    from wbplan.lut.clf import bake_clf

    correction, linear = make_case(curve)
    codes = scene_codes(correction.encoding, linear)
    trials = draw_trials(correction, linear)
    made = bake_clf(correction, codes, trials=trials)
    assert [each.kind for each in trials] == list(made.error.list_met())
    assert len(trials) == 4
    # OpenColorIO writes these curves as operations, where they are a log or a power and a line.
    assert made.analytic == (b"<LUT1D" not in made.data)
    assert made.analytic


def test_a_curve_without_codes_below_black_has_no_coded_negatives():
    encoding = find_encoding("DaVinci Intermediate", "DaVinci Wide Gamut")
    correction = LinearCorrection(encoding, MIXED)
    linear = find_plain_rgb(encoding, [[1.0, 1.0, 1.0]])
    kinds = [each.kind for each in draw_trials(correction, linear)]
    assert kinds == ["surfaces", "coloured-light", "near-black"]


def test_the_same_colours_every_time_and_others_for_another_seed():
    correction, linear = make_case("V-Log")
    one, again, other = (draw_trials(correction, linear, seed) for seed in (1, 1, 2))
    for a, b, c in zip(one, again, other, strict=True):
        np.testing.assert_array_equal(a.codes, b.codes)
        assert a.codes.shape != c.codes.shape or (a.codes != c.codes).any()


def test_every_trial_colour_belongs_to_its_kind():
    correction, linear = make_case("ARRI LogC3")
    for trial in draw_trials(correction, linear):
        assert trial.admit(trial.codes)[0].all()
        assert trial.codes.min() >= 0
        assert trial.codes.max() <= 1
        light = correction.encoding.decode(trial.codes)
        least = np.minimum(light, light @ MIXED.T).min()
        assert (least < -1e-4) == (trial.kind in ("near-black", "coded-negatives"))
