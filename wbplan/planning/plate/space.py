"""Where things are in the room and in the picture, and which way they point.

The room is that of `scene.plate`: x to the right of the lens, y along it, z up [m], the camera over
the origin. A point lies in the picture where its line to the lens meets the sensor: tan of the
angles across and up, after tilt and roll, against half of the sensor over the focal length (a lens
without distortion, at infinity). What nobody said stays open: without a height or a tilt nothing is
said of up and down; a roll that nobody gave is level, a direction without a tilt is level, and a
line with a height missing at one end lies flat.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np

from wbplan.core.tables import Array
from wbplan.light.photometry import find_direction
from wbplan.planning.plate.values import InPicture
from wbplan.scene.plate import CAMERA, PlateLens, Spot

_PANEL_GRID = np.stack(np.meshgrid(*2 * [np.linspace(-0.5, 0.5, 9)]), axis=-1).reshape(-1, 2)
_SIDES = ("left", "right", "above", "below", "behind")
_LEVEL = PlateLens()


def find_line_m(one: Spot, two: Spot) -> Array:
    """Find the line from one spot to another, (3,) [m]; flat where a height is missing."""
    across, along = (b - a for a, b in zip(one.plan_m, two.plan_m, strict=True))
    if one.height_m is None or two.height_m is None:
        return np.array([across, along, 0.0])
    return np.array([across, along, two.height_m - one.height_m])


class Aim(NamedTuple):
    """Which way a thing points [degrees], counted as bearings are; up is +."""

    facing_deg: float
    tilt_deg: float

    @property
    def vector(self) -> Array:
        """The same as a unit vector of the room, (3,)."""
        return find_direction(self.facing_deg, self.tilt_deg)

    @property
    def sides(self) -> tuple[Array, Array]:
        """Unit vectors along the width of a panel that points so, level, and along its height."""
        facing = math.radians(self.facing_deg)
        wide = np.array([math.cos(facing), -math.sin(facing), 0.0])
        return wide, np.cross(wide, self.vector)


def find_aim(spot: Spot, layout: tuple[Spot, ...], camera_m: float | None) -> Aim | None:
    """Find which way a spot points; None where nothing says it.

    Parameters
    ----------
    camera_m
        Height of the lens [m], None where nobody said it.
    """
    if not spot.aimed_at:
        if spot.facing_deg is None and (spot.tilt_deg is None or abs(spot.tilt_deg) < 90.0):
            return None
        return Aim(spot.facing_deg or 0.0, spot.tilt_deg or 0.0)
    target = next((each for each in layout if each.name == spot.aimed_at), None)
    if spot.aimed_at == CAMERA:
        target = Spot(CAMERA, "position", 0.0, 0.0, camera_m)
    return None if target is None else aim_along(find_line_m(spot, target))


def aim_along(line_m: Array) -> Aim | None:
    """Find the aim along a line, (3,); None where it has no length."""
    if np.linalg.norm(line_m) < 1e-9:
        return None
    flat = math.hypot(line_m[0], line_m[1])
    facing = math.degrees(math.atan2(line_m[0], line_m[1])) if flat > 1e-9 else 0.0
    return Aim(facing, math.degrees(math.atan2(line_m[2], flat)))


def find_panel_m(spot: Spot, aim: Aim) -> Array:
    """Find the corners of a soft source that points so, (4, 3) [m].

    Its width lies level; seen from where it points to they go round counterclockwise.
    """
    turns = np.array([[0.5, 0.5], [0.5, -0.5], [-0.5, -0.5], [-0.5, 0.5]])
    return _place_on_panel(spot, aim, turns)


def _place_on_panel(spot: Spot, aim: Aim, shares: Array) -> Array:
    """Find points of a soft source from its middle (k, 2), in widths and heights, (k, 3) [m]."""
    if spot.size_m is None:
        raise ValueError(f"'{spot.name}' has no size")
    middle = np.array([*spot.plan_m, spot.height_m or 0.0])
    return np.asarray(middle + (shares * spot.size_m) @ np.stack(aim.sides))


def find_in_picture(
    lens: PlateLens | None, line_m: Array, has_height: bool = True
) -> InPicture | None:
    """Find where a thing lies in the picture; None where nothing tells the angle of view.

    Parameters
    ----------
    line_m
        (3,) from the lens to its middle, or (k, 3) with further points of it.
    has_height
        Whether the third of its figures is known.
    """
    if lens is None or lens.horizontal_angle_deg is None:
        return None
    points = np.atleast_2d(np.asarray(line_m, dtype=np.float64))
    known_up = has_height and lens.tilt_deg is not None
    seen = turn_into_camera(lens if known_up else _LEVEL, points * [1.0, 1.0, float(known_up)])
    view_up = lens.vertical_angle_deg if known_up else None
    out = _list_sides(seen, lens.horizontal_angle_deg, view_up)
    gone = out.any(axis=1)
    axis_deg = None
    if known_up:
        across, depth, above = seen[0]
        axis_deg = math.degrees(math.atan2(math.hypot(across, above), depth))
    where: Literal["in", "partly", "out", "open"] = "partly" if gone.any() else "in"
    if gone.all():
        where = "out"
    elif view_up is None:
        where = "open"
    sides = [side for side, is_out in zip(_SIDES, out[0], strict=True) if is_out]
    return InPicture(where, tuple(sides), axis_deg)


def find_inside(lens: PlateLens, lines: Array | None) -> Array | None:
    """Tell which directions (t, 3) lie in the picture, (t,); None where nothing tells it."""
    across, up = lens.horizontal_angle_deg, lens.vertical_angle_deg
    if lines is None or across is None or up is None or lens.tilt_deg is None:
        return None
    return np.asarray(~_list_sides(turn_into_camera(lens, lines), across, up).any(axis=1))


def _list_sides(seen: Array, across_deg: float, up_deg: float | None) -> Array:
    """Tell on which of `_SIDES` of the picture points (k, 3) of the camera lie, (k, 5)."""
    across, depth, above = seen.T
    before = depth > 1e-9 * np.linalg.norm(seen, axis=1)
    wide = depth * math.tan(math.radians(across_deg) / 2.0)
    high = np.full_like(depth, np.inf)
    if up_deg is not None:
        high = depth * math.tan(math.radians(up_deg) / 2.0)
    sides = [across < -wide, across > wide, above > high, above < -high]
    return np.stack([*(side & before for side in sides), ~before], axis=1)


def turn_into_camera(lens: PlateLens, points: Array) -> Array:
    """Turn (k, 3) from the room into right, depth and up of the picture, by tilt and roll."""
    tilt, roll = math.radians(lens.tilt_deg or 0.0), math.radians(lens.roll_deg or 0.0)
    depth = np.array([0.0, math.cos(tilt), math.sin(tilt)])
    level, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, -math.sin(tilt), math.cos(tilt)])
    across = math.cos(roll) * level - math.sin(roll) * up
    above = math.cos(roll) * up + math.sin(roll) * level
    return np.asarray(points @ np.stack([across, depth, above]).T)


def place_in_picture(
    lens: PlateLens | None, spot: Spot, layout: tuple[Spot, ...]
) -> InPicture | None:
    """Place a spot in the picture, a soft source with all of its face."""
    camera_m = None if lens is None else lens.camera_height_m
    known = camera_m is not None and spot.height_m is not None
    aim = find_aim(spot, layout, camera_m)
    points = np.array([[*spot.plan_m, spot.height_m or 0.0]])
    if spot.size_m is not None and aim is not None:
        points = np.concatenate([points, _place_on_panel(spot, aim, _PANEL_GRID)])
    return find_in_picture(lens, points - [0.0, 0.0, camera_m or 0.0], known)
