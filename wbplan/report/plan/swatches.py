"""Surfaces at a position as a screen would show them: a ring of hues, five skins, five greys.

These are the only pictures that carry meaning by colour, since colour is their subject; the
CIEDE2000 of every look stands in the table beside them. The ground is a mid grey, so that
neither a white nor a black page tints the eye.
"""

from __future__ import annotations

import math
from functools import cache

from markupsafe import Markup

from wbplan.light.surfaces import GREY_ROW, GREY_ROWS, HUE_ROWS, SKIN_ROWS
from wbplan.planning.looks import Look
from wbplan.report.base.svg import wrap, write_number
from wbplan.report.base.words import say_difference

_GAP = 3.0
_RING, _HOLE, _DISC = 60.0, 35.0, 32.0  # radii
_MIDDLE = _GAP + _RING
_WIDTH, _STRIP = 180.0, 24.0
_APART_RAD = math.radians(1.5)  # from a hue to the line between it and the next


def draw_look(look: Look, position: str, said: str, prefix: str) -> Markup:
    """Draw one look.

    Parameters
    ----------
    look
        What the surfaces look like.
    position, said
        Where, and at which setting, in words.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`: hues in a ring, red to the right and yellow on top as in CIELAB, with the 18 % grey
        in it; beside it the skins, the darkest on top; under both the greys.
    """
    bottom = _MIDDLE + _RING
    ring = [_draw_hue(look, row, step) for step, row in enumerate(HUE_ROWS)]
    grey = write_colour(look, GREY_ROW)
    at = write_number(_MIDDLE)
    disc = f'<circle cx="{at}" cy="{at}" r="{write_number(_DISC)}" fill="#{grey}"/>'
    left = bottom + 2 * _GAP
    size = (2 * _RING - (len(SKIN_ROWS) - 1) * _GAP) / len(SKIN_ROWS)
    skins = [
        _draw_bar(look, row, left, _GAP + number * (size + _GAP), _WIDTH - _GAP - left, size)
        for number, row in enumerate(SKIN_ROWS)
    ]
    size = (_WIDTH - (len(GREY_ROWS) + 1) * _GAP) / len(GREY_ROWS)
    top = bottom + 2 * _GAP
    greys = [
        _draw_bar(look, row, _GAP + number * (size + _GAP), top, size, _STRIP)
        for number, row in enumerate(GREY_ROWS)
    ]
    height = top + _STRIP + _GAP
    ground = Markup('<rect width="{}" height="{}" fill="#767676"/>').format(
        write_number(_WIDTH), write_number(height)
    )
    text = "A ring of twelve hues round a grey of 18 %, five skins from dark to light, five greys."
    if look.ciede2000 is not None:
        misses = look.ciede2000
        skin = misses[SKIN_ROWS.start : SKIN_ROWS.stop].max()
        grey_misses, skin_misses = (say_difference(each) for each in (misses[GREY_ROW], skin))
        text += (
            f" Against what is meant, CIEDE2000: grey {grey_misses}, skin {skin_misses} at most."
        )
    return wrap(
        ground + Markup("".join([*ring, disc, *skins, *greys])),
        (_WIDTH, height),
        f"{position}: {said}",
        text,
        prefix,
    )


def write_colour(look: Look, row: int) -> str:
    """Write a surface's screen colour as six hexadecimal digits."""
    return "".join(f"{round(255 * float(each)):02x}" for each in look.screen_rgb[row])


def _draw_bar(look: Look, row: int, x: float, y: float, width: float, height: float) -> str:
    at = f'x="{write_number(x)}" y="{write_number(y)}"'
    size = f'width="{write_number(width)}" height="{write_number(height)}"'
    return f'<rect {at} {size} fill="#{write_colour(look, row)}"/>'  # figures alone, no text


def _draw_hue(look: Look, row: int, step: int) -> str:
    return f'<path d="{_outline_hue(step)}" fill="#{write_colour(look, row)}"/>'


@cache
def _outline_hue(step: int) -> str:
    """Outline a piece of the ring about the angle of a hue, anticlockwise from the right."""
    middle, half = 2 * math.pi * step / len(HUE_ROWS), math.pi / len(HUE_ROWS) - _APART_RAD
    ends = [
        f"{write_number(_MIDDLE + radius * math.cos(angle))} "
        f"{write_number(_MIDDLE - radius * math.sin(angle))}"
        for radius, angle in (
            (_RING, middle - half),
            (_RING, middle + half),
            (_HOLE, middle + half),
            (_HOLE, middle - half),
        )
    ]
    out, back = write_number(_RING), write_number(_HOLE)
    return f"M{ends[0]}A{out} {out} 0 0 0 {ends[1]}L{ends[2]}A{back} {back} 0 0 1 {ends[3]}Z"
