"""Matches between lights and cameras: laws, and scores on surfaces they were not fitted on."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares, nnls

from wbplan.camera.sensitivities import respond
from wbplan.codes.encodings import find_encoding
from wbplan.core.tables import load_scored_surfaces, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import radiate_locus
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.bend import list_terms
from wbplan.lut.correction import Shot, find_camera_matrix, find_surface_rgb
from wbplan.lut.match import (
    LOST_DELTA_E,
    ColourMap,
    View,
    compare_matrices,
    find_light_setting,
    find_match,
    find_twin,
    fit_colour_map,
    score_match,
)
from wbplan.lut.recipes import match_lights, view_plainly, write_into
from wbplan.read.catalogue import find_camera, find_source

ENCODING = find_encoding("S-Log3", "S-Gamut3.Cine")
OTHER = find_encoding("ACEScct", "ACEScg")
SHOT_AT = (1e6 / 4200, 1.5)


@pytest.fixture(scope="module")
def camera():
    return view_plainly(find_camera("nikon-d5100", Path()))


@pytest.fixture(scope="module")
def other_camera():
    return view_plainly(find_camera("layered-measured", Path()))


def light(name):
    return radiate_locus(np.array(name)) if isinstance(name, float) else find_source(name).values


def see(camera, name, encoding=ENCODING):
    return View(camera, light(name), encoding)


def match(shot, wanted, at, keep):
    return find_match(Shot(shot.camera, shot.encoding, at, keep), shot.light, wanted)


def correct(found, linear):
    return LinearCorrection(ENCODING, found.matrix, bend=found.bend).correct_light(linear)


NOTHING = ColourMap(np.eye(3), None)


def test_scored_surfaces_are_the_librarys_and_none_is_fitted_on(colour: ModuleType):
    names, surfaces = load_scored_surfaces()
    assert surfaces.shape == (34, 401)
    assert len(set(names)) == 34
    from colour.quality.datasets import SDS_TCS, SDS_VS

    grid = np.arange(380, 781, 5)
    theirs = [*SDS_TCS["CIE 1995"].values(), *SDS_VS["NIST CQS 9.0"].values()]
    for row, sd in zip(surfaces[:29], theirs, strict=True):
        np.testing.assert_allclose(row[::5], [sd[float(nm)] for nm in grid], atol=1e-6)
    samples = load_table("samples")
    nearest = [np.abs(samples - row).max(axis=1).min() for row in surfaces]
    assert min(nearest) > 1e-3


@pytest.mark.parametrize("pair", [("FL2", 6504.0), (3200.0, 6500.0), ("LED-B3", 3200.0)])
@pytest.mark.parametrize("keep", ["green", "no_clip"])
def test_white_by_the_first_light_comes_out_exactly_neutral(camera, pair, keep):
    shot, wanted = (see(camera, name) for name in pair)
    found = match(shot, wanted, SHOT_AT, keep)
    white = find_surface_rgb(Shot(camera, ENCODING, SHOT_AT), shot.light[None], np.ones((1, 401)))[
        0, 0
    ]
    after = correct(found, white)
    np.testing.assert_allclose(after / after[1], 1.0, rtol=1e-9)
    # Of the balanced white, green is 1 before; what no channel may be raised for costs level.
    np.testing.assert_allclose(after, 2.0**-found.cost_stops, rtol=1e-9)


def test_the_match_carries_the_picture_where_the_score_says(camera):
    """The long way round: recorded RGB through the matrix, against the other light's picture."""
    shot, wanted = see(camera, "FL2"), see(camera, 6504.0)
    found = match(shot, wanted, SHOT_AT, "green")
    score = found.score
    _, surfaces = load_scored_surfaces()
    recorded = find_surface_rgb(Shot(camera, ENCODING, SHOT_AT), shot.light[None], surfaces)[0]
    setting = find_light_setting(camera, wanted.light)
    goal = find_surface_rgb(Shot(camera, ENCODING, setting), wanted.light[None], surfaces)[0]
    white = ENCODING.rgb_to_xyz.sum(axis=1)
    got, ideal = (
        find_lab(rgb @ ENCODING.rgb_to_xyz.T, white) for rgb in (correct(found, recorded), goal)
    )
    differences = find_delta_e_2000(got, ideal)
    assert score.after.mean == pytest.approx(differences.mean(), rel=1e-6)
    assert score.after.high == pytest.approx(np.percentile(differences, 95), rel=1e-6)
    assert score.after.worst == pytest.approx(differences.max(), rel=1e-6)


