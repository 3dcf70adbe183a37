"""Generic correction filters: the strengths that the trade names, as spectra.

Idea
----
Orange and blue corrections are known by a fraction ("half orange") that stands for a mired shift,
green and magenta ones by CC. Makers differ by up to a tenth, so these are models that a plan may be
begun with; the filter that is hung is better read with the meter (`filters.divide_readings`).

A real dyed filter follows the ideal mired curve only between the blue and the red end of sight
and is flat beyond, and its base takes about 0.04 of density; an ideal filter, clear only at 380
or 780 nm, would cost up to 0.8 stop more than filters that exist. So the curve is held below
430 and above 660 nm. Full orange then passes about half, full blue about a third of the light, and
the shift seen by the standard eye stays within 4 % of the nominal one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.notes import Note
from wbplan.light.filters import Filter, find_loss_stops, hold_green, name_cast, shift_mired
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


# Orange: full is 6500 to 3200 K; half to eighth and all blues from Brown, Cinematography: Theory
# and Practice, table 12.1. Green and magenta: 30, 15 and 7.5 CC are common practice, no source.
GELS: tuple[Gel, ...] = (
    Gel("full orange", 159.0, 0.0),
    Gel("half orange", 81.0, 0.0),
    Gel("quarter orange", 42.0, 0.0),
    Gel("eighth orange", 20.0, 0.0),
    Gel("full blue", -131.0, 0.0),
    Gel("half blue", -68.0, 0.0),
    Gel("quarter blue", -30.0, 0.0),
    Gel("eighth blue", -12.0, 0.0),
    Gel("full green", 0.0, 30.0),
    Gel("half green", 0.0, 15.0),
    Gel("quarter green", 0.0, 7.5),
    Gel("eighth green", 0.0, 3.75),
    Gel("full magenta", 0.0, -30.0),
    Gel("half magenta", 0.0, -15.0),
    Gel("quarter magenta", 0.0, -7.5),
    Gel("eighth magenta", 0.0, -3.75),
)


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
    text = "generic: strengths of one name differ between makers, so read the filter that is hung"
    return Filter(gel.name, values, is_model=True, notes=(Note("generic-filter", text, gel.name),))


def describe_gel(gel: Gel) -> tuple[str, str, str, str]:
    """Describe a generic correction: nominal shift, loss on tungsten and daylight, what it is."""
    through = make_gel(gel).transmittance
    losses = find_loss_stops(through, radiate_locus(np.array([3200.0, 5600.0])))
    tungsten, daylight = (f"{each:.2f} stops" for each in losses)
    return name_cast(gel.mired, gel.green_cc), tungsten, daylight, "generic model"
