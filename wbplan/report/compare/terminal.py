"""Two plans or two days compared, as the tables that the command line prints."""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType

from wbplan.core.names import clean_text
from wbplan.record.compare_days import Course, DayComparison, DaySetupChanges
from wbplan.record.compare_plans import Change, Comparison, SetupChanges
from wbplan.record.values import RecordedDay, RecordedPlan
from wbplan.report.base.columns import PLAIN_WIDTH, fit_text, format_rows, shorten_name
from wbplan.report.compare import day_words, rows, words
from wbplan.report.compare.trial_words import list_decisions, say_choice, say_why
from wbplan.scene.cautions import SUN

_HOURLY = ("exact_setting", "t_stop", "illuminance", "from_key")


def format_comparison(
    comparison: Comparison, show_all: bool = False, width: int = PLAIN_WIDTH
) -> str:
    """Format a comparison for a terminal.

    Without ``show_all`` small differences and a day's LUT files that came and went are counted, and
    there is no table of a day's hours.
    """
    parts = [_format_head(comparison.first, comparison.second)]
    if comparison.is_same:
        parts.append(rows.say_same(comparison.first, comparison.second))
    elif isinstance(comparison, DayComparison):
        for number, day in enumerate(comparison.setups, 1):
            parts.append("\n".join(_format_day_setup(number, day, show_all, width)))
    else:
        for number, setup in enumerate(comparison.setups, 1):
            parts.append("\n".join(_format_setup(number, setup, show_all, width)))
    if isinstance(comparison, DayComparison):
        parts.append(f"   caution  {SUN.text}")
    return fit_text("\n\n".join(parts), width)


def format_choices(comparison: Comparison, width: int = PLAIN_WIDTH) -> str:
    """Format what to load in each setup, the last words of a long answer; empty if nothing is."""
    rows = list_decisions(comparison.setups)
    if not rows:
        return ""
    return "\n".join(format_rows([["setup", "what to load"], *map(list, rows)], "", width))


