"""What a light does to a camera's exposure and colours: laws, and an independent computation."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wbplan.camera.colour_error import (
    find_exposure_offset,
    find_rendition,
)
from wbplan.camera.colour_matrix import fit_colour_matrix
from wbplan.core.tables import load_table
from wbplan.light.illuminants import radiate_daylight, radiate_locus
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.light.surfaces import list_surfaces
from wbplan.read.catalogue import find_camera, find_source

CAMERAS = np.stack(
    [
        find_camera(name, Path()).sensitivities
        for name in ("cfa-mid", "nikon-d5100", "layered-measured")
    ]
)
SURFACES = list_surfaces()


@pytest.mark.parametrize("kelvin", [1500, 2856, 4500, 5600, 12000])
def test_the_reference_light_is_rendered_without_error(kelvin: float) -> None:
    power = radiate_locus(kelvin)[None]
    found = find_rendition(power, CAMERAS, [kelvin], SURFACES.reflectances)
    np.testing.assert_allclose(found.error, 0, atol=1e-9)
    assert (found.camera_error.mean(-1) < 6).all()


@settings(max_examples=15)
@given(st.floats(1e-3, 1e3))
def test_level_does_not_count(scale: float) -> None:
    light = find_source("FL2").values[None]
    one = find_rendition(light, CAMERAS, [4000], SURFACES.reflectances)
    two = find_rendition(light * scale, CAMERAS, [4000], SURFACES.reflectances)
    np.testing.assert_allclose(one.error, two.error, atol=1e-9)


def test_against_the_library_step_by_step(colour: ModuleType) -> None:
    """One camera, light and Kelvin, with the library's Lab and colour difference."""
    light, kelvin = find_source("LED-B3").values, 4100.0
    curves, reference = CAMERAS[1], radiate_locus(kelvin)
    matrix = fit_colour_matrix(curves, reference)
    observer = load_table("observer")
    white = (reference @ observer) / (reference @ observer)[1]

    def develop(power: np.ndarray) -> np.ndarray:
        rgb = (SURFACES.reflectances * power) @ curves / (power @ curves)
        return colour.XYZ_to_Lab(rgb @ matrix.T, colour.XYZ_to_xy(white))

    theirs = colour.delta_E(develop(light), develop(reference), method="CIE 2000")
    found = find_rendition(light[None], curves[None], [kelvin], SURFACES.reflectances)
    np.testing.assert_allclose(found.error[0, 0], theirs, atol=0.02)
    assert found.error.mean() > 1
    moved = develop(light) - develop(reference)
    np.testing.assert_allclose(found.shift[0], moved, atol=0.02)


def test_a_matrix_for_the_light_mends_what_a_matrix_can() -> None:
    """And a plain least-squares matrix finds something to mend in the same lights."""
    names = ("FL2", "FL4", "LED-B3", "LED-RGB1")
    lights = np.stack([find_source(name).values for name in names])
    kelvin = [4150.0, 2750.0, 4000.0, 2800.0]
    found = find_rendition(lights, CAMERAS[1:2], kelvin, SURFACES.reflectances)
    coloured = slice(5, None)  # greys are right by balancing
    assert (found.mended[:, coloured].mean(-1) < found.error[:, 0, coloured].mean(-1)).all()
    same = find_rendition(radiate_locus([4000.0]), CAMERAS, [4000.0], SURFACES.reflectances)
    np.testing.assert_allclose(same.mended, 0, atol=1e-6)
    np.testing.assert_allclose(same.shift, 0, atol=1e-9)
    # a plain matrix, fitted to the very samples in another way
    samples = load_table("samples")
    for row, light in enumerate(lights):
        reference = radiate_locus(kelvin[row])
        to_xyz = fit_colour_matrix(CAMERAS[1], reference)
        rgb = [(samples * x) @ CAMERAS[1] / (x @ CAMERAS[1]) for x in (light, reference)]
        wanted = rgb[1] @ to_xyz.T
        plain = np.linalg.lstsq(rgb[0], wanted, rcond=None)[0]
        residual = np.abs(rgb[0] @ plain - wanted).mean()
        before = np.abs(rgb[0] @ to_xyz.T - wanted).mean()
        assert residual < before


def test_no_kelvin_no_figures() -> None:
    light = np.stack([find_source("FL2").values] * 2)
    found = find_rendition(light, CAMERAS, [np.nan, 4200], SURFACES.reflectances)
    assert np.isnan(found.error[0]).all()
    assert np.isfinite(found.error[1]).all()


def test_daylight_exposes_as_the_lux_say() -> None:
    np.testing.assert_allclose(find_exposure_offset(radiate_daylight(5500), CAMERAS), 0, atol=1e-12)


def test_exposure_offset_by_hand() -> None:
    """The definition: raw per lux, against raw per lux of daylight."""
    light, day = find_source("A").values, radiate_daylight(5500)
    raw = (light @ CAMERAS[0]) / find_illuminance_lux(light)
    rated = (day @ CAMERAS[0]) / find_illuminance_lux(day)
    offset = find_exposure_offset(light, CAMERAS[0])
    np.testing.assert_allclose(offset, np.log2(raw / rated), atol=1e-9)
    # Tungsten is short of blue and long of red for the same lux (common practice, no source).
    assert offset[2] < -0.8
    assert offset[0] > 0.2


def test_balancing_gains_are_in_the_offsets() -> None:
    # Published spread of neutral gains: a filter-array camera under A against D55 (see the check
    # of white balance): red less blue moves by log2 of the gains' ratio.
    offset = find_exposure_offset(find_source("A").values, CAMERAS[1])
    # gains A 0.943/2.208 and D55 1.582/1.289 of the NPL-measured camera (two implementations)
    expected = np.log2((2.208 / 0.943) / (1.289 / 1.582))
    assert offset[0] - offset[2] == pytest.approx(expected, abs=0.02)


def test_an_observer_for_a_camera_errs_in_nothing_at_any_level() -> None:
    """Curves that are the observer's (CIE 1931) need no matrix but the one there is (Luther)."""
    eye = load_table("observer")[None] * 3.7
    found = find_rendition(radiate_locus([5000.0]), eye, [5000.0], SURFACES.reflectances)
    assert found.camera_error.max() < 0.01
