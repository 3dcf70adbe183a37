"""Two days compared, as the table that the command line prints, and as JSON for machines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from wbplan.core.names import clean_text
from wbplan.record.compare_days import Course, DayComparison, DaySetupChanges
from wbplan.record.compare_plans import Change
from wbplan.record.numbers import make_number, make_numbers
from wbplan.record.values import ClockTime, RecordedWindow, find_runs, say_clock_spans
from wbplan.report.base.columns import format_rows
from wbplan.report.compare.day_words import (
    say_cell,
    say_moved,
    say_size,
    say_subject,
    say_touch,
    say_value,
    say_windows,
)
from wbplan.report.compare.output import (
    PRESENCE,
    build_change,
    build_frame,
    format_head,
    say_same,
    say_small,
)
from wbplan.scene.cautions import DEFERENCE, SUN

FORMAT, FORMAT_VERSION = "wbplan day comparison", 1
_LISTED_APART = ("warning", "caution", "lut", "lut_times", "place", "horizon")
_HOURLY = ("exact_setting", "t_stop", "illuminance", "from_key")


def format_day_comparison(comparison: DayComparison, show_all: bool = False) -> str:
    """Format a comparison of days for a terminal.

    Without ``show_all`` small differences and LUT files that came and went are counted, and there
    is no table of the hours.
    """
    first, second = comparison.first, comparison.second
    parts = ["\n".join(format_head(first, second))]
    caution = f"   caution  {SUN.text}"
    if comparison.is_same:
        return "\n\n".join([*parts, say_same(first, second), caution])
    parts += [
        _format_setup(number, each, show_all) for number, each in enumerate(comparison.setups, 1)
    ]
    return "\n\n".join([*parts, caution])


def _format_setup(number: int, setup: DaySetupChanges, show_all: bool) -> str:
    head = f"{number}  {clean_text(setup.name)}"
    if setup.presence != "both":
        word = PRESENCE[setup.presence].replace("plan", "day")
        return f"{head}: {word}"
    if setup.is_same:
        return f"{head}: nothing differs"
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    rows = [_list_cells(each) for each in shown if each.what not in _LISTED_APART] + [
        say_touch(each) for each in setup.touches
    ]
    lines = [head]
    if rows:
        lines += format_rows([["what", "was", "is", "difference"], *rows])
    lines += _format_windows(setup, show_all)
    lines += _format_apart(shown, show_all)
    lines += _format_clock(setup)
    lines += _format_courses(setup, show_all)
    small = [each for each in setup.changes if not each.can_be_told]
    count = len(small) + sum(not each.told for each in setup.courses)
    count += setup.windows is not None and not setup.windows.can_be_told
    if count:
        lines.append(say_small(count, show_all))
    return "\n".join(lines)


def _list_cells(change: Change) -> list[str]:
    values = (say_value(change, each) for each in (change.before, change.after))
    return [say_subject(change), *values, say_size(change)]


def _format_windows(setup: DaySetupChanges, show_all: bool) -> list[str]:
    windows = setup.windows
    if windows is None or not (show_all or windows.can_be_told):
        return []
    moved = say_moved(windows)
    return [
        f"   serves was {say_windows(windows.before)}",
        f"          is  {say_windows(windows.after)}",
        *([f"          {moved}"] if moved else []),
    ]


def _format_apart(changes: Sequence[Change], show_all: bool) -> list[str]:
    """Format what is too long for a column, and LUT files that came and went by their number."""
    lines = []
    counts = {"gone": 0, "new": 0}
    for each in changes:
        if each.what not in _LISTED_APART:
            continue
        said, size = say_subject(each), say_size(each)
        came = each.before is None or each.after is None
        if came and each.what == "lut":
            counts[size] += 1
        if came and (show_all or each.what != "lut"):
            value = each.before if each.after is None else each.after
            lines.append(f"   {said} {size}: {say_value(each, value)}")
        if not came:
            was, now = (say_value(each, value) for value in (each.before, each.after))
            more = f": {size}" if size else ""
            lines += [f"   {said} was {was}", f"   {' ' * len(said)} is  {now}{more}"]
    if any(counts.values()) and not show_all:
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


def _format_courses(setup: DaySetupChanges, show_all: bool) -> list[str]:
    shown = [each for each in setup.courses if show_all or each.told]
    if not shown:
        return []
    rows = [["through the day", "largest at", "was", "is", "difference", "can be told"]]
    for course in shown:
        most = course.changes[course.largest]
        if most is not None:
            subject, *values = _list_cells(most)
            spans = say_clock_spans(setup.clock, course.told) or "never"
            rows.append([subject, setup.clock[course.largest].words, *values, spans])
    lines = format_rows(rows)
    if show_all:
        lines += _format_hours(setup)
    return lines


def _format_hours(setup: DaySetupChanges) -> list[str]:
    """Format the differences at the first time in each hour of the clock."""
    shown = [each for each in setup.courses if each.what in _HOURLY]
    hours = {each.minutes // 60: row for row, each in reversed(list(enumerate(setup.clock)))}
    rows = [["time", *(_name(each) for each in shown)]]
    for row in sorted(hours.values()):
        if setup.is_compared[row]:
            changes = [each.changes[row] for each in shown]
            cells = ["same" if each is None else say_cell(each) for each in changes]
            rows.append([setup.clock[row].words, *cells])
    return format_rows(rows) if shown and len(rows) > 1 else []


def _name(course: Course) -> str:
    return next(say_subject(each) for each in course.changes if each is not None)


def build_day_comparison(comparison: DayComparison) -> dict[str, Any]:
    """Collect a comparison of days into JSON-ready values: every difference, however small."""
    return {
        **build_frame(comparison, FORMAT, FORMAT_VERSION),
        "setups": [_build_setup(each) for each in comparison.setups],
        "cautions": [{"code": SUN.code, "text": SUN.text}],
        "cautions_defer_to": DEFERENCE,
    }


def _build_setup(setup: DaySetupChanges) -> dict[str, Any]:
    windows = setup.windows
    return {
        "name": setup.name,
        "presence": setup.presence,
        "changes": [build_change(each) for each in setup.changes],
        "windows": None
        if windows is None
        else {
            "before": [_build_window(each) for each in windows.before],
            "after": [_build_window(each) for each in windows.after],
            "begins_later_minutes": windows.began_minutes,
            "ends_later_minutes": windows.ended_minutes,
            "can_be_told": windows.can_be_told,
        },
        "filter_changes": [
            {
                "light": each.light,
                "before": list(each.before),
                "after": list(each.after),
                "due_before": None if each.was is None else each.was.words,
                "due_after": None if each.now is None else each.now.words,
                "later_minutes": each.moved_minutes,
            }
            for each in setup.touches
        ],
        "times": [each.words for each in setup.clock],
        "is_compared": list(setup.is_compared),
        "times_only_in_first_count": setup.only_first,
        "times_only_in_second_count": setup.only_second,
        "no_figures_only_in_first": _build_spans(setup.clock, setup.refused_first),
        "no_figures_only_in_second": _build_spans(setup.clock, setup.refused_second),
        "through_the_day": [_build_course(setup, each) for each in setup.courses],
    }


def _build_window(window: RecordedWindow) -> dict[str, Any]:
    return {
        "from": window.first.words,
        "to": window.last.words,
        "t_stop": make_number(window.t_stop),
    }


def _build_spans(clock: Sequence[ClockTime], rows: Sequence[int]) -> list[dict[str, str]]:
    return [
        {"from": clock[first].words, "to": clock[last].words} for first, last in find_runs(rows)
    ]


def _build_course(setup: DaySetupChanges, course: Course) -> dict[str, Any]:
    """Columns over `times`: 0 where nothing differs, null where one day has no figure."""
    most = course.changes[course.largest]

    def column(name: str) -> list[float | int | None]:
        return make_numbers(
            _find_size(each, name) if is_compared else math.nan
            for each, is_compared in zip(course.changes, setup.is_compared, strict=True)
        )

    shifts = any(each is not None and each.shift is not None for each in course.changes)
    stops = any(each is not None and each.stops is not None for each in course.changes)
    return {
        "subject": course.subject,
        "name": course.name or None,
        "what": course.what,
        "largest_at": setup.clock[course.largest].words,
        "largest": None if most is None else build_change(most),
        "can_be_told": _build_spans(setup.clock, course.told),
        "shift_mired": column("mired") if shifts else None,
        "shift_cc": column("cc") if shifts else None,
        "shift_stops": column("stops") if stops else None,
    }


def _find_size(change: Change | None, name: str) -> float:
    if change is None:
        return 0.0
    size = change.stops if name == "stops" else getattr(change.shift, name, None)
    return math.nan if size is None else float(size)
