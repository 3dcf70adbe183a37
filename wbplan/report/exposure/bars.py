"""Bars of the three channels: what each gets of a light, what each has left before it clips."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from markupsafe import Markup

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.report.base import svg
from wbplan.report.base.labels import measure_text, shorten
from wbplan.report.exposure.words import say_signed

_WIDTH, _LEFT, _RIGHT = 440.0, 26.0, 396.0
_BAR, _NAME, _GAP = 13.0, 20.0, 9.0
_LEAST_STOPS, _MOST_STOPS = 1.0, 12.0
_CHANNELS = (("R", "red"), ("G", "green"), ("B", "blue"))
_MOST_ROWS = 10  # of one picture, so that it fits on a sheet of paper with its caption

Row = tuple[str, tuple[Interval, Interval, Interval]]


def draw_bars(rows: Sequence[Row], title: str, unit: str, prefix: str) -> tuple[Markup, ...]:
    """Draw red, green and blue of each row as bars from zero, with thin lines for the intervals.

    Many rows make several pictures of one scale.

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
    tuple of Markup
        `<svg>` each; a bar past 12 stops ends there in an arrow, with its figure.
    """
    count = -(-len(rows) // _MOST_ROWS)
    size = -(-len(rows) // count)
    ends, right = _find_ends(rows), min(_RIGHT, _WIDTH - 12 - _find_widest(rows))
    pictures = []
    for part in range(count):
        some = rows[part * size : (part + 1) * size]
        named = f"{title}, part {part + 1} of {count}" if count > 1 else title
        pictures.append(_draw_part(some, ends, right, named, unit, f"{prefix}-{part + 1}"))
    return tuple(pictures)


def _find_ends(rows: Sequence[Row]) -> tuple[float, float]:
    found = [
        end
        for _, channels in rows
        for each in channels
        for end in (each.value, each.low, each.high)
        if math.isfinite(end)
    ]
    low = max(min([0.0, *found]), -_MOST_STOPS)
    high = min(max([0.0, *found]), _MOST_STOPS)
    if high - low < _LEAST_STOPS:
        low, high = min(low, -_LEAST_STOPS / 2), max(high, _LEAST_STOPS / 2)
    return low, high


def _draw_part(
    rows: Sequence[Row],
    ends: tuple[float, float],
    right: float,
    title: str,
    unit: str,
    prefix: str,
) -> Markup:
    low, high = ends
    scale = (right - _LEFT) / (high - low)

    def across(stops: float) -> float:
        return _LEFT + scale * (min(max(stops, low), high) - low)

    height = len(rows) * (_NAME + 3 * _BAR + _GAP)
    parts = []
    for tick in svg.choose_ticks(low, high, 44 / scale):
        style = svg.AXIS if tick == 0 else svg.THIN
        parts.append(svg.draw_line(across(tick), 0, across(tick), height, style))
        said = say_signed(tick)
        parts.append(svg.draw_tick(across(tick), height + 18, said, _WIDTH))
    parts.append(svg.draw_text(_RIGHT, height + 38, unit, 'text-anchor="end"'))
    if any(each.value < low or each.value > high for _, channels in rows for each in channels):
        parts.append(_draw_tip(4, height + 33, 1))
        parts.append(svg.draw_text(14, height + 38, f"past {_MOST_STOPS:g}", 'font-size="11"'))
    y = 0.0
    for name, channels in rows:
        short = shorten(clean_text(name), _WIDTH - 8)
        parts.append(svg.draw_text(4, y + 15, short, 'class="halo"'))
        y += _NAME
        for (letter, colour), interval in zip(_CHANNELS, channels, strict=True):
            parts.append(svg.draw_text(4, y + 11, letter, 'font-size="11"'))
            parts.append(_draw_bar(across, interval, y, colour, ends))
            y += _BAR
        y += _GAP
    said = "; ".join(
        f"{name}: red {say_signed(red.value)}, green {say_signed(green.value)}, "
        f"blue {say_signed(blue.value)}"
        for name, (red, green, blue) in rows
    )
    return svg.wrap(
        Markup("").join(parts), (_WIDTH, height + 46), title, f"{unit}. {said}.", prefix
    )


def _draw_bar(
    across: Callable[[float], float],
    interval: Interval,
    y: float,
    colour: str,
    ends: tuple[float, float],
) -> Markup:
    if math.isnan(interval.value):
        return svg.draw_text(across(0.0) + 4, y + 11, "unknown", 'font-size="11"')
    start, end = sorted((across(0.0), across(interval.value)))
    bar = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
        colour, *(svg.write_number(each) for each in (start, y + 2, end - start, _BAR - 4))
    )
    tip = end
    if interval.value < ends[0]:
        bar += _draw_tip(start, y + _BAR / 2, -1)
    elif interval.value > ends[1]:
        bar += _draw_tip(end, y + _BAR / 2, 1)
        tip += 7
    if interval.is_open:
        low, high = across(interval.low), across(interval.high)
        bar += svg.draw_line(low, y + _BAR / 2, high, y + _BAR / 2, svg.BAR)
        tip = max(tip, high)
    said = say_signed(interval.value)
    return bar + svg.draw_text(tip + 5, y + 11, said, 'font-size="11" class="halo"')


def _draw_tip(x: float, y: float, side: int) -> Markup:
    """Draw the arrow of a bar that goes on, to the right (1) or to the left (-1)."""
    return Markup('<path d="M{} {}l{} 5l{} 5z"/>').format(
        svg.write_number(x), svg.write_number(y - 5), 7 * side, -7 * side
    )


def _find_widest(rows: Sequence[Row]) -> float:
    """Find the widest figure that stands behind a bar."""
    said = (say_signed(each.value) for _, channels in rows for each in channels)
    return max(measure_text(each, 11) for each in said)
