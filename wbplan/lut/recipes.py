"""How each kind of LUT is worked out: the exact transform, before it becomes a file."""

from __future__ import annotations

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView, find_own_locus
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.errors import InputError
from wbplan.core.tables import Array, load_table
from wbplan.lut.bake import LinearCorrection, normalise_gains, scene_codes
from wbplan.lut.correction import find_correction_matrix, find_surface_rgb
from wbplan.lut.file import Recipe
from wbplan.lut.match import View, compare_matrices, find_match
from wbplan.lut.monitor import make_monitor_encoding
from wbplan.scene.setup import Keep


def build_codes(
    camera: CameraView, encoding: Encoding, shot_at: tuple[float, float], lights: Array
) -> Array:
    """Build the codes that files are measured on: published surfaces under lights (p, 401)."""
    surfaces = np.concatenate([load_table("chart"), load_table("samples")])
    samples = find_surface_rgb(camera, encoding, shot_at, lights, surfaces)
    return scene_codes(encoding, samples.reshape(-1, 3))


def view_plainly(profile: Camera) -> CameraView:
    """View a camera without its family, which a match does not ask for."""
    return CameraView(
        profile, find_own_locus(profile), np.empty((0, *profile.sensitivities.shape)), None
    )


def make_correction(
    camera: CameraView,
    encoding: Encoding,
    shot_at: tuple[float, float],
    wanted: tuple[float, float],
    keep: Keep,
) -> tuple[LinearCorrection, float]:
    """Make the correction between two settings (mired, tint CC), and its cost in stops."""
    matrix, cost = find_correction_matrix(camera, encoding, shot_at, wanted, keep)
    return LinearCorrection(encoding, matrix), cost


def add_monitor(
    correction: LinearCorrection, words: tuple[str, str], keep: Keep, cost: float
) -> Recipe:
    """Add the view on a BT.1886 monitor to a correction."""
    target = make_monitor_encoding(correction.encoding)
    into = np.linalg.inv(target.rgb_to_xyz) @ correction.encoding.rgb_to_xyz
    white = into / into.sum(axis=1, keepdims=True)  # the gamut's white becomes the screen's
    shown = LinearCorrection(correction.encoding, white @ correction.matrix, target)
    return Recipe("monitor", *words, shown, keep, cost)


def reduce_to_gains(
    camera: CameraView,
    correction: LinearCorrection,
    shot_at: tuple[float, float],
    lights: Array,
    words: tuple[str, str],
    keep: Keep,
) -> Recipe:
    """Reduce a correction to gains per channel in the encoding's primaries.

    Greys come out as with the full correction; what colours lose against it is measured on
    published surfaces under the lights (p, 401).

    Raises
    ------
    InputError
        Where no positive gains do what the correction does to greys.
    """
    grey = np.linalg.solve(correction.matrix, np.ones(3))
    if grey.min() <= 0:
        raise InputError(
            "a grey outside the encoding's gamut", "a correction that gains per channel can make"
        )
    gains, cost = normalise_gains(grey[1] / grey, keep)
    reduced = LinearCorrection(correction.encoding, np.diag(gains))
    surfaces = load_table("chart")
    samples = find_surface_rgb(camera, correction.encoding, shot_at, lights, surfaces)
    # Colours alone are compared: both corrections bring the grey to the same level.
    level = float((correction.matrix @ grey)[1] / (gains * grey)[1])
    differences = compare_matrices(
        correction.matrix, level * np.diag(gains), correction.encoding, samples
    )
    return Recipe("gains", *words, reduced, keep, cost, against_exact=differences)


def match_cameras(
    camera: CameraView,
    like: CameraView,
    light: Array,
    encoding: Encoding,
    shot_at: tuple[float, float],
    keep: Keep,
) -> Recipe:
    """Match a camera's picture by a light (401,) to another camera's, in that one's encoding."""
    other = find_encoding(like.profile.curve, like.profile.gamut)
    matrix, cost, score = find_match(
        View(camera, light, encoding), View(like, light, other), shot_at, keep
    )
    correction = LinearCorrection(encoding, matrix, other)
    names = (camera.profile.name, like.profile.name)
    return Recipe("camera-match", *names, correction, keep, cost, score)


def match_lights(
    camera: CameraView,
    lights: tuple[Array, Array],
    names: tuple[str, str],
    encoding: Encoding,
    shot_at: tuple[float, float],
    keep: Keep,
) -> Recipe:
    """Match pictures by the first of two lights (401,) to pictures by the second."""
    shot, wanted = (View(camera, each, encoding) for each in lights)
    matrix, cost, score = find_match(shot, wanted, shot_at, keep)
    return Recipe("light-match", *names, LinearCorrection(encoding, matrix), keep, cost, score)
