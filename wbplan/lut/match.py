"""Matching: pictures under one light made to look as under another, or one camera's as another's.

Idea
----
Both are one question. A surface gives balanced camera RGB a (by light A, camera A) and b (by light
B, camera B); a 3 x 3 matrix W with W a near b, in the cameras' own linear RGB, is the match. White
is kept exactly (rows of W sum to 1), and W is fitted on published reflectances and scored on
others, since a matrix is always good on what it was fitted on.

No matrix brings back what the camera did not see. Surfaces that look alike by light A can differ by
light B, and no LUT of any kind can tell them apart again. How far they differ is estimated from the
spread of published reflectances: what is left of the spread of b once a is known. A colour that
the match leaves further off than `LOST_DELTA_E`, and for which that spread is over it too, is
named: no LUT would know better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_matrix import find_balanced_rgb, fit_white_kept
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import CameraView, solve_coordinates
from wbplan.codes.encodings import Encoding
from wbplan.core.tables import Array, load_scored_surfaces, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.lut.bake import normalise_gains
from wbplan.lut.correction import Shot, find_camera_matrix

LOST_DELTA_E = 3.0
"""CIEDE2000 from which a colour counts as lost: a difference that anybody sees in a cut."""


@dataclass(frozen=True)
class Differences:
    """CIEDE2000 over a set of surfaces: mean, 95th percentile and worst."""

    mean: float
    high: float
    worst: float


@dataclass(frozen=True)
class LostColour:
    """A surface that no LUT can bring back.

    ``after`` is what the match leaves of it; ``hidden`` the spread (one standard deviation) of
    surfaces that look just like it before, as they ought to look after. Both CIEDE2000.
    """

    name: str
    after: float
    hidden: float


@dataclass(frozen=True)
class MatchScore:
    """How far pictures are from what they should look like, on surfaces the match never saw.

    ``before`` is with both whites balanced and nothing else done, ``after`` with the match.
    """

    before: Differences
    after: Differences
    lost: tuple[LostColour, ...]
    n_surfaces: int


@dataclass(frozen=True, eq=False)
class View:
    """One side of a match: a camera, the light it looks by (401,), its files' encoding."""

    camera: CameraView
    light: Array
    encoding: Encoding


def find_match(shot: Shot, light: Array, wanted: View) -> tuple[Array, float, MatchScore]:
    """Find what makes a picture look as by another view.

    Parameters
    ----------
    shot, light
        How the picture was made, and by which light (401,).
    wanted
        What it should look like: another light by the same camera, or another camera's picture.

    Returns
    -------
    tuple
        (3, 3) matrix from the one encoding's scene-linear RGB to the other's, what it costs in
        stops, and the score. A white by ``light`` comes out exactly neutral.
    """
    seen = View(shot.camera, light, shot.encoding)
    samples = load_table("samples")
    fitted = fit_white_kept(
        _find_balanced(seen, samples), _find_balanced(wanted, samples), np.ones(3)
    )
    recorded_white = shot.gains * _find_white(seen)
    balance, cost = normalise_gains(recorded_white[1] / recorded_white, shot.keep)
    matrix = _find_own_matrix(wanted) @ fitted @ np.diag(balance) @ np.linalg.inv(shot.matrix)
    return matrix, cost, score_match(seen, wanted, fitted)


