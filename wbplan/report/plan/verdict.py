"""The verdict on a setting in words: one line for whom it is, one more where that is not enough."""

from __future__ import annotations

from wbplan.camera.setting import find_distance
from wbplan.core.rounding import settle
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED, Place, Remedy, Verdict, is_told
from wbplan.report.base import words

_ALIKE_MIRED = 0.5  # nearer than this is no difference
_MOST_PLACES = 4  # named in the line; the table has them all


def say_solved(verdict: Verdict) -> str:
    """Say for whom a setting is and what it does: 'for Anna, as meant; sink comes out ...'."""
    names = [name for name, _ in verdict.solved_for]
    if verdict.is_given:
        said = "as it is shot"
    elif len(names) == 1:
        said = f"for {names[0]}"
    else:
        shares = (f"{name} {settle(100 * share):.0f} %" for name, share in verdict.solved_for)
        said = f"for {_join(list(shares))}"
    if verdict.heeded and not verdict.is_given:
        said += f", within what {_join(list(verdict.heeded))} may be off"
    key = _say_key(verdict)
    if names == [verdict.key] and not verdict.is_given:
        said += f", {key}" if key else ""
    elif key:
        said += f"; {verdict.key} {key}"
    far = [each for each in verdict.others if is_told(*each.off.point)]
    parts = [_say_place(each, row) for row, each in enumerate(far[:_MOST_PLACES])]
    if len(far) > _MOST_PLACES:
        parts.append(f"and {len(far) - _MOST_PLACES} more")
    if parts:
        said += "; " + ", ".join(parts)
    if verdict.dark:
        dark = [f"{name} ({words.say_stops(stops)} under)" for name, stops in verdict.dark]
        said += f"; dark: {', '.join(dark)}"
    return said


def say_verdict(verdict: Verdict) -> str:
    """Say what is wrong at the key and what helps most; empty where the key is as meant."""
    if not verdict.is_far or verdict.key_off is None:
        return ""
    off = words.say_cast(verdict.key_off)
    wrong = (
        f"{verdict.key} is not as meant: {off}, and {TOLD_MIRED:g} mired or {TOLD_CC:g} CC can be "
        "told"
    )
    if verdict.remedy is None:
        return f"{wrong}; no one setting, LUT or filter here brings it nearer"
    return f"{wrong}. {_say_remedy(verdict.remedy)}"


def say_lut_at_key(plan: SetupPlan) -> str:
    """Say what the LUT does to the key, where it is aimed at several places; else nothing.

    It goes to the setting that serves all places with a weight best, which may leave the key
    further from its own intent than the dialled setting does.
    """
    key, exact, dial = plan.key, plan.exact, plan.dial
    if plan.lut is None or key.trouble or not key.is_judged or plan.verdict is None:
        return ""
    if len(plan.verdict.solved_for) < 2:
        return ""
    mired, green = key.off_intent.point
    after = (mired + dial.mired - exact.mired.value, green + dial.tint_cc - exact.tint_cc.value)
    worse = float(find_distance(*after)) - float(find_distance(mired, green))
    off = words.say_shift(*after)
    said = "as meant" if off == "neutral" else f"{off} of what is meant"
    text = f"The LUT is aimed at the mean over these places: with it {key.name} is {said}"
    if worse <= _ALIKE_MIRED:
        return f"{text}."
    return f"{text}, further off than without it. For the key alone ask for kind 'positions'."


def _say_remedy(remedy: Remedy) -> str:
    left = words.say_shift(remedy.left_mired, remedy.left_green_cc)
    leaves = "it is then as meant" if left == "neutral" else f"it is then {left}"
    if remedy.setting is not None:
        return f"What helps most: dial {words.say_setting(remedy.setting)} for it alone; {leaves}"
    if remedy.way == "lut":
        return f"What helps most: load the LUT; {leaves}"
    return f"What helps most: hang {remedy.filter} before {remedy.light}; {leaves}"


def _say_key(verdict: Verdict) -> str:
    if verdict.key_off is None:
        return ""
    off = words.say_cast(verdict.key_off)
    if off == "neutral":
        return "as meant"
    return f"{off} of what is meant" if verdict.is_far else f"as meant but {off}"


def _say_place(place: Place, row: int) -> str:
    off = words.say_cast(place.off)
    said = f"{place.name} {off}" if row else f"{place.name} comes out {off}"
    return f"{said} of what is meant" if place.is_meant else said


def _join(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
