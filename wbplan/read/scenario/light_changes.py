"""What a scenario says of lights that may be put out, dimmed, moved or bounced, and of ratios.

Fields: `wbplan guide scenario`, under `advise`. What a light gives at its new place is worked out
here, once, from the distances that the crew says or that its layout has; or it is what they read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import cast

import numpy as np

from wbplan.core.errors import InputError, describe_choices
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.dimming import (
    find_dimmed_kelvin,
    find_dimmed_volts,
    find_handbook_kelvin,
    shape_dimming,
)
from wbplan.light.distance import Size, find_moved_level, find_seen_part
from wbplan.light.reflectances import REFLECTANCE
from wbplan.light.spectrum import Spectrum, find_illuminance_lux
from wbplan.read.yaml.fields import Fields
from wbplan.scene.changes import LevelRatio, LightChange, Make
from wbplan.scene.plate import Spot, find_separation
from wbplan.scene.setup import Position, Source

ReadCurve = Callable[[Fields, str], Spectrum]

_MAKES: tuple[tuple[Make, tuple[str, ...]], ...] = (
    ("filament", ("a", "standard-source-a", "tungsten-", "iso 7589 studio", "iso 7589 photoflood")),
    ("led", ("led-",)),
    ("discharge", ("fl", "hp", "sodium-", "mercury-", "metal-halide-", "xenon-")),
)
_KINDS: dict[str, Make] = {
    "black_body_kelvin": "filament",
    "channels": "led",
    "phosphor_led": "led",
    "led_mix": "led",
    "discharge_lamp": "discharge",
    "xenon_flash": "discharge",
}
_FILAMENT_KELVIN, _FILAMENT_DUV = (1500.0, 3500.0), 0.006
_MOST_CHANGES, _MOST_RATIOS = 24, 8
_PLACE_KINDS = ("metres", "layout", "distance_m", "lux")
_SURFACE_KINDS = ("surface", "reflectance_percent", "reflectance_file")


def read_make(fields: Fields, kind: str) -> Make:
    """Read what makes a light: as the scenario says it, else by the kind or the lamp it names."""
    if "is_a" in fields:
        return cast(Make, fields.choice("is_a"))
    if kind == "lamp":
        name = fields.text(kind).casefold()
        for make, starts in _MAKES:
            if any(name == each if len(each) == 1 else name.startswith(each) for each in starts):
                return make
    return _KINDS.get(kind, "")


@dataclass(frozen=True, eq=False)
class Room:
    """Where things stand, and what is read there: what a change of a light is worked out from."""

    positions: tuple[Position, ...]
    sources: tuple[Source, ...]
    layout: tuple[Spot, ...]
    read_curve: ReadCurve

    def find_lux(self, light: str) -> dict[str, float]:
        """Find what a light gives at each position as it is."""
        row = [each.name for each in self.sources].index(light)
        return {each.name: float(each.lux[row]) for each in self.positions}


def read_light_changes(fields: Fields, source: Source, room: Room) -> tuple[LightChange, ...]:
    """Read how a light may burn or stand otherwise; empty where nothing is said."""
    lux = np.array(list(room.find_lux(source.name).values()))
    changes: list[LightChange] = []
    if "off" in fields and fields.flag("off"):
        changes.append(LightChange("off", np.zeros(lux.size)))
    if "dim_stops" in fields:
        changes += _read_dimming(fields, source, lux)
    elif "filament_kelvin" in fields:
        raise fields.refuse("filament_kelvin", "filament_kelvin without dim_stops", "both of them")
    for kind in ("move", "bounce"):
        if kind in fields and (source.sky is not None or source.make == "window"):
            raise fields.refuse(kind, f"'{source.name}', daylight or a window", "a lamp")
    size = _read_size(fields, source.name, room)
    for name, each in fields.named_mappings("move", required=False).items():
        changes.append(_read_move(name, each, fields, source, room, size))
    for name, each in fields.named_mappings("bounce", required=False).items():
        changes.append(_read_bounce(name, each, fields, source, room, size))
    if len(changes) > _MOST_CHANGES:
        found = f"{len(changes)} ways for '{source.name}' to burn or stand"
        raise InputError(found, f"at most {_MOST_CHANGES}", fields.place)
    return tuple(changes)


def _read_dimming(fields: Fields, source: Source, lux: Array) -> list[LightChange]:
    if source.sky is not None or source.make == "window":
        raise fields.refuse("dim_stops", f"'{source.name}', daylight or a window", "a lamp")
    if not source.make:
        found = f"'{source.name}', of which nobody said what makes it"
        allowed = "`is_a` at the light: filament, led or discharge"
        raise fields.refuse("dim_stops", found, allowed)
    stops = fields.numbers("dim_stops")
    if source.make == "filament":
        kelvin = _read_filament_kelvin(fields, source)
        return [_dim_filament(source, lux, kelvin, each) for each in stops]
    if "filament_kelvin" in fields:
        raise fields.refuse("filament_kelvin", f"a {source.make} light", "a filament")
    what = "an LED is often dimmed by pulses" if source.make == "led" else "a discharge seldom dims"
    text = (
        f"{what}: its colour is taken to stay, and it may ripple or go out; read its flicker and "
        "shoot a test at the planned shutter when it is dimmed"
    )
    note = warn("dimmed-ripple", text, source.name)
    return [LightChange("dimmed", lux * 2.0**-each, stops=each, notes=(note,)) for each in stops]


def _dim_filament(source: Source, lux: Array, kelvin: float, stops: float) -> LightChange:
    planck, handbook = (find(kelvin, stops) for find in (find_dimmed_kelvin, find_handbook_kelvin))
    text = (
        f"dimmed {stops:g} stops its filament is taken to go from {kelvin:.0f} to {planck:.0f} K, "
        f"by Planck's law; a handbook's figures say {handbook:.0f} K: read it again then"
    )
    return LightChange(
        "dimmed",
        lux * 2.0**-stops,
        shape=shape_dimming(kelvin, stops),
        stops=stops,
        volts_share=float(find_dimmed_volts(stops)),
        notes=(Note("dimmed-filament", text, source.name),),
    )


def _read_filament_kelvin(fields: Fields, source: Source) -> float:
    low, high = _FILAMENT_KELVIN
    if "filament_kelvin" in fields:
        return fields.number("filament_kelvin")
    kelvin, duv = (float(each) for each in find_cct_duv(source.spectrum.values))
    if low <= kelvin <= high and abs(duv) <= _FILAMENT_DUV:
        return kelvin
    found = f"'{source.name}', which does not look like a bare filament"
    raise fields.refuse("dim_stops", found, "`filament_kelvin`, that of the lamp without a filter")


def _read_size(fields: Fields, light: str, room: Room) -> Size | None:
    """Read how large a light is: as said beside its changes, else as the layout has it."""
    given = fields.numbers("size_m", 2, required=False)
    if given:
        return given[0], given[1]
    spots = {each.name: each for each in room.layout}
    return spots[light].size_m if light in spots else None


def _read_move(
    name: str, part: Fields, fields: Fields, source: Source, room: Room, size: Size | None
) -> LightChange:
    read = room.find_lux(source.name)
    if part.kind(_PLACE_KINDS) == "lux":
        return LightChange("moved", _read_lux(part, read), name)
    lit = [each for each, lux in read.items() if lux > 0]
    now = _find_now(fields, source.name, room, lit)
    then = _find_then(part, source.name, room, lit)
    level = [float(find_moved_level(size, now[each], then[each])) for each in lit]
    lux = {**dict.fromkeys(read, 0.0), **{e: read[e] * v for e, v in zip(lit, level, strict=True)}}
    text = (
        "what it gives from there follows from the distances alone, aimed as it was and with "
        "nothing in its way: read it again"
    )
    note = Note("moved-light", text, source.name)
    return LightChange("moved", np.array(list(lux.values())), name, notes=(note,))


def _read_bounce(
    name: str, part: Fields, fields: Fields, source: Source, room: Room, size: Size | None
) -> LightChange:
    read = room.find_lux(source.name)
    kind = part.kind(_PLACE_KINDS)
    shape, part_back = None, 1.0
    if kind != "lux" or any(each in part for each in _SURFACE_KINDS):
        shape, part_back = _read_reflectance(part, source, room.read_curve)
    if kind == "lux":
        return LightChange("bounced", _read_lux(part, read), name, shape)
    lit = [each for each, lux in read.items() if lux > 0]
    now = _find_now(fields, source.name, room, lit)
    wide = part.numbers("size_m", 2)
    lamp_m = part.number("lamp_m")
    there = max(
        (float(read[each] * find_moved_level(size, now[each], lamp_m)) for each in lit), default=0.0
    )
    then = _find_then(part, source.name, room, lit)
    level = {
        each: there * part_back * float(find_seen_part((wide[0], wide[1]), metres))
        for each, metres in then.items()
    }
    text = (
        "what comes back is worked out for a matt surface that the lamp fills evenly, square to "
        "both, thrown back once: read it again"
    )
    note = Note("bounced-light", text, source.name)
    lux = np.array([level.get(each, 0.0) for each in read])
    return LightChange("bounced", lux, name, shape, notes=(note,))


def _read_reflectance(
    part: Fields, source: Source, read_curve: ReadCurve
) -> tuple[Array | None, float]:
    """Read a surface: what it does to a spectrum, and the part of this light it throws back."""
    kind = part.kind(_SURFACE_KINDS)
    if kind == "surface":
        return None, REFLECTANCE[part.choice(kind)]
    if kind == "reflectance_percent":
        return None, part.number(kind) / 100.0
    curve = read_curve(part, kind)
    low, high = float(curve.values.min()), float(curve.values.max())
    if low < 0 or high > 1 or high <= 0:
        found = f"a reflectance of {low:.3g} to {high:.3g}"
        raise part.refuse(kind, found, "values from 0 to 1, or percent marked %")
    back = find_illuminance_lux(source.spectrum.values * curve.values)
    return curve.values, float(back / find_illuminance_lux(source.spectrum.values))


def _read_lux(part: Fields, read: Mapping[str, float]) -> Array:
    """Read what the crew read of the light as it stands then; a place not named gets none."""
    given = part.named_numbers("lux")
    _check_places(part.mapping("lux"), given, read)
    return np.array([given.get(each, 0.0) for each in read])


def _find_now(fields: Fields, light: str, room: Room, lit: list[str]) -> dict[str, float]:
    """Find how far a light stands from each place it lights: as said, else by the layout."""
    given: dict[str, float] = {}
    if "now_m" in fields:
        given = fields.named_numbers("now_m")
        _check_places(fields.mapping("now_m"), given, room.find_lux(light))
    spots = {each.name: each for each in room.layout}
    for each in lit:
        if each not in given and light in spots and each in spots:
            given[each] = _separate(spots[light], spots[each], fields)
    missing = [each for each in lit if each not in given]
    if missing:
        found = f"no distance from '{light}' to '{missing[0]}', which it lights"
        allowed = "`now_m` for each place that it lights, or all of them in the layout"
        raise InputError(found, allowed, fields.place)
    return given


def _find_then(part: Fields, light: str, room: Room, lit: list[str]) -> dict[str, float]:
    """Find how far each place is from where the light, or its surface, stands then."""
    kind = part.kind(_PLACE_KINDS)
    if kind == "metres":
        given = part.named_numbers("metres")
        _check_places(part.mapping("metres"), given, room.find_lux(light))
    else:
        spots = {each.name: each for each in room.layout}
        if kind == "layout":
            place = spots[part.choice(kind, list(spots) or ["nothing: there is no layout"])]
        else:
            place = Spot(
                "",
                "light",
                part.number("distance_m"),
                part.number("bearing_deg"),
                part.number("height_m", None),
            )
        given = {
            each.name: _separate(place, spots[each.name], part)
            for each in room.positions
            if each.name in spots and spots[each.name] is not place
        }
    missing = [each for each in lit if each not in given]
    if missing:
        found = f"no distance to '{missing[0]}', which the light lights"
        raise part.refuse(kind, found, "every place that it lights")
    return given


def _separate(one: Spot, two: Spot, fields: Fields) -> float:
    apart = find_separation(one, two)
    metres = apart.floor_m if apart.straight_m is None else apart.straight_m
    if metres <= 0:
        found = f"'{two.name}' where the light stands"
        raise InputError(found, "a distance above 0", fields.place)
    return metres


def _check_places(fields: Fields, given: Iterable[str], known: Mapping[str, float]) -> None:
    for each in given:
        if each not in known:
            found = f"the position '{each}'"
            raise InputError(found, describe_choices(each, known), fields.place_of(each))


def read_ratios(fields: Fields, room: Room) -> tuple[LevelRatio, ...]:
    """Read the ratios of two levels that are wanted."""
    parts = fields.mappings("ratios", required=False)
    if len(parts) > _MOST_RATIOS:
        raise fields.refuse("ratios", f"{len(parts)} ratios", f"at most {_MOST_RATIOS}")
    return tuple(_read_ratio(each, room) for each in parts)


def _read_ratio(fields: Fields, room: Room) -> LevelRatio:
    places = [each.name for each in room.positions]
    at = fields.choice("at", places, "")
    names = [each.name for each in room.sources] if at else places
    key, fill = fields.choice("key", names), fields.choice("fill", names)
    if key == fill:
        raise fields.refuse("fill", f"'{fill}' twice", "two lights or two positions")
    return LevelRatio(
        key,
        fill,
        fields.number("ratio"),
        fields.number("within_stops"),
        at,
    )
