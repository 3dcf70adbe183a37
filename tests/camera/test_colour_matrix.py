"""The matrix from balanced RGB: white exactly, the least squares, one rule for all shapes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from wbplan.camera.colour_matrix import find_balanced_rgb, fit_colour_matrix, fit_white_kept
from wbplan.camera.sensitivities import draw_ensemble
from wbplan.core.tables import load_table
from wbplan.light.illuminants import radiate_locus
from wbplan.read.catalogue import find_camera, find_source, list_shipped

PROFILES = list(list_shipped("camera_profiles"))
WHITE = np.ones(3)


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize("light", ["A", "D65", "FL11"])
def test_matrix_keeps_white_exactly_and_colours_roughly(name: str, light: str) -> None:
    profile, power = find_camera(name, Path()), find_source(light).values
    observer, chart = load_table("observer"), load_table("chart")
    matrix = fit_colour_matrix(profile.sensitivities, power)
    white = power @ observer
    assert matrix.sum(axis=1) == pytest.approx(white / white[1], rel=1e-12)
    raw = (chart * power) @ profile.sensitivities / (power @ profile.sensitivities)
    xyz = (chart * power) @ observer / white[1]
    # a chart it was not fitted on: Y within a few percent of white, whatever the camera
    assert np.abs(raw @ matrix.T - xyz)[:, 1].max() < 0.08


@pytest.mark.parametrize("name", PROFILES)
def test_it_is_the_constrained_least_squares_of_the_textbook(name: str) -> None:
    """Lagrange's multipliers on all nine numbers, row by row (Boyd, Vandenberghe 2018, ch. 16)."""
    curves, power = find_camera(name, Path()).sensitivities, radiate_locus(3700.0)
    observer, samples = load_table("observer"), load_table("samples")
    rgb = (samples * power) @ curves / (power @ curves)
    xyz, white = (samples * power) @ observer, power @ observer
    xyz, white = xyz / white[1], white / white[1]
    weighted = rgb / xyz[:, 1:2]
    system = np.zeros((4, 4))
    system[:3, :3] = 2 * weighted.T @ weighted
    system[:3, 3] = system[3, :3] = 1.0
    rows = [
        np.linalg.solve(system, np.append(2 * weighted.T @ (xyz[:, row] / xyz[:, 1]), white[row]))
        for row in range(3)
    ]
    theirs = np.array(rows)[:, :3]
    np.testing.assert_allclose(fit_colour_matrix(curves, power), theirs, atol=1e-9)


def test_many_matrices_are_the_one_matrix_many_times() -> None:
    cameras = draw_ensemble(find_camera("cfa-mid", Path()))[:4]
    lights = radiate_locus(np.array([2000.0, 3200.0, 6500.0]))
    many = fit_colour_matrix(cameras, lights)
    assert many.shape == (3, 4, 3, 3)
    for row, light in enumerate(lights):
        for column, curves in enumerate(cameras):
            one = fit_colour_matrix(curves, light)
            np.testing.assert_allclose(many[row, column], one, atol=1e-9)


def test_balanced_rgb_has_white_at_one_in_every_shape() -> None:
    cameras = draw_ensemble(find_camera("cfa-mid", Path()))[:2]
    lights, surfaces = radiate_locus(np.array([2800.0, 5600.0])), np.ones((1, 401))
    many = find_balanced_rgb(lights, surfaces, cameras)
    np.testing.assert_allclose(many, np.ones((2, 2, 1, 3)), rtol=1e-12)
    one = find_balanced_rgb(lights[0], surfaces, cameras[0])
    np.testing.assert_allclose(one, np.ones((1, 3)), rtol=1e-12)


@given(
    hnp.arrays(float, (12, 3), elements=st.floats(0.02, 0.9)),
    hnp.arrays(float, (12, 3), elements=st.floats(0.02, 0.9)),
)
def test_white_is_kept_by_any_fit(first: np.ndarray, second: np.ndarray) -> None:
    np.testing.assert_allclose(fit_white_kept(first, second, WHITE) @ WHITE, 1.0, atol=1e-9)


@given(hnp.arrays(float, (3, 2), elements=st.floats(-0.5, 0.5)))
def test_a_fit_finds_the_matrix_that_made_the_data(part: np.ndarray) -> None:
    matrix = np.eye(3)
    matrix[:, 0] += part[:, 0]
    matrix[:, 2] += part[:, 1]
    matrix[:, 1] -= part.sum(axis=1)
    rgb = np.random.default_rng(3).uniform(0.1, 0.9, (60, 3))
    np.testing.assert_allclose(fit_white_kept(rgb, rgb @ matrix.T, WHITE), matrix, atol=1e-9)


def test_a_fit_weighs_dark_colours_like_bright_ones() -> None:
    rgb = np.random.default_rng(4).uniform(0.1, 0.9, (60, 3))
    wanted = rgb**1.1
    dimmed = np.concatenate([rgb, rgb * 0.01])
    fitted = fit_white_kept(dimmed, np.concatenate([wanted, wanted * 0.01]), WHITE)
    np.testing.assert_allclose(fitted, fit_white_kept(rgb, wanted, WHITE), atol=1e-9)


def test_surfaces_without_colour_leave_the_matrix_at_grey() -> None:
    greys = np.linspace(0.1, 0.9, 5)[:, None] * np.ones(3)
    assert fit_white_kept(greys, greys, WHITE) == pytest.approx(np.eye(3)[1] * np.ones((3, 1)))
