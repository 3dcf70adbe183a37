"""What `wbplan describe` prints: the verdict on each light, then tables, none wider than a line."""

from __future__ import annotations

import math
from collections.abc import Callable

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.description.eye import LightFigures, pick_figures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.report.base import words
from wbplan.report.base.columns import PLAIN_WIDTH, format_columns, wrap_text
from wbplan.report.light import pairs
from wbplan.report.light import words as say
from wbplan.report.light.flicker import SHOT_FPS, list_ripples, say_ripple
from wbplan.report.light.verdict import list_verdict, say_skin_shortly
from wbplan.scene.cautions import SUN, choose_reading_cautions

_MOST_DETAILED = 8  # lights; beyond it the page and the record hold the long rows
_MOST_PAIRS = 15
_LONGEST_NAME = 22


def format_lights(lights: LightSet, width: int = PLAIN_WIDTH) -> str:
    """Format a set of lights for a terminal of a width."""
    rows = [(each, pick_figures(lights.eye, each.row)) for each in lights.lights]
    told = [(each, pick_figures(lights.eye, each.row)) for each in lights.told]
    is_detailed = len(told) <= _MOST_DETAILED
    say_all = _format_verdicts if is_detailed else _format_short
    parts = [say_all(lights, told, width)]
    warnings = [
        ("warning", f"{say.say_name(each)}: {clean_text(note.text)}")
        for each, _ in rows
        for note in each.notes
        if note.weight == "warning"
    ]
    warnings += [("refused", clean_text(reason)) for _, reason in lights.refused]
    parts.append(_format_under(list(dict.fromkeys(warnings)), width))
    parts.append(_format_pairs(lights, width))
    parts += [
        _format(_EYE, rows, _list_eye, width),
        _format(_RENDERING, rows, _list_rendering, width),
    ]
    if is_detailed:
        parts += [
            _format(_SPECIAL, rows, _list_special, width),
            _format(_BINS, rows, _list_bins, width),
        ]
    if lights.repeats:
        repeated = [
            [f"{clean_text(each.name)}, {len(each.rows)} times", *say.list_repeat(each)]
            for each in lights.repeats
        ]
        parts.append("\n".join(format_columns([_REPEATS, *repeated], width)))
    coarse = [each for each in rows if each[0].sampling is not None]
    parts.append(_format(_SAMPLING, coarse, _list_sampling, width))
    flickering = [each for each in rows if each[0].flicker is not None]
    parts.append(_format(_FLICKER, flickering, _list_flicker, width))
    if lights.filter_name:
        changed = [each for each in rows if each[0].change is not None]
        table = _format(_CHANGES, changed, _list_changes, width)
        parts.append(f"Behind {clean_text(lights.filter_name)}\n{table}")
    if lights.against is not None:
        other = clean_text(lights.against.name)
        model = " (model)" if lights.against.spectrum.is_model else ""
        compared = [each for each in rows if each[0].gap is not None]
        head = _GAPS if lights.camera is None else [*_GAPS, "to the camera"]
        parts.append(f"Against {other}{model}\n{_format(head, compared, _list_gaps, width)}")
    if lights.camera is not None:
        seen = [each for each in rows if each[0].camera is not None]
        share = words.say_share(lights.band_share)
        table = _format(_CAMERA, seen, _list_camera, width)
        parts.append(f"Camera {clean_text(lights.camera.name)}, {share} band\n{table}")
    read = [
        ("read as", f"{clean_text(each.name)}: {clean_text(each.understood)}")
        for each, _ in rows
        if each.understood and not each.behind
    ]
    parts.append(_format_under(read, width))
    if SUN in choose_reading_cautions(lights.spectra):
        parts.append(_format_under([("caution", SUN.text)], width))
    return "\n\n".join(part for part in parts if part)


Rows = list[tuple[LightDescription, LightFigures]]
_EYE = ["light", "light level", "x", "y", "u'", "v'", "CCT", "Duv", "dominant, purity"]
_RENDERING = ["rendering", "Ra", "R9", "Rf", "Rg", "Rf skin", "TM-30 intent", "TLCI", "SSI"]
_SPECIAL = ["CIE samples", *(f"R{number}" for number in range(1, 16))]
_BINS = ["chroma %, hue bin", *(f"{number}" for number in range(1, 17))]
_SAMPLING = ["steps leave open", "step", "CCT", "Duv", "Ra", "R9", "Rf", "TLCI", "SSI"]
_REPEATS = ["readings scatter", "lux", "CCT", "Duv (+ green)", "Ra", "R9"]
_FLICKER = ["stops at 180°, fps", *(f"{fps:g}" for fps in SHOT_FPS)]
_CHANGES = ["light", "costs", "by CCT", "by Duv", "xy apart", "SSI to the bare light"]
_GAPS = [
    *("light", "by CCT", "by Duv", "ideal filter that closes it", "xy apart", "steps"),
    *("SSI", "TLMF"),
]
_CAMERA = [
    *("light", "wants", "stops exposed, against the lux", "hues dE00", "skin dE00"),
    "suffers most",
]


