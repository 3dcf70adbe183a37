"""The pictures of a day: what runs along the clock, and the windows of a setting as bars.

Across runs real time, marked with the place's clock. Times that the model refuses are hatched. A
position is told by its dashes and by its number, never by colour; what is drawn stands in the
page's tables too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from typing import Literal

import numpy as np
from markupsafe import Markup

from wbplan.core.tables import Array
from wbplan.day.setups import DaySetup
from wbplan.day.times import find_spans, list_seconds, say_clock, say_spans
from wbplan.day.windows import SettingWindows
from wbplan.exposure.equation import name_t_stop
from wbplan.report.base import svg
from wbplan.report.base.labels import find_room
from wbplan.report.base.words import say_kelvin, say_setting, say_shift
from wbplan.report.day.words import list_off, say_time, say_window

_LEFT, _RIGHT, _TOP, _BASE = 52.0, 438.0, 10.0, 190.0
_ROW, _NAME = 20.0, 118.0
_MOST_LINES = len(svg.DASHES)
_FEW = 2  # marks of the clock, under which the ends of the day are marked
_GREENS = ("magenta", "green")
_FILL = 'fill="currentColor" fill-opacity=".12" stroke="none"'
_VEIL = 'fill="currentColor" fill-opacity=".07" stroke="none"'


@dataclass(frozen=True, eq=False)
class Line:
    """A value along the day (t,), NaN where there is none, and its interval where one is drawn."""

    name: str
    values: Array
    low: Array | None = None
    high: Array | None = None


@dataclass(frozen=True, eq=False)
class Drawing:
    """A figure, the names of its lines in order, and how many lines there would be to draw."""

    figure: Markup
    names: tuple[str, ...]
    there: int


Ticks = Callable[[float, float, float], list[tuple[float, str]]]


def draw_settings(day: DaySetup, prefix: str) -> Drawing:
    """Draw the Kelvin that each position wants, and the exact setting with its band."""
    scene = day.scene
    exact = Line(
        "exact setting", -scene.exact_mired.value, -scene.exact_mired.high, -scene.exact_mired.low
    )
    shown = _name_places(day, -np.where(_fine(day), scene.mired.value, np.nan))
    said = say_ends(day, scene.exact_mired.value, lambda mired: say_kelvin(1e6 / mired))
    title = "Kelvin wanted against clock time"
    return _draw(day, [exact, *shown], _tick_kelvin, title, f"Exact setting: {said}", prefix)


def draw_tints(day: DaySetup, prefix: str) -> Drawing:
    """Draw the tint that each position wants, and the exact setting's with its band."""
    scene = day.scene
    tint = scene.exact_tint_cc
    exact = Line("exact setting", tint.value, tint.low, tint.high)
    shown = _name_places(day, np.where(_fine(day), scene.tint_cc.value, np.nan))
    said = say_ends(day, tint.value, lambda cc: say_shift(0.0, -cc))
    title = "Tint to dial in against clock time"
    text = f"Exact setting takes away: {said}"
    return _draw(day, [exact, *shown], _tick_plainly, title, text, prefix, sides=_GREENS)


def draw_stops(day: DaySetup, prefix: str) -> Drawing:
    """Draw the T-stop of each position, the key's with its band."""
    value, low, high = (
        2.0 * np.log2(np.where(each > 0, each, np.nan))
        for each in (day.t_stop.value, day.t_stop.low, day.t_stop.high)
    )
    key = day.key
    lines = [Line(day.setup.key, value[:, key], low[:, key], high[:, key])]
    lines += [
        Line(each.name, value[:, row]) for row, each in enumerate(day.setup.positions) if row != key
    ]
    said = say_ends(day, value[:, key], lambda stops: name_t_stop(2.0 ** (stops / 2)))
    text = f"At {day.setup.key}: {said}"
    return _draw(day, lines, _tick_stops, "T-stop against clock time", text, prefix)


def draw_off(
    day: DaySetup, served: SettingWindows, unit: Literal["mired", "CC"], prefix: str
) -> Drawing:
    """Draw how far each position is off its intent under one setting, with the tolerance."""
    mired, green_cc = list_off(day, served.setting)
    off, limit, sides = mired, day.wish.within.mired, ("warm", "cool")
    if unit == "CC":
        off, limit, sides = -green_cc, day.wish.within.cc, _GREENS
    title = f"{unit[0].upper()}{unit[1:]} off intent at {say_setting(served.setting)}"
    text = f"Shaded: within {limit:g} {unit}. {_say_kept(day, off, limit)}"
    return _draw(day, _name_places(day, off), _tick_plainly, title, text, prefix, limit, sides)


