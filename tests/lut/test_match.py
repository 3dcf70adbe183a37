"""Matches between lights and cameras: laws, and scores on surfaces they were not fitted on."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from wbplan.camera.sensitivities import respond
from wbplan.codes.encodings import find_encoding
from wbplan.core.tables import load_scored_surfaces, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import radiate_locus
from wbplan.lut.correction import Shot, find_camera_matrix, find_surface_rgb
from wbplan.lut.match import (
    LOST_DELTA_E,
    View,
    compare_matrices,
    find_light_setting,
    find_match,
    score_match,
)
from wbplan.lut.recipes import view_plainly
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
    matrix, cost, _ = match(shot, wanted, SHOT_AT, keep)
    white = find_surface_rgb(Shot(camera, ENCODING, SHOT_AT), shot.light[None], np.ones((1, 401)))[
        0, 0
    ]
    after = matrix @ white
    np.testing.assert_allclose(after / after[1], 1.0, rtol=1e-9)
    # Of the balanced white, green is 1 before; what no channel may be raised for costs level.
    np.testing.assert_allclose(after, 2.0**-cost, rtol=1e-9)


def test_the_matrix_carries_the_picture_where_the_score_says(camera):
    """The long way round: recorded RGB through the matrix, against the other light's picture."""
    shot, wanted = see(camera, "FL2"), see(camera, 6504.0)
    matrix, _, score = match(shot, wanted, SHOT_AT, "green")
    _, surfaces = load_scored_surfaces()
    recorded = find_surface_rgb(Shot(camera, ENCODING, SHOT_AT), shot.light[None], surfaces)[0]
    setting = find_light_setting(camera, wanted.light)
    goal = find_surface_rgb(Shot(camera, ENCODING, setting), wanted.light[None], surfaces)[0]
    white = ENCODING.rgb_to_xyz.sum(axis=1)
    got, ideal = (
        find_lab(rgb @ ENCODING.rgb_to_xyz.T, white) for rgb in (recorded @ matrix.T, goal)
    )
    differences = find_delta_e_2000(got, ideal)
    assert score.after.mean == pytest.approx(differences.mean(), rel=1e-6)
    assert score.after.high == pytest.approx(np.percentile(differences, 95), rel=1e-6)
    assert score.after.worst == pytest.approx(differences.max(), rel=1e-6)


def test_scores_against_the_librarys_difference(colour: ModuleType, camera):
    shot, wanted = see(camera, "FL11"), see(camera, 3200.0)
    score = score_match(shot, wanted, np.eye(3))
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
    score = match(see(camera, name), see(camera, 5500.0), SHOT_AT, "green")[2]
    assert score.after.mean < score.before.mean
    assert score.n_surfaces == 34


def test_the_same_light_needs_nothing(camera):
    same = see(camera, "FL2")
    matrix, cost, score = match(same, same, find_light_setting(camera, same.light), "green")
    np.testing.assert_allclose(matrix, np.eye(3), atol=1e-9)
    assert cost == 0
    assert score.before.worst == pytest.approx(0, abs=1e-9)
    assert score.after.worst == pytest.approx(0, abs=1e-9)
    assert score.lost == ()


def test_the_same_camera_in_another_encoding_is_a_change_of_encoding(camera):
    shot = see(camera, 5500.0)
    setting = find_light_setting(camera, shot.light)
    matrix, _, score = match(shot, see(camera, 5500.0, OTHER), setting, "green")
    assert score.after.worst < 1.0  # each gamut's own white, adapted
    np.testing.assert_allclose(matrix.sum(axis=1), 1.0, atol=1e-9)


def test_cameras_match_better_than_not_at_all(camera, other_camera):
    shot, wanted = see(camera, "FL2"), View(other_camera, light("FL2"), OTHER)
    _, _, score = match(shot, wanted, SHOT_AT, "green")
    assert score.after.mean < score.before.mean
    assert score.after.high < score.before.high