def _format_head(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> str:
    """Format which two records are compared, and what else may make their figures differ."""
    lines = [f"first   {rows.say_record(first)}", f"second  {rows.say_record(second)}"]
    return "\n".join([*lines, *(f"note    {each}" for each in rows.list_head_notes(first, second))])


def _say_small(count: int, show_all: bool) -> str:
    said = "1 difference is" if count == 1 else f"{count} differences are"
    listed = "" if show_all else "; --all lists them"
    return f"   {said} too small to be told ({words.LIMITS_SAID}){listed}"


def _format_setup(number: int, setup: SetupChanges, show_all: bool, width: int) -> list[str]:
    head = f"{number}  {clean_text(setup.name)}"
    if rows.say_presence(setup):
        return [f"{head}: {rows.say_presence(setup)}"]
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    lines = [head, *_format_trial(setup), *_format_changes(rows.list_rows(shown, words), width)]
    for each in rows.list_apart(shown):
        if each.what in ("warning", "caution"):
            lines.append(_format_one(each, words))
        else:
            lines += _format_both(each, words, width)
    small = [each for each in setup.changes if not each.can_be_told]
    return [*lines, *_format_small(small, 0, show_all)]


def _format_small(small: Sequence[Change], more: int, show_all: bool) -> list[str]:
    """Format how many differences nobody sees; a LUT that was written anew is none of them."""
    remade = sum(each.what == "lut" for each in small)
    lines = []
    if remade and not show_all:
        luts = "LUT does the same, in a file" if remade == 1 else "LUTs do the same, in files"
        lines.append(f"   {remade} {luts} of another digest; --all lists them")
    count = len(small) - remade + more
    return [*lines, _say_small(count, show_all)] if count else lines


def _format_trial(setup: SetupChanges) -> list[str]:
    """Format whether the old LUT still does, and why."""
    said = say_choice(setup)
    if setup.trial is None:
        return [f"   LUT     {said}"] if said else []
    return [f"   load    {said}", f"           {say_why(setup.trial)} (CIEDE2000)"]


def _format_changes(cells: list[list[str]], width: int) -> list[str]:
    head = [each.lower() for each in rows.HEADS]
    return format_rows([head, *cells], width=width) if cells else []


def _format_one(change: Change, say: ModuleType) -> str:
    """Format what came or went and is too long for a column."""
    value = change.before if change.after is None else change.after
    return f"   {say.say_subject(change)} {say.say_size(change)}: {say.say_value(change, value)}"


def _format_both(change: Change, say: ModuleType, width: int) -> list[str]:
    """Format both values of what is too long for a column; a LUT's name by its ends."""
    said, was, now, size = rows.list_cells(change, say)
    more = f": {size}" if size else ""
    if change.what == "lut":
        said += ":"
        room = width - len("      was ")
        was, now = (each if " " in each else shorten_name(each, room) for each in (was, now))
        return [f"   {said}", f"      was {was}", f"      is  {now}{more}"]
    return [f"   {said} was {was}", f"   {' ' * len(said)} is  {now}{more}"]


def _format_day_setup(number: int, setup: DaySetupChanges, show_all: bool, width: int) -> list[str]:
    head = f"{number}  {clean_text(setup.name)}"
    if rows.say_presence(setup):
        return [f"{head}: {rows.say_presence(setup)}"]
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    touched = [day_words.say_touch(each) for each in setup.touches]
    lines = [head, *_format_changes([*rows.list_rows(shown, day_words), *touched], width)]
    lines += _format_windows(setup, show_all)
    lines += _format_apart(shown, show_all, width)
    lines += [f"   {each}" for each in rows.list_clock(setup)]
    lines += _format_courses(setup, show_all, width)
    count = sum(not each.told for each in setup.courses)
    count += setup.windows is not None and not setup.windows.can_be_told
    small = [each for each in setup.changes if not each.can_be_told]
    return [*lines, *_format_small(small, count, show_all)]


def _format_windows(setup: DaySetupChanges, show_all: bool) -> list[str]:
    windows = setup.windows
    if windows is None or not (show_all or windows.can_be_told):
        return []
    moved = day_words.say_moved(windows)
    return [
        f"   serves was {day_words.say_windows(windows.before)}",
        f"          is  {day_words.say_windows(windows.after)}",
        *([f"          {moved}"] if moved else []),
    ]


def _format_apart(changes: Sequence[Change], show_all: bool, width: int) -> list[str]:
    """Format what is too long for a column, and LUT files that came and went by their number."""
    lines = []
    counts = {"gone": 0, "new": 0}
    for each in rows.list_apart(changes):
        if each.before is not None and each.after is not None:
            lines += _format_both(each, day_words, width)
        elif show_all or each.what != "lut":
            lines.append(_format_one(each, day_words))
        else:
            counts["new" if each.before is None else "gone"] += 1
    if any(counts.values()):
        numbers = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
        lines.append(f"   LUT files: {numbers}; --all lists them")
    return lines


def _format_courses(setup: DaySetupChanges, show_all: bool, width: int) -> list[str]:
    found = rows.list_courses(setup, show_all)
    if not found:
        return []
    head = [each.lower() for each in rows.COURSE_HEADS]
    return [
        *format_rows([head, *found], width=width),
        *(_format_hours(setup, width) if show_all else []),
    ]


def _format_hours(setup: DaySetupChanges, width: int) -> list[str]:
    """Format the differences at the first time in each hour of the clock."""
    shown = [each for each in setup.courses if each.what in _HOURLY]
    hours = {each.minutes // 60: row for row, each in reversed(list(enumerate(setup.clock)))}
    table = [["time", *(_name(each) for each in shown)]]
    for row in sorted(hours.values()):
        if setup.is_compared[row]:
            changes = [each.changes[row] for each in shown]
            cells = ["same" if each is None else day_words.say_cell(each) for each in changes]
            table.append([setup.clock[row].words, *cells])
    return format_rows(table, width=width) if shown and len(table) > 1 else []


def _name(course: Course) -> str:
    return next(day_words.say_subject(each) for each in course.changes if each is not None)
