"""How much of the sky a surface sees, and whether something stands before the sun.

Idea
----
A surface has a tilt (0 lies flat and looks up, 90 stands) and an azimuth that it faces. What blocks
the view, houses or trees or hills, is a horizon: an elevation for each azimuth, straight lines
between the points that are given. The light of a sky is an integral of its luminance over the part
of the dome that the surface sees above the horizon. `sample_dome` is the one quadrature for it:
Gauss-Legendre in elevation from what blocks the view up to the zenith, and in azimuth between the
points of the horizon and the edges of the surface's own plane, where the integrand has kinks. So a
narrow post is met by its edges and not by luck. Two skies are weighed here: an even one, and the
overcast sky of Moon and Spencer (1942), which CIE S 011/ISO 15469 keeps as the traditional overcast
sky: three times as bright overhead as at the horizon. The clear one is in `sky.pattern`.

Weakness: what blocks the sky is taken to be black. A sunlit wall across a yard adds warm
light that nothing here knows of; where one counts, read it, or name it as a source of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

_WIDEST_DEG = 30.0  # of a piece of azimuth
_ACROSS, _UP = 8, 20  # Gauss points in each piece, and up an azimuth
_WHOLE_TURN = 360.0
_OVERCAST_LEVEL = 7.0 / 9.0  # flat illuminance of the overcast sky over that of an even zenith


@dataclass(frozen=True)
class Facing:
    """How a surface lies: tilt from flat [0 to 90 degrees], azimuth it faces [degrees]."""

    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0


@dataclass(frozen=True)
class Horizon:
    """What blocks the view: (azimuth, elevation) points [degrees], in order; none: it is free."""

    points: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        azimuths = [each for each, _ in self.points]
        if azimuths != sorted(set(azimuths)) or any(not 0 <= each < 360 for each in azimuths):
            raise ValueError("expected azimuths from 0 to under 360, each once and in order")
        if any(not 0 <= each < 90 for _, each in self.points):
            raise ValueError("expected elevations from 0 to under 90")


class SkyView(NamedTuple):
    """Shares of light: 1 is what a flat surface gets under a free sky.

    ``even`` and ``overcast`` of the two skies, ``ground`` of an even ground without end (1 would
    be a surface that looks straight down).
    """

    even: float
    overcast: float
    ground: float


class DomeSample(NamedTuple):
    """Directions (n,) that a surface sees, and how much an even sky gives it from around each.

    Elevation and azimuth in degrees; the weights of a flat surface under a free view add up to 1.
    """

    elevation_deg: Array
    azimuth_deg: Array
    weight: Array


def find_horizon_deg(horizon: Horizon, azimuth_deg: ArrayLike) -> Array:
    """Find how high the view is blocked at azimuths (...,), 0 where nothing blocks it."""
    azimuth = np.asarray(azimuth_deg, dtype=np.float64) % 360.0
    if not horizon.points:
        return np.zeros_like(azimuth)
    around, height = np.array(horizon.points).T
    return np.asarray(np.interp(azimuth, around, height, period=360.0))


def find_incidence_cosine(
    facing: Facing, elevation_deg: ArrayLike, azimuth_deg: ArrayLike
) -> Array:
    """Find the cosine of the angle at which light from a direction meets a surface, 0 behind it."""
    tilt, height = np.radians(facing.tilt_deg), np.radians(np.asarray(elevation_deg))
    turn = np.radians(np.asarray(azimuth_deg) - facing.azimuth_deg)
    cosine = np.cos(tilt) * np.sin(height) + np.sin(tilt) * np.cos(height) * np.cos(turn)
    return np.asarray(np.maximum(cosine, 0.0))


FLAT, FREE_VIEW = Facing(), Horizon()


def sample_dome(facing: Facing, horizon: Horizon = FREE_VIEW) -> DomeSample:
    """Sample what a surface sees of the dome, above its own plane and above the horizon.

    Returns
    -------
    DomeSample
        Some 1900 directions under a free view. An even sky is met to 1e-6, a clear one to 0.1 %.
    """
    # Bent at each point of the horizon, at the edges of the plane, and where pieces get wide.
    edges = [0.0, _WHOLE_TURN, *(each for each, _ in horizon.points)]
    edges += [(facing.azimuth_deg + turn) % _WHOLE_TURN for turn in (90.0, 270.0)]
    ends = np.unique(np.round(edges, 9))
    pieces = np.maximum(np.ceil(np.diff(ends) / _WIDEST_DEG).astype(int), 1)
    starts = np.concatenate(
        [np.linspace(a, b, n + 1)[:-1] for a, b, n in zip(ends[:-1], ends[1:], pieces, strict=True)]
    )
    widths = np.diff(np.append(starts, _WHOLE_TURN))
    node, share = _list_gauss(_ACROSS)
    azimuth = (starts[:, None] + widths[:, None] * node).ravel()
    across = np.radians((widths[:, None] * share).ravel())
    turn, tilt = np.radians(azimuth - facing.azimuth_deg), np.radians(facing.tilt_deg)
    up, out = np.cos(tilt), np.sin(tilt) * np.cos(turn)
    # In front of the surface is what stands higher than its own plane there.
    plane = np.where(out < 0, np.arctan2(-out, up), 0.0)
    low = np.maximum(np.radians(find_horizon_deg(horizon, azimuth)), plane)
    low = np.minimum(low, np.pi / 2)[:, None]
    node, share = _list_gauss(_UP)
    height = low + (np.pi / 2 - low) * node
    area = (np.pi / 2 - low) * share * np.cos(height) * across[:, None]
    meets = np.maximum(up * np.sin(height) + out[:, None] * np.cos(height), 0.0)
    around = np.broadcast_to(azimuth[:, None], height.shape)
    return DomeSample(np.degrees(height).ravel(), around.ravel(), (area * meets / np.pi).ravel())


def find_sky_view(facing: Facing, horizon: Horizon = FREE_VIEW) -> SkyView:
    """Find the shares of the skies and of the ground that reach a surface.

    Parameters
    ----------
    facing
        The surface.
    horizon
        What blocks its view.

    Returns
    -------
    SkyView
        Under a free sky ``even`` is (1 + cos tilt) / 2 and ``ground`` (1 - cos tilt) / 2; an
        upright surface gets 0.396 of the overcast sky (Moon and Spencer 1942).
    """
    seen = sample_dome(facing, horizon)
    bright = (1.0 + 2.0 * np.sin(np.radians(seen.elevation_deg))) / 3.0 / _OVERCAST_LEVEL
    ground = float((1.0 - np.cos(np.radians(facing.tilt_deg))) / 2.0)
    return SkyView(float(seen.weight.sum()), float(seen.weight @ bright), ground)


@cache
def _list_gauss(count: int) -> tuple[Array, Array]:
    """List the points and weights of Gauss-Legendre from 0 to 1."""
    node, share = np.polynomial.legendre.leggauss(count)
    return (node + 1.0) / 2.0, share / 2.0
