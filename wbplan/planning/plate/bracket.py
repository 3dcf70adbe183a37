"""What a bracket of the lighting has to span, from the positions and from sources of known size.

White and black at the positions follow from their lux. A source itself lies far above them; how
far follows where its size and its distance from a reading are given: a matt disc of area A gives
on its axis, at the distance d, E = L A / (d^2 + A / pi), which is exact for the disc and within a
few percent for a panel that is not long (radiometry of a Lambertian disc, CIE S 017 terms).
"""

from __future__ import annotations

import math

import numpy as np

from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.values import Bracket, Glow
from wbplan.scene.plate import find_separation


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


def find_glow_cd_m2(illuminance_lux: float, distance_m: float, area_m2: float) -> float:
    """Find the luminance of a matt disc that gives an illuminance on its axis [cd/m2]."""
    return illuminance_lux * (distance_m**2 + area_m2 / math.pi) / area_m2


def _find_glows(plan: SetupPlan, grey: dict[str, float]) -> tuple[Glow, ...]:
    """Find how bright each sized light is, from the position with a place that gets most of it."""
    layout = {each.name: each for each in plan.setup.layout}
    found = []
    for row, light in enumerate(plan.lights):
        spot = layout.get(light.name)
        if spot is None or spot.size_m is None:
            continue
        lux = {
            each.name: each.lux.value * each.shares[row]
            for each in plan.positions
            if each.name in layout and each.lux.value * each.shares[row] > 0
        }
        if not lux:
            continue
        place = max(lux, key=lambda name: lux[name])
        apart = find_separation(spot, layout[place])
        distance = apart.floor_m if apart.straight_m is None else apart.straight_m
        width, height = spot.size_m
        glow = find_glow_cd_m2(lux[place], distance, width * height)
        # The grey at the same place has 0.18 E / pi and lands where the plan says.
        total = next(each.lux.value for each in plan.positions if each.name == place)
        over = float(np.log2(glow / (MIDDLE_GREY * total / math.pi)))
        found.append(Glow(light.name, place, glow, grey[place] + over))
    return tuple(found)