def draw_windows(day: DaySetup, prefix: str) -> Markup:
    """Draw the windows of the whole day's setting and of each hour's, as bars."""
    rows = [each for each in (day.whole, *day.hourly) if each is not None]
    across = _scale(day, _NAME)
    base = _TOP + _ROW * len(rows)
    parts = [_veil(day, across, base), *_draw_clock(day, across, base, _NAME)]
    said = []
    for number, each in enumerate(rows):
        y = _TOP + _ROW * number + _ROW / 2
        name = "all day" if each.at < 0 else say_time(day, each.at)
        kelvin = each.setting.preset or say_kelvin(each.setting.kelvin)
        label = f"{name}: {kelvin}"
        parts.append(
            svg.draw_text(_NAME - 6, y + 4.5, label[:17], 'text-anchor="end" font-size="12"')
        )
        for window in each.windows:
            left, right = across(window.first), across(window.last)
            for style in (_FILL, svg.BAR):
                parts.append(svg.draw_rect(left, y - 6, max(right - left, 2.0), 12.0, style))
        if each.at >= 0:
            at = across(each.at)
            parts.append(svg.draw_line(at, y - 8, at, y + 8, svg.AXIS))
        words = "; ".join(say_window(day, window) for window in each.windows) or "no time"
        said.append(f"{label}: {words}")
    title = "Windows in which one setting and one stop serve"
    view = (_RIGHT + 8, base + 26)
    return svg.wrap(Markup("").join(parts), view, title, f"{'. '.join(said)}.", prefix)


def say_ends(day: DaySetup, values: Array, say: Callable[[float], str]) -> str:
    """Say the first, the least, the greatest and the last of a line with their times."""
    rows = np.flatnonzero(np.isfinite(values))
    if not rows.size:
        return "nothing"
    least, most = rows[np.argmin(values[rows])], rows[np.argmax(values[rows])]
    chosen = sorted({int(rows[0]), int(least), int(most), int(rows[-1])})
    return ", ".join(f"{say(float(values[row]))} at {say_time(day, row)}" for row in chosen)


def _say_kept(day: DaySetup, off: Array, limit: float) -> str:
    said = []
    for row, each in enumerate(day.setup.positions):
        kept = np.flatnonzero(np.abs(np.nan_to_num(off[:, row], nan=np.inf)) <= limit)
        said.append(f"{each.name}: {say_spans(day.moments, [int(x) for x in kept]) or 'never'}")
    return "; ".join(said)


def _fine(day: DaySetup) -> np.ndarray:
    return np.array([[not said for said in row] for row in day.scene.trouble])


def _name_places(day: DaySetup, values: Array) -> list[Line]:
    return [Line(each.name, values[:, row]) for row, each in enumerate(day.setup.positions)]


def _draw(
    day: DaySetup,
    lines: Sequence[Line],
    ticks: Ticks,
    title: str,
    text: str,
    prefix: str,
    limit: float | None = None,
    sides: tuple[str, str] = ("", ""),
) -> Drawing:
    known = [each for each in lines if np.isfinite(each.values).any()]
    lines = known[:_MOST_LINES]
    low, high = _find_range(lines, limit)
    scale = (_BASE - _TOP) / (high - low)
    across = _scale(day, _LEFT)

    def up(value: float) -> float:
        return _BASE - scale * (min(max(value, low), high) - low)

    parts = [_veil(day, across, _BASE)]
    if limit is not None:
        width = _RIGHT - _LEFT
        parts.append(svg.draw_rect(_LEFT, up(limit), width, up(-limit) - up(limit), _FILL))
    parts += _draw_clock(day, across, _BASE, _LEFT)
    for value, label in ticks(low, high, 26 / scale):
        style = svg.AXIS if limit is not None and value == 0 else svg.THIN
        parts.append(svg.draw_line(_LEFT, up(value), _RIGHT, up(value), style))
        parts.append(
            svg.draw_text(_LEFT - 5, up(value) + 4.5, label, 'text-anchor="end" font-size="12"')
        )
    taken: list[float] = []
    for number, line in enumerate(lines):
        parts += _draw_line(line, number, across, up, taken)
    for y, side in zip((_TOP + 13, _BASE - 5), sides, strict=True):
        if side:
            parts.append(
                svg.draw_text(_RIGHT - 4, y, side, f'text-anchor="end" font-size="12" {svg.HALO}')
            )
    view = (_RIGHT + 8, _BASE + 26)
    figure = svg.wrap(Markup("").join(parts), view, title, f"{text}.", prefix)
    return Drawing(figure, tuple(each.name for each in lines), len(known))


def _find_range(lines: Sequence[Line], limit: float | None) -> tuple[float, float]:
    ends = [
        values[np.isfinite(values)]
        for line in lines
        for values in (line.values, line.low, line.high)
        if values is not None
    ]
    every = np.concatenate(ends) if ends else np.zeros(0)
    if limit is not None:
        every = np.append(every, [limit, -limit])
    if not every.size:
        return 0.0, 1.0
    low, high = float(every.min()), float(every.max())
    room = max((high - low) * 0.06, 0.25)
    return low - room, high + room


