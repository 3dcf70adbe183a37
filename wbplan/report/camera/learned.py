"""What was learned of a camera, for the terminal and as a record."""

from __future__ import annotations

import json

import numpy as np

from wbplan import __version__
from wbplan.camera.learn.verdict import Teaching
from wbplan.core.names import clean_text
from wbplan.planning.casts import name_tint
from wbplan.record.profile import make_profile_files

_VERDICTS = {
    "good": "good: patches fit within what a careful frame gives",
    "fair": "fair: usable, but exposure, evenness or glare cost accuracy; better shoot it again",
    "poor": "poor: check the chart, the light's spectrum, clipping and glare before using this",
}
_NEXT = 5


def format_teaching(teaching: Teaching) -> str:
    """Format what was learned for a terminal: the verdict first."""
    lesson, learned = teaching.lesson, teaching.learned
    before, after = teaching.width_before, teaching.width_after
    lights = _name_readings(teaching)
    lines = [
        f"{clean_text(lesson.title)}: learned from {len(lights)} "
        f"{'reading' if len(lights) == 1 else 'readings'}, starting from {lesson.start.name}",
        f"   frames  {_VERDICTS[teaching.verdict]} (noise {100 * learned.noise:.1f} %)",
        f"   band    90 % band over discharge and LED light, mean width: {before[0]:.0f} mired and "
        f"{before[1]:.1f} CC before, {after[0]:.1f} mired and {after[1]:.1f} CC now",
        "",
        "   shoot next            would leave",
    ]
    lines += [
        f"   {clean_text(each.light):<20}  {each.mired:.1f} mired, {each.cc:.1f} CC"
        f"{' (in your scenario)' if each.own else ''}"
        for each in teaching.prospects[:_NEXT]
    ]
    lines += ["", "   lamp      wants", *_list_lamps(teaching)]
    worst = _find_worst_patches(teaching)
    if worst:
        lines += ["", "   largest misses  " + "; ".join(worst)]
    said = [note for note in teaching.notes if note.code != "table"]  # how a file was read
    lines += [f"   {note.weight}  {clean_text(str(note))}" for note in said]
    return "\n".join(lines)


def _name_readings(teaching: Teaching) -> list[str]:
    return [each.name for each in teaching.frames] + [
        each.name for each in teaching.lesson.balances
    ]


def _list_lamps(teaching: Teaching) -> list[str]:
    shown = ("FL2", "FL11", "LED-B3", "LED-B5", "HP1")
    return [
        f"   {each.lamp:<8}  {1e6 / each.mired:.0f} K, {name_tint(each.tint_cc)}, give or take "
        f"{each.mired_width / 2:.1f} mired, {each.cc_width / 2:.1f} CC"
        for each in teaching.lamps
        if each.lamp in shown
    ]


def _find_worst_patches(teaching: Teaching) -> list[str]:
    misses = [
        (float(np.abs(row).max()), patch, frame.name)
        for frame, residual in zip(teaching.frames, teaching.learned.residuals, strict=True)
        for patch, row in zip(frame.surfaces, residual, strict=True)
        if frame.group == "raw"
    ]
    worst = sorted(misses, reverse=True)[:3]
    return [f"patch {patch} {100 * size:.1f} % ({clean_text(name)})" for size, patch, name in worst]


def _round(**figures: float) -> dict[str, float]:
    return {name: round(each, 3) for name, each in figures.items()}


def build_teaching_files(teaching: Teaching) -> dict[str, bytes]:
    """Make the learned profile's files and a record of how it was learned, by name."""
    lesson = teaching.lesson
    start = lesson.start
    lights = ", ".join(_name_readings(teaching))
    provenance = (
        f"Learned by wbplan {__version__} from {clean_text(lights)}; chart: "
        f"{clean_text(lesson.chart.origin)}; date: {clean_text(lesson.date)}; starting from "
        f"{start.name}; frames judged {teaching.verdict}, "
        f"noise {100 * teaching.learned.noise:.1f} %."
    )
    files = make_profile_files(
        lesson.name,
        clean_text(lesson.title),
        provenance[:2000],
        start,
        teaching.verdict,
        teaching.learned.sensitivities,
        teaching.members,
    )
    before, after = teaching.width_before, teaching.width_after
    record = {
        "format": "wbplan lesson record",
        "format_version": 1,
        "wbplan_version": __version__,
        "title": lesson.title,
        "date": lesson.date,
        "start": start.name,
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
        "lamps": [
            {
                "name": each.lamp,
                "kelvin": round(1e6 / each.mired, 1),
                **_round(mired=each.mired, tint_cc=each.tint_cc),
                **_round(band_width_mired=each.mired_width, band_width_cc=each.cc_width),
            }
            for each in teaching.lamps
        ],
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
    text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return {**files, f"{lesson.name}-lesson.json": text.encode("utf-8", "replace")}
