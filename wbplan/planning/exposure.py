"""Everything about a setup's exposure: what will be shot, and where each place lands."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from wbplan.camera.sensitivities import CHANNELS
from wbplan.camera.setting import Setting
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.rounding import rank
from wbplan.core.tables import Array
from wbplan.exposure.equation import (
    MIDDLE_GREY,
    WHITE,
    find_needed_lux_s,
    find_ratio_stops,
    name_t_stop,
)
from wbplan.exposure.nd_kit import Pack, find_fitting_lenses, find_packs
from wbplan.planning.channels import (
    ChannelGains,
    Channels,
    LightChannels,
    find_clip_stops,
    find_headroom,
    find_white_over,
    make_channels,
    note_equal_heights,
    view_gains,
    view_lights,
)
from wbplan.planning.flash import FlashShutter, mix_flash, note_flash
from wbplan.planning.response import SceneResponse
from wbplan.planning.ripple import (
    FlickerPlan,
    find_colour_ripple,
    find_position_ripple,
    note_flicker,
    plan_flicker,
)
from wbplan.scene.setup import Setup

# White and black of the usual charts: 90 % and 3 % (common practice, no source).
SURFACES = (("18 % grey", MIDDLE_GREY), ("white, 90 %", WHITE), ("black, 3 %", 0.03))
_NOTABLE_STOPS = 1.0 / 6.0
_MOST_COMPARED = 16  # positions, each with every other


@dataclass(frozen=True)
class Landing:
    """Where a surface lands: stops from middle grey, and the encoding's code (1 is full range)."""

    surface: str
    reflectance: float
    from_grey_stops: Interval
    code: Interval


@dataclass(frozen=True)
class PositionExposure:
    """One position at the exposure that will be shot.

    ``landings`` by brightness, grey first. ``from_key_stops`` is the contrast to the key position.
    ``headroom_stops`` is what a grey has left in each channel before the sensor clips there.
    ``white_over_stops`` is how far a white lies over the first clip, 0 or less where it holds.
    ``ripple_stops`` is the worst flicker here, from frame to frame; ``ripple_mired`` and
    ``ripple_cc`` what the colour does meanwhile, NaN where no light's colour is said to flicker.
    """

    name: str
    landings: tuple[Landing, ...]
    from_key_stops: Interval
    headroom_stops: Channels
    first_to_clip: str
    white_over_stops: Interval
    ripple_stops: Interval
    ripple_mired: float
    ripple_cc: float


@dataclass(frozen=True)
class Contrast:
    """Two positions and how far the first lies over the second."""

    brighter: str
    darker: str
    stops: Interval


@dataclass(frozen=True)
class ExposurePlan:
    """Everything decided about one setup's exposure.

    ``t_stop`` and ``nd_stops`` are what will be shot: the wanted stop with the ND that the key
    position asks for (from the kit where there is one), or the stop that the key asks for.
    ``nd_needed`` is None where no stop is wanted. ``clip_stops`` is from middle grey to clip at
    this EI; ``clip_is_stated`` tells a profile's figure from ISO 12232's. ``lenses`` are those of
    the kit that can be set to the stop, None where the kit names none.
    """

    t_stop: float
    nd_stops: float
    nd_needed: Interval | None
    packs: tuple[Pack, ...]
    lenses: tuple[str, ...] | None
    clip_stops: float
    clip_is_stated: bool
    positions: tuple[PositionExposure, ...]
    contrasts: tuple[Contrast, ...]
    lights: tuple[LightChannels, ...]
    gains: ChannelGains
    flicker: FlickerPlan | None
    flash: tuple[FlashShutter, ...]


