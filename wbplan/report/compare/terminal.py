"""Two plans or two days compared, as the tables that the command line prints."""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType

from wbplan.core.names import clean_text
from wbplan.record.compare_days import Course, DayComparison, DaySetupChanges
from wbplan.record.compare_plans import Change, Comparison, SetupChanges
from wbplan.record.values import RecordedDay, RecordedPlan, say_clock_spans
from wbplan.report.base.columns import PLAIN_WIDTH, fit_text, format_rows
from wbplan.report.compare import day_words, words
from wbplan.scene.cautions import SUN

_LISTED_APART = ("warning", "caution", "lut", "lut_times", "place", "horizon")
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
        parts.append(_say_same(comparison.first, comparison.second))
    elif isinstance(comparison, DayComparison):
        for number, day in enumerate(comparison.setups, 1):
            parts.append("\n".join(_format_day_setup(number, day, show_all, width)))
    else:
        for number, setup in enumerate(comparison.setups, 1):
            parts.append("\n".join(_format_setup(number, setup, show_all, width)))
    if isinstance(comparison, DayComparison):
        parts.append(f"   caution  {SUN.text}")
    return fit_text("\n\n".join(parts), width)


def _format_head(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> str:
    """Format which two records are compared, and what else may make their figures differ."""
    lines = [
        f"{label}  {clean_text(each.title)}, {clean_text(each.file)}"
        f"{', invented data' if each.invented else ''}"
        for label, each in (("first ", first), ("second", second))
    ]
    if first.version != second.version:
        versions = " and ".join(clean_text(each.version) for each in (first, second))
        lines.append(f"note    made by wbplan {versions}: figures may differ for that alone")
    if first.band_percent != second.band_percent:
        shares = " and ".join(f"{each.band_percent:g} %" for each in (first, second))
        lines.append(f"note    the bands hold {shares}")
    return "\n".join(lines)


def _say_same(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> str:
    same = first.digest == second.digest and first.invented == second.invented
    return "Nothing differs" + (", and both have the same inputs." if same else ".")


def _say_small(count: int, show_all: bool) -> str:
    said = "1 difference is" if count == 1 else f"{count} differences are"
    listed = "" if show_all else "; --all lists them"
    return f"   {said} too small to be told ({words.LIMITS_SAID}){listed}"


def _say_presence(setup: SetupChanges, record: str) -> str:
    side = "second" if setup.presence == "new" else "first"
    return f"{setup.presence}: only in the {side} {record}"


def _format_setup(number: int, setup: SetupChanges, show_all: bool, width: int) -> list[str]:
    head = f"{number}  {clean_text(setup.name)}"
    if setup.presence != "both":
        return [f"{head}: {_say_presence(setup, 'plan')}"]
    if setup.is_same:
        return [f"{head}: nothing differs"]
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    small = [each for each in setup.changes if not each.can_be_told]
    lines = [head, *_format_changes(_list_rows(shown, words), width)]
    for each in shown:
        if each.what in ("warning", "caution"):
            lines.append(_format_one(each, words))
        elif each.what in _LISTED_APART:
            lines += _format_both(each, words)
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


def _list_cells(change: Change, say: ModuleType) -> list[str]:
    values = (say.say_value(change, each) for each in (change.before, change.after))
    return [say.say_subject(change), *values, say.say_size(change)]


def _list_rows(changes: Sequence[Change], say: ModuleType) -> list[list[str]]:
    return [_list_cells(each, say) for each in changes if each.what not in _LISTED_APART]


def _format_changes(rows: list[list[str]], width: int) -> list[str]:
    head = ["what", "was", "is", "difference"]
    return format_rows([head, *rows], width=width) if rows else []


def _format_one(change: Change, say: ModuleType) -> str:
    """Format what came or went and is too long for a column."""
    value = change.before if change.after is None else change.after
    return f"   {say.say_subject(change)} {say.say_size(change)}: {say.say_value(change, value)}"


def _format_both(change: Change, say: ModuleType) -> list[str]:
    """Format both values of what is too long for a column."""
    said, was, now, size = _list_cells(change, say)
    more = f": {size}" if size else ""
    return [f"   {said} was {was}", f"   {' ' * len(said)} is  {now}{more}"]


def _format_day_setup(number: int, setup: DaySetupChanges, show_all: bool, width: int) -> list[str]:
    head = f"{number}  {clean_text(setup.name)}"
    if setup.presence != "both":
        return [f"{head}: {_say_presence(setup, 'day')}"]
    if setup.is_same:
        return [f"{head}: nothing differs"]
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    touched = [day_words.say_touch(each) for each in setup.touches]
    lines = [head, *_format_changes([*_list_rows(shown, day_words), *touched], width)]
    lines += _format_windows(setup, show_all)
    lines += _format_apart(shown, show_all)
    lines += _format_clock(setup)
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


def _format_apart(changes: Sequence[Change], show_all: bool) -> list[str]:
    """Format what is too long for a column, and LUT files that came and went by their number."""
    lines = []
    counts = {"gone": 0, "new": 0}
    for each in changes:
        if each.what not in _LISTED_APART:
            continue
        if each.before is not None and each.after is not None:
            lines += _format_both(each, day_words)
        elif show_all or each.what != "lut":
            lines.append(_format_one(each, day_words))
        else:
            counts["new" if each.before is None else "gone"] += 1
    if any(counts.values()):
        numbers = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
        lines.append(f"   LUT files: {numbers}; --all lists them")
    return lines


def _format_clock(setup: DaySetupChanges) -> list[str]:
    """Format which times are compared, and which have no figures on one day alone."""
    alone = [
        f"{count} in the {name} alone"
        for name, count in (("first", setup.only_first), ("second", setup.only_second))
        if count
    ]
    if not setup.clock:
        return [f"   no time of the clock is in both days: {', '.join(alone)}"]
    lines = []
    if alone:
        both = f"{setup.clock[0].words} to {setup.clock[-1].words}"
        lines.append(
            f"   times of the clock: {len(setup.clock)} in both ({both}), {', '.join(alone)}"
        )
    for name, rows in (("first", setup.refused_first), ("second", setup.refused_second)):
        if rows:
            spans = say_clock_spans(setup.clock, rows)
            lines.append(f"   no figures in the {name} day alone: {spans}")
    return lines


def _format_courses(setup: DaySetupChanges, show_all: bool, width: int) -> list[str]:
    shown = [each for each in setup.courses if show_all or each.told]
    if not shown:
        return []
    rows = [["through the day", "largest at", "was", "is", "difference", "can be told"]]
    for course in shown:
        most = course.changes[course.largest]
        if most is not None:
            subject, *values = _list_cells(most, day_words)
            spans = say_clock_spans(setup.clock, course.told) or "never"
            rows.append([subject, setup.clock[course.largest].words, *values, spans])
    lines = format_rows(rows, width=width)
    if show_all:
        lines += _format_hours(setup, width)
    return lines


def _format_hours(setup: DaySetupChanges, width: int) -> list[str]:
    """Format the differences at the first time in each hour of the clock."""
    shown = [each for each in setup.courses if each.what in _HOURLY]
    hours = {each.minutes // 60: row for row, each in reversed(list(enumerate(setup.clock)))}
    rows = [["time", *(_name(each) for each in shown)]]
    for row in sorted(hours.values()):
        if setup.is_compared[row]:
            changes = [each.changes[row] for each in shown]
            cells = ["same" if each is None else day_words.say_cell(each) for each in changes]
            rows.append([setup.clock[row].words, *cells])
    return format_rows(rows, width=width) if shown and len(rows) > 1 else []


def _name(course: Course) -> str:
    return next(day_words.say_subject(each) for each in course.changes if each is not None)
