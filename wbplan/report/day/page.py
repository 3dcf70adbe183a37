"""The page of a day: each setup along the clock, as one HTML file that needs nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from wbplan.core.notes import Note
from wbplan.day.setups import DayPlan, DaySetup
from wbplan.day.times import say_spans
from wbplan.lut.file import say_offset
from wbplan.report.base import words
from wbplan.report.base.templates import load_template
from wbplan.report.day import words as daywords
from wbplan.report.day.figures import (
    Drawing,
    draw_off,
    draw_settings,
    draw_stops,
    draw_tints,
    draw_windows,
)
from wbplan.report.day.long import cut_positions
from wbplan.report.light.figures import draw_key
from wbplan.report.lut.words import list_worst, say_met_by_all, say_size
from wbplan.scene.cautions import SUN


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure, what stands under it, and its lines: a sample of each with its name."""

    drawing: Markup
    caption: str
    legend: tuple[tuple[Markup, str], ...]


@dataclass(frozen=True, eq=False)
class DayPage:
    """A setup's day with what the template cannot work out; ``shown`` says what is left out."""

    anchor: str
    day: DaySetup
    shown: str
    warnings: tuple[Note, ...]
    remarks: tuple[Note, ...]
    pictures: tuple[Picture, ...]
    windows: Markup | None


def render_day_page(plan: DayPlan) -> str:
    """Render a day to one HTML page, the same for the same day."""
    return load_template("day/hours.html.j2").render(
        plan=plan,
        setups=[_prepare(each, f"setup-{number}") for number, each in enumerate(plan.setups, 1)],
        say=daywords,
        say_spans=say_spans,
        say_size=say_size,
        say_offset=say_offset,
        say_met_by_all=say_met_by_all,
        list_worst=list_worst,
        sun=SUN.text,
    )


def _prepare(day: DaySetup, anchor: str) -> DayPage:
    there = len(day.setup.positions)
    day = cut_positions(day)
    notes = tuple(dict.fromkeys(day.notes))
    return DayPage(
        anchor=anchor,
        day=day,
        shown=words.say_shown(len(day.setup.positions), there),
        warnings=tuple(each for each in notes if each.weight == "warning"),
        remarks=tuple(each for each in notes if each.weight == "remark"),
        pictures=_draw(day, anchor),
        windows=None if day.whole is None else draw_windows(day, f"{anchor}-windows"),
    )


def _draw(day: DaySetup, anchor: str) -> tuple[Picture, ...]:
    if day.whole is None:
        return ()
    off = f"Off its intent at {words.say_setting(day.whole.setting)}, in"
    return (
        _make_picture(
            draw_settings(day, f"{anchor}-kelvin"),
            "Kelvin that each position wants, and the exact setting with its band.",
        ),
        _make_picture(
            draw_tints(day, f"{anchor}-tint"), "Tint to dial in, in CC: up magenta, down green."
        ),
        _make_picture(
            draw_stops(day, f"{anchor}-stop"), "T-stop at the planned ND; the key's with its band."
        ),
        _make_picture(
            draw_off(day, day.whole, "mired", f"{anchor}-cast"),
            f"{off} mired: up warm, down cool. Shaded: the tolerance.",
        ),
        _make_picture(
            draw_off(day, day.whole, "CC", f"{anchor}-green"),
            f"{off} CC: up magenta, down green. Shaded: the tolerance.",
        ),
    )


def _make_picture(drawing: Drawing, caption: str) -> Picture:
    shown = len(drawing.names)
    if shown < drawing.there:
        caption += f" The first {shown} of {drawing.there} lines are drawn."
    named = enumerate(drawing.names)
    return Picture(
        drawing.figure,
        caption,
        tuple((draw_key(number), f"{number + 1} {name}") for number, name in named),
    )
