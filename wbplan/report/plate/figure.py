"""The views of a plate: camera, lights and positions seen from above, and from the side.

One scale in both directions, with a bar for it. A light is a square with a letter, a position a
disc with a number, so that shape tells them apart; full in the picture, hollow out of it, pale
where nothing tells. Names, distances and heights stand in the table beside them, under the same
marks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from markupsafe import Markup

from wbplan.core.names import clean_text
from wbplan.planning.plate.space import find_aim
from wbplan.planning.plate.values import InPicture
from wbplan.planning.sun import BodyView
from wbplan.report.base import svg
from wbplan.report.base.labels import Labels
from wbplan.report.plate.words import say_bearing, say_in_picture, say_metres, say_tilt
from wbplan.scene.plate import PlateLens, Spot, find_facing_deg

_WIDTH, _HEIGHT, _EDGE = 440.0, 340.0, 34.0
_LEAST_M = 1.0
_ARROW = 24.0
_MARK = 5.0
_MOST_RINGS = 5
_MOST_SIDE = 240.0
_SUN_EDGE = 16.0
_SIDEWAYS = 0.05  # of a direction that leaves nothing of it in a side view
_STROKE = 'stroke="currentColor" stroke-width="1.5"'
_STYLES = {
    "in": 'class="seen"',
    "partly": f'class="partly" fill-opacity=".35" {_STROKE}',
    "open": f'class="open" fill-opacity=".35" {_STROKE}',
    "out": f'class="unseen" fill="none" {_STROKE}',
}


def mark_spots(lights: list[str], positions: list[str]) -> dict[tuple[str, str], str]:
    """Give each light a letter (A to Z, AA and on) and each position its number, by kind, name."""
    marks = {("light", name): _letter(row) for row, name in enumerate(lights)}
    return marks | {("position", name): str(row + 1) for row, name in enumerate(positions)}


def _letter(row: int) -> str:
    first, last = divmod(row, 26)
    return (_letter(first - 1) if first else "") + chr(ord("A") + last)


def draw_layout(
    layout: tuple[Spot, ...],
    pictured: Sequence[InPicture | None],
    marks: Mapping[tuple[str, str], str],
    lens: PlateLens | None,
    prefix: str,
    sun: BodyView | None = None,
) -> Markup:
    """Draw the floor as seen from above.

    Parameters
    ----------
    layout
        One spot or more.
    pictured
        Where each lies in the picture, as `PlateView` has it.
    marks
        From `mark_spots`.
    lens
        Its angle of view across is drawn as two lines from the camera, where it is known.
    prefix
        Makes ids unique in the page.
    sun
        Is drawn at the frame, where it stands over the horizon and the lens's heading is known.
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

    labels = Labels((0.0, 0.0, _WIDTH, _HEIGHT))
    labels.reserve(zero_x, zero_y, 14)
    places = [(zero_x + scale * x, zero_y - scale * y) for x, y in (s.plan_m for s in layout)]
    for each in places:
        labels.reserve(*each, _MARK)
    parts = [_draw_scale(scale, labels), _draw_rings(zero_x, zero_y, scale, labels)]
    view = None if lens is None else lens.horizontal_angle_deg
    if view is not None:
        parts += _draw_edges(zero_x, zero_y, (-90.0 - view / 2, -90.0 + view / 2))
    told = ""
    if lens is not None and lens.heading_deg is not None:
        parts.append(_draw_north(lens.heading_deg, labels))
        if sun is not None and sun.is_up and sun.bearing_deg is not None:
            parts.append(_draw_sun(zero_x, zero_y, sun.bearing_deg, sun.elevation_deg, labels))
            told = f"; the sun: {say_bearing(sun.bearing_deg)}, {say_tilt(sun.elevation_deg)}"
    parts.append(_draw_camera(zero_x, zero_y))
    for spot, seen, at in zip(layout, pictured, places, strict=True):
        facing = find_facing_deg(spot, layout)
        turn = None if facing is None else math.radians(facing - 90.0)
        half = 0.0 if spot.size_m is None else scale * spot.size_m[0] / 2
        parts.append(_draw_spot(spot, seen, at, turn, half, labels))
    for spot, at in zip(layout, places, strict=True):
        mark = marks[spot.kind, spot.name]
        parts.append(labels.set_text(*at, mark, mark, f'font-weight="650" {svg.HALO}'))
    said = "; ".join(
        f"{marks[each.kind, each.name]} {each.name}: {say_metres(each.distance_m)}, "
        f"{say_bearing(each.bearing_deg)}{', ' if seen else ''}{say_in_picture(seen)}"
        for each, seen in zip(layout, pictured, strict=True)
    )
    return svg.wrap(
        Markup("").join(parts),
        (_WIDTH, _HEIGHT),
        "Plan view, camera at the foot looking up",
        f"Squares with letters are lights, discs with numbers positions. {clean_text(said)}{told}.",
        prefix,
    )


