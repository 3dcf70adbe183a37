"""A learned camera as files: its profile, a page and a record of how it was learned."""

from __future__ import annotations

import json
from typing import Any

from wbplan import __version__
from wbplan.camera.learn.verdict import LampView, Teaching
from wbplan.core.names import clean_text
from wbplan.record.profile import make_profile_files
from wbplan.report.camera.learned import name_readings
from wbplan.report.camera.page import render_teaching_page


def _round(**figures: float) -> dict[str, float]:
    return {name: round(each, 3) for name, each in figures.items()}


def build_profile_files(teaching: Teaching) -> dict[str, bytes]:
    """Make the learned profile's files, by name."""
    lesson = teaching.lesson
    start = lesson.start
    lights = ", ".join(name_readings(teaching))
    provenance = (
        f"Learned by wbplan {__version__} from {clean_text(lights)}; chart: "
        f"{clean_text(lesson.chart.origin)}; date: {clean_text(lesson.date)}; starting from "
        f"{start.name}; frames judged {teaching.verdict}, "
        f"noise {100 * teaching.learned.noise:.1f} %."
    )
    return make_profile_files(
        lesson.name,
        clean_text(lesson.title),
        provenance[:2000],
        start,
        teaching.verdict,
        teaching.learned.sensitivities,
        teaching.members,
    )


def build_teaching_files(teaching: Teaching) -> dict[str, bytes]:
    """Make the learned profile's files, the page and the record of how it was learned, by name."""
    name = teaching.lesson.name
    record = json.dumps(_build_record(teaching), indent=1, ensure_ascii=False, allow_nan=False)
    return {
        **build_profile_files(teaching),
        f"{name}-lesson.html": render_teaching_page(teaching).encode("utf-8"),
        f"{name}-lesson.json": f"{record}\n".encode("utf-8", "replace"),
    }


def _build_record(teaching: Teaching) -> dict[str, Any]:
    lesson = teaching.lesson
    before, after = teaching.width_before, teaching.width_after
    return {
        "format": "wbplan lesson record",
        "format_version": 1,
        "wbplan_version": __version__,
        "title": lesson.title,
        "date": lesson.date,
        "start": lesson.start.name,
        "verdict": teaching.verdict,
        **_round(noise_percent=100 * teaching.learned.noise),
        "band_percent": 90,
        **_round(band_width_before_mired=before[0], band_width_before_cc=before[1]),
        **_round(band_width_after_mired=after[0], band_width_after_cc=after[1]),
        "frames": [
            {
                "name": frame.name,
                "patches": [
                    {"name": patch, "miss_percent_rgb": [round(100 * float(x), 2) for x in row]}
                    for patch, row in zip(frame.surfaces, residual, strict=True)
                ],
            }
            for frame, residual in zip(teaching.frames, teaching.learned.residuals, strict=True)
        ],
        "lamps": [_record_view(each) for each in teaching.lamps],
        "own_lights": [_record_view(each) for each in teaching.own_lights],
        "shoot_next": [
            {
                "light": each.light,
                **_round(left_mired=each.mired, left_cc=each.cc),
                "in_scenario": each.own,
            }
            for each in teaching.prospects
        ],
        "notes": [
            {"code": each.code, "about": each.about, "weight": each.weight, "text": each.text}
            for each in teaching.notes
        ],
    }


def _record_view(view: LampView) -> dict[str, Any]:
    return {
        "name": view.lamp,
        "kelvin": round(1e6 / view.mired, 1),
        **_round(mired=view.mired, tint_cc=view.tint_cc),
        **_round(band_width_mired=view.mired_width, band_width_cc=view.cc_width),
        **_round(before_mired=view.mired_before, before_tint_cc=view.tint_cc_before),
        **_round(band_width_before_mired=view.mired_width_before),
        **_round(band_width_before_cc=view.cc_width_before),
    }
