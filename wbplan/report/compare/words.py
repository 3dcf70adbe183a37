"""How a difference between two plans is said: what it is about, before, after, and by how much."""

from __future__ import annotations

import math

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.light.filters import round_mired
from wbplan.planning.casts import name_tint
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.record.compare_plans import TOLD_STOPS, Change, Value
from wbplan.record.values import Shade, Span
from wbplan.report.base import words

LIMITS_SAID = (
    f"under {TOLD_MIRED:g} mired, {TOLD_CC:g} CC, {TOLD_STOPS:g} stop: common practice, no source"
)
_SUBJECTS = {
    "key": "exposed for",
    "dialled_setting": "set",
    "exact_setting": "exact setting",
    "band": "its band",
    "t_stop": "stop",
    "nd": "ND",
    "lut": "LUT",
    "wanted_setting": "wants",
    "cast": "will look",
    "from_key": "from key",
}
_SETTINGS = ("dialled_setting", "exact_setting", "wanted_setting")


def say_subject(change: Change) -> str:
    """Say what a change is about: 'set', 'window: wants', 'window: lux at face'."""
    if change.what == "presence":
        return f"{change.subject} {clean_text(change.name)}"
    if change.what == "illuminance":
        said = f"lux at {clean_text(change.at)}"
    elif change.what == "lut" and change.at:
        said = f"LUT, {clean_text(change.at)}"
    else:
        said = _SUBJECTS.get(change.what, change.what)
    return f"{clean_text(change.name)}: {said}" if change.name else said


def say_value(change: Change, value: Value) -> str:
    """Say one of a change's two values."""
    if change.what == "presence":
        return "there" if value else "not there"
    if change.what == "on":
        return "burns" if value else "is off"
    if isinstance(value, Shade):
        return _say_setting(value) if change.what in _SETTINGS else _say_cast(value)
    if isinstance(value, Span):
        return _say_band(value)
    if isinstance(value, str):
        return clean_text(value) or "none"
    return "none" if value is None else _say_figure(change.what, value)


def say_size(change: Change) -> str:
    """Say by how much and to which side; an empty text where before and after say it all."""
    if change.shift is not None:
        said = _say_shift(change, change.shift)
    elif change.stops is not None:
        said = _say_stops(change.what, change.stops)
    elif change.what == "presence":
        said = "new" if change.after else "gone"
    elif change.what in ("warning", "caution"):
        said = "gone" if change.after is None else "new"
    elif change.what == "lut" and not change.can_be_told:
        said = "the same matrix in other bytes"
    else:
        said = ""
    return said


def _say_figure(what: str, value: float) -> str:
    if what == "spectrum":
        return "" if value == 0 else f"up to {words.say_significant(value, 2)} % of its peak apart"
    if not math.isfinite(value):
        return "no light" if value < 0 or what == "from_key" else "unknown"
    if what == "illuminance":
        return words.say_lux(value) if value > 0 else "no light"
    if what == "t_stop":
        return name_t_stop(value) if value > 0 else "unknown"
    if what == "nd":
        return words.say_nd(value)
    return (
        "level"
        if round(value, 1) == 0
        else f"{words.say_stops(value)} {_side(value, 'over', 'under')}"
    )


def _side(value: float, above: str, below: str) -> str:
    return above if value > 0 else below


def _say_setting(shade: Shade) -> str:
    if math.isnan(shade.mired) or math.isnan(shade.cc):
        return "unknown"
    kelvin = 1e6 / shade.mired if shade.mired > 0 else math.inf
    return f"{words.say_kelvin(kelvin)}, {name_tint(shade.cc)}"


def _say_cast(shade: Shade) -> str:
    if math.isnan(shade.mired) or math.isnan(shade.cc):
        return "unknown"
    return words.say_shift(shade.mired, shade.cc)


def _say_band(span: Span) -> str:
    low, high = (1e6 / each.mired if each.mired > 0 else math.inf for each in (span.high, span.low))
    tint = Interval(0.0, span.low.cc, span.high.cc)
    return f"{words.say_kelvin_span(Interval(0.0, low, high))}; {words.say_tint_span(tint)}"


def _say_shift(change: Change, shift: Shade) -> str:
    if math.isnan(shift.mired) or math.isnan(shift.cc):
        return ""
    mired, cc = f"{abs(round_mired(shift.mired)):.12g}", f"{abs(round(shift.cc, 1)):.12g}"
    parts = []
    is_dialled = change.what in ("dialled_setting", "exact_setting", "band")
    if mired != "0":
        side = _side(shift.mired, "warmer", "cooler")
        parts.append(f"{mired} mired, for {side} light" if is_dialled else f"{mired} mired {side}")
    if cc != "0":
        more = _side(shift.cc, "more magenta", "more green")
        look = _side(shift.cc, "greener", "more magenta")
        parts.append(f"{cc} CC {more if is_dialled else look}")
    small = "" if change.what != "dialled_setting" or _is_big(shift) else "too little to be told"
    size = "; ".join(parts) if is_dialled else ", ".join(parts)
    return " - ".join(each for each in (size, small) if each)


def _is_big(shift: Shade) -> bool:
    return abs(shift.mired) >= TOLD_MIRED or abs(shift.cc) >= TOLD_CC


def _say_stops(what: str, stops: float) -> str:
    size = words.say_stops(stops) if abs(stops) >= TOLD_STOPS else f"under {TOLD_STOPS:g} stops"
    if what == "t_stop":
        return f"{size} {_side(stops, 'closed down', 'opened up')}"
    if what == "nd":
        return f"{size} {_side(stops, 'more', 'less')}"
    return f"{size} {_side(stops, 'brighter', 'darker')}"
