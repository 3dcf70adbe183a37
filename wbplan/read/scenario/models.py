"""The kinds of modelled light that a scenario can name, read from its fields.

Each takes what a datasheet gives; fields: `wbplan guide scenario`. What is
read becomes a `Spectrum` that is marked as a model and says in its origin what went into it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from wbplan.core.errors import InputError, Place
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.models import (
    Line,
    find_xy_of,
    make_discharge_lamp,
    make_phosphor_led,
    make_xenon_flash,
    mix_channels,
    shape_led,
)
from wbplan.light.spectrum import Spectrum, find_illuminance_lux
from wbplan.read.yaml.fields import Fields


def read_model(fields: Fields, kind: str) -> Spectrum:
    """Read one modelled light.

    Parameters
    ----------
    fields
        The source's mapping, in which ``kind`` is a mapping of parameters.
    kind
        One of `MODELS`.

    Raises
    ------
    InputError
        For parameters that are wrong, or that no light of the kind can have.
    """
    power, said, notes = MODELS[kind](fields.mapping(kind))
    return Spectrum(power, said, f"model: {said}", is_model=True, notes=notes)


def _say_colour(kelvin: float, duv: float) -> str:
    side = "" if round(duv, 4) == 0 else f", Duv {abs(duv):g} {'green' if duv > 0 else 'magenta'}"
    return f"{kelvin:g} K{side}"


def _read_colour(fields: Fields) -> tuple[Array, str]:
    """Read a wanted colour: ``xy``, or ``cct_kelvin`` with ``duv``."""
    if fields.kind(("xy", "cct_kelvin")) == "xy":
        x, y = fields.numbers("xy", count=2)
        return np.array([x, y]), f"x {x:g}, y {y:g}"
    kelvin, duv = _read_cct(fields)
    return find_xy_of(kelvin, duv), _say_colour(kelvin, duv)


def _read_cct(fields: Fields) -> tuple[float, float]:
    kelvin = fields.number("cct_kelvin")
    return kelvin, fields.number("duv")


def _shape_phosphor_led(fields: Fields, place: Place) -> tuple[Array, str]:
    kelvin, duv = _read_cct(fields)
    pump = fields.number("pump_nm")
    pump_width = fields.number("pump_width_nm")
    width = fields.number("phosphor_width_nm")
    said = f"phosphor LED {_say_colour(kelvin, duv)}, pump {pump:g} nm"
    try:
        return make_phosphor_led(kelvin, duv, pump, pump_width, width), said
    except ValueError:
        found = f"{_say_colour(kelvin, duv)} from a pump at {pump:g} nm"
        allowed = "a colour that the pump and a phosphor between 500 and 680 nm can mix"
        raise InputError(found, allowed, place) from None


def _read_phosphor_led(fields: Fields) -> tuple[Array, str, tuple[Note, ...]]:
    return *_shape_phosphor_led(fields, fields.place), ()


def _read_led_mix(fields: Fields) -> tuple[Array, str, tuple[Note, ...]]:
    xy, colour = _read_colour(fields)
    names, spectra = [], []
    for name, channel in fields.named_mappings("channels").items():
        if channel.kind(("peak_nm", "cct_kelvin")) == "peak_nm":
            peak = channel.number("peak_nm")
            width = channel.number("width_nm")
            spectra.append(shape_led(peak, width))
        else:
            spectra.append(_shape_phosphor_led(channel, fields.place)[0])
        names.append(name)
    dark = [name for name, each in zip(names, spectra, strict=True) if each.max() <= 0]
    if dark or (find_illuminance_lux(np.stack(spectra)) <= 0).any():
        raise InputError(
            "a channel without visible light", "channels that can be seen", fields.place
        )
    try:
        mix = mix_channels(np.stack(spectra), xy)
    except ValueError:
        allowed = "a colour inside what the channels reach, none of them negative"
        found = f"{colour} from {', '.join(names)}"
        raise InputError(found, allowed, fields.place) from None
    shares = ", ".join(
        f"{name} {100 * share:.1f} %" for name, share in zip(names, mix.lux_share, strict=True)
    )
    said = f"LED mix of {', '.join(names)} at {colour}"
    return mix.power, said, (Note("led-mix", f"share of the lux: {shares}", said),)


def _read_discharge_lamp(fields: Fields) -> tuple[Array, str, tuple[Note, ...]]:
    lines = [
        Line(
            each.number("nm"),
            each.number("power"),
            each.number("width_nm"),
        )
        for each in fields.mappings("lines")
    ]
    kelvin, power = 5000.0, 0.0
    if "continuum" in fields:
        continuum = fields.mapping("continuum")
        kelvin = continuum.number("kelvin")
        power = continuum.number("power")
    where = ", ".join(f"{each.wavelength_nm:g}" for each in lines[:8])
    more = ", ..." if len(lines) > 8 else ""
    glow = f" and a continuum of {kelvin:g} K" if power else ""
    said = f"discharge lamp with lines at {where}{more} nm{glow}"
    spectrum = make_discharge_lamp(lines, kelvin, power)
    if find_illuminance_lux(spectrum) <= 0:
        allowed = "at least one visible line, or a continuum"
        raise InputError("lines that no eye sees", allowed, fields.place)
    return spectrum, said, ()


def _read_xenon_flash(fields: Fields) -> tuple[Array, str, tuple[Note, ...]]:
    kelvin = fields.number("cct_kelvin")
    percent = fields.number("line_percent")
    try:
        power = make_xenon_flash(kelvin, percent)
    except ValueError:
        found = f"{kelvin:g} K with {percent:g} % of its power in lines"
        allowed = "a CCT that a continuum with those lines can have"
        raise InputError(found, allowed, fields.place) from None
    return power, f"xenon flash {kelvin:g} K, {percent:g} % in lines", ()


MODELS: Final = {
    "phosphor_led": _read_phosphor_led,
    "led_mix": _read_led_mix,
    "discharge_lamp": _read_discharge_lamp,
    "xenon_flash": _read_xenon_flash,
}
"""How each kind of modelled light is read."""