def score_match(shot: View, wanted: View, matrix: ArrayLike) -> MatchScore:
    """Score a match on surfaces that it was not fitted on.

    Parameters
    ----------
    matrix
        (3, 3) between the balanced camera RGB of the two views.
    """
    names, surfaces = load_scored_surfaces()
    a, b = _find_balanced(shot, surfaces), _find_balanced(wanted, surfaces)
    shown = _find_own_matrix(wanted)
    goal = _find_lab(b @ shown.T, wanted.encoding)
    plain = _find_lab(a @ _find_own_matrix(shot).T, shot.encoding)
    matched = _find_lab(a @ np.asarray(matrix).T @ shown.T, wanted.encoding)
    left = find_delta_e_2000(matched, goal)
    hidden = _find_hidden(shot, wanted, surfaces)
    order = np.argsort(-left, kind="stable")
    lost = tuple(
        LostColour(names[i], float(left[i]), float(hidden[i]))
        for i in order
        if min(hidden[i], left[i]) > LOST_DELTA_E
    )
    before = _summarise(find_delta_e_2000(plain, goal))
    return MatchScore(before, _summarise(left), lost, len(names))


def compare_matrices(
    first: ArrayLike, second: ArrayLike, encoding: Encoding, linear_rgb: ArrayLike
) -> Differences:
    """Compare what two corrections make of colours (m, 3), in CIEDE2000 against the same white."""
    rgb = np.asarray(linear_rgb, dtype=np.float64).reshape(-1, 3)
    one, other = (_find_lab(rgb @ np.asarray(each).T, encoding) for each in (first, second))
    return _summarise(find_delta_e_2000(one, other))


def find_light_setting(camera: CameraView, light: Array) -> tuple[float, float]:
    """Find the setting at which a camera balances a light (401,): (mired, tint CC)."""
    neutral = find_log2_response(respond(light, camera.profile.sensitivities))
    found = solve_coordinates(camera.locus, neutral[None])
    return float(found.mired[0]), float(found.tint_cc[0])


def _find_white(view: View) -> Array:
    return respond(view.light, view.camera.profile.sensitivities)


def _find_balanced(view: View, surfaces: Array) -> Array:
    return find_balanced_rgb(view.light, surfaces, view.camera.profile.sensitivities)


def _find_own_matrix(view: View) -> Array:
    mired, _ = find_light_setting(view.camera, view.light)
    return find_camera_matrix(view.camera.profile.sensitivities, view.encoding, 1e6 / mired)


def _find_lab(rgb: Array, encoding: Encoding) -> Array:
    to_xyz = encoding.rgb_to_xyz
    return find_lab(rgb @ to_xyz.T, to_xyz.sum(axis=1))


def _summarise(differences: Array) -> Differences:
    return Differences(
        mean=float(differences.mean()),
        high=float(np.percentile(differences, 95.0)),
        worst=float(differences.max()),
    )


def _find_hidden(shot: View, wanted: View, surfaces: Array) -> Array:
    """Estimate for surfaces (m, 401) the spread that a picture does not tell, (m,) CIEDE2000.

    Published reflectances, each over its own mean, are taken as normally distributed; what is left
    of the wanted RGB's covariance once the picture's RGB is known is a Schur complement. Its three
    axes, scaled to a surface's mean, are added to the surface and taken off.
    """
    samples = load_table("samples")
    shape = samples / samples.mean(axis=1, keepdims=True)
    a, b = (_find_balanced(view, shape - shape.mean(axis=0)) for view in (shot, wanted))
    known, shared, whole = a.T @ a, b.T @ a, b.T @ b
    left = whole - shared @ np.linalg.pinv(known, rcond=1e-9, hermitian=True) @ shared.T
    size, axes = np.linalg.eigh(left / (len(samples) - 1))
    steps = (axes * np.sqrt(np.maximum(size, 0.0))).T
    shown = _find_own_matrix(wanted)
    rgb = _find_balanced(wanted, surfaces)
    goal = _find_lab(rgb @ shown.T, wanted.encoding)
    level = surfaces.mean(axis=1)[:, None]
    total = np.zeros(len(surfaces))
    for step in steps:
        up, down = (
            find_delta_e_2000(
                goal, _find_lab((rgb + sign * level * step) @ shown.T, wanted.encoding)
            )
            for sign in (1.0, -1.0)
        )
        total += (up**2 + down**2) / 2.0
    return np.asarray(np.sqrt(total))
