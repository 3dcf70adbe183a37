"""The tables that `wbplan describe` prints: each light a row, the eye first, then the camera."""

from __future__ import annotations

import math
from collections.abc import Iterable

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.description.eye import LightFigures, pick_figures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.report.base.words import (
    say_cast,
    say_cast_span,
    say_share,
    say_stops,
    say_wanted,
    say_wanted_span,
)
from wbplan.report.light import words as say
from wbplan.scene.cautions import SUN, choose_reading_cautions

_MOST_DETAILED = 8  # lights; beyond it the page and the record hold the long rows


def format_lights(lights: LightSet) -> str:
    """Format a set of lights for a terminal."""
    rows = [(each, pick_figures(lights.eye, each.row)) for each in lights.lights]
    parts = [_format(_list_eye(rows)), _format(_list_rendering(rows))]
    if len(rows) <= _MOST_DETAILED:
        parts += [_format(_list_special(rows)), _format(_list_bins(rows))]
    if lights.filter_name:
        parts.append(f"Behind {clean_text(lights.filter_name)}\n{_format(_list_changes(rows))}")
    if lights.against is not None:
        other = clean_text(lights.against.name)
        model = " (model)" if lights.against.spectrum.is_model else ""
        parts.append(f"Against {other}{model}\n{_format(_list_gaps(rows))}")
    if lights.camera is not None:
        table = _format(_list_camera(rows, lights.band_share))
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


def _list_eye(rows: Rows) -> list[list[str]]:
    head = ["light", "light level", "x", "y", "u'", "v'", "CCT", "Duv", "dominant, purity"]
    return [
        head,
        *(
            [
                say.say_name(light),
                say.say_illuminance(light),
                *(say.say_digits(each, 4) for each in figures[:4]),
                say.say_cct(figures),
                say.say_light_duv(figures),
                say.say_dominant(figures),
            ]
            for light, figures in rows
        ),
    ]


def _list_rendering(rows: Rows) -> list[list[str]]:
    head = ["rendering", "Ra", "R9", "Rf", "Rg", "Rf skin", "SSI"]
    return [
        head,
        *(
            [
                say.say_name(light),
                say.say_whole(figures.ra),
                say.say_whole(figures.special[8]),
                *(say.say_whole(each) for each in (figures.rf, figures.rg, figures.skin_rf)),
                say.say_ssi(figures.ssi, light.ssi_reference),
            ]
            for light, figures in rows
        ),
    ]


def _list_special(rows: Rows) -> list[list[str]]:
    return [
        ["CIE samples", *(f"R{number}" for number in range(1, 16))],
        *(
            [say.say_name(light), *(say.say_whole(each) for each in figures.special)]
            for light, figures in rows
        ),
    ]


def _list_bins(rows: Rows) -> list[list[str]]:
    return [
        ["chroma by hue bin", *(f"{number}" for number in range(1, 17))],
        *(
            [say.say_name(light), *(say.say_percent_shift(each) for each in figures.bin_chroma)]
            for light, figures in rows
        ),
    ]


def _list_changes(rows: Rows) -> list[list[str]]:
    table = [["light", "costs", "by CCT", "by Duv", "xy apart", "SSI to the bare light"]]
    for light, _ in rows:
        if light.change is not None:
            change = light.change
            table.append(
                [
                    say.say_name(light),
                    say_stops(light.loss_stops),
                    say.say_mired_gap(change.mired),
                    say.say_green_gap(change),
                    say.say_digits(change.xy, 4),
                    say.say_whole(change.ssi),
                ]
            )
    return table


def _list_gaps(rows: Rows) -> list[list[str]]:
    table = [["light", "by CCT", "by Duv", "ideal filter that closes it", "xy apart", "SSI"]]
    has_camera = any(light.camera is not None for light, _ in rows)
    if has_camera:
        table[0].append("to the camera")
    for light, _ in rows:
        gap = light.gap
        if gap is None:
            continue
        row = [
            say.say_name(light),
            say.say_mired_gap(gap.mired),
            say.say_green_gap(gap),
            say.say_closing(gap),
            say.say_digits(gap.xy, 4),
            say.say_whole(gap.ssi),
        ]
        if has_camera:
            row.append(
                _join(say_cast(gap.camera), say_cast_span(gap.camera)) if gap.camera else "–"
            )
        table.append(row)
    return table


def _join(said: str, span: str) -> str:
    return f"{said} ({span})" if span else said


def _list_camera(rows: Rows, share: float) -> list[list[str]]:
    table = [
        [
            "light",
            f"wants ({say_share(share)} band)",
            "stops exposed, against the lux",
            "hues dE00",
            "skin dE00",
        ]
    ]
    table[0].append("suffers most")
    for light, _ in rows:
        view = light.camera
        if view is None:
            continue
        wants = view.trouble or _join(say_wanted(view.wanted), say_wanted_span(view.wanted))
        table.append(
            [
                say.say_name(light),
                "nothing that can be set" if view.trouble else wants,
                say.say_exposure(view),
                _say_pair(view.hue_mean, view.hue_worst),
                _say_pair(view.skin_mean, view.skin_worst),
                say.say_worst(view),
            ]
        )
    return table


def _say_pair(mean: Interval, worst: Interval) -> str:
    if not math.isfinite(mean.value):
        return say.NONE
    return f"{say.say_error(mean)}, worst {say.say_error(worst)}"


def _format(table: Iterable[list[str]]) -> str:
    rows = list(table)
    if len(rows) < 2:
        return ""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )
