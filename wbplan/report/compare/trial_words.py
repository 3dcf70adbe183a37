"""How it is said whether an old LUT still does: what to load, and by what figures."""

from __future__ import annotations

from collections.abc import Sequence

from wbplan.core.names import clean_text
from wbplan.light.delta_e import TOLD_CIEDE2000
from wbplan.planning.casts import name_tint
from wbplan.planning.looks import Look
from wbplan.planning.lut_trial import LutTrial, TriedPlace, find_misses
from wbplan.record.compare_plans import SetupChanges
from wbplan.record.values import RecordedSetup
from wbplan.report.base import words
from wbplan.report.base.columns import cut_name

FIGURES = (
    "how far a grey of 18 % and the worst of five skins are from what is meant, in CIEDE2000: "
    f"{TOLD_CIEDE2000:g} can just be told side by side (common practice, no source)"
)
"""What the figures of a trial are."""


def say_choice(setup: SetupChanges) -> str:
    """Say what to load; an empty text where there was nothing to try."""
    trial = setup.trial
    if trial is None:
        if not setup.untried:
            return ""
        return f"Not tried whether the old LUT still does: {clean_text(setup.untried)}"
    is_one = trial.places[0].mixed is None
    if trial.choice == "set":
        return "Set the new setting; the old LUT may stay"
    both = "" if is_one else "setting and "
    return f"Keep the old {both}LUT" if trial.choice == "keep" else f"Take the new {both}LUT"


def say_why(trial: LutTrial) -> str:
    """Say by which figures, at the first place and where the old LUT is worst."""
    first, worst = trial.places[0], trial.worst
    said = _say_place(first)
    if worst is first or worst.find_worse(worst.old) < TOLD_CIEDE2000:
        return said
    return f"{said}. The old one is worst at another place: {_say_place(worst)}"


def _say_place(place: TriedPlace) -> str:
    (first, old, _), *more = list_ways(place)
    grey, skin = say_misses(old)
    said = [f"{grey} on grey and {skin} on skin with the {first}"]
    said += ["{} and {} with {}".format(*say_misses(look), f"the {way}") for way, look, _ in more]
    return f"{clean_text(place.name)} errs by {'; '.join(said)}"


def list_ways(place: TriedPlace) -> list[tuple[str, Look, str]]:
    """List the ways that were tried: its name, its look, and the cast that stays of what is meant.

    The cast of both mixed is not said: only a LUT before its own setting goes to a known one.
    """
    old, new = _say_off(place.old_off), _say_off(place.new_off)
    if place.mixed is None:
        return [("old LUT", place.old, old), ("new LUT", place.new, new)]
    return [
        ("old setting and LUT", place.old, old),
        ("new setting and old LUT", place.mixed, ""),
        ("new setting and LUT", place.new, new),
    ]


def say_misses(look: Look) -> tuple[str, str]:
    """Say how far a look's grey, and the worst of its skins, are from what is meant."""
    grey, skin = find_misses(look)
    return words.say_difference(grey), words.say_difference(skin)


def _say_off(off: tuple[float, float]) -> str:
    said = words.say_shift(*off)
    return "as meant" if said == "neutral" else f"{said} of what is meant"


def say_dialled(setup: RecordedSetup) -> tuple[str, str, str]:
    """Say what is dialled: a preset's name or an empty text, the Kelvin, the tint."""
    kelvin = 1e6 / setup.dial.mired if setup.dial.mired > 0 else float("inf")
    return clean_text(setup.preset), words.say_kelvin(kelvin), name_tint(setup.dial.cc)


def list_decisions(setups: Sequence[SetupChanges]) -> list[tuple[str, str]]:
    """List what to load in each setup that both have, by its name."""
    said = ((cut_name(clean_text(each.name)), say_choice(each)) for each in setups)
    return [(name, choice) for name, choice in said if choice]
