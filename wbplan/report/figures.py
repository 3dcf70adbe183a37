"""The pictures of the page, as SVG text without a plotting library.

Idea
----
Each figure is one `<svg>` in the page itself: no file, no script, no second import. Lines and text
are drawn in currentColor, so that the page's light, dark and print colours reach them, and shape,
place and words carry the meaning, never colour. Every figure has a title and a description, and
its numbers stand in a table beside it.

The map of casts gives one CC the length of seven mired, so that equal lengths are about equally
visible (`whitebalance.find_distance`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from wbplan.decisions import LightPlan, PositionPlan
from wbplan.report.words import clean_text, say_cast, say_kelvin
from wbplan.spectrum import WAVELENGTHS_NM
from wbplan.whitebalance import MIRED_PER_CC

_WIDTH, _HEIGHT = 400.0, 310.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 392.0, 8.0, 264.0
_LETTER, _LINE = 7.5, 15.0  # of the labels' font of 14 units, wide enough for most letters
_LEAST_MIRED, _LEAST_CC = 30.0, 3.0
_LONGEST_NAME = 18

Box = tuple[float, float, float, float]


def _n(value: float) -> str:
    return f"{round(value, 2) + 0.0:g}"


def _wrap(body: Markup, view: tuple[float, float], title: str, text: str, prefix: str) -> Markup:
    head = Markup(
        '<svg role="img" viewBox="0 0 {w} {h}" aria-labelledby="{id}-t {id}-d" '
        'font-size="14" fill="currentColor">'
        '<title id="{id}-t">{title}</title><desc id="{id}-d">{text}</desc>'
    ).format(
        w=_n(view[0]), h=_n(view[1]), id=prefix, title=clean_text(title), text=clean_text(text)
    )
    return head + body + Markup("</svg>")


def _line(x1: float, y1: float, x2: float, y2: float, style: str) -> Markup:
    return Markup('<path d="M{} {}L{} {}" {}/>').format(
        _n(x1), _n(y1), _n(x2), _n(y2), Markup(style)
    )


def _text(x: float, y: float, text: str, style: str = "") -> Markup:
    return Markup('<text x="{}" y="{}" {}>{}</text>').format(
        _n(x), _n(y), Markup(style), clean_text(text)
    )


def _circle(x: float, y: float, radius: float, style: str = "") -> Markup:
    return Markup('<circle cx="{}" cy="{}" r="{}" {}/>').format(
        _n(x), _n(y), _n(radius), Markup(style)
    )


_THIN = 'stroke="currentColor" stroke-width="1" stroke-opacity=".18" fill="none"'
_AXIS = 'stroke="currentColor" stroke-width="1.2" stroke-opacity=".6" fill="none"'
_BAR = 'stroke="currentColor" stroke-width="1" stroke-opacity=".75" fill="none"'
_LINK = 'stroke="currentColor" stroke-width="1" stroke-dasharray="2 4" fill="none"'
_HALO = 'class="halo"'  # the page's ground around letters, where a line passes under them
_STRONG = 'stroke="currentColor" stroke-width="2" fill="none"'


@dataclass(frozen=True)
class _Plane:
    """Where mired and CC lie in the drawing: ``scale`` units per mired, the origin at (x, y)."""

    scale: float
    x: float
    y: float

    def place(self, mired: float, cc: float) -> tuple[float, float]:
        return self.x + self.scale * mired, self.y - self.scale * MIRED_PER_CC * cc


def _fit_plane(mired: Sequence[float], cc: Sequence[float]) -> _Plane:
    def span(values: Sequence[float], least: float) -> tuple[float, float]:
        low, high = min(0.0, *values), max(0.0, *values)
        half = max((high - low) * 0.58, least / 2)
        return (low + high) / 2, half

    middle_m, half_m = span(mired, _LEAST_MIRED)
    middle_c, half_c = span(cc, _LEAST_CC)
    width, height = _RIGHT - _LEFT, _BOTTOM - _TOP
    scale = min(width / 2 / half_m, height / 2 / (half_c * MIRED_PER_CC))
    return _Plane(
        scale,
        (_LEFT + _RIGHT) / 2 - scale * middle_m,
        (_TOP + _BOTTOM) / 2 + scale * MIRED_PER_CC * middle_c,
    )


def _choose_ticks(low: float, high: float, least: float) -> list[float]:
    """Choose round figures from low to high, at least ``least`` apart."""
    power = 10.0 ** math.floor(math.log10(least))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= least)
    return [step * each for each in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _draw_grid(plane: _Plane) -> Markup:
    parts = []
    low, high = (_LEFT - plane.x) / plane.scale, (_RIGHT - plane.x) / plane.scale
    for tick in _choose_ticks(low, high, 52 / plane.scale):
        x, _ = plane.place(tick, 0)
        parts.append(_line(x, _TOP, x, _BOTTOM, _AXIS if tick == 0 else _THIN))
        parts.append(_text(x, _BOTTOM + 17, f"{abs(tick):g}", 'text-anchor="middle"'))
    per_cc = plane.scale * MIRED_PER_CC
    low, high = (plane.y - _BOTTOM) / per_cc, (plane.y - _TOP) / per_cc
    for tick in _choose_ticks(low, high, 34 / per_cc):
        _, y = plane.place(0, tick)
        parts.append(_line(_LEFT, y, _RIGHT, y, _AXIS if tick == 0 else _THIN))
        parts.append(_text(_LEFT - 5, y + 4.5, f"{abs(tick):g}", 'text-anchor="end"'))
    below = _BOTTOM + 37
    parts += [
        _text(_LEFT, below, "← cool"),
        _text((_LEFT + _RIGHT) / 2, below, "mired", 'text-anchor="middle"'),
        _text(_RIGHT, below, "warm →", 'text-anchor="end"'),
    ]
    turned = Markup('<g transform="translate(13 {}) rotate(-90)">{}</g>')
    length = _BOTTOM - _TOP
    words = (
        _text(0, 0, "← magenta")
        + _text(length / 2, 0, "CC", 'text-anchor="middle"')
        + _text(length, 0, "green →", 'text-anchor="end"')
    )
    return Markup("").join([*parts, turned.format(_n(_BOTTOM), words)])


@dataclass
class _Labels:
    """Boxes that are taken, so that a label finds room.

    Without room for the name the number alone is set, in the last resort over a bar.
    """

    taken: list[Box] = field(default_factory=list)
    texts: list[Box] = field(default_factory=list)

    def reserve(self, x: float, y: float, half: float) -> None:
        self.taken.append((x - half, y - half, x + half, y + half))

    def reserve_bar(self, x1: float, y1: float, x2: float, y2: float) -> None:
        self.taken.append((min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))

    def set_label(self, x: float, y: float, number: int, name: str) -> Markup:
        short = name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1] + "…"
        for text, avoid in (
            (f"{number} {short}", self.taken),
            (f"{number}", self.taken),
            (f"{number}", self.texts),
        ):
            width = _LETTER * len(text)
            for left, middle in (
                (x + 9, y),
                (x - 9 - width, y),
                (x + 6, y - 14),
                (x + 6, y + 14),
                (x - 6 - width, y - 14),
                (x - 6 - width, y + 14),
                (x - width / 2, y - 17),
                (x - width / 2, y + 17),
            ):
                box = (left, middle - _LINE / 2, left + width, middle + _LINE / 2)
                inside = box[0] >= _LEFT and box[2] <= _RIGHT
                inside = inside and box[1] >= _TOP and box[3] <= _BOTTOM
                if inside and not any(_overlap(box, each) for each in avoid):
                    self.taken.append(box)
                    self.texts.append(box)
                    return _text(left, middle + 4.5, text, _HALO)
        return _text(x + 9, y + 4.5, str(number), _HALO)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def is_on_map(position: PositionPlan) -> bool:
    """Tell whether a position's cast can be drawn: its light is one that a setting neutralises."""
    return not position.trouble


