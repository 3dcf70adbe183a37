"""The pictures of the page, as SVG text without a plotting library.

Idea
----
Each figure is one `<svg>` in the page itself: no file, no script, no second import. Lines and text
are drawn in currentColor, so that the page's light, dark and print colours reach them, and shape,
place and words carry the meaning, never colour. Every figure has a title and a description, and
its numbers stand in a table beside it.

The map of casts gives one CC the length of seven mired, so that equal lengths are about equally
visible (`setting.find_distance`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from wbplan.camera.setting import MIRED_PER_CC
from wbplan.core.names import clean_text
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.planning.lights import LightPlan
from wbplan.planning.positions import PositionPlan
from wbplan.report.base import svg
from wbplan.report.base.labels import Labels
from wbplan.report.base.words import say_cast, say_kelvin

_WIDTH, _HEIGHT = 400.0, 310.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 392.0, 8.0, 264.0
_LEAST_MIRED, _LEAST_CC = 30.0, 3.0


@dataclass(frozen=True)
class _Plane:
    """Where mired and CC lie in the drawing: ``scale`` units per mired, the origin at (x, y)."""

    scale: float
    x: float
    y: float

    def place(self, mired: float, cc: float) -> tuple[float, float]:
        return self.x + self.scale * mired, self.y - self.scale * MIRED_PER_CC * cc


def _fit_plane(mired: Sequence[float], cc: Sequence[float]) -> _Plane:
    def span(values: Sequence[float], least: float) -> tuple[float, float]:
        low, high = min(0.0, *values), max(0.0, *values)
        half = max((high - low) * 0.58, least / 2)
        return (low + high) / 2, half

    middle_m, half_m = span(mired, _LEAST_MIRED)
    middle_c, half_c = span(cc, _LEAST_CC)
    width, height = _RIGHT - _LEFT, _BOTTOM - _TOP
    scale = min(width / 2 / half_m, height / 2 / (half_c * MIRED_PER_CC))
    return _Plane(
        scale,
        (_LEFT + _RIGHT) / 2 - scale * middle_m,
        (_TOP + _BOTTOM) / 2 + scale * MIRED_PER_CC * middle_c,
    )


def _find_plane(positions: Sequence[PositionPlan]) -> _Plane:
    """Fit the map to the positions that are judged; one left as it falls may lie far outside."""
    judged = [each for each in positions if each.is_judged] or list(positions)
    rings = [each for each in map(_find_wanted, judged) if each is not None]
    casts = [each.cast for each in judged]
    return _fit_plane(
        [end for each in casts for end in (each.mired.low, each.mired.high)]
        + [m for m, _ in rings],
        [end for each in casts for end in (each.green_cc.low, each.green_cc.high)]
        + [c for _, c in rings],
    )


def _draw_grid(plane: _Plane) -> Markup:
    parts = []
    low, high = (_LEFT - plane.x) / plane.scale, (_RIGHT - plane.x) / plane.scale
    for tick in svg.choose_ticks(low, high, 52 / plane.scale):
        x, _ = plane.place(tick, 0)
        parts.append(svg.draw_line(x, _TOP, x, _BOTTOM, svg.AXIS if tick == 0 else svg.THIN))
        parts.append(svg.draw_tick(x, _BOTTOM + 17, f"{abs(tick):g}", _WIDTH))
    per_cc = plane.scale * MIRED_PER_CC
    low, high = (plane.y - _BOTTOM) / per_cc, (plane.y - _TOP) / per_cc
    for tick in svg.choose_ticks(low, high, 34 / per_cc):
        _, y = plane.place(0, tick)
        parts.append(svg.draw_line(_LEFT, y, _RIGHT, y, svg.AXIS if tick == 0 else svg.THIN))
        parts.append(svg.draw_text(_LEFT - 5, y + 4.5, f"{abs(tick):g}", 'text-anchor="end"'))
    below = _BOTTOM + 37
    parts += [
        svg.draw_text(_LEFT, below, "← cool"),
        svg.draw_text((_LEFT + _RIGHT) / 2, below, "mired", 'text-anchor="middle"'),
        svg.draw_text(_RIGHT, below, "warm →", 'text-anchor="end"'),
    ]
    side = svg.draw_side(_BOTTOM, _BOTTOM - _TOP, "← magenta", "CC", "green →")
    return Markup("").join([*parts, side])


def is_on_map(position: PositionPlan) -> bool:
    """Tell whether a position's cast can be drawn: its light is one that a setting neutralises."""
    return not position.trouble


