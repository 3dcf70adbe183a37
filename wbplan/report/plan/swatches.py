"""The chart at a position as a screen would show it: grey and skin large, all patches small.

These are the only pictures that carry meaning by colour, since colour is their subject; the
CIEDE2000 of every look stands in the table beside them. The ground is a mid grey, so that
neither a white nor a black page tints the eye.
"""

from __future__ import annotations

from markupsafe import Markup

from wbplan.planning.looks import Look
from wbplan.report.base.svg import wrap, write_number
from wbplan.report.base.words import say_significant

GREY, SKIN = 21, (0, 1)  # rows of the ISO 17321-1 chart: neutral 5, dark skin, light skin
_SIDE, _GAP, _COLUMNS = 26.0, 3.0, 6
_WIDTH = _COLUMNS * (_SIDE + _GAP) + _GAP
_STRIP = 58.0


def draw_look(look: Look, position: str, said: str, prefix: str) -> Markup:
    """Draw one look.

    Parameters
    ----------
    look
        What the chart looks like.
    position, said
        Where, and at which setting, in words.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`: a strip of grey and two skins, under it the chart in its own order.
    """
    third = (_WIDTH - 4 * _GAP) / 4
    strip = [
        _draw_patch(look, GREY, _GAP, _GAP, 2 * third, _STRIP),
        _draw_patch(look, SKIN[0], 2 * _GAP + 2 * third, _GAP, third, _STRIP),
        _draw_patch(look, SKIN[1], 3 * _GAP + 3 * third, _GAP, third, _STRIP),
    ]
    top = _STRIP + 2 * _GAP
    chart = [
        _draw_patch(
            look,
            row,
            _GAP + (row % _COLUMNS) * (_SIDE + _GAP),
            top + (row // _COLUMNS) * (_SIDE + _GAP),
            _SIDE,
            _SIDE,
        )
        for row in range(len(look.screen_rgb))
    ]
    height = top + 4 * (_SIDE + _GAP)
    ground = Markup('<rect width="{}" height="{}" fill="#767676"/>').format(
        write_number(_WIDTH), write_number(height)
    )
    text = "Above: grey, dark skin, light skin. Below: a chart of 24 patches."
    if look.ciede2000 is not None:
        text += (
            f" Against what is meant, CIEDE2000: grey {say_significant(look.ciede2000[GREY], 2)}, "
            f"skin {say_significant(look.ciede2000[list(SKIN)].max(), 2)} at most."
        )
    return wrap(
        ground + Markup("".join([*strip, *chart])),
        (_WIDTH, height),
        f"{position}: {said}",
        text,
        prefix,
    )


def write_colour(look: Look, row: int) -> str:
    """Write a patch's screen colour as six hexadecimal digits."""
    return "".join(f"{round(255 * float(each)):02x}" for each in look.screen_rgb[row])


def _draw_patch(look: Look, row: int, x: float, y: float, width: float, height: float) -> str:
    at = f'x="{write_number(x)}" y="{write_number(y)}"'
    size = f'width="{write_number(width)}" height="{write_number(height)}"'
    return f'<rect {at} {size} fill="#{write_colour(look, row)}"/>'  # figures alone, no text