def draw_cast_map(positions: Sequence[PositionPlan], prefix: str) -> Markup:
    """Draw the casts of positions around the dialled setting.

    Parameters
    ----------
    positions
        In the order of their numbers, which count from 1; those whose light nothing
        neutralises are left out, which the page has to say.
    prefix
        Makes ids unique in the page.

    Returns
    -------
    Markup
        `<svg>`: a dot and thin bars of the interval for each position, a ring for what is
        wanted there, a dotted line between the two, a cross for the setting.
    """
    shown = [(row + 1, each) for row, each in enumerate(positions) if is_on_map(each)]
    spans = [(each.cast.mired, each.cast.green_cc) for _, each in shown]
    rings = [_find_wanted(each) for _, each in shown]
    seen = [each for each in rings if each is not None]
    plane = _fit_plane(
        [end for mired, _ in spans for end in (mired.low, mired.high)] + [m for m, _ in seen],
        [end for _, cc in spans for end in (cc.low, cc.high)] + [c for _, c in seen],
    )
    labels, marks = _Labels(), []
    zero_x, zero_y = plane.place(0, 0)
    labels.reserve(zero_x, zero_y, 8)
    for place in dict.fromkeys(seen):
        x, y = plane.place(*place)
        labels.reserve(x, y, 8)
        marks.append(_circle(x, y, 7, _BAR))
    for (mired, cc), wanted in zip(spans, rings, strict=True):
        x, y = plane.place(mired.value, cc.value)
        labels.reserve(x, y, 5)
        left, low = plane.place(mired.low, cc.low)
        right, high = plane.place(mired.high, cc.high)
        if mired.is_open:
            labels.reserve_bar(left, y, right, y)
            marks.append(_line(left, y, right, y, _BAR))
        if cc.is_open:
            labels.reserve_bar(x, low, x, high)
            marks.append(_line(x, low, x, high, _BAR))
        if wanted is not None:
            marks.append(_line(x, y, *plane.place(*wanted), _LINK))
        marks.append(_circle(x, y, 4.5))
    marks.append(_line(zero_x - 7, zero_y, zero_x + 7, zero_y, _STRONG))
    marks.append(_line(zero_x, zero_y - 7, zero_x, zero_y + 7, _STRONG))
    for (number, each), (mired, cc) in zip(shown, spans, strict=True):
        x, y = plane.place(mired.value, cc.value)
        marks.append(labels.set_label(x, y, number, clean_text(each.name)))
    said = "; ".join(f"{number} {each.name}: {say_cast(each.cast)}" for number, each in shown)
    return _wrap(
        _draw_grid(plane) + Markup("").join(marks),
        (_WIDTH, _HEIGHT),
        "Map of casts around the dialled setting",
        f"Across: mired, cool left and warm right. Up: green, down: magenta, in CC. {said}.",
        prefix,
    )