def draw_cast_map(positions: Sequence[PositionPlan], prefix: str) -> Markup:
    """Draw the casts of positions around the dialled setting.

    Parameters
    ----------
    positions
        In the order of their numbers, which count from 1; those whose light nothing
        neutralises are left out, which the page has to say.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`: a dot and thin bars of the interval for each position, a ring for what is
        wanted there, a dotted line between the two, a cross for the setting.
    """
    shown = [(row + 1, each) for row, each in enumerate(positions) if is_on_map(each)]
    spans = [(each.cast.mired, each.cast.green_cc) for _, each in shown]
    rings = [_find_wanted(each) for _, each in shown]
    seen = [each for each in rings if each is not None]
    plane = _find_plane([each for _, each in shown])
    labels, marks = Labels((_LEFT, _TOP, _RIGHT, _BOTTOM)), []
    zero_x, zero_y = plane.place(0, 0)
    labels.reserve(zero_x, zero_y, 8)
    for place in dict.fromkeys(seen):
        x, y = plane.place(*place)
        labels.reserve(x, y, 8)
        marks.append(svg.draw_circle(x, y, 7, svg.BAR))
    for (mired, cc), wanted in zip(spans, rings, strict=True):
        x, y = plane.place(mired.value, cc.value)
        if not _is_inside(x, y):
            marks.append(_draw_arrow(x, y))
            labels.reserve(*_hold_inside(x, y), 8)
            continue
        labels.reserve(x, y, 5)
        left, low = _hold_inside(*plane.place(mired.low, cc.low))
        right, high = _hold_inside(*plane.place(mired.high, cc.high))
        if mired.is_open:
            labels.reserve_bar(left, y, right, y)
            marks.append(svg.draw_line(left, y, right, y, svg.BAR))
        if cc.is_open:
            labels.reserve_bar(x, low, x, high)
            marks.append(svg.draw_line(x, low, x, high, svg.BAR))
        if wanted is not None:
            marks.append(svg.draw_line(x, y, *plane.place(*wanted), svg.LINK))
        marks.append(svg.draw_circle(x, y, 4.5))
    marks.append(svg.draw_cross(zero_x, zero_y, 7))
    for (number, each), (mired, cc) in zip(shown, spans, strict=True):
        x, y = _hold_inside(*plane.place(mired.value, cc.value))
        marks.append(labels.set_label(x, y, number, clean_text(each.name)))
    said = "; ".join(f"{number} {each.name}: {say_cast(each.cast)}" for number, each in shown)
    return svg.wrap(
        _draw_grid(plane) + Markup("").join(marks),
        (_WIDTH, _HEIGHT),
        "Map of casts around the dialled setting",
        f"Across: mired, cool left and warm right. Up: green, down: magenta, in CC. {said}.",
        prefix,
    )


def _is_inside(x: float, y: float) -> bool:
    return _LEFT <= x <= _RIGHT and _TOP <= y <= _BOTTOM


def _hold_inside(x: float, y: float) -> tuple[float, float]:
    return min(max(x, _LEFT), _RIGHT), min(max(y, _TOP), _BOTTOM)


def _draw_arrow(x: float, y: float) -> Markup:
    """Draw an arrow at the frame that points at a place outside it."""
    tip = _hold_inside(x, y)
    length = math.hypot(x - tip[0], y - tip[1])
    along = ((x - tip[0]) / length, (y - tip[1]) / length)
    foot = (tip[0] - 9 * along[0], tip[1] - 9 * along[1])
    points = (
        tip,
        (foot[0] - 5 * along[1], foot[1] + 5 * along[0]),
        (foot[0] + 5 * along[1], foot[1] - 5 * along[0]),
    )
    path = "L".join(f"{svg.write_number(a)} {svg.write_number(b)}" for a, b in points)
    return Markup('<path d="M{}Z"/>').format(path)


