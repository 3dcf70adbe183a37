"""Matching: pictures under one light made to look as under another, or one camera's as another's.

Idea
----
Both are one question. A surface gives balanced camera RGB a (by light A, camera A) and b (by light
B, camera B), and a map from a to b is the match. White is kept exactly and the map scales with
exposure. Two maps are fitted on published reflectances: the matrix of least CIEDE2000, and a root
polynomial (`lut.bend`), which only a table can hold. How far the polynomial may go is settled by
cross-validation. It has to beat the matrix there by more than chance, and to be no worse on skins
and on surfaces steeper than paints, or the matrix stands; both are scored on other surfaces.

Near the goal CIEDE2000 is a quadratic form by squares, other at each colour, so a polynomial is one
linear solve; the matrix is found by steps in CIEDE2000 itself. Two cameras see the same coloured
light, so their match is also fitted on surfaces in the light of narrow LEDs, with little weight: it
keeps the polynomial sane out there.

No map brings back what the camera did not see. That is said of a colour only where two things hold:
the best map leaves it further off than `LOST_DELTA_E`, and a twin proves it: a mixture of published
reflectances that looks exactly like it before and so different after that the best that could be
made of both, the middle between, misses by more than that too. One of the two can be had then, not
both.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_matrix import find_balanced_rgb
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import CameraView, solve_coordinates
from wbplan.codes.encodings import Encoding
from wbplan.core.tables import Array, load_rendering_table, load_scored_surfaces, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.lut.bake import normalise_gains
from wbplan.lut.bend import TERM_COUNTS, RootBend, list_terms
from wbplan.lut.correction import Shot
from wbplan.scene.luts import MatchMap

LOST_DELTA_E = 3.0
"""CIEDE2000 from which a colour counts as lost: a difference that anybody sees in a cut."""

_FOLDS = 9
_MELANIN = (-0.2, 0.0, 0.3, 0.7, 1.2)  # more than a published complexion has, absorbance at 550 nm
_PULLS = (0.1, 1.0, 10.0, 100.0)  # towards the matrix alone, in squares of CIEDE2000
# surfaces steeper than paints (ours): edges, their width, the least and the further reflectance
_EDGES_NM, _EDGE_WIDTH_NM, _DULL, _BRIGHT = np.arange(420.0, 681.0, 20.0), 12.0, 0.03, 0.6
_STEEP_WEIGHT = 0.3
_SAME = 1e-9  # reflectance
_SETTLED = 1e-6  # the same for what no surface says anything of
_BEND_FROM = 1e-3  # CIEDE2000 that a further bend has to gain on colours held back
_BEND_SHARE = 0.95  # of the matrix's there, under which a bend is more than chance
_FIT_STEPS, _FOLD_STEPS, _NUDGE = 30, 10, 1e-5
_WORST_CONDITION = 1e4  # a matrix that is nearly singular cannot be turned back to camera RGB
# LED primaries: peaks and width at half height [nm], shares of power that are not the scene's light
# (common practice, no source); a share of the samples, and what each counts
_LED_PEAKS, _LED_WIDTH, _LED_SHARES = np.arange(440.0, 661.0, 20.0), 24.0, (0.85, 0.5)
_LED_SAMPLES, _LED_WEIGHT = 12, 0.15
_DARKEST = 0.005  # linear; how far off a darker goal is, is told as if it were this light


@dataclass(frozen=True)
class Differences:
    """CIEDE2000 over a set of surfaces: mean, 95th percentile and worst."""

    mean: float
    high: float
    worst: float


@dataclass(frozen=True)
class LostColour:
    """A surface that no LUT can bring back.

    ``after`` is what the match leaves of it; ``twin`` is how far from it, as it ought to look
    after, a surface lies that looks just like it before. Both CIEDE2000.
    """

    name: str
    after: float
    twin: float


@dataclass(frozen=True)
class MatchScore:
    """How far pictures are from what they should look like, on surfaces the match never saw.

    ``before`` is with both whites balanced and nothing else done, ``matrix`` with the best matrix
    alone, ``after`` with the match.
    """

    before: Differences
    matrix: Differences
    after: Differences
    lost: tuple[LostColour, ...]
    n_surfaces: int


@dataclass(frozen=True, eq=False)
class View:
    """One side of a match: a camera, the light it looks by (401,), its files' encoding."""

    camera: CameraView
    light: Array
    encoding: Encoding


