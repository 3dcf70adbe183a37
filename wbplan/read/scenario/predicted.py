"""Lux that photometry files give where nobody has read any; fields: `wbplan guide scenario`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from wbplan.core.errors import InputError, fold_name
from wbplan.core.notes import Note, warn
from wbplan.light.photometry import find_flux_lm
from wbplan.read.photometry import read_photometry
from wbplan.read.yaml.fields import Fields
from wbplan.scene.plate import Lamp, Spot
from wbplan.scene.predicted import BAND, FAR_SIZES, NoPlaceError, predict_light
from wbplan.scene.setup import Position, Source

_BESIDE = ("dimmer", "turn_deg", "band_percent", "lamp_set")
_MOST_FLUX = 1.05


def list_lamps(fields: Fields, known: Iterable[str]) -> tuple[str, ...]:
    """List the lights for which the layout names a photometry file."""
    if "layout" not in fields or not fields.is_mapping("layout"):
        return ()
    spots = fields.named_mappings("layout").items()
    named = {fold_name(name) for name, each in spots if "photometry" in each}
    return tuple(each for each in known if fold_name(each) in named)


def read_lamp(fields: Fields, folder: Path) -> Lamp | None:
    """Read a light's photometry file and how it burns; None where none is named."""
    if "photometry" not in fields:
        for each in _BESIDE:
            if each in fields:
                raise fields.refuse(each, f"{each} without photometry", "both of them")
        return None
    file = fields.text("photometry")
    path = fields.path("photometry", folder)
    lamp_set = fields.whole("lamp_set", None)
    try:
        photometry = read_photometry(path, lamp_set)
    except InputError as error:
        raise fields.blame("photometry", error) from None
    if not photometry.candela.any():
        raise fields.refuse("photometry", "a file without any light", "some light")
    band = BAND
    if "band_percent" in fields:
        low, high = fields.numbers("band_percent", 2)
        if not low <= 0 <= high:
            found = f"from {low:g} to {high:g} %"
            raise fields.refuse("band_percent", found, "0 or less, then 0 or more")
        band = 1.0 + low / 100.0, 1.0 + high / 100.0
    return Lamp(
        file=file,
        photometry=photometry,
        dimmer=fields.number("dimmer"),
        turn_deg=fields.number("turn_deg"),
        band=band,
    )


def predict_levels(
    fields: Fields,
    positions: tuple[Position, ...],
    sources: tuple[Source, ...],
    layout: tuple[Spot, ...],
    camera_m: float | None,
    readings: Mapping[str, Mapping[str, float]],
) -> tuple[tuple[Position, ...], tuple[Note, ...]]:
    """Give positions the lux that photometry files predict, where no reading is there.

    Raises
    ------
    InputError
        For a light that no lamp is, and where a height or an aim is missing.
    """
    lux = np.stack([each.lux for each in positions])
    bands: list[list[tuple[float, float] | None]] = [[None] * len(sources) for _ in positions]
    spots = {each.name: each for each in layout if each.kind == "position"}
    lamps = {each.name: each for each in layout if each.lamp is not None}
    notes: list[Note] = []
    for row, source in enumerate(sources):
        spot = lamps.get(source.name)
        if spot is None or spot.lamp is None:
            continue
        if source.sky is not None or source.flash or source.make == "window":
            kind = "a flash" if source.flash else "daylight or a window"
            where = fields.mapping("layout").mapping(_find_written(fields, source.name))
            raise where.refuse("photometry", f"'{source.name}', {kind}", "a lamp that burns")
        unread = [n for n, at in enumerate(positions) if source.name not in readings[at.name]]
        rows = [n for n in unread if positions[n].name in spots]
        places = tuple(spots[positions[n].name] for n in rows)
        try:
            found, metres = predict_light(spot, places, layout, camera_m)
        except NoPlaceError as error:
            outer = fields.mapping("layout")
            place = outer.mapping(_find_written(fields, error.spot)).place_of(error.field)
            raise InputError(error.found, error.allowed, place) from None
        for number, level in zip(rows, found, strict=True):
            lux[number, row] = level
            bands[number][row] = spot.lamp.band
        apart = zip(places, metres, strict=True)
        near = [each.name for each, distance in apart if _is_near(spot, float(distance))]
        without = [positions[n].name for n in unread if n not in rows]
        notes += _note_light(source, spot.lamp, [each.name for each in places], near, without)
    changed = tuple(
        replace(each, lux=lux[n], predicted=tuple(bands[n]) if any(bands[n]) else ())
        for n, each in enumerate(positions)
    )
    return changed, tuple(notes)


def _find_written(fields: Fields, name: str) -> str:
    names = list(fields.mapping("layout").keys())
    return next(each for each in names if fold_name(each) == fold_name(name))


def _is_near(spot: Spot, metres: float) -> bool:
    sides: list[float] = [*(spot.size_m or ()), spot.lamp.photometry.size_m if spot.lamp else 0.0]
    return metres < FAR_SIZES * max(sides)


def _note_light(
    source: Source, lamp: Lamp, names: list[str], near: list[str], without: list[str]
) -> list[Note]:
    """Say what is predicted, how sure it is, and what it leaves out."""
    notes = []
    if names:
        low, high = (100 * (end - 1.0) for end in lamp.band)
        text = (
            f"the lux at {', '.join(names)} is predicted from {lamp.file}, nobody has read it: "
            f"within {low:.0f} to +{high:.0f} %, direct light alone, without what walls, floor and "
            "ceiling throw back. Read it there: a reading takes its place"
        )
        notes.append(warn("predicted-lux", text, source.name))
    if near:
        text = (
            f"{', '.join(near)} is nearer than {FAR_SIZES:g} times the light's size, where the "
            "inverse square law gives too much light: read it there"
        )
        notes.append(warn("predicted-near", text, source.name))
    if without:
        text = f"nothing is predicted at {', '.join(without)}, without a place in the layout"
        notes.append(warn("not-predicted", text, source.name))
    if names and lamp.dimmer < 1 and source.make == "filament":
        text = (
            "a dimmed filament goes warm: its spectrum has to be that of the dimmed lamp, and "
            "`dimmer` changes only its level"
        )
        notes.append(warn("predicted-dimmed", text, source.name))
    flux, stated = find_flux_lm(lamp.photometry), lamp.photometry.lamp_lumens
    if stated is not None and flux > _MOST_FLUX * stated:
        text = (
            f"{lamp.file} gives {flux:.0f} lm in all directions together, more than the "
            f"{stated:.0f} lm that it states for its lamps: one of the two is wrong"
        )
        notes.append(warn("photometry-flux", text, source.name))
    return notes
