"""What a scenario says about limits, changes, fixtures and further cameras.

The parts of the schema that `read.scenario.reader` leaves to this module:
`within`, `channels`, `two_readings`, `generic`, `advise`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.core.errors import InputError, describe_choices, fold_name
from wbplan.light.filters import Filter
from wbplan.light.generic_filters import GENERIC_NAMES, find_generic
from wbplan.light.spectrum import Spectrum, find_illuminance_lux, rescale_to_lux, scale_to_lux
from wbplan.light.two_readings import divide_readings
from wbplan.read.catalogue import find_camera
from wbplan.read.scenario.light_changes import Room, read_light_changes, read_ratios
from wbplan.read.scenario.shifts import read_pair, read_shift
from wbplan.read.yaml.fields import Fields
from wbplan.scene.changes import (
    TUNED_LOSS_STOPS,
    ChangeableLight,
    FixtureMatch,
    Preference,
    Wish,
    list_generic_filters,
)
from wbplan.scene.dialling import mixes_any
from wbplan.scene.fixtures import Fixture
from wbplan.scene.setup import Source

_MOST_CHANNELS = 32


def read_limits(fields: Fields, judged: bool) -> tuple[float, float]:
    """Read a position's hard limits, (mired, CC), infinite where it has none."""
    if "within" not in fields:
        return math.inf, math.inf
    if not judged:
        raise fields.refuse("within", "a limit beside intent 'leave'", "no limit")
    within = fields.mapping("within")
    mired = within.number("mired", math.inf)
    return mired, within.number("cc", math.inf)


def read_generic(fields: Fields, name: str) -> Filter:
    """Read the name of a generic correction."""
    return find_generic(fields.choice(name))


def read_two_readings(fields: Fields, name: str, read: Callable[[Fields, str], Spectrum]) -> Filter:
    """Read a filter from a light read without it and behind it.

    Both files are on one scale, or each is scaled to the lux that was read with it.
    """
    pair = fields.mapping(name)
    without, behind = (read(pair.mapping(each), "spectrum_file") for each in ("without", "behind"))
    lux = []
    for each in ("without", "behind"):
        part = pair.mapping(each)
        lux.append(part.number("lux", None))
    if (lux[0] is None) != (lux[1] is None):
        raise pair.refuse("behind", "lux for one of the two readings", "lux for both, or for none")
    curves = []
    for each, spectrum, level in zip(("without", "behind"), (without, behind), lux, strict=True):
        if find_illuminance_lux(spectrum.values) <= 0:
            raise pair.refuse(each, "a spectrum without any visible light", "some light")
        scaled = spectrum.values if level is None else scale_to_lux(spectrum.values, level)
        curves.append(scaled)
    try:
        made = divide_readings(behind.name, *curves)
    except ValueError as error:
        allowed = (
            "two readings of one light at one place, on one scale: state `lux` for both if the "
            "files are relative"
        )
        raise pair.refuse("behind", str(error), allowed) from None
    notes = (*without.notes, *behind.notes, *made.notes)
    return Filter(made.name, made.transmittance, notes=notes)


def read_fixture(fields: Fields, read: Callable[[str, Fields], Spectrum]) -> tuple[Fixture, bool]:
    """Read a fixture's channels, and tell whether any of them is a model."""
    channels = fields.named_mappings("channels")
    if not 2 <= len(channels) <= _MOST_CHANNELS:
        raise fields.refuse(
            "channels", f"{len(channels)} channel", f"2 to {_MOST_CHANNELS} channels"
        )
    drives = dict.fromkeys(channels, 1.0)
    if "drives" in fields:
        given = fields.named_numbers("drives")
        for each in given:
            if each not in channels:
                found = f"the channel '{each}'"
                allowed = describe_choices(each, channels)
                raise InputError(found, allowed, fields.mapping("drives").place_of(each))
        drives = {name: given.get(name, 0.0) for name in channels}
        if max(drives.values()) <= 0:
            raise fields.refuse("drives", "no channel above 0", "one at least above 0")
    full = [rescale_to_lux(read(name, x), x.number("lux")) for name, x in channels.items()]
    power = np.stack([each.values for each in full])
    steps = 2 ** int(fields.choice("dmx_bits")) - 1 if "dmx_bits" in fields else 0
    at = np.array(list(drives.values()))
    samplings = tuple(each.sampling for each in full)
    panel = _read_panel_steps(fields)
    made = Fixture(tuple(channels), power, at, steps, *panel, samplings=samplings)
    if made.kelvin_step and not mixes_any(made):
        found = "channels that mix no white at any step"
        raise fields.refuse("kelvin_step", found, "channels that together can make white light")
    return made, any(each.is_model for each in full)


def _read_panel_steps(fields: Fields) -> tuple[float, float]:
    """Read the steps of a fixture's own panel, Kelvin and CC, 0 where it has none."""
    kelvin = fields.number("kelvin_step", 0.0)
    tint = fields.number("tint_step_cc", 0.0)
    if tint and not kelvin:
        found = "tint_step_cc without kelvin_step"
        raise fields.refuse("tint_step_cc", found, "both, for a fixture set in Kelvin and tint")
    if tint and len(fields.named_mappings("channels")) == 2:
        found = "the tint of a fixture of two channels"
        raise fields.refuse("tint_step_cc", found, "three channels or more, or no tint_step_cc")
    return kelvin, tint


def read_named_filters(fields: Fields, read: Callable[[Fields, str], Filter]) -> dict[str, Filter]:
    """Read the scenario's own filters, each by a name that no generic correction has."""
    taken = {fold_name(each) for each in GENERIC_NAMES}
    made = {}
    for name in fields.mapping("filters", required=False).keys():  # noqa: SIM118
        inner = fields.mapping("filters")
        if fold_name(name) in taken or fold_name(name) == "generic":
            found = f"'{name}', which is a generic correction"
            raise InputError(found, "a name of its own", inner.place_of(name))
        made_of = read(inner, name)
        made[name] = replace(made_of, name=name)
    return made


