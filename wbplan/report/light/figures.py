"""The pictures of the page of lights: spectra over each other, the u'v' diagram, the hue bins.

Lines are told apart by their dashes and by numbers beside them, never by colour alone, so that the
page works in print and in the dark. Each figure's numbers stand in a table too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from markupsafe import Markup

from wbplan.core.tables import Array
from wbplan.description.eye import LightFigures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.light.colorimetry import find_uv_prime, find_xy
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux
from wbplan.light.ssi import radiate_ssi_reference
from wbplan.light.tm30 import HUE_BINS
from wbplan.report.base.labels import Labels, find_room, measure_text
from wbplan.report.base.svg import (
    AXIS,
    BAR,
    HALO,
    THIN,
    choose_dashes,
    draw_circle,
    draw_line,
    draw_path,
    draw_text,
    wrap,
)
from wbplan.report.base.uv_diagram import (
    EDGE_NM,
    UvDiagram,
    draw_loci,
    find_edge,
    fit_diagram,
    frame_diagram,
)
from wbplan.report.light.words import say_percent_shift

_WIDTH, _HEIGHT = 760.0, 320.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 12.0, 748.0, 26.0, 284.0
_UV_FRAME = (46.0, 8.0, 446.0, 408.0)
_LEAST_SPAN, _MARGIN = 0.024, 0.15
_WHOLE = UvDiagram((46.0, 8.0, 446.0, 395.5), np.zeros(2), 625.0)  # to u' 0.64, v' 0.62
_CENTRE, _RADIUS = 180.0, 118.0
_MOST_REFERENCES = 3  # lights whose references are drawn beside them


class Companion(NamedTuple):
    """A light that stands beside those described: ``power`` (401,), brought to its own peak 1.

    ``mark`` is its sign in the figures: R1 for the reference of light 1, A for the one that all are
    held against. A reference has the lux of its light.
    """

    mark: str
    name: str
    power: Array


def list_companions(lights: LightSet, drawn: Sequence[LightDescription]) -> list[Companion]:
    """List what is drawn beside lights: the references of up to three, and the light against."""
    found = []
    if len(drawn) <= _MOST_REFERENCES:
        kelvin = np.array([lights.eye.cct_kelvin[each.row] for each in drawn])
        for light, power in zip(drawn, radiate_ssi_reference(kelvin), strict=True):
            if light.ssi_reference:
                level = find_illuminance_lux(light.spectrum.values) / find_illuminance_lux(power)
                same_lux = power * (level / light.spectrum.values.max())
                found.append(Companion(f"R{light.row + 1}", light.ssi_reference, same_lux))
    if lights.against is not None:
        power = lights.against.spectrum.values
        found.append(Companion("A", lights.against.name, power / power.max()))
    return found


def draw_key(number: int) -> Markup:
    """Draw a sample of the line of light ``number`` (from 0), for a legend."""
    body = draw_line(0, 6, 44, 6, choose_dashes(number))
    return Markup(
        '<svg viewBox="0 0 44 12" width="44" height="12" aria-hidden="true">{}</svg>'
    ).format(body)


def draw_overlay(
    lights: Sequence[LightDescription], prefix: str, companions: Sequence[Companion] = ()
) -> Markup:
    """Draw spectra over each other, 380 to 780 nm, each with its peak at full height.

    Companions are thin lines under them, a reference of its light's lux and cut off above.

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

    def mark(values: Array, sign: str, style: str) -> None:
        room = 17 if len(sign) == 1 else 24
        x = find_room(float(xs[int(values.argmax())]), taken, room, _LEFT, _RIGHT)
        taken.append(x)
        body.append(draw_text(x, _TOP - 8, sign, f'text-anchor="middle"{style}'))

    for each in companions:
        ys = _BOTTOM - (_BOTTOM - _TOP) * np.minimum(each.power, 1.0)
        style = BAR if each.mark == "A" else f'{BAR} stroke-dasharray="3 2"'
        body.append(draw_path(list(zip(xs, np.round(ys, 1), strict=True)), style))
    for number, light in enumerate(lights):
        values = light.spectrum.values
        ys = _BOTTOM - (_BOTTOM - _TOP) * values / values.max()
        body.append(draw_path(list(zip(xs, np.round(ys, 1), strict=True)), choose_dashes(number)))
        mark(values, f"{number + 1}", ' font-weight="600"')
    for each in companions:
        mark(each.power, each.mark, ' font-size="12"')
    tops = [WAVELENGTHS_NM[int(each.spectrum.values.argmax())] for each in lights]
    peaks = "; ".join(
        f"{number} {light.name}: highest at {top:.0f} nm"
        for number, (light, top) in enumerate(zip(lights, tops, strict=True), 1)
    )
    beside = "".join(f"; {each.mark} {each.name}" for each in companions)
    text = f"Relative power, each light's peak at full height. {peaks}{beside}."
    view = (_WIDTH, _HEIGHT)
    return wrap(Markup("").join(body), view, "Spectra over each other", text, prefix)


