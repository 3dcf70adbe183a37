"""A comparison as the table that the command line prints, and as JSON for machines."""

from __future__ import annotations

import math
from typing import Any

from wbplan.core.names import clean_text
from wbplan.record.compare_days import DayComparison
from wbplan.record.compare_plans import (
    TOLD_CC,
    TOLD_MIRED,
    TOLD_PERCENT,
    TOLD_STOPS,
    Change,
    Comparison,
    SetupChanges,
    Value,
)
from wbplan.record.numbers import make_number
from wbplan.record.values import RecordedDay, RecordedPlan, Shade, Span
from wbplan.report.base.columns import format_rows
from wbplan.report.compare.words import LIMITS_SAID, say_size, say_subject, say_value

FORMAT, FORMAT_VERSION = "wbplan comparison", 1
_LISTED_APART = ("warning", "caution", "lut")
_KEYS = {
    "illuminance": "lux",
    "t_stop": "t_stop",
    "spectrum": "percent",
}
PRESENCE = {
    "new": "new: only in the second plan",
    "gone": "gone: only in the first plan",
}


def format_comparison(comparison: Comparison, show_all: bool = False) -> str:
    """Format a comparison for a terminal; without ``show_all`` small differences are counted."""
    first, second = comparison.first, comparison.second
    parts = ["\n".join(format_head(first, second))]
    if comparison.is_same:
        return "\n\n".join([*parts, say_same(first, second)])
    parts += [
        _format_setup(number, each, show_all) for number, each in enumerate(comparison.setups, 1)
    ]
    return "\n\n".join(parts)


def say_same(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> str:
    """Say that nothing differs."""
    same = first.digest == second.digest and first.invented == second.invented
    return "Nothing differs" + (", and both have the same inputs." if same else ".")


def say_small(count: int, show_all: bool) -> str:
    """Say how many differences are too small to be told."""
    said = "1 difference is" if count == 1 else f"{count} differences are"
    listed = "" if show_all else "; --all lists them"
    return f"   {said} too small to be told ({LIMITS_SAID}){listed}"


def format_head(first: RecordedPlan | RecordedDay, second: RecordedPlan | RecordedDay) -> list[str]:
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
    return lines


def _format_setup(number: int, setup: SetupChanges, show_all: bool) -> str:
    head = f"{number}  {clean_text(setup.name)}"
    if setup.presence != "both":
        return f"{head}: {PRESENCE[setup.presence]}"
    shown = [each for each in setup.changes if show_all or each.can_be_told]
    small = [each for each in setup.changes if not each.can_be_told]
    remade = [each for each in small if each.what == "lut"]
    if not setup.changes:
        return f"{head}: nothing differs"
    lines = [head]
    rows = [
        [
            say_subject(each),
            say_value(each, each.before),
            say_value(each, each.after),
            say_size(each),
        ]
        for each in shown
        if each.what not in _LISTED_APART
    ]
    if rows:
        lines += format_rows([["what", "was", "is", "difference"], *rows])
    lines += [format_apart(each) for each in shown if each.what in _LISTED_APART]
    if remade and not show_all:
        luts = "LUT does the same, in a file" if len(remade) == 1 else "LUTs do the same, in files"
        lines.append(f"   {luts} of another digest; --all lists them")
    if len(small) > len(remade):
        lines.append(say_small(len(small) - len(remade), show_all))
    return "\n".join(lines)


def format_apart(change: Change) -> str:
    """Format what is too long for a column."""
    said = say_subject(change)
    size = say_size(change)
    if change.what in ("warning", "caution"):
        value = change.before if change.after is None else change.after
        return f"   {said} {size}: {say_value(change, value)}"
    was, now = say_value(change, change.before), say_value(change, change.after)
    return f"   {said} was {was}\n   {' ' * len(said)} is  {now}" + (f": {size}" if size else "")


def build_comparison(comparison: Comparison) -> dict[str, Any]:
    """Collect a comparison into JSON-ready values: every difference, however small."""
    return {
        **build_frame(comparison, FORMAT, FORMAT_VERSION, spectrum_percent=TOLD_PERCENT),
        "setups": [
            {
                "name": each.name,
                "presence": each.presence,
                "changes": [build_change(change) for change in each.changes],
            }
            for each in comparison.setups
        ],
    }


def build_frame(
    comparison: Comparison | DayComparison, name: str, version: int, **more_told: float
) -> dict[str, Any]:
    """Collect what every comparison begins with: its format, what is compared, what can be told."""
    return {
        "format": name,
        "format_version": version,
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
    """Collect which record is compared."""
    return {
        "file": plan.file,
        "title": plan.title,
        "wbplan_version": plan.version,
        "digest_sha256": plan.digest,
        "invented": plan.invented,
        "interval_percent": make_number(plan.band_percent),
    }


def build_change(change: Change) -> dict[str, Any]:
    """Collect a change into JSON-ready values."""
    shift = change.shift
    return {
        "subject": change.subject,
        "name": change.name or None,
        "at": change.at or None,
        "what": change.what,
        "before": _build_value(change, change.before),
        "after": _build_value(change, change.after),
        "shift_mired": None if shift is None else make_number(shift.mired),
        "shift_cc": None if shift is None else make_number(shift.cc),
        "shift_stops": None if change.stops is None else make_number(change.stops),
        "can_be_told": change.can_be_told,
    }


def _build_value(change: Change, value: Value) -> Any:
    if isinstance(value, Shade):
        cc = "green_cc" if change.what == "cast" else "tint_cc"
        return {"mired": make_number(value.mired), cc: make_number(value.cc)}
    if isinstance(value, Span):
        return {
            f"{name}_{end}": make_number(getattr(shade, attribute))
            for name, attribute in (("mired", "mired"), ("tint_cc", "cc"))
            for end, shade in (("low", value.low), ("high", value.high))
        }
    if isinstance(value, float) and not isinstance(value, bool):
        key = _KEYS.get(change.what, "stops")
        return {key: make_number(value) if math.isfinite(value) else None}
    return value