def test_lost_colours_are_those_that_two_surfaces_prove_lost(camera):
    """By an almost single line every surface is a grey to the camera, whatever it is by day."""
    line = np.zeros(401)
    line[589 - 380 - 3 : 589 - 380 + 4] = 1.0
    line += 1e-4  # a trace, so that the other channels see anything
    shot, wanted = View(camera, line, ENCODING), see(camera, 6504.0)
    score = score_match(shot, wanted, np.eye(3))
    names, surfaces = load_scored_surfaces()
    raw = respond(line * surfaces, camera.profile.sensitivities)
    assert np.ptp(raw[:, 0] / raw[:, 1]) < 0.15  # almost the same red against green for all
    assert {"strong blue", "strong red"} <= {each.name for each in score.lost}
    for each in score.lost:
        assert min(each.after, each.hidden) > LOST_DELTA_E
    assert len(score.lost) > len(score_match(see(camera, "FL2"), wanted, np.eye(3)).lost)
    left = [each.after for each in score.lost]
    assert left == sorted(left, reverse=True)
    assert set(names) >= {each.name for each in score.lost}


@pytest.mark.parametrize("name", ["LED-B2", "FL12", "HP2"])
def test_a_colour_is_lost_from_3_ciede2000_on(
    camera, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """2 to 3 passes in a cut, more is seen (common practice, no source).

    With the limit out of the way every surface is told; those over 3 in both figures are the lost.
    By these lights some lie close by it on either side.
    """
    shot, wanted = see(camera, name), see(camera, 6504.0)
    lost = score_match(shot, wanted, np.eye(3)).lost
    monkeypatch.setattr("wbplan.lut.match.LOST_DELTA_E", -1.0)
    every = score_match(shot, wanted, np.eye(3)).lost
    assert sorted(each.name for each in every) == sorted(load_scored_surfaces()[0])
    assert [each.name for each in lost] == [e.name for e in every if min(e.after, e.hidden) > 3.0]
    least = [min(each.after, each.hidden) for each in every]
    assert any(2.85 < each <= 3.0 for each in least)
    assert any(3.0 < each < 3.15 for each in least)


@pytest.mark.parametrize("name", ["FL3", "LED-B1"])
def test_what_a_picture_hides_against_surfaces_thrown_at_random(
    camera, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The root mean square of CIEDE2000 over 4000 surfaces that the first light shows alike.

    What is left of published reflectances, each over its mean, is found by regression: the wanted
    RGB on the shot one, and the residuals' covariance is thrown around each surface.
    """
    shot, wanted = see(camera, name), see(camera, 6504.0)
    monkeypatch.setattr("wbplan.lut.match.LOST_DELTA_E", -1.0)
    hidden = {each.name: each.hidden for each in score_match(shot, wanted, np.eye(3)).lost}
    names, surfaces = load_scored_surfaces()
    samples = load_table("samples")
    shape = samples / samples.mean(axis=1)[:, None]
    curves = camera.profile.sensitivities
    a, b = ((shape * view.light) @ curves / (view.light @ curves) for view in (shot, wanted))
    a, b = a - a.mean(axis=0), b - b.mean(axis=0)
    rest = b - a @ np.linalg.lstsq(a, b, rcond=None)[0]
    thrown = np.random.default_rng(5).multivariate_normal(np.zeros(3), rest.T @ rest / 98, 4000)
    shown = find_camera_matrix(curves, ENCODING, 1e6 / find_light_setting(camera, wanted.light)[0])
    white = ENCODING.rgb_to_xyz.sum(axis=1)
    for row in range(0, len(names), 6):
        rgb = (surfaces[row] * wanted.light) @ curves / (wanted.light @ curves)
        around = rgb + surfaces[row].mean() * thrown
        lab, labs = (find_lab(e @ (ENCODING.rgb_to_xyz @ shown).T, white) for e in (rgb, around))
        found = float(np.sqrt((find_delta_e_2000(labs, lab) ** 2).mean()))
        assert hidden[names[row]] == pytest.approx(found, rel=0.12)