def _find_wanted(position: PositionPlan) -> tuple[float, float] | None:
    if position.weight == 0:
        return None
    cast, off = position.cast, position.off_intent
    # Rounded, so that intents which are the same give one ring.
    return (
        round(cast.mired.value - off.mired.value, 6) + 0.0,
        round(cast.green_cc.value - off.green_cc.value, 6) + 0.0,
    )


_CURVE_TOP, _CURVE_BASE, _CURVE_LEFT = 8.0, 138.0, 14.0


def draw_spectrum(light: LightPlan, prefix: str) -> Markup:
    """Draw a light's relative power behind its filter, 380 to 780 nm, its peak at full height.

    Returns
    -------
    Markup
        `<svg>` with one unit per nanometre across.
    """
    peak = float(light.power.max())
    height = (_CURVE_BASE - _CURVE_TOP) / peak if peak > 0 else 0.0
    xs = _CURVE_LEFT + WAVELENGTHS_NM - WAVELENGTHS_NM[0]
    ys = _CURVE_BASE - height * light.power
    points = "L".join(f"{_n(x)} {_n(round(y, 1))}" for x, y in zip(xs, ys, strict=True))
    right = float(xs[-1])
    area = Markup('<path d="M{}L{} {}L{} {}Z" fill-opacity=".16"/>').format(
        points, _n(right), _n(_CURVE_BASE), _n(_CURVE_LEFT), _n(_CURVE_BASE)
    )
    curve = Markup('<path d="M{}" {}/>').format(points, Markup(_STRONG))
    axis = [_line(_CURVE_LEFT, _CURVE_BASE, right, _CURVE_BASE, _AXIS)]
    for tick in (400, 500, 600, 700):
        x = _CURVE_LEFT + tick - float(WAVELENGTHS_NM[0])
        label = f"{tick} nm" if tick == 700 else f"{tick}"
        axis.append(_line(x, _CURVE_BASE, x, _CURVE_BASE + 7, _AXIS))
        axis.append(_text(x, _CURVE_BASE + 30, label, 'text-anchor="middle" font-size="22"'))
    if peak > 0:
        highest = WAVELENGTHS_NM[int(light.power.argmax())]
        text = (
            f"Relative power from 380 to 780 nm, highest at {highest:.0f} nm; "
            f"{say_kelvin(light.eye.cct_kelvin)} to the eye."
        )
    else:
        text = "No light gets through."
    return _wrap(
        area + curve + Markup("").join(axis),
        (right + _CURVE_LEFT, 176.0),
        f"Spectrum of {light.name}",
        text,
        prefix,
    )
