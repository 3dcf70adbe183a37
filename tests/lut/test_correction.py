"""Which colour matrix a camera uses: fitted at the set Kelvin, kept, or mixed of two."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wbplan.camera.setting import view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.light.illuminants import radiate_locus
from wbplan.light.surfaces import GREY_ROWS, list_surfaces
from wbplan.lut.correction import Shot, find_camera_matrix, find_correction_matrix, find_surface_rgb
from wbplan.read.catalogue import find_camera

DISPLAY = find_encoding("sRGB", "ITU-R BT.709")


@pytest.mark.parametrize("kelvin", [2000.0, 2856.0, 3200.0, 4300.0, 6504.0, 9000.0])
def test_two_matrices_are_mixed_as_the_dng_specification_mixes_them(kelvin: float) -> None:
    """DNG 1.7, chapter 6: g = (1/T - 1/T2) / (1/T1 - 1/T2), held to 0 to 1 (from memory)."""
    curves = find_camera("cfa-mid", Path()).sensitivities
    warm, cool = (find_camera_matrix(curves, DISPLAY, each) for each in (2856.0, 6504.0))
    g = np.clip((1 / kelvin - 1 / 6504) / (1 / 2856 - 1 / 6504), 0, 1)
    for pair in ((2856.0, 6504.0), (6504.0, 2856.0)):
        mixed = find_camera_matrix(curves, DISPLAY, kelvin, pair)
        assert mixed == pytest.approx(g * warm + (1 - g) * cool, abs=1e-12)
        assert mixed.sum(axis=-1) == pytest.approx(np.ones(3), abs=1e-12)
    kept = find_camera_matrix(curves, DISPLAY, kelvin, (5600.0,))
    assert kept == pytest.approx(find_camera_matrix(curves, DISPLAY, 5600.0), abs=1e-12)


def test_a_kept_matrix_moves_colours_as_far_as_the_page_says_and_no_grey() -> None:
    profile = replace(find_camera("nikon-d5100", Path()), family="exact")
    white = DISPLAY.rgb_to_xyz @ np.ones(3)
    moved = []
    for kelvin in (2856.0, 3200.0, 4300.0, 7500.0):
        labs = []
        for kept in ((), (5600.0,), (2856.0, 6504.0)):
            view = view_camera(replace(profile, matrix_kelvin=kept))
            shot = Shot(view, DISPLAY, (1e6 / kelvin, 0.0))
            seen = find_surface_rgb(shot, radiate_locus([kelvin]), list_surfaces().reflectances)[0]
            labs.append(find_lab(seen @ DISPLAY.rgb_to_xyz.T, white))
        for other in labs[1:]:
            found = find_delta_e_2000(other, labs[0])
            assert found[list(GREY_ROWS)].max() < 0.3
            moved.append(float(found[len(GREY_ROWS) :].mean()))
    assert max(moved) < 4
    assert sorted(moved)[-3] > 0.5


def test_a_correction_under_a_kept_matrix_is_gains_between_it_and_its_inverse() -> None:
    view = view_camera(replace(find_camera("cfa-mid", Path()), matrix_kelvin=(5600.0,)))
    shot = Shot(view, DISPLAY, (1e6 / 5600, 0.0))
    found, _ = find_correction_matrix(shot, (1e6 / 3200, 4.0))
    own = find_camera_matrix(view.profile.sensitivities, DISPLAY, 5600.0)
    gains = np.linalg.inv(own) @ found @ own
    assert gains == pytest.approx(np.diag(np.diag(gains)), abs=1e-9)