def draw_heights(
    layout: tuple[Spot, ...],
    pictured: Sequence[InPicture | None],
    marks: Mapping[tuple[str, str], str],
    lens: PlateLens | None,
    prefix: str,
) -> Markup | None:
    """Draw what has a height as seen from the right of the camera, looking left.

    The camera looks to the right of the drawing; the floor is a line. None where no height is
    known. The parameters are those of `draw_layout`; the angle of view up and down is drawn where
    the camera's height and tilt are known.
    """
    rows = [(s, seen) for s, seen in zip(layout, pictured, strict=True) if s.height_m is not None]
    if not rows:
        return None
    camera_m = None if lens is None else lens.camera_height_m
    points = [(each.plan_m[1], each.height_m or 0.0) for each, _ in rows]
    heights = [0.0, *(up for _, up in points), camera_m or 0.0]
    left, right = min(0.0, *(y for y, _ in points)), max(0.0, *(y for y, _ in points))
    low, high = min(heights), max(heights)
    across, up_m = max(right - left, _LEAST_M), max(high - low, _LEAST_M)
    wide = _WIDTH - 2 * _EDGE
    scale = min(wide / across, (_MOST_SIDE - 2 * _EDGE) / up_m)
    tall = scale * up_m + 2 * _EDGE
    zero_x = _WIDTH / 2 - scale * (left + right) / 2
    floor_y = tall - _EDGE + scale * low

    labels = Labels((0.0, 0.0, _WIDTH, tall))
    places = [(zero_x + scale * y, floor_y - scale * up) for y, up in points]
    for each in places:
        labels.reserve(*each, _MARK)
    parts = [
        svg.draw_line(0, floor_y, _WIDTH, floor_y, svg.AXIS),
        _draw_scale(scale, labels, tall),
    ]
    if camera_m is not None:
        eye = (zero_x, floor_y - scale * camera_m)
        labels.reserve(*eye, 14)
        tilt = None if lens is None else lens.tilt_deg
        view = None if lens is None else lens.vertical_angle_deg
        if tilt is not None and view is not None:
            parts += _draw_edges(*eye, (-tilt - view / 2, -tilt + view / 2), tall)
        turned = Markup('<g transform="rotate({} {} {})">{}</g>')
        angle = 90.0 - (tilt or 0.0)
        parts.append(turned.format(*map(svg.write_number, (angle, *eye)), _draw_camera(*eye)))
    for (spot, seen), at in zip(rows, places, strict=True):
        aim = find_aim(spot, layout, camera_m)
        turn = None
        if aim is not None:
            _, along, up = aim.vector
            turn = math.atan2(-up, along) if math.hypot(along, up) > _SIDEWAYS else None
        half = 0.0 if spot.size_m is None else scale * spot.size_m[1] / 2
        parts.append(_draw_spot(spot, seen, at, turn, half, labels))
    for (spot, _), at in zip(rows, places, strict=True):
        mark = marks[spot.kind, spot.name]
        parts.append(labels.set_text(*at, mark, mark, f'font-weight="650" {svg.HALO}'))
    said = "; ".join(
        f"{marks[each.kind, each.name]} {each.name}: {say_metres(each.height_m)} high"
        for each, _ in rows
    )
    return svg.wrap(
        Markup("").join(parts),
        (_WIDTH, tall),
        "Side view, the camera looking to the right",
        f"{clean_text(said)}.",
        prefix,
    )


def _reach(spot: Spot) -> tuple[float, float, float]:
    x, y = spot.plan_m
    return x, y, 0.0 if spot.size_m is None else spot.size_m[0] / 2


def _draw_scale(scale: float, labels: Labels, tall: float = _HEIGHT) -> Markup:
    """Draw a bar of a round length with its metres, in the lower left corner."""
    metres = svg.choose_ticks(0.0, 160.0 / scale, 30.0 / scale)[1]
    end, y = 10.0 + metres * scale, tall - 10.0
    said = f"{metres:g} m"
    labels.reserve_text(6.0, y - 18.0, max(end, 60.0), y + 6.0)
    ticks = [svg.draw_line(x, y - 3, x, y + 3, svg.BAR) for x in (10.0, end)]
    style = f'font-size="11" {svg.HALO}'
    text = svg.draw_text(10.0, y - 6, said, style)
    return Markup("").join([svg.draw_line(10.0, y, end, y, svg.BAR), *ticks, text])


def _draw_rings(zero_x: float, zero_y: float, scale: float, labels: Labels) -> Markup:
    """Draw circles of round distances from the camera, told where a label finds room."""
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


def _draw_edges(
    x: float, y: float, angles_deg: tuple[float, float], tall: float = _HEIGHT
) -> list[Markup]:
    """Draw the edges of the picture from the camera to the frame; 0 is right, 90 is down."""
    ends = [_find_edge(x, y, math.radians(each), (_WIDTH, tall)) for each in angles_deg]
    return [svg.draw_line(x, y, *end, svg.LINK) for end in ends]


