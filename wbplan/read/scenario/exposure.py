"""What a scenario says of flicker, flash, readout and kit; fields: `wbplan guide scenario`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import partial
from typing import cast

from wbplan.core.errors import InputError, describe_choices
from wbplan.exposure.burst import Burst, find_caught_share, find_fade_s
from wbplan.exposure.equation import (
    FLAT_RECEPTOR_C,
    HEMISPHERICAL_RECEPTOR_C,
    Shooting,
    find_engraved_stop,
)
from wbplan.exposure.flicker import Flicker, Waveform
from wbplan.exposure.nd_kit import MOST_PIECES_IN_KIT, Kit, Lens, Piece
from wbplan.read.scenario.shifts import read_shift
from wbplan.read.scenario.sky import read_sky_lux
from wbplan.read.yaml.fields import Fields
from wbplan.scene.setup import Source

STOPS_PER_DENSITY = 3.3219280948873626  # 1 / log10(2)


def read_mains(fields: Fields, default: float | None = None) -> float | None:
    """Read the frequency of the mains, 50 or 60 Hz."""
    return float(fields.choice("mains_hz")) if "mains_hz" in fields else default


def read_flicker(fields: Fields) -> Flicker | None:
    """Read how a source flickers; None where nothing is said."""
    if "flicker" not in fields:
        return None
    said = fields.mapping("flicker")
    if said.kind(("mains_hz", "light_hz")) == "mains_hz":
        light_hz = 2.0 * float(said.choice("mains_hz"))
    else:
        light_hz = said.number("light_hz")
    waveform = said.choice("waveform")
    duty = 0.5
    if waveform == "square":
        duty = said.number("duty_percent") / 100.0
    elif "duty_percent" in said:
        raise said.refuse("duty_percent", f"a duty beside waveform {waveform}", "waveform square")
    depth = said.number("depth_percent", None)
    uneven = said.number("uneven_percent") / 100.0
    mired, green = read_shift(said, "dimmest") if "dimmest" in said else (0.0, 0.0)
    return Flicker(
        light_hz,
        1.0 if depth is None else depth / 100.0,
        cast(Waveform, waveform),
        duty,
        is_assumed=depth is None,
        mains_depth=uneven,
        trough_mired=mired,
        trough_green_cc=green,
    )


def read_flash(fields: Fields) -> tuple[bool, Burst | None]:
    """Read whether a source is a flash, which then neither flickers nor is read in lux, and how
    long it lasts.
    """
    described = fields.is_mapping("flash")
    flash = described or fields.flag("flash")
    if flash and "flicker" in fields:
        raise fields.refuse("flicker", "a flash that flickers", "flash or flicker, not both")
    if not described:
        return flash, None
    said = fields.mapping("flash")
    kind = said.kind(("t05_ms", "t01_ms"))
    duration = said.number(kind) / 1000.0
    pops = said.whole("pops")
    gap = said.number("gap_ms", None)
    if (gap is None) != (pops == 1):
        raise said.refuse("gap_ms", "pops without a gap, or a gap of one", "both, or neither")
    most = said.number("most_per_second", math.inf)
    synced = said.choice("sync") == "shutter"
    fade = find_fade_s(duration, 0.5 if kind == "t05_ms" else 0.1)
    return True, Burst(fade, pops, (gap or 0.0) / 1000.0, most, synced)


def check_flash(fields: Fields, sources: tuple[Source, ...], shooting: Shooting) -> None:
    """Refuse a flash of which an exposure catches less than half, or that cannot fire each frame.

    Raises
    ------
    InputError
        With the flash, what is caught, and what would hold it.
    """
    for each in sources:
        if each.burst is None or not each.on:
            continue
        share = float(find_caught_share(each.burst, shooting.exposure_time_s))
        if share < 0.5:
            found = (
                f"an exposure of {1000 * shooting.exposure_time_s:.3g} ms, which catches "
                f"{share:.0%} of the flash '{each.name}'"
            )
            allowed = f"one that holds most of it: it lasts {1000 * each.burst.span_s:.3g} ms"
            raise fields.refuse("shooting", found, allowed)
        if shooting.fps > each.burst.most_hz * (1 + 1e-9):
            found = (
                f"{shooting.fps:g} fps with the flash '{each.name}', which fires at most "
                f"{each.burst.most_hz:g} times a second"
            )
            raise fields.refuse("shooting", found, "a rate at which it fires in every frame")


def read_readings(
    fields: Fields, known: dict[str, Source], may_lack: bool = False
) -> dict[str, float]:
    """Read a position's lux of each steady source and lux seconds of each flash, by source.

    ``may_lack`` is whether lux may be missing altogether, since files predict some.

    Raises
    ------
    InputError
        For a source that is not there, or is read in the other unit.
    """
    found: dict[str, float] = {}
    for name in ("lux", "flash_lux_s"):
        wants_flash = name == "flash_lux_s"
        required = not (wants_flash or may_lack) and "flash_lux_s" not in fields
        if not required and name not in fields:
            continue
        places = fields.mapping(name)
        for each in places.keys():  # noqa: SIM118
            read = partial(_read_level, places, each, known, wants_flash)
            found[each] = places.attempt(read, 1.0)
    return found


def _read_level(places: Fields, name: str, known: Mapping[str, Source], is_flash: bool) -> float:
    if name not in known:
        found = f"the source '{name}'"
        raise InputError(found, describe_choices(name, known), places.place_of(name))
    source = known[name]
    if source.flash != is_flash:
        kind, other = ("a flash", "flash_lux_s") if source.flash else ("a steady light", "lux")
        found = f"{kind} in {'flash_lux_s' if is_flash else 'lux'}"
        raise InputError(found, f"its reading in {other}", places.place_of(name))
    return read_sky_lux(places, name, source)


def read_calibration_c(fields: Fields) -> float:
    """Read the meter's constant C, or take it by the shape of its receptor."""
    if "receptor" not in fields:
        return fields.number("calibration_c", FLAT_RECEPTOR_C)
    if "calibration_c" in fields:
        raise fields.refuse("receptor", "receptor and calibration_c together", "only one of them")
    shape = fields.choice("receptor")
    return FLAT_RECEPTOR_C if shape == "flat" else HEMISPHERICAL_RECEPTOR_C


