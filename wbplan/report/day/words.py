"""How a day is said: times by the clock, spans, what a setting serves."""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np

from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.day.filters import FilterChange
from wbplan.day.luts import DayLuts
from wbplan.day.scene import Band
from wbplan.day.setups import DaySetup, find_nd_stops, find_stop
from wbplan.day.times import Tolerance, find_spans, say_clock, say_span
from wbplan.day.windows import SettingWindows, TakeEnd, Window, find_off_intent
from wbplan.exposure.equation import name_t_stop
from wbplan.planning.casts import WantedSetting, name_tint
from wbplan.report.base.words import (
    say_dial,
    say_kelvin,
    say_nd,
    say_setting,
    say_shift,
    say_stops,
)
from wbplan.sky.sun_times import (
    BLUE_DEG,
    CLEAR_OF_SITE,
    GOLDEN_DEG,
    SOLAR_NOON,
    SunSpan,
    SunTime,
)

NONE = "–"


def pick(band: Band, *at: int) -> Interval:
    """Take one value of a band with its ends."""
    return Interval(*(float(each[at]) for each in (band.value, band.low, band.high)))


def say_time(day: DaySetup, row: int) -> str:
    """Say a time by the clock."""
    return say_clock(day.moments[row])


def say_date(day: DaySetup) -> str:
    """Say the day and its clock: 'Saturday 20 June 2026, Europe/Paris'."""
    moment, last = day.moments[0], day.moments[-1]
    zone = day.setup.site.time_zone if day.setup.site else ""
    over = last.date() > moment.date() and (last.hour or last.minute)
    end = f" to {last:%A} {last.day} {last:%B}" if over else ""
    return f"{moment:%A} {moment.day} {moment:%B %Y}{end}, {zone}"


def say_tolerance(within: Tolerance) -> str:
    """Say what still matches."""
    return f"{within.mired:g} mired, {within.cc:g} CC, {within.stops:g} stops either way"


def say_wanted_at(day: DaySetup, row: int) -> WantedSetting | None:
    """Take the exact setting of a time, None where there is none."""
    if not day.scene.usable[row]:
        return None
    return WantedSetting(pick(day.scene.exact_mired, row), pick(day.scene.exact_tint_cc, row))


def say_sun(day: DaySetup, row: int) -> str:
    """Say where the sun stands: '42° up, at 225° SW', '4° down, at 312° NW'."""
    return f"{say_height(float(day.scene.elevation_deg[row]))}, at {say_bearing(day, row)}"


def say_height(elevation_deg: float) -> str:
    """Say an elevation: '42° up', '4° down'."""
    return f"{abs(elevation_deg):.0f}° {'down' if round(elevation_deg) < 0 else 'up'}"


def say_bearing(day: DaySetup, row: int) -> str:
    """Say the sun's azimuth at a time: '225° SW'."""
    return _say_azimuth(float(day.scene.azimuth_deg[row]))


def _say_azimuth(azimuth_deg: float) -> str:
    side = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")[round(azimuth_deg / 45.0) % 8]
    return f"{round(azimuth_deg) % 360}° {side}"


def say_sun_times(day: DaySetup) -> list[str]:
    """Say what the sun does: 'sunrise 05:52 at 54° NE', and its hours, each with what it means."""
    said = [_say_sun_time(day, each) for each in day.sun.times]
    names = dict.fromkeys(each.name for each in day.sun.spans)
    limits = {"golden hour": GOLDEN_DEG, "blue hour": BLUE_DEG}
    for name in names:
        spans = " and ".join(_say_sun_span(day, x) for x in day.sun.spans if x.name == name)
        means = (
            ""
            if name == CLEAR_OF_SITE
            else " (sun from {} to {})".format(
                *(f"{abs(each):g}° {'down' if each < 0 else 'up'}" for each in limits[name])
            )
        )
        said.append(f"{name} {spans}{means}")
    return said


def _say_sun_time(day: DaySetup, time: SunTime) -> str:
    at = _say_second(day, time.second)
    where = _say_azimuth(time.azimuth_deg)
    if time.name == SOLAR_NOON:
        where = f"{say_height(time.elevation_deg)}, at {where}"
        return f"{time.name} {at}, {where}"
    return f"{time.name} {at} at {where}"


def _say_sun_span(day: DaySetup, span: SunSpan) -> str:
    return f"{_say_second(day, span.first)} to {_say_second(day, span.last)}"


def _say_second(day: DaySetup, second: float) -> str:
    """Say an instant by the clock there, to the nearest minute; midnight at an end as 24:00."""
    first = day.moments[0]
    moment = datetime.fromtimestamp(60.0 * round(second / 60.0), first.tzinfo)
    ends = moment.hour == moment.minute == 0 and moment.date() > first.date()
    shown = "24:00" if ends else say_clock(moment)
    return f"{shown} the next day" if not ends and moment.date() > first.date() else shown


def say_look(day: DaySetup, setting: Setting, row: int, place: int) -> str:
    """Say how a grey at a position looks under a setting at a time, against neutral."""
    mired = float(day.scene.mired.value[row, place])
    if math.isnan(mired):
        return NONE
    if day.scene.trouble[row][place]:
        return "not to be neutralised"
    tint = float(day.scene.tint_cc.value[row, place])
    return say_shift(mired - setting.mired, tint - setting.tint_cc)