@dataclass(frozen=True, eq=False)
class ColourMap:
    """A map from balanced camera RGB to an encoding's linear RGB, white to (1, 1, 1).

    ``matrix`` (3, 3) is the best matrix; ``bend`` is what comes after it, None where nothing is
    better.
    """

    matrix: Array
    bend: RootBend | None

    def apply(self, rgb: ArrayLike) -> Array:
        """Map colours (..., 3)."""
        light = np.asarray(rgb, dtype=np.float64) @ self.matrix.T
        return light if self.bend is None else self.bend.apply(light)


@dataclass(frozen=True, eq=False)
class Match:
    """A match from the one encoding's scene-linear RGB to the other's.

    ``matrix`` (3, 3), then ``bend``; what it costs in stops; how good it is.
    """

    matrix: Array
    bend: RootBend | None
    cost_stops: float
    score: MatchScore


def find_match(shot: Shot, light: Array, wanted: View, by: MatchMap = "best") -> Match:
    """Find what makes a picture look like another.

    Parameters
    ----------
    shot, light
        How the picture was made, and by which light (401,).
    wanted
        What it should look like: another light by the same camera, or another camera's picture.
    by
        ``best``, or ``matrix`` for the best matrix alone, which needs no table.

    Returns
    -------
    Match
        A white by ``light`` comes out exactly neutral.
    """
    seen = View(shot.camera, light, shot.encoding)
    fitted = fit_colour_map(seen, wanted)
    if by == "matrix":
        fitted = ColourMap(fitted.matrix, None)
    recorded_white = shot.gains * _find_white(seen)
    balance, cost = normalise_gains(recorded_white[1] / recorded_white, shot.keep)
    matrix = fitted.matrix @ np.diag(balance) @ np.linalg.inv(shot.matrix)
    return Match(matrix, fitted.bend, cost, score_match(seen, wanted, fitted))


def fit_colour_map(shot: View, wanted: View) -> ColourMap:
    """Fit the map between two views, its bend chosen by cross-validation on published surfaces."""
    samples = load_table("samples")
    shown = _find_own_matrix(wanted)

    def see(surfaces: Array) -> tuple[Array, Array]:
        return _find_balanced(shot, surfaces), _find_balanced(wanted, surfaces) @ shown.T

    further = [(*see(_list_skins()), 1.0), (*see(_list_steep_surfaces()), _STEEP_WEIGHT)]
    if np.array_equal(shot.light, wanted.light):
        further.append((*_find_lit_pairs(shot, wanted, shown), _LED_WEIGHT))
    known = see(samples)
    squares = _Squares(known, further, wanted.encoding)
    matrix, held = fit_matrix(*known, wanted.encoding, squares.solve(1, 0.0))
    if np.linalg.cond(matrix) > _WORST_CONDITION:
        return ColourMap(matrix, None)
    tried = [(degree, pull) for degree in (2, 3) for pull in _PULLS]
    errors = np.array([squares.hold_back(*each) for each in tried])
    if errors.min() > _BEND_SHARE * held:
        return ColourMap(matrix, None)
    degree, pull = tried[int(np.argmax(errors <= errors.min() + _BEND_FROM))]
    weights = squares.solve(degree, pull)
    weights[:, :2] -= matrix[:, [0, 2]]
    alone = ColourMap(matrix, None)
    bent = ColourMap(matrix, RootBend(np.asarray(np.linalg.inv(matrix), dtype=np.float64), weights))
    rgb, goal = (np.concatenate(each) for each in zip(*(e[:2] for e in further[:2]), strict=True))
    wanted_lab = _find_lab(goal, wanted.encoding)
    off = [
        find_delta_e_2000(_find_lab(each.apply(rgb), wanted.encoding), wanted_lab).mean()
        for each in (alone, bent)
    ]
    return bent if off[1] <= off[0] else alone


