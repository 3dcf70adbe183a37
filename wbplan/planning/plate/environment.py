"""A sky as a picture all round: latitude and longitude, absolute, scene-linear ACEScg.

The model's radiance by direction (`sky.by_direction`), a pixel at a time. One is 1 cd/m2, by 683
lumens a watt; colour is adapted (Bradford) from the white of the dialled Kelvin to that of ACES,
as all figures of an observer here, and luminance kept. North stands at the left edge, east a
quarter in, as OpenEXR's lat-long has it with y up and -z north. It is true to north and needs no
camera.

The sun's disc and lamps of known size stand in it by the share of each pixel that they fill, so
that what they give any surface is what the model says, however coarse the picture.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.spectrum import find_illuminance_lux, freeze_fields
from wbplan.lut.correction import adapt_to_encoding
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.aces import AP1_LUMINANCE, find_ap1
from wbplan.planning.plate.values import Stage, StageLight, Triple
from wbplan.scene.plate import CAMERA
from wbplan.sky.by_direction import SkyByDirection, see_clear_sky, see_overcast
from wbplan.sky.clear import (
    LOWEST_SUN_DEG,
    SUN_RADIUS_DEG,
    USUAL_AIR,
    Air,
    find_sunlit_share,
    list_air,
    model_clear_sky,
    show_beam,
)
from wbplan.sky.dome import Horizon
from wbplan.sky.overcast import LOWEST_SUN_DEG as LOWEST_OVERCAST_DEG
from wbplan.sky.overcast import OVERCAST_KELVIN
from wbplan.sky.sun_position import find_pressure_pa, find_sun

WIDTH_PX = 1024
Mask = NDArray[np.bool_]
_SAMPLES = 16  # across a pixel that a disc or a panel crosses


class NoSkyError(ValueError):
    """Why there is no sky to be pictured."""


@dataclass(frozen=True, eq=False)
class Environment:
    """A sky all round: ``pixels`` (rows, 2 rows, 3) [cd/m2] without the sun's disc.

    ``sun`` is its disc on the same pixels, to be added, None where there is none. ``words`` tells
    what it is of.
    """

    pixels: Array
    sun: Array | None
    words: str

    def __post_init__(self) -> None:
        freeze_fields(self, "pixels")


def picture_sky(plan: SetupPlan, width_px: int = WIDTH_PX) -> Environment:
    """Picture the sky over a setup.

    That of its burning lights of the sky; a clear one in usual air where it has none.

    Parameters
    ----------
    width_px
        Of the picture, twice its height.

    Raises
    ------
    NoSkyError
        Without a place or a time, under a sun too low for the model, or under broken cloud.
    """
    setup = plan.setup
    if setup.site is None or setup.when is None or plan.bodies is None:
        raise NoSkyError("no place or no time")
    skies = [each.sky for each in setup.sources if each.on and each.sky is not None]
    kinds = {each.light.kind for each in skies}
    if "broken_cloud" in kinds:
        raise NoSkyError("where clouds stand nobody knows")
    closed = next((each for each in skies if each.light.kind == "overcast"), None)
    lowest = LOWEST_SUN_DEG if closed is None else LOWEST_OVERCAST_DEG
    if plan.bodies.sun.elevation_deg < lowest:
        up = plan.bodies.sun.elevation_deg
        raise NoSkyError(f"the sun stands at {up:.1f}°, under {lowest:g}°, and night has no model")
    site, elevation, azimuth = setup.site, *list_directions(width_px)
    sun = find_sun(setup.when.timestamp(), site.latitude_deg, site.longitude_deg, site.altitude_m)
    adapt = _adapt(plan)
    if closed is not None:
        light = closed.light
        seen = see_overcast(
            float(sun.elevation_deg[0]), light.kelvin or OVERCAST_KELVIN, light.air.ground_albedo,
            elevation, azimuth, light.horizon,
        )  # fmt: skip
        return Environment(_fill(seen, adapt, width_px), None, light.words)
    air, horizon = _choose_air(plan)
    sky = model_clear_sky(sun, list_air(air), find_pressure_pa(site.altitude_m))
    pixels = _fill(see_clear_sky(sky, elevation, azimuth, horizon), adapt, width_px)
    beam = show_beam(sky)[0, 0] * float(find_sunlit_share(sun, horizon)[0])
    disc = None
    if beam.max() > 0:
        place = (float(sun.elevation_deg[0]), float(sun.azimuth_deg[0]))
        disc = _draw_disc(beam, adapt, *place, width_px)
    return Environment(pixels, disc, "clear sky" if skies else "clear sky in usual air")


def _choose_air(plan: SetupPlan) -> tuple[Air, Horizon]:
    """Choose the air and the horizon of the setup's clear light, the sky's before the sun's."""
    lights = [each.sky.light for each in plan.setup.sources if each.on and each.sky is not None]
    lights.sort(key=lambda each: each.kind != "sky")
    if lights:
        return lights[0].air, lights[0].horizon
    assert plan.setup.site is not None
    return USUAL_AIR, plan.setup.site.horizon


