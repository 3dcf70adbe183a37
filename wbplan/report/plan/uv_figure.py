"""The diagram of lights: CIE 1976 u', v' with the loci, every light, and the camera's neutral.

A ring is a light as it burns, a dot the same behind its filter, a line joins them; the cross is
what the dialled setting shows as neutral, by the camera's own matrix. Both axes have one scale, so
distances are those of the diagram.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from wbplan.core.names import clean_text
from wbplan.core.tables import Array, load_table
from wbplan.light.colorimetry import find_uv_prime, find_xy
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.planning.eye_view import EyeView
from wbplan.planning.lights import LightPlan
from wbplan.planning.looks import Appearance
from wbplan.report.base.labels import Labels, measure_text
from wbplan.report.base.svg import (
    AXIS,
    BAR,
    HALO,
    LINK,
    STRONG,
    THIN,
    choose_ticks,
    draw_circle,
    draw_clip,
    draw_line,
    draw_path,
    draw_text,
    draw_tick,
    wrap,
)

_WIDTH, _HEIGHT = 440.0, 390.0
_FRAME = (48.0, 8.0, 432.0, 342.0)
_LEAST_SPAN, _MARGIN = 0.04, 0.15
_MARKED_KELVIN = (1800, 2200, 2700, 3200, 4000, 5000, 5600, 6500, 8000, 10000, 15000)
_LOCUS_KELVIN = 1e6 / np.linspace(40.0, 1000.0, 161)
_DAYLIGHT_KELVIN = 1e6 / np.linspace(40.0, 250.0, 43)


def find_uv(eye: EyeView) -> tuple[float, float]:
    """Find u', v' of a light; NaN where there is none."""
    return find_uv_of((eye.x, eye.y))


def find_uv_of(xy: tuple[float, float]) -> tuple[float, float]:
    """Find u', v' of a chromaticity x, y."""
    u, v = find_uv_prime(np.array(xy))
    return float(u), float(v)


def draw_lights(lights: Sequence[LightPlan], appearance: Appearance, prefix: str) -> Markup | None:
    """Draw where the lights of a setup lie.

    Parameters
    ----------
    lights
        Of the plan, in the order of ``appearance.bare``.
    appearance
        With the lights before their filters and the camera's neutral.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup or None
        `<svg>`; None where neither a light nor the neutral can be placed.
    """
    neutral = np.array(find_uv_of(appearance.neutral_xy))
    bare = np.array([find_uv(each) for each in appearance.bare])
    behind = np.array([find_uv(each.eye) for each in lights])
    points = np.concatenate([neutral[None], bare, behind])
    points = points[np.isfinite(points).all(axis=-1)]
    if not points.size:
        return None
    place, scale, low = _fit(points)
    left, top, right, base = _FRAME
    frame = draw_clip(f"{prefix}-c", left, top, right - left, base - top)
    marks: list[Markup] = []
    labels = Labels(_FRAME)
    inside = Markup('<g clip-path="url(#{}-c)">{}</g>')
    if np.isfinite(neutral).all():
        x, y = place(neutral)
        labels.reserve(x, y, 9)
        marks.append(draw_line(x - 8, y, x + 8, y, STRONG) + draw_line(x, y - 8, x, y + 8, STRONG))
    for row, light in enumerate(lights):
        if not np.isfinite(bare[row]).all():
            continue
        x, y = place(bare[row])
        labels.reserve(x, y, 6)
        marks.append(draw_circle(x, y, 5.5, BAR))
        if not np.isfinite(behind[row]).all():
            continue
        end = place(behind[row])
        labels.reserve(*end, 5)
        if light.filter_name != "none":
            marks.append(draw_line(x, y, *end, LINK))
        marks.append(draw_circle(*end, 3.5))
    loci = _draw_loci(place, labels)
    for row, light in enumerate(lights):
        if np.isfinite(behind[row]).all():
            marks.append(labels.set_label(*place(behind[row]), row + 1, clean_text(light.name)))
    said = "; ".join(
        f"{row + 1} {light.name} at {behind[row][0]:.4f}, {behind[row][1]:.4f}"
        for row, light in enumerate(lights)
        if np.isfinite(behind[row]).all()
    )
    cross = "The camera's neutral has no place here."
    if np.isfinite(neutral).all():
        cross = f"The camera's neutral at {neutral[0]:.4f}, {neutral[1]:.4f}."
    body = (
        frame + _draw_grid(place, scale, low) + inside.format(prefix, loci) + Markup("").join(marks)
    )
    return wrap(
        body,
        (_WIDTH, _HEIGHT),
        "Where the lights lie, and the camera's neutral",
        f"CIE 1976 u' across, v' up. Behind their filters: {said or 'no light'}. {cross}",
        prefix,
    )


class _Place:
    """From u', v' to the drawing, one scale for both."""

    def __init__(self, scale: float, low: Array) -> None:
        self._scale, self._low = scale, low

    def __call__(self, uv: Array) -> tuple[float, float]:
        x = _FRAME[0] + self._scale * float(uv[0] - self._low[0])
        return x, _FRAME[3] - self._scale * float(uv[1] - self._low[1])


def _fit(points: Array) -> tuple[_Place, float, Array]:
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum((high - low) * (1 + 2 * _MARGIN), _LEAST_SPAN)
    size = np.array([_FRAME[2] - _FRAME[0], _FRAME[3] - _FRAME[1]])
    scale = float((size / span).min())
    corner = (low + high) / 2 - size / scale / 2
    return _Place(scale, corner), scale, corner


def _draw_grid(place: _Place, scale: float, low: Array) -> Markup:
    left, top, right, base = _FRAME
    high = low + np.array([right - left, base - top]) / scale
    parts = []
    for tick in choose_ticks(float(low[0]), float(high[0]), 74 / scale):
        x, _ = place(np.array([tick, low[1]]))
        parts.append(draw_line(x, top, x, base, THIN))
        parts.append(draw_tick(x, base + 18, f"{tick:.3g}", _WIDTH))
    for tick in choose_ticks(float(low[1]), float(high[1]), 52 / scale):
        _, y = place(np.array([low[0], tick]))
        parts.append(draw_line(left, y, right, y, THIN))
        if y > top + 22:  # under the name of the axis
            parts.append(draw_text(left - 5, y + 4.5, f"{tick:.3g}", 'text-anchor="end"'))
    parts.append(draw_text(right, base + 38, "u'", 'text-anchor="end"'))
    parts.append(draw_text(left - 5, top + 12, "v'", 'text-anchor="end"'))
    parts.append(draw_line(left, base, right, base, AXIS) + draw_line(left, top, left, base, AXIS))
    return Markup("").join(parts)


def _draw_loci(place: _Place, labels: Labels) -> Markup:
    """Draw the edge of all colours, the black-body locus with Kelvin marks, and CIE daylight."""
    observer = load_table("observer")[10:321]  # 390 to 700 nm: past it the edge doubles back
    edge = find_uv_prime(observer[:, :2] / observer.sum(axis=-1, keepdims=True))
    body = _find_locus(radiate_black_body(_LOCUS_KELVIN))
    parts = [
        draw_path(map(place, edge), BAR),
        draw_path(map(place, body), STRONG),
        draw_path(map(place, _find_locus(radiate_daylight(_DAYLIGHT_KELVIN))), LINK),
    ]
    left, top, right, base = _FRAME
    for kelvin in _MARKED_KELVIN:
        here, ahead = _find_locus(radiate_black_body(np.array([kelvin, 1.01 * kelvin])))
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


def _find_locus(power: Array) -> Array:
    return find_uv_prime(find_xy(power))
