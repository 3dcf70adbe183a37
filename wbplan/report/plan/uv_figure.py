"""The diagram of lights: CIE 1976 u', v' with the loci, every light, and the camera's neutral.

A ring is a light as it burns, a dot the same behind its filter, a line joins them; the cross is
what the dialled setting shows as neutral, by the camera's own matrix.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from wbplan.core.names import clean_text
from wbplan.light.colorimetry import find_uv_prime
from wbplan.planning.eye_view import EyeView
from wbplan.planning.lights import LightPlan
from wbplan.planning.looks import Appearance
from wbplan.report.base.labels import Labels
from wbplan.report.base.svg import BAR, LINK, STRONG, draw_circle, draw_line, wrap
from wbplan.report.base.uv_diagram import draw_loci, fit_diagram, frame_diagram

_WIDTH, _HEIGHT = 440.0, 390.0
_FRAME = (48.0, 8.0, 432.0, 342.0)
_LEAST_SPAN, _MARGIN = 0.04, 0.15


def find_uv(eye: EyeView) -> tuple[float, float]:
    """Find u', v' of a light; NaN where there is none."""
    return find_uv_of((eye.x, eye.y))


def find_uv_of(xy: tuple[float, float]) -> tuple[float, float]:
    """Find u', v' of a chromaticity x, y."""
    u, v = find_uv_prime(np.array(xy))
    return float(u), float(v)


def draw_lights(
    lights: Sequence[LightPlan],
    appearance: Appearance,
    prefix: str,
    rows: Sequence[int] | None = None,
) -> Markup | None:
    """Draw where the lights of a setup lie.

    Parameters
    ----------
    lights
        Of the plan, in the order of ``appearance.bare``.
    appearance
        With the lights before their filters and the camera's neutral.
    prefix
        Makes ids unique in the page.
    rows
        Which lights are drawn; all where nothing is said.

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
    diagram = fit_diagram(_FRAME, points, _LEAST_SPAN, _MARGIN)
    place = diagram.place
    marks: list[Markup] = []
    labels = Labels(_FRAME)
    if np.isfinite(neutral).all():
        x, y = place(neutral)
        labels.reserve(x, y, 9)
        marks.append(draw_line(x - 8, y, x + 8, y, STRONG) + draw_line(x, y - 8, x, y + 8, STRONG))
    shown = [(row, lights[row]) for row in (range(len(lights)) if rows is None else rows)]
    for row, light in shown:
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
    loci = draw_loci(diagram, labels)
    for row, light in shown:
        if np.isfinite(behind[row]).all():
            marks.append(labels.set_label(*place(behind[row]), row + 1, clean_text(light.name)))
    said = "; ".join(
        f"{row + 1} {light.name} at {behind[row][0]:.4f}, {behind[row][1]:.4f}"
        for row, light in shown
        if np.isfinite(behind[row]).all()
    )
    cross = "The camera's neutral has no place here."
    if np.isfinite(neutral).all():
        cross = f"The camera's neutral at {neutral[0]:.4f}, {neutral[1]:.4f}."
    body = frame_diagram(diagram, loci, _WIDTH, prefix) + Markup("").join(marks)
    return wrap(
        body,
        (_WIDTH, _HEIGHT),
        "Where the lights lie, and the camera's neutral",
        f"CIE 1976 u' across, v' up. Behind their filters: {said or 'no light'}. {cross}",
        prefix,
    )