def test_scores_against_the_librarys_difference(colour: ModuleType, camera):
    shot, wanted = see(camera, "FL11"), see(camera, 3200.0)
    score = score_match(shot, wanted, NOTHING)
    # With no matrix at all, each light's own camera matrix is what is left between the two.
    assert score.before.mean > 0.5
    rgb = np.random.default_rng(0).uniform(0.05, 0.8, (40, 3))
    first, second = np.eye(3), np.diag([1.1, 1.0, 0.9])
    ours = compare_matrices(first, second, ENCODING, rgb)
    white_xy = colour.XYZ_to_xy(ENCODING.rgb_to_xyz.sum(axis=1))
    scale = ENCODING.rgb_to_xyz.sum(axis=1)[1]
    lab = [
        colour.XYZ_to_Lab(rgb @ m.T @ ENCODING.rgb_to_xyz.T / scale, white_xy)
        for m in (first, second)
    ]
    theirs = colour.delta_E(lab[0], lab[1], method="CIE 2000")
    assert ours.mean == pytest.approx(theirs.mean(), rel=1e-4)
    assert ours.worst == pytest.approx(theirs.max(), rel=1e-4)


@pytest.mark.parametrize("name", ["FL2", "FL4", "FL11", "LED-B3", 3200.0, 9000.0])
def test_a_match_helps_on_surfaces_it_never_saw(camera, name):
    score = match(see(camera, name), see(camera, 5500.0), SHOT_AT, "green").score
    assert score.after.mean < score.before.mean
    assert score.n_surfaces == 34


def test_the_same_light_needs_nothing(camera):
    same = see(camera, "FL2")
    found = match(same, same, find_light_setting(camera, same.light), "green")
    score = found.score
    np.testing.assert_allclose(found.matrix, np.eye(3), atol=1e-6)
    assert found.bend is None
    assert found.cost_stops == 0
    assert score.before.worst == pytest.approx(0, abs=1e-9)
    assert score.after.worst == pytest.approx(0, abs=1e-4)
    assert score.lost == ()


def test_the_same_camera_in_another_encoding_is_a_change_of_encoding(camera):
    shot = see(camera, 5500.0)
    setting = find_light_setting(camera, shot.light)
    found = match(shot, see(camera, 5500.0, OTHER), setting, "green")
    assert found.score.after.worst < 1.0  # each gamut's own white, adapted
    np.testing.assert_allclose(found.matrix.sum(axis=1), 1.0, atol=1e-9)


def test_cameras_match_better_than_not_at_all(camera, other_camera):
    shot, wanted = see(camera, "FL2"), View(other_camera, light("FL2"), OTHER)
    score = match(shot, wanted, SHOT_AT, "green").score
    assert score.after.mean < score.before.mean
    assert score.after.high < score.before.high


def brute_twins(shot, wanted, surface, tries=4000):
    """Twins by non-negative least squares: random mixtures of surfaces that look just like one."""
    _names, scored = load_scored_surfaces()
    known = np.concatenate([load_table("samples"), scored, np.zeros((1, 401))])
    known = known[np.abs(known - surface).max(axis=1) > 1e-9]
    curves = shot.camera.profile.sensitivities, wanted.camera.profile.sensitivities
    a, b = (
        (known * view.light) @ each / (view.light @ each)
        for view, each in zip((shot, wanted), curves, strict=True)
    )
    own = (surface * shot.light) @ curves[0] / (shot.light @ curves[0])
    generator = np.random.default_rng(3)
    found = []
    for _ in range(tries):
        some = generator.choice(len(known), 12, replace=False)
        same = np.concatenate([a[some].T, np.ones((1, 12))])
        share, left = nnls(same, np.append(own, 1.0))
        if left < 1e-9:
            found.append(share @ b[some])
    return np.array(found)


def look(view, rgb):
    curves = view.camera.profile.sensitivities
    shown = find_camera_matrix(
        curves, ENCODING, 1e6 / find_light_setting(view.camera, view.light)[0]
    )
    return find_lab(rgb @ (ENCODING.rgb_to_xyz @ shown).T, ENCODING.rgb_to_xyz.sum(axis=1))


