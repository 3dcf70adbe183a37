"""The page of plate notes: one setup, one HTML file that needs nothing else, to file or to print.

Conditions first, large; then where things stand, what greys and lights come out as in linear light,
the lights as a meter has them, and a checklist whose boxes work on paper and by keyboard. What was
not given is named as not given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wbplan.core.names import say_few
from wbplan.light.colorimetry import find_uv_prime
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.eye_view import EyeView
from wbplan.planning.lights import LightPlan
from wbplan.planning.plate.values import KeyToFill, Levels, LightAtPlace, LightPlate
from wbplan.report.base import words
from wbplan.report.base.templates import load_template
from wbplan.report.exposure import words as exposurewords
from wbplan.report.plan.long import FILES, choose_shown
from wbplan.report.plan.page import INDEX_NAME
from wbplan.report.plan.setup_page import collect_notes
from wbplan.report.plate import words as platewords
from wbplan.report.plate.figure import draw_heights, draw_layout, mark_spots
from wbplan.report.plate.record import PlateFile, build_plate_record
from wbplan.scene.plate import Spot
from wbplan.scene.setup import Source
from wbplan.sky.site import say_moment

_MOST_LIGHTS, _MOST_NAMED = 12, 24


@dataclass(frozen=True, eq=False)
class LightRow:
    """One light with all that the page says of it."""

    mark: str
    light: LightPlan
    source: Source
    seen: LightPlate
    meter: str
    files: tuple[str, ...]


@dataclass(frozen=True)
class SpotRow:
    """One thing on the floor: its mark, where it is in the picture, how far it is from the key."""

    mark: str
    spot: Spot
    seen: str
    to_key: str


@dataclass(frozen=True)
class LevelRows:
    """A position with the lights that give it the most, and how many more there are."""

    ratio: KeyToFill
    lights: tuple[LightAtPlace, ...]
    more: int


def render_plate_pages(
    plan: Plan, setup_plan: SetupPlan, number: int, files: tuple[PlateFile, ...]
) -> tuple[str, str]:
    """Render the plate notes of one setup and what of them fits one sheet of paper.

    The same for the same plan.

    Parameters
    ----------
    number
        Of the setup, from 1.
    files
        That go with it.
    """
    told = _tell(plan, setup_plan, number, files)
    notes, sheet = (load_template(f"plate/{name}.html.j2") for name in ("plate", "sheet"))
    return notes.render(told), sheet.render(told)


def _tell(
    plan: Plan, setup_plan: SetupPlan, number: int, files: tuple[PlateFile, ...]
) -> dict[str, Any]:
    view, setup = setup_plan.plate, setup_plan.setup
    if view is None:
        raise ValueError(f"setup '{setup_plan.name}' has no plate notes")
    marks = mark_spots(
        [each.name for each in setup_plan.lights], [each.name for each in setup_plan.positions]
    )
    given, missing = platewords.list_lens(setup.lens)
    key = next((each for each in setup.layout if each.name == setup.key), None)
    notes = (*view.notes, *collect_notes(setup_plan))
    bodies = setup_plan.bodies
    sun = None if bodies is None else bodies.sun
    drawing = (setup.layout, view.pictured, marks, setup.lens)
    shown = choose_shown(setup_plan)
    return dict(  # noqa: C408 - as a call it reads like what a template is given
        plan=plan,
        index_name=INDEX_NAME,
        each=setup_plan,
        number=number,
        setup=setup,
        view=view,
        said=exposurewords,
        say=platewords,
        share=words.say_share(plan.band_share),
        moment=None if setup.when is None else say_moment(setup.when),
        lens_rows=given,
        lens_missing=missing,
        unplaced=say_few(platewords.list_unplaced(setup_plan), _MOST_NAMED),
        shown=shown,
        cut=words.say_shown(len(shown), len(setup_plan.positions), FILES),
        levels=_list_levels(view.levels, {setup.positions[row].name for row in shown}),
        layout=draw_layout(*drawing, "plan-view", sun) if setup.layout else None,
        heights=draw_heights(*drawing, "side-view"),
        spots=[
            SpotRow(
                marks[each.kind, each.name],
                each,
                platewords.say_in_picture(seen),
                "" if key is None or each is key else platewords.say_apart(each, key),
            )
            for each, seen in zip(setup.layout, view.pictured, strict=True)
        ],
        lights=[
            LightRow(
                marks["light", light.name],
                light,
                setup.sources[row],
                view.lights[row],
                say_meter(light.eye),
                tuple(each.name for each in files if each.light == light.name),
            )
            for row, light in enumerate(setup_plan.lights)
        ],
        luts=build_plate_record(plan, setup_plan, number, files)["luts"],
        files=[each for each in files if not each.light],
        reminders=platewords.list_reminders(setup_plan),
        basis=platewords.BASIS,
        warnings=[note for note in notes if note.weight == "warning"],
        remarks=[note for note in notes if note.weight == "remark"],
        cautions=(*setup_plan.cautions, platewords.CAUTION),
    )


def _list_levels(levels: Levels, shown: set[str]) -> list[LevelRows]:
    """List the lights by position: of more than 12 the main one and those of the most lux."""
    found: dict[str, list[LightAtPlace]] = {}
    for each in levels.at_places:
        found.setdefault(each.position, []).append(each)
    rows = []
    for ratio in levels.key_to_fill:
        if ratio.position in shown:
            here = found[ratio.position]
            first = sorted(here, key=lambda each: (each.light != ratio.main, -each.lux))
            kept = {each.light for each in first[:_MOST_LIGHTS]}
            lights = tuple(each for each in here if each.light in kept)
            rows.append(LevelRows(ratio, lights, len(here) - len(lights)))
    return rows


def say_meter(eye: EyeView) -> str:
    """Say the chromaticity a meter shows: 'x 0.4579, y 0.4104; u′ 0.2622, v′ 0.5288'."""
    if eye.x != eye.x:
        return "no light"
    u, v = (float(each) for each in find_uv_prime([eye.x, eye.y]))
    return f"x {eye.x:.4f}, y {eye.y:.4f}; u′ {u:.4f}, v′ {v:.4f}"
