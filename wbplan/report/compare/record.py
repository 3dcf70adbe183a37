"""Two plans or two days compared, as JSON for machines: every difference, however small."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from wbplan.planning.looks import Look
from wbplan.planning.lut_trial import LutTrial, find_misses
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.record.compare_days import Course, DayComparison, DaySetupChanges
from wbplan.record.compare_plans import (
    TOLD_PERCENT,
    TOLD_STOPS,
    Change,
    Comparison,
    SetupChanges,
    Value,
)
from wbplan.record.numbers import make_cautions, make_keys, make_number, make_numbers
from wbplan.record.values import (
    ClockTime,
    RecordedDay,
    RecordedPlan,
    RecordedWindow,
    Shade,
    Span,
    find_runs,
)
from wbplan.scene.cautions import DEFERENCE, SUN

FORMAT, DAY_FORMAT, FORMAT_VERSION = "wbplan comparison", "wbplan day comparison", 1
_KEYS = {"illuminance": "lux", "t_stop": "t_stop", "spectrum": "percent"}


def build_comparison(comparison: Comparison) -> dict[str, Any]:
    """Collect a comparison into JSON-ready values."""
    if isinstance(comparison, DayComparison):
        return {
            **_build_frame(comparison, DAY_FORMAT),
            "setups": [_build_day_setup(each) for each in comparison.setups],
            "cautions": make_cautions([SUN]),
            "cautions_defer_to": DEFERENCE,
        }
    return {
        **_build_frame(comparison, FORMAT, spectrum_percent=TOLD_PERCENT),
        "setups": [_build_setup(each) for each in comparison.setups],
    }


def _build_frame(comparison: Comparison, name: str, **more_told: float) -> dict[str, Any]:
    """Collect what every comparison begins with: its format, what is compared, what can be told."""
    return {
        "format": name,
        "format_version": FORMAT_VERSION,
        "first": _build_head(comparison.first),
        "second": _build_head(comparison.second),
        "is_same": comparison.is_same,
        "can_be_told_from": {
            "mired": TOLD_MIRED,
            "cc": TOLD_CC,
            "stops": TOLD_STOPS,
            **more_told,
            "source": "common practice, no source",
        },
    }


def _build_head(plan: RecordedPlan | RecordedDay) -> dict[str, Any]:
    return {
        "file": plan.file,
        "title": plan.title,
        "wbplan_version": plan.version,
        "digest_sha256": plan.digest,
        "invented": plan.invented,
        "interval_percent": make_number(plan.band_percent),
    }


def _build_changes(setup: SetupChanges) -> dict[str, Any]:
    changes = [_build_change(each) for each in setup.changes]
    return {"name": setup.name, "presence": setup.presence, "changes": changes}


def _build_setup(setup: SetupChanges) -> dict[str, Any]:
    return {
        **_build_changes(setup),
        "old_lut_tried": None if setup.trial is None else _build_trial(setup.trial),
        "old_lut_untried_because": setup.untried or None,
    }


def _build_trial(trial: LutTrial) -> dict[str, Any]:
    return {
        "choice": trial.choice,
        "positions": [
            {
                "name": each.name,
                "old": _build_look(each.old, each.old_off),
                "new_setting_old_lut": None if each.mixed is None else _build_look(each.mixed),
                "new": _build_look(each.new, each.new_off),
            }
            for each in trial.places
        ],
    }


def _build_look(look: Look, off: tuple[float, float] | None = None) -> dict[str, Any]:
    grey, skin = find_misses(look)
    return {
        **make_keys(kelvin=look.kelvin, tint_cc=look.tint_cc),
        **make_keys(grey_ciede2000=grey, skin_ciede2000=skin),
        **({} if off is None else make_keys(from_meant_mired=off[0], from_meant_green_cc=off[1])),
    }


def _build_change(change: Change) -> dict[str, Any]:
    shift = change.shift
    return {
        "subject": change.subject,
        "name": change.name or None,
        "at": change.at or None,
        "what": change.what,
        "before": _build_value(change, change.before),
        "after": _build_value(change, change.after),
        **make_keys(shift_mired=None if shift is None else shift.mired),
        **make_keys(shift_cc=None if shift is None else shift.cc, shift_stops=change.stops),
        "can_be_told": change.can_be_told,
    }


def _build_value(change: Change, value: Value) -> Any:
    if isinstance(value, Shade):
        cc = "green_cc" if change.what == "cast" else "tint_cc"
        return make_keys(**{"mired": value.mired, cc: value.cc})
    if isinstance(value, Span):
        return {
            f"{name}_{end}": make_number(getattr(shade, attribute))
            for name, attribute in (("mired", "mired"), ("tint_cc", "cc"))
            for end, shade in (("low", value.low), ("high", value.high))
        }
    if isinstance(value, float) and not isinstance(value, bool):
        key = _KEYS.get(change.what, "stops")
        return {key: make_number(value)}
    return value


def _build_day_setup(setup: DaySetupChanges) -> dict[str, Any]:
    windows = setup.windows
    return {
        **_build_changes(setup),
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
    ends = {"from": window.first.words, "to": window.last.words}
    return {**ends, **make_keys(t_stop=window.t_stop)}


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
        "largest": None if most is None else _build_change(most),
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
