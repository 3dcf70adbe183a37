"""From a lesson to a learned camera: the estimate, the verdict on it, what to shoot next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wbplan.camera.learn.estimate import (
    Balance,
    Frame,
    Learned,
    Prior,
    draw_learned,
    learn_sensitivities,
    make_prior,
)
from wbplan.camera.learn.next_light import Prospect, find_band_widths, find_slopes, rank_lights
from wbplan.camera.sensitivities import Camera, draw_ensemble, find_log2_response, respond
from wbplan.camera.setting import find_distance, find_locus_response, solve_coordinates
from wbplan.core.errors import InputError
from wbplan.core.intervals import find_ends
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array, list_source_records, load_table
from wbplan.light.spectrum import Spectrum

MEMBERS, MEMBER_SEED = 256, 20130115
_OUTLIER_NOISE, _OUTLIER_LEAST = 6.0, 0.08
_GOOD_NOISE, _FAIR_NOISE = 0.012, 0.03
_FALLOFF_STOPS = 0.1
_UNLIKE = 0.99  # share of plausible cameras that a report lies beyond
_VEIL_NAMED = 0.002  # of the brightest patch
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

    ``date`` is the user's own word for when it was shot. ``lights`` are name and (401,) power of
    those of the scenario that the camera is wanted for, if one is given. ``read_under`` are the
    lights of the frames and balances.
    """

    title: str
    name: str
    date: str
    start: Camera
    chart: Chart
    frames: tuple[Frame, ...]
    balances: tuple[Balance, ...]
    notes: tuple[Note, ...]
    lights: tuple[tuple[str, Array], ...] = ()
    read_under: tuple[Spectrum, ...] = ()


@dataclass(frozen=True, eq=False)
class LampView:
    """What a learned camera wants under one light, and what its starting profile thought.

    The widths are those of the 90 % bands, from end to end.
    """

    lamp: str
    mired: float
    tint_cc: float
    mired_width: float
    cc_width: float
    mired_before: float
    tint_cc_before: float
    mired_width_before: float
    cc_width_before: float