def draw_chromaticity(
    figures: Sequence[LightFigures],
    prefix: str,
    whole: bool,
    companions: Sequence[Companion] = (),
) -> Markup:
    """Draw lights in the u', v' diagram (CIE 15:2018, 8.1) with the black-body locus.

    Parameters
    ----------
    figures
        In the order of the lights' numbers.
    whole
        The whole diagram with the locus of single wavelengths, or the part around the lights.
    companions
        Drawn as rings.
    """
    beside = [find_uv_prime(find_xy(each.power)) for each in companions]
    points = np.array([*([each.u_prime, each.v_prime] for each in figures), *beside])
    diagram = _WHOLE if whole else fit_diagram(_UV_FRAME, points, _LEAST_SPAN, _MARGIN)
    labels = Labels(diagram.frame)
    radius = 3.0 if whole else 4.0
    places = [diagram.place(each) for each in points]
    for x, y in places:
        labels.reserve(x, y, radius + 1)
    edge = _mark_edge(diagram, labels) if whole else Markup("")
    loci = draw_loci(diagram, labels)
    ring = 'fill="none" stroke="currentColor" stroke-width="1.3"'
    count = len(figures)
    marks = [draw_circle(x, y, radius) for x, y in places[:count]]
    marks += [draw_circle(x, y, radius, ring) for x, y in places[count:]]
    signs = [*(f"{number}" for number in range(1, count + 1)), *(each.mark for each in companions)]
    for said, at in zip(signs, places, strict=True):
        marks.append(labels.set_text(*at, said, said, f'{HALO} font-weight="600"'))
    right, base = diagram.frame[2:]
    view = (right + 12, base + 46)
    body = frame_diagram(diagram, edge + loci, view[0], prefix) + Markup("").join(marks)
    listed = "; ".join(
        f"{number}: {each.u_prime:.4f}, {each.v_prime:.4f}"
        for number, each in enumerate(figures, 1)
    )
    title = "u', v' diagram" if whole else "u', v' around the lights"
    return wrap(
        body, view, title, f"Black-body locus with Kelvin; lights by number: {listed}.", prefix
    )


def _mark_edge(diagram: UvDiagram, labels: Labels) -> Markup:
    """Close the edge of all colours, and mark wavelengths along it."""
    points = [diagram.place(each) for each in find_edge()]
    parts = [draw_path((points[0], points[-1]), BAR)]
    for nm in (460, 480, 500, 520, 560, 580, 600, 620, 700):
        x, y = points[nm - EDGE_NM[0]]
        parts.append(draw_circle(x, y, 2.0))
        side = 'text-anchor="end"' if nm < 500 or nm == 700 else ""  # 500 keeps off the axis
        lift = {520: -6, 700: 18}.get(nm, 4)
        start, width = x + (-6 if side else 6), measure_text(f"{nm}")
        labels.reserve_bar(start, y + lift - 11, start + (-width if side else width), y + lift)
        parts.append(draw_text(start, y + lift, f"{nm}", side))
    return Markup("").join(parts)


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
