"""What a crew writes down beside a plate: the lens as it stood, where things stood, the slate.

It is carried to the people who rebuild the camera and the light later, so what was not given stays
absent. One thing alone changes a figure of the plan: a lamp's photometry gives the lux where nobody
has read any (`scene.predicted`).

Directions are those of somebody who stands at the camera and looks along its lens: 0 degrees is
straight ahead, angles grow to the right (clockwise seen from above), 180 points back at the
camera. Distances are along the floor from the point under the lens, heights above one common floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from wbplan.light.photometry import Photometry

CAMERA = "camera"
"""What a light can be aimed at besides the lights and positions of its setup."""


@dataclass(frozen=True)
class PlateLens:
    """The lens and how the camera stood.

    Parameters
    ----------
    name
        As free text; a serial number can stand in it.
    focal_length_mm, squeeze_ratio
        As engraved [mm]; horizontal squeeze of an anamorphic lens, 1 for a spherical one.
    focus_distance_m
        As set on the lens, from the sensor's mark [m]; infinity for a lens set to it.
    camera_height_m
        Of the lens above the floor [m].
    tilt_deg, roll_deg, heading_deg
        Up is +; clockwise seen from behind the camera is +; of the lens against true north,
        clockwise [degrees].
    sensor_width_mm, sensor_height_mm
        Of the part of the sensor that the picture comes from [mm].
    picture_width_px, picture_height_px
        Of the recorded picture [pixels].
    filters
        On the lens, as free text.
    serial, entrance_pupil_mm, distortion
        What a match of the lens is filed under and made from (from memory of camera reports): its
        serial number; from the sensor's mark forward to its entrance pupil, about which the view
        turns without parallax [mm]; the clip or file of its grid.
    """

    name: str = ""
    focal_length_mm: float | None = None
    squeeze_ratio: float | None = None
    focus_distance_m: float | None = None
    camera_height_m: float | None = None
    tilt_deg: float | None = None
    roll_deg: float | None = None
    heading_deg: float | None = None
    sensor_width_mm: float | None = None
    sensor_height_mm: float | None = None
    picture_width_px: int | None = None
    picture_height_px: int | None = None
    filters: tuple[str, ...] = ()
    serial: str = ""
    entrance_pupil_mm: float | None = None
    distortion: str = ""

    @property
    def horizontal_angle_deg(self) -> float | None:
        """The angle of view across [degrees]; None where a figure for it is missing.

        2 atan(w s / 2 f), with the sensor's width w, the squeeze s (1 where none is given) and the
        focal length f: a lens without distortion, set to infinity.
        """
        if self.focal_length_mm is None or self.sensor_width_mm is None:
            return None
        across = self.sensor_width_mm * (self.squeeze_ratio or 1.0)
        return math.degrees(2.0 * math.atan(across / (2.0 * self.focal_length_mm)))

    @property
    def vertical_angle_deg(self) -> float | None:
        """The angle of view up and down [degrees], 2 atan(h / 2 f); None where one is missing."""
        if self.focal_length_mm is None or self.sensor_height_mm is None:
            return None
        return math.degrees(2.0 * math.atan(self.sensor_height_mm / (2.0 * self.focal_length_mm)))


@dataclass(frozen=True, eq=False)
class Lamp:
    """What a light throws which way, from its photometry file.

    ``file`` is its name as written. ``dimmer`` is the share of its light that it gives, 0 to 1;
    ``turn_deg`` how far plane C0 is turned (`light.photometry.find_lamp_axes`). ``band`` are the
    ends of where 90 % of what will be read lies, as ratios of what is predicted.
    """

    file: str
    photometry: Photometry
    dimmer: float
    turn_deg: float
    band: tuple[float, float]


@dataclass(frozen=True)
class Spot:
    """Where a light or a position stands, seen from the camera.

    Parameters
    ----------
    name, kind
        Of a light or of a position of the setup.
    distance_m
        Along the floor from the point under the lens [m].
    bearing_deg
        Over -180 up to 180 [degrees], see the module's introduction.
    height_m
        Of its middle above the floor [m]; None where it is not given.
    facing_deg, tilt_deg
        Which way it points, in the same directions as bearings; up is + [degrees].
    aimed_at
        Instead of a direction, the light, position or `CAMERA` that it points at.
    size_m
        Width and height of a soft source [m].
    lamp
        Its photometry, None where no file is named.
    """

    name: str
    kind: Literal["light", "position"]
    distance_m: float
    bearing_deg: float
    height_m: float | None = None
    facing_deg: float | None = None
    tilt_deg: float | None = None
    aimed_at: str = ""
    size_m: tuple[float, float] | None = None
    lamp: Lamp | None = None

    @property
    def plan_m(self) -> tuple[float, float]:
        """Its place on the floor [m]: to the right of the lens axis, and along it."""
        angle = math.radians(self.bearing_deg)
        return self.distance_m * math.sin(angle), self.distance_m * math.cos(angle)


@dataclass(frozen=True)
class Slate:
    """What is written on the slate and in the notes of the day, as free text.

    ``lamps_seen_from`` is the position, or `CAMERA`, from where lamps of known size are drawn into
    the picture of the sky; empty for none.
    """

    slate: str = ""
    scene: str = ""
    take: str = ""
    clip: str = ""
    notes: str = ""
    lamps_seen_from: str = ""


@dataclass(frozen=True)
class Separation:
    """From one spot to another.

    ``floor_m`` is along the floor; ``rise_m`` how far the second stands over the first, and
    ``straight_m`` the line between them, both None where a height is missing [m].
    """

    floor_m: float
    rise_m: float | None
    straight_m: float | None


def find_separation(one: Spot, two: Spot) -> Separation:
    """Find how far one spot is from another."""
    floor = math.dist(one.plan_m, two.plan_m)
    if one.height_m is None or two.height_m is None:
        return Separation(floor, None, None)
    rise = two.height_m - one.height_m
    return Separation(floor, rise, math.hypot(floor, rise))


def find_facing_deg(spot: Spot, layout: tuple[Spot, ...]) -> float | None:
    """Find which way a spot points [degrees], also one that is aimed at a name.

    None where nothing is said, or where what it is aimed at has no place or the same one.
    """
    if not spot.aimed_at:
        return spot.facing_deg
    target = (0.0, 0.0)
    if spot.aimed_at != CAMERA:
        known = {each.name: each.plan_m for each in layout}
        if spot.aimed_at not in known:
            return None
        target = known[spot.aimed_at]
    across, along = (to - at for to, at in zip(target, spot.plan_m, strict=True))
    if math.hypot(across, along) < 1e-9:
        return None
    return math.degrees(math.atan2(across, along))