@dataclass(frozen=True, eq=False)
class Teaching:
    """A learned camera with all that is to be said of it.

    ``frames`` are those of the lesson without the patches left out, in the order of the learned
    residuals. ``members`` (256, 81, 3) plausible cameras. ``widths`` the mean width of the 90 %
    bands over all CIE discharge and LED illuminants [mired, CC], before and after. ``lamps`` are
    these illuminants, ``own_lights`` those that were read and those of the scenario. ``prospects``
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
    own_lights: tuple[LampView, ...]
    prospects: tuple[Prospect, ...]
    notes: tuple[Note, ...]


def teach(lesson: Lesson) -> Teaching:
    """Learn a camera from a lesson.

    Patches that the estimate misses by far more than its noise are left out by name and the
    estimate is made again, once. What frames suffered, and a light that the others contradict, is
    named.

    Raises
    ------
    InputError
        If the frames leave the camera's settings less sure than they were.
    """
    prior = make_prior(lesson.start)
    learned = learn_sensitivities(lesson.start, lesson.frames, lesson.balances, prior)
    frames, notes, changed = _drop_outliers(lesson, learned)
    if changed:
        learned = learn_sensitivities(lesson.start, frames, lesson.balances, prior)
    notes += _name_faults(frames, learned)
    doubts = _name_contradictions(lesson, frames, learned, prior) + _name_unlike(lesson)
    notes += doubts
    rows = {each.name: each for each in list_source_records()}
    targets = [
        name
        for name, each in rows.items()
        if name.startswith(("FL", "HP", "LED-")) and each.dataset.startswith("CIE")
    ]
    table = load_table("sources")
    lights = table[[rows[name].row for name in targets]]
    own = [*((each.name, each.values) for each in lesson.read_under), *lesson.lights]
    views = _view_lights(lesson.start, learned, [*zip(targets, lights, strict=True), *own])
    lamps, own_lights = views[: len(targets)], views[len(targets) :]
    before = np.array([[each.mired_width_before, each.cc_width_before] for each in lamps])
    after = np.array([[each.mired_width, each.cc_width] for each in lamps])
    _check_gain(lesson.start, before, after, doubts)
    usual = table[[rows[name].row for name in _CANDIDATES]]
    reflectances = lesson.chart.reflectances
    if lesson.lights:
        names, powers = zip(*lesson.lights, strict=True)
        wanted = np.stack(powers)
        at_hand = rank_lights(learned, names, wanted, wanted, reflectances)
        others = rank_lights(learned, _CANDIDATES, usual, wanted, reflectances)
        ranked = (*(replace(each, own=True) for each in at_hand), *others)
    else:
        ranked = rank_lights(learned, _CANDIDATES, usual, lights, reflectances)
    return Teaching(
        lesson=lesson,
        frames=frames,
        learned=learned,
        members=draw_learned(learned, MEMBERS, MEMBER_SEED),
        verdict=_judge(learned),
        width_before=_mean_pair(before),
        width_after=_mean_pair(after),
        lamps=lamps,
        own_lights=own_lights,
        prospects=ranked,
        notes=(*lesson.notes, *notes),
    )


def _view_lights(
    start: Camera, learned: Learned, lights: Sequence[tuple[str, Array]]
) -> tuple[LampView, ...]:
    """View lights with the learned camera and with the profile that was started from."""
    names = [name for name, _ in lights]
    power = np.stack([values for _, values in lights])
    now, then = (
        solve_coordinates(
            find_locus_response(curves[None]), find_log2_response(respond(power, curves[None]))
        )
        for curves in (learned.sensitivities, start.sensitivities)
    )
    after = find_band_widths(learned.posterior, find_slopes(learned.posterior.mean, power))
    figures = np.column_stack(
        [
            *(now.mired, now.tint_cc, after),
            *(then.mired, then.tint_cc, _find_family_widths(start, power)),
        ]
    )
    return tuple(LampView(name, *row) for name, row in zip(names, figures.tolist(), strict=True))


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
        places = None if frame.places is None else frame.places[good]
        frames.append(
            replace(
                frame, power=frame.power[good], raw=frame.raw[good], surfaces=kept, places=places
            )
        )
    return tuple(frames), notes, bool(notes)


def _name_faults(frames: tuple[Frame, ...], learned: Learned) -> list[Note]:
    notes = []
    for frame, fault in zip(frames, learned.faults, strict=True):
        if fault.veil > max(_VEIL_NAMED, 2 * fault.veil_sd):
            text = (
                f"a veil of {100 * fault.veil:.1f} % of the brightest patch lies over the chart: "
                "it was taken out; shade the lens and keep bright things out of the frame"
            )
            notes.append(warn("veil", text, frame.name))
        if max(abs(fault.across_stops), abs(fault.down_stops)) > _FALLOFF_STOPS:
            text = (
                f"light changes over the chart by {abs(fault.across_stops):.2f} stop from side to "
                f"side and {abs(fault.down_stops):.2f} from top to bottom: it was taken out; light "
                "it more evenly, or divide by a frame of an even grey card in its place"
            )
            notes.append(warn("uneven-light", text, frame.name))
    return notes


def _name_contradictions(
    lesson: Lesson, frames: tuple[Frame, ...], learned: Learned, prior: Prior
) -> list[Note]:
    """Name the frames without which all others agree far better, where they do not agree well."""
    charts = [each for each in frames if each.group == "raw" and len(each.surfaces) > 1]
    if learned.noise <= _GOOD_NOISE or len(charts) < 2:
        return []
    suspects = []
    for frame in charts:
        rest = tuple(each for each in frames if each is not frame)
        without = learn_sensitivities(lesson.start, rest, lesson.balances, prior)
        if without.noise <= learned.noise / 2:
            suspects.append(frame.name)
    if not suspects:
        return []
    if len(suspects) == 1:
        text = "the others agree without this frame: was this its light?"
        return [warn("light-contradicted", text, suspects[0])]
    text = f"{' and '.join(suspects)} contradict each other: is the light of each the right one?"
    return [warn("light-contradicted", text)]


def _name_unlike(lesson: Lesson) -> list[Note]:
    """Name what a camera reported that next to no camera like the starting profile would."""
    members = draw_ensemble(lesson.start)
    if not members.size:
        return []
    notes = []
    for each in lesson.balances:
        stops = find_log2_response(respond(np.stack([each.power, each.locus]), members))
        red, green, blue = np.moveaxis(stops[0] - stops[1], -1, 0)
        cloud = np.stack([red - blue, green - (red + blue) / 2 - np.log2(each.green_ratio)], axis=1)
        miss, own = cloud - cloud.mean(axis=0), cloud.mean(axis=0)
        weight = np.linalg.inv(miss.T @ miss / len(cloud))
        far = np.einsum("ki,ij,kj->k", miss, weight, miss)
        if (far < own @ weight @ own).mean() > _UNLIKE:
            text = (
                f"under 1 in 100 cameras like {lesson.start.name} would report that: this one is "
                "unlike them, so shoot a chart, or the light was not the one that is stated"
            )
            notes.append(warn("camera-unlike", text, each.name))
    return notes


def _check_gain(start: Camera, before: Array, after: Array, doubts: list[Note]) -> None:
    """Refuse frames that leave settings less sure than the profile they started from."""
    one, two = (float(find_distance(*_mean_pair(each))) for each in (before, after))
    if one > 0 and two > one:
        doubt = "".join(f" ({each})" for each in doubts)
        raise InputError(
            f"frames after which settings are less sure than with {start.name} by itself: a "
            f"band of {two:.0f} mired instead of {one:.0f}{doubt}",
            "frames that teach: the chart's reflectances, the light's own spectrum, no clipping",
        )
