"""What the command line prints of a plan: each setup, its decision first, then what to set."""

from __future__ import annotations

from collections.abc import Iterable

from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.lut.file import say_offset
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.positions import PositionPlan
from wbplan.report.base import words
from wbplan.report.base.columns import (
    PLAIN_WIDTH,
    Detail,
    cut_name,
    fit_text,
    format_rows,
    shorten_name,
)
from wbplan.report.exposure import words as say
from wbplan.report.exposure.terminal import format_exposure, format_landings
from wbplan.report.mixed.terminal import format_mixed
from wbplan.report.plan.long import FILES, cut_positions
from wbplan.report.plan.verdict import say_solved, say_verdict
from wbplan.scene.cautions import SUN


def format_plan(plan: Plan, detail: Detail = "usual", width: int = PLAIN_WIDTH) -> str:
    """Format a plan for a terminal; what it decided stands first, setup by setup.

    Parameters
    ----------
    detail
        "usual" is what a person dials and sees; "full" adds packs, gains, landings and each
        flicker; "brief" is `format_decisions` by itself.
    width
        Columns that there are.
    """
    if detail == "brief":
        return format_decisions(plan, width)
    invented = " (invented demonstration data)" if plan.invented else ""
    parts = [f"{clean_text(plan.title)}{invented}"]
    parts += [
        _format_setup(number, each, detail == "full", width)
        for number, each in enumerate(plan.setups, 1)
    ]
    if any(SUN in each.cautions for each in plan.setups):
        parts.append(f"   caution  {SUN.text}")
    return fit_text("\n\n".join(parts), width)


def format_decisions(plan: Plan, width: int = PLAIN_WIDTH) -> str:
    """Format what to set for each setup, in shooting order."""
    rows = [["", "setup", "setting", "stop", "ND", "key will look"]]
    for each in say.list_day(plan):
        setup = plan.setups[each.row]
        key = setup.key
        looks = "no light" if key.lux.value <= 0 else words.say_cast(key.cast)
        cells = [cut_name(each.name), each.setting, each.stop, each.nd, looks]
        rows.append([str(each.row + 1), *(clean_text(cell) for cell in cells)])
    return "\n".join(format_rows(rows, "", width))


def _format_setup(number: int, plan: SetupPlan, full: bool, width: int) -> str:
    there = len(plan.positions)
    plan = cut_positions(plan)
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
            nd += f" ({say.say_signed_span(plan.exposure.nd_needed)} stops as predicted)"
        lines.append(nd)
    lines += format_exposure(plan, full)
    lines += _format_luts(plan, width)
    lines += ["", *_format_positions(plan.positions, full, width)]
    if len(plan.positions) < there:
        lines += ["", f"   {words.say_shown(len(plan.positions), there, FILES)}"]
    landings = format_landings(plan, width) if full else []
    lines += ["", *landings] if landings else []
    lines += format_mixed(plan, width)
    warnings = [note for note in plan.notes if note.weight == "warning"]
    if warnings:
        lines += ["", *(f"   warning {clean_text(str(note))}" for note in warnings)]
    return "\n".join(lines)


def _format_luts(plan: SetupPlan, width: int) -> list[str]:
    files = list(plan.lut_files)
    lines = [
        f"   {'LUT' if number == 0 else '   '}     {shorten_name(each.file_name, width - 11)}"
        for number, each in enumerate(files)
    ] or ["   LUT     none"]
    if plan.setup.lut_up_stops and plan.lut:
        lines.append(f"           takes the picture {say_offset(plan.setup.lut_up_stops)}")
    return lines


def _format_verdict(plan: SetupPlan) -> list[str]:
    if plan.verdict is None:
        return []
    said = (say_solved(plan.verdict), say_verdict(plan.verdict))
    return [f"           {clean_text(each)}" for each in said if each]


def _format_positions(positions: tuple[PositionPlan, ...], full: bool, width: int) -> list[str]:
    head = ["position", "will look", "meant to"]
    rows = [[*head, "light", "stop", "from key"] if full else [*head, "from key"]]
    for each in positions:
        lux = words.say_lux(each.lux.value) + (" predicted" if each.predicted else "")
        light = [lux, name_t_stop(each.t_stop.value)] if full else []
        rows.append(
            [
                clean_text(each.name),
                "no light" if each.lux.value <= 0 else words.say_cast(each.cast),
                each.intent_words,
                *light,
                words.say_from_key(each.from_key_stops),
            ]
        )
    return format_rows(rows, width=width)


def list_written(names: Iterable[str], full: bool = False) -> str:
    """List written files: pages by name, the others by their number; every name if asked."""
    listed = list(names)
    if full:
        return "".join(f"\n   {each}" for each in listed)
    counted = {
        "_plate_light-": "spectrum files",
        ".cube": "LUTs",
        ".clf": "LUTs",
        ".cc": "LUTs",
        ".cdl": "LUTs",
        ".svg": "figures",
        ".csv": "tables",
        "_report.html": "setup pages",
        "_sheet.html": "call sheets",
        "_plate.html": "plate pages",
        "_plate.json": "plate records",
    }
    counts: dict[str, int] = {}
    ends = []
    for each in listed:
        what = next((noun for part, noun in counted.items() if part in each), None)
        if what is None:
            ends.append(each)
        else:
            counts[what] = counts.get(what, 0) + 1
    numbers = (
        f"{count} {what if count > 1 else what.removesuffix('s')}" for what, count in counts.items()
    )
    return ", ".join([*ends, *numbers])
