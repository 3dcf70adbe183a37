"""What a lamp throws which way, as photometry files tell it, and the lux that follow.

Idea
----
A luminous intensity distribution on C planes and gamma angles (CIE 121:1996; type C of LM-63):
gamma is 0 along the lamp's axis, straight down as the lamp was measured, and C turns
counterclockwise seen from behind the lamp (from above, as it hung). Seen from far enough, five
times its size (common practice, no source), it is a point, and E = I cos(i) / d^2.

The room is that of `scene.plate`: x to the right of the lens, y along it, z up [m].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.spectrum import freeze


@dataclass(frozen=True, eq=False)
class Photometry:
    """A lamp's luminous intensities, whole: what is mirrored in its file is written out here.

    Parameters
    ----------
    c_deg
        (m,) rising from 0 to 360, both there [degrees].
    gamma_deg
        (n,) rising, within 0 to 180 [degrees]; outside them it gives no light.
    candela
        (m, n) at full drive [cd].
    size_m
        The largest side of what shines [m], 0 for a point.
    lamp_lumens
        Of all its lamps [lm], None where the measurement was absolute.
    tilt_deg, tilt_ratio
        (t,) what tilting the lamp out of the hanging position leaves of its light; empty where it
        does not matter.
    """

    c_deg: Array
    gamma_deg: Array
    candela: Array
    size_m: float = 0.0
    lamp_lumens: float | None = None
    tilt_deg: tuple[float, ...] = ()
    tilt_ratio: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("c_deg", "gamma_deg"):
            object.__setattr__(self, name, freeze(getattr(self, name)))
        shape = (self.c_deg.size, self.gamma_deg.size)
        object.__setattr__(self, "candela", freeze(self.candela, shape))

    @property
    def is_round(self) -> bool:
        """Whether it is the same all around its axis."""
        return bool((self.candela == self.candela[0]).all())


def find_intensity_cd(photometry: Photometry, c_deg: ArrayLike, gamma_deg: ArrayLike) -> Array:
    """Find the luminous intensity, (...,) [cd], linear between the angles that were measured."""
    gamma = np.asarray(gamma_deg, dtype=np.float64)
    plane, past = _find_cell(photometry.c_deg, np.mod(np.asarray(c_deg, dtype=np.float64), 360.0))
    row, beyond = _find_cell(photometry.gamma_deg, gamma)
    one, two = (
        photometry.candela[plane + step, row] * (1.0 - beyond)
        + photometry.candela[plane + step, row + 1] * beyond
        for step in (0, 1)
    )
    measured = (gamma >= photometry.gamma_deg[0]) & (gamma <= photometry.gamma_deg[-1])
    return np.asarray(np.where(measured, one * (1.0 - past) + two * past, 0.0))


def _find_cell(grid: Array, at: Array) -> tuple[np.ndarray, Array]:
    """Find the interval of a rising grid that a value lies in, and how far along it."""
    cell = np.clip(np.searchsorted(grid, at, side="right") - 1, 0, grid.size - 2)
    return cell, np.asarray((at - grid[cell]) / (grid[cell + 1] - grid[cell]))


def find_flux_lm(photometry: Photometry) -> float:
    """Find the luminous flux [lm]: intensity, linear between the angles, over the sphere."""
    gamma, candela = np.radians(photometry.gamma_deg), photometry.candela
    slope = np.diff(candela) / np.diff(gamma)
    ends = candela * np.cos(gamma)
    bands = ends[:, :-1] - ends[:, 1:] + slope * np.diff(np.sin(gamma))  # of I sin(gamma)
    return float(np.trapezoid(bands.sum(-1), np.radians(photometry.c_deg)))


def find_tilt_share(photometry: Photometry, tilt_deg: float) -> float:
    """Find what a lamp gives that points at ``tilt_deg`` [degrees], + up, -90 hanging straight.

    Raises
    ------
    ValueError
        Outside the tilts of its table.
    """
    if not photometry.tilt_deg:
        return 1.0
    out, least, most = tilt_deg + 90.0, photometry.tilt_deg[0], photometry.tilt_deg[-1]
    if not least - 1e-6 <= out <= most + 1e-6:
        raise ValueError(f"tilted {out:.0f} degrees: expected {least:g} to {most:g}")
    return float(np.interp(out, photometry.tilt_deg, photometry.tilt_ratio))


def find_direction(facing_deg: float, tilt_deg: float) -> Array:
    """Find the unit vector (3,) of a direction: bearing, + to the right, and tilt, + up."""
    facing, tilt = math.radians(facing_deg), math.radians(tilt_deg)
    level = math.cos(tilt)
    return np.array([level * math.sin(facing), level * math.cos(facing), math.sin(tilt)])


def find_lamp_axes(facing_deg: float, tilt_deg: float, turn_deg: float = 0.0) -> Array:
    """Find the directions of a lamp's planes C0 and C90 and of its axis, (3, 3) by row.

    Hanging straight down (tilt -90) C0 lies along ``facing_deg``; tilted up from there it is the
    side that comes to be on top. ``turn_deg`` turns it on, counterclockwise from behind.
    """
    axis, top = find_direction(facing_deg, tilt_deg), find_direction(facing_deg, tilt_deg + 90.0)
    side = np.cross(top, axis)
    turn = math.radians(turn_deg)
    zero = math.cos(turn) * top + math.sin(turn) * side
    return np.stack([zero, np.cross(zero, axis), axis])


def predict_lux(
    photometry: Photometry, at_m: ArrayLike, axes: Array, places_m: Array, normals: Array
) -> Array:
    """Predict the illuminance that a lamp gives directly, by inverse square and cosine.

    Parameters
    ----------
    at_m
        (3,) where it is [m].
    axes
        (3, 3) from `find_lamp_axes`.
    places_m
        (k, 3) where it is wanted [m].
    normals
        (k, 3) which way the reading's plane faces, NaN for towards the lamp.

    Returns
    -------
    ndarray
        (k,) [lux] at full drive; 0 for a plane that faces away.
    """
    ray = np.asarray(places_m) - np.asarray(at_m)
    distance = np.linalg.norm(ray, axis=-1)
    ray = ray / distance[:, None]
    along = ray @ axes.T
    c = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    gamma = np.degrees(np.arccos(np.clip(along[:, 2], -1.0, 1.0)))
    met = -(ray * normals).sum(-1)
    cosine = np.where(np.isnan(met), 1.0, np.maximum(met, 0.0))
    return np.asarray(find_intensity_cd(photometry, c, gamma) * cosine / distance**2)
