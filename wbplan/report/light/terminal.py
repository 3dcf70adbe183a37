"""The tables that `wbplan describe` prints: each light a row, the eye first, then the camera."""

from __future__ import annotations

import math
from collections.abc import Callable

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.description.eye import LightFigures, pick_figures
from wbplan.description.gaps import GapFigures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.report.base import words
from wbplan.report.base.columns import format_rows
from wbplan.report.light import words as say
from wbplan.scene.cautions import SUN, choose_reading_cautions

_MOST_DETAILED = 8  # lights; beyond it the page and the record hold the long rows


def format_lights(lights: LightSet) -> str:
    """Format a set of lights for a terminal."""
    rows = [(each, pick_figures(lights.eye, each.row)) for each in lights.lights]
    parts = [_format(_EYE, rows, _list_eye), _format(_RENDERING, rows, _list_rendering)]
    if len(rows) <= _MOST_DETAILED:
        parts += [_format(_SPECIAL, rows, _list_special), _format(_BINS, rows, _list_bins)]
    if lights.filter_name:
        changed = [each for each in rows if each[0].change is not None]
        table = _format(_CHANGES, changed, _list_changes)
        parts.append(f"Behind {clean_text(lights.filter_name)}\n{table}")
    if lights.against is not None:
        other = clean_text(lights.against.name)
        model = " (model)" if lights.against.spectrum.is_model else ""
        compared = [each for each in rows if each[0].gap is not None]
        head = _GAPS if lights.camera is None else [*_GAPS, "to the camera"]
        parts.append(f"Against {other}{model}\n{_format(head, compared, _list_gaps)}")
    if lights.camera is not None:
        seen = [each for each in rows if each[0].camera is not None]
        head = ["light", f"wants ({words.say_share(lights.band_share)} band)", *_CAMERA]
        table = _format(head, seen, _list_camera)
        parts.append(f"Camera {clean_text(lights.camera.name)}\n{table}")
    warnings = [
        f"   warning  {say.say_name(each)}: {clean_text(note.text)}"
        for each, _ in rows
        for note in each.notes
        if note.weight == "warning"
    ]
    warnings += [f"   refused  {clean_text(reason)}" for _, reason in lights.refused]
    if warnings:
        parts.append("\n".join(dict.fromkeys(warnings)))
    read = [
        f"   read as  {clean_text(each.name)}: {clean_text(each.understood)}"
        for each, _ in rows
        if each.understood and not each.behind
    ]
    parts.append("\n".join(read))
    if SUN in choose_reading_cautions(lights.spectra):
        parts.append(f"   caution  {SUN.text}")
    return "\n\n".join(part for part in parts if part)


Rows = list[tuple[LightDescription, LightFigures]]
_EYE = ["light", "light level", "x", "y", "u'", "v'", "CCT", "Duv", "dominant, purity"]
_RENDERING = ["rendering", "Ra", "R9", "Rf", "Rg", "Rf skin", "SSI"]
_SPECIAL = ["CIE samples", *(f"R{number}" for number in range(1, 16))]
_BINS = ["chroma by hue bin", *(f"{number}" for number in range(1, 17))]
_CHANGES = ["light", "costs", "by CCT", "by Duv", "xy apart", "SSI to the bare light"]
_GAPS = ["light", "by CCT", "by Duv", "ideal filter that closes it", "xy apart", "SSI"]
_CAMERA = ["stops exposed, against the lux", "hues dE00", "skin dE00", "suffers most"]


def _format(
    head: list[str], rows: Rows, list_cells: Callable[[LightDescription, LightFigures], list[str]]
) -> str:
    """Set a row for each light under a head, its name first; nothing where there is no light."""
    table = [[say.say_name(light), *list_cells(light, figures)] for light, figures in rows]
    return "\n".join(format_rows([head, *table], indent="")) if table else ""


def _list_eye(light: LightDescription, figures: LightFigures) -> list[str]:
    return [
        say.say_illuminance(light),
        *(say.say_digits(each, 4) for each in figures[:4]),
        words.say_kelvin(figures.cct_kelvin),
        say.say_light_duv(figures),
        say.say_dominant(figures),
    ]


def _list_rendering(light: LightDescription, figures: LightFigures) -> list[str]:
    shown = (figures.ra, figures.special[8], figures.rf, figures.rg, figures.skin_rf)
    return [*map(say.say_whole, shown), say.say_ssi(figures.ssi, light.ssi_reference)]


def _list_special(light: LightDescription, figures: LightFigures) -> list[str]:
    return [say.say_whole(each) for each in figures.special]


def _list_bins(light: LightDescription, figures: LightFigures) -> list[str]:
    return [say.say_percent_shift(each) for each in figures.bin_chroma]


def _list_changes(light: LightDescription, figures: LightFigures) -> list[str]:
    change = light.change
    assert change is not None
    colour = [say.say_mired_gap(change.mired), say.say_green_gap(change)]
    return [words.say_stops(light.loss_stops), *colour, *_list_distance(change)]


def _list_gaps(light: LightDescription, figures: LightFigures) -> list[str]:
    gap = light.gap
    assert gap is not None
    colour = [say.say_mired_gap(gap.mired), say.say_green_gap(gap), say.say_closing(gap)]
    cells = [*colour, *_list_distance(gap)]
    if light.camera is not None:
        seen = gap.camera
        cells.append(_join(words.say_cast(seen), words.say_cast_span(seen)) if seen else say.NONE)
    return cells


def _list_distance(gap: GapFigures) -> list[str]:
    return [say.say_digits(gap.xy, 4), say.say_whole(gap.ssi)]


def _join(said: str, span: str) -> str:
    return f"{said} ({span})" if span else said


def _list_camera(light: LightDescription, figures: LightFigures) -> list[str]:
    view = light.camera
    assert view is not None
    wants = _join(words.say_wanted(view.wanted), words.say_wanted_span(view.wanted))
    return [
        "nothing that can be set" if view.trouble else wants,
        say.say_exposure(view),
        _say_pair(view.hue_mean, view.hue_worst),
        _say_pair(view.skin_mean, view.skin_worst),
        say.say_worst(view),
    ]


def _say_pair(mean: Interval, worst: Interval) -> str:
    if not math.isfinite(mean.value):
        return say.NONE
    return f"{say.say_error(mean)}, worst {say.say_error(worst)}"