def _format_verdicts(lights: LightSet, rows: Rows, width: int) -> str:
    blocks = []
    for light, figures in rows:
        number = f"{light.row + 1}  " if len(lights.lights) > 1 else ""
        lines = wrap_text(number + say.say_name(light), width, "   ")
        for head, text in list_verdict(lights, light, figures):
            lines += wrap_text(f"   {head:8}{text}", width, " " * 11)
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def _format_short(lights: LightSet, rows: Rows, width: int) -> str:
    """Set the verdicts of many lights in a row each."""
    head = ["light", "CCT", "Duv", "TLCI"]
    head += [] if lights.camera is None else ["dial", "the meter's Kelvin leaves", "skin"]
    return _format(head, rows, _list_short, width)


def _list_short(light: LightDescription, figures: LightFigures) -> list[str]:
    view = light.camera
    cells = [words.say_kelvin(figures.cct_kelvin), say.say_light_duv(figures)]
    cells.append(say.say_whole(figures.tlci))
    if view is not None:
        dial = "nothing" if view.dial is None else words.say_setting(view.dial)
        left = say.NONE if view.metered is None else words.say_cast(view.metered)
        cells += [dial, left, say_skin_shortly(view)]
    return cells


def _format_pairs(lights: LightSet, width: int) -> str:
    said = pairs.say_pairs(lights)
    if not lights.pairs:
        return said
    head = ["side by side", "steps", "SSI"]
    head += ["matches"] if lights.camera is None else ["in the camera", "matches"]
    ordered = pairs.sort_pairs(lights)
    table = [head]
    for each in ordered[:_MOST_PAIRS]:
        cells = [pairs.say_pair(lights, each), say.say_steps(each.steps), say.say_whole(each.ssi)]
        if lights.camera is not None:
            cells.append(pairs.say_cast_apart(each))
        table.append([*cells, pairs.say_match(lights, each)])
    lines = [*wrap_text(said, width, ""), *format_columns(table, width)]
    if len(ordered) > _MOST_PAIRS:
        lines.append(f"The {_MOST_PAIRS} nearest; the page and the record hold all.")
    return "\n".join([*lines, *wrap_text(pairs.MEANING, width, "")])


def _format_under(told: list[tuple[str, str]], width: int) -> str:
    return "\n".join(
        line for head, text in told for line in wrap_text(f"   {head:9}{text}", width, " " * 12)
    )


def _format(
    head: list[str],
    rows: Rows,
    list_cells: Callable[[LightDescription, LightFigures], list[str]],
    width: int,
) -> str:
    """Set a row for each light under a head, its name first; nothing where there is no light."""
    table = [[_name(light), *list_cells(light, figures)] for light, figures in rows]
    return "\n".join(format_columns([head, *table], width)) if table else ""


def _name(light: LightDescription) -> str:
    """Name a light by its number and as much of its name as a column has room for."""
    name = f"{light.row + 1} {say.say_name(light)}"
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1].rstrip()}…"


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
    return [
        *map(say.say_whole, shown),
        say.say_intent(figures.intent),
        say.say_whole(figures.tlci),
        say.say_ssi(figures.ssi, light.ssi_reference),
    ]


def _list_special(light: LightDescription, figures: LightFigures) -> list[str]:
    return [say.say_whole(each) for each in figures.special]


def _list_bins(light: LightDescription, figures: LightFigures) -> list[str]:
    return [say.say_percent_shift(each).removesuffix(" %") for each in figures.bin_chroma]


def _list_sampling(light: LightDescription, figures: LightFigures) -> list[str]:
    assert light.sampling is not None
    return [f"{light.sampling.step_nm:g} nm", *say.list_sampling(light.sampling)]


def _list_flicker(light: LightDescription, figures: LightFigures) -> list[str]:
    assert light.flicker is not None
    return [say_ripple(stops) for _, stops in list_ripples(light.flicker)]


def _list_changes(light: LightDescription, figures: LightFigures) -> list[str]:
    change = light.change
    assert change is not None
    colour = [say.say_mired_gap(change.mired), say.say_green_gap(change)]
    distance = [say.say_digits(change.xy, 4), say.say_whole(change.ssi)]
    return [words.say_stops(light.loss_stops), *colour, *distance]


def _list_gaps(light: LightDescription, figures: LightFigures) -> list[str]:
    gap = light.gap
    assert gap is not None
    colour = [say.say_mired_gap(gap.mired), say.say_green_gap(gap), say.say_closing(gap)]
    cells = [*colour, say.say_digits(gap.xy, 4), say.say_steps(gap.steps)]
    cells += [say.say_whole(gap.ssi), say.say_whole(gap.tlmf)]
    if light.camera is not None:
        seen = gap.camera
        cells.append(_join(words.say_cast(seen), words.say_cast_span(seen)) if seen else say.NONE)
    return cells


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