@pytest.mark.parametrize(("name", "row"), [("HP2", 3), ("FL3", 30)])
def test_no_mixture_found_at_random_is_a_further_twin(camera, name: str, row: int) -> None:
    """Twins thrown at random look the same before; none lies further off than the one found."""
    shot, wanted = see(camera, name), see(camera, 6504.0)
    surface = load_scored_surfaces()[1][row]
    curves = camera.profile.sensitivities
    own = (surface * wanted.light) @ curves / (wanted.light @ curves)
    thrown = brute_twins(shot, wanted, surface, 800)
    assert len(thrown) > 20
    apart = find_delta_e_2000(look(wanted, thrown), look(wanted, own))
    twin, at_best = find_twin(shot, wanted, surface)
    assert apart.max() < 1.1 * twin  # the programmes go along axes, not every way
    assert apart.max() > 0.2 * twin
    assert 0.35 * twin < at_best < 0.75 * twin


def test_lost_colours_are_those_that_two_surfaces_prove_lost(camera):
    """By an almost single line every surface is a grey to the camera, whatever it is by day."""
    line = np.zeros(401)
    line[589 - 380 - 3 : 589 - 380 + 4] = 1.0
    line += 1e-4  # a trace, so that the other channels see anything
    shot, wanted = View(camera, line, ENCODING), see(camera, 6504.0)
    score = score_match(shot, wanted, NOTHING)
    names, surfaces = load_scored_surfaces()
    raw = respond(line * surfaces, camera.profile.sensitivities)
    assert np.ptp(raw[:, 0] / raw[:, 1]) < 0.15  # almost the same red against green for all
    assert len(score.lost) > len(names) / 2
    for each in score.lost:
        assert each.after > LOST_DELTA_E
        assert each.twin > LOST_DELTA_E
    left = [each.after for each in score.lost]
    assert left == sorted(left, reverse=True)
    assert set(names) >= {each.name for each in score.lost}


def test_what_the_map_reaches_is_not_lost(camera):
    shot, wanted = see(camera, "HP2"), see(camera, 6504.0)
    plain, best = (
        {each.name for each in score_match(shot, wanted, how).lost}
        for how in (NOTHING, fit_colour_map(shot, wanted))
    )
    assert best < plain
    shot = see(camera, "FL2")
    assert score_match(shot, wanted, fit_colour_map(shot, wanted)).lost == ()


PAIRS = [("FL2", 6504.0), (3200.0, 6504.0), ("LED-B3", 5600.0), ("FL11", 3200.0)]


def fit_by_brute_force(a, b, encoding):
    """The white-kept 3 x 3 of the least mean CIEDE2000, by a general optimiser."""
    white = encoding.rgb_to_xyz.sum(axis=1)
    goal = find_lab(b @ encoding.rgb_to_xyz.T, white)

    def miss(numbers):
        red, blue = numbers.reshape(3, 2).T
        matrix = np.stack([red, 1.0 - red - blue, blue], axis=-1)
        got = find_lab(a @ matrix.T @ encoding.rgb_to_xyz.T, white)
        return np.sqrt(find_delta_e_2000(got, goal) + 1e-6)  # its squares are CIEDE2000

    red, blue = least_squares(miss, [1.0, 0.0, 0.0, 0.0, 0.0, 1.0]).x.reshape(3, 2).T
    return np.stack([red, 1.0 - red - blue, blue], axis=-1)


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("kind", ["lights", "cameras"])
def test_a_match_beats_the_best_matrix_or_is_it(camera, other_camera, pair, kind):
    """The matrix is the one of least CIEDE2000, found by brute force on the CIE's 99 samples.

    Scored on the 34 surfaces and on the 24 patches of the ISO 17321-1 chart. Random pairs of all
    cameras and lights: `tests.bench.match_trial`.
    """
    shot = see(camera, pair[0])
    wanted = see(camera, pair[1]) if kind == "lights" else View(other_camera, shot.light, ENCODING)
    curves = shot.camera.profile.sensitivities, wanted.camera.profile.sensitivities
    shown = find_camera_matrix(
        curves[1], ENCODING, 1e6 / find_light_setting(wanted.camera, wanted.light)[0]
    )

    def balance(surfaces):
        a, b = (
            (surfaces * view.light) @ each / (view.light @ each)
            for view, each in zip((shot, wanted), curves, strict=True)
        )
        return a, b @ shown.T

    known = balance(load_table("samples"))
    best = fit_by_brute_force(*known, ENCODING)
    found = fit_colour_map(shot, wanted)
    white = ENCODING.rgb_to_xyz.sum(axis=1)
    a, b = balance(np.concatenate([load_scored_surfaces()[1], load_table("chart")]))
    goal, ours, theirs = (
        find_lab(rgb @ ENCODING.rgb_to_xyz.T, white) for rgb in (b, found.apply(a), a @ best.T)
    )
    fitted = [
        find_delta_e_2000(
            *(find_lab(e @ ENCODING.rgb_to_xyz.T, white) for e in (known[0] @ m.T, known[1]))
        ).mean()
        for m in (found.matrix, best)
    ]
    assert fitted[0] < 1.005 * fitted[1]
    ratio = find_delta_e_2000(ours, goal).mean() / find_delta_e_2000(theirs, goal).mean()
    assert ratio < (0.95 if found.bend else 1.005)


