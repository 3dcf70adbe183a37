"""What can hurt people in the work that a plan asks for.

The usual cautions, chosen by what stands in the setup. They are reminders, not a safety procedure:
local codes and licensed practice decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wbplan.light.spectrum import Spectrum
from wbplan.scene.setup import Setup
from wbplan.sky.source import SKY_ORIGIN

DEFERENCE = (
    "These are the usual reminders, not a safety procedure. Local electrical, fire and "
    "working-at-height codes, the manufacturers' instructions and licensed crew decide."
)


@dataclass(frozen=True)
class Caution:
    """One danger and what is usually done about it."""

    code: str
    text: str


_MAINS = Caution(
    "mains",
    "Mains power: have circuits, loads, residual-current protection and distribution checked by a "
    "licensed electrician, and keep connections dry.",
)
_EYES = Caution(
    "eyes",
    "Do not look into a source or point a lens and finder at one, the sun least of all.",
)
SUN = Caution(
    "sun",
    "Never look into the sun through a lens or a finder, and never leave a long lens lying or "
    "standing pointed at it: it blinds, burns shutters and sensors, and starts fires.",
)
_HOT = Caution(
    "hot",
    "Lamps, lenses and frames are hot: gloves, cool-down time, clear of cloth and sprinklers. Use "
    "filters rated for the heat, hung clear of the lens, and watch them for scorching.",
)
_RIGGING = Caution(
    "rigging",
    "Lights, frames and filters overhead: rated hardware, a safety bond on each, nobody under "
    "the work, ladders and lifts by people trained for them.",
)
_STROBE = Caution(
    "strobe",
    "Discharge, fluorescent and dimmed LED sources can strobe. Warn people who are sensitive to "
    "it, and shoot a test at the planned shutter before relying on it.",
)
_UV = Caution(
    "uv",
    "Discharge and xenon lamps give off UV: never without their intact glass or safety switch, and "
    "keep skin and eyes at a distance.",
)
_FLASH = Caution(
    "flash",
    "Flash units hold a dangerous voltage even when they are off: open none. Do not fire one close "
    "to eyes, and warn people who are sensitive to flashes before a series.",
)

_STROBING = (
    *("FL", "HP", "LED", "fluorescent", "sodium", "mercury", "metal-halide", "led"),
    *("phosphor LED", "discharge"),
)
_UV_LAMPS = ("HP", "mercury", "metal-halide", "xenon", "discharge")


def choose_cautions(setup: Setup) -> tuple[Caution, ...]:
    """Choose the cautions for a setup, the general ones first."""
    flickers = any(each.flicker is not None for each in setup.sources)
    lamps = choose_lamp_cautions((each.spectrum for each in setup.sources), flickers)
    flash = (_FLASH,) if any(each.flash for each in setup.sources) else ()
    sun = (SUN,) if any(each.sky is not None for each in setup.sources) else ()
    return (*sun, _MAINS, _EYES, _HOT, _RIGGING, *lamps, *flash)


def choose_reading_cautions(spectra: Iterable[Spectrum]) -> tuple[Caution, ...]:
    """Choose the cautions for somebody who goes round lights with a meter."""
    lights = tuple(spectra)
    sun = (SUN,) if say_sun_caution(lights) else ()
    return (*sun, _EYES, *choose_lamp_cautions(lights))


def say_sun_caution(spectra: Iterable[Spectrum]) -> tuple[str, ...]:
    """Say the caution of the sun where a modelled light of sun or sky is among lights."""
    return (SUN.text,) if any(each.origin.startswith(SKY_ORIGIN) for each in spectra) else ()


def choose_lamp_cautions(
    spectra: Iterable[Spectrum], flickers: bool = False
) -> tuple[Caution, ...]:
    """Choose the cautions for kinds of lamps, from the names of their spectra.

    A lamp whose kind is not known from its name (one measured on location) gets those for every
    kind, since nothing tells.
    """
    lamps = tuple(spectra)
    measured = any(each.origin.startswith("read from") for each in lamps)
    chosen = []
    if measured or flickers or any(each.name.startswith(_STROBING) for each in lamps):
        chosen.append(_STROBE)
    if measured or any(each.name.startswith(_UV_LAMPS) for each in lamps):
        chosen.append(_UV)
    return tuple(chosen)
