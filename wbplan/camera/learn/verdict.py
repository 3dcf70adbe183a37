"""From a lesson to a learned camera: the estimate, the verdict on it, what to shoot next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wbplan.camera.learn.estimate import (
    Balance,
    Frame,
    Learned,
    draw_learned,
    learn_sensitivities,
    make_prior,
)
from wbplan.camera.learn.frames import find_falloff
from wbplan.camera.learn.next_light import Prospect, find_band_widths, find_slopes, rank_lights
from wbplan.camera.sensitivities import Camera, draw_ensemble, find_log2_response, respond
from wbplan.camera.setting import find_locus_response, solve_coordinates
from wbplan.core.intervals import find_ends
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array, list_source_records, load_table

MEMBERS, MEMBER_SEED = 256, 20130115
_OUTLIER_NOISE, _OUTLIER_LEAST = 6.0, 0.08
_GOOD_NOISE, _FAIR_NOISE = 0.012, 0.03
_FALLOFF_STOPS = 0.1
_CANDIDATES = (
    *("A", "D55", "FL2", "FL11", "FL12", "HP1", "LED-B1", "LED-B3", "LED-B5", "LED-RGB1"),
    *("LED-V1", "metal-halide-4300k", "xenon-6300k"),
)

Verdict = Literal["good", "fair", "poor"]


@dataclass(frozen=True, eq=False)
class Chart:
    """Reflectances (m, 401) of named patches, in the chart's order, and where they come from."""

    reflectances: Array
    patches: tuple[str, ...]
    origin: str


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a lesson file says, its frames ready to be learned from.

    ``positions`` gives each frame's patches' places on the chart, (m, 2), or None where it came
    as a table; ``date`` is the user's own word for when it was shot.
    """

    title: str
    name: str
    date: str
    start: Camera
    chart: Chart
    frames: tuple[Frame, ...]
    positions: tuple[Array | None, ...]
    balances: tuple[Balance, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class LampView:
    """What a learned camera wants under one lamp, with the width of its band before and after."""

    lamp: str
    mired: float
    tint_cc: float
    mired_width: float
    cc_width: float


@dataclass(frozen=True, eq=False)
class Teaching:
    """A learned camera with all that is to be said of it.

    ``frames`` are those of the lesson without the patches left out, in the order of the learned
    residuals. ``members`` (256, 81, 3) plausible cameras. ``widths`` the mean width of the 90 %
    bands over all CIE discharge and LED illuminants [mired, CC], before and after. ``prospects``
    lights to shoot next, best first.
    """

    lesson: Lesson
    frames: tuple[Frame, ...]
    learned: Learned
    members: Array
    verdict: Verdict
    width_before: tuple[float, float]
    width_after: tuple[float, float]
    lamps: tuple[LampView, ...]
    prospects: tuple[Prospect, ...]
    notes: tuple[Note, ...]


def teach(lesson: Lesson) -> Teaching:
    """Learn a camera from a lesson.

    Patches that the estimate misses by far more than its noise are left out by name and the
    estimate is made again, once. A frame whose residuals slope over the chart gets a hint about
    uneven light.
    """
    prior = make_prior(lesson.start)
    learned = learn_sensitivities(lesson.start, lesson.frames, lesson.balances, prior)
    frames, notes, changed = _drop_outliers(lesson, learned)
    if changed:
        learned = learn_sensitivities(lesson.start, frames, lesson.balances, prior)
    notes += _hint_falloff(replace(lesson, frames=frames), learned) if not changed else []
    rows = {each.name: each for each in list_source_records()}
    targets = [
        name
        for name, each in rows.items()
        if name.startswith(("FL", "HP", "LED-")) and each.dataset.startswith("CIE")
    ]
    table = load_table("sources")
    lights = table[[rows[name].row for name in targets]]
    before = _find_family_widths(lesson.start, lights)
    after = find_band_widths(learned.posterior, find_slopes(learned.posterior.mean, lights))
    ranked = rank_lights(
        learned,
        _CANDIDATES,
        table[[rows[name].row for name in _CANDIDATES]],
        lights,
        lesson.chart.reflectances,
    )
    found = solve_coordinates(
        find_locus_response(learned.sensitivities[None]),
        find_log2_response(respond(lights, learned.sensitivities[None])),
    )
    lamps = tuple(
        LampView(
            name, float(found.mired[row, 0]), float(found.tint_cc[row, 0]), *after[row].tolist()
        )
        for row, name in enumerate(targets)
    )
    return Teaching(
        lesson=lesson,
        frames=frames,
        learned=learned,
        members=draw_learned(learned, MEMBERS, MEMBER_SEED),
        verdict=_judge(learned),
        width_before=_mean_pair(before),
        width_after=_mean_pair(after),
        lamps=lamps,
        prospects=ranked,
        notes=(*lesson.notes, *notes),
    )


def _find_family_widths(start: Camera, lights: Array) -> Array:
    """Find the width of the 90 % bands of the profile that was started from, (t, 2)."""
    members = draw_ensemble(start)
    if not members.size:
        return np.zeros((len(lights), 2))
    found = solve_coordinates(
        find_locus_response(members), find_log2_response(respond(lights, members))
    )
    low, high = find_ends(np.stack([found.mired, found.tint_cc], axis=1))
    return high - low


def _mean_pair(widths: Array) -> tuple[float, float]:
    mired, cc = widths.mean(axis=0)
    return float(mired), float(cc)


def _judge(learned: Learned) -> Verdict:
    if learned.noise <= _GOOD_NOISE:
        return "good"
    return "fair" if learned.noise <= _FAIR_NOISE else "poor"


def _drop_outliers(lesson: Lesson, learned: Learned) -> tuple[tuple[Frame, ...], list[Note], bool]:
    frames, notes = [], []
    limit = max(_OUTLIER_NOISE * learned.noise, _OUTLIER_LEAST)
    for frame, residual in zip(lesson.frames, learned.residuals, strict=True):
        # A dark channel is noisy by itself: what counts is the patch as a whole.
        miss = (
            np.abs(np.median(residual, axis=1)) if frame.group == "raw" else np.zeros(len(residual))
        )
        good = miss <= limit
        if good.all() or good.sum() < len(good) / 2:
            frames.append(frame)
            continue
        for patch, fine, size in zip(frame.surfaces, good, miss, strict=True):
            if not fine:
                text = f"patch '{patch}' is {100 * size:.0f} % off what fits the others: left out"
                notes.append(warn("patch-outlier", text, frame.name))
        kept = tuple(each for each, fine in zip(frame.surfaces, good, strict=True) if fine)
        frames.append(replace(frame, power=frame.power[good], raw=frame.raw[good], surfaces=kept))
    return tuple(frames), notes, bool(notes)


def _hint_falloff(lesson: Lesson, learned: Learned) -> list[Note]:
    notes = []
    for frame, places, residual in zip(
        lesson.frames, lesson.positions, learned.residuals, strict=True
    ):
        if places is None:
            continue
        across, down = find_falloff(places, residual)
        if max(abs(across), abs(down)) > _FALLOFF_STOPS:
            text = (
                f"light changes over the chart by {abs(across):.2f} stop from side to side and "
                f"{abs(down):.2f} from top to bottom: light it more evenly, or divide by a frame "
                "of an even grey card in its place"
            )
            notes.append(warn("uneven-light", text, frame.name))
    return notes
