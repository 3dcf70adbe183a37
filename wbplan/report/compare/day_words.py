"""How a difference between two days is said; what plans have too is said by `compare.words`."""

from __future__ import annotations

import math
from datetime import date

from wbplan.core.names import clean_text
from wbplan.day.filters import FilterChange
from wbplan.exposure.equation import name_t_stop
from wbplan.record.compare_days import TouchChange, WindowChange
from wbplan.record.compare_plans import TOLD_STOPS, Change, Value
from wbplan.record.values import RecordedWindow
from wbplan.report.base.words import say_stops
from wbplan.report.compare import words as comparewords
from wbplan.report.day import words as daywords

_SUBJECTS = {
    "date": "day",
    "within": "matches within",
    "origin": "which is",
    "t_stop": "stop at the key",
    "nd": "ND for the wanted stop",
    "kind": "is",
    "horizon": "what blocks it",
    "intent": "meant to",
    "illuminance": "light",
    "sun_over_shade": "sun over shade",
    "lut_count": "LUTs",
}
_ORIGINS = {"given": "shot at anyway", "best": "what serves most of the day"}


def say_subject(change: Change) -> str:
    """Say what a change is about: 'day', 'face: light'."""
    if change.what == "lut_times":
        return f"times of {clean_text(change.at)}"
    said = _SUBJECTS.get(change.what)
    if said is None:
        return comparewords.say_subject(change)
    return f"{clean_text(change.name)}: {said}" if change.name else said


def say_value(change: Change, value: Value) -> str:
    """Say one of a change's two values."""
    if change.what == "date" and isinstance(value, str):
        day = date.fromisoformat(value)
        return f"{day:%A} {day.day} {day:%B} {day.year}"
    if change.what == "origin" and isinstance(value, str):
        return _ORIGINS.get(value, clean_text(value) or "none")
    if isinstance(value, float) and change.what == "sun_over_shade":
        return "no sun, or nothing else" if math.isnan(value) else say_stops(value)
    return comparewords.say_value(change, value)


def say_size(change: Change) -> str:
    """Say by how much and to which side; an empty text where before and after say it all."""
    if change.what == "sun_over_shade" and change.stops is not None:
        size = abs(change.stops)
        said = say_stops(size) if size >= TOLD_STOPS else f"under {TOLD_STOPS:g} stops"
        return f"{said} {'more' if change.stops > 0 else 'less'}"
    if change.what == "lut" and (change.before is None or change.after is None):
        return "new" if change.before is None else "gone"
    if change.what == "lut":
        return "the same correction in other bytes" if not change.can_be_told else ""
    return comparewords.say_size(change)


def say_cell(change: Change) -> str:
    """Say a difference where there is room for one text only."""
    was, now = (say_value(change, each) for each in (change.before, change.after))
    return say_size(change) or f"{was}, then {now}"


def say_later(minutes: int) -> str:
    """Say by how much something happens later or earlier."""
    side = "later" if minutes > 0 else "earlier"
    size = f"{abs(minutes)} minute" + ("" if abs(minutes) == 1 else "s")
    return f"{size} {side}" if minutes else "at the same time"


def say_windows(windows: tuple[RecordedWindow, ...]) -> str:
    """Say what a setting serves: '09:10 to 10:20 at T22; 11:00 at T32'."""
    return "; ".join(map(_say_window, windows)) or "at none of these times"


def _say_window(window: RecordedWindow) -> str:
    first, last = window.first.words, window.last.words
    stop = f" at {name_t_stop(window.t_stop)}" if window.t_stop > 0 else ""
    return f"{first if first == last else f'{first} to {last}'}{stop}"


def say_moved(windows: WindowChange) -> str:
    """Say by how much the serving begins and ends later; an empty text where it does not."""
    ends = (("begins", windows.began_minutes), ("ends", windows.ended_minutes))
    return ", ".join(f"{name} {say_later(each)}" for name, each in ends if each)


def say_touch(touch: TouchChange) -> list[str]:
    """Say a filter change that came, went or moved, as the cells of a row."""
    ways = (touch.way_before, touch.way_after)
    name = daywords.say_change(FilterChange(0, touch.light, touch.before, touch.after, 0.0, *ways))
    was, now = ("not due" if each is None else each.words for each in (touch.was, touch.now))
    moved = touch.moved_minutes
    size = say_later(moved) if moved is not None else "new" if touch.was is None else "gone"
    return [f"{clean_text(name)}, due", was, now, size]
