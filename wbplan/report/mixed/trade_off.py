"""The picture of the trade-off: every position's cast against the Kelvin that is set.

Across runs mired, so that equal steps look equal, marked with round Kelvin. Each position is a
straight line, a mired warmer for each mired of the setting, that crosses zero where it is as meant.
Under them lie the Kelvin that keep each hard limit; what all limits have in common is
shaded through the whole picture.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from markupsafe import Markup

from wbplan.camera.setting import Setting
from wbplan.planning.trade_off import TradeOff
from wbplan.report.base import svg
from wbplan.report.base.labels import Labels
from wbplan.report.base.words import say_kelvin, say_shift

_LEFT, _RIGHT, _TOP, _HEIGHT = 52.0, 442.0, 8.0, 220.0
_ROW, _MOST_MIRED, _LEAST_MIRED = 20.0, 120.0, 25.0
Place = Callable[[float], float]
_DASHED = 'stroke="currentColor" stroke-width="1.6" stroke-dasharray="7 4" fill="none"'


def draw_tradeoff(
    tradeoff: TradeOff, numbers: dict[str, int], dial: Setting, prefix: str
) -> Markup:
    """Draw a trade-off.

    Parameters
    ----------
    tradeoff
        Of a setup.
    numbers
        The number of each position in the page's tables, by name.
    dial
        The setting that is dialled.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`.
    """
    low, high = float(tradeoff.mired[0]), float(tradeoff.mired[-1])
    scale = (_RIGHT - _LEFT) / (high - low)
    most = float(abs(tradeoff.off_mired).max())
    most = min(max(most, _LEAST_MIRED), _MOST_MIRED)
    base = _TOP + _HEIGHT
    middle = _TOP + _HEIGHT / 2

    def across(mired: float) -> float:
        return _RIGHT - (mired - low) * scale  # warm settings left, as Kelvin rises to the right

    def up(off: float) -> float:
        return middle - off * _HEIGHT / 2 / most

    parts = [_shade(tradeoff, across, low, high, base)]
    last = -math.inf
    for kelvin in svg.ROUND_KELVIN:
        mired = 1e6 / kelvin
        if not low <= mired <= high or across(mired) < last + 44:
            continue
        last = across(mired)
        parts.append(svg.draw_line(last, _TOP, last, base, svg.THIN))
        parts.append(svg.draw_tick(last, base + 17, str(kelvin), _RIGHT + 8))
    for tick in svg.choose_ticks(-most, most, 34 * 2 * most / _HEIGHT):
        style = svg.AXIS if tick == 0 else svg.THIN
        parts.append(svg.draw_line(_LEFT, up(tick), _RIGHT, up(tick), style))
        parts.append(
            svg.draw_text(_LEFT - 5, up(tick) + 4.5, f"{abs(tick):g}", 'text-anchor="end"')
        )
    parts.append(_draw_sides(base))
    labels = Labels((_LEFT, _TOP, _RIGHT + 8, base))
    labels.reserve_bar(_LEFT, up(0) - 4, _RIGHT, up(0) + 4)  # the axis and the dots on it
    for row, name in enumerate(tradeoff.names):
        wanted = low + float(tradeoff.off_mired[row, 0])  # where its line crosses zero
        parts.append(_draw_position(wanted, (low, high), most, across, up, tradeoff.judged[row]))
        number = str(numbers[name])
        parts.append(labels.set_text(across(min(max(wanted, low), high)), up(0), number, number))
    bottom = base + 46.0
    for kept in tradeoff.ranges:
        first, second = max(kept.low_mired, low), min(kept.high_mired, high)
        y = bottom
        if first < second:
            parts.append(svg.draw_line(across(first), y, across(second), y, svg.STRONG))
            for end in (first, second):
                parts.append(svg.draw_line(across(end), y - 4, across(end), y + 4, svg.STRONG))
        parts.append(
            svg.draw_text(_LEFT - 5, y + 4.5, str(numbers[kept.name]), 'text-anchor="end"')
        )
        bottom += _ROW
    if low <= dial.mired <= high:
        end = bottom - _ROW + 8 if tradeoff.ranges else base
        parts.append(svg.draw_line(across(dial.mired), _TOP, across(dial.mired), end, _DASHED))
    said = "; ".join(
        f"{numbers[name]} {name}: as meant at {say_kelvin(_find_kelvin(tradeoff, row))}, "
        f"{say_shift(float(tradeoff.off_mired[row, 0]) + low - dial.mired, 0.0)} at the dial"
        for row, name in enumerate(tradeoff.names)
    )
    return svg.wrap(
        Markup("").join(parts),
        (_RIGHT + 8, bottom - _ROW + 14 if tradeoff.ranges else base + 42),
        "Cast of each position against the Kelvin that is set",
        f"Across: Kelvin. Up: warmer than meant, down: cooler, in mired. {said}.",
        prefix,
    )


def _find_kelvin(tradeoff: TradeOff, row: int) -> float:
    mired = float(tradeoff.mired[0] + tradeoff.off_mired[row, 0])
    return 1e6 / mired if mired > 0 else math.inf


def _shade(tradeoff: TradeOff, across: Place, low: float, high: float, base: float) -> Markup:
    common = tradeoff.common
    if common is None:
        return Markup("")
    first, second = max(common.low_mired, low), min(common.high_mired, high)
    if first >= second:
        return Markup("")
    left, right = across(second), across(first)
    return svg.draw_rect(left, _TOP, right - left, base - _TOP, 'fill-opacity=".12"')


def _draw_sides(base: float) -> Markup:
    side = svg.draw_side(base, _HEIGHT, "← cool", "mired", "warm →")
    below = svg.draw_text(
        _RIGHT, base + 34, "Kelvin that is set", 'text-anchor="end" font-size="12"'
    )
    return side + below


def _draw_position(
    wanted: float,
    ends: tuple[float, float],
    most: float,
    across: Place,
    up: Place,
    judged: bool,
) -> Markup:
    """Draw one line inside the picture, thin and dotted where it is not judged."""
    first, last = max(ends[0], wanted - most), min(ends[1], wanted + most)
    if first >= last:
        return Markup("")
    line = svg.draw_line(
        across(first),
        up(wanted - first),
        across(last),
        up(wanted - last),
        svg.BAR if judged else svg.LINK,
    )
    inside = ends[0] <= wanted <= ends[1]
    return line + (svg.draw_circle(across(wanted), up(0), 4) if inside else Markup(""))
