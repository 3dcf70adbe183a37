"""Where the labels of a picture find room."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from wbplan.report.base.svg import HALO, LEADER, draw_line, draw_text

Box = tuple[float, float, float, float]
_LINE = 15.0  # of the labels' font of 14 units
_LONGEST = 150.0


@dataclass
class Labels:
    """Boxes that are taken, so that a label finds room.

    ``frame`` is left, top, right, bottom of the picture. Without room for the name the number alone
    is set, if need be some way off at the end of a thin line, in the last resort over a bar.
    """

    frame: Box
    taken: list[Box] = field(default_factory=list)
    texts: list[Box] = field(default_factory=list)

    def reserve(self, x: float, y: float, half: float) -> None:
        """Keep a square around a mark free."""
        self.taken.append((x - half, y - half, x + half, y + half))

    def reserve_bar(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Keep the box of a line free."""
        self.taken.append((min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))

    def reserve_text(self, x1: float, y1: float, x2: float, y2: float) -> bool:
        """Keep the box of a text free; false where another text or a mark has the place."""
        box = (x1, y1, x2, y2)
        if any(_overlap(box, each) for each in self.taken):
            return False
        self._take(box)
        return True

    def set_label(self, x: float, y: float, number: int, name: str) -> Markup:
        """Set a mark's number and name where there is room for them."""
        return self.set_text(x, y, f"{number} {shorten(name, _LONGEST)}", str(number))

    def set_text(self, x: float, y: float, text: str, short: str, style: str = HALO) -> Markup:
        """Set a text at a mark where there is room for it, else a short one, if need be apart."""
        for said, avoid, beside in (
            (text, self.taken, True),
            (short, self.taken, True),
            (short, self.taken, False),
            (short, self.texts, True),
            (short, self.texts, False),
        ):
            width = measure_text(said)
            for left, middle in _list_near(x, y, width) if beside else _list_far(x, y, width):
                box = (left, middle - _LINE / 2, left + width, middle + _LINE / 2)
                inside = box[0] >= self.frame[0] and box[2] <= self.frame[2]
                inside = inside and box[1] >= self.frame[1] and box[3] <= self.frame[3]
                if inside and not any(_overlap(box, each) for each in avoid):
                    self._take(box)
                    set_text = draw_text(left, middle + 4.5, said, style)
                    if beside:
                        return set_text
                    return draw_line(x, y, left + width / 2, middle, LEADER) + set_text
        return draw_text(x + 9, y + 4.5, short, style)

    def _take(self, box: Box) -> None:
        self.taken.append(box)
        self.texts.append(box)


def find_room(x: float, taken: Sequence[float], apart: float, low: float, high: float) -> float:
    """Find the place nearest to ``x`` that keeps apart from those taken; ``x`` where none does."""
    places = (x, *(each + side * apart for each in taken for side in (1.0, -1.0)))
    free = [
        place
        for place in places
        if low <= place <= high and all(abs(place - each) > apart - 1e-6 for each in taken)
    ]
    return min(free, key=lambda place: abs(place - x), default=x)


def measure_text(text: str, size: float = 14.0) -> float:
    """Estimate how wide a text is in a sans serif, rather too wide, in units of its size."""
    width = 0.0
    for each in text:
        if unicodedata.combining(each):
            continue
        if unicodedata.east_asian_width(each) in "WF":
            width += 1.1
        elif each in "MW@%—…":
            width += 0.98
        elif each in " !'(),./:;I[]fijlrt|":
            width += 0.4
        else:
            width += 0.85 if each in "mw+−=<>" else 0.74 if each.isupper() else 0.65
    return size * width


def shorten(text: str, most: float, size: float = 14.0) -> str:
    """Cut a text to a width, with an ellipsis where something is cut."""
    if measure_text(text, size) <= most:
        return text
    kept = text
    while kept and measure_text(kept + "…", size) > most:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def _list_near(x: float, y: float, width: float) -> tuple[tuple[float, float], ...]:
    """List the places beside a mark, best first, as left end and middle."""
    return (
        (x + 9, y),
        (x - 9 - width, y),
        (x + 6, y - 14),
        (x + 6, y + 14),
        (x - 6 - width, y - 14),
        (x - 6 - width, y + 14),
        (x - width / 2, y - 17),
        (x - width / 2, y + 17),
    )


def _list_far(x: float, y: float, width: float) -> Iterator[tuple[float, float]]:
    """List places around a mark that a line has to lead to, near ones first."""
    for radius in range(28, 141, 14):
        for turn in range(16):
            angle = math.pi * turn / 8
            yield x + radius * math.cos(angle) - width / 2, y + radius * math.sin(angle)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
