"""Bars of the three channels: what each gets of a light, what each has left before it clips."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from markupsafe import Markup

from wbplan.balance import Interval
from wbplan.report.exposurewords import say_signed
from wbplan.report.svg import (
    AXIS,
    BAR,
    THIN,
    choose_ticks,
    draw_line,
    draw_text,
    draw_tick,
    wrap,
    write_number,
)
from wbplan.report.words import clean_text

_WIDTH, _LEFT, _RIGHT = 440.0, 26.0, 396.0
_BAR, _NAME, _GAP = 13.0, 20.0, 9.0
_LEAST_STOPS, _MOST_STOPS = 1.0, 12.0
_CHANNELS = (("R", "red"), ("G", "green"), ("B", "blue"))
_LONGEST_NAME = 46

Row = tuple[str, tuple[Interval, Interval, Interval]]


def draw_bars(rows: Sequence[Row], title: str, unit: str, prefix: str) -> Markup:
    """Draw red, green and blue of each row as bars from zero, with thin lines for the intervals.

    Parameters
    ----------
    rows
        A name and three intervals [stops] each.
    title, unit
        What the picture is, and what its axis counts.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`; a bar past 12 stops ends there, open, with its figure.
    """
    ends = [
        end
        for _, channels in rows
        for each in channels
        for end in (each.value, each.low, each.high)
        if math.isfinite(end)
    ]
    low = max(min([0.0, *ends]), -_MOST_STOPS)
    high = min(max([0.0, *ends]), _MOST_STOPS)
    if high - low < _LEAST_STOPS:
        low, high = min(low, -_LEAST_STOPS / 2), max(high, _LEAST_STOPS / 2)
    scale = (_RIGHT - _LEFT) / (high - low)

    def across(stops: float) -> float:
        return _LEFT + scale * (min(max(stops, low), high) - low)

    height = len(rows) * (_NAME + 3 * _BAR + _GAP)
    parts = []
    for tick in choose_ticks(low, high, 44 / scale):
        style = AXIS if tick == 0 else THIN
        parts.append(draw_line(across(tick), 0, across(tick), height, style))
        said = say_signed(tick)
        parts.append(draw_tick(across(tick), height + 18, said, _WIDTH))
    parts.append(draw_text(_RIGHT, height + 38, unit, 'text-anchor="end"'))
    y = 0.0
    for name, channels in rows:
        short = clean_text(name)
        short = short if len(short) <= _LONGEST_NAME else short[: _LONGEST_NAME - 1] + "…"
        parts.append(draw_text(4, y + 15, short, 'class="halo"'))
        y += _NAME
        for (letter, colour), interval in zip(_CHANNELS, channels, strict=True):
            parts.append(draw_text(4, y + 11, letter, 'font-size="11"'))
            parts.append(_draw_bar(across, interval, y, colour))
            y += _BAR
        y += _GAP
    said = "; ".join(
        f"{name}: red {say_signed(red.value)}, green {say_signed(green.value)}, "
        f"blue {say_signed(blue.value)}"
        for name, (red, green, blue) in rows
    )
    return wrap(Markup("").join(parts), (_WIDTH, height + 46), title, f"{unit}. {said}.", prefix)


def _draw_bar(
    across: Callable[[float], float], interval: Interval, y: float, colour: str
) -> Markup:
    if math.isnan(interval.value):
        return draw_text(across(0.0) + 4, y + 11, "unknown", 'font-size="11"')
    start, end = sorted((across(0.0), across(interval.value)))
    bar = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
        colour, *(write_number(each) for each in (start, y + 2, end - start, _BAR - 4))
    )
    tip = end
    if interval.is_open:
        low, high = across(interval.low), across(interval.high)
        bar += draw_line(low, y + _BAR / 2, high, y + _BAR / 2, BAR)
        tip = max(end, high)
    said = say_signed(interval.value)
    return bar + draw_text(tip + 5, y + 11, said, 'font-size="11" class="halo"')