def read_readout_s(fields: Fields) -> float | None:
    """Read a rolling shutter's readout time, 0 for a global shutter."""
    readout = fields.number("readout_ms", None)
    return None if readout is None else readout / 1000.0


def read_kit(fields: Fields) -> Kit | None:
    """Read what glass, camera ND and lenses there are; None where nothing is said."""
    if "kit" not in fields:
        return None
    kit = fields.mapping("kit")
    most = kit.whole("most_glass")
    pieces = tuple(
        _read_piece(name, each)
        for name, each in kit.named_mappings("glass", required=False).items()
    )
    if len(pieces) > MOST_PIECES_IN_KIT:
        found = f"{len(pieces)} kinds of glass"
        raise kit.refuse("glass", found, f"at most {MOST_PIECES_IN_KIT}")
    staying = sum(each.stays for each in pieces)
    if staying > most:
        found = f"{staying} pieces that stay on"
        raise kit.refuse("glass", found, f"at most most_glass, {most}")
    inside = kit.numbers("camera_nd_stops", required=False)
    if len(inside) > MOST_PIECES_IN_KIT:
        raise kit.refuse("camera_nd_stops", f"{len(inside)} steps", f"at most {MOST_PIECES_IN_KIT}")
    lenses = tuple(
        _read_lens(name, each)
        for name, each in kit.named_mappings("lenses", required=False).items()
    )
    return Kit(pieces, tuple(inside), most, lenses)


def _read_piece(name: str, fields: Fields) -> Piece:
    kind = fields.kind()
    stops = fields.number(kind) * (1.0 if kind == "stops" else STOPS_PER_DENSITY)
    stays = fields.flag("stays")
    if stays and "count" in fields:
        raise fields.refuse("count", "a count of a piece that stays on", "no count")
    count = 1 if stays else fields.whole("count")
    return Piece(name, stops, count, stays)


def _read_lens(name: str, fields: Fields) -> Lens:
    widest = fields.number("widest_t_stop")
    smallest = fields.number("smallest_t_stop", low=widest)
    return Lens(name, find_engraved_stop(widest), find_engraved_stop(smallest))


def read_shooting_order(fields: Fields, names: Sequence[str]) -> tuple[int, ...]:
    """Read the order in which setups are shot, as numbers from 0; empty where none is given."""
    if "shooting_order" not in fields:
        return ()
    order: list[int] = []
    for each in fields.texts("shooting_order"):
        match = next((n for n, name in enumerate(names) if name.casefold() == each.casefold()), -1)
        if match < 0:
            found = f"the setup '{each}'"
            raise fields.refuse("shooting_order", found, describe_choices(each, names))
        if match in order:
            raise fields.refuse("shooting_order", f"'{each}' twice", "each setup once")
        order.append(match)
    missing = [name for number, name in enumerate(names) if number not in order]
    if missing:
        found = f"no '{missing[0]}'"
        raise fields.refuse("shooting_order", found, "every setup of the scenario, each once")
    return tuple(order)
