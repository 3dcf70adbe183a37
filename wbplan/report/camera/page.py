"""The page of a learned camera: how sure it is now, what it wants of which light, its curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan import __version__
from wbplan.camera.learn.estimate import Fault, Frame
from wbplan.camera.learn.verdict import Teaching
from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.names import clean_text
from wbplan.report.base.templates import load_template
from wbplan.report.camera import learned as words
from wbplan.report.camera.figures import draw_curves, draw_lights
from wbplan.report.light.figures import draw_key
from wbplan.scene.cautions import choose_reading_cautions


@dataclass(frozen=True)
class FrameRow:
    """What one reading gave: how many patches, which fits worst, what it suffered."""

    name: str
    patches: str
    worst: str
    veil: str
    falloff: str


def render_teaching_page(teaching: Teaching) -> str:
    """Render a learned camera to one HTML page, the same for the same lesson."""
    lesson = teaching.lesson
    lights = words.list_lights(teaching)
    notes = [each for each in dict.fromkeys(teaching.notes) if each.code != "table"]
    legend = [
        (draw_key(number), f"{name}, {name[0].upper()}") for number, name in enumerate(CHANNELS)
    ]
    mired, cc = teaching.width_after
    return load_template("camera/learned.html.j2").render(
        title=lesson.title,
        name=lesson.name,
        start=lesson.start.name,
        origin=words.say_origin(teaching),
        verdict=words.say_verdict(teaching),
        before=words.say_width_before(teaching),
        after=(f"{mired:.1f} mired", f"{cc:.1f} CC"),
        next=words.list_next(teaching),
        lights=[
            (
                each.lamp,
                words.say_wanted_before(each),
                words.say_spread_before(each),
                words.say_wants(each),
                words.say_spread(each),
                words.say_before(each),
            )
            for each in lights
        ],
        read=[each.name for each in lesson.read_under],
        curves=draw_curves(teaching, "curves"),
        legend=legend,
        off=draw_lights(lights, lesson.start.name, "off"),
        frames=_list_frames(teaching),
        warnings=[each for each in notes if each.weight == "warning"],
        remarks=[each for each in notes if each.weight == "remark"],
        chart=lesson.chart.origin,
        date=lesson.date,
        cautions=choose_reading_cautions(lesson.read_under),
        version=__version__,
    )


def _list_frames(teaching: Teaching) -> list[FrameRow]:
    learned = teaching.learned
    rows = zip(teaching.frames, learned.residuals, learned.faults, strict=True)
    made = [_make_row(frame, residual, fault) for frame, residual, fault in rows]
    balances = (clean_text(each.name) for each in teaching.lesson.balances)
    return [*made, *(FrameRow(name, "a setting it reported", "–", "–", "–") for name in balances)]


def _make_row(frame: Frame, residual: np.ndarray, fault: Fault) -> FrameRow:
    is_chart = frame.group == "raw" and len(frame.surfaces) > 1
    misses = np.abs(residual).max(axis=1)
    row = int(misses.argmax())
    kind = f"{len(frame.surfaces)} patches" if is_chart else "grey"
    if frame.group == "matrix":
        kind = "a published matrix"
    uneven = max(abs(fault.across_stops), abs(fault.down_stops))
    return FrameRow(
        name=clean_text(frame.name),
        patches=kind,
        worst=f"{frame.surfaces[row]}: {100 * misses[row]:.1f} %" if is_chart else "–",
        veil=f"{round(100 * fault.veil, 1) + 0.0:.1f} %" if is_chart else "–",
        falloff=f"{uneven:.2f} stop" if is_chart and frame.places is not None else "–",
    )
