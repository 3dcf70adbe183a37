"""The flicker of a setup against its shutter: what is safe, and what is left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import solve_coordinates
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.rounding import rank
from wbplan.core.tables import Array, load_table
from wbplan.exposure.flicker import (
    Flicker,
    find_band_range,
    find_beat_hz,
    find_level_range,
    find_low_risk_percent,
    find_nearest_safe_s,
    find_ripple_stops,
    find_spectral_range,
    list_safe_times_s,
    measure_ripple,
)
from wbplan.exposure.nd_kit import MARK_STOPS
from wbplan.light.filters import shape_ideal_filter
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Setup

NOTABLE_RIPPLE_STOPS = 0.05  # common practice, no source: under it flicker is hard to see
_MOST_LISTED = 8
_SAME = 1e-6
_FINE_STOPS = 0.005  # between shutters that leave as much
_FLASHING_HZ = 70.0  # seen to flash: 3 to 70 Hz can set off seizures (from memory)


@dataclass(frozen=True)
class FlickerAnswer:
    """One flicker against the shutter.

    ``label`` names the sources, or the mains; ``is_source`` is False for mains that no source is
    said to follow, whose depth is then not known and taken as the worst. ``safe_time_s`` is the
    nearest safe time, NaN where no time within a frame is safe; ``safe_times_s`` all of them, the
    nearest ones where there are many. ``band_ripple_stops`` is what one frame's rows differ by.
    """

    label: str
    is_source: bool
    flicker: Flicker
    safe_times_s: tuple[float, ...]
    safe_time_s: float
    safe_cost_stops: float
    ripple_stops: float
    safe_ripple_stops: float
    beat_hz: float
    band_count: float
    band_ripple_stops: float
    low_risk_percent: float

    @property
    def is_risky(self) -> bool:
        """Whether the stated depth is over the low-risk limit."""
        known = self.is_source and not self.flicker.is_assumed
        return known and 100 * self.flicker.depth > self.low_risk_percent


@dataclass(frozen=True)
class BestShutter:
    """The shutter to take against all flicker of a setup.

    ``is_safe`` where no position keeps more ripple than `NOTABLE_RIPPLE_STOPS`; ``ripple_stops`` is
    the most that is left, at ``place``, the crests of all its lights together. ``cost_stops`` is
    what it takes of the light against the planned shutter, negative where it gives more.
    """

    exposure_time_s: float
    is_planned: bool
    is_safe: bool
    cost_stops: float
    ripple_stops: float
    place: str


@dataclass(frozen=True)
class FlickerPlan:
    """All flicker of a setup, and the shutter to take against it."""

    answers: tuple[FlickerAnswer, ...]
    best: BestShutter
    readout_s: float
    readout_is_stated: bool


def answer_flicker(
    label: str,
    flicker: Flicker,
    fps: float,
    exposure_time_s: float,
    readout_s: float,
    is_source: bool = True,
) -> FlickerAnswer:
    """Answer one flicker: safe times within a frame, the nearest, and what is left of it now."""
    safe = list_safe_times_s(flicker.safe_hz, fps, exposure_time_s, 4 * _MOST_LISTED)
    near = np.argsort(np.abs(np.log2(safe / exposure_time_s)), kind="stable")[:_MOST_LISTED]
    best = find_nearest_safe_s(flicker.safe_hz, fps, exposure_time_s)
    at_best = float(find_ripple_stops(flicker, best)) if np.isfinite(best) else np.nan
    bands = find_band_range(flicker, exposure_time_s, readout_s)
    return FlickerAnswer(
        label=label,
        is_source=is_source,
        flicker=flicker,
        safe_times_s=tuple(float(each) for each in np.sort(safe[near])),
        safe_time_s=best,
        safe_cost_stops=float(np.log2(exposure_time_s / best)),
        ripple_stops=float(find_ripple_stops(flicker, exposure_time_s)),
        safe_ripple_stops=at_best,
        beat_hz=find_beat_hz(flicker.safe_hz, fps),
        band_count=flicker.light_hz * readout_s,
        band_ripple_stops=float(measure_ripple(bands)),
        low_risk_percent=find_low_risk_percent(flicker.light_hz),
    )


def plan_flicker(scene: SceneResponse) -> FlickerPlan | None:
    """Answer every flicker that a setup states, and its mains; None where it states none."""
    setup = scene.setup
    shooting = setup.shooting
    readout = 1.0 / shooting.fps if shooting.readout_s is None else shooting.readout_s
    groups: dict[Flicker, list[str]] = {}
    for each in setup.sources:
        if each.flicker is not None and each.on:
            groups.setdefault(each.flicker, []).append(each.name)
    asked = [(", ".join(names), flicker, True) for flicker, names in groups.items()]
    mains = None
    if setup.mains_hz is not None and not any(
        each.light_hz == 2 * setup.mains_hz for each in groups
    ):
        mains = Flicker(2 * setup.mains_hz, is_assumed=True)
        asked.append((f"mains {setup.mains_hz:g} Hz", mains, False))
    if not asked:
        return None
    answers = tuple(
        answer_flicker(label, flicker, shooting.fps, shooting.exposure_time_s, readout, is_source)
        for label, flicker, is_source in asked
    )
    best = find_best_shutter(scene, tuple(each.flicker for each in answers), mains)
    return FlickerPlan(answers, best, readout, shooting.readout_s is not None)


def find_best_shutter(
    scene: SceneResponse, flickers: tuple[Flicker, ...], mains: Flicker | None = None
) -> BestShutter:
    """Find the shutter that leaves no position more ripple than `NOTABLE_RIPPLE_STOPS`.

    The planned shutter where it does; else, of those that do and lie within a third of a stop of
    the nearest, the one with the least ripple; where none does, the least ripple. Tried are
    tenths of a degree from 1 to 360, whole periods, and the planned shutter.

    Parameters
    ----------
    flickers
        Whose whole periods are tried.
    mains
        What a light that nobody described might follow: counted as a place that it lights alone.
    """
    shooting = scene.setup.shooting
    planned = shooting.exposure_time_s
    whole = [
        list_safe_times_s(each.safe_hz, shooting.fps, planned, 4 * _MOST_LISTED)
        for each in flickers
    ]
    angles = np.arange(10, 3601) / 10.0
    times = np.concatenate([[planned], *whole, angles / (360.0 * shooting.fps)])
    levels = _find_levels(scene.setup, times)
    ripple = measure_ripple(np.einsum("pn,tnk->tpk", scene.lux * scene.source_lux, levels))
    places = [each.name for each in scene.setup.positions]
    if mains is not None:
        ripple = np.concatenate([ripple, find_ripple_stops(mains, times)[:, None]], axis=1)
        places.append("a light that follows the mains")
    ripple = np.nan_to_num(ripple, nan=0.0, posinf=np.inf)  # a place without light has none
    worst = ripple.max(axis=1)
    away = np.abs(np.log2(times / planned))
    fine = np.round(worst / _FINE_STOPS)
    is_between = np.arange(times.size) > sum(each.size for each in whole)
    safe = worst <= NOTABLE_RIPPLE_STOPS
    if safe[0]:
        best = 0
    elif safe.any():
        near = safe & (away <= away[safe].min() + 2.0 * MARK_STOPS)
        best = int(np.lexsort((away, is_between, fine, ~near))[0])
    else:
        best = int(np.lexsort((away, is_between, fine))[0])
    return BestShutter(
        exposure_time_s=float(times[best]),
        is_planned=bool(away[best] < _SAME),
        is_safe=bool(worst[best] <= NOTABLE_RIPPLE_STOPS),
        cost_stops=float(np.log2(planned / times[best])),
        ripple_stops=float(worst[best]),
        place=places[int(np.argmax(ripple[best]))],
    )


def _find_levels(setup: Setup, times_s: Array) -> Array:
    """Find least and most of every source over its mean, (t, n, 2), for exposures (t,) [s]."""
    steady = np.ones((times_s.size, 2))
    found = [
        steady if each.flicker is None else find_level_range(each.flicker, times_s)
        for each in setup.sources
    ]
    return np.stack(found, axis=1)


def find_colour_ripple(scene: SceneResponse) -> Array:
    """Find how far the colour of each position goes up and down with the planned shutter.

    Returns
    -------
    ndarray
        (p, 2) [mired, CC] between exposures of all its lights at their dimmest and at their
        brightest; NaN where no light's colour is said to flicker.
    """
    setup = scene.setup
    if not any(each.on and each.flicker and each.flicker.has_colour for each in setup.sources):
        return np.full((len(setup.positions), 2), np.nan)
    time = setup.shooting.exposure_time_s
    sight = load_table("photopic")
    swing = np.ones((2, *scene.power.shape))
    for row, source in enumerate(setup.sources):
        flicker = source.flicker
        if flicker is None:
            continue
        if not flicker.has_colour:
            swing[:, row] = find_level_range(flicker, time)[:, None]
            continue
        ratio = shape_ideal_filter(flicker.trough_mired, flicker.trough_green_cc)
        level = source.spectrum.values * sight
        ratio = ratio * level.sum() / (level @ ratio) * (1 - flicker.depth) / (1 + flicker.depth)
        swing[:, row] = find_spectral_range(flicker, time, ratio)
    raw = respond(swing * scene.power, setup.camera.sensitivities)
    mixed = np.einsum("pn,knc->kpc", scene.lux, raw)
    lit = (mixed > 0).all(axis=(0, 2))
    found = np.zeros((lit.size, 2))
    neutral = solve_coordinates(scene.camera.locus, find_log2_response(mixed[:, lit, None]))
    for column, value in enumerate((neutral.mired, neutral.tint_cc)):
        found[lit, column] = np.abs(np.diff(value.reshape(2, -1), axis=0)[0])
    return found


def find_position_ripple(scene: SceneResponse) -> tuple[Interval, ...]:
    """Find the worst flicker at each position [stops], crests of all its lights together."""
    setup, luminous = scene.setup, scene.source_lux
    time = setup.shooting.exposure_time_s
    levels = _find_levels(setup, np.array([time]))[0]
    own = scene.lux * luminous
    value = measure_ripple(own @ levels)
    draws = np.empty((len(own), 0))
    if scene.draws is not None:
        swing = luminous[:, None, None] * levels[:, None, :]
        draws = measure_ripple(scene.draws.readings.sum_lights(swing))
    return tuple(
        Interval(0.0, 0.0, 0.0)
        if own[row].sum() <= 0
        else make_interval(
            float(value[row]),
            draws[row] if np.isfinite(draws[row]).all() else None,
            setup.band_share,
        )
        for row in range(len(own))
    )


def note_flicker(setup: Setup, plan: FlickerPlan, ripple: tuple[Interval, ...]) -> tuple[Note, ...]:
    """Say what flicker asks for: another shutter, another frame rate, care for people."""
    notes = []
    worst = max(range(len(ripple)), key=lambda row: rank(ripple[row].value))
    size, best = ripple[worst].value, plan.best
    angle = 360.0 * setup.shooting.fps * best.exposure_time_s
    if size > NOTABLE_RIPPLE_STOPS:
        said = f"{size:.2f} stops" if np.isfinite(size) else "whole frames"
        text = f"up to {said} of flicker at {setup.positions[worst].name} with the planned shutter"
        if best.is_safe:
            text += f"; {angle:.5g}° keeps it under {NOTABLE_RIPPLE_STOPS:g} everywhere"
        notes.append(warn("flicker", text, "flicker"))
    if not best.is_safe:
        is_finite = np.isfinite(best.ripple_stops)
        left = f"{best.ripple_stops:.2f} stops" if is_finite else "black frames"
        text = (
            f"no shutter keeps flicker under {NOTABLE_RIPPLE_STOPS:g} stops at every position; the "
            f"least is at {angle:.5g}°, which leaves {left} at {best.place}"
        )
        is_known = size > NOTABLE_RIPPLE_STOPS
        notes.append((warn if is_known else Note)("no-safe-shutter", text, "flicker"))
    for each in plan.answers:
        hertz = each.flicker.light_hz
        if not each.safe_times_s:
            text = (
                f"at {setup.shooting.fps:.6g} fps a frame is shorter than a period of "
                f"{each.flicker.safe_hz:g} Hz: no shutter evens it out; the fastest rate that does "
                f"is {each.flicker.safe_hz:g} fps at 360°"
            )
            notes.append(Note("no-whole-period", text, each.label))
        if each.is_source and each.flicker.is_assumed:
            text = "the depth of its flicker is not stated and taken as 100 %"
            notes.append(Note("flicker-depth", text, each.label))
        if each.is_risky or (each.is_source and hertz <= _FLASHING_HZ):
            text = (
                f"strobing light: {100 * each.flicker.depth:.0f} % deep at {hertz:g} Hz, enough to "
                "trouble people who are sensitive to it. Warn them before a take"
            )
            if hertz <= _FLASHING_HZ:
                text = (
                    f"strobing light: {hertz:g} Hz is seen to flash and can set off "
                    "photosensitive seizures. Warn everybody before it is switched on"
                )
            notes.append(warn("strobing", text, each.label))
    return tuple(notes)
