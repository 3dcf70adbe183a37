"""What a bracket of the lighting has to span, from the positions and from sources of known size.

White and black at the positions follow from their lux. A source itself lies far above them; how
far follows where its size and its place are given: an even, matt panel there, pointing as the
layout says, gives a reading exactly what `panel.find_panel_lux` says of each cd/m2. One that
nothing points is taken to face the reading.
"""

from __future__ import annotations

import math

import numpy as np

from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.panel import find_panel_lux
from wbplan.planning.plate.space import aim_along, find_aim, find_line_m, find_panel_m
from wbplan.planning.plate.values import Bracket, Glow
from wbplan.scene.plate import Spot


def plan_bracket(plan: SetupPlan) -> Bracket | None:
    """Plan the bracket of a setup; None where no position has light or nothing says where it lands.

    Uses the lux readings alone, as the exposure plan's landings do.
    """
    exposure = plan.exposure
    if exposure is None:
        return None
    grey = {each.name: each.landings[0].from_grey_stops.value for each in exposure.positions}
    lit = [each for each in exposure.positions if math.isfinite(grey[each.name])]
    if not lit:
        return None
    high = max(lit, key=lambda each: grey[each.name])
    low = min(lit, key=lambda each: grey[each.name])
    white = max(each.from_grey_stops.value for each in high.landings)
    black = min(each.from_grey_stops.value for each in low.landings)
    glows = _find_glows(plan, grey)
    return Bracket(
        brightest=high.name,
        darkest=low.name,
        spread_stops=grey[high.name] - grey[low.name],
        darker_stops=max(0.0, white, *(each.from_grey_stops for each in glows)),
        brighter_stops=max(0.0, -black),
        glows=glows,
    )


def find_reading_lux(
    light: Spot, place: Spot, layout: tuple[Spot, ...], camera_m: float | None
) -> tuple[float, bool]:
    """Find what a soft source of 1 cd/m2 gives a reading at a place [lux].

    The reading's surface faces the source, unless the layout aims the position, or gives it a
    direction and a tilt (as lux are predicted, `scene.predicted`).

    Returns
    -------
    tuple
        0 lux where the source points away, and whether the layout points it.
    """
    aim = find_aim(light, layout, camera_m)
    line = find_line_m(light, place)
    given = aim is not None
    aim = aim or aim_along(line)
    if aim is None:  # in one place with it
        return 0.0, False
    corners = find_panel_m(light, aim)
    at = corners.mean(axis=0) + line
    return find_panel_lux(corners, at, find_surface(place, layout, camera_m)), given


def find_surface(place: Spot, layout: tuple[Spot, ...], camera_m: float | None) -> Array | None:
    """Find which way a reading's surface faces, (3,); None where it faces each light."""
    aim = None
    if place.aimed_at or place.tilt_deg is not None:
        aim = find_aim(place, layout, camera_m)
    return None if aim is None else aim.vector


def note_turned_away(plan: SetupPlan) -> tuple[Note, ...]:
    """Name the lights that the layout points away from a place that they are said to light."""
    layout, camera_m = plan.setup.layout, _camera_m(plan)
    spots = {each.name: each for each in layout}
    notes = []
    for row, light in enumerate(plan.lights):
        spot = spots.get(light.name)
        aim = None if spot is None else find_aim(spot, layout, camera_m)
        if spot is None or aim is None:
            continue
        for place in plan.positions:
            lit = place.lux.value * place.shares[row]
            there = spots.get(place.name)
            if lit <= 0 or there is None:
                continue
            if aim.vector @ find_line_m(spot, there) <= 0:
                text = (
                    f"points away from {place.name}, which gets {lit:.3g} lux of it: the layout's "
                    "direction is wrong, or that light comes back from something"
                )
                notes.append(warn("turned-away", text, light.name))
    return tuple(notes)


def _camera_m(plan: SetupPlan) -> float | None:
    return None if plan.setup.lens is None else plan.setup.lens.camera_height_m


def _find_glows(plan: SetupPlan, grey: dict[str, float]) -> tuple[Glow, ...]:
    """Find how bright each sized light is, from the place before it that gets most of it."""
    setup = plan.setup
    layout = {each.name: each for each in setup.layout}
    found = []
    for row, light in enumerate(plan.lights):
        spot = layout.get(light.name)
        if spot is None or spot.size_m is None:
            continue
        seen = []
        for each in plan.positions:
            lux, there = each.lux.value * each.shares[row], layout.get(each.name)
            if lux > 0 and there is not None:
                share, given = find_reading_lux(spot, there, setup.layout, _camera_m(plan))
                if share > 0:
                    seen.append((lux, lux / share, given, each))
        if not seen:
            continue
        _, glow, given, place = max(seen, key=lambda each: each[0])
        # The grey at the same place has 0.18 E / pi and lands where the plan says.
        over = float(np.log2(glow / (MIDDLE_GREY * place.lux.value / math.pi)))
        found.append(Glow(light.name, place.name, glow, grey[place.name] + over, given))
    return tuple(found)