def _find_edge(
    x: float, y: float, angle: float, size: tuple[float, float], inset: float = 0.0
) -> tuple[float, float]:
    """Find where a line from inside a drawing meets its frame, or one so far inside it."""
    steps = (math.cos(angle), math.sin(angle))
    reach = [
        (edge - at) / step
        for at, step, end in zip((x, y), steps, size, strict=True)
        for edge in (inset, end - inset)
        if abs(step) > 1e-9 and (edge - at) / step > 0
    ]
    length = max(min(reach, default=0.0), inset)
    return x + length * steps[0], y + length * steps[1]


def _draw_north(heading_deg: float, labels: Labels) -> Markup:
    """Draw where true north is, in the lower right corner."""
    x, y, half = _WIDTH - 22.0, _HEIGHT - 22.0, 12.0
    angle = math.radians(-90.0 - heading_deg)
    across, along = half * math.cos(angle), half * math.sin(angle)
    labels.reserve(x, y, 20)
    tip = (x + across, y + along)
    parts = [svg.draw_line(x - across, y - along, *tip, svg.AXIS)]
    for side in (-1, 1):
        back = (
            tip[0] - across / 3 + side * along / 4,
            tip[1] - along / 3 - side * across / 4,
        )
        parts.append(svg.draw_line(*tip, *back, svg.AXIS))
    style = f'font-size="11" text-anchor="middle" {svg.HALO}'
    parts.append(svg.draw_text(x - 1.5 * along * 0.6, y + 4 + 1.5 * across * 0.6, "N", style))
    return Markup("").join(parts)


def _draw_sun(
    x: float, y: float, bearing_deg: float, elevation_deg: float, labels: Labels
) -> Markup:
    """Draw the sun near the frame, a line from it towards the camera, and how high it stands."""
    angle = math.radians(bearing_deg - 90.0)
    across, along = math.cos(angle), math.sin(angle)
    at = _find_edge(x, y, angle, (_WIDTH, _HEIGHT), _SUN_EDGE)
    labels.reserve(*at, 10)
    parts = [svg.draw_circle(*at, 6, 'class="sun" stroke="currentColor" fill="none"')]
    for step in range(8):
        turn = math.pi * step / 4
        ray = (math.cos(turn), math.sin(turn))
        ends = (at[0] + 8 * ray[0], at[1] + 8 * ray[1], at[0] + 11 * ray[0], at[1] + 11 * ray[1])
        parts.append(svg.draw_line(*ends, svg.BAR))
    start, end = (
        (at[0] - 14 * across, at[1] - 14 * along),
        (at[0] - 30 * across, at[1] - 30 * along),
    )
    parts.append(svg.draw_line(*start, *end, svg.AXIS))
    parts.append(labels.set_text(*at, f"sun {elevation_deg:.0f}° up", "sun", svg.HALO))
    return Markup("").join(parts)


def _draw_camera(x: float, y: float) -> Markup:
    """Draw the camera: a box with a lens that looks up."""
    shape = f"M{svg.write_number(x - 7)} {svg.write_number(y)}h14v12h-14z"
    shape += f"M{svg.write_number(x - 4)} {svg.write_number(y)}l-4 -7h16l-4 7z"
    return Markup('<path d="{}" stroke="currentColor" stroke-width="1.5" fill="none"/>').format(
        shape
    )


def _draw_spot(
    spot: Spot,
    seen: InPicture | None,
    at: tuple[float, float],
    turn: float | None,
    half: float,
    labels: Labels,
) -> Markup:
    """Draw a mark with its arrow at an angle, 0 right and growing downwards, and its face."""
    x, y = at
    parts = []
    if turn is not None:
        across, along = math.cos(turn), math.sin(turn)
        tip = (x + _ARROW * across, y + _ARROW * along)
        parts.append(svg.draw_line(x, y, *tip, svg.AXIS))
        labels.reserve(*tip, 4)
        labels.reserve((x + tip[0]) / 2, (y + tip[1]) / 2, 3)
        for side in (-1, 1):
            back = (tip[0] - 6 * across + side * 4 * along, tip[1] - 6 * along - side * 4 * across)
            parts.append(svg.draw_line(*tip, *back, svg.AXIS))
        if half:
            wide = (half * along, -half * across)
            parts.append(
                svg.draw_line(x - wide[0], y - wide[1], x + wide[0], y + wide[1], svg.STRONG)
            )
    elif half:
        parts.append(svg.draw_circle(x, y, max(half, _MARK), svg.BAR))
    style = _STYLES["in" if seen is None else seen.where]
    if spot.kind == "light":
        corner = f"M{svg.write_number(x - _MARK)} {svg.write_number(y - _MARK)}h10v10h-10z"
        parts.append(Markup('<path d="{}" {}/>').format(corner, Markup(style)))
    else:
        parts.append(svg.draw_circle(x, y, _MARK, style))
    return Markup("").join(parts)
