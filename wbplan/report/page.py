"""The page: a whole plan as one HTML file that needs nothing else.

Idea
----
A crew opens it offline, on a phone or on paper. So there is no network, no script and no second
file; a content security policy in the page holds it to that. The decision of each setup comes
first and large, what has to be known before acting on it directly under it, evidence after.
What came from a scenario is untrusted text: it is cleaned and escaped where it is put in.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from wbplan.cautions import DEFERENCE
from wbplan.decisions import LightPlan, Plan, PositionPlan, SetupPlan
from wbplan.lutrequest import KIND_WORDS
from wbplan.notes import Note
from wbplan.report import exposurewords, words
from wbplan.report import mixed_words as mixed
from wbplan.report.figures import draw_cast_map, draw_spectrum, is_on_map
from wbplan.report.lutwords import list_readings
from wbplan.report.templates import load_template
from wbplan.report.tradeoff_figure import draw_tradeoff


@dataclass(frozen=True, eq=False)
class SetupPage:
    """One setup's plan with what the template cannot work out: figures, notes by weight."""

    anchor: str
    plan: SetupPlan
    warnings: tuple[Note, ...]
    remarks: tuple[Note, ...]
    cast_map: Markup | None
    not_on_map: tuple[tuple[int, PositionPlan], ...]
    spectra: tuple[tuple[LightPlan, Markup], ...]
    tradeoff: Markup | None = None


def render_page(plan: Plan) -> str:
    """Render a plan to one HTML page.

    Returns
    -------
    str
        HTML 5 text, the same for the same plan; light, dark and print styles inside.
    """
    template = load_template("page.html.j2")
    setups = [_prepare(each, f"setup-{number + 1}") for number, each in enumerate(plan.setups)]
    return template.render(
        plan=plan,
        setups=setups,
        words=words,
        mixed=mixed,
        share=words.say_share(plan.band_share),
        said=exposurewords,
        day=exposurewords.list_day(plan),
        deference=DEFERENCE,
        lut_errors=list_readings,
        kind_words=KIND_WORDS,
    )


def _prepare(plan: SetupPlan, anchor: str) -> SetupPage:
    notes = collect_notes(plan)
    drawn = any(is_on_map(each) for each in plan.positions)
    return SetupPage(
        anchor=anchor,
        plan=plan,
        warnings=tuple(each for each in notes if each.weight == "warning"),
        remarks=tuple(each for each in notes if each.weight == "remark"),
        cast_map=draw_cast_map(plan.positions, f"{anchor}-map") if drawn else None,
        not_on_map=tuple(
            (row + 1, each) for row, each in enumerate(plan.positions) if not is_on_map(each)
        ),
        spectra=tuple(
            (each, draw_spectrum(each, f"{anchor}-light-{row + 1}"))
            for row, each in enumerate(plan.lights)
        ),
        tradeoff=_draw_tradeoff(plan, f"{anchor}-kelvin"),
    )


def _draw_tradeoff(plan: SetupPlan, prefix: str) -> Markup | None:
    """Draw the trade-off where there is one: two positions, or a limit."""
    tradeoff = plan.tradeoff
    if tradeoff is None or (len(tradeoff.names) < 2 and not tradeoff.ranges):
        return None
    numbers = {each.name: row + 1 for row, each in enumerate(plan.positions)}
    return draw_tradeoff(tradeoff, numbers, plan.dial, prefix)


def collect_notes(plan: SetupPlan) -> tuple[Note, ...]:
    """Collect the notes on a setup and on its lights, each once, a light's under its name."""
    own = [
        Note(note.code, note.text, note.about or light.name, note.weight)
        for light in plan.lights
        for note in light.notes
    ]
    return tuple(dict.fromkeys([*plan.notes, *own]))
