"""The short table that the command line prints: the decision first, then each position."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.lut.file import say_offset
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.positions import PositionPlan
from wbplan.report.base import words
from wbplan.report.base.columns import format_rows
from wbplan.report.exposure.terminal import (
    format_day,
    format_exposure,
    format_landings,
)
from wbplan.report.exposure.words import say_signed_span
from wbplan.report.mixed.terminal import format_mixed
from wbplan.report.plan.verdict import say_solved, say_verdict
from wbplan.scene.cautions import SUN


def format_plan(plan: Plan) -> str:
    """Format a plan for a terminal, no wider than its longest name asks for."""
    invented = " (invented demonstration data)" if plan.invented else ""
    parts = [f"{clean_text(plan.title)}{invented}"]
    parts += [_format_setup(number, each) for number, each in enumerate(plan.setups, 1)]
    if len(plan.setups) > 1:
        parts.append(format_day(plan))
    if any(SUN in each.cautions for each in plan.setups):
        parts.append(f"   caution  {SUN.text}")
    return "\n\n".join(parts)


def _format_setup(number: int, plan: SetupPlan) -> str:
    shooting = plan.setup.shooting
    key = plan.key
    given = ", as it is shot" if plan.dial_is_given else ""
    span = words.say_wanted_span(plan.exact)
    wanted = f"exact {words.say_wanted(plan.exact)}" + (
        f"; {words.say_share(plan.setup.band_share)} band {span}" if span else ""
    )
    expose = f"{name_t_stop(key.t_stop.value)} at {clean_text(key.name)}"
    if key.predicted and key.nd_for_stop is None:
        expose += f", T-number {words.say_t_number(key.t_stop)} as predicted"
    lines = [
        f"{number}  {clean_text(plan.name)}, camera {plan.setup.camera.name}",
        f"   set     {words.say_dial(plan.dial, plan.setup.camera.menu.cc_per_step)}{given}",
        f"           {wanted}",
        *_format_verdict(plan),
        f"   expose  {expose}, {words.say_shooting(shooting)}",
    ]
    if shooting.t_stop is not None and key.nd_for_stop is not None:
        nd = f"           for {name_t_stop(shooting.t_stop)}: {words.say_nd(key.nd_for_stop)}"
        if key.predicted and plan.exposure is not None and plan.exposure.nd_needed is not None:
            nd += f" ({say_signed_span(plan.exposure.nd_needed)} stops as predicted)"
        lines.append(nd)
    lines += format_exposure(plan)
    lines.append(f"   LUT     {plan.lut.file_name if plan.lut else 'none'}")
    lines += [f"           {lut.file_name}" for lut in plan.luts]
    if plan.setup.lut_up_stops and plan.lut:
        lines.append(f"           takes the picture {say_offset(plan.setup.lut_up_stops)}")
    lines += ["", *_format_positions(plan.positions)]
    landings = format_landings(plan)
    lines += ["", *landings] if landings else []
    lines += format_mixed(plan)
    warnings = [note for note in plan.notes if note.weight == "warning"]
    if warnings:
        lines += ["", *(f"   warning  {clean_text(str(note))}" for note in warnings)]
    return "\n".join(lines)


def _format_verdict(plan: SetupPlan) -> list[str]:
    if plan.verdict is None:
        return []
    said = [say_solved(plan.verdict), say_verdict(plan.verdict)]
    indent = " " * 11
    return [
        line
        for each in said
        if each
        for line in textwrap.wrap(
            clean_text(each), 80, initial_indent=indent, subsequent_indent=indent,
            break_long_words=False, break_on_hyphens=False,
        )
    ]  # fmt: skip


def _format_positions(positions: tuple[PositionPlan, ...]) -> list[str]:
    rows = [["position", "will look", "meant to", "light", "stop", "from key"]]
    for each in positions:
        rows.append(
            [
                clean_text(each.name),
                "no light" if each.lux.value <= 0 else words.say_cast(each.cast),
                each.intent_words,
                words.say_lux(each.lux.value) + (" predicted" if each.predicted else ""),
                name_t_stop(each.t_stop.value),
                words.say_from_key(each.from_key_stops),
            ]
        )
    return format_rows(rows)


def list_written(names: Iterable[str]) -> str:
    """List written files by name, the many small ones by their number."""
    counted = {".svg": "figures", "_plate_light-": "spectrum files"}
    listed = list(names)
    ends = []
    for part, what in counted.items():
        found = [each for each in listed if part in each]
        listed = [each for each in listed if part not in each]
        if found:
            ends.append(f"{len(found)} {what}")
    return ", ".join([*listed, *ends])
