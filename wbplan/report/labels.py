"""Where the labels of a picture find room."""

from __future__ import annotations

from dataclasses import dataclass, field

from markupsafe import Markup

from wbplan.report.svg import HALO, draw_text

Box = tuple[float, float, float, float]
_LETTER, _LINE = 7.5, 15.0  # of the labels' font of 14 units, wide enough for most letters
_LONGEST_NAME = 18


@dataclass
class Labels:
    """Boxes that are taken, so that a label finds room.

    ``frame`` is left, top, right, bottom of the picture. Without room for the name the number alone
    is set, in the last resort over a bar.
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

    def set_label(self, x: float, y: float, number: int, name: str) -> Markup:
        """Set a mark's number and name where there is room for them."""
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
                inside = box[0] >= self.frame[0] and box[2] <= self.frame[2]
                inside = inside and box[1] >= self.frame[1] and box[3] <= self.frame[3]
                if inside and not any(_overlap(box, each) for each in avoid):
                    self.taken.append(box)
                    self.texts.append(box)
                    return draw_text(left, middle + 4.5, text, HALO)
        return draw_text(x + 9, y + 4.5, str(number), HALO)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
