"""The few SVG elements that the pictures are made of, drawn in the page's own colour."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from markupsafe import Markup, escape

from wbplan.core.names import clean_text

_ZEROS = re.compile(r"\.00|(?<=\.[0-9])0(?=[ L]|$)")


def write_number(value: float) -> str:
    """Write a coordinate with two decimals at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def wrap(body: Markup, view: tuple[float, float], title: str, text: str, prefix: str) -> Markup:
    """Wrap a drawing into an `<svg>` with a title and a description, its ids begun by a prefix."""
    head = Markup(
        '<svg role="img" viewBox="0 0 {w} {h}" aria-labelledby="{id}-t {id}-d" '
        'font-size="14" fill="currentColor">'
        '<title id="{id}-t">{title}</title><desc id="{id}-d">{text}</desc>'
    ).format(
        w=write_number(view[0]),
        h=write_number(view[1]),
        id=prefix,
        title=clean_text(title),
        text=clean_text(text),
    )
    return head + body + Markup("</svg>")


_ALONE = (
    "svg{color:#1d1d1d;background:#fbfbfb;font-family:system-ui,sans-serif}"
    ".halo{paint-order:stroke;stroke:#fbfbfb;stroke-width:3px;stroke-linejoin:round}"
    ".red{fill:#a3312c}.green{fill:#35703a}.blue{fill:#33589c}"
    "@media(prefers-color-scheme:dark){svg{color:#e4e4e4;background:#1d1d1d}.halo{stroke:#1d1d1d}"
    ".red{fill:#ea9186}.green{fill:#8dc78c}.blue{fill:#9bb4e6}}"
)


def make_standalone(picture: Markup) -> str:
    """Make a file of its own from a figure of a page: its name space and its colours with it."""
    opening, rest = str(picture).split(">", 1)
    named = opening.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    return f"{named}><style>{_ALONE}</style>{rest}\n"


def draw_line(x1: float, y1: float, x2: float, y2: float, style: str) -> Markup:
    """Draw a straight line."""
    first, last = (f"{write_number(x)} {write_number(y)}" for x, y in ((x1, y1), (x2, y2)))
    return Markup(f'<path d="M{first}L{last}" {style}/>')


def draw_path(points: Iterable[tuple[float, float]], style: str, closed: bool = False) -> Markup:
    """Draw a line through points, their coordinates as `write_number` has them."""
    figures = [each for point in points for each in point]
    text = ("%.2f %.2fL" * (len(figures) // 2))[:-1] % tuple(figures)
    along = _ZEROS.sub("", text.replace("-0.00", "0.00"))
    return Markup(f'<path d="M{along}{"Z" if closed else ""}" {style}/>')


def draw_rect(x: float, y: float, width: float, height: float, style: str) -> Markup:
    """Draw a rectangle."""
    at = f'x="{write_number(x)}" y="{write_number(y)}"'
    size = f'width="{write_number(width)}" height="{write_number(height)}"'
    return Markup(f"<rect {at} {size} {style}/>")


def draw_cross(x: float, y: float, half: float) -> Markup:
    """Draw an upright cross."""
    across = draw_line(x - half, y, x + half, y, STRONG)
    return across + draw_line(x, y - half, x, y + half, STRONG)


def draw_clip(name: str, x: float, y: float, width: float, height: float) -> Markup:
    """Define the frame that `clip-path="url(#name)"` cuts a drawing off at."""
    clip = Markup('<clipPath id="{}"><rect x="{}" y="{}" width="{}" height="{}"/></clipPath>')
    return clip.format(name, *(write_number(each) for each in (x, y, width, height)))


def draw_text(x: float, y: float, text: str, style: str = "") -> Markup:
    """Set a text, cleaned and escaped."""
    said = escape(clean_text(text))
    return Markup(f'<text x="{write_number(x)}" y="{write_number(y)}" {style}>{said}</text>')


def draw_side(base: float, length: float, low: str, unit: str, high: str) -> Markup:
    """Set the unit of an upright axis at the left edge, turned, between its two sides in words."""
    turned = Markup('<g transform="translate(13 {}) rotate(-90)">{}</g>')
    middle = draw_text(length / 2, 0, unit, 'text-anchor="middle"')
    words = draw_text(0, 0, low) + middle + draw_text(length, 0, high, 'text-anchor="end"')
    return turned.format(write_number(base), words)


def draw_tick(x: float, y: float, text: str, width: float) -> Markup:
    """Set a figure under an axis, centred on its place unless it would leave the picture."""
    half = 4.6 * len(text)  # of the pictures' 14 units
    return draw_text(min(max(x, half), width - half), y, text, 'text-anchor="middle"')


def draw_circle(x: float, y: float, radius: float, style: str = "") -> Markup:
    """Draw a disc or a ring."""
    return Markup('<circle cx="{}" cy="{}" r="{}" {}/>').format(
        write_number(x), write_number(y), write_number(radius), Markup(style)
    )


THIN = 'stroke="currentColor" stroke-width="1" stroke-opacity=".18" fill="none"'
AXIS = 'stroke="currentColor" stroke-width="1.2" stroke-opacity=".6" fill="none"'
BAR = 'stroke="currentColor" stroke-width="1" stroke-opacity=".75" fill="none"'
LINK = 'stroke="currentColor" stroke-width="1" stroke-dasharray="2 4" fill="none"'
LEADER = 'stroke="currentColor" stroke-width=".75" stroke-opacity=".7" fill="none"'
HALO = 'class="halo"'  # the page's ground around letters, where a line passes under them
STRONG = 'stroke="currentColor" stroke-width="2" fill="none"'
DASHES = ("", "8 3", "2 3", "10 3 2 3", "5 2", "1 2", "12 4", "6 2 2 2 2 2")
ROUND_KELVIN = (
    *(1000, 1250, 1500, 1750, 2000, 2250, 2500, 2800, 3200, 3600, 4000, 4500, 5000, 5600, 6500),
    *(7500, 10000, 15000, 25000),
)


def choose_dashes(number: int) -> str:
    """Choose the style of line ``number`` (from 0) of a figure, told by its dashes."""
    dash = DASHES[number % len(DASHES)]
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'stroke="currentColor" stroke-width="1.8" fill="none"{dashed}'


def choose_ticks(low: float, high: float, least: float) -> list[float]:
    """Choose round figures from low to high, at least ``least`` apart."""
    power = 10.0 ** math.floor(math.log10(least))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= least)
    return [step * each for each in range(math.ceil(low / step), math.floor(high / step) + 1)]
