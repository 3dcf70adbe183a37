"""What a bracket of the lighting has to span, from the positions and from sources of known size.

White and black at the positions follow from their lux. A source itself lies far above them; how
far follows where its size and its place are given: an even, matt panel there, pointing as the
layout says, gives a reading exactly what `panel.find_panel_lux` says of each cd/m2. One that
nothing points is taken to face the reading.
"""

from __future__ import annotations

import math

from wbplan.core.notes import Note, warn
from wbplan.core.rounding import rank
from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.exposure.nd_kit import find_packs
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.panel import find_panel_lux
from wbplan.planning.plate.space import aim_along, find_aim, find_line_m, find_panel_m
from wbplan.planning.plate.values import Bracket, Frame, Glow
from wbplan.scene.plate import Spot
from wbplan.sky.broken import OUT
from wbplan.sky.dome import find_incidence_cosine
from wbplan.sky.glass import find_glass_transmittance
from wbplan.sky.source import PlacedSky, find_beam_lux
from wbplan.sky.sun_and_moon import SUN_WIDTH_DEG

_SUN_SR = math.pi * math.sin(math.radians(SUN_WIDTH_DEG / 2)) ** 2


STEP_STOPS = 2
SHORTEST_S = 1 / 8000  # what most cameras for stills reach (common practice, no source)
MORE_FRAMES = 3  # beyond what is known, for lamps whose luminance nobody does


def plan_bracket(plan: SetupPlan) -> Bracket | None:
    """Plan the bracket of a setup; None where no position has light or nothing says where it lands.

    Uses the lux readings alone, as the exposure plan's landings do; the sun's disc is the model's.
    """
    exposure = plan.exposure
    if exposure is None:
        return None
    grey = {each.name: each.landings[0].from_grey_stops.value for each in exposure.positions}
    lit = [each for each in exposure.positions if math.isfinite(grey[each.name])]
    if not lit:
        return None
    high = max(lit, key=lambda each: rank(grey[each.name]))
    low = min(lit, key=lambda each: rank(grey[each.name]))
    white = max(each.from_grey_stops.value for each in high.landings)
    black = min(each.from_grey_stops.value for each in low.landings)
    glows = (*_find_glows(plan, grey), *_find_suns(plan, grey))
    peaks = [(white, f"white at {high.name}"), *((e.from_grey_stops, e.light) for e in glows)]
    darker, peak = max(peaks, key=lambda each: rank(each[0]))
    known = {each.light for each in glows}
    whole = all(
        each.name in known or not source.on or (source.sky is not None and source.sky.lux > 0)
        for each, source in zip(plan.lights, plan.setup.sources, strict=True)
    )
    dark = STEP_STOPS * (
        math.ceil(max(0.0, darker) / STEP_STOPS - 1e-9) + (not whole) * MORE_FRAMES
    )
    bright = STEP_STOPS * math.ceil(max(0.0, -black) / STEP_STOPS - 1e-9)
    return Bracket(
        brightest=high.name,
        darkest=low.name,
        peak=peak,
        spread_stops=grey[high.name] - grey[low.name],
        darker_stops=max(0.0, darker),
        brighter_stops=max(0.0, -black),
        glows=glows,
        is_whole=whole,
        frames=tuple(_expose(plan, float(each)) for each in range(-dark, bright + 1, STEP_STOPS)),
        free_sun_stops=_find_free_sun(plan, grey),
        charts=tuple((each.name, -grey[each.name]) for each in lit),
    )


def _expose(plan: SetupPlan, stops: float) -> Frame:
    """Find the exposure that lies so far over the planned one, the stop of the lens kept.

    By shutter down to the shortest, then ND. Where a light flickers or flashes the shutter stays:
    by ND, and where none is left to take off, by EI.
    """
    setup, exposure = plan.setup, plan.exposure
    shooting, sources = setup.shooting, setup.sources
    assert exposure is not None
    time, ei = shooting.exposure_time_s, shooting.ei
    if any(each.on and (each.flicker or each.flash) for each in sources):
        nd = max(exposure.nd_stops - stops, 0.0)
        ei *= 2.0 ** max(stops - exposure.nd_stops, 0.0)
    else:
        wanted = time * 2.0**stops
        time = max(wanted, min(SHORTEST_S, time))
        nd = exposure.nd_stops + math.log2(time / wanted)
    if setup.kit is None:
        return Frame(stops, time, ei, nd, None, None, 0.0)
    packs = find_packs(setup.kit, nd, 1)
    if not packs:
        return Frame(stops, time, ei, nd, (), None, -nd)
    pack = packs[0]
    return Frame(stops, time, ei, nd, pack.glass, pack.camera_nd_stops, pack.miss_stops)


def _has_sun(sky: PlacedSky) -> bool:
    """Tell whether a light of the sky is the sun's beam, or has it in it."""
    return sky.light.kind == "sun" or sky.light.sun == OUT


def find_facing_lux(sky: PlacedSky) -> tuple[float, float]:
    """Find the lux of the modelled beam on a surface that faces the sun, and what share of them
    the light's own surface gets, behind its glass; 0 and 0 where the sun does not reach it.
    """
    beam = float(find_beam_lux(sky.light, sky.site, [sky.when.timestamp()])[0])
    cosine = float(find_incidence_cosine(sky.light.facing, sky.elevation_deg, sky.azimuth_deg))
    if beam <= 0 or cosine <= 0:
        return 0.0, 0.0
    share = cosine * float(find_glass_transmittance(cosine, sky.light.panes))
    return beam / share, share


def _find_suns(plan: SetupPlan, grey: dict[str, float]) -> tuple[Glow, ...]:
    """Find how bright the disc of each sun of the setup is: its lux over the solid angle."""
    found = []
    for light, source in zip(plan.lights, plan.setup.sources, strict=True):
        if not light.on or source.sky is None or not _has_sun(source.sky):
            continue
        glow = find_facing_lux(source.sky)[0] / _SUN_SR
        key = plan.setup.key
        if glow > 0 and math.isfinite(grey[key]):
            over = _find_over(plan, key, glow)
            found.append(Glow(light.name, key, glow, grey[key] + over, True))
    return tuple(found)


def _find_over(plan: SetupPlan, position: str, luminance_cd_m2: float) -> float:
    """Find how far a luminance lies over that of a grey at a position, 0.18 E / pi [stops]."""
    lux = next(each.lux.value for each in plan.positions if each.name == position)
    return math.log2(luminance_cd_m2 / (MIDDLE_GREY * lux / math.pi))


def _find_free_sun(plan: SetupPlan, grey: dict[str, float]) -> float | None:
    """Find where a clear sun lands that is up and that no light of the setup is.

    127.5 exp(-0.21 m) klx at the air mass m (IES 1984, J. IES 13, 381-392; Kasten and Young 1989).
    """
    bodies = plan.bodies
    skies = [each.sky for each in plan.setup.sources if each.sky is not None]
    if bodies is None or not bodies.sun.is_up or bodies.sun.elevation_deg <= 0:
        return None
    if any(_has_sun(each) or each.light.sun for each in skies):
        return None
    up = bodies.sun.elevation_deg
    mass = 1.0 / (math.sin(math.radians(up)) + 0.50572 * (up + 6.07995) ** -1.6364)
    glow = 127_500.0 * math.exp(-0.21 * mass) / _SUN_SR
    key = plan.setup.key
    if not math.isfinite(grey.get(key, math.nan)):
        return None
    return grey[key] + _find_over(plan, key, glow)


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
        over = _find_over(plan, place.name, glow)
        found.append(Glow(light.name, place.name, glow, grey[place.name] + over, given))
    return tuple(found)
