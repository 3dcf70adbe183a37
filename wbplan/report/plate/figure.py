"""The plan view of a plate: camera, lights and positions on the floor, seen from above.

One scale in both directions, the camera at the foot of the drawing looking up. A light is a square
with a letter, a position a disc with a number, so that shape tells them apart; names, distances and
heights stand in the table beside it, under the same marks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from markupsafe import Markup

from wbplan.core.names import clean_text
from wbplan.report.base import svg
from wbplan.report.base.labels import Labels
from wbplan.report.plate.words import say_bearing, say_metres
from wbplan.scene.plate import Spot, find_facing_deg

_WIDTH, _HEIGHT, _EDGE = 440.0, 340.0, 34.0
_LEAST_M = 1.0
_ARROW = 24.0
_MARK = 5.0
_MOST_RINGS = 5


def mark_spots(lights: list[str], positions: list[str]) -> dict[tuple[str, str], str]:
    """Give each light a letter (A to Z, AA and on) and each position its number, by kind, name."""
    marks = {("light", name): _letter(row) for row, name in enumerate(lights)}
    return marks | {("position", name): str(row + 1) for row, name in enumerate(positions)}


def _letter(row: int) -> str:
    first, last = divmod(row, 26)
    return (_letter(first - 1) if first else "") + chr(ord("A") + last)


def draw_layout(
    layout: tuple[Spot, ...],
    marks: Mapping[tuple[str, str], str],
    view_deg: float | None,
    prefix: str,
) -> Markup:
    """Draw the floor as seen from above.

    Parameters
    ----------
    layout
        One spot or more.
    marks
        From `mark_spots`.
    view_deg
        The angle of view across, drawn as two lines from the camera; None where it is not known.
    prefix
        Makes ids unique in the page.
    """
    reach = [_reach(each) for each in layout]
    left = min(0.0, *(x - r for x, _, r in reach))
    right = max(0.0, *(x + r for x, _, r in reach))
    near = min(0.0, *(y - r for _, y, r in reach))
    far = max(0.0, *(y + r for _, y, r in reach))
    across, along = max(right - left, _LEAST_M), max(far - near, _LEAST_M)
    scale = min((_WIDTH - 2 * _EDGE) / across, (_HEIGHT - 2 * _EDGE) / along)
    zero_x = _WIDTH / 2 - scale * (left + right) / 2
    zero_y = _HEIGHT / 2 + scale * (near + far) / 2

    def place(x: float, y: float) -> tuple[float, float]:
        return zero_x + scale * x, zero_y - scale * y

    labels = Labels((0.0, 0.0, _WIDTH, _HEIGHT))
    labels.reserve(zero_x, zero_y, 14)
    places = [place(*each.plan_m) for each in layout]
    for each in places:
        labels.reserve(*each, _MARK)
    parts = [_draw_rings(zero_x, zero_y, scale, labels)]
    if view_deg is not None:
        for side in (-0.5, 0.5):
            angle = math.radians(side * view_deg)
            end = place(20 * across * math.sin(angle), 20 * along * math.cos(angle))
            parts.append(svg.draw_line(zero_x, zero_y, *_cut((zero_x, zero_y), end), svg.LINK))
    parts.append(_draw_camera(zero_x, zero_y))
    for spot, at in zip(layout, places, strict=True):
        parts.append(_draw_spot(spot, at, layout, scale, labels))
    for spot, at in zip(layout, places, strict=True):
        mark = marks[spot.kind, spot.name]
        parts.append(labels.set_text(*at, mark, mark, f'font-weight="650" {svg.HALO}'))
    said = "; ".join(
        f"{marks[each.kind, each.name]} {each.name}: {say_metres(each.distance_m)}, "
        f"{say_bearing(each.bearing_deg)}"
        for each in layout
    )
    return svg.wrap(
        Markup("").join(parts),
        (_WIDTH, _HEIGHT),
        "Plan view, camera at the foot looking up",
        f"Squares with letters are lights, discs with numbers positions. {clean_text(said)}.",
        prefix,
    )


def _reach(spot: Spot) -> tuple[float, float, float]:
    x, y = spot.plan_m
    return x, y, 0.0 if spot.size_m is None else spot.size_m[0] / 2


def _draw_rings(zero_x: float, zero_y: float, scale: float, labels: Labels) -> Markup:
    """Draw circles of round distances from the camera."""
    most = math.hypot(_WIDTH, _HEIGHT) / scale
    ticks = [each for each in svg.choose_ticks(0.0, most, most / _MOST_RINGS) if each > 0]
    parts = []
    for each in ticks:
        radius = each * scale
        parts.append(svg.draw_circle(zero_x, zero_y, radius, svg.THIN))
        top = zero_y - radius
        if 12 < top < _HEIGHT and labels.reserve_text(zero_x - 18, top - 8, zero_x + 18, top + 8):
            style = 'font-size="11" text-anchor="middle" fill-opacity=".75" ' + svg.HALO
            parts.append(svg.draw_text(zero_x, top + 4, f"{each:g} m", style))
    return Markup("").join(parts)


def _cut(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    """Shorten a line from inside the drawing so that it ends at its frame."""
    share = 1.0
    for at, to, most in zip(start, end, (_WIDTH, _HEIGHT), strict=True):
        for edge in (0.0, most):
            if (to - edge) * (at - edge) < 0:
                share = min(share, (edge - at) / (to - at))
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _draw_camera(x: float, y: float) -> Markup:
    """Draw the camera: a box with a lens that looks up."""
    shape = f"M{svg.write_number(x - 7)} {svg.write_number(y)}h14v12h-14z"
    shape += f"M{svg.write_number(x - 4)} {svg.write_number(y)}l-4 -7h16l-4 7z"
    return Markup('<path d="{}" stroke="currentColor" stroke-width="1.5" fill="none"/>').format(
        shape
    )


def _draw_spot(
    spot: Spot,
    at: tuple[float, float],
    layout: tuple[Spot, ...],
    scale: float,
    labels: Labels,
) -> Markup:
    x, y = at
    parts = []
    facing = find_facing_deg(spot, layout)
    if facing is not None:
        angle = math.radians(facing)
        across, along = math.sin(angle), -math.cos(angle)
        tip = (x + _ARROW * across, y + _ARROW * along)
        parts.append(svg.draw_line(x, y, *tip, svg.AXIS))
        labels.reserve(*tip, 4)
        labels.reserve((x + tip[0]) / 2, (y + tip[1]) / 2, 3)
        for side in (-1, 1):
            back = (tip[0] - 6 * across + side * 4 * along, tip[1] - 6 * along - side * 4 * across)
            parts.append(svg.draw_line(*tip, *back, svg.AXIS))
        if spot.size_m is not None:
            half = scale * spot.size_m[0] / 2
            wide = (half * along, -half * across)
            parts.append(
                svg.draw_line(x - wide[0], y - wide[1], x + wide[0], y + wide[1], svg.STRONG)
            )
    elif spot.size_m is not None:
        parts.append(svg.draw_circle(x, y, max(scale * spot.size_m[0] / 2, _MARK), svg.BAR))
    if spot.kind == "light":
        corner = f"M{svg.write_number(x - _MARK)} {svg.write_number(y - _MARK)}h10v10h-10z"
        parts.append(Markup('<path d="{}"/>').format(corner))
    else:
        parts.append(svg.draw_circle(x, y, _MARK))
    return Markup("").join(parts)
