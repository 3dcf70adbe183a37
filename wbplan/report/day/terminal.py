"""What `wbplan day` prints: for each setup its windows, its hours, its filters, its LUTs."""

from __future__ import annotations

from wbplan.core.names import clean_text
from wbplan.day.setups import DayPlan, DaySetup
from wbplan.day.times import say_spans
from wbplan.exposure.equation import name_t_stop
from wbplan.report.base.columns import (
    PLAIN_WIDTH,
    Detail,
    cut_name,
    fit_text,
    format_rows,
    shorten_name,
)
from wbplan.report.base.words import (
    say_lux,
    say_nd,
    say_setting,
    say_share,
    say_shooting,
    say_shown,
)
from wbplan.report.day import words as say
from wbplan.report.day.long import cut_positions
from wbplan.scene.cautions import SUN


def format_day_plan(plan: DayPlan, detail: Detail = "usual", width: int = PLAIN_WIDTH) -> str:
    """Format a day for a terminal; with every hour if it is to be full."""
    if detail == "brief":
        return format_day_decisions(plan, width)
    invented = " (invented demonstration data)" if plan.invented else ""
    parts = [f"{clean_text(plan.title)}{invented}"]
    parts += [
        _format_setup(number, each, plan, detail == "full", width)
        for number, each in enumerate(plan.setups, 1)
    ]
    if plan.passed_over:
        names = ", ".join(clean_text(each) for each in plan.passed_over)
        parts.append(f"   without sun or sky, so the same all day: {names}")
    parts.append(f"   caution  {SUN.text}\n   {_DEFER}")
    return fit_text("\n\n".join(parts), width)


def format_day_decisions(plan: DayPlan, width: int = PLAIN_WIDTH) -> str:
    """Format what to set for each setup and when it serves."""
    rows = [["", "setup", "setting", "serves"]]
    for number, each in enumerate(plan.setups, 1):
        whole = each.whole
        setting = "see the hours" if whole is None else say_setting(whole.setting)
        windows = [] if whole is None else [say.say_window(each, one) for one in whole.windows]
        serves = "; ".join(windows) or ("" if whole is None else "at none of these times")
        name = cut_name(clean_text(each.setup.name))
        rows.append([str(number), name, setting, clean_text(serves)])
    return "\n".join(format_rows(rows, "", width))


_DEFER = "         Local codes and licensed crew decide."


def _format_setup(number: int, day: DaySetup, plan: DayPlan, full: bool, width: int) -> str:
    there = len(day.setup.positions)
    day = cut_positions(day)
    lines = [
        f"{number}  {clean_text(day.setup.name)}, camera {day.setup.camera.name}",
        f"   day     {say.say_date(day)}, every {day.wish.step_minutes} minutes",
        f"   match   within {say.say_tolerance(day.wish.within)}",
    ]
    for row, each in enumerate(say.say_sun_times(day)):
        lines.append(f"   {'sun' if row == 0 else '   '}     {each}")
    lines += [f"   not for {each}" for each in say.list_refused(day)]
    if day.whole is not None:
        lines.append(f"   set     {say.say_whole(day, day.whole)}")
        head = "serves "
        for window in day.whole.windows:
            lines.append(f"           {head}{say.say_window(day, window)}")
            head = "       "
        if not day.whole.windows:
            lines.append("           serves at none of these times")
        lines.append(
            f"   expose  {say_shooting(day.setup.shooting)}; key is {clean_text(day.setup.key)}"
        )
        if full:
            share = say_share(plan.band_share)
            lines += ["", *_format_hours(day, width)]
            lines += [f"   {share} band of the hours' settings: see the page", ""]
    lines += _format_changes(day)
    lines += _format_luts(day, width)
    lines += [
        f"   note    {clean_text(note.text)}" for note in day.notes if note.code == "not-followed"
    ]
    if len(day.setup.positions) < there:
        lines.append(f"   shown   {say_shown(len(day.setup.positions), there)}")
    warnings = [note for note in dict.fromkeys(day.notes) if note.weight == "warning"]
    lines += [f"   warning  {clean_text(str(note))}" for note in warnings]
    return "\n".join(lines).rstrip()


def _format_hours(day: DaySetup, width: int) -> list[str]:
    hung = bool(day.changes and day.changes.changes)
    head = [
        "time",
        "sun",
        "set",
        *(["with filters"] if hung else []),
        f"light at {clean_text(day.setup.key)}",
    ]
    wanted = day.setup.shooting.t_stop
    head.append("stop" if wanted is None else f"for {name_t_stop(wanted)}")
    head += ["sun over shade", "take matches until"]
    others = [row for row in range(len(day.setup.positions)) if row != day.key]
    head += [f"{clean_text(day.setup.positions[row].name)} looks" for row in others]
    table = [head]
    for row in day.hours:
        dial = day.dials[row]
        if dial is None:
            continue
        line = [
            say.say_time(day, row),
            say.say_sun(day, row),
            say_setting(dial),
            *([say.say_filtered(day, row)] if hung else []),
            say_lux(float(day.scene.lux.value[row, day.key])),
            name_t_stop(float(day.t_stop.value[row, day.key]))
            if day.nd_stops is None
            else say_nd(float(day.nd_stops.value[row, day.key])),
        ]
        line.append(say.say_ratio(float(day.sun_over_shade_stops[row, day.key])))
        line.append(say.say_take_shortly(day, day.takes[row]))
        line += [say.say_look(day, dial, row, place) for place in others]
        table.append(line)
    return format_rows(table, width=width)


def _format_changes(day: DaySetup) -> list[str]:
    plan = day.changes
    if plan is None:
        return []
    if not plan.changes:
        return ["   filters no change is worth the touch"]
    return [
        f"   {'filters' if number == 0 else '       '} {say.say_time(day, each.at)}  "
        f"{clean_text(say.say_change(each))}"
        for number, each in enumerate(plan.changes)
    ]


def _format_luts(day: DaySetup, width: int) -> list[str]:
    luts = day.luts
    if luts is None:
        return ["   LUTs    none"]
    why = say.say_choice(luts)
    lines = [f"   LUTs    {why}"]
    for each in luts.luts:
        lines.append(f"           {each.label}: {say_spans(day.moments, each.times)}")
        lines.append(f"             {shorten_name(each.plan.file_name, width - 13)}")
    return lines
