"""A LUT that was made for one light, tried under another: keep it, or take the new one.

Idea
----
A location is planned again the next day, and the old LUT is loaded already. What it does under the
new light is seen as `looks` sees it: published surfaces under the light that is there now, at the
setting that the LUT was made for, encoded, through the file itself and decoded, against the picture
that is meant now. The new LUT, at its own setting, is judged by the same pictures. So is the old
LUT behind the new setting: a LUT that takes up little may well stay where the setting moves on.

What counts is by how much worse a way is than the new one, at any place where something is meant
and that is not in the dark; a miss that both share is no reason to change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wbplan.camera.setting import Setting
from wbplan.light.delta_e import TOLD_CIEDE2000
from wbplan.light.surfaces import GREY_ROW, SKIN_ROWS
from wbplan.planning.looks import (
    Look,
    LutTable,
    Wish,
    find_meant,
    judge_picture,
    picture_plainly,
    picture_through,
)
from wbplan.planning.positions import PositionPlan
from wbplan.planning.response import SceneResponse

Choice = Literal["keep", "set", "take"]
"""Keep setting and LUT; set the new setting before the old LUT; or take both new."""


@dataclass(frozen=True, eq=False)
class Side:
    """What is loaded on a camera: the setting dialled, the one that the LUT carries it to
    (mired, CC), and the LUT.
    """

    dial: Setting
    exact: tuple[float, float]
    lut: LutTable


@dataclass(frozen=True, eq=False)
class TriedPlace:
    """A position as it is meant, and as the old LUT, both mixed, and the new LUT show it.

    ``mixed`` is the old LUT behind the new setting, None where both settings are one. ``old_off``
    and ``new_off`` are the casts that stay, from what is meant (mired, + warm; CC, + green).
    """

    name: str
    meant: Look
    old: Look
    mixed: Look | None
    new: Look
    old_off: tuple[float, float]
    new_off: tuple[float, float]

    def find_worse(self, look: Look) -> float:
        """Find by how much a look errs more than the new one's, on grey or skin [CIEDE2000]."""
        pairs = zip(find_misses(look), find_misses(self.new), strict=True)
        return max(one - new for one, new in pairs)


@dataclass(frozen=True, eq=False)
class LutTrial:
    """What came of trying an old LUT: a place each, the key first if something is meant there."""

    places: tuple[TriedPlace, ...]

    @property
    def choice(self) -> Choice:
        """What does: the least change after which no place is told from the new way."""
        if all(each.find_worse(each.old) < TOLD_CIEDE2000 for each in self.places):
            return "keep"
        mixed = [(each, each.mixed) for each in self.places if each.mixed is not None]
        if mixed and all(each.find_worse(look) < TOLD_CIEDE2000 for each, look in mixed):
            return "set"
        return "take"

    @property
    def worst(self) -> TriedPlace:
        """The place where the old way is worst against the new one."""
        return max(self.places, key=lambda each: each.find_worse(each.old))


def find_misses(look: Look) -> tuple[float, float]:
    """Find how far a look's grey, and the worst of its skins, are from what is meant [CIEDE2000].

    Raises
    ------
    ValueError
        For a look that was not held against anything.
    """
    if look.ciede2000 is None:
        raise ValueError("a look without what is meant")
    skins = look.ciede2000[SKIN_ROWS.start : SKIN_ROWS.stop]
    return float(look.ciede2000[GREY_ROW]), float(skins.max())


def try_lut(
    scene: SceneResponse,
    positions: Sequence[PositionPlan],
    old: Side,
    new: Side,
) -> LutTrial | None:
    """Try an old LUT under the light of a scene, beside the LUT that was made for it.

    Parameters
    ----------
    positions
        What was decided about them at the new setting.
    old, new
        Both of one camera.

    Returns
    -------
    LutTrial
        None where no place in the light has anything meant to judge by.
    """
    dial = new.dial
    wishes = {
        row: wish
        for row, each in enumerate(positions)
        if (wish := find_meant(each, dial)) is not None and not each.is_dark
    }
    if not wishes:
        return None
    rows = sorted(wishes, key=lambda row: row != scene.setup.key_row)
    lights = scene.position_power[rows]
    ways = {"old": old, "new": new}
    if (old.dial.kelvin, old.dial.tint_cc) != (dial.kelvin, dial.tint_cc):
        ways["mixed"] = Side(dial, old.exact, old.lut)
    seen = {code: picture_through(way.lut, scene, way.dial, lights) for code, way in ways.items()}
    places = []
    for number, row in enumerate(rows):
        meant = wishes[row]
        target = picture_plainly(scene.camera, meant, scene.position_power[row][None])[0]
        looks = {
            code: judge_picture(_name(code, ways[code].dial), pictures[number], target)
            for code, pictures in seen.items()
        }
        places.append(
            TriedPlace(
                name=positions[row].name,
                meant=judge_picture(meant, target, target),
                old=looks["old"],
                mixed=looks.get("mixed"),
                new=looks["new"],
                old_off=(meant.mired - old.exact[0], meant.tint_cc - old.exact[1]),
                new_off=(meant.mired - new.exact[0], meant.tint_cc - new.exact[1]),
            )
        )
    return LutTrial(tuple(places))


def _name(code: str, setting: Setting) -> Wish:
    return Wish(code, setting.mired, setting.tint_cc)
