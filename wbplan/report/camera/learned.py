"""What was learned of a camera, in words and for the terminal."""

from __future__ import annotations

import numpy as np

from wbplan.camera.learn.verdict import LampView, Teaching
from wbplan.core.names import clean_text
from wbplan.planning.casts import name_tint
from wbplan.report.base.columns import PLAIN_WIDTH, fit_text, format_rows
from wbplan.report.base.words import say_kelvin, say_shift

_VERDICTS = {
    "good": "good: patches fit within what a careful frame gives",
    "fair": "fair: usable, but exposure, evenness or glare cost accuracy; better shoot it again",
    "poor": "poor: check the chart, the light's spectrum, clipping and glare before using this",
}
_NEXT = 5
_SHOWN = ("FL2", "FL11", "LED-B3", "LED-B5", "HP1")


def format_teaching(teaching: Teaching, width: int = PLAIN_WIDTH) -> str:
    """Format what was learned for a terminal: the verdict first."""
    start = teaching.lesson.start.name
    head = ["light", "wants", "give or take", f"by {start} it would look"]
    lights = [
        [clean_text(each.lamp), say_wants(each), say_spread(each), say_before(each)]
        for each in list_lights(teaching)
    ]
    lines = [
        f"{clean_text(teaching.lesson.title)}: {say_origin(teaching)}",
        f"   frames  {say_verdict(teaching)}",
        f"   band    {say_band(teaching)}",
        "",
        *format_rows([["shoot next", "would leave"], *list_next(teaching)], width=width),
        "",
        *format_rows([head, *lights], width=width),
    ]
    worst = list_worst_patches(teaching)
    if worst:
        lines += ["", "   largest misses  " + "; ".join(worst)]
    said = [note for note in teaching.notes if note.code != "table"]  # how a file was read
    lines += [f"   {note.weight}  {clean_text(str(note))}" for note in said]
    return fit_text("\n".join(lines), width)


def say_origin(teaching: Teaching) -> str:
    """Say from how much it was learned, and from which profile."""
    count = len(name_readings(teaching))
    readings = f"{count} {'reading' if count == 1 else 'readings'}"
    return f"learned from {readings}, starting from {teaching.lesson.start.name}"


def say_verdict(teaching: Teaching) -> str:
    """Say how good the frames are."""
    return f"{_VERDICTS[teaching.verdict]} (noise {100 * teaching.learned.noise:.1f} %)"


def say_band(teaching: Teaching) -> str:
    """Say how wide the band is over all lamps, before and now."""
    after = teaching.width_after
    return (
        "90 % band over discharge and LED light, mean width: "
        f"{say_width_before(teaching)} before, {after[0]:.1f} mired and {after[1]:.1f} CC now"
    )


def say_width_before(teaching: Teaching) -> str:
    """Say how wide the starting profile's band is over all lamps."""
    mired, cc = teaching.width_before
    return f"{mired:.0f} mired and {cc:.1f} CC" if mired or cc else "unknown"


def list_next(teaching: Teaching) -> list[list[str]]:
    """List what to shoot next, best first, with the mean width of the bands that it would leave."""
    return [
        [
            clean_text(each.light) + (" (in your scenario)" if each.own else ""),
            f"{each.mired:.1f} mired, {each.cc:.1f} CC",
        ]
        for each in teaching.prospects[:_NEXT]
    ]


def name_readings(teaching: Teaching) -> list[str]:
    """Name all that was learned from."""
    frames = [each.name for each in teaching.frames]
    return frames + [each.name for each in teaching.lesson.balances]


def list_lights(teaching: Teaching) -> list[LampView]:
    """List the lights to tell of: those that were read or are wanted, then some lamps."""
    own = [each.lamp for each in teaching.own_lights]
    lamps = [each for each in teaching.lamps if each.lamp in _SHOWN and each.lamp not in own]
    return [*teaching.own_lights, *lamps]


def say_wants(view: LampView) -> str:
    """Say what the learned camera wants under a light: '4139 K, magenta 2.8 CC'."""
    return f"{say_kelvin(1e6 / view.mired)}, {name_tint(view.tint_cc)}"


def say_wanted_before(view: LampView) -> str:
    """Say what the starting profile wants under a light."""
    return f"{say_kelvin(1e6 / view.mired_before)}, {name_tint(view.tint_cc_before)}"


def say_spread(view: LampView) -> str:
    """Say half the width of a light's band: '1.7 mired, 0.3 CC'."""
    return f"{view.mired_width / 2:.1f} mired, {view.cc_width / 2:.1f} CC"


def say_spread_before(view: LampView) -> str:
    """Say half the width of a light's band with the starting profile."""
    return f"{view.mired_width_before / 2:.1f} mired, {view.cc_width_before / 2:.1f} CC"


def say_before(view: LampView) -> str:
    """Say how a grey would look at the starting profile's setting: '8 mired warm, 1 CC green'."""
    return say_shift(view.mired - view.mired_before, view.tint_cc - view.tint_cc_before)


def list_worst_patches(teaching: Teaching) -> list[str]:
    """List the patches that fit worst, with their frames."""
    misses = [
        (float(np.abs(row).max()), patch, frame.name)
        for frame, residual in zip(teaching.frames, teaching.learned.residuals, strict=True)
        for patch, row in zip(frame.surfaces, residual, strict=True)
        if frame.group == "raw"
    ]
    worst = sorted(misses, reverse=True)[:3]
    return [f"patch {patch} {100 * size:.1f} % ({clean_text(name)})" for size, patch, name in worst]
