"""A day's record, read for comparing: only what is compared is looked at, and each by its type.

Every moment that a part of the record names is one of the setup's times, and every column has an
entry for each of them; a record where that is not so was not written by wbplan, and is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import date, datetime
from typing import TypeVar

from wbplan.core.files import show_value
from wbplan.day.times import MOST_TIMES
from wbplan.read.json_fields import JsonFields
from wbplan.record.plan_view import (
    gather_by_name,
    list_warnings,
    read_encoding,
    read_shade,
    read_shooting,
)
from wbplan.record.values import (
    ClockTime,
    RecordedDayLut,
    RecordedDayPosition,
    RecordedDaySetup,
    RecordedSkyLight,
    RecordedTouch,
    RecordedWindow,
    Shade,
    say_clock_spans,
)
from wbplan.sky.site import Site

_MOMENT = "a moment with its offset from UTC (ISO 8601)"
Clock = dict[datetime, ClockTime]
_T = TypeVar("_T")


def read_day_setup(fields: JsonFields) -> RecordedDaySetup:
    """Read a setup of a day's record."""
    clock = _read_clock(fields)
    course = fields.item("through_the_day")
    within = fields.item("within")
    key = fields.text("key_position")
    positions = gather_by_name(
        fields,
        "positions",
        [_read_position(each, len(clock)) for each in fields.items("positions")],
    )
    if key not in positions:
        raise fields.refuse("key_position", show_value(key), "the name of a position")
    whole = fields.item_or_none("whole_day_setting")
    setting = None if whole is None else whole.item("setting")
    filters, luts = fields.item_or_none("filters"), fields.item_or_none("luts")
    made = [] if luts is None else [_read_lut(each, clock) for each in luts.items("luts")]
    return RecordedDaySetup(
        name=fields.text("name"),
        camera=fields.text("camera"),
        date=next(iter(clock)).date().isoformat(),
        place=_read_place(fields),
        key=key,
        shooting=_read_shooting(fields.item("shooting")) if "shooting" in fields else None,
        within=", ".join(
            f"{_demand(within, name):g} {unit}"
            for name, unit in (("mired", "mired"), ("cc", "CC"), ("stops", "stops"))
        ),
        step=f"every {_demand(fields, 'step_minutes'):g} minutes",
        times=tuple(clock.values()),
        is_refused=tuple(map(bool, _check(course, "refused", course.texts_or_none, len(clock)))),
        exact=_read_shades(course, "exact", len(clock)),
        lights=gather_by_name(
            fields,
            "lights_of_the_sky",
            [_read_light(each) for each in fields.items("lights_of_the_sky")],
        ),
        positions=positions,
        whole=None
        if setting is None
        else Shade(_demand(setting, "mired"), _demand(setting, "tint_cc")),
        preset=setting.text_or_none("preset") or "" if setting is not None else "",
        origin="" if whole is None else whole.text("origin"),
        windows=() if whole is None else tuple(_read_windows(whole, clock)),
        touches=() if filters is None else tuple(_read_touches(filters, clock)),
        lut_count="" if luts is None else f"{len(made)} by {luts.text('by')}",
        luts={each.file_name: each for each in made},
        warnings=tuple(dict.fromkeys(list_warnings(fields))),
        cautions=tuple(each.text("text") for each in fields.items("cautions")),
    )


def _read_shooting(fields: JsonFields) -> str:
    """Read how the camera is run, with the stop that is wanted and the ND that is planned."""
    wanted, nd = fields.number("wanted_t_stop"), fields.number("nd_stops")
    said = read_shooting(fields) + ("" if math.isnan(wanted) else f", for T{wanted:g}")
    return said + (f", ND {nd:g}" if nd else "")


def _read_clock(fields: JsonFields) -> Clock:
    """Read the times as moments, each with what the clock shows then."""
    texts = fields.texts("times")
    if not 1 <= len(texts) <= MOST_TIMES:
        raise fields.refuse("times", f"a list of {len(texts)}", f"1 to {MOST_TIMES} times")
    clock: Clock = {}
    shown: dict[int, int] = {}
    last: datetime | None = None
    begun: date | None = None
    for row, text in enumerate(texts):
        moment = _parse(fields, f"times[{row}]", text)
        if last is not None and moment <= last:
            raise fields.refuse(f"times[{row}]", show_value(text), "a time after the one before it")
        begun = begun or moment.date()
        days = (moment.date() - begun).days
        if not 0 <= days <= 1:
            raise fields.refuse(f"times[{row}]", show_value(text), "a time of the one day")
        minutes = days * 1440 + moment.hour * 60 + moment.minute
        clock[moment] = ClockTime(minutes, shown.get(minutes, 0))
        shown[minutes] = shown.get(minutes, 0) + 1
        last = moment
    return clock


