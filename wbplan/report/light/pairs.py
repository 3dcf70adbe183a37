"""How lights side by side are said: which pass for one another, to the eye and in the camera."""

from __future__ import annotations

from wbplan.core.names import clean_text
from wbplan.core.rounding import rank
from wbplan.description.lights import LightSet
from wbplan.description.pairs import MATCHED_STEPS, MOST_PAIRED, Pair
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.report.base import words
from wbplan.report.light import words as say

MEANING = (
    f"Steps are those of u', v' (SDCM, CIE TN 001:2014): up to {MATCHED_STEPS:g} the eye takes two "
    "lights side by side for one white. In the camera two match within "
    f"{TOLD_MIRED:g} mired and {TOLD_CC:g} CC. SSI tells whether colours match too: the lower of "
    "the two ways round."
)


def sort_pairs(lights: LightSet) -> list[Pair]:
    """Sort the pairs, the nearest first."""
    return sorted(lights.pairs, key=lambda each: rank(each.steps))


def say_pair(lights: LightSet, pair: Pair) -> str:
    """Name the two lights of a pair."""
    return " / ".join(
        f"{row + 1} {clean_text(lights.lights[row].name)}" for row in (pair.first, pair.second)
    )


def say_match(lights: LightSet, pair: Pair) -> str:
    """Say for whom a pair matches: 'both', 'the eye', 'the camera', 'neither'."""
    if lights.camera is None:
        return "the eye" if pair.matches_eye else "no"
    if pair.matches_eye and pair.matches_camera:
        return "both"
    if pair.matches_eye:
        return "the eye only"
    return "the camera only" if pair.matches_camera else "neither"


def say_cast_apart(pair: Pair) -> str:
    """Say what the first light of a pair is from the second in the camera's terms."""
    return say.NONE if pair.cast is None else words.say_cast(pair.cast)


def say_pairs(lights: LightSet) -> str:
    """Say in a sentence how many pairs match; empty where there is no pair."""
    if not lights.pairs:
        bare = sum(not each.behind for each in lights.lights)
        return f"Over {MOST_PAIRED} lights: no table of pairs." if bare > MOST_PAIRED else ""
    count, eye = len(lights.pairs), sum(each.matches_eye for each in lights.pairs)
    said = f"Of {count} pair{'s' if count > 1 else ''} {eye or 'none'} match to the eye"
    if lights.camera is None:
        return said + "."
    here = sum(each.matches_camera for each in lights.pairs)
    both = sum(each.matches_eye and each.matches_camera for each in lights.pairs)
    said += f", {here or 'none'} in {clean_text(lights.camera.name)}"
    return said + (f", {both or 'none'} in both." if eye and here else ".")
