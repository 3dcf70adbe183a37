"""Everything about a setup's exposure: what will be shot, and where each place lands."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from wbplan.camera.setting import CameraView, Setting
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.exposure.equation import (
    MIDDLE_GREY,
    find_needed_lux_s,
    find_ratio_stops,
    name_t_stop,
    solve_nd_stops,
    solve_t_stop,
)
from wbplan.exposure.nd_kit import Pack, find_fitting_lenses, find_packs
from wbplan.planning.best_setting import SceneResponse
from wbplan.planning.channels import (
    find_clip_stops,
    find_headroom,
    find_white_over,
    make_channels,
    name_first_to_clip,
    note_equal_heights,
    view_gains,
    view_lights,
)
from wbplan.planning.exposure_values import Contrast, ExposurePlan, Landing, PositionExposure
from wbplan.planning.flash import mix_flash, note_flash
from wbplan.planning.ripple import find_position_ripple, note_flicker, plan_flicker
from wbplan.scene.setup import Setup

# White and black of the usual charts: 90 % and 3 % (common practice, no source).
_WHITE = 0.90
SURFACES = (("18 % grey", MIDDLE_GREY), ("white, 90 %", _WHITE), ("black, 3 %", 0.03))
_NOTABLE_STOPS = 1.0 / 6.0


def plan_exposure(
    setup: Setup,
    camera: CameraView,
    scene: SceneResponse,
    power: Array,
    at_positions: Array,
    dial: Setting,
) -> tuple[ExposurePlan, tuple[Note, ...]]:
    """Decide the exposure of a setup and work out what follows from it.

    Parameters
    ----------
    scene
        From `respond_to_scene`.
    power, at_positions
        (n, 401) and (p, 401): the sources behind their filters, and the light at each position.
    dial
        The setting that is shot at.

    Returns
    -------
    tuple
        The plan, and what has to be said about it.
    """
    shooting = setup.shooting
    key = [each.name for each in setup.positions].index(setup.key)
    t_stop, nd, needed, packs = _decide(setup, scene, key)
    needed_lux = float(
        find_needed_lux_s(shooting.ei, t_stop, nd, shooting.calibration_c)
        / shooting.exposure_time_s
    )
    ripple = find_position_ripple(setup, scene, scene.source_lux)
    positions = _place_positions(setup, scene, key, needed_lux, ripple)
    flicker = plan_flicker(setup)
    kit = setup.kit
    plan = ExposurePlan(
        t_stop=t_stop,
        nd_stops=nd,
        nd_needed=needed,
        packs=packs,
        lenses=find_fitting_lenses(kit, t_stop) if kit and kit.lenses else None,
        clip_stops=find_clip_stops(setup),
        clip_is_stated=setup.camera.headroom_stops is not None,
        positions=positions,
        contrasts=_compare_positions(setup, scene),
        lights=view_lights(setup, scene, power),
        gains=view_gains(setup, camera, scene, dial, at_positions[key]),
        flicker=flicker,
        flash=mix_flash(setup, camera, scene, dial),
    )
    notes = (*_note_exposure(setup, plan), *note_equal_heights(setup), *note_flash(setup))
    if flicker is not None:
        notes += note_flicker(setup, flicker, ripple)
    return plan, notes


def _decide(
    setup: Setup, scene: SceneResponse, key: int
) -> tuple[float, float, Interval | None, tuple[Pack, ...]]:
    """Decide stop and ND: the wanted stop by ND, else the stop that the key asks for."""
    shooting = setup.shooting
    level = float(scene.position_lux[key])
    rest = (shooting.ei, shooting.exposure_time_s)
    if shooting.t_stop is None:
        stop = solve_t_stop(level, *rest, shooting.nd_stops, shooting.calibration_c)
        return float(stop), shooting.nd_stops, None, ()
    lux = np.concatenate([[level], scene.lux_draws[key]])
    needed = solve_nd_stops(lux, *rest, shooting.t_stop, shooting.calibration_c)
    want = _span(float(needed[0]), needed[1:], setup.band_share)
    packs: tuple[Pack, ...] = ()
    nd = max(want.value, 0.0)
    if setup.kit is not None and np.isfinite(want.value):
        packs = find_packs(setup.kit, nd)
        nd = packs[0].stops if packs else nd
    return shooting.t_stop, nd, want, packs


def _place_positions(
    setup: Setup,
    scene: SceneResponse,
    key: int,
    needed_lux: float,
    ripple: tuple[Interval, ...],
) -> tuple[PositionExposure, ...]:
    level, draws = scene.position_lux, scene.lux_draws
    if needed_lux <= 0:  # the key is dark and no stop is wanted: nothing says where things land
        level, draws = np.full_like(level, np.nan), np.empty((level.size, 0))
        needed_lux = 1.0
    headroom, headroom_draws = find_headroom(setup, scene, needed_lux)
    if np.isnan(level).all():
        headroom, headroom_draws = np.full_like(headroom, np.nan), None
    over = find_ratio_stops(level, needed_lux)
    over_draws = find_ratio_stops(draws, needed_lux)
    from_key = find_ratio_stops(scene.position_lux, scene.position_lux[key])
    from_key_draws = find_ratio_stops(scene.lux_draws, scene.lux_draws[key])
    result = []
    for row, position in enumerate(setup.positions):
        own = headroom[row]
        spread = None if headroom_draws is None or np.isinf(own).any() else headroom_draws[row]
        channels = make_channels(own, spread, setup.band_share)
        result.append(
            PositionExposure(
                name=position.name,
                landings=tuple(
                    _land(
                        setup.encoding,
                        name,
                        reflectance,
                        _span(over[row], over_draws[row], setup.band_share),
                    )
                    for name, reflectance in SURFACES
                ),
                from_key_stops=_span(from_key[row], from_key_draws[row], setup.band_share),
                headroom_stops=channels,
                first_to_clip=name_first_to_clip(channels),
                white_over_stops=find_white_over(
                    own, spread, _WHITE, MIDDLE_GREY, setup.band_share
                ),
                ripple_stops=ripple[row],
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
    stops = Interval(grey.value + shift, grey.low + shift, grey.high + shift)
    if np.isnan(grey.value):
        return Landing(name, reflectance, stops, stops)
    ends = np.array([stops.value, stops.low, stops.high])
    full = find_encoding(encoding.curve, encoding.gamut)  # codes are told in full range
    code = full.encode(MIDDLE_GREY * np.exp2(ends))
    return Landing(name, reflectance, stops, Interval(*(float(each) for each in code)))


def _compare_positions(setup: Setup, scene: SceneResponse) -> tuple[Contrast, ...]:
    """Compare every two lit positions, the brighter first, the widest contrast at the top."""
    level, draws = scene.position_lux, scene.lux_draws
    found = []
    for one, two in combinations(range(level.size), 2):
        high, low = (one, two) if level[one] >= level[two] else (two, one)
        if level[low] <= 0:
            continue
        stops = _span(
            float(find_ratio_stops(level[high], level[low])),
            find_ratio_stops(draws[high], draws[low]),
            setup.band_share,
        )
        names = (setup.positions[high].name, setup.positions[low].name)
        found.append(Contrast(*names, stops))
    return tuple(sorted(found, key=lambda each: -each.stops.value))


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
