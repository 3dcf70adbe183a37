"""How each kind of LUT is worked out: the exact transform, before it becomes a file."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView, find_own_locus
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.errors import InputError
from wbplan.core.tables import Array, load_table
from wbplan.light.surfaces import list_surfaces
from wbplan.lut.bake import LinearCorrection, normalise_gains, scene_codes
from wbplan.lut.correction import (
    Shot,
    find_correction_matrix,
    find_gamut_change,
    find_surface_rgb,
)
from wbplan.lut.file import Recipe, raise_exposure
from wbplan.lut.match import View, compare_matrices, find_match
from wbplan.lut.monitor import make_monitor_encoding
from wbplan.lut.trials import SceneColours, find_plain_rgb
from wbplan.scene.luts import LutKind, MatchMap
from wbplan.scene.setup import Keep

_WHITE_DIGITS, _MOST_WHITES = 4, 8


def build_colours(shot: Shot, lights: Array) -> SceneColours:
    """Build the colours that files are measured on: published surfaces under lights (p, 401)."""
    surfaces = np.concatenate([list_surfaces().reflectances, load_table("samples")])
    linear = find_surface_rgb(shot, lights, surfaces).reshape(-1, 3)
    whites = find_surface_rgb(shot, lights, np.ones((1, 401)))[:, 0].round(_WHITE_DIGITS)
    if len(whites) > _MOST_WHITES:
        whites = whites[np.linspace(0, len(whites) - 1, _MOST_WHITES).round().astype(np.intp)]
    return SceneColours(linear, whites, scene_codes(shot.encoding, linear))


def rebuild_colours(encoding: Encoding, whites: Array) -> SceneColours:
    """Build the like from whites (p, 3) alone, as the eye sees surfaces; see `find_plain_rgb`."""
    linear = find_plain_rgb(encoding, whites)
    return SceneColours(linear, whites, scene_codes(encoding, linear))


def view_plainly(profile: Camera) -> CameraView:
    """View a camera without its family, which a match does not ask for."""
    none = np.empty((0, *profile.sensitivities.shape))
    return CameraView(profile, find_own_locus(profile), none, None)


def make_correction(shot: Shot, wanted: tuple[float, float]) -> tuple[LinearCorrection, float]:
    """Make the correction to another setting (mired, tint CC), and its cost in stops."""
    matrix, cost = find_correction_matrix(shot, wanted)
    return LinearCorrection(shot.encoding, matrix), cost


def add_monitor(
    correction: LinearCorrection, words: tuple[str, str], keep: Keep, cost: float
) -> Recipe:
    """Add the view on a BT.1886 monitor to a correction."""
    target = make_monitor_encoding(correction.encoding)
    into = np.linalg.inv(target.rgb_to_xyz) @ correction.encoding.rgb_to_xyz
    white = into / into.sum(axis=1, keepdims=True)  # the gamut's white becomes the screen's
    shown = LinearCorrection(correction.encoding, white @ correction.matrix, target)
    return Recipe("monitor", *words, shown, keep, cost)


def write_into(recipe: Recipe, target: Encoding | None) -> Recipe:
    """Let a recipe's picture come out in another encoding, or as it is for None."""
    if target is None:
        return recipe
    given = recipe.correction
    change = find_gamut_change(given.into, target)
    bend = None if given.bend is None else given.bend.move(change)
    return replace(
        recipe,
        correction=LinearCorrection(given.encoding, change @ given.matrix, target, bend),
    )


def reduce_to_gains(
    shot: Shot, correction: LinearCorrection, lights: Array, words: tuple[str, str]
) -> Recipe:
    """Reduce a correction to gains per channel, tried on surfaces under lights (p, 401)."""
    samples = find_surface_rgb(shot, lights, list_surfaces().reflectances)
    return reduce_recipe(Recipe("correct", *words, correction, shot.keep, 0.0), samples)


def reduce_recipe(recipe: Recipe, samples: Array) -> Recipe:
    """Reduce a recipe to gains per channel in the encoding's primaries.

    Greys come out as with the full correction; what colours lose against it is measured on
    surfaces (..., 3) in the encoding's linear RGB.

    Raises
    ------
    InputError
        Where no positive gains do what the correction does to greys.
    """
    correction = recipe.correction
    grey = np.linalg.solve(correction.matrix, np.ones(3))
    if grey.min() <= 0:
        raise InputError(
            "a grey outside the encoding's gamut", "a correction that gains per channel can make"
        )
    gains, cost = normalise_gains(grey[1] / grey, recipe.keep)
    # Colours alone are compared: both corrections bring the grey to the same level.
    level = float((correction.matrix @ grey)[1] / (gains * grey)[1])
    differences = compare_matrices(
        correction.matrix, level * np.diag(gains), correction.encoding, samples
    )
    reduced = replace(
        recipe,
        kind="gains",
        correction=LinearCorrection(correction.encoding, np.diag(gains)),
        cost_stops=cost,
        against_exact=differences,
        up_stops=0.0,
    )
    return raise_exposure(reduced, recipe.up_stops)


def move_to_linear(recipe: Recipe, gamut: str) -> Recipe:
    """Move a recipe that keeps its encoding into the scene-linear RGB of another gamut."""
    target = find_encoding("Linear", gamut)
    ahead = find_gamut_change(recipe.correction.encoding, target)
    matrix = ahead @ recipe.correction.matrix @ np.linalg.inv(ahead)
    given = recipe.correction.bend
    bend = None if given is None else given.move(ahead)
    return replace(recipe, correction=LinearCorrection(target, matrix, bend=bend))


def match_cameras(shot: Shot, like: CameraView, light: Array, by: MatchMap = "best") -> Recipe:
    """Match a camera's picture by a light (401,) to another camera's, in that one's encoding."""
    other = find_encoding(like.profile.curve, like.profile.gamut)
    names = (shot.camera.profile.name, like.profile.name)
    return _take_match("camera-match", names, shot, light, View(like, light, other), by)


def match_lights(
    shot: Shot, lights: tuple[Array, Array], names: tuple[str, str], by: MatchMap = "best"
) -> Recipe:
    """Match pictures by the first of two lights (401,) to pictures by the second."""
    wanted = View(shot.camera, lights[1], shot.encoding)
    return _take_match("light-match", names, shot, lights[0], wanted, by)


def _take_match(
    kind: LutKind, names: tuple[str, str], shot: Shot, light: Array, wanted: View, by: MatchMap
) -> Recipe:
    found = find_match(shot, light, wanted, by)
    target = None if wanted.encoding is shot.encoding else wanted.encoding
    correction = LinearCorrection(shot.encoding, found.matrix, target, found.bend)
    return Recipe(kind, *names, correction, shot.keep, found.cost_stops, found.score)
