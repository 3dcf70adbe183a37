"""What is said of two records, row by row: the same for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType

from wbplan.core.names import clean_text
from wbplan.record.compare_days import DaySetupChanges
from wbplan.record.compare_plans import Change, SetupChanges
from wbplan.record.values import RecordedDay, RecordedPlan, say_clock_spans
from wbplan.report.compare import day_words, words

HEADS = ["What", "Was", "Is", "Difference"]
COURSE_HEADS = ["Through the day", "Largest at", "Was", "Is", "Difference", "Can be told"]
_LISTED_APART = ("warning", "caution", "lut", "lut_times", "place", "horizon")


def say_record(record: RecordedPlan | RecordedDay) -> str:
    """Say which record is compared: its title, its file, whether it is invented."""
    invented = ", invented data" if record.invented else ""
    return f"{clean_text(record.title)}, {clean_text(record.file)}{invented}"


def list_head_notes(
    first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay
) -> list[str]:
    """List what else may make the figures of two records differ."""
    notes = []
    if first.version != second.version:
        versions = " and ".join(clean_text(each.version) for each in (first, second))
        notes.append(f"made by wbplan {versions}: figures may differ for that alone")
    if first.band_percent != second.band_percent:
        shares = " and ".join(f"{each.band_percent:g} %" for each in (first, second))
        notes.append(f"the bands hold {shares}")
    return notes


def say_same(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> str:
    """Say that nothing differs."""
    same = first.digest == second.digest and first.invented == second.invented
    return "Nothing differs" + (", and both have the same inputs." if same else ".")


def say_presence(setup: SetupChanges) -> str:
    """Say that a setup came or went, or is the same; an empty text where something differs."""
    if setup.presence == "both":
        return "nothing differs" if setup.is_same else ""
    side = "second" if setup.presence == "new" else "first"
    record = "day" if isinstance(setup, DaySetupChanges) else "plan"
    return f"{setup.presence}: only in the {side} {record}"


def choose_words(setup: SetupChanges) -> ModuleType:
    """Choose the words for a plan's setup or a day's."""
    return day_words if isinstance(setup, DaySetupChanges) else words


def list_cells(change: Change, say: ModuleType) -> list[str]:
    """List what a change is about, both values, and its size."""
    values = (say.say_value(change, each) for each in (change.before, change.after))
    return [say.say_subject(change), *values, say.say_size(change)]


def list_rows(changes: Sequence[Change], say: ModuleType) -> list[list[str]]:
    """List the changes that fit the columns of a table."""
    return [list_cells(each, say) for each in changes if each.what not in _LISTED_APART]


def list_apart(changes: Sequence[Change]) -> list[Change]:
    """List the changes that are too long for a column."""
    return [each for each in changes if each.what in _LISTED_APART]


def list_courses(setup: DaySetupChanges, show_all: bool) -> list[list[str]]:
    """List what differs through a day by its largest difference, under `COURSE_HEADS`."""
    rows = []
    for course in setup.courses:
        most = course.changes[course.largest]
        if most is not None and (show_all or course.told):
            subject, *values = list_cells(most, day_words)
            spans = say_clock_spans(setup.clock, course.told) or "never"
            rows.append([subject, setup.clock[course.largest].words, *values, spans])
    return rows


def list_clock(setup: DaySetupChanges) -> list[str]:
    """List which times are compared, and which have no figures on one day alone."""
    alone = [
        f"{count} in the {name} alone"
        for name, count in (("first", setup.only_first), ("second", setup.only_second))
        if count
    ]
    if not setup.clock:
        return [f"no time of the clock is in both days: {', '.join(alone)}"]
    said = []
    if alone:
        both = f"{setup.clock[0].words} to {setup.clock[-1].words}"
        said.append(f"times of the clock: {len(setup.clock)} in both ({both}), {', '.join(alone)}")
    for name, rows in (("first", setup.refused_first), ("second", setup.refused_second)):
        if rows:
            spans = say_clock_spans(setup.clock, rows)
            said.append(f"no figures in the {name} day alone: {spans}")
    return said
