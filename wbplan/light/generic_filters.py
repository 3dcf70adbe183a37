"""Generic correction filters: the strengths that the trade names, as spectra.

Idea
----
Orange and blue corrections are known by a fraction ("half orange") that stands for a mired shift,
green and magenta ones by CC. The strengths follow one rule: full orange turns 5600 K daylight into
3200 K tungsten, 1e6/3200 - 1e6/5600 or 134 mired, and full blue turns it back; full green and
magenta are 30 CC; half, quarter and eighth are that share of it. No maker's filters follow any rule
exactly, so these are models that a plan may be begun with; the filter that is hung is better read
with the meter (`two_readings.divide_readings`).

A real dyed filter follows the ideal mired curve only between the blue and the red end of sight
and is flat beyond, and its base takes about 0.04 of density; an ideal filter, clear only at 380
or 780 nm, would cost up to 0.8 stop more than filters that exist. So the curve is held below
430 and above 660 nm. Full orange then passes about half, full blue about a third of the light, and
the shift seen by the standard eye stays within 4 % of the nominal one.

Diffusions are known by what they cost and how wide they spread a narrow beam; these take every
colour alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from wbplan.core.notes import Note
from wbplan.light.filters import (
    Filter,
    find_loss_stops,
    hold_green,
    make_diffusion,
    name_cast,
    shift_mired,
)
from wbplan.light.illuminants import radiate_locus
from wbplan.light.spectrum import WAVELENGTHS_NM

BASE_DENSITY = 0.04  # of a dyed filter at its clearest; from memory
_HELD_NM = (430.0, 660.0)


@dataclass(frozen=True)
class Gel:
    """A generic correction: its name, its nominal shift [mired, + warms] and CC [+ is green]."""

    name: str
    mired: float
    green_cc: float


TUNGSTEN_KELVIN, DAYLIGHT_KELVIN = 3200.0, 5600.0  # what the trade's two balances mean
FULL_MIRED = 134.0  # 1e6 / 3200 - 1e6 / 5600 = 133.93
FULL_CC = 30.0  # common practice, no source
_SHARES = {"full": 1.0, "half": 1 / 2, "quarter": 1 / 4, "eighth": 1 / 8}
_KINDS = {
    "orange": (FULL_MIRED, 0.0),
    "blue": (-FULL_MIRED, 0.0),
    "green": (0.0, FULL_CC),
    "magenta": (0.0, -FULL_CC),
}
GELS: tuple[Gel, ...] = tuple(
    Gel(f"{strength} {kind}", share * mired, share * green_cc)
    for kind, (mired, green_cc) in _KINDS.items()
    for strength, share in _SHARES.items()
)


@dataclass(frozen=True)
class Diffusion:
    """A generic diffusion: its name, its cost [stops], how wide it spreads a beam [degrees]."""

    name: str
    stops: float
    spread_deg: float


# Common practice, no source. Full is a matt surface's cosine, half its light within 60 degrees.
DIFFUSIONS: tuple[Diffusion, ...] = (
    Diffusion("light frost", 0.25, 10.0),
    Diffusion("full frost", 0.5, 25.0),
    Diffusion("quarter diffusion", 0.75, 40.0),
    Diffusion("half diffusion", 1.0, 75.0),
    Diffusion("full diffusion", 1.5, 120.0),
)


def make_generic_diffusion(diffusion: Diffusion) -> Filter:
    """Make the filter of a generic diffusion: flat, marked as a model, with a note that says so."""
    text = "generic: what a diffusion costs and spreads differs, so read the one that is hung"
    made = make_diffusion(diffusion.stops, diffusion.spread_deg)
    return replace(made, name=diffusion.name, notes=(Note("generic-filter", text, diffusion.name),))


@cache
def make_gel(gel: Gel) -> Filter:
    """Make the filter of a generic correction.

    Returns
    -------
    Filter
        Marked as a model, with a note that says so: 10^-0.04 at its clearest, the mired curve held
        below 430 and above 660 nm, the green band that of `filters.make_ideal_filter`.
    """
    held = np.clip(WAVELENGTHS_NM, *_HELD_NM)
    values = shift_mired(gel.mired, held) * hold_green(gel.green_cc) * 10.0**-BASE_DENSITY
    text = "generic: real filters only come near these strengths, so read the one that is hung"
    return Filter(gel.name, values, is_model=True, notes=(Note("generic-filter", text, gel.name),))


def find_generic(name: str) -> Filter:
    """Find a generic correction or diffusion by its name; `KeyError` for another."""
    gels = {each.name: each for each in GELS}
    if name in gels:
        return make_gel(gels[name])
    return make_generic_diffusion({each.name: each for each in DIFFUSIONS}[name])


GENERIC_NAMES: tuple[str, ...] = (*(each.name for each in GELS), *(d.name for d in DIFFUSIONS))


def describe_diffusion(diffusion: Diffusion) -> tuple[str, str, str, str]:
    """Describe a generic diffusion as `describe_gel` does."""
    said = f"spreads to {diffusion.spread_deg:g} degrees"
    loss = f"{diffusion.stops:.2f} stops"
    return said, loss, loss, "generic model"


def describe_gel(gel: Gel) -> tuple[str, str, str, str]:
    """Describe a generic correction: nominal shift, loss on tungsten and daylight, what it is."""
    through = make_gel(gel).transmittance
    losses = find_loss_stops(through, radiate_locus(np.array([TUNGSTEN_KELVIN, DAYLIGHT_KELVIN])))
    tungsten, daylight = (f"{each:.2f} stops" for each in losses)
    return name_cast(gel.mired, gel.green_cc), tungsten, daylight, "generic model"