def plan_exposure(scene: SceneResponse, dial: Setting) -> tuple[ExposurePlan, tuple[Note, ...]]:
    """Decide the exposure of a setup and work out what follows, with what has to be said of it."""
    setup = scene.setup
    shooting, kit = setup.shooting, setup.kit
    t_stop, nd, needed, packs = _decide(scene)
    needed_lux = float(
        find_needed_lux_s(shooting.ei, t_stop, nd, shooting.calibration_c)
        / shooting.exposure_time_s
    )
    ripple = find_position_ripple(scene)
    flicker = plan_flicker(scene)
    plan = ExposurePlan(
        t_stop=t_stop,
        nd_stops=nd,
        nd_needed=needed,
        packs=packs,
        lenses=find_fitting_lenses(kit, t_stop) if kit and kit.lenses else None,
        clip_stops=find_clip_stops(setup),
        clip_is_stated=setup.camera.headroom_stops is not None,
        positions=_place_positions(scene, needed_lux, ripple),
        contrasts=_compare_positions(scene),
        lights=view_lights(scene),
        gains=view_gains(scene, dial),
        flicker=flicker,
        flash=mix_flash(scene, dial),
    )
    notes = (*_note_exposure(setup, plan), *note_equal_heights(setup), *note_flash(setup))
    if flicker is not None:
        notes += note_flicker(setup, flicker, ripple)
    return plan, notes


def _decide(scene: SceneResponse) -> tuple[float, float, Interval | None, tuple[Pack, ...]]:
    """Decide stop and ND: the wanted stop by ND, else the stop that the key asks for."""
    setup = scene.setup
    shooting, key = setup.shooting, setup.key_row
    level = float(scene.position_lux[key])
    if shooting.t_stop is None:
        return float(shooting.solve_t_stop(level)), shooting.nd_stops, None, ()
    lux = np.concatenate([[level], scene.lux_draws[key]])
    needed = shooting.solve_nd_stops(lux, shooting.t_stop)
    want = _span(float(needed[0]), needed[1:], setup.band_share)
    packs: tuple[Pack, ...] = ()
    nd = max(want.value, 0.0)
    if setup.kit is not None and np.isfinite(want.value):
        packs = find_packs(setup.kit, nd)
        nd = packs[0].stops if packs else nd
    return shooting.t_stop, nd, want, packs


def _place_positions(
    scene: SceneResponse, needed_lux: float, ripple: tuple[Interval, ...]
) -> tuple[PositionExposure, ...]:
    setup, key = scene.setup, scene.setup.key_row
    level, draws = scene.position_lux, scene.lux_draws
    if needed_lux <= 0:  # the key is dark and no stop is wanted: nothing says where things land
        level, draws = np.full_like(level, np.nan), np.empty((level.size, 0))
        needed_lux = 1.0
    headroom, headroom_draws = find_headroom(scene, needed_lux)
    if np.isnan(level).all():
        headroom, headroom_draws = np.full_like(headroom, np.nan), None
    over = find_ratio_stops(level, needed_lux)
    over_draws = find_ratio_stops(draws, needed_lux)
    from_key = find_ratio_stops(scene.position_lux, scene.position_lux[key])
    from_key_draws = find_ratio_stops(scene.lux_draws, scene.lux_draws[key])
    result = []
    colour = find_colour_ripple(scene)
    for row, position in enumerate(setup.positions):
        own = headroom[row]
        spread = None if headroom_draws is None or np.isinf(own).any() else headroom_draws[row]
        channels = make_channels(own, spread, setup.band_share)
        grey = _span(over[row], over_draws[row], setup.band_share)
        result.append(
            PositionExposure(
                name=position.name,
                landings=tuple(_land(setup.encoding, *each, grey) for each in SURFACES),
                from_key_stops=_span(from_key[row], from_key_draws[row], setup.band_share),
                headroom_stops=channels,
                first_to_clip=CHANNELS[min(range(3), key=lambda c: rank(channels[c].value))],
                white_over_stops=find_white_over(own, spread, setup.band_share),
                ripple_stops=ripple[row],
                ripple_mired=float(colour[row, 0]),
                ripple_cc=float(colour[row, 1]),
            )
        )
    return tuple(result)


def _span(value: float, draws: Array, share: float) -> Interval:
    """Make an interval, closed where the value is not finite and draws mean nothing.

    A draw of a meter so far out that it reads nothing at all gives no figure and does not count.
    """
    finite = draws[np.isfinite(draws)] if np.isfinite(value) else ()
    return make_interval(float(value), finite, share)


