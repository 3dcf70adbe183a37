"""How advice is said: changes, what stays, what it costs, in the words of page and terminal."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from wbplan.camera.setting import find_distance
from wbplan.core.intervals import Interval
from wbplan.core.rounding import settle
from wbplan.light.filters import round_mired
from wbplan.planning.casts import Cast
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.trade_off import KeptRange
from wbplan.report.base import words

if TYPE_CHECKING:
    from wbplan.planning.advice import (
        Advice,
        BesideCamera,
        Change,
        ChangePlan,
        PlaceLeft,
        RatioLeft,
        TunedFixture,
    )


def say_drives(drives: tuple[tuple[str, float], ...], steps: int = 0) -> str:
    """Say channel drives: 'warm 72 %, cool 100 %', or in steps: 'warm 184, cool 255 of 255'."""
    if steps:
        return ", ".join(f"{name} {round(each * steps)}" for name, each in drives) + f" of {steps}"
    return ", ".join(f"{name} {words.say_percent(100 * each)}" for name, each in drives)


def say_dial(each: Change | TunedFixture) -> str:
    """Say what a fixture is set to: the step of its panel, or its channels and where to begin."""
    panel = each.panel
    if panel is None:
        start = say_start(each.cct_kelvin, each.duv)
        return f"dial {start} ({say_drives(each.drives, each.drive_steps)})"
    steps = each.drive_steps
    level = (
        f"{round(panel.level * steps)} of {steps}"
        if steps
        else words.say_percent(100 * panel.level)
    )
    tint = say_fixture_tint(panel.tint_cc)
    return f"set it to {words.say_kelvin(panel.kelvin)}{tint}, level {level}"


def say_fixture_tint(cc: float) -> str:
    """Say a tint of a fixture's own light: ', 3 CC green'; nothing for none."""
    return f", {abs(cc):.12g} CC {'green' if cc > 0 else 'magenta'}" if cc else ""


def say_start(cct_kelvin: float, duv: float) -> str:
    """Say where a person begins to dial a fixture: '4300 K, Duv 0.0020 green'."""
    if not math.isfinite(cct_kelvin):
        return "no Kelvin stands for it: dial the channels"
    return f"{words.say_kelvin(cct_kelvin)}, {words.say_duv(duv)}"


def say_change(change: Change) -> str:
    """Say what is done to a light, without its name."""
    if change.drives:
        return say_dial(change)
    parts = [_say_burning(change)] if change.kind else []
    if change.filters:
        hung = [_say_times(each, n) for each, n in Counter(change.filters).items()]
        each = " each" if len(change.filters) > 1 else ""
        pieces = f", {change.pieces} pieces{each}" if change.pieces > 1 else ""
        parts.append(" + ".join(hung) + pieces)
    return "; ".join(parts)


def _say_times(name: str, times: int) -> str:
    return name + {1: "", 2: " twice", 3: " three times"}[times]


def _say_burning(change: Change) -> str:
    """Say how a light burns or stands: 'dim 1 stop (82 % of the volts, 2640 K)'."""
    if change.kind == "off":
        return "off"
    if change.kind == "moved":
        return f"move to {change.to}"
    if change.kind == "bounced":
        return f"bounce off {change.to}"
    said = f"dim {words.say_stops(change.dimmed_stops)}"
    if change.volts_share is None:
        return said
    shift = f", {words.say_kelvin(change.cct_kelvin)}" if math.isfinite(change.cct_kelvin) else ""
    return f"{said} ({words.say_percent(100 * change.volts_share)} of the volts{shift})"


def say_costs(plan: ChangePlan) -> str:
    """Say what a plan costs besides light: '3 trips, 6 pieces of filter, 4.2 m2'."""
    parts = [_count(plan.trips, "trip")]
    if plan.pieces:
        parts.append(f"{_count(plan.pieces, 'piece')} of filter")
        if plan.gel_m2 is not None:
            parts.append(f"{plan.gel_m2:.3g} m2")
    return ", ".join(parts)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def say_ratio(left: RatioLeft) -> str:
    """Say what comes of a ratio: 'lamp to window at face 3.9:1, wanted 4:1'."""
    wanted = left.wanted
    at = f" at {wanted.at}" if wanted.at else ""
    return (
        f"{wanted.key} to {wanted.fill}{at} {say_proportion(left.ratio)}, "
        f"wanted {say_proportion(wanted.ratio)}{'' if not left.past_stops else ', not reached'}"
    )


def say_proportion(ratio: float) -> str:
    """Say a ratio of levels: '4:1', or '1:4' where the second is the brighter."""
    if ratio == 0 or not math.isfinite(ratio):
        return "all dark against light" if ratio == 0 else "light against all dark"
    ratio = settle(ratio)
    return f"{ratio:.2g}:1" if ratio >= 1 else f"1:{settle(1 / ratio):.2g}"


def say_loss(stops: float) -> str:
    """Say a loss of light, or a gain."""
    if math.isinf(stops):
        return "all light lost"
    if round(stops, 1) == 0:
        return "no light lost"
    return f"{words.say_stops(stops)} {'lost' if stops > 0 else 'gained'}"


