"""Camera response, the parametric shapes, the ensemble, the fitted matrix."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.shared import find_centroid_width
from wbplan.camera.sensitivities import (
    Camera,
    Menu,
    draw_ensemble,
    find_log2_response,
    respond,
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
    profile = find_camera("nikon-d5100", Path())
    raw = respond(find_source(name).values, profile.sensitivities)
    gains = raw[1] / raw
    # 1 nm over 380-780 nm instead of 5 nm over 400-700 nm: 0.5 % on smooth lights
    assert gains[[0, 2]] == pytest.approx(NPL_GAINS[name], rel=0.006)


def test_generic_camera_sits_where_the_published_spread_says() -> None:
    # Centroid and rms width [nm], mean of 25 cameras: Jiang, Liu, Gu and Suesstrunk 2013. Those
    # cameras have no part in the generic one; 6 nm is their own standard deviation.
    published = np.array([[597, 46], [531, 40], [470, 34]], dtype=float)
    found = find_centroid_width(find_camera("cfa-mid", Path()).sensitivities)
    assert found == pytest.approx(published, abs=6.0)


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


@pytest.mark.parametrize("name", ["cfa-mid", "sony-ilce-7sm3", "layered-measured"])
def test_ensemble_is_seeded_and_lies_about_the_profile(name: str) -> None:
    profile = find_camera(name, Path())
    members = draw_ensemble(profile)
    assert members.shape == (256, 401, 3)
    assert np.array_equal(members, draw_ensemble(profile))
    assert (members >= 0).all()
    own = find_centroid_width(profile.sensitivities)[:, 0]
    assert np.median(find_centroid_width(members)[..., 0], axis=0) == pytest.approx(own, abs=3.0)


def test_a_measured_model_is_known_better_than_a_generic_camera() -> None:
    measured, generic = (
        find_centroid_width(draw_ensemble(find_camera(name, Path())))[..., 0].std(axis=0)
        for name in ("sony-ilce-7sm3", "cfa-mid")
    )
    assert (measured < generic).all()


def test_exact_profile_has_no_members() -> None:
    curves = find_camera("cfa-mid", Path()).sensitivities
    exact = Camera("x", curves, Menu((5600.0,)), "exact", 800, "ACEScct", "ACEScct")
    assert draw_ensemble(exact).shape == (0, 401, 3)


def test_profile_refuses_what_is_no_camera() -> None:
    curves = np.ones((WAVELENGTHS_NM.size, 3))
    make = lambda values: Camera(  # noqa: E731
        "x", values, Menu((5600.0,)), "exact", 800, "ACEScct", "ACEScct"
    )
    with pytest.raises(ValueError, match="0 or more"):
        make(-curves)
    with pytest.raises(ValueError, match="sees something"):
        make(curves * np.array([1.0, 0.0, 1.0]))
    with pytest.raises(ValueError, match="401"):
        make(curves[:-1])
    with pytest.raises(ValueError, match="finite"):
        make(curves * np.nan)
