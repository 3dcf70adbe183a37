"""The flicker of a setup against its shutter: what is safe, and what is left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.exposure.flicker import (
    Flicker,
    find_band_range,
    find_beat_hz,
    find_level_range,
    find_low_risk_percent,
    find_nearest_safe_s,
    find_ripple_stops,
    list_safe_times_s,
    measure_ripple,
)
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Setup

NOTABLE_RIPPLE_STOPS = 0.05  # common practice, no source: under it flicker is hard to see
_MOST_LISTED = 8
_SAME = 1e-6
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
class FlickerPlan:
    """All flicker of a setup; ``common_time_s`` is nearest and safe for all, NaN if none is."""

    answers: tuple[FlickerAnswer, ...]
    common_time_s: float
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
    safe = list_safe_times_s(flicker.light_hz, fps, exposure_time_s, 4 * _MOST_LISTED)
    near = np.argsort(np.abs(np.log2(safe / exposure_time_s)), kind="stable")[:_MOST_LISTED]
    best = find_nearest_safe_s(flicker.light_hz, fps, exposure_time_s)
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
        beat_hz=find_beat_hz(flicker.light_hz, fps),
        band_count=flicker.light_hz * readout_s,
        band_ripple_stops=float(measure_ripple(bands)),
        low_risk_percent=find_low_risk_percent(flicker.light_hz),
    )


def find_common_safe_s(frequencies_hz: tuple[float, ...], fps: float, wanted_s: float) -> float:
    """Find the time nearest to a wanted one that is safe for all frequencies [s]; NaN for none.

    Looked for among the 100 000 periods of the slowest light around the wanted time.
    """
    times = list_safe_times_s(min(frequencies_hz), fps, wanted_s)
    cycles = times[:, None] * np.array(frequencies_hz)
    times = times[(np.abs(cycles - np.round(cycles)) < _SAME * np.maximum(cycles, 1)).all(-1)]
    if not times.size:
        return float("nan")
    return float(times[np.argmin(np.abs(np.log2(times / wanted_s)))])


def plan_flicker(setup: Setup) -> FlickerPlan | None:
    """Answer every flicker that a setup states, and its mains; None where it states none."""
    shooting = setup.shooting
    readout = 1.0 / shooting.fps if shooting.readout_s is None else shooting.readout_s
    groups: dict[Flicker, list[str]] = {}
    for each in setup.sources:
        if each.flicker is not None and each.on:
            groups.setdefault(each.flicker, []).append(each.name)
    asked = [(", ".join(names), flicker, True) for flicker, names in groups.items()]
    if setup.mains_hz is not None and not any(
        each.light_hz == 2 * setup.mains_hz for each in groups
    ):
        worst = Flicker(2 * setup.mains_hz, is_assumed=True)
        asked.append((f"mains {setup.mains_hz:g} Hz", worst, False))
    if not asked:
        return None
    answers = tuple(
        answer_flicker(label, flicker, shooting.fps, shooting.exposure_time_s, readout, is_source)
        for label, flicker, is_source in asked
    )
    common = find_common_safe_s(
        tuple(each.flicker.light_hz for each in answers), shooting.fps, shooting.exposure_time_s
    )
    return FlickerPlan(answers, common, readout, shooting.readout_s is not None)


def find_position_ripple(scene: SceneResponse) -> tuple[Interval, ...]:
    """Find the worst flicker at each position [stops], crests of all its lights together."""
    setup, luminous = scene.setup, scene.source_lux
    time = setup.shooting.exposure_time_s
    levels = np.array(
        [
            (1.0, 1.0) if each.flicker is None else find_level_range(each.flicker, time)
            for each in setup.sources
        ]
    )
    own = scene.lux * luminous
    value = measure_ripple(own @ levels)
    draws = np.empty((len(own), 0))
    if scene.draws is not None:
        draws = measure_ripple((np.swapaxes(scene.draws.lux, 1, 2) * luminous) @ levels)
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
    worst = max(range(len(ripple)), key=lambda row: ripple[row].value)
    size = ripple[worst].value
    if size > NOTABLE_RIPPLE_STOPS:
        said = f"{size:.2f} stops" if np.isfinite(size) else "whole frames"
        place = setup.positions[worst].name
        notes.append(
            warn(
                "flicker", f"up to {said} of flicker at {place} with the planned shutter", "flicker"
            )
        )
    for each in plan.answers:
        hertz = each.flicker.light_hz
        if not each.safe_times_s:
            text = (
                f"at {setup.shooting.fps:.6g} fps a frame is shorter than a period of "
                f"{hertz:g} Hz: no shutter is safe; the fastest safe rate is {hertz:g} fps at 360°"
            )
            if each.is_source:
                notes.append(warn("no-safe-shutter", text, each.label))
            else:
                notes.append(Note("no-safe-shutter", text, each.label))
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
    several = len({each.flicker.light_hz for each in plan.answers}) > 1
    if several and not np.isfinite(plan.common_time_s):
        text = "no shutter within a frame is safe for all the frequencies at once"
        notes.append(Note("no-common-shutter", text, "flicker"))
    return tuple(notes)