@pytest.fixture(scope="module")
def fl2_match(camera):
    return fit_colour_map(see(camera, "FL2"), see(camera, 6504.0))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50)
@given(st.floats(-8.0, 6.0), st.integers(0, 33))
def test_a_match_scales_with_exposure_and_keeps_white(fl2_match, stops, row):
    rgb = load_scored_surfaces()[1][row][[60, 160, 250]]
    level = 2.0**stops
    np.testing.assert_allclose(
        fl2_match.apply(level * rgb), level * fl2_match.apply(rgb), rtol=1e-9
    )
    np.testing.assert_allclose(fl2_match.apply(level * np.ones(3)), level, rtol=1e-9)


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_terms_are_the_published_ones_less_the_mean(colour: ModuleType, degree: int) -> None:
    """Finlayson, Mackiewicz and Hurlbert (2015), as colour-science expands them."""
    from colour.characterisation import polynomial_expansion_Finlayson2015

    rgb = np.random.default_rng(4).uniform(0.01, 2.0, (50, 3))
    theirs = polynomial_expansion_Finlayson2015(rgb, degree)
    ours = list_terms(rgb, degree)
    # Both span the same maps that keep white: each of ours is a sum of theirs that is 0 for white.
    weights, _left, *_ = np.linalg.lstsq(theirs, ours, rcond=None)
    np.testing.assert_allclose(theirs @ weights, ours, atol=1e-9)
    assert ours.shape[1] == theirs.shape[1] - 1
    np.testing.assert_allclose(list_terms(np.ones(3), degree), 0.0, atol=1e-12)
    assert np.linalg.matrix_rank(ours) == ours.shape[1]


def test_the_nearly_dark_and_the_negative_stay_near(camera):
    """Roots of what is below black are not taken; a trace of light stays a trace."""
    found = fit_colour_map(see(camera, "FL2"), see(camera, 6504.0))
    noise = np.random.default_rng(2).normal(0.0, 1e-3, (2000, 3))
    assert np.abs(found.apply(noise)).max() < 4.0 * np.abs(noise).max()


@pytest.mark.parametrize(
    ("curve", "gamut"), [("LogC3", "AWG3"), ("PQ", "Rec.2020"), ("ACEScct", "AP1")]
)
def test_a_match_into_any_encoding_is_the_librarys_change_of_gamut(colour, camera, curve, gamut):
    """What comes out, decoded, is the plain match's light in the other gamut, by Bradford."""
    shot = Shot(camera, ENCODING, SHOT_AT)
    plain = match_lights(shot, (light("FL2"), light(6504.0)), ("FL2", "day"))
    target = find_encoding(curve, gamut, "legal", 400)
    moved = write_into(plain, target)
    codes = np.random.default_rng(1).uniform(0.35, 0.6, (200, 3))
    before = plain.correction.into.decode(plain.correction.apply(codes))
    spaces = (colour.RGB_COLOURSPACES[each] for each in (ENCODING.gamut, target.gamut))
    theirs = colour.RGB_to_RGB(before, *spaces, chromatic_adaptation_transform="Bradford")
    got = moved.correction.correct_light(ENCODING.decode(codes))
    np.testing.assert_allclose(got, theirs, rtol=2e-4, atol=2e-4)
    assert moved.correction.into is target
    white = find_surface_rgb(shot, light("FL2")[None], np.ones((1, 401)))[0, 0]
    np.testing.assert_allclose(moved.correction.correct_light(white), 1.0, rtol=1e-9)
