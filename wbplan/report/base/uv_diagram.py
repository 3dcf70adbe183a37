"""The CIE 1976 u', v' diagram that pictures place lights in: axes, edge, loci with Kelvin marks.

Both axes have one scale, so distances are those of the diagram (CIE 15:2018, 8.1).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from markupsafe import Markup

from wbplan.core.tables import Array, load_table
from wbplan.light.colorimetry import find_uv_prime, find_xy
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import freeze
from wbplan.report.base.labels import Box, Labels, measure_text
from wbplan.report.base.svg import (
    AXIS,
    BAR,
    HALO,
    LINK,
    STRONG,
    THIN,
    choose_ticks,
    draw_clip,
    draw_line,
    draw_path,
    draw_text,
    draw_tick,
)

EDGE_NM = (390, 700)  # past it the edge doubles back
_MARKED_KELVIN = (1800, 2200, 2700, 3200, 4000, 5000, 5600, 6500, 8000, 10000, 15000)
_LOCUS_KELVIN = 1e6 / np.linspace(40.0, 1000.0, 161)
_DAYLIGHT_KELVIN = 1e6 / np.linspace(40.0, 250.0, 43)


@dataclass(frozen=True, eq=False)
class UvDiagram:
    """A part of the diagram in a picture.

    ``frame`` is left, top, right, bottom in the picture, ``low`` (2,) the u', v' of its lower left
    corner, ``scale`` the picture's units for one of u'.
    """

    frame: Box
    low: Array
    scale: float

    def place(self, uv: Array) -> tuple[float, float]:
        """Place u', v' (2,) in the picture."""
        x = self.frame[0] + self.scale * float(uv[0] - self.low[0])
        return x, self.frame[3] - self.scale * float(uv[1] - self.low[1])


def fit_diagram(frame: Box, points: Array, least_span: float, margin: float) -> UvDiagram:
    """Choose the part of the diagram around points (n, 2), with a margin beside their span."""
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum((high - low) * (1 + 2 * margin), least_span)
    size = np.array([frame[2] - frame[0], frame[3] - frame[1]])
    scale = float((size / span).min())
    return UvDiagram(frame, (low + high) / 2 - size / scale / 2, scale)


def draw_grid(diagram: UvDiagram, width: float) -> Markup:
    """Draw both axes of a diagram in a picture of some width, with their figures."""
    left, top, right, base = diagram.frame
    low, scale = diagram.low, diagram.scale
    high = low + np.array([right - left, base - top]) / scale
    parts = []
    for tick in choose_ticks(float(low[0]), float(high[0]), 74 / scale):
        x, _ = diagram.place(np.array([tick, low[1]]))
        parts.append(draw_line(x, top, x, base, THIN))
        parts.append(draw_tick(x, base + 18, f"{tick:.3g}", width))
    for tick in choose_ticks(float(low[1]), float(high[1]), 52 / scale):
        _, y = diagram.place(np.array([low[0], tick]))
        parts.append(draw_line(left, y, right, y, THIN))
        if y > top + 22:  # under the name of the axis
            parts.append(draw_text(left - 5, y + 4.5, f"{tick:.3g}", 'text-anchor="end"'))
    parts.append(draw_text(right, base + 38, "u'", 'text-anchor="end"'))
    parts.append(draw_text(left - 5, top + 12, "v'", 'text-anchor="end"'))
    parts.append(draw_line(left, base, right, base, AXIS) + draw_line(left, top, left, base, AXIS))
    return Markup("").join(parts)


def draw_loci(diagram: UvDiagram, labels: Labels) -> Markup:
    """Draw the edge of all colours, the black-body locus with Kelvin marks, and CIE daylight.

    The figures of Kelvin stand where ``labels`` has room for them; those that find none are left
    out. The locus itself is then kept free.
    """
    place = diagram.place
    edge, body, daylight, marks = _list_loci()
    parts = [
        draw_path(map(place, edge), BAR),
        draw_path(map(place, body), STRONG),
        draw_path(map(place, daylight), LINK),
    ]
    left, top, right, base = diagram.frame
    for kelvin, (here, ahead) in zip(_MARKED_KELVIN, marks, strict=True):
        x, y = place(here)
        if not (left + 10 < x < right - 24 and top + 16 < y < base - 26):
            continue
        end = np.array(place(ahead)) - np.array([x, y])
        across = np.array([-end[1], end[0]]) / np.hypot(*end)
        across = across if across[1] > 0 else -across  # downward on the page: the magenta side
        parts.append(draw_line(x - 5 * across[0], y - 5 * across[1], x + 5 * across[0],
                               y + 5 * across[1], BAR))  # fmt: skip
        at = (x + 16 * across[0] + 2, y + 16 * across[1] + 5)
        width = measure_text(f"{kelvin}", 11)
        if labels.reserve_text(at[0] - 2, at[1] - 10, at[0] + width, at[1] + 2):
            style = f'{HALO} font-size="11" fill-opacity=".8"'
            parts.append(draw_text(*at, f"{kelvin}", style))
    for x, y in (place(each) for each in body):
        labels.reserve(x, y, 4)
    return Markup("").join(parts)


@cache
def _list_loci() -> tuple[Array, Array, Array, Array]:
    """List the edge, the black bodies and the daylights (n, 2), and each mark and what is next."""
    marked = np.array(_MARKED_KELVIN)[:, None] * np.array([1.0, 1.01])
    loci = (radiate_black_body(_LOCUS_KELVIN), radiate_daylight(_DAYLIGHT_KELVIN))
    body, daylight = map(_find_locus, loci)
    marks = _find_locus(radiate_black_body(marked))
    return freeze(find_edge()), freeze(body), freeze(daylight), freeze(marks)


def find_edge() -> Array:
    """Find the locus of single wavelengths, (n, 2) for each nm from the first of `EDGE_NM` on."""
    first, last = (each - 380 for each in EDGE_NM)
    observer = load_table("observer")[first : last + 1]
    return find_uv_prime(observer[:, :2] / observer.sum(axis=-1, keepdims=True))


def frame_diagram(diagram: UvDiagram, inside: Markup, width: float, prefix: str) -> Markup:
    """Put a drawing inside a diagram's frame, cut off there, with the axes under it."""
    left, top, right, base = diagram.frame
    clip = draw_clip(f"{prefix}-c", left, top, right - left, base - top)
    clipped = Markup('<g clip-path="url(#{}-c)">{}</g>').format(prefix, inside)
    return clip + draw_grid(diagram, width) + clipped


def _find_locus(power: Array) -> Array:
    return find_uv_prime(find_xy(power))
