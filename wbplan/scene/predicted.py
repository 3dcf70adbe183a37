"""Lux before anyone has measured: what photometry files give at the places of a layout.

Direct light alone, since nothing is known of walls. What a lamp really gives differs by the flux of
its lamps, age, dirt and the aim (``BAND``; common practice, no source). Half of that (variance) is
the lamp's own, the same wherever it falls; the other half differs from place to place.
"""

from __future__ import annotations

import math

import numpy as np

from wbplan.core.draws import draw_normals
from wbplan.core.tables import Array
from wbplan.light.photometry import find_direction, find_lamp_axes, find_tilt_share, predict_lux
from wbplan.scene.marks import mark_lamps
from wbplan.scene.plate import CAMERA, Spot
from wbplan.scene.setup import Setup

BAND = (0.8, 1.1)
FAR_SIZES = 5.0
"""How many times its size away a lamp counts as a point (common practice, no source)."""
_LAMP_SEED, _PLACE_SEED = 52967, 52968
_Z_90 = 1.6448536269514722  # of a normal distribution, 5 % lie above


class NoPlaceError(ValueError):
    """What keeps a light from being predicted: the ``spot`` and ``field``, and what is found."""

    def __init__(self, spot: str, field: str, found: str, allowed: str) -> None:
        self.spot, self.field, self.found, self.allowed = spot, field, found, allowed
        super().__init__(f"{spot}: {field}: found {found}; allowed: {allowed}")


def find_place_m(spot: Spot) -> Array:
    """Find where a spot is, (3,) [m]: right of the lens, along it, above the floor."""
    if spot.height_m is None:
        raise NoPlaceError(spot.name, "height_m", "no height", "its height above the floor")
    return np.array([*spot.plan_m, spot.height_m])


def predict_light(
    light: Spot, places: tuple[Spot, ...], layout: tuple[Spot, ...], camera_m: float | None
) -> tuple[Array, Array]:
    """Predict what a light with a photometry file gives at places of the layout.

    Parameters
    ----------
    camera_m
        The lens above the floor [m], None where nobody said it.

    Returns
    -------
    tuple
        (k,) lux, and (k,) how far away each place is [m].

    Raises
    ------
    NoPlaceError
        Where a height or an aim is missing, or two things are in one place.
    """
    lamp = light.lamp
    if lamp is None:
        raise ValueError(f"the light '{light.name}' has no photometry")
    if not places:
        return np.empty(0), np.empty(0)
    at = find_place_m(light)
    facing, tilt = _aim(light, at, layout, camera_m, lamp.photometry.is_round)
    try:
        share = find_tilt_share(lamp.photometry, tilt)
    except ValueError:
        table = lamp.photometry.tilt_deg
        found = f"{90 + tilt:.0f} degrees up from hanging straight"
        allowed = f"what its file has, {table[0]:g} to {table[-1]:g}"
        raise NoPlaceError(light.name, "tilt_deg", found, allowed) from None
    there = np.stack([find_place_m(each) for each in places])
    metres = np.linalg.norm(there - at, axis=-1)
    for each, distance in zip(places, metres, strict=True):
        if distance < 1e-6:
            found = f"where '{each.name}' is"
            raise NoPlaceError(light.name, "distance_m", found, "a distance between the two")
    planes = [_face(each, here, layout, camera_m) for each, here in zip(places, there, strict=True)]
    axes = find_lamp_axes(facing, tilt, lamp.turn_deg)
    lux = predict_lux(lamp.photometry, at, axes, there, np.stack(planes))
    return lux * share * lamp.dimmer, metres


def _aim(
    spot: Spot, at: Array, layout: tuple[Spot, ...], camera_m: float | None, is_round: bool
) -> tuple[float, float]:
    """Find which way a spot points [degrees]: bearing and tilt."""
    if spot.aimed_at:
        across, along, up = _find_target_m(spot, layout, camera_m) - at
        floor = math.hypot(across, along)
        if floor < 1e-9 and abs(up) < 1e-9:
            found = f"'{spot.aimed_at}', which is in the same place"
            raise NoPlaceError(spot.name, "aimed_at", found, "a thing elsewhere")
        if floor < 1e-9 and not is_round:
            found = "a lamp aimed straight up or down that is not the same all around"
            raise NoPlaceError(spot.name, "aimed_at", found, "facing_deg and tilt_deg")
        return math.degrees(math.atan2(across, along)), math.degrees(math.atan2(up, floor))
    if spot.tilt_deg is None:
        allowed = "aimed_at, or facing_deg and tilt_deg (-90 hangs straight down)"
        raise NoPlaceError(spot.name, "tilt_deg", "no aim", allowed)
    if spot.facing_deg is None and not (is_round and abs(spot.tilt_deg) == 90.0):
        found = "a tilt without the way it faces"
        raise NoPlaceError(spot.name, "facing_deg", found, "both of them")
    return spot.facing_deg or 0.0, spot.tilt_deg


def _find_target_m(spot: Spot, layout: tuple[Spot, ...], camera_m: float | None) -> Array:
    if spot.aimed_at != CAMERA:
        target = next((each for each in layout if each.name == spot.aimed_at), None)
        if target is None:
            found = f"'{spot.aimed_at}', which has no place in the layout"
            raise NoPlaceError(spot.name, "aimed_at", found, "a thing that has one")
        return find_place_m(target)
    if camera_m is None:
        found, allowed = "the camera, whose height nobody said", "`camera_height_m` of the lens"
        raise NoPlaceError(spot.name, "aimed_at", found, allowed)
    return np.array([0.0, 0.0, camera_m])


def _face(spot: Spot, at: Array, layout: tuple[Spot, ...], camera_m: float | None) -> Array:
    """Find which way a reading's plane faces, (3,); NaN where nothing is said, for the light."""
    if not spot.aimed_at and spot.facing_deg is None and spot.tilt_deg is None:
        return np.full(3, math.nan)
    return find_direction(*_aim(spot, at, layout, camera_m, is_round=True))


def has_predicted(setup: Setup) -> bool:
    """Tell whether any level of a setup is predicted."""
    return any(each.predicted for each in setup.positions)


def list_predicted(setup: Setup, row: int) -> tuple[str, ...]:
    """List the lights whose level at a position, by number, is predicted."""
    bands = setup.positions[row].predicted or (None,) * len(setup.sources)
    pairs = zip(setup.sources, bands, strict=True)
    return tuple(source.name for source, band in pairs if band is not None)


def vary_predicted(setup: Setup, lux: Array, read: Array) -> Array:
    """Let predicted levels of the draws (p, n, k) go up and down; others stay as they are.

    ``lux`` (p, n) are the levels. Above and below it is half a normal distribution each, of which
    5 % of all lie beyond the band's ends.
    """
    none = (None,) * len(setup.sources)
    bands = [[band or (1.0, 1.0) for band in each.predicted or none] for each in setup.positions]
    low, high = np.moveaxis(np.array(bands), -1, 0)[..., None]
    count, lamps = read.shape[-1], mark_lamps(setup)
    own = draw_normals(_LAMP_SEED, count, ("lamp",), lamps)
    here = draw_normals(_PLACE_SEED, count, [each.name for each in setup.positions], lamps)
    z = (own + here) / math.sqrt(2.0) / _Z_90
    factor = np.maximum(1.0 + z * np.where(z > 0, high - 1.0, 1.0 - low), 0.0)
    marked = np.array([[b is not None for b in each.predicted or none] for each in setup.positions])
    return np.where(marked[..., None], lux[..., None] * factor, read)