def _scale(day: DaySetup, left: float) -> Callable[[float], float]:
    seconds = list_seconds(day.moments)
    if seconds.size == 1:
        return lambda row: (left + _RIGHT) / 2
    span = max(float(seconds[-1] - seconds[0]), 1.0)

    def across(row: float) -> float:
        second = float(np.interp(row, np.arange(seconds.size), seconds))
        return left + (_RIGHT - left) * (second - float(seconds[0])) / span

    return across


def _draw_clock(
    day: DaySetup, across: Callable[[float], float], base: float, left: float
) -> list[Markup]:
    """Mark the full hours, as many as there is room for; the ends where there are hardly any."""
    seconds = list_seconds(day.moments)
    first, last = day.moments[0], day.moments[-1]
    hour = first + timedelta(minutes=-first.minute % 60)
    marks: list[tuple[float, str]] = []
    while hour <= last:
        marks.append((hour.timestamp(), f"{hour:%H}" if hour.minute == 0 else say_clock(hour)))
        hour = (hour.astimezone(UTC) + timedelta(hours=1)).astimezone(first.tzinfo)
    if len(marks) < _FEW:
        marks = [(each.timestamp(), say_clock(each)) for each in dict.fromkeys((first, last))]
    parts: list[Markup] = []
    before = -math.inf
    for second, label in marks:
        x = across(float(np.interp(second, seconds, np.arange(seconds.size))))
        if x < before + 36:
            continue
        before = x
        parts.append(svg.draw_line(x, _TOP, x, base, svg.THIN))
        parts.append(svg.draw_tick(x, base + 18, label, _RIGHT + 8))
    parts.append(svg.draw_line(left, base, _RIGHT, base, svg.AXIS))
    return parts


def _veil(day: DaySetup, across: Callable[[float], float], base: float) -> Markup:
    """Veil the times that the model refuses."""
    refused = np.array([bool(each) for each in day.scene.refused])
    parts = []
    last = len(day.moments) - 1
    for first, end in find_spans(refused):
        left, right = across(max(first - 0.5, 0)), across(min(end + 0.5, last))
        parts.append(svg.draw_rect(left, _TOP, right - left, base - _TOP, _VEIL))
        step = 9.0
        for number in range(int((right - left) / step)):
            x = left + step * (number + 1)
            parts.append(svg.draw_line(x, _TOP, x - step, base, svg.LINK))
    return Markup("").join(parts)


def _draw_line(
    line: Line,
    number: int,
    across: Callable[[float], float],
    up: Callable[[float], float],
    taken: list[float],
) -> list[Markup]:
    parts = []
    style = svg.choose_dashes(number)
    for first, last in find_spans(np.isfinite(line.values)):
        rows = range(first, last + 1)
        if line.low is not None and line.high is not None:
            there = [(across(row), up(float(line.high[row]))) for row in rows]
            back = [(across(row), up(float(line.low[row]))) for row in reversed(rows)]
            parts.append(svg.draw_path([*there, *back], _FILL, closed=True))
        points = [(across(row), up(float(line.values[row]))) for row in rows]
        if len(points) == 1:
            points.append((points[0][0] + 1.5, points[0][1]))
        parts.append(svg.draw_path(points, style))
    drawn = np.flatnonzero(np.isfinite(line.values))
    if drawn.size:
        row = int(drawn[drawn.size // 2])
        y = up(float(line.values[row])) - 5
        x = find_room(across(row), taken, 16, across(int(drawn[0])), across(int(drawn[-1])))
        taken.append(x)
        row = int(drawn[np.argmin(np.abs(np.array([across(int(each)) for each in drawn]) - x))])
        y = up(float(line.values[row])) - 5
        parts.append(svg.draw_text(x, y, f"{number + 1}", f'text-anchor="middle" {svg.HALO}'))
    return parts


def _tick_kelvin(low: float, high: float, least: float) -> list[tuple[float, str]]:
    """Mark round Kelvin on an axis of less mired upward."""
    found: list[tuple[float, str]] = []
    for kelvin in svg.ROUND_KELVIN:
        value = -1e6 / kelvin
        if low <= value <= high and (not found or value - found[-1][0] >= least * 0.8):
            found.append((value, f"{kelvin}"))
    if not found:
        middle = round(1e6 / -((low + high) / 2), -1)
        found.append((-1e6 / middle, f"{middle:.0f}"))
    return found


def _tick_stops(low: float, high: float, least: float) -> list[tuple[float, str]]:
    return [
        (each, name_t_stop(2.0 ** (each / 2)))
        for each in svg.choose_ticks(low, high, max(least, 1.0))
        if each == round(each)
    ]


def _tick_plainly(low: float, high: float, least: float) -> list[tuple[float, str]]:
    """Mark figures without a sign: their side is written in the picture."""
    return [(each, f"{abs(each):.3g}") for each in svg.choose_ticks(low, high, least)]