def fit_matrix(
    rgb: Array, goal: Array, encoding: Encoding, start: Array | None = None
) -> tuple[Array, float]:
    """Fit the matrix (3, 3) of least mean CIEDE2000 that keeps white.

    Parameters
    ----------
    rgb, goal
        (m, 3) balanced camera RGB, and linear RGB of the encoding.
    start
        (3, 2) weights of red and blue to begin from besides leaving all as it is.

    Returns
    -------
    tuple
        The matrix, and the mean CIEDE2000 of colours held back, each fitted by the others.
    """
    to_xyz = encoding.rgb_to_xyz
    lab = _find_lab(goal, encoding)

    def miss(weights: Array) -> Array:
        red, blue = weights[..., 0], weights[..., 1]
        each = np.stack([red, 1.0 - red - blue, blue], axis=-1)
        got = np.einsum("...ij,mj->...mi", to_xyz @ each, rgb)
        return np.asarray(find_delta_e_2000(find_lab(got, to_xyz.sum(axis=1)), lab))

    plain = np.array([[1.0, 0.0], [0.0, 0.0], [0.0, 1.0]])
    begun = np.stack([plain, *([] if start is None else [start])])
    every = np.ones((len(begun), len(rgb)))
    found = _walk_down(miss, begun, every, _FIT_STEPS)
    whole = found[int(miss(found).mean(axis=-1).argmin())]
    part = np.arange(len(rgb)) % _FOLDS
    kept = (part != np.arange(_FOLDS)[:, None]).astype(np.float64)
    folds = _walk_down(miss, np.repeat(whole[None], _FOLDS, axis=0), kept, _FOLD_STEPS)
    held = miss(folds)[part, np.arange(len(rgb))]
    red, blue = whole.T
    return np.stack([red, 1.0 - red - blue, blue], axis=-1), float(held.mean())


def _walk_down(miss: Callable[[Array], Array], weights: Array, kept: Array, steps: int) -> Array:
    """Walk weights (f, 3, 2) down to the least sum of ``miss`` over what is ``kept`` (f, m), by
    damped Gauss-Newton steps of its roots.
    """
    ways = _NUDGE * np.eye(6).reshape(6, 3, 2)
    damping = np.full(len(weights), 1e-2)

    def find_root(at: Array) -> Array:
        return np.sqrt(miss(at) + 1e-6)

    root = find_root(weights) * kept
    for _ in range(steps):
        slope = (find_root(weights[:, None] + ways) * kept[:, None] - root[:, None]) / _NUDGE
        square = np.einsum("fim,fjm->fij", slope, slope)
        square[:, range(6), range(6)] *= 1.0 + damping[:, None]
        down = np.einsum("fim,fm->fi", slope, root)[..., None]
        tried = weights - np.linalg.solve(square, down).reshape(-1, 3, 2)
        new = find_root(tried) * kept
        better = (new**2).sum(axis=1) < (root**2).sum(axis=1)
        weights = np.where(better[:, None, None], tried, weights)
        root = np.where(better[:, None], new, root)
        damping = np.where(better, damping / 5.0, damping * 5.0)
    return weights


class _Squares:
    """The least squares of a fit in CIEDE2000 about its goals, cut into parts to hold back.

    Parameters
    ----------
    samples
        (m, 3) balanced camera RGB and (m, 3) goals.
    further
        The like, with what each counts, for what is in every part.
    """

    def __init__(
        self,
        samples: tuple[Array, Array],
        further: list[tuple[Array, Array, float]],
        encoding: Encoding,
    ) -> None:
        self._encoding = encoding
        self._rgb, self._goal = samples
        self._terms = list_terms(self._rgb, max(TERM_COUNTS))
        # Every ninth sample is held back in turn: neighbours in the list are neighbours in hue.
        self._part = np.arange(len(self._rgb)) % _FOLDS
        rows, wanted = self._scale(self._rgb, self._goal, 1.0)
        self._parts = [
            _multiply(rows[part], wanted[part])
            for part in (self._part == number for number in range(_FOLDS))
        ]
        always = [_multiply(*self._scale(*each)) for each in further]
        self._whole = _add([*self._parts, *always])

    def _scale(self, rgb: Array, goal: Array, weight: float) -> tuple[Array, Array]:
        """Give the equations of colours, (m, 3, 3, k) for the weights (3, k) and (m, 3)."""
        scale = weight * _find_unlikeness(goal, self._encoding)
        rows = scale[..., None] * list_terms(rgb, max(TERM_COUNTS))[:, None, None]
        return rows, (scale @ (goal - rgb[:, 1:2])[..., None])[..., 0]

    def solve(self, degree: int, pull: float, without: int | None = None) -> Array:
        """Solve for the weights (3, k) of the terms of a degree, one part left out or none."""
        square, right = self._whole
        if without is not None:
            square, right = square - self._parts[without][0], right - self._parts[without][1]
        count = TERM_COUNTS[degree]
        each = np.full(count, pull)
        each[: TERM_COUNTS[1]] = _SETTLED
        held = np.diag(np.tile(each, 3))
        square = square[:, :count, :, :count].reshape(3 * count, -1) + held
        return np.asarray(np.linalg.solve(square, right[:, :count].ravel()).reshape(3, -1))

    def hold_back(self, degree: int, pull: float) -> float:
        """Find the mean CIEDE2000 of the samples, each fitted by the other parts alone."""
        weights = np.stack([self.solve(degree, pull, number) for number in range(_FOLDS)])
        terms = self._terms[:, None, : TERM_COUNTS[degree]]
        got = self._rgb[:, 1:2] + (terms * weights[self._part]).sum(axis=-1)
        labs = (_find_lab(each, self._encoding) for each in (got, self._goal))
        return float(find_delta_e_2000(*labs).mean())