def _land(encoding: Encoding, name: str, reflectance: float, grey: Interval) -> Landing:
    shift = float(np.log2(reflectance / MIDDLE_GREY))
    stops = grey.moved(shift)
    if np.isnan(grey.value):
        return Landing(name, reflectance, stops, stops)
    ends = np.array([stops.value, stops.low, stops.high])
    full = find_encoding(
        encoding.curve, encoding.gamut, ei=encoding.ei
    )  # codes are told in full range
    code = full.encode(MIDDLE_GREY * np.exp2(ends))
    return Landing(name, reflectance, stops, Interval(*(float(each) for each in code)))


def _compare_positions(scene: SceneResponse) -> tuple[Contrast, ...]:
    """Compare lit positions, the brighter first, the widest contrast at the top.

    Every two, or of many each with the brightest and the darkest alone.
    """
    setup, level, draws = scene.setup, scene.position_lux, scene.lux_draws
    lit = sorted(np.flatnonzero(level > 0), key=lambda row: -rank(float(np.log2(level[row]))))
    pairs = list(combinations(lit, 2))
    if len(lit) > _MOST_COMPARED:
        inner = lit[1:-1]
        pairs = [(lit[0], each) for each in lit[1:]] + [(each, lit[-1]) for each in inner]
    found = []
    for high, low in pairs:
        stops = _span(
            float(find_ratio_stops(level[high], level[low])),
            find_ratio_stops(draws[high], draws[low]),
            setup.band_share,
        )
        found.append(Contrast(setup.positions[high].name, setup.positions[low].name, stops))
    return tuple(sorted(found, key=lambda each: -rank(each.stops.value)))


def _note_exposure(setup: Setup, plan: ExposurePlan) -> tuple[Note, ...]:
    notes = []
    needed = plan.nd_needed
    if needed is not None and needed.value < -_NOTABLE_STOPS and np.isfinite(needed.value):
        text = f"the key is {-needed.value:.1f} stops too dark for the wanted stop, without any ND"
        notes.append(warn("too-dark", text, setup.key))
    if plan.packs and needed is not None:
        best = plan.packs[0]
        if not best.reaches and needed.value >= 0:
            side = "too dark" if best.miss_stops > 0 else "too bright"
            instead = name_t_stop(plan.t_stop * 2.0 ** (-best.miss_stops / 2.0))
            text = (
                "nothing in the kit reaches the wanted stop; the nearest leaves the picture "
                f"{abs(best.miss_stops):.1f} stops {side}, and the key asks for {instead} with it"
            )
            notes.append(warn("no-pack", text, "kit"))
        elif best.stops > _NOTABLE_STOPS and needed.value < 0:
            text = f"what stays on the lens costs {best.stops:.1f} stops that are missing already"
            notes.append(warn("no-pack", text, "kit"))
    if plan.lenses == () and plan.t_stop > 0:
        notes.append(warn("no-lens", "no lens of the kit can be set to this stop", "kit"))
    if not plan.clip_is_stated:
        text = (
            "states no headroom_stops: middle grey is taken to lie 2.96 stops under clip at the "
            "base EI (ISO 12232), less than many cameras have"
        )
        notes.append(Note("clip-assumed", text, "camera"))
    if setup.shooting.ei != setup.camera.base_ei:
        text = (
            f"headroom counts EI {setup.shooting.ei:g} as a re-rating of the same sensor at EI "
            f"{setup.camera.base_ei:g}; a camera that changes its analogue gain clips elsewhere"
        )
        notes.append(Note("ei-re-rates", text, "camera"))
    clipped = [each for each in plan.positions if each.white_over_stops.value > 0]
    if clipped:
        said = ", ".join(
            f"{each.name} ({each.first_to_clip} first, by {each.white_over_stops.value:.1f} stops)"
            for each in clipped
        )
        text = f"a white surface clips at {said}"
        code, about = "white-clips", "headroom"
        notes.append(warn(code, text, about) if plan.clip_is_stated else Note(code, text, about))
    return tuple(notes)
