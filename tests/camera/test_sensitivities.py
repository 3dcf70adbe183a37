"""Camera response, the parametric shapes, the ensemble, the fitted matrix."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.camera.sensitivities import (
    Camera,
    Family,
    Menu,
    draw_ensemble,
    find_centroid_width,
    find_log2_response,
    respond,
    warp_channels,
)
from wbplan.core.tables import load_table
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.read.catalogue import find_camera, find_source, list_shipped

PROFILES = tuple(list_shipped("camera_profiles"))

# Neutral gains of the NPL-measured filter-array camera, green = 1, red and blue, from the published
# sensitivities (Darrodi et al. 2015) integrated at 5 nm from 400 to 700 nm, in two implementations.
NPL_GAINS = {
    "A": (0.943, 2.208),
    "D50": (1.496, 1.372),
    "D55": (1.582, 1.289),
    "D65": (1.720, 1.173),
    "FL2": (1.386, 1.648),
    "LED-B3": (1.293, 1.613),
    "ISO 7589 Studio Tungsten": (1.023, 2.041),
}


@pytest.mark.parametrize("name", NPL_GAINS)
def test_gains_of_the_measured_camera(name: str) -> None:
    profile = find_camera("cfa-measured", Path())
    raw = respond(find_source(name).values, profile.sensitivities)
    gains = raw[1] / raw
    # 1 nm over 380-780 nm instead of 5 nm over 400-700 nm: 0.5 % on smooth lights
    assert gains[[0, 2]] == pytest.approx(NPL_GAINS[name], rel=0.006)


@pytest.mark.parametrize(
    ("name", "red", "green", "blue"),
    [
        # centroid and rms width [nm]: Jiang, Liu, Gu and Suesstrunk 2013, mean of 25 cameras and
        # one standard deviation from it in the red channel
        ("cfa-mid", (597, 46), (531, 40), (470, 34)),
        ("cfa-wide-red", (602, 52), (531, 40), (470, 34)),
        ("cfa-narrow-red", (592, 40), (531, 40), (470, 34)),
    ],
)
def test_parametric_profiles_sit_where_the_published_spread_says(
    name: str, red: tuple[float, float], green: tuple[float, float], blue: tuple[float, float]
) -> None:
    found = find_centroid_width(find_camera(name, Path()).sensitivities)
    assert found == pytest.approx(np.array([red, green, blue], dtype=float), abs=0.6)


@given(
    st.floats(0.01, 100.0),
    st.floats(0.01, 100.0),
    st.sampled_from(["D65", "FL2", "LED-B3", "sodium-high-pressure-2100k"]),
)
def test_response_is_linear(a: float, b: float, name: str) -> None:
    curves = find_camera("cfa-mid", Path()).sensitivities
    one, two = find_source("A").values, find_source(name).values
    together = respond(a * one + b * two, curves)
    assert together == pytest.approx(a * respond(one, curves) + b * respond(two, curves), rel=1e-12)


def test_batches_of_lights_and_cameras_agree_with_single_calls() -> None:
    curves = np.stack([find_camera(name, Path()).sensitivities for name in PROFILES])
    lights = load_table("sources")[:5]
    both = respond(lights, curves)
    assert both.shape == (5, len(PROFILES), 3)
    assert both[3, 1] == pytest.approx(respond(lights[3], curves[1]), rel=1e-12)


def test_log_response_of_a_blind_channel_is_finite() -> None:
    stops = find_log2_response(np.array([[1.0, 0.5, 0.0], [0.0, 0.0, 0.0]]))
    assert np.isfinite(stops).all()
    assert stops[0, 0] - stops[0, 2] == pytest.approx(np.log2(1e12))


def test_warp_reaches_wanted_centroid_and_width() -> None:
    template = find_camera("cfa-measured", Path()).sensitivities
    wanted_centre, wanted_width = [600.0, 535.0, 465.0], [44.0, 38.0, 31.0]
    found = find_centroid_width(warp_channels(template, wanted_centre, wanted_width))
    assert found[:, 0] == pytest.approx(wanted_centre, abs=1.0)
    assert found[:, 1] == pytest.approx(wanted_width, abs=1.0)


def test_ensemble_is_seeded_and_spread_as_stated() -> None:
    profile = find_camera("cfa-mid", Path())
    members = draw_ensemble(profile)
    assert members.shape == (256, 401, 3)
    assert np.array_equal(members, draw_ensemble(profile))
    assert (members >= 0).all()
    centres = find_centroid_width(members)[..., 0]
    # the field moves centroids too, so the spread is at least that of the peak shift alone
    assert (centres.std(axis=0) > 4.0).all()
    assert centres.mean(axis=0) == pytest.approx([597, 531, 470], abs=3.0)


def draw_only(*kept: str) -> tuple[np.ndarray, np.ndarray]:
    """3000 cameras of the usual family, of whose sizes only these are kept; and the middle."""
    profile = find_camera("cfa-mid", Path())
    family = replace(Family(), members=3000)
    left_out = {each: 0.0 for each in ("peak_sd_nm", "width_sd", "field_sd") if each not in kept}
    return draw_ensemble(replace(profile, family=replace(family, **left_out))), (
        profile.sensitivities
    )


def test_peaks_of_a_family_lie_as_far_apart_as_was_published() -> None:
    """5, 4 and 6 nm in red, green and blue over 25 cameras (Jiang et al. 2013), 5.0 on average.

    Measured on the drawn curves; 3000 draws of three channels know a spread to 0.75 %.
    """
    members, middle = draw_only("peak_sd_nm")
    moved = find_centroid_width(members)[..., 0] - find_centroid_width(middle)[:, 0]
    assert np.sqrt((moved**2).mean()) == pytest.approx(5.0, rel=0.03)
    assert np.abs(np.corrcoef(moved.T) - np.eye(3)).max() < 0.06  # each channel by itself


def test_widths_of_a_family_lie_as_far_apart_as_was_published() -> None:
    """6 of 46, 3 of 40 and 6 of 34 nm (Jiang et al. 2013): 12.7 % on average.

    The smooth field widens and narrows curves too, so the stretch of itself is less, a tenth; with
    both the curves' widths differ by the published figure within its own spread of channels.
    """
    members, middle = draw_only("width_sd")
    own = find_centroid_width(middle)[:, 1]
    stretch = np.log(find_centroid_width(members)[..., 1] / own)
    assert stretch.std() == pytest.approx(0.10, rel=0.05)
    both, _ = draw_only("width_sd", "field_sd")
    spread = np.log(find_centroid_width(both)[..., 1]).std(axis=0)
    published = np.array([6 / 46, 3 / 40, 6 / 34])
    assert published.min() < spread.mean() < published.max()
    assert spread.mean() == pytest.approx(published.mean(), rel=0.15)


def test_the_field_of_a_family_is_smooth_over_30_nm() -> None:
    """A squared-exponential process: two places d apart correlate as exp(-d^2 / (2 l^2)).

    Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, equation 4.9; a quarter of
    relative spread at any one wavelength, and 30 nm of length, as a profile states them.
    """
    members, middle = draw_only("field_sd")
    seen = slice(470 - 380, 601 - 380)
    field = np.log(members[:, seen, 1] / middle[seen, 1])
    assert field.mean() == pytest.approx(0.0, abs=0.02)
    assert field.std() == pytest.approx(0.25, rel=0.03)
    together = np.corrcoef(field.T)
    for apart in (10, 30, 60):
        found = np.diagonal(together, apart).mean()
        # straight lines between knots 10 nm apart smooth it by a hair
        assert found == pytest.approx(np.exp(-0.5 * (apart / 30.0) ** 2), abs=0.03)


def test_exact_profile_has_no_members() -> None:
    curves = find_camera("cfa-mid", Path()).sensitivities
    exact = Camera("x", curves, Menu((5600.0,)), Family(members=0), 800, "ACEScct", "ACEScct")
    assert draw_ensemble(exact).shape == (0, 401, 3)


def test_profile_refuses_what_is_no_camera() -> None:
    curves = np.ones((WAVELENGTHS_NM.size, 3))
    make = lambda values: Camera(  # noqa: E731
        "x", values, Menu((5600.0,)), Family(), 800, "ACEScct", "ACEScct"
    )
    with pytest.raises(ValueError, match="0 or more"):
        make(-curves)
    with pytest.raises(ValueError, match="sees something"):
        make(curves * np.array([1.0, 0.0, 1.0]))
    with pytest.raises(ValueError, match="401"):
        make(curves[:-1])
    with pytest.raises(ValueError, match="finite"):
        make(curves * np.nan)
