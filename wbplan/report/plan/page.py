"""The pages: an index of the scenario and one page per setup, each an HTML file that needs nothing.

Idea
----
A crew opens them offline, on a phone or on paper. So there is no network, no script and no second
file; a content security policy in each page holds it to that, and links go only to the other pages
of the same plan. The decision of a setup comes first and large, what has to be known before
acting on it directly under it, evidence after. What came from a scenario is untrusted text: it is
cleaned and escaped where it is put in.
"""

from __future__ import annotations

from jinja2 import Template

from wbplan.lut.file import say_offset
from wbplan.planning.decisions import Plan
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.report.base import words
from wbplan.report.base.svg import make_standalone
from wbplan.report.base.templates import make_environment
from wbplan.report.exposure import words as exposurewords
from wbplan.report.lut.words import list_kinds, list_readings, say_met, say_size
from wbplan.report.mixed import words as mixed
from wbplan.report.plan.card import draw_card
from wbplan.report.plan.checklist import list_camera_duties, list_light_duties
from wbplan.report.plan.provenance import list_data
from wbplan.report.plan.setup_page import SetupPage, prepare_setup
from wbplan.scene.luts import KIND_WORDS
from wbplan.sky.site import say_moment

INDEX_NAME = "report.html"


def name_pages(plan: Plan) -> tuple[str, ...]:
    """Name the pages of a plan: the index, then one for each setup in the scenario's order."""
    return (INDEX_NAME, *(f"{each.stem}_report.html" for each in plan.setups))


def _name_sheet(stem: str) -> str:
    return f"{stem}_sheet.html"


def prepare_pages(plan: Plan) -> list[SetupPage]:
    """Draw and word what every setup's page needs, in the scenario's order."""
    names = name_pages(plan)[1:]
    return [
        prepare_setup(each, name, _name_sheet(each.stem))
        for each, name in zip(plan.setups, names, strict=True)
    ]


def render_pages(plan: Plan, prepared: list[SetupPage] | None = None) -> dict[str, str]:
    """Render a plan to its pages, by file name.

    Parameters
    ----------
    prepared
        From `prepare_pages`, where that was done already.

    Returns
    -------
    dict
        HTML 5 texts, the same for the same plan; light, dark and print styles inside.
    """
    setups = prepare_pages(plan) if prepared is None else prepared
    environment = make_environment()
    pages = {
        INDEX_NAME: _render_index(plan, setups, environment.get_template("plan/index.html.j2"))
    }
    template = environment.get_template("plan/setup.html.j2")
    order = list(plan.shooting_order or range(len(setups)))
    for row, page in enumerate(setups):
        turn = order.index(row)
        before, after = (
            setups[order[each]] if 0 <= each < len(order) else None for each in (turn - 1, turn + 1)
        )
        pages[page.file] = template.render(
            plan=plan,
            each=page,
            index_name=INDEX_NAME,
            sheet_name=page.sheet,
            before=before,
            after=after,
            mixed=mixed,
            share=words.say_share(plan.band_share),
            said=exposurewords,
            lut_errors=list_readings,
            lut_kinds=list_kinds,
            lut_met=say_met,
            lut_size=say_size([file for setup in plan.setups for file in setup.lut_files]),
            say_offset=say_offset,
            kind_words=KIND_WORDS,
            duties=(list_camera_duties(page.plan), *list_light_duties(page.plan)),
            data=list_data(plan, page.plan),
            has_meter=any(look.code == "meter" for place in page.looks for look in place.pictures),
            say_moment=say_moment,
            told_mired=f"{TOLD_MIRED:g}",
            told_cc=f"{TOLD_CC:g}",
        )
    day = {each.row: each for each in exposurewords.list_day(plan)}
    template = environment.get_template("plan/sheet.html.j2")
    for row, page in enumerate(setups):
        pages[page.sheet] = template.render(
            plan=plan,
            each=page,
            line=day[row],
            index_name=INDEX_NAME,
            said=exposurewords,
            duties=list_light_duties(page.plan),
            share=words.say_share(plan.band_share),
            say_moment=say_moment,
        )
    return pages


def render_figures(plan: Plan, prepared: list[SetupPage] | None = None) -> dict[str, str]:
    """Render every figure of a plan, and a card of each decision, as SVG files by name."""
    pages = prepare_pages(plan) if prepared is None else prepared
    day = {each.row: each for each in exposurewords.list_day(plan)}
    made = {}
    for row, page in enumerate(pages):
        rows = [(each.title, each.colours) for each in page.key_rows]
        card = draw_card(page.plan, day[row], rows, "decision")
        for code, picture in (("decision", card), *page.list_figures()):
            made[f"{page.plan.stem}_figure_{code}.svg"] = make_standalone(picture)
    return made


def _render_index(plan: Plan, setups: list[SetupPage], template: Template) -> str:
    cautions = tuple(dict.fromkeys(each for setup in plan.setups for each in setup.cautions))
    return template.render(
        plan=plan,
        setups=setups,
        day=exposurewords.list_day(plan),
        site=plan.setups[0].setup.site if plan.setups else None,
        cautions=cautions,
        say_moment=say_moment,
    )
