"""What came out on frames, for the terminal and as JSON: whether it is as planned, in words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from wbplan import __version__
from wbplan.core.names import clean_text
from wbplan.planning.outcome import Outcome
from wbplan.record.numbers import make_keys, make_setting, make_wanted
from wbplan.report.base import words

FORMAT, FORMAT_VERSION = "wbplan verification", 1
_NO_STOP = "not judged: the profile does not state where the sensor clips"
_CAST_WHY = (
    "was another lamp on, a filter left off, another setting dialled? If not, this camera is "
    "unlike its profile: let it learn from the frame"
)


def format_outcomes(title: str, frames: Sequence[str], outcomes: Sequence[Outcome]) -> str:
    """Format what came out for a terminal: for each frame the verdict first, then the figures."""
    parts = [clean_text(title)]
    for frame, outcome in zip(frames, outcomes, strict=True):
        parts.append("\n".join(_format_outcome(frame, outcome)))
    return "\n\n".join(parts)


def _format_outcome(frame: str, outcome: Outcome) -> list[str]:
    planned, share = outcome.planned, words.say_share(outcome.setup.setup.band_share)
    cast_span = words.say_cast_span(planned.cast)
    wanted_span = words.say_wanted_span(planned.wanted)
    came = "past every Kelvin" if outcome.past_scale else words.say_wanted(outcome.wanted)
    rows = [
        ("", say_outcome(outcome)),
        ("shot at", words.say_dial(outcome.setup.dial, _find_step(outcome))),
        ("cast", f"{words.say_cast(outcome.cast)}; planned {words.say_cast(planned.cast)}"),
        ("", f"{share} band {cast_span}" if cast_span else ""),
        ("setting", f"this grey wants {came}; planned {words.say_wanted(planned.wanted)}"),
        ("", f"{share} band {wanted_span}" if wanted_span else ""),
        ("stop", _say_stop(outcome)),
    ]
    if not (outcome.is_mired_held and outcome.is_green_held):
        if outcome.alike:
            lights = " or ".join(clean_text(each) for each in outcome.alike)
            rows.append(("why", f"it looks as {lights} alone would look"))
        else:
            rows.append(("why", _CAST_WHY))
    lines = [f"{clean_text(frame)}: {clean_text(outcome.setup.name)}, {clean_text(planned.name)}"]
    for label, said in rows:
        if said:
            lines += textwrap.wrap(
                said, 80, initial_indent=f"   {label:<8}", subsequent_indent=" " * 11,
                break_long_words=False, break_on_hyphens=False,
            )  # fmt: skip
    return lines


def _find_step(outcome: Outcome) -> float:
    return outcome.setup.setup.camera.menu.cc_per_step


def say_outcome(outcome: Outcome) -> str:
    """Say in a sentence whether a frame came out as planned."""
    off = []
    cast, planned = outcome.cast, outcome.planned.cast
    if not (outcome.is_mired_held and outcome.is_green_held):
        mired = cast.mired.value - planned.mired.value
        green = cast.green_cc.value - planned.green_cc.value
        said = words.say_shift(mired, green)
        off.append(f"{said} from what was planned, outside the band")
    if outcome.is_stop_held is False:
        assert outcome.stops_over is not None
        over = outcome.stops_over.value
        off.append(
            f"{words.say_stops(over)} {'over' if over > 0 else 'under'} the planned exposure"
        )
    if not off:
        judged = "" if outcome.stops_over is not None else " in colour"
        return f"As planned{judged}."
    return f"Not as planned: {'; '.join(off)}."


def _say_stop(outcome: Outcome) -> str:
    over = outcome.stops_over
    if over is None:
        return _NO_STOP
    said = _say_over(over.value)
    if not over.is_open or round(over.low, 1) == round(over.high, 1):
        return said
    return f"{said} (by the plan's band {_say_over(over.low)} to {_say_over(over.high)})"


def _say_over(stops: float) -> str:
    if round(stops, 1) == 0:
        return "as planned"
    return f"{words.say_stops(stops)} {'over' if stops > 0 else 'under'}"


def build_outcomes(
    title: str, frames: Sequence[str], outcomes: Sequence[Outcome]
) -> dict[str, Any]:
    """Collect what came out into JSON-ready values, under the keys that a plan's record has."""
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "wbplan_version": __version__,
        "title": title,
        "frames": [
            _build_outcome(frame, each) for frame, each in zip(frames, outcomes, strict=True)
        ],
    }


def _build_outcome(frame: str, outcome: Outcome) -> dict[str, Any]:
    planned, cast = outcome.planned, outcome.cast
    band = 100.0 * outcome.setup.setup.band_share
    return {
        "frame": frame,
        "setup": outcome.setup.name,
        "position": planned.name,
        "verdict": say_outcome(outcome),
        "as_planned": outcome.is_as_planned,
        "mired_in_band": outcome.is_mired_held,
        "green_in_band": outcome.is_green_held,
        "stop_as_planned": outcome.is_stop_held,
        **make_keys(band_percent=band),
        "shot_at": make_setting(outcome.setup.dial),
        "cast": make_keys(mired=cast.mired.value, green_cc=cast.green_cc.value),
        "planned_cast": make_keys(mired=planned.cast.mired, green_cc=planned.cast.green_cc),
        "wanted_setting": None if outcome.past_scale else _drop_ends(make_wanted(outcome.wanted)),
        "planned_wanted_setting": make_wanted(planned.wanted),
        "over_planned": None if outcome.stops_over is None else make_keys(stops=outcome.stops_over),
        "looks_like": list(outcome.alike),
    }


def _drop_ends(figures: dict[str, Any]) -> dict[str, Any]:
    return {key: each for key, each in figures.items() if not key.endswith(("_low", "_high"))}