def say_size(mired: float) -> str:
    """Say a distance: '12 mired'."""
    return f"{round_mired(mired):.12g} mired"


def say_left(place: PlaceLeft) -> str:
    """Say what stays at a position against its intent."""
    said = words.say_cast(Cast(place.off_mired, place.off_green_cc))
    return "as meant" if said == "neutral" else said


def say_left_span(place: PlaceLeft) -> str:
    """Say the interval of what stays."""
    return words.say_cast_span(Cast(place.off_mired, place.off_green_cc))


def say_apart(mired: Interval, green: Interval) -> str:
    """Say how one camera's picture differs from another's."""
    said = words.say_cast(Cast(mired, green))
    return "the same" if said == "neutral" else said


def say_apart_span(mired: Interval, green: Interval) -> str:
    """Say the interval of such a difference."""
    return words.say_cast_span(Cast(mired, green))


def say_range(kept: KeptRange) -> str:
    """Say which settings keep a limit: '4170 to 4550 K; magenta 1 CC to green 3 CC'."""
    parts = []
    if math.isfinite(kept.low_mired):
        high = words.say_kelvin(1e6 / kept.low_mired if kept.low_mired > 0 else math.inf)
        low = words.say_kelvin(1e6 / kept.high_mired if kept.high_mired > 0 else math.inf)
        parts.append(f"{low.removesuffix(' K')} to {high}")
    if math.isfinite(kept.low_cc):
        parts.append(f"tint {_say_tint(kept.low_cc)} to {_say_tint(kept.high_cc)}")
    return "; ".join(parts)


def _say_tint(cc: float) -> str:
    size = round(abs(cc), 1)
    return f"{size:.12g} CC" + ("" if size == 0 else " magenta" if cc > 0 else " green")


def say_proof(advice: Advice) -> str:
    """Say how the search stands: proven, or the bound."""
    packs = f"{advice.packs_count:,}".replace(",", " ")
    if advice.packs_count == 1:
        return "there was nothing to choose from"
    driven = ", each with the channels of its fixtures driven freely" if advice.is_driven else ""
    if advice.is_exact:
        near = " by 0.05 mired or more" if advice.is_driven else ""
        said = f"{packs} combinations in question{driven}"
        return f"{said}; none leaves less than the last plan{near}, proven"
    least = say_size(advice.least_rms_mired) if advice.least_rms_mired >= 0.5 else ""
    bound = f"none can leave less than {least}" if least else "nothing proves that none is better"
    return f"best found, {packs} combinations in question{driven}; {bound}"


def say_choices(change: Change) -> str:
    """Say what drives that look alike to the camera would cost, empty where there is no choice."""
    said = [
        f"{each.name}{' (taken)' if each.taken else ''} {say_loss(each.loss_stops)}, Rf "
        + (f"{each.rf:.0f}" if math.isfinite(each.rf) else "unknown")
        for each in change.choices
    ]
    return f"of drives that look alike to this camera: {'; '.join(said)}" if said else ""


def say_rounding(plan: ChangePlan) -> str:
    """Say what the steps of fixtures leave, empty where none are stated."""
    if plan.rounding_mired is None:
        return ""
    if round(plan.rounding_mired, 1) <= 0:
        return "rounded to the fixtures' steps, which leaves nothing to speak of"
    return f"rounded to the fixtures' steps, which leaves {say_size(plan.rounding_mired)} more"


def say_fixture_left(fixture: TunedFixture) -> str:
    """Say whether a fixture reaches its wish."""
    if fixture.reached:
        return "matched"
    return f"out of reach: {words.say_shift(fixture.off_mired, fixture.off_green_cc)}"


def find_key_lux(plan: SetupPlan, fixture: TunedFixture) -> tuple[str, float]:
    """Find where a fixture's output is said: the key position, or its brightest."""
    at = dict(fixture.lux)
    key = plan.setup.key
    if at.get(key, 0.0) > 0:
        return key, at[key]
    return max(fixture.lux, key=lambda each: each[1])


def list_limited(plan: ChangePlan) -> list[str]:
    """List the positions that stay past their limits."""
    return [each.name for each in plan.places if not each.keeps_limit]


def find_worst_place(camera: BesideCamera) -> str:
    """Find the judged position at which a camera differs most from the first."""
    places = [each for each, judged in zip(camera.apart, camera.judged, strict=True) if judged]
    if not places:
        return ""
    return max(places, key=lambda e: float(find_distance(e[1].value, e[2].value)))[0]


def find_loss(before: float, after: float) -> float:
    """Find how many stops went from one illuminance to another, 0 where there is none."""
    return math.log2(before / after) if before > 0 and after > 0 else 0.0


def say_camera_left(camera: BesideCamera) -> str:
    """Say what stays between two cameras."""
    return f"{say_size(camera.rms_mired)} on average, {say_size(camera.worst_mired)} at worst"
