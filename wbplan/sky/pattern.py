"""Where on the dome a clear sky is bright, and where its light is warm.

Idea
----
The luminance of a clear sky is that of CIE S 011.1/ISO 15469: a gradation from horizon to zenith,
1 + a exp(b / cos Z), times an indicatrix around the sun, 1 + c (exp(d chi) - exp(d pi/2)) +
e cos^2 chi, with chi the angle from the sun. Three patterns are mixed, each scaled to give a flat
surface 1 under a free view:

- `CLEAR`, type 12, "CIE standard clear sky, low luminance turbidity": the figures planned with.
- `DARK`, type 13, "polluted atmosphere": more around the sun, less away from it.
- `PALE`, our own: the gradation of types 14 and 15, a weak indicatrix. It stands for what measured
  and spectral skies show that types 12 and 13 do not: away from a sun at 45 degrees an upright face
  gets half of the flat light and more (Perez 1993 0.45, spectral skies 0.50 to 0.65).

A draw of the band lies between `DARK` (shape -1), `CLEAR` (0) and `PALE` (+1), or a fifth beyond,
so that a band of 90 % reaches past both.

Colour. Warm is the part with exp(d chi), the aureole, which is the light that haze throws forward,
and warm is `HORIZON_WARM` of what the gradation adds to the zenith's level, since the long way to
the horizon is paler than the zenith; the rest is blue. How far the colour follows that split is
left to the air (`colour_by_direction`); the shares here are the geometry alone. All patterns have
d = -3, so one table of sums over the dome serves every air at once.

Weakness: with the sun down the pattern is that of a sun at the horizon. No measured upright faces
were found to judge by.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from wbplan.core.tables import Array
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing, Horizon, sample_dome

HORIZON_WARM = 0.6  # judged by the colours of upright faces under published spectral skies
_FALL = -3.0  # d of the indicatrix, the same in all three


class Pattern(NamedTuple):
    """A sky by its gradation ``a``, ``b`` and its indicatrix ``c``, ``e``; d is -3."""

    a: float
    b: float
    c: float
    e: float


CLEAR = Pattern(-1.0, -0.32, 10.0, 0.45)  # CIE S 011.1, type 12
DARK = Pattern(-1.0, -0.32, 16.0, 0.30)  # type 13
PALE = Pattern(-1.0, -0.15, 3.5, 0.30)  # gradation of types 14 and 15, indicatrix our own
PATTERNS = (DARK, CLEAR, PALE)


class PatternShares(NamedTuple):
    """What three patterns give a surface, (t, 3) each, where a flat one under a free view gets 1.

    ``level`` is all of it. ``warmth`` is the warm part's light less what it would be if it were
    spread like the whole: 0 for the flat surface, so whatever colour follows it is conserved.
    """

    level: Array
    warmth: Array


def find_pattern_shares(
    sun_elevation_deg: Array, sun_azimuth_deg: Array, facing: Facing, horizon: Horizon = FREE_VIEW
) -> PatternShares:
    """Find what the patterns give a surface, as shares of flat light under a free view."""
    lit, near = _sum_dome(sun_elevation_deg, sun_azimuth_deg, facing, horizon)
    flat, flat_near = _sum_dome(sun_elevation_deg, sun_azimuth_deg, FLAT, FREE_VIEW)
    level = lit / flat
    return PatternShares(level, near / flat - flat_near / flat * level)


def find_pattern_directions(
    sun_elevation_deg: float, sun_azimuth_deg: float, elevation_deg: Array, azimuth_deg: Array
) -> PatternShares:
    """Find how bright the patterns are in directions of the sky, (n, 3) each.

    As a flat surface weighs them, each ``level`` is 1 on the mean over the dome and each ``warmth``
    0: an even sky has the one and not the other everywhere.
    """
    sun_up, sun_turn = np.array([sun_elevation_deg]), np.array([sun_azimuth_deg])
    near, square = (each[0] for each in _find_scatter(sun_up, sun_turn, elevation_deg, azimuth_deg))
    flat, flat_near = _sum_dome(sun_up, sun_turn, FLAT, FREE_VIEW)
    levels, warmths = [], []
    for number, each in enumerate(PATTERNS):
        grade = _grade(each, elevation_deg)
        added = HORIZON_WARM * (grade - _grade(each, np.array([90.0])))
        around = each.c * near
        even = 1.0 - each.c * np.exp(_FALL * np.pi / 2) + each.e * square
        level = grade * (around + even) / flat[0, number]
        warm = (grade * around + added * even) / flat[0, number]
        levels.append(level)
        warmths.append(warm - flat_near[0, number] / flat[0, number] * level)
    return PatternShares(np.stack(levels, axis=1), np.stack(warmths, axis=1))


def mix_patterns(shares: Array, shape: Array) -> Array:
    """Mix shares (t, 3) of the patterns by shapes (m,), -1 to 1 or a little beyond, to (m, t)."""
    dark, pale = np.maximum(-shape, 0.0), np.maximum(shape, 0.0)
    return np.asarray(np.stack([dark, 1.0 - dark - pale, pale], axis=1) @ shares.T)


def _grade(pattern: Pattern, elevation_deg: Array) -> Array:
    up = np.maximum(np.sin(np.radians(elevation_deg)), 1e-9)
    return np.asarray(1.0 + pattern.a * np.exp(pattern.b / up))


def _find_scatter(
    sun_elevation_deg: Array, sun_azimuth_deg: Array, elevation: Array, azimuth: Array
) -> tuple[Array, Array]:
    """Find exp(d chi) and cos^2 chi, (t, n); a sun below the horizon counts as on it."""
    sun = np.radians(np.maximum(sun_elevation_deg, 0.0))[:, None]
    turn = np.radians(sun_azimuth_deg[:, None] - azimuth)
    up = np.radians(elevation)
    cosine = np.sin(sun) * np.sin(up) + np.cos(sun) * np.cos(up) * np.cos(turn)
    chi = np.arccos(np.clip(cosine, -1.0, 1.0))
    return np.exp(_FALL * chi), cosine**2


def _sum_dome(
    sun_elevation_deg: Array, sun_azimuth_deg: Array, facing: Facing, horizon: Horizon
) -> tuple[Array, Array]:
    """Sum each pattern and its warm part over what a surface sees, (t, 3) each."""
    seen = sample_dome(facing, horizon)
    near, square = _find_scatter(
        sun_elevation_deg, sun_azimuth_deg, seen.elevation_deg, seen.azimuth_deg
    )
    lit, warm = [], []
    for each in PATTERNS:
        grade = _grade(each, seen.elevation_deg)
        added = grade - _grade(each, np.array([90.0]))
        weights = np.stack([grade, HORIZON_WARM * added], axis=1) * seen.weight[:, None]
        around = each.c * (near @ weights)
        even = (1.0 - each.c * np.exp(_FALL * np.pi / 2)) * weights.sum(axis=0)
        even = even + each.e * (square @ weights)
        lit.append(even[:, 0] + around[:, 0])
        warm.append(around[:, 0] + even[:, 1])
    return np.stack(lit, axis=1), np.stack(warm, axis=1)