def _parse(fields: JsonFields, name: str, text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
        if moment.utcoffset() is not None:
            return moment
    except ValueError:
        pass
    raise fields.refuse(name, show_value(text), _MOMENT)


def _read_time(fields: JsonFields, name: str, text: str, clock: Clock) -> ClockTime:
    found = clock.get(_parse(fields, name, text))
    if found is None:
        raise fields.refuse(name, show_value(text), "one of the setup's times")
    return found


def _check(
    fields: JsonFields, name: str, read: Callable[[str], tuple[_T, ...]], count: int
) -> tuple[_T, ...]:
    """Read a column, which has an entry for each time."""
    values = read(name)
    if len(values) != count:
        raise fields.refuse(name, f"a list of {len(values)}", f"{count}, one for each of the times")
    return values


def _demand(fields: JsonFields, name: str) -> float:
    """Read a number that has a meaning in every record."""
    value = fields.number(name)
    if math.isnan(value):
        raise fields.refuse(name, "nothing", "a number")
    return value


def _read_shades(fields: JsonFields, name: str, count: int) -> tuple[Shade, ...]:
    columns = (
        _check(fields, f"{name}_{each}", fields.numbers, count) for each in ("mired", "tint_cc")
    )
    return tuple(Shade(mired, cc) for mired, cc in zip(*columns, strict=True))


def _read_place(fields: JsonFields) -> str:
    site = fields.item_or_none("site")
    if site is None:
        return ""
    named = Site(
        site.text("name"),
        _demand(site, "latitude_deg"),
        _demand(site, "longitude_deg"),
        _demand(site, "altitude_m"),
        site.text("time_zone"),
    )
    return f"{named.words}, {named.time_zone}"


def _read_light(fields: JsonFields) -> RecordedSkyLight:
    stated = (f"{each.replace('_', ' ')} stated" for each in fields.texts("stated"))
    points = fields.rows("horizon_deg")
    if not all(len(each) == 2 and math.isfinite(sum(each)) for each in points):
        raise fields.refuse("horizon_deg", "something else", "pairs of azimuth and elevation")
    horizon = (f"{elevation:g}° up at {azimuth:g}°" for azimuth, elevation in points)
    return RecordedSkyLight(
        fields.text("name"),
        fields.text("words"),
        (*fields.text("origin").split(", "), *stated),
        ", ".join(horizon),
    )


def _read_position(fields: JsonFields, count: int) -> RecordedDayPosition:
    def read(name: str) -> tuple[float, ...]:
        return _check(fields, name, fields.numbers, count)

    nd = "nd_for_wanted_t_stop_stops"
    return RecordedDayPosition(
        name=fields.text("name"),
        intent=fields.text("intent_words"),
        lux=read("illuminance_lux"),
        wanted=_read_shades(fields, "wanted", count),
        t_stop=read("t_stop"),
        nd_stops=read(nd) if nd in fields else (math.nan,) * count,
        from_key_stops=read("from_key_stops"),
        sun_over_shade_stops=read("sun_over_shade_stops"),
        # Its words hold figures that move through the day; that there is one is enough.
        trouble=tuple(
            "not to be neutralised" if each else ""
            for each in _check(fields, "trouble", fields.texts_or_none, count)
        ),
    )


def _read_windows(fields: JsonFields, clock: Clock) -> Iterator[RecordedWindow]:
    for each in fields.items("windows"):
        first, last = (_read_time(each, name, each.text(name), clock) for name in ("from", "to"))
        yield RecordedWindow(first, last, each.number("t_stop"))


def _read_touches(fields: JsonFields, clock: Clock) -> Iterator[RecordedTouch]:
    for each in fields.items("changes"):
        at = _read_time(each, "at", each.text("at"), clock)
        ways = (each.text_or_none(f"burns_{end}") for end in ("before", "after"))
        yield RecordedTouch(
            at,
            each.text("light"),
            each.texts("before"),
            each.texts("after"),
            *(way or "" for way in ways),
        )


def _read_lut(fields: JsonFields, clock: Clock) -> RecordedDayLut:
    size, keeps = fields.number("size_points"), fields.text("keeps")
    times = tuple(clock.values())
    served = {
        _read_time(fields, f"times[{row}]", text, clock)
        for row, text in enumerate(fields.texts("times"))
    }
    return RecordedDayLut(
        file_name=fields.text("file"),
        sha256=fields.text("sha256"),
        form=f"{read_encoding(fields)}, {size:g} points, keeps {keeps}",
        shot_at=read_shade(fields.item("from"), "tint_cc"),
        wanted=Shade(fields.number("to_mired"), fields.number("to_tint_cc")),
        times=say_clock_spans(times, [row for row, each in enumerate(times) if each in served]),
    )
