"""The page of described lights: one HTML file that needs nothing else, like the plan's."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from wbplan.core.notes import Note
from wbplan.description.eye import LightFigures, pick_figures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.description.pairs import Pair
from wbplan.report.base.templates import load_template
from wbplan.report.light import flicker as flickerwords
from wbplan.report.light import pairs as pairwords
from wbplan.report.light import words as lightwords
from wbplan.report.light.figures import (
    draw_chromaticity,
    draw_hue_bins,
    draw_key,
    draw_overlay,
    list_companions,
)
from wbplan.report.light.verdict import list_verdict
from wbplan.scene.cautions import choose_reading_cautions

MOST_DRAWN = 12  # lights in the figures; more lines than that cannot be told apart
_MOST_PAIRS = 66  # as many as twelve lights have


@dataclass(frozen=True, eq=False)
class LightRow:
    """One light with what the template cannot work out; ``verdict`` has heads and texts."""

    number: int
    light: LightDescription
    figures: LightFigures
    verdict: list[tuple[str, str]]
    key: Markup
    hue_bins: Markup | None


def render_light_page(lights: LightSet, version: str) -> str:
    """Render described lights to one HTML page, the same for the same lights."""
    template = load_template("light/light.html.j2")
    rows = [_prepare(lights, each) for each in lights.lights]
    drawn = rows[:MOST_DRAWN]
    warnings, remarks = _collect(lights)
    beside = list_companions(lights, [each.light for each in drawn])
    points = [each.figures for each in drawn]
    return template.render(
        lights=lights,
        rows=rows,
        drawn=drawn,
        told=[rows[each.row] for each in lights.told][:MOST_DRAWN],
        beside=beside,
        overlay=draw_overlay([each.light for each in drawn], "overlay", beside),
        diagram=draw_chromaticity(points, "uv", True, beside),
        close_up=draw_chromaticity(points, "uv-near", False, beside),
        warnings=warnings,
        remarks=remarks,
        pairs=pairwords.sort_pairs(lights)[:_MOST_PAIRS],
        square=_lay_square(lights),
        say=lightwords,
        coarse=[each for each in rows if each.light.sampling is not None],
        flickering=[each for each in rows if each.light.flicker is not None],
        flickerwords=flickerwords,
        pairwords=pairwords,
        version=version,
        cautions=choose_reading_cautions(lights.spectra),
    )


def _prepare(lights: LightSet, light: LightDescription) -> LightRow:
    figures = pick_figures(lights.eye, light.row)
    fidelity = lights.eye.fidelity
    has_bins = light.row < MOST_DRAWN and figures.rf == figures.rf
    return LightRow(
        number=light.row + 1,
        light=light,
        figures=figures,
        verdict=list_verdict(lights, light, figures),
        key=draw_key(light.row),
        hue_bins=draw_hue_bins(
            figures,
            fidelity.test_ab[light.row],
            fidelity.reference_ab[light.row],
            f"bins-{light.row + 1}",
        )
        if has_bins
        else None,
    )


def _lay_square(lights: LightSet) -> list[tuple[int, list[Pair | None]]]:
    """Lay the pairs of up to twelve lights out as a square: a row's light and a pair a column.

    None stands where a light meets itself; empty for more lights, or a single one.
    """
    rows = sorted({row for each in lights.pairs for row in (each.first, each.second)})
    if not 2 <= len(rows) <= MOST_DRAWN:
        return []
    found = {frozenset((each.first, each.second)): each for each in lights.pairs}
    return [(row, [found.get(frozenset((row, other))) for other in rows]) for row in rows]


def _collect(lights: LightSet) -> tuple[list[Note], list[Note]]:
    """Collect each light's notes under its name, and the files that were refused."""
    notes = [
        Note(note.code, note.text, light.name, note.weight)
        for light in lights.lights
        for note in light.notes
        if note.code != "table"  # stands with how the file was read
    ]
    notes = list(dict.fromkeys(notes))
    warnings = [each for each in notes if each.weight == "warning"]
    warnings += [
        Note("refused", reason, f"{file}, not described", "warning")
        for file, reason in lights.refused
    ]
    return warnings, [each for each in notes if each.weight == "remark"]
