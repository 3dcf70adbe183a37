"""The colours that break tables, drawn apart from those that a table is made on.

Published surfaces under the lights of a scene are kind to a table: none is near the edge of a
gamut. Three other kinds of colours are in every picture and are not:

- coloured light: surfaces under the narrow primaries of LED fixtures, alone and mixed with white,
  and the same brought to the edge of the gamut, before or after the correction;
- near black: surfaces and greys more than 4 stops under grey, with a camera's noise;
- coded negatives: colours just outside the gamut, whose codes a file still holds.

`draw_trials` draws each kind for one correction, `lut.kinds` measures on them. Coloured light is as
the CIE 1931 eye sees it, which is camera enough to reach every edge of a gamut.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.codes.encodings import Encoding
from wbplan.core.tables import Array, fold_channels, load_table
from wbplan.light.colorimetry import find_tristimulus, find_white_xyz
from wbplan.light.surfaces import list_surfaces
from wbplan.lut.bake import LinearCorrection, find_least, find_lowest_node
from wbplan.lut.gamut import GamutBend
from wbplan.lut.kinds import Admit, Trial, TrialKind

NOISE = 0.001
"""Standard deviation of the noise near black [scene linear, grey 0.18]: 7.5 stops under grey, what
a cinema camera shows at its base EI (common practice, no source)."""

DARK = 0.18 / 16.0
"""Scene value under which near-black colours lie: 4 stops under grey [linear]."""

_DRAWN = 8192
_SEED = 18
_LOW_STOPS, _HIGH_STOPS = -6.0, 4.0
_LITTLE = 1e-9
_NEAR_SURFACES = 0.2  # further away from a surface's colour is no surface's
# LED primaries of fixtures: peaks and widths at half height [nm], shares of power that are not
# white (common practice, no source)
_PEAKS = np.arange(440.0, 661.0, 10.0)
_WIDTHS = np.array([18.0, 32.0])
_PURE = (1.0, 0.85, 0.5)


@dataclass(frozen=True, eq=False)
class SceneColours:
    """The colours of a scene in a picture's scene-linear RGB.

    Attributes
    ----------
    linear
        (m, 3) published surfaces under the scene's lights.
    whites
        (p, 3) a perfect white under each of the lights, rounded to what a header says.
    codes
        (n, 3) codes to choose a table on, from `bake.scene_codes`.
    """

    linear: Array
    whites: Array
    codes: Array


def draw_trials(
    correction: LinearCorrection, surfaces: ArrayLike, seed: int = _SEED
) -> tuple[Trial, ...]:
    """Draw colours of each kind.

    Parameters
    ----------
    correction
        What they are for: the gamut's edge before and after depends on it.
    surfaces
        (m, 3) scene-linear RGB in the encoding's gamut of surfaces under the scene's lights.
    seed
        Of the draw; the same colours for the same seed.

    Returns
    -------
    tuple
        A `Trial` for each kind that has any colours. A curve that has no codes below black has no
        coded negatives.
    """
    generator = np.random.default_rng(seed)
    plain = np.asarray(surfaces, dtype=np.float64).reshape(-1, 3)
    coloured = find_lit_rgb(correction.encoding)
    admit = _Admit(correction)
    drawn: tuple[tuple[TrialKind, Array, Admit, float], ...] = (
        ("surfaces", _draw_surfaces(plain, generator), admit.in_gamut, _NEAR_SURFACES),
        ("coloured-light", _draw_coloured(correction, coloured, generator), admit.in_gamut, 1.0),
        ("near-black", _draw_dark(plain, generator), admit.near_black, 1.0),
        ("coded-negatives", _draw_negatives(correction, coloured, generator), admit.negatives, 1.0),
    )
    trials = []
    for kind, linear, holds, reach in drawn:
        codes = correction.encoding.encode(linear)
        held, wanted = holds(codes)
        trials.append(Trial(kind, codes[held], wanted[held], holds, reach))
    return tuple(each for each in trials if len(each.codes))


def find_lit_rgb(encoding: Encoding) -> Array:
    """Find linear RGB (m, 3) of surfaces under coloured LED light, in an encoding's gamut.

    Each light has the level that its own largest surface value is 1 in XYZ. Many lie outside.
    """
    return np.asarray(_find_lit_xyz() @ np.linalg.inv(encoding.rgb_to_xyz).T)


def find_plain_rgb(encoding: Encoding, whites: ArrayLike) -> Array:
    """Find linear RGB (p m, 3) of surfaces as the eye sees them, under whites (p, 3) of linear RGB.

    For want of a camera: balanced to the encoding's white, then each channel times the white's.
    """
    light = load_table("samples"), list_surfaces().reflectances
    xyz = find_tristimulus(np.concatenate(light))
    balanced = xyz / find_tristimulus(np.ones(401)) * find_white_xyz(encoding.white_xy)
    rgb = balanced @ np.linalg.inv(encoding.rgb_to_xyz).T
    return np.asarray((np.asarray(whites)[:, None] * rgb).reshape(-1, 3))


@cache
def _find_lit_xyz() -> Array:
    """Find XYZ (m, 3) of every third surface under narrow lights, alone and mixed with white."""
    nm = np.arange(380.0, 781.0)[:, None]
    peaks, widths = (each.ravel() for each in np.meshgrid(_PEAKS, _WIDTHS))
    narrow = np.exp(-4.0 * np.log(2.0) * ((nm - peaks) / widths) ** 2)
    narrow = (narrow / narrow.sum(axis=0)).T
    lights = np.concatenate([part * narrow + (1.0 - part) / 401.0 for part in _PURE])
    surfaces = np.concatenate([list_surfaces().reflectances, load_table("samples")[::3]])
    sees = (surfaces[:, :, None] * load_table("observer")).transpose(1, 0, 2)
    xyz = (lights @ sees.reshape(len(nm), -1)).reshape(len(lights), len(surfaces), 3)
    xyz = (xyz / xyz.max(axis=(1, 2), keepdims=True)).reshape(-1, 3)
    xyz.flags.writeable = False
    return np.asarray(xyz)


class _Admit:
    """Which codes belong to a kind, for one correction, and what they become."""

    def __init__(self, correction: LinearCorrection) -> None:
        self._correction = correction
        self._lowest = find_lowest_node(correction.into)

    def _look(self, codes: Array) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
        before = self._correction.encoding.decode(codes)
        after = self._correction.correct_light(before)
        held = fold_channels(np.logical_and, (codes >= 0.0) & (codes <= 1.0))
        return before, after, self._correction.into.encode(after), held

    def in_gamut(self, codes: Array) -> tuple[NDArray[np.bool_], Array]:
        before, after, wanted, held = self._look(codes)
        return held & (find_least(before, after) >= -_LITTLE), wanted

    def near_black(self, codes: Array) -> tuple[NDArray[np.bool_], Array]:
        before, _, wanted, held = self._look(codes)
        coded = fold_channels(np.minimum, wanted) >= self._lowest
        return held & coded & (fold_channels(np.maximum, before) <= DARK), wanted

    def negatives(self, codes: Array) -> tuple[NDArray[np.bool_], Array]:
        before, after, wanted, held = self._look(codes)
        coded = fold_channels(np.minimum, wanted) >= self._lowest
        return held & coded & (find_least(before, after) < -_LITTLE), wanted


def _expose(rgb: Array, generator: np.random.Generator) -> Array:
    return np.asarray(rgb * 2.0 ** generator.uniform(_LOW_STOPS, _HIGH_STOPS, (len(rgb), 1)))


def _pick(rgb: Array, generator: np.random.Generator) -> Array:
    """Pick colours, each a mixture of two: none is one that a table was fitted on."""
    if not len(rgb):
        return np.zeros((0, 3))
    one, other = rgb[generator.integers(0, len(rgb), (2, _DRAWN))]
    share = generator.uniform(0.0, 1.0, (_DRAWN, 1))
    return np.asarray(one * share + other * (1.0 - share))


def _draw_surfaces(rgb: Array, generator: np.random.Generator) -> Array:
    return _expose(_pick(rgb, generator), generator)


def _find_reach(correction: LinearCorrection, rgb: Array, floor: Array) -> Array:
    """Find how far (n, 1) each colour can be drawn from its grey until a channel is at a floor.

    1 is the colour itself. Channels before and after the correction count; ``floor`` (n, 6).
    """
    grey = np.maximum(rgb.mean(axis=-1, keepdims=True), _LITTLE) * np.ones(3)
    # What brings light into the gamut after leaves it no edge there.
    after = np.eye(3) if isinstance(correction.bend, GamutBend) else correction.matrix
    both = np.concatenate([rgb, rgb @ after.T], axis=-1)
    plain = np.concatenate([grey, grey @ after.T], axis=-1)
    fall = plain - both
    reach = np.where(fall > _LITTLE, (plain - floor) / np.maximum(fall, _LITTLE), np.inf)
    return np.asarray(reach.min(axis=-1, keepdims=True))


def _draw_out(rgb: Array, reach: Array) -> Array:
    grey = np.maximum(rgb.mean(axis=-1, keepdims=True), _LITTLE)
    return np.asarray(grey + (rgb - grey) * reach)


def _draw_coloured(
    correction: LinearCorrection, rgb: Array, generator: np.random.Generator
) -> Array:
    """Draw lit colours inside the gamut: as they are where they are, and towards its edge."""
    picked = _expose(_pick(rgb, generator), generator)
    if not len(picked):
        return picked
    edge = _find_reach(correction, picked, np.zeros((len(picked), 6)))
    whole = np.minimum(edge, 1.0)
    towards = np.minimum(edge * generator.uniform(0.8, 1.0, edge.shape), 20.0)
    return np.concatenate([_draw_out(picked, whole), _draw_out(picked, towards)])


def _draw_dark(rgb: Array, generator: np.random.Generator) -> Array:
    picked = _pick(rgb, generator)
    if not len(picked):
        return picked
    peak = np.maximum(picked.max(axis=-1, keepdims=True), _LITTLE)
    level = DARK * generator.uniform(0.0, 1.0, (len(picked), 1)) ** 2
    noise = generator.normal(0.0, NOISE, picked.shape)
    return np.asarray(picked / peak * level + noise)


def _draw_negatives(
    correction: LinearCorrection, rgb: Array, generator: np.random.Generator
) -> Array:
    """Draw lit colours out to where a channel is negative, but not below what a file can hold."""
    picked = _expose(_pick(rgb, generator), generator)
    lowest = np.maximum(find_lowest_node(correction.into), 0.0)
    ends = (
        float(correction.encoding.decode(0.0)),
        float(correction.into.decode(lowest)),
    )
    if not len(picked) or (max(ends) >= -_LITTLE and min(ends) >= -_LITTLE):
        return np.zeros((0, 3))
    floor = np.repeat(np.minimum(ends, 0.0), 3) * generator.uniform(0.0, 1.0, (len(picked), 1))
    return _draw_out(picked, np.minimum(_find_reach(correction, picked, floor), 20.0))
