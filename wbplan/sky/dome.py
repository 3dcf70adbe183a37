"""How much of the sky a surface sees, and whether something stands before the sun.

Idea
----
A surface has a tilt (0 lies flat and looks up, 90 stands) and an azimuth that it faces. What blocks
the view, houses or trees or hills, is a horizon: an elevation for each azimuth, straight lines
between the points that are given. The light of a sky is an integral of its luminance over the part
of the dome that the surface sees above the horizon; along an elevation it is solved in closed
form, around the azimuths it is summed. Two skies are weighed: an even one, and the overcast sky of
Moon and Spencer (1942), which CIE S 011/ISO 15469 keeps as the traditional overcast sky: three
times as bright overhead as at the horizon.

Weakness: what blocks the sky is taken to be black. A sunlit wall across a yard adds warm
light that nothing here knows of; where one counts, read it, or name it as a source of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

_STEP_DEG = 0.25
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
    azimuth = np.arange(_STEP_DEG / 2, 360.0, _STEP_DEG)
    turn = np.radians(azimuth - facing.azimuth_deg)
    tilt = np.radians(facing.tilt_deg)
    up, out = np.cos(tilt), np.sin(tilt) * np.cos(turn)
    # In front of the surface is what stands higher than its own plane there.
    plane = np.where(out < 0, np.arctan2(-out, up), 0.0)
    low = np.maximum(np.radians(find_horizon_deg(horizon, azimuth)), plane)
    low = np.minimum(low, np.pi / 2)
    flat, upright, flat_extra, upright_extra = _integrate(
        np.full_like(low, np.pi / 2)
    ) - _integrate(low)
    even = up * flat + out * upright
    extra = up * flat_extra + out * upright_extra
    step = np.radians(_STEP_DEG)
    whole = float(even.sum() * step / np.pi)
    bright = float((even + 2.0 * extra).sum() / 3.0 * step / np.pi / _OVERCAST_LEVEL)
    return SkyView(max(whole, 0.0), max(bright, 0.0), float((1.0 - up) / 2.0))


def _integrate(height: Array) -> Array:
    """Integrate the light from the horizon up to an elevation, (4, ...), in closed form.

    Of an even sky on a flat and on an upright surface, and of what grows with the sine of the
    elevation on both.
    """
    sine, cosine = np.sin(height), np.cos(height)
    upright = height / 2 + np.sin(2 * height) / 4
    return np.stack([sine**2 / 2, upright, sine**3 / 3, -(cosine**3) / 3])