def say_place_wants(day: DaySetup, row: int, place: int) -> str:
    """Say the Kelvin and tint that a position wants at a time."""
    mired = float(day.scene.mired.value[row, place])
    if math.isnan(mired) or day.scene.trouble[row][place]:
        return NONE
    return f"{say_kelvin(1e6 / mired)}, {name_tint(float(day.scene.tint_cc.value[row, place]))}"


def say_choice(luts: DayLuts) -> str:
    """Say why LUTs are by cast or by the hour."""
    casts = f"{luts.casts} step{'' if luts.casts == 1 else 's'} of cast"
    hours = f"{luts.hours} hour{'' if luts.hours == 1 else 's'}"
    if luts.by == "cast":
        return f"by cast: {casts} where the clock would take {hours}"
    return f"by the hour: {hours} where casts would take {casts}"


def say_worth(day: DaySetup) -> str:
    """Say what the filters bring, root mean square over the times."""
    plan = day.changes
    if plan is None:
        return NONE
    left, bare = (
        float(np.sqrt(np.nanmean(each**2))) if np.isfinite(each).any() else math.nan
        for each in (plan.left_mired, plan.untouched_mired)
    )
    return (
        f"positions are {left:.1f} mired off their intents with them and {bare:.1f} with the "
        "lights as they are, root mean square over the day, at each time's own setting."
    )


def say_ratio(stops: float) -> str:
    """Say a ratio in stops: 'sun 2.1 stops over its shade'."""
    if math.isnan(stops):
        return NONE
    return "sun alone" if math.isinf(stops) else say_stops(stops)


def say_window(day: DaySetup, window: Window) -> str:
    """Say a window and what serves it: '10:00 to 12:30 at T8', 'with ND of 4 stops at T5.6'."""
    span = say_span(day.moments, window.first, window.last)
    wanted, nd = day.setup.shooting.t_stop, find_nd_stops(day, window)
    stop = name_t_stop(find_stop(day, window))
    if wanted is None or nd is None:
        return f"{span} at {stop}"
    if round(nd, 1) < 0:
        return f"{span} at {stop}, {say_nd(nd)} for {name_t_stop(wanted)}"
    return f"{span} at {name_t_stop(wanted)} with {say_nd(nd)}"


def say_whole(day: DaySetup, served: SettingWindows) -> str:
    """Say a setting for the whole day and why it is the one."""
    why = say_origin(served)
    dial = say_dial(served.setting, day.setup.camera.menu.cc_per_step)
    return f"{dial} ({why[0].lower()}{why[1:]})"


def say_origin(served: SettingWindows) -> str:
    """Say why a setting stands for the whole day."""
    if served.origin == "given":
        return "Shot at all day"
    return "The setting that serves longest" if served.windows else "The middle of the day"


def say_take(day: DaySetup, start: int, end: TakeEnd | None) -> str:
    """Say until when a take from a time matches, and what ends it."""
    if end is None:
        return NONE
    if not end.why:
        return f"{say_time(day, end.last)}, the last time asked for"
    why = f"{end.why} at {end.about}" if end.about else end.why
    return f"{say_time(day, end.last)}: then {why}"


def say_take_end(day: DaySetup, end: TakeEnd | None) -> str:
    """Say the last time at which a take matches, with + where the times asked for end first."""
    if end is None:
        return NONE
    return say_time(day, end.last) + ("" if end.why else "+")


def say_take_shortly(day: DaySetup, end: TakeEnd | None) -> str:
    """Say until when a take matches, and where that is as far as anything is known."""
    if end is None:
        return NONE
    return say_time(day, end.last) if end.about else f"{say_time(day, end.last)} at least"


def say_change(change: FilterChange) -> str:
    """Say what to do to a light: 'hang half blue before pendant'."""
    after, before = " and ".join(change.after), " and ".join(change.before)
    if change.way_before != change.way_after:
        then = change.way_after or "as it was read"
        if change.way_after == "off" or change.after == change.before:
            return f"{change.light}: {then}"
        hung = f"with {after}" if after else "without a filter"
        return f"{change.light}: {then}, {hung}"
    if not after:
        return f"{change.light}: take off {before}"
    if not before:
        return f"{change.light}: hang {after}"
    return f"{change.light}: {before} off, {after} on"


def say_filtered(day: DaySetup, row: int) -> str:
    """Say the setting to dial at a time with the filters of then on the lights."""
    plan = day.changes
    known = [number for number, at in enumerate(plan.at) if at <= row] if plan else []
    return say_setting(plan.settings[known[-1]]) if plan and known else NONE


def list_refused(day: DaySetup) -> list[str]:
    """List spans of times that the model refuses, each with the reason of its last time."""
    said = []
    refused = np.array([bool(each) for each in day.scene.refused])
    for first, last in find_spans(refused):
        end = last + 1
        kinds = [_kind(each) for each in day.scene.refused[first:end]]
        start = first
        for row in range(first, end):
            if row + 1 == end or kinds[row + 1 - first] != kinds[row - first]:
                said.append(f"{say_span(day.moments, start, row)}: {kinds[row - first]}")
                start = row + 1
    return said


def _kind(reason: str) -> str:
    """Leave the sun's own figure out of a reason, so that neighbours say the same."""
    stands, comma, rest = reason.partition(", ")
    return f"the sun stands {rest}" if comma and stands.startswith("the sun stands") else reason


def list_off(day: DaySetup, setting: Setting) -> tuple[np.ndarray, np.ndarray]:
    """Give mired and CC off the intents under a setting, (t, p) each."""
    off = find_off_intent(day.scene, [each.intent for each in day.setup.positions], setting)
    return off[0], off[1]
