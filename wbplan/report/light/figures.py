"""The pictures of the page of lights: spectra over each other, the u'v' diagram, the hue bins.

Lines are told apart by their dashes and by numbers beside them, never by colour alone, so that the
page works in print and in the dark. Each figure's numbers stand in a table too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from markupsafe import Markup

from wbplan.core.tables import Array, load_table
from wbplan.description.lights import LightDescription, LightFigures
from wbplan.light.colorimetry import find_uv_prime, find_xy
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.light.tm30 import HUE_BINS
from wbplan.report.base.svg import (
    AXIS,
    BAR,
    HALO,
    THIN,
    choose_dashes,
    draw_circle,
    draw_clip,
    draw_line,
    draw_path,
    draw_text,
    wrap,
)
from wbplan.report.light.words import say_percent_shift

_WIDTH, _HEIGHT = 760.0, 320.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 12.0, 748.0, 26.0, 284.0
_TICKS_KELVIN = (2000, 2700, 3200, 4000, 5600, 6500, 10000)
_CENTRE, _RADIUS = 180.0, 118.0

Place = Callable[[Array], list[tuple[float, float]]]


def draw_key(number: int) -> Markup:
    """Draw a sample of the line of light ``number`` (from 0), for a legend."""
    body = draw_line(0, 6, 44, 6, choose_dashes(number))
    return Markup(
        '<svg viewBox="0 0 44 12" width="44" height="12" aria-hidden="true">{}</svg>'
    ).format(body)


def draw_overlay(lights: Sequence[LightDescription], prefix: str) -> Markup:
    """Draw spectra over each other, 380 to 780 nm, each with its peak at full height.

    The number of each light (from 1) stands at its peak; lights whose peaks meet share a place,
    one number above the other.
    """
    scale = (_RIGHT - _LEFT) / float(WAVELENGTHS_NM[-1] - WAVELENGTHS_NM[0])
    xs = _LEFT + scale * (WAVELENGTHS_NM - WAVELENGTHS_NM[0])
    body = [draw_line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, AXIS)]
    for tick in range(400, 800, 50):
        x = _LEFT + scale * (tick - float(WAVELENGTHS_NM[0]))
        body.append(draw_line(x, _TOP, x, _BOTTOM, THIN))
        label = f"{tick} nm" if tick == 750 else f"{tick}"
        body.append(draw_text(x, _BOTTOM + 20, label, 'text-anchor="middle"'))
    taken: list[float] = []
    for number, light in enumerate(lights):
        values = light.spectrum.values
        ys = _BOTTOM - (_BOTTOM - _TOP) * values / values.max()
        body.append(draw_path(list(zip(xs, np.round(ys, 1), strict=True)), choose_dashes(number)))
        x = float(xs[int(values.argmax())])
        while any(abs(x - other) < 17 for other in taken):
            x += 17 if x < _RIGHT - 40 else -17
        taken.append(x)
        body.append(
            draw_text(x, _TOP - 8, f"{number + 1}", 'text-anchor="middle" font-weight="600"')
        )
    tops = [WAVELENGTHS_NM[int(each.spectrum.values.argmax())] for each in lights]
    peaks = "; ".join(
        f"{number} {light.name}: highest at {top:.0f} nm"
        for number, (light, top) in enumerate(zip(lights, tops, strict=True), 1)
    )
    text = f"Relative power, each light's peak at full height. {peaks}."
    view = (_WIDTH, _HEIGHT)
    return wrap(Markup("").join(body), view, "Spectra over each other", text, prefix)


def draw_chromaticity(figures: Sequence[LightFigures], prefix: str, whole: bool) -> Markup:
    """Draw lights in the u', v' diagram (CIE 15:2018, 8.1) with the black-body locus.

    Parameters
    ----------
    figures
        In the order of the lights' numbers.
    whole
        The whole diagram with the locus of single wavelengths, or the part around the lights.
    """
    points = np.array([[each.u_prime, each.v_prime] for each in figures])
    low, high = (np.array([0.0, 0.0]), np.array([0.64, 0.62])) if whole else _frame(points)
    size = 400.0
    left, top = 46.0, 22.0
    scale = size / float((high - low).max())
    width, height = (high - low) * scale

    def place(uv: Array) -> list[tuple[float, float]]:
        flat = np.atleast_2d(uv)
        return [
            (left + float(u - low[0]) * scale, top + height - float(v - low[1]) * scale)
            for u, v in flat
        ]

    marks = []
    step = _choose_step(float((high - low).max()))
    for axis in range(2):
        first = math.ceil(float(low[axis]) / step - 1e-9)
        for tick in np.arange(first, float(high[axis]) / step + 1e-9) * step:
            label = f"{tick:.3f}".rstrip("0").rstrip(".")
            if axis == 0:
                x = left + float(tick - low[0]) * scale
                marks.append(draw_line(x, top, x, top + height, THIN))
                marks.append(draw_text(x, top + height + 18, label, 'text-anchor="middle"'))
            else:
                y = top + height - float(tick - low[1]) * scale
                marks.append(draw_line(left, y, left + width, y, THIN))
                marks.append(draw_text(left - 5, y + 4.5, label, 'text-anchor="end"'))
    below = top + height + 36
    marks.append(draw_text(left + width, below, "u'", 'text-anchor="end"'))
    marks.append(draw_text(left - 5, top - 6, "v'", 'text-anchor="end"'))
    inside = []
    if whole:
        inside += _draw_edge(place)
    inside += _draw_locus(place, whole)
    seen: list[tuple[float, float]] = []
    for number, (x, y) in enumerate(place(points), 1):
        inside.append(draw_circle(x, y, 4.0 if not whole else 3.0))
        at = _find_room(x, y, seen)
        seen.append(at)
        inside.append(draw_text(at[0], at[1] + 4.5, f"{number}", f'{HALO} font-weight="600"'))
    clipped = Markup('<g clip-path="url(#{}-c)">{}</g>').format(prefix, Markup("").join(inside))
    frame = draw_clip(f"{prefix}-c", left, top, width, height)
    body = frame + Markup("").join(marks) + clipped
    said = "; ".join(
        f"{number}: {each.u_prime:.4f}, {each.v_prime:.4f}"
        for number, each in enumerate(figures, 1)
    )
    title = "u', v' diagram" if whole else "u', v' around the lights"
    view = (left + float(width) + 12, below + 8)
    return wrap(
        body, view, title, f"Black-body locus with Kelvin; lights by number: {said}.", prefix
    )


def _frame(points: Array) -> tuple[Array, Array]:
    """Choose a square around the lights that shows some of the locus beside them."""
    low, high = points.min(axis=0), points.max(axis=0)
    half = max(float((high - low).max()) * 0.65, 0.012)
    middle = (low + high) / 2
    return middle - half, middle + half


def _choose_step(span: float) -> float:
    return next(each for each in (0.005, 0.01, 0.02, 0.05, 0.1) if span / each <= 8 or each == 0.1)


def _draw_edge(place: Place) -> list[Markup]:
    seen = (WAVELENGTHS_NM >= 400) & (WAVELENGTHS_NM <= 700)
    observer = load_table("observer")[seen]
    uv = find_uv_prime(observer[:, :2] / observer.sum(-1, keepdims=True))
    points = place(uv)
    parts = [draw_path(points, BAR, closed=True)]
    for nm in (460, 480, 500, 520, 560, 580, 600, 620, 700):
        x, y = points[nm - 400]
        parts.append(draw_circle(x, y, 2.0))
        side = 'text-anchor="end"' if nm < 500 or nm == 700 else ""  # 500 keeps off the axis
        lift = {520: -6, 700: 18}.get(nm, 4)
        parts.append(draw_text(x + (-6 if side else 6), y + lift, f"{nm}", side))
    return parts


def _draw_locus(place: Place, whole: bool) -> list[Markup]:
    mired = np.linspace(20.0, 1000.0, 197)
    uv = find_uv_prime(find_xy(radiate_black_body(1e6 / mired)))
    parts = [draw_path(place(uv), AXIS)]
    for kelvin in _TICKS_KELVIN:
        here = find_uv_prime(find_xy(radiate_black_body(np.array([kelvin, kelvin * 1.01]))))
        along = (here[1] - here[0]) / np.linalg.norm(here[1] - here[0])
        across = np.array([-along[1], along[0]]) * (0.006 if whole else 0.0015)
        (x1, y1), (x2, y2) = place(np.stack([here[0] - across, here[0] + across]))
        parts.append(draw_line(x1, y1, x2, y2, AXIS))
        if not whole:
            parts.append(draw_text(x1 + 3, y1 + 16, f"{kelvin}", 'fill-opacity=".75"'))
    return parts


def _find_room(x: float, y: float, seen: Sequence[tuple[float, float]]) -> tuple[float, float]:
    for dx, dy in ((8, 0), (8, -14), (8, 14), (-18, 0), (-18, -14), (-18, 14), (8, -28), (8, 28)):
        at = (x + dx, y + dy)
        if all(abs(at[0] - u) > 15 or abs(at[1] - v) > 12 for u, v in seen):
            return at
    return x + 8, y


def draw_hue_bins(
    figures: LightFigures, test_ab: Array, reference_ab: Array, prefix: str
) -> Markup:
    """Draw what a light does to the colours of each hue (ANSI/IES TM-30-20, 4.9 and annex).

    The circle is the reference; the heavy outline joins the mean colour of each of the sixteen
    hue bins under the light, outside for more chroma, inside for less, arrows from one to the
    other. The figures around it are the local chroma shifts.
    """
    angle = np.arctan2(reference_ab[:, 1], reference_ab[:, 0])
    norm = np.linalg.norm(reference_ab, axis=-1, keepdims=True)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    moved = ring + (test_ab - reference_ab) / norm

    def place(ab: Array) -> list[tuple[float, float]]:
        return [(_CENTRE + _RADIUS * float(a), _CENTRE - _RADIUS * float(b)) for a, b in ab]

    body = [draw_circle(_CENTRE, _CENTRE, _RADIUS, AXIS)]
    for number in range(HUE_BINS):
        edge = 2 * math.pi * number / HUE_BINS
        out = _RADIUS * 1.22
        body.append(
            draw_line(
                _CENTRE,
                _CENTRE,
                _CENTRE + out * math.cos(edge),
                _CENTRE - out * math.sin(edge),
                THIN,
            )
        )
        middle = edge + math.pi / HUE_BINS
        x, y = _CENTRE + 154 * math.cos(middle), _CENTRE - 154 * math.sin(middle)
        shift = say_percent_shift(figures.bin_chroma[number]).removesuffix(" %")
        body.append(draw_text(x, y, f"{number + 1}", 'text-anchor="middle" font-weight="600"'))
        body.append(draw_text(x, y + 14, f"{shift} %", 'text-anchor="middle" font-size="12"'))
    outline = place(moved)
    for (x1, y1), (x2, y2) in zip(place(ring), outline, strict=True):
        body.append(draw_line(x1, y1, x2, y2, BAR))
        body.append(draw_circle(x1, y1, 1.8))
    body.append(
        draw_path(outline, 'stroke="currentColor" stroke-width="2.4" fill="none"', closed=True)
    )
    shifts = ", ".join(
        f"{number} {say_percent_shift(each)}" for number, each in enumerate(figures.bin_chroma, 1)
    )
    text = f"Circle: the reference. Outline: this light. Chroma shift by hue bin: {shifts}."
    view = (2 * _CENTRE, 2 * _CENTRE + 4)
    return wrap(Markup("").join(body), view, "Colours by hue bin", text, prefix)
