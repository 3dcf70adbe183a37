"""The setup as a 3D scene: where everything stands in the world, and how strong each light is.

The world is in metres, y up, -z true north (along the lens where it has no heading), the floor at
0 under the lens. A light's strength is worked out from one reading, that of its ``reference``: the
place in the file that gets most of it. What that strength gives the other places is set beside
what was read there; they differ by what the scene does not hold (a beam, a shadow, a wall), so each
place also has the strengths that give it its own readings.

- A light of known size is an even, matt panel: cd/m2 (`panel`).
- A light of no known size is a point, the same all around: candela, E = I cos i / d^2. Its beam is
  not in the scene, which its strengths for each place take the place of.
- The sun is a disc far away: lux on a surface that faces it, the reading over its cosine.
- The sky is a dome: a factor on the modelled sky, of 1 where its level is the model's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wbplan.core.tables import Array
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.aces import AP0_TO_AP1, AP1_LUMINANCE
from wbplan.planning.plate.bracket import find_facing_lux, find_reading_lux, find_surface
from wbplan.planning.plate.space import Aim, aim_along, find_aim, find_line_m
from wbplan.planning.plate.values import (
    LightPlate,
    Stage,
    StageKind,
    StageLight,
    StagePlace,
    Triple,
)
from wbplan.scene.plate import Spot
from wbplan.scene.setup import Source
from wbplan.sky.source import PlacedSky


@dataclass(frozen=True)
class _Floor:
    """What a light is placed with: the plan, and the spots with a height by name."""

    plan: SetupPlan
    spots: dict[str, Spot]
    camera_m: float | None

    @property
    def heading_deg(self) -> float:
        lens = self.plan.setup.lens
        return 0.0 if lens is None else lens.heading_deg or 0.0

    def stand(self, spot: Spot) -> Triple:
        """Find where a spot is in the world."""
        x, y = spot.plan_m
        turn = math.radians(self.heading_deg)
        east = x * math.cos(turn) + y * math.sin(turn)
        north = y * math.cos(turn) - x * math.sin(turn)
        return east, float(spot.height_m or 0.0), -north


class _LeftOutError(ValueError):
    """Why something is not in the stage."""


def set_stage(plan: SetupPlan, lights: tuple[LightPlate, ...]) -> Stage:
    """Set the 3D scene of a setup.

    Parameters
    ----------
    lights
        As the plate has them.
    """
    setup = plan.setup
    spots = {each.name: each for each in setup.layout}
    camera_m = None if setup.lens is None else setup.lens.camera_height_m
    left_out: list[tuple[str, str]] = []
    if camera_m is None:
        left_out.append(("camera", "no height of it above the floor"))
    for each in setup.positions:
        spot = spots.get(each.name)
        if spot is None or spot.height_m is None:
            left_out.append((each.name, "no place" if spot is None else "no height"))
    floor = _Floor(plan, spots, camera_m)
    found = []
    for row, light in enumerate(lights):
        try:
            found.append(_set_light(floor, row, light, setup.sources[row]))
        except _LeftOutError as reason:
            left_out.append((light.name, str(reason)))
    domes = [each for each in found if each.kind == "dome"]
    for extra in domes[1:]:  # one sky hangs over a scene
        found.remove(extra)
        left_out.append((extra.name, f"the same sky as {domes[0].name}"))
    return Stage(
        has_north=setup.lens is not None and setup.lens.heading_deg is not None,
        camera_m=camera_m,
        places=tuple(
            StagePlace(each.name, floor.stand(each))
            for each in setup.layout
            if each.kind == "position" and each.height_m is not None
        ),
        lights=tuple(found),
        left_out=tuple(left_out),
    )


def _set_light(floor: _Floor, row: int, light: LightPlate, source: Source) -> StageLight:
    if not source.on:
        raise _LeftOutError("it is off")
    if light.eye_per_lux is None or light.camera_per_lux is None:
        raise _LeftOutError("no light, or none at the key")
    if source.sky is not None:
        return _set_sky(floor, row, light, source.sky)
    spot = floor.spots.get(light.name)
    if spot is None or spot.height_m is None:
        raise _LeftOutError("no place" if spot is None else "no height")
    aim = find_aim(spot, floor.plan.setup.layout, floor.camera_m)
    aimed = spot
    if spot.size_m is not None and aim is None:
        nearest = _find_brightest(floor, light)
        aim = aim_along(find_line_m(spot, nearest))
        if aim is None:
            raise _LeftOutError(f"it is where {nearest.name} is")
        aimed = replace(spot, aimed_at="", facing_deg=aim.facing_deg, tilt_deg=aim.tilt_deg)
    per_unit = [
        _find_per_unit(floor, aimed, floor.spots.get(each.name)) for each in floor.plan.positions
    ]
    pointed = (None, None) if aim is None else (_turn(floor, aim), aim.tilt_deg)
    kind: StageKind = "point" if spot.size_m is None else "panel"
    return _make_light(row, light, floor, kind, per_unit, floor.stand(spot), pointed, spot.size_m)


def _turn(floor: _Floor, aim: Aim) -> float:
    return (aim.facing_deg + floor.heading_deg) % 360.0


def _find_brightest(floor: _Floor, light: LightPlate) -> Spot:
    """Find the placed position that gets most of a light."""
    pairs = zip(light.lux, floor.plan.positions, strict=True)
    placed = [(lux, floor.spots[each.name]) for lux, each in pairs if each.name in floor.spots]
    lux, spot = max(placed, key=lambda each: each[0], default=(0.0, None))
    if lux <= 0 or spot is None:
        raise _LeftOutError("no reading of it at a position with a place")
    return spot


def _find_per_unit(floor: _Floor, light: Spot, there: Spot | None) -> float | None:
    """Find the lux that one cd/m2, or one candela, of a light gives a place."""
    if there is None or there.height_m is None:
        return None
    layout = floor.plan.setup.layout
    if light.size_m is not None:
        return find_reading_lux(light, there, layout, floor.camera_m)[0]
    line = find_line_m(light, there)
    far = float(np.linalg.norm(line))
    if far < 1e-6:
        return None
    surface = find_surface(there, layout, floor.camera_m)
    cosine = 1.0 if surface is None else max(0.0, -float(line @ surface) / far)
    return cosine / far**2


def _set_sky(floor: _Floor, row: int, light: LightPlate, sky: PlacedSky) -> StageLight:
    kind = sky.light.kind
    if kind not in ("sun", "sky", "overcast"):
        raise _LeftOutError(f"{sky.light.words}: nothing tells from where it comes")
    lens = floor.plan.setup.lens
    if lens is None or lens.heading_deg is None:
        raise _LeftOutError("no heading of the lens, so true north is not known")
    # A share of the model is what walls leave of the sky at a place, not a dimmer sky.
    shares = [
        (each.model_share[row] if each.model_share else None) for each in floor.plan.setup.positions
    ]
    part = [1.0 if each is None else each for each in shares]
    if kind != "sun":
        return _make_light(row, light, floor, "dome", [sky.lux * each for each in part])
    if sky.light.with_sky:
        raise _LeftOutError("sun and sky in one reading: name them as two lights")
    share = find_facing_lux(sky)[1]
    if share <= 0:
        raise _LeftOutError("the sun does not reach the surface that it is read on")
    per_unit = [share * each for each in part]
    pointed = ((sky.azimuth_deg + 180.0) % 360.0, -sky.elevation_deg)
    return _make_light(row, light, floor, "sun", per_unit, None, pointed)


def _make_light(
    row: int,
    light: LightPlate,
    floor: _Floor,
    kind: StageKind,
    per_unit: Sequence[float | None],
    at_m: Triple | None = None,
    pointed: tuple[float | None, float | None] = (None, None),
    size_m: tuple[float, float] | None = None,
) -> StageLight:
    """Work out the strengths of a light from what one unit of it gives each position."""
    wanted = [
        lux / unit if unit else (0.0 if lux <= 0 and unit is not None else None)
        for lux, unit in zip(light.lux, per_unit, strict=True)
    ]
    lit = [number for number, each in enumerate(wanted) if each]
    if not lit:
        if any(unit is not None and lux > 0 for unit, lux in zip(per_unit, light.lux, strict=True)):
            raise _LeftOutError("it points away from every place that it is said to light")
        raise _LeftOutError("no reading of it at a position with a place and a height")
    best = max(lit, key=lambda number: light.lux[number])
    strength = wanted[best] or 0.0
    camera = np.array([each.value for each in light.camera_per_lux or ()])
    return StageLight(
        row=row,
        name=light.name,
        kind=kind,
        at_m=at_m,
        azimuth_deg=pointed[0],
        elevation_deg=pointed[1],
        size_m=size_m,
        reference=floor.plan.positions[best].name,
        strength=strength,
        read_lux=light.lux,
        stage_lux=tuple(None if each is None else strength * each for each in per_unit),
        strengths=tuple(wanted),
        eye_colour=_level(AP0_TO_AP1 @ np.array(light.eye_per_lux)),
        camera_colour=_level(AP0_TO_AP1 @ camera),
    )


def _level(acescg: Array) -> Triple:
    """Scale ACEScg to a luminance of 1."""
    level = float(AP1_LUMINANCE @ acescg)
    if level <= 0:
        raise _LeftOutError("its colour has no luminance in ACEScg")
    red, green, blue = (float(each) / level for each in acescg)
    return red, green, blue
