"""Drives of tunable fixtures, against brute force, scipy's own search and known answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import CameraView, find_distance, solve_coordinates, view_camera
from wbplan.light.spectrum import WAVELENGTHS_NM, scale_to_lux
from wbplan.read.catalogue import find_camera, find_source
from wbplan.scene.fixtures import Fixture, solve_drives

TWO = scale_to_lux(np.stack([find_source("LED-B1").values, find_source("LED-B5").values]), 500.0)


def make_bells(*centres: float) -> np.ndarray:
    bells = np.exp(-0.5 * ((WAVELENGTHS_NM - np.array(centres)[:, None]) / 10) ** 2)
    return scale_to_lux(bells, np.full(len(centres), 100.0))


@pytest.fixture(scope="module", params=["cfa-mid", "layered-measured", "cfa-duv-tint"])
def camera(request: pytest.FixtureRequest) -> CameraView:
    return view_camera(find_camera(request.param, Path()))


def find_coordinates(camera: CameraView, power: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    raw = respond(power, camera.profile.sensitivities)
    found = solve_coordinates(camera.locus, find_log2_response(raw)[..., None, :])
    return found.mired[..., 0], found.tint_cc[..., 0]


def find_miss(camera: CameraView, power: np.ndarray, mired: float, cc: float) -> np.ndarray:
    m, c = find_coordinates(camera, power)
    return np.asarray(find_distance(m - mired, c - cc))


@pytest.mark.parametrize(
    ("kelvin", "cc"), [(2800, 0), (3500, 1), (4300, 0), (4300, 4), (6000, -2), (9000, 0)]
)
def test_two_colours_come_as_near_as_any_mix(camera: CameraView, kelvin: float, cc: float) -> None:
    # brute force over 10 001 mixes
    share = np.linspace(0, 1, 10_001)[:, None]
    best = find_miss(camera, share * TWO[0] + (1 - share) * TWO[1], 1e6 / kelvin, cc).min()
    found = solve_drives(TWO, camera.profile.sensitivities, camera.locus, 1e6 / kelvin, cc)
    left = float(find_miss(camera, found.drives @ TWO, 1e6 / kelvin, cc))
    assert left <= best + 1e-3
    assert float(find_distance(found.off_mired, found.off_green_cc)) == pytest.approx(left)
    assert found.drives.max() == 1.0
    assert found.drives.min() >= 0.0


@settings(max_examples=20, deadline=None)
@given(drives=st.tuples(*[st.floats(0.1, 1.0)] * 3))
def test_three_channels_are_found_again(drives: tuple[float, ...]) -> None:
    # three channels and three sensor channels: the drives that made a light are the only answer
    view = view_camera(find_camera("cfa-mid", Path()))
    channels = make_bells(625, 530, 460)
    wanted = np.array(drives)
    mired, cc = find_coordinates(view, wanted @ channels)
    if not (45 < mired < 950 and abs(cc) < 60):
        return
    found = solve_drives(channels, view.profile.sensitivities, view.locus, float(mired), float(cc))
    assert found.reached
    np.testing.assert_allclose(found.drives, wanted / wanted.max(), atol=2e-4)


def test_six_channels_match_a_light_exactly_and_evenly(camera: CameraView) -> None:
    channels = np.concatenate([make_bells(634, 594, 524, 499, 452), TWO[:1]])
    found = solve_drives(channels, camera.profile.sensitivities, camera.locus, 1e6 / 4300, 1.0)
    assert found.reached
    assert (found.drives > 0.01).sum() >= 4  # non-negative least squares alone would use three


@pytest.mark.parametrize(("kelvin", "cc"), [(2000, 0), (12_000, 5), (5000, -25)])
def test_what_is_out_of_reach_is_approached_as_scipy_does(
    camera: CameraView, kelvin: float, cc: float
) -> None:
    channels = scale_to_lux(
        np.stack([find_source(each).values for each in ("LED-B2", "LED-B4", "FL2", "D65")]), 100.0
    )
    found = solve_drives(channels, camera.profile.sensitivities, camera.locus, 1e6 / kelvin, cc)

    def cost(drives: np.ndarray) -> float:
        return float(find_miss(camera, drives @ channels, 1e6 / kelvin, cc)) ** 2

    starts = [np.eye(4)[0] + 0.01, np.ones(4)]
    judge = min(minimize(cost, each, bounds=[(1e-6, 1)] * 4).fun for each in starts)
    left = float(find_miss(camera, found.drives @ channels, 1e6 / kelvin, cc))
    assert left <= np.sqrt(judge) + 1e-3


def test_scale_of_the_channels_together_does_not_count(camera: CameraView) -> None:
    curves = camera.profile.sensitivities
    one = solve_drives(TWO, curves, camera.locus, 230.0, 0.0)
    two = solve_drives(TWO * 40, curves, camera.locus, 230.0, 0.0)
    np.testing.assert_allclose(one.drives, two.drives, atol=1e-5)


@pytest.mark.parametrize("drives", [[0.0, 0.0], [1.2, 0.0], [-0.1, 1.0]])
def test_drives_lie_from_none_to_full(drives: list[float]) -> None:
    with pytest.raises(ValueError, match="drives"):
        Fixture(("a", "b"), TWO, np.array(drives))