def _multiply(rows: Array, wanted: Array) -> tuple[Array, Array]:
    """Make normal equations, (3, k, 3, k) and (3, k), of equations as `_Squares._scale` gives."""
    flat = rows.reshape(-1, rows.shape[2] * rows.shape[3])
    shape = rows.shape[2:]
    return (flat.T @ flat).reshape(*shape, *shape), (flat.T @ wanted.ravel()).reshape(shape)


def _add(products: list[tuple[Array, Array]]) -> tuple[Array, Array]:
    return sum(each for each, _ in products), sum(each for _, each in products)  # type: ignore[return-value]


def _list_skins() -> Array:
    """List skins (15, 401) to fit on: three published complexions, each with five pigmentations.

    Nos. 15 and 18 of the CIE 224:2017 samples and the Japanese complexion of the CIE's data; more
    or less melanin absorbs as wavelength to the power of -3.48 (Jacques 2013, from memory).
    """
    bare = np.concatenate(
        [load_table("samples")[[14, 17]], load_rendering_table("test_colours")[14:]]
    )
    absorbed = (np.arange(380.0, 781.0) / 550.0) ** -3.48
    return np.concatenate([bare * np.exp(-more * absorbed) for more in _MELANIN])


def _list_steep_surfaces() -> Array:
    """List surfaces (m, 401) more colourful than any paint: rises, falls, bands and notches."""
    nm = np.arange(380.0, 781.0)
    rise = 1.0 / (1.0 + np.exp(-(nm - _EDGES_NM[:, None]) / _EDGE_WIDTH_NM))
    bands = [low - high for step in (3, 5) for low, high in zip(rise, rise[step:], strict=False)]
    part = np.concatenate([rise, bands])
    return np.concatenate([_DULL + _BRIGHT * part, _DULL + _BRIGHT * (1.0 - part)])


def _find_unlikeness(goal: Array, encoding: Encoding) -> Array:
    """Find matrices (m, 3, 3) whose product with a small change of RGB is as long as CIEDE2000."""
    goal = np.maximum(goal, _DARKEST)
    step = 0.02 * goal.mean(axis=-1)
    lab = _find_lab(goal, encoding)
    axes = np.eye(3)
    pairs = [axes[0] + axes[1], axes[1] + axes[2], axes[2] + axes[0]]
    apart = [axes[0] - axes[1], axes[1] - axes[2], axes[2] - axes[0]]
    ways = np.array([*axes, *pairs, *apart])[:, None] * step[:, None]
    squared = np.zeros((len(ways), len(goal)))
    for sign in (1.0, -1.0):
        squared += find_delta_e_2000(lab, _find_lab(goal + sign * ways, encoding)) ** 2 / 2.0
    squared /= step**2
    form = np.zeros((len(goal), 3, 3))
    for i in range(3):
        j = (i + 1) % 3
        form[:, i, i] = squared[i]
        form[:, i, j] = form[:, j, i] = (squared[3 + i] - squared[6 + i]) / 4.0
    size, axis = np.linalg.eigh(form)
    size = np.maximum(size, 1e-6 * size.max(axis=-1, keepdims=True))
    return np.asarray(np.sqrt(size)[..., None] * np.swapaxes(axis, -1, -2))