def read_beside(fields: Fields, first: Camera, folder: Path) -> tuple[Camera, ...]:
    """Read the further cameras of a setup, each another than the first and only once."""
    found: list[Camera] = []
    for name in dict.fromkeys(fields.texts("also_cameras", required=False)):
        camera = find_camera(name, folder, fields.place_of("also_cameras"))
        if camera.name not in [first.name, *(each.name for each in found)]:
            found.append(camera)
    return tuple(found)


def read_wish(
    fields: Fields,
    room: Room,
    filters: Mapping[str, Filter],
) -> Wish | None:
    """Read what may be changed in a setup; None where it does not say."""
    if "advise" not in fields:
        return None
    wish = fields.mapping("advise")
    known = {each.name: each for each in room.sources}
    named = {**filters, **{each: find_generic(each) for each in GENERIC_NAMES}}
    loss = wish.number("max_loss_stops", math.inf)
    lights = []
    for name, part in wish.named_mappings("lights", required=False).items():
        _check_light(wish.mapping("lights"), name, known)
        lights.append(_read_light(part, known[name], named, loss, room))
    stock = []
    if "stock" in wish:
        inner = wish.mapping("stock")
        for each in inner.keys():  # noqa: SIM118
            if each not in named:
                found = f"the filter '{each}'"
                raise InputError(found, describe_choices(each, named), inner.place_of(each))
            stock.append((each, inner.whole(each)))
    matches = []
    for name, part in wish.named_mappings("tune", required=False).items():
        _check_light(wish.mapping("tune"), name, known)
        if known[name].fixture is None:
            found = f"'{name}', a light without channels"
            allowed = "a light that is described by its channels"
            raise InputError(found, allowed, wish.mapping("tune").place_of(name))
        matches.append(_read_match(part, name, known))
    if not lights and not matches:
        allowed = "`lights` that may be changed, fixtures to `tune`, or both"
        raise fields.refuse("advise", "nothing that may be changed", allowed)
    key = wish.number("key_loss_stops", math.inf)
    ways = get_args(Preference)
    prefer: Preference = ways[0]
    if "prefer" in wish:
        prefer = ways[ways.index(wish.choice("prefer"))]
    ratios = read_ratios(wish, room)
    return Wish(tuple(lights), tuple(stock), key, tuple(matches), ratios, prefer=prefer)


def _check_light(fields: Fields, name: str, known: Mapping[str, Source]) -> None:
    if name not in known:
        allowed = describe_choices(name, known)
        raise InputError(
            f"the light '{name}', which no position reads", allowed, fields.place_of(name)
        )


def _read_light(
    fields: Fields, source: Source, named: Mapping[str, Filter], loss: float, room: Room
) -> ChangeableLight:
    most = fields.number("max_loss_stops", loss)
    trips = fields.whole("trips")
    changes = read_light_changes(fields, source, room)
    if not changes and "filters" not in fields and "tune" not in fields:
        found = f"nothing that may be done to '{source.name}'"
        allowed = "one or more of filters, off, dim_stops, move, bounce; or tune"
        raise InputError(found, allowed, fields.place)
    if "tune" in fields:
        fields.kind(("filters", "tune"))
        if changes:
            found = "tune beside another change of the light"
            raise fields.refuse("tune", found, "`tune` alone, or the light without it")
        if not fields.flag("tune"):
            raise fields.refuse("tune", "false", "true, or leave the light out")
        if source.fixture is None:
            allowed = "`filters`, or a light that is described by its channels"
            raise fields.refuse("tune", f"'{source.name}', a light without channels", allowed)
        gain = fields.number("max_gain_stops")
        most = most if math.isfinite(most) else TUNED_LOSS_STOPS
        return ChangeableLight(
            source.name, tuned=True, max_loss_stops=most, max_gain_stops=gain, trips=trips
        )
    return ChangeableLight(
        source.name,
        _read_allowed(fields, named) if "filters" in fields else (),
        max_loss_stops=most,
        stack=fields.whole("stack"),
        pieces=fields.whole("pieces"),
        gel_m2=fields.number("gel_m2", None),
        trips=trips,
        changes=changes,
    )


def _read_allowed(fields: Fields, named: Mapping[str, Filter]) -> tuple[Filter, ...]:
    """Read which filters may be hung."""
    if fields.is_list("filters"):
        chosen = []
        for each in dict.fromkeys(fields.texts("filters")):
            if each not in named:
                found = f"the filter '{each}'"
                raise fields.refuse("filters", found, describe_choices(each, named))
            chosen.append(named[each])
    else:
        fields.choice("filters")
        chosen = list(list_generic_filters())
    return tuple(chosen)


def _read_match(
    fields: Fields,
    name: str,
    known: Mapping[str, Source],
) -> FixtureMatch:
    kind = fields.kind(("match", "kelvin", "intent"))
    if kind == "match":
        light = fields.text("match")
        if light not in known or light == name:
            others = [each for each in known if each != name]
            raise fields.refuse("match", f"the light '{light}'", describe_choices(light, others))
        return FixtureMatch(name, light=light)
    if kind == "kelvin":
        kelvin = fields.number("kelvin")
        return FixtureMatch(
            name, kelvin=kelvin, tint_cc=read_pair(fields, "magenta_cc", "green_cc")
        )
    if fields.is_mapping("intent"):
        mired, green = read_shift(fields, "intent")
        return FixtureMatch(name, mired=mired, green_cc=green)
    fields.choice("intent")
    return FixtureMatch(name)
