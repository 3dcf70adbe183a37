"""The decision of a setup as one picture: what to dial, the stop, how the key will look."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from wbplan.planning.casts import name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.report.base import svg
from wbplan.report.base.words import say_cast, say_dial, say_kelvin
from wbplan.report.exposure.words import DayRow

_WIDTH, _EDGE = 760.0, 24.0
_CHIPS_LEFT, _CHIP_WIDTH, _CHIP_HEIGHT, _ROW = 230.0, 82.0, 24.0, 30.0
_TOP = 256.0  # of the rows
_BIG = 'font-size="64" font-weight="650"'
_MIDDLE = 'font-size="32" font-weight="650"'
_SMALL = 'fill-opacity="0.75"'
_MOST_LETTERS = 58


def draw_card(
    plan: SetupPlan, line: DayRow, rows: Sequence[tuple[str, Sequence[str]]], prefix: str
) -> Markup:
    """Draw a setup's decision.

    Parameters
    ----------
    line
        What is set for it, as the day's summary says it.
    rows
        Titles of looks of the key, and the colours of a grey and of skins in each, as six
        hexadecimal digits.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`.
    """
    key = plan.key
    look = key.trouble or say_cast(key.cast)
    meant = f"; meant: {key.intent_words}" if key.is_judged and not key.trouble else ""
    dial = plan.dial.preset or say_kelvin(plan.dial.kelvin)
    parts = [
        svg.draw_text(_EDGE, 36, f"{_shorten(plan.name)}, {plan.setup.camera.name}", _SMALL),
        svg.draw_text(_EDGE, 104, dial, _BIG),
        svg.draw_text(_EDGE, 148, name_tint(plan.dial.tint_cc), _MIDDLE),
        svg.draw_text(_WIDTH / 2, 104, line.stop, _BIG),
        svg.draw_text(_EDGE, 184, _shorten(line.nd, 74), 'font-size="20"'),
        svg.draw_text(_EDGE, 210, line.shutter, _SMALL),
        svg.draw_text(_EDGE, 242, _shorten(f"{key.name}: {look}{meant}", 90), 'font-size="17"'),
    ]
    for number, (title, colours) in enumerate(rows):
        top = _TOP + number * _ROW
        parts.append(svg.draw_text(_EDGE, top + 17, title))
        for column, colour in enumerate(colours):
            left = _CHIPS_LEFT + column * _CHIP_WIDTH
            size = (_CHIP_WIDTH - 3, _CHIP_HEIGHT)
            parts.append(svg.draw_rect(left, top, *size, f'fill="#{colour}"'))
    said = (
        f"Dial {say_dial(plan.dial, plan.setup.camera.menu.cc_per_step)}; {line.stop}, {line.nd}. "
        f"{key.name} will look {look}{meant}. Each row: a grey and skins from dark to light."
    )
    height = _TOP + len(rows) * _ROW + 14
    return svg.wrap(
        Markup("").join(parts), (_WIDTH, height), f"{plan.name}: what to set", said, prefix
    )


def _shorten(text: str, most: int = _MOST_LETTERS) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"
