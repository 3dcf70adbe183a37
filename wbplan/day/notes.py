"""What has to be said of a setup's day: what the model stands on, and what it cannot do."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np

from wbplan.camera.neutralisable import NO_LIGHT
from wbplan.core.names import say_few
from wbplan.core.notes import Note, warn
from wbplan.day.scene import DayScene
from wbplan.day.times import find_spans, list_seconds, say_clock, say_spans
from wbplan.planning.casts import name_tint
from wbplan.scene.beams import LEAST_STOPS, list_unnamed_beams, warn_of_beam, warn_of_cloud
from wbplan.scene.setup import Setup
from wbplan.sky.source import find_beam_stops, find_other_state

_SKY_BAND = Note(
    "sky-band",
    "bands hold plausible cameras, plausible air (or cloud) and what the model of the sky is out "
    "by; a cloud that comes is in none of it",
    "day",
)
_HALF_KELVIN = 0.5  # as settings are said


def note_day(setup: Setup, scene: DayScene, moments: tuple[datetime, ...]) -> tuple[Note, ...]:
    """Say what a setup's day stands on, and what is left open."""
    notes = [*_note_times(scene, moments, setup.name), *_note_menu(setup, scene, moments)]
    notes += _note_trouble(setup, scene, moments)
    models: dict[str, list[str]] = {}
    for row, source in enumerate(setup.sources):
        sky = source.sky
        if sky is None:
            continue
        model = f"{sky.light.origin}; {sky.light.spread_words}"
        models.setdefault(model, []).append(source.name)
        notes.append(Note("sky-light", sky.light.words, source.name))
        read = [
            each.name
            for each in setup.positions
            if each.lux[row] > 0 and not (each.model_share and each.model_share[row] is not None)
        ]
        if read:
            text = (
                f"the lux read at {say_few(read)} at {say_clock(sky.when)} on "
                f"{sky.when:%Y-%m-%d} goes up and down from there as the model does"
            )
            notes.append(Note("lux-carried", text, source.name))
        if sky.light.sun:
            ends = find_other_state(sky.light, sky.site, list_seconds(moments))
            if np.isfinite(ends[0]).any():
                stops, mired = ((float(np.nanmin(x)), float(np.nanmax(x))) for x in ends)
                notes.append(warn_of_cloud(source.name, stops, mired))
        if sky.light.kind == "bounce":
            lit = np.flatnonzero(find_beam_stops(sky.light, sky.site, list_seconds(moments)) > 0)
            when = f"from {say_spans(moments, lit)}" if lit.size else "at none of these times"
            notes.append(Note("bounce-lit", f"the sun falls on it {when}", source.name))
        if sky.light.kind == "sun":
            notes.append(_note_sun(scene, row, source.name, moments))
    notes += _note_beams(setup, moments)
    notes += [Note("sky-model", text, ", ".join(names)) for text, names in models.items()]
    notes.append(_SKY_BAND)
    left_out = _list_left_out(setup)
    if left_out:
        text = f"not followed through the day: {'; '.join(left_out)}. `wbplan plan` has them"
        notes.append(Note("not-followed", text, "day"))
    return tuple(notes)


def _note_times(scene: DayScene, moments: tuple[datetime, ...], name: str) -> Iterator[Note]:
    if not scene.usable.any():
        said = next((each for each in scene.refused if each), "no position has a light to judge by")
        yield warn("no-time", f"nothing can be said of these times: {said}", name)
        return
    idle = ~scene.usable & np.array([not each for each in scene.refused])
    if idle.any():
        spans = say_spans(moments, np.flatnonzero(idle))
        text = f"no position with an intent has light that a setting neutralises: {spans}"
        yield Note("nothing-to-set-by", text, "setting")


def _note_menu(setup: Setup, scene: DayScene, moments: tuple[datetime, ...]) -> Iterator[Note]:
    """Warn of times at which the camera wants what its menu does not reach."""
    menu = setup.camera.menu
    if not scene.usable.any():
        return
    mired, tint = scene.exact_mired.value, scene.exact_tint_cc.value
    if menu.kelvin:
        low, high = menu.kelvin[0], menu.kelvin[-1]
        kelvin = 1e6 / mired
        for flags, extreme in (
            (kelvin > high + _HALF_KELVIN, np.nanmax(kelvin)),
            (kelvin < low - _HALF_KELVIN, np.nanmin(kelvin)),
        ):
            if flags.any():
                yield warn(
                    "off-menu-kelvin",
                    f"the camera wants as far as {extreme:.0f} K and its menu runs from {low:.0f} "
                    f"to {high:.0f} K: {say_spans(moments, np.flatnonzero(flags))}",
                    "setting",
                )
    first, last = menu.tint_cc[0], menu.tint_cc[-1]
    off = (tint < first - 0.05) | (tint > last + 0.05)
    if off.any() and menu.kelvin:
        at = int(np.nanargmax(np.where(off, np.abs(tint), np.nan)))
        yield warn(
            "off-menu-tint",
            f"the camera wants as far as {name_tint(float(tint[at]))} and its menu runs from "
            f"{name_tint(first)} to {name_tint(last)}: {say_spans(moments, np.flatnonzero(off))}",
            "setting",
        )


def _note_trouble(setup: Setup, scene: DayScene, moments: tuple[datetime, ...]) -> Iterator[Note]:
    """Warn of positions whose light no setting neutralises, in the words of the first time."""
    for place, position in enumerate(setup.positions):
        said = [row[place] for row in scene.trouble]
        rows = [number for number, each in enumerate(said) if each and each != NO_LIGHT]
        if rows:
            yield warn("trouble", f"{said[rows[0]]}: {say_spans(moments, rows)}", position.name)


def _note_beams(setup: Setup, moments: tuple[datetime, ...]) -> Iterator[Note]:
    """Warn of each surface that the sun reaches where only its sky is named."""
    for row, names in list_unnamed_beams(setup.sources, setup.positions):
        sky = setup.sources[row].sky
        if sky is None:
            continue
        stops = find_beam_stops(sky.light, sky.site, list_seconds(moments))
        lit = np.flatnonzero(stops > LEAST_STOPS)
        if lit.size:
            when = f"from {say_spans(moments, lit)}"
            yield warn_of_beam(setup.sources[row].name, names, when, float(stops.max()))


def _note_sun(scene: DayScene, row: int, name: str, moments: tuple[datetime, ...]) -> Note:
    lit = (scene.source_lux[:, :, row] > 0).any(axis=1) & (scene.beam_share[:, row] > 0)
    if not find_spans(lit):
        return warn("sun-never", "the sun reaches it at none of these times", name)
    said = say_spans(moments, np.flatnonzero(lit))
    return Note("sun-reaches", f"reaches its surface from {said}", name)


def _list_left_out(setup: Setup) -> list[str]:
    """List what a setup asks for that a day does not look at."""
    parts = {
        f"the cameras beside ({', '.join(each.name for each in setup.beside)})": setup.beside,
        "the ND and glass in the kit": setup.kit,
        "flicker": any(each.flicker is not None for each in setup.sources),
        "further LUTs": setup.luts,
        "tuning of fixtures": setup.wish
        and not setup.wish.assumed
        and any(each.tuned for each in setup.wish.lights),
    }
    return [words for words, asked in parts.items() if asked]
