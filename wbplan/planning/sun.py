"""Where sun and moon stand for a camera, and when the sun comes into its picture.

Wherever place and time are given. The bearing needs the lens's heading, the rest its tilt as well
(`plate.space`). Whether cloud, a roof or a wall hides them nobody knows here; the site's own
horizon is heeded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.photometry import find_direction
from wbplan.planning.plate.space import find_in_picture, find_inside, turn_into_camera
from wbplan.planning.plate.values import InPicture
from wbplan.scene.plate import PlateLens
from wbplan.scene.setup import Setup
from wbplan.sky.dome import find_horizon_deg
from wbplan.sky.sun_and_moon import SUN_WIDTH_DEG, BodyPosition, find_sun_and_moon

NEAR_LENS_DEG = 15.0  # from the edge of the picture: flare (common practice, no source)
_AHEAD_S, _STEP_S = 86_400.0, 60.0


@dataclass(frozen=True)
class BodyView:
    """The sun or the moon, as it stands for one camera.

    ``elevation_deg`` is the apparent one, ``azimuth_deg`` counts from true north over east;
    ``is_up`` tells whether any of its disc clears the site's horizon. ``bearing_deg`` is seen from
    the lens, + to the right, None without a heading; ``direction`` a unit vector right, up and back
    in the camera's own frame, as cameras of 3D programs have them, None where heading or tilt is
    missing; ``seen`` where it lies in the picture. ``enters_s`` and ``leaves_s`` are how long until
    its middle is next in the picture and out of it again, over the horizon [s], within a day: 0 for
    what is so, None where it is not so within a day, or the picture is not known.
    """

    elevation_deg: float
    azimuth_deg: float
    is_up: bool
    lit_share: float
    bearing_deg: float | None
    direction: tuple[float, float, float] | None
    seen: InPicture | None
    enters_s: float | None
    leaves_s: float | None


@dataclass(frozen=True)
class SunAndMoon:
    """Both of them."""

    sun: BodyView
    moon: BodyView


def view_sun_and_moon(setup: Setup) -> SunAndMoon | None:
    """Find where sun and moon stand for a setup's camera; None without a place and a time."""
    site, when = setup.site, setup.when
    if site is None or when is None:
        return None
    seconds = when.timestamp() + np.arange(0.0, _AHEAD_S + _STEP_S, _STEP_S)
    place = (site.latitude_deg, site.longitude_deg, site.altitude_m)
    lens = setup.lens

    def list_inside(times: Array, row: int) -> Array | None:
        body = find_sun_and_moon(times, *place)[row]
        inside = None if lens is None else find_inside(lens, _point_at(body, lens))
        return None if inside is None else np.logical_and(inside, _clears(setup, body))

    def find_next(row: int, wanted: bool, after: float) -> float | None:
        """Find the next second from ``after`` on that it is in the picture, or out of it."""
        steps = seconds[seconds >= seconds[0] + after]
        inside = list_inside(steps, row)
        hits = np.array([]) if inside is None else np.flatnonzero(inside == wanted)
        if not hits.size:
            return None
        if hits[0] == 0:
            return float(steps[0] - seconds[0])
        fine = steps[hits[0] - 1] + np.arange(1.0, _STEP_S + 1.0)
        within = list_inside(fine, row)
        assert within is not None
        return float(fine[np.flatnonzero(within == wanted)[0]] - seconds[0])

    views = []
    for row, body in enumerate(find_sun_and_moon(seconds[:1], *place)):
        enters = find_next(row, True, 0.0)
        leaves = None if enters is None else find_next(row, False, enters)
        views.append(_view(body, setup, enters, leaves))
    return SunAndMoon(*views)


def _view(
    body: BodyPosition, setup: Setup, enters_s: float | None, leaves_s: float | None
) -> BodyView:
    lens = setup.lens
    up, around = float(body.elevation_deg[0]), float(body.azimuth_deg[0])
    bearing = direction = seen = None
    if lens is not None and lens.heading_deg is not None:
        bearing = 180.0 - (180.0 - (around - lens.heading_deg)) % 360.0
        line = find_direction(bearing, up)
        seen = find_in_picture(lens, line)
        if lens.tilt_deg is not None:
            across, depth, above = turn_into_camera(lens, line[None])[0]
            direction = (float(across), float(above), float(-depth))
    return BodyView(
        elevation_deg=up,
        azimuth_deg=around,
        is_up=bool(_clears(setup, body)[0]),
        lit_share=float(body.lit_share[0]),
        bearing_deg=bearing,
        direction=direction,
        seen=seen,
        enters_s=enters_s,
        leaves_s=leaves_s,
    )


def _point_at(body: BodyPosition, lens: PlateLens) -> Array | None:
    """Find the directions of a body in the room of a lens, (t, 3); None without a heading."""
    if lens.heading_deg is None:
        return None
    turn, up = np.radians(body.azimuth_deg - lens.heading_deg), np.radians(body.elevation_deg)
    level = np.cos(up)
    return np.stack([level * np.sin(turn), level * np.cos(turn), np.sin(up)], axis=1)


def _clears(setup: Setup, body: BodyPosition) -> Array:
    assert setup.site is not None
    blocked = find_horizon_deg(setup.site.horizon, body.azimuth_deg)
    return np.asarray(body.elevation_deg + SUN_WIDTH_DEG / 2 > blocked)


def note_sun_in_lens(setup: Setup, found: SunAndMoon | None) -> tuple[Note, ...]:
    """Warn of a sun that stands in the picture or looks into the lens."""
    lens, sun = setup.lens, None if found is None else found.sun
    if lens is None or sun is None or not sun.is_up or sun.bearing_deg is None:
        return ()
    unless = "unless something hides it. Never through a finder; keep the lens off it between takes"
    seen = sun.seen
    if seen is not None and seen.where == "in":
        text = f"the sun stands in the picture, {seen.axis_deg:.0f}° off the lens axis, {unless}"
        return (warn("sun-in-picture", text, "sun"),)
    if seen is not None and seen.where == "open":
        text = (
            f"the sun stands in the picture across, {sun.elevation_deg:.0f}° up, and nothing tells "
            f"whether the lens looks that high: {unless}"
        )
        return (warn("sun-in-picture", text, "sun"),)
    axis = seen.axis_deg if seen is not None else None
    if axis is None and sun.direction is not None:
        axis = math.degrees(math.acos(max(-1.0, min(1.0, -sun.direction[2]))))
    if axis is None:
        return ()
    sides = (lens.horizontal_angle_deg, lens.vertical_angle_deg)
    half = math.hypot(*(math.tan(math.radians(each or 0.0) / 2.0) for each in sides))
    if axis < math.degrees(math.atan(half)) + NEAR_LENS_DEG:
        text = f"the sun stands {axis:.0f}° off the lens axis and can flare into it, {unless}"
        return (warn("sun-near-picture", text, "sun"),)
    return ()