def list_directions(width_px: int) -> tuple[Array, Array]:
    """List where the middles of pixels look, elevation and azimuth, (n,) each, row by row."""
    rows = width_px // 2
    azimuth = 360.0 * (np.arange(width_px) + 0.5) / width_px
    elevation = 90.0 - 180.0 * (np.arange(rows) + 0.5) / rows
    up, turn = np.meshgrid(elevation, azimuth, indexing="ij")
    return up.ravel(), turn.ravel()


def find_pixel_sr(width_px: int) -> Array:
    """Find the solid angle of the pixels of each row [sr], (rows,)."""
    edges = np.radians(90.0 - 180.0 * np.arange(width_px // 2 + 1) / (width_px // 2))
    return np.asarray(-np.diff(np.sin(edges)) * 2.0 * np.pi / width_px)


def add_lamps(pixels: Array, stage: Stage, seen_from: str) -> tuple[Array, tuple[str, ...]]:
    """Add the panels of a stage as they are seen from a position, or from the camera.

    Returns
    -------
    tuple
        The picture with the names of the lamps in it, far ones behind near ones.

    Raises
    ------
    NoSkyError
        Where it has no place with a height, or north is not known.
    """
    eye = _find_eye(stage, seen_from)
    panels = [each for each in stage.lights if each.kind == "panel" and each.at_m is not None]
    panels.sort(key=lambda each: -math.dist(each.at_m or eye, eye))
    painted, names = np.array(pixels), []
    for lamp in panels:
        share = _cover_by_panel(pixels.shape[1], lamp, eye)
        if share.any():
            colour = lamp.strength * np.array(lamp.eye_colour)
            painted = painted * (1.0 - share[..., None]) + share[..., None] * colour
            names.append(lamp.name)
    return painted, tuple(names)


def _find_eye(stage: Stage, seen_from: str) -> Triple:
    if not stage.has_north:
        raise NoSkyError("no heading of the lens, so lamps cannot be placed by north")
    if seen_from == CAMERA:
        if stage.camera_m is None:
            raise NoSkyError("no height of the camera")
        return 0.0, stage.camera_m, 0.0
    place = next((each for each in stage.places if each.name == seen_from), None)
    if place is None:
        raise NoSkyError(f"{seen_from} has no place with a height")
    return place.at_m


def _adapt(plan: SetupPlan) -> Callable[[Array], Array]:
    """Make what turns XYZ [cd/m2] (..., 3) into ACEScg of the same luminance."""
    matrix = adapt_to_encoding(find_ap1(), plan.dial.kelvin)

    def adapt(xyz: Array) -> Array:
        rgb = np.maximum(xyz @ matrix.T, 0.0)
        level = rgb @ AP1_LUMINANCE
        scale = np.where(level > 0, xyz[..., 1] / np.where(level > 0, level, 1.0), 0.0)
        return np.asarray(rgb * scale[..., None])

    return adapt


def _see(power: Array) -> Array:
    """Find XYZ (k, 3) of spectra (k, 401), in cd/m2 of W m-2 sr-1 nm-1."""
    xyz = find_tristimulus(power)
    lit = xyz[..., 1:2]
    lux = find_illuminance_lux(power)[..., None]
    return np.asarray(xyz / np.where(lit != 0, lit, 1.0) * lux)


def _fill(seen: SkyByDirection, adapt: Callable[[Array], Array], width_px: int) -> Array:
    return adapt(seen.shares @ _see(seen.spectra)).reshape(width_px // 2, width_px, 3)


def _draw_disc(
    beam: Array, adapt: Callable[[Array], Array], up_deg: float, turn_deg: float, width_px: int
) -> Array:
    """Draw the sun on black, so that it gives a surface that faces it all of its beam."""
    sun = _point(np.array(up_deg), np.array(turn_deg))
    near = math.cos(math.radians(SUN_RADIUS_DEG))
    share = _cover(width_px, sun, SUN_RADIUS_DEG, lambda way: np.asarray(way @ sun >= near))
    solid = (share * find_pixel_sr(width_px)[:, None]).sum()
    return np.asarray(share[..., None] * adapt(_see(beam[None]))[0] / solid)


def _point(up_deg: Array, turn_deg: Array) -> Array:
    """Find directions of the world, x east, y up, z south, (..., 3)."""
    up, turn = np.radians(up_deg), np.radians(turn_deg)
    level = np.cos(up)
    return np.stack([level * np.sin(turn), np.sin(up), -level * np.cos(turn)], axis=-1)


def _cover_by_panel(width_px: int, lamp: StageLight, eye: Triple) -> Array:
    """Find which share of each pixel the shining face of a panel fills, seen from a place."""
    assert lamp.at_m is not None
    assert lamp.size_m is not None
    facing, tilt = lamp.azimuth_deg or 0.0, lamp.elevation_deg or 0.0
    aim = _point(np.array(tilt), np.array(facing))
    wide = _point(np.array(0.0), np.array(facing + 90.0))
    tall = np.cross(wide, aim)
    line = np.array(lamp.at_m) - np.array(eye)
    away, far = float(line @ aim), float(np.linalg.norm(line))
    if away >= -1e-9 * far:  # seen from behind, or from its edge
        return np.zeros((width_px // 2, width_px))
    half = np.array(lamp.size_m) / 2.0

    def meets(way: Array) -> Mask:
        slope = way @ aim
        before = slope < -1e-9
        hit = (away / np.where(before, slope, -1.0))[..., None] * way - line
        inside = (np.abs(hit @ wide) <= half[0]) & (np.abs(hit @ tall) <= half[1])
        return np.asarray(before & inside)

    corners = line + [a * half[0] * wide + b * half[1] * tall for a in (-1, 1) for b in (-1, 1)]
    slopes = (corners @ line) / far / np.linalg.norm(corners, axis=1)
    reach = math.degrees(math.acos(np.clip(slopes.min(), -1.0, 1.0)))
    return _cover(width_px, line / far, reach, meets)


def _cover(width_px: int, middle: Array, reach_deg: float, meets: Callable[[Array], Mask]) -> Array:
    """Find which share of each pixel a shape fills, (rows, columns), 0 to 1.

    Parameters
    ----------
    middle, reach_deg
        A direction, (3,), and how far from it the shape reaches at most.
    meets
        Tells whether directions (n, 3) meet it, which has no hollows: a pixel with all its corners
        in it is full, and others are asked a sixteenth of a pixel apart.
    """
    rows = width_px // 2
    ways = _point(*(each.reshape(rows, width_px) for each in list_directions(width_px)))
    reach = min(reach_deg + 2.0 * 360.0 / width_px, 180.0)
    y, x = np.nonzero(ways @ middle >= math.cos(math.radians(reach)))

    def look(dy: float, dx: float) -> Mask:
        return meets(_point(90.0 - 180.0 * (y + dy) / rows, 360.0 * (x + dx) / width_px))

    share = np.zeros((rows, width_px))
    full = np.logical_and.reduce([look(dy, dx) for dy in (0.0, 1.0) for dx in (0.0, 1.0)])
    share[y[full], x[full]] = 1.0
    y, x = y[~full], x[~full]
    fine = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    share[y, x] = sum(look(dy, dx) for dy in fine for dx in fine) / _SAMPLES**2
    return share