def list_outside_map(positions: Sequence[PositionPlan]) -> tuple[int, ...]:
    """List the numbers of positions that the map shows by an arrow at its edge alone."""
    plane = _find_plane([each for each in positions if is_on_map(each)])
    return tuple(
        row
        for row, each in enumerate(positions, 1)
        if is_on_map(each)
        and not _is_inside(*plane.place(each.cast.mired.value, each.cast.green_cc.value))
    )


def _find_wanted(position: PositionPlan) -> tuple[float, float] | None:
    if not position.is_judged:
        return None
    cast, off = position.cast, position.off_intent
    # Rounded, so that intents which are the same give one ring.
    return (
        round(cast.mired.value - off.mired.value, 6) + 0.0,
        round(cast.green_cc.value - off.green_cc.value, 6) + 0.0,
    )


_CURVE_TOP, _CURVE_BASE, _CURVE_LEFT = 8.0, 138.0, 14.0


def draw_spectrum(light: LightPlan, prefix: str) -> Markup:
    """Draw a light's relative power behind its filter, 380 to 780 nm, its peak at full height.

    Returns
    -------
    Markup
        `<svg>` with one unit per nanometre across.
    """
    peak = float(light.power.max())
    height = (_CURVE_BASE - _CURVE_TOP) / peak if peak > 0 else 0.0
    xs = _CURVE_LEFT + WAVELENGTHS_NM - WAVELENGTHS_NM[0]
    ys = _CURVE_BASE - height * light.power
    points = list(zip(xs.tolist(), ys.round(1).tolist(), strict=True))
    right = float(xs[-1])
    corners = [(right, _CURVE_BASE), (_CURVE_LEFT, _CURVE_BASE)]
    area = svg.draw_path([*points, *corners], 'fill-opacity=".16"', closed=True)
    curve = svg.draw_path(points, svg.STRONG)
    axis = [svg.draw_line(_CURVE_LEFT, _CURVE_BASE, right, _CURVE_BASE, svg.AXIS)]
    for tick in (400, 500, 600, 700):
        x = _CURVE_LEFT + tick - float(WAVELENGTHS_NM[0])
        label = f"{tick} nm" if tick == 700 else f"{tick}"
        axis.append(svg.draw_line(x, _CURVE_BASE, x, _CURVE_BASE + 7, svg.AXIS))
        axis.append(
            svg.draw_text(x, _CURVE_BASE + 30, label, 'text-anchor="middle" font-size="22"')
        )
    text = "No light gets through."
    if peak > 0:
        text = (
            f"Relative power from 380 to 780 nm, {find_peak_words(light)}; "
            f"{say_kelvin(light.eye.cct_kelvin)} to the eye."
        )
    return svg.wrap(
        area + curve + Markup("").join(axis),
        (right + _CURVE_LEFT, 176.0),
        f"Spectrum of {light.name}",
        text,
        prefix,
    )


def find_peak_words(light: LightPlan) -> str:
    """Say where a light's power is highest, and what share of it lies in three parts of the range.

    The parts are those that a camera's blue, green and red mostly see: to 500 nm, to 600 nm, above.
    """
    total = float(light.power.sum())
    if total <= 0:
        return "no light gets through"
    parts = (WAVELENGTHS_NM < 500.0, WAVELENGTHS_NM < 600.0)
    under = [100.0 * float(light.power[each].sum()) / total for each in parts]
    return (
        f"highest at {WAVELENGTHS_NM[int(light.power.argmax())]:.0f} nm; {under[0]:.0f} % under "
        f"500 nm, {under[1] - under[0]:.0f} % to 600 nm, {100.0 - under[1]:.0f} % above"
    )
