"""The pictures of a learned camera: its curves with their spread, and lights before and after."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from wbplan.camera.learn.verdict import LampView, Teaching
from wbplan.camera.population import GRID_NM
from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.names import clean_text
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.report.base import svg
from wbplan.report.base.labels import shorten

_WIDTH, _HEIGHT = 560.0, 300.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 12.0, 548.0, 30.0, 264.0
_ENDS = (5.0, 95.0)  # percentiles of the plausible cameras
_SHADE = 'fill="currentColor" fill-opacity=".16" stroke="none"'
_ROW, _BARS_TOP, _BARS_LEFT, _BARS_RIGHT = 30.0, 8.0, 128.0, 440.0
_THICK = 'stroke="currentColor" stroke-width="7" fill="none"'
_LEAST_SPAN = 4.0  # mired either way


def draw_curves(teaching: Teaching, prefix: str) -> Markup:
    """Draw the learned curves over the band of plausible cameras, and those started from.

    Each channel of the starting profile is drawn as high as the learned one, since an exposure and
    a gain are nobody's to know; the letter of a channel stands at its peak.
    """
    learned, start = teaching.learned.sensitivities, teaching.lesson.start.sensitivities
    top = float(np.percentile(teaching.members, _ENDS[1], axis=0).max())
    top = max(top, float(learned.max()))

    def place(nm: np.ndarray, values: np.ndarray) -> list[tuple[float, float]]:
        xs = _LEFT + (_RIGHT - _LEFT) * (nm - WAVELENGTHS_NM[0]) / np.ptp(WAVELENGTHS_NM)
        ys = _BOTTOM - (_BOTTOM - _TOP) * values / top
        return list(zip(xs.tolist(), np.round(ys, 1).tolist(), strict=True))

    body = [svg.draw_line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, svg.AXIS)]
    for tick in range(400, 800, 50):
        ((x, _),) = place(np.array([float(tick)]), np.zeros(1))
        body.append(svg.draw_line(x, _TOP, x, _BOTTOM, svg.THIN))
        label = f"{tick} nm" if tick == 750 else f"{tick}"
        body.append(svg.draw_text(x, _BOTTOM + 20, label, 'text-anchor="middle"'))
    said = []
    for number, channel in enumerate(CHANNELS):
        low, high = np.percentile(teaching.members[:, :, number], _ENDS, axis=0)
        outline = place(GRID_NM, high) + place(GRID_NM, low)[::-1]
        body.append(svg.draw_path(outline, _SHADE, closed=True))
        own = learned[:, number]
        before = start[:, number] * own.max() / start[:, number].max()
        body.append(svg.draw_path(place(WAVELENGTHS_NM, before), svg.LINK))
        body.append(svg.draw_path(place(WAVELENGTHS_NM, own), svg.choose_dashes(number)))
        peak = int(own.argmax())
        ((x, y),) = place(WAVELENGTHS_NM[peak : peak + 1], own[peak : peak + 1])
        weight = 'text-anchor="middle" font-weight="650"'
        body.append(svg.draw_text(x, y - 8, channel[0].upper(), weight))
        widest = float((high - low).max() / own.max())
        said.append(
            f"{channel} highest at {WAVELENGTHS_NM[peak]:.0f} nm, its band up to "
            f"{100 * widest:.0f} % of its peak wide"
        )
    text = f"{'; '.join(said)}. Dotted: the profile that was started from."
    view = (_WIDTH, _HEIGHT)
    return svg.wrap(Markup("").join(body), view, "The camera’s curves", text, prefix)


def draw_lights(views: Sequence[LampView], start: str, prefix: str) -> Markup:
    """Draw how far settings were off, in mired: a row for each light, the learned setting at 0.

    The thick bar is the band now, the thin one with the disc the starting profile's.
    """
    before = [view.mired_before - view.mired for view in views]
    ends = [abs(off) + view.mired_width_before / 2 for off, view in zip(before, views, strict=True)]
    span = max(_LEAST_SPAN, *ends, *(view.mired_width / 2 for view in views)) * 1.05
    height = _BARS_TOP + _ROW * len(views)
    middle = (_BARS_LEFT + _BARS_RIGHT) / 2
    scale = (_BARS_RIGHT - _BARS_LEFT) / 2 / span

    def draw_bar(off: float, width: float, y: float, style: str) -> Markup:
        left, right = (middle + scale * (off + side * width / 2) for side in (-1.0, 1.0))
        return svg.draw_line(left, y, max(right, left + 1.0), y, style)

    body = []
    for tick in svg.choose_ticks(-span, span, 2 * span / 6):
        x = middle + scale * tick
        body.append(svg.draw_line(x, _BARS_TOP, x, height, svg.THIN if tick else svg.AXIS))
        body.append(svg.draw_tick(x, height + 18, f"{abs(tick):g}", _BARS_RIGHT))
    for row, (view, off) in enumerate(zip(views, before, strict=True)):
        y = _BARS_TOP + _ROW * (row + 0.5)
        name = shorten(clean_text(view.lamp), _BARS_LEFT - 8)
        body.append(svg.draw_text(0, y + 5, name))
        body.append(draw_bar(off, view.mired_width_before, y - 5, svg.BAR))
        body.append(svg.draw_circle(middle + scale * off, y - 5, 4.0))
        body.append(draw_bar(0.0, view.mired_width, y + 6, _THICK))
    foot = height + 38
    body.append(svg.draw_text(_BARS_LEFT, foot, "for cooler light"))
    body.append(svg.draw_text(middle, foot, "mired", 'text-anchor="middle"'))
    body.append(svg.draw_text(_BARS_RIGHT, foot, "for warmer light", 'text-anchor="end"'))
    listed = "; ".join(
        f"{clean_text(view.lamp)}: off by {abs(off):.1f}, band {view.mired_width_before:.1f} "
        f"then and {view.mired_width:.1f} now"
        for view, off in zip(views, before, strict=True)
    )
    text = f"Mired, the learned setting in the middle; {start} beside it. {listed}."
    view_box = (_BARS_RIGHT, foot + 10)
    return svg.wrap(Markup("").join(body), view_box, "How far settings were off", text, prefix)