def _find_lit_pairs(shot: View, wanted: View, shown: Array) -> tuple[Array, Array]:
    """Find what two cameras balanced on one light make of surfaces by LEDs: (m, 3) and (m, 3)."""
    nm = np.arange(380.0, 781.0)
    narrow = np.exp(-4.0 * np.log(2.0) * ((nm - _LED_PEAKS[:, None]) / _LED_WIDTH) ** 2)
    narrow /= narrow.sum(axis=-1, keepdims=True)
    white = shot.light / shot.light.sum()
    lights = np.concatenate([part * narrow + (1.0 - part) * white for part in _LED_SHARES])
    lit = lights[:, None] * load_table("samples")[::_LED_SAMPLES]
    sides = []
    for view in (shot, wanted):
        curves = view.camera.profile.sensitivities
        sides.append((respond(lit, curves) / respond(white, curves)).reshape(-1, 3))
    return sides[0], sides[1] @ shown.T


def score_match(shot: View, wanted: View, fitted: ColourMap) -> MatchScore:
    """Score a map between two views on surfaces that it was not fitted on."""
    names, surfaces = load_scored_surfaces()
    a, b = _find_balanced(shot, surfaces), _find_balanced(wanted, surfaces)
    goal = _find_lab(b @ _find_own_matrix(wanted).T, wanted.encoding)
    plain = _find_lab(a @ _find_own_matrix(shot).T, shot.encoding)
    alone = find_delta_e_2000(_find_lab(a @ fitted.matrix.T, wanted.encoding), goal)
    left = find_delta_e_2000(_find_lab(fitted.apply(a), wanted.encoding), goal)
    lost = []
    for row in np.argsort(-left, kind="stable"):
        if left[row] <= LOST_DELTA_E:
            break
        twin, at_best = find_twin(shot, wanted, surfaces[row])
        if at_best > LOST_DELTA_E:
            lost.append(LostColour(names[row], float(left[row]), twin))
    return MatchScore(
        _summarise(find_delta_e_2000(plain, goal)),
        _summarise(alone),
        _summarise(left),
        tuple(lost),
        len(names),
    )


def find_twin(shot: View, wanted: View, surface: Array) -> tuple[float, float]:
    """Find how differently a surface that looks the same before can look after.

    Parameters
    ----------
    surface
        (401,) reflectance.

    Returns
    -------
    tuple
        CIEDE2000 between the surface and its most different twin as they ought to look after, and
        the larger of the two misses if both were brought to the middle between them; both 0 where
        there is no twin. A twin is a mixture of published reflectances, black among them, with the
        same balanced RGB before. By linear programmes, one each way along the axes along which
        colours look most different.
    """
    from scipy.optimize import linprog
    from scipy.sparse import block_diag, coo_array

    known = np.concatenate([load_table("samples"), load_scored_surfaces()[1], np.zeros((1, 401))])
    known = known[np.abs(known - surface).max(axis=1) > _SAME]
    shown = _find_own_matrix(wanted)
    a, b = _find_balanced(shot, known), _find_balanced(wanted, known) @ shown.T
    own_a = _find_balanced(shot, surface[None])[0]
    own_b = (_find_balanced(wanted, surface[None]) @ shown.T)[0]
    axes = _find_unlikeness(own_b[None], wanted.encoding)[0]
    ways = np.concatenate([axes, -axes])
    same = np.concatenate([a.T, np.ones((1, len(a)))])
    found = linprog(
        (ways @ b.T).ravel(),
        A_eq=block_diag([coo_array(same)] * len(ways), format="csc"),
        b_eq=np.tile([*own_a, 1.0], len(ways)),
    )
    if found.status != 0:
        return 0.0, 0.0
    twins = found.x.reshape(len(ways), -1) @ b
    own, others, between = (
        _find_lab(each, wanted.encoding) for each in (own_b, twins, (twins + own_b) / 2.0)
    )
    apart = find_delta_e_2000(own, others)
    misses = np.maximum(find_delta_e_2000(between, own), find_delta_e_2000(between, others))
    most = int(np.argmax(apart))
    return float(apart[most]), float(misses[most])


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
    return Shot(view.camera, view.encoding, (mired, 0.0)).matrix


def _find_lab(rgb: Array, encoding: Encoding) -> Array:
    to_xyz = encoding.rgb_to_xyz
    return find_lab(rgb @ to_xyz.T, to_xyz.sum(axis=1))


def _summarise(differences: Array) -> Differences:
    return Differences(
        mean=float(differences.mean()),
        high=float(np.percentile(differences, 95.0)),
        worst=float(differences.max()),
    )
