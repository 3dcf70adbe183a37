"""The terminal's lines on exposure."""

from __future__ import annotations

import math

from wbplan.core.names import clean_text
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.exposure import ExposurePlan
from wbplan.report.base.columns import format_rows
from wbplan.report.base.words import say_stops
from wbplan.report.exposure import words as say


def format_exposure(plan: SetupPlan, full: bool) -> list[str]:
    """Format what a setup's exposure plan adds: the pack and the safe shutter, or all if asked."""
    exposure = plan.exposure
    if exposure is None:
        return []
    fps = plan.setup.shooting.fps
    lines = []
    for number, pack in enumerate(exposure.packs if full else exposure.packs[:1]):
        label = "pack    " if number == 0 else "        "
        lines.append(f"   {label}{clean_text(say.say_pack(pack))}")
    if full:
        lines += _format_contrast_and_gains(exposure)
    for shutter in exposure.flash:
        if shutter.is_planned:
            for mix in shutter.positions:
                said = say.say_flash_ratio(mix.over_ambient_stops)
                colour = say.say_flash_colour(mix.mired, mix.green_cc)
                dark = math.isnan(mix.over_ambient_stops.value)
                lines.append(
                    f"   flash   {clean_text(mix.name)}: {said}{'' if dark else f'; {colour}'}"
                )
    flicker = exposure.flicker
    if flicker is None:
        return lines
    for answer in flicker.answers if full else ():
        now = say.say_angle(plan.setup.shooting.exposure_time_s, fps)
        said = say.say_ripple(answer.ripple_stops)
        if not answer.is_source:
            said = f"at worst {said}, should a lamp follow it,"
        lines.append(
            f"   flicker {clean_text(answer.label)}: {said} at {now}; nearest safe "
            f"{say.say_safe(answer, fps)}"
        )
    label = "        " if full and flicker.answers else "flicker "
    lines.append(f"   {label}{clean_text(say.say_best(flicker.best, fps))}")
    return lines


def _format_contrast_and_gains(exposure: ExposurePlan) -> list[str]:
    lines = []
    if exposure.contrasts:
        widest = exposure.contrasts[0]
        names = f"{clean_text(widest.brighter)} over {clean_text(widest.darker)}"
        lines.append(f"   widest  {names}: {say.say_contrast(widest.stops)}")
    gains = exposure.gains
    figures = ", ".join(
        f"{name} {say.say_signed_range(each)}"
        for name, each in zip(("red", "green", "blue"), gains.stops, strict=True)
    )
    lift = say_stops(gains.worst_lift_stops.value)
    worst = f"{gains.worst} is lifted most, {lift} over the least"
    return [*lines, f"   gains   {figures} stops; {worst}"]


def format_landings(plan: SetupPlan, width: int) -> list[str]:
    """Format where each position lands: stops from middle grey and ten-bit codes."""
    exposure = plan.exposure
    if exposure is None:
        return []
    heads = [each.surface.split(",")[0] for each in exposure.positions[0].landings]
    rows = [["lands at", *heads, "grey to clip", "key over it", "flicker"]]
    for place in exposure.positions:
        clip = min(each.value for each in place.headroom_stops)
        is_key = place.name == plan.key.name
        rows.append(
            [
                clean_text(place.name),
                *(
                    f"{say.say_signed(each.from_grey_stops.value)}, code {say.say_code(each)}"
                    for each in place.landings
                ),
                f"{say.say_signed(clip)} in {place.first_to_clip}",
                "key" if is_key else say.say_contrast(say.turn(place.from_key_stops)),
                say.say_ripple(place.ripple_stops.value),
            ]
        )
    if exposure.flicker is None:
        rows = [row[:-1] for row in rows]
    return format_rows(rows, width=width)
