"""The light of an even, matt panel at a place, exactly.

Lambert's formula for a polygon (Lambert 1760, Photometria; any text on radiative transfer as the
contour integral of the view factor): E = L / 2 sum of G_i . n, with G_i the angle between the lines
to two corners that follow each other, along their cross product, and n the surface's direction.
What lies behind the surface is cut off first; a panel gives nothing backwards.
"""

from __future__ import annotations

import numpy as np

from wbplan.core.tables import Array


def find_panel_lux(corners_m: Array, at_m: Array, facing: Array | None = None) -> float:
    """Find the illuminance of a panel of 1 cd/m2 at a place [lux].

    Parameters
    ----------
    corners_m
        (k, 3) counterclockwise as seen from where it shines to (`space.find_panel_m`) [m].
    at_m
        (3,) where [m].
    facing
        (3,) unit vector of the surface that is lit; None for one that faces the panel's middle.
    """
    corners = np.asarray(corners_m, dtype=np.float64) - np.asarray(at_m)
    middle = corners.mean(axis=0)
    shines = np.cross(corners[1] - corners[0], corners[2] - corners[1])
    if middle @ shines >= 0:  # seen from behind, or from its edge
        return 0.0
    if facing is None:
        facing = middle / np.linalg.norm(middle)
    seen = _cut_behind(corners, facing)
    if len(seen) < 3:
        return 0.0
    after = np.roll(seen, -1, axis=0)
    across = np.cross(seen, after)
    sine = np.linalg.norm(across, axis=1)
    angle = np.arctan2(sine, (seen * after).sum(axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        along = np.where(sine > 0, (across @ facing) / sine, 0.0)
    return abs(float((angle * along).sum())) / 2.0


def _cut_behind(corners: Array, facing: Array) -> Array:
    """Cut a polygon off at the plane of a surface at the origin, (k, 3)."""
    height = corners @ facing
    kept = []
    for row, corner in enumerate(corners):
        last, level, before = corners[row - 1], height[row], height[row - 1]
        if (level > 0) != (before > 0):
            kept.append(last + (corner - last) * before / (before - level))
        if level > 0:
            kept.append(corner)
    return np.array(kept)
