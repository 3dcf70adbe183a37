"""What a crew allows to be changed, so that the positions agree: filters, fixtures, lights off,
dimmed, moved or bounced, stock, losses, level ratios.

Values only, read from a scenario and worked on by `wbplan.mixed.advising`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.filters import Filter
from wbplan.light.generic_filters import GELS, make_gel
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze

Make = Literal["", "window", "filament", "led", "discharge"]
"""What makes a light, as far as it decides what can be done to it; empty where nobody said."""
MAKES: tuple[str, ...] = get_args(Make)[1:]


@dataclass(frozen=True, eq=False)
class LightChange:
    """Another way for a light to burn or to stand.

    Parameters
    ----------
    kind
        off, dimmed, moved or bounced.
    name
        Of the new place, or of the surface; empty where there is none.
    lux
        (p,) what it gives each position of the setup then, as `Position.lux` has it now.
    shape
        (401,) what its spectrum is multiplied with; how much light is left is not in it.
    stops
        By how many it is dimmed.
    volts_share
        Of its volts then, where it is a filament.
    notes
        What has to be said where it is chosen.
    """

    kind: Literal["off", "dimmed", "moved", "bounced"]
    lux: Array
    name: str = ""
    shape: Array | None = None
    stops: float = 0.0
    volts_share: float | None = None
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "lux", freeze(self.lux))
        if self.shape is not None:
            object.__setattr__(self, "shape", freeze(self.shape, (WAVELENGTHS_NM.size,)))


@dataclass(frozen=True)
class LevelRatio:
    """A ratio of two levels that is wanted.

    Of all light at the position ``key`` over that at ``fill``; or, where ``at`` names a position,
    of the light ``key`` alone over the light ``fill`` alone there. ``within_stops`` is how far off
    it may be.
    """

    key: str
    fill: str
    ratio: float
    within_stops: float
    at: str = ""

    @property
    def places(self) -> tuple[str, ...]:
        """The positions where it is read."""
        return (self.at,) if self.at else (self.key, self.fill)


@dataclass(frozen=True, eq=False)
class ChangeableLight:
    """A light that may be changed.

    Parameters
    ----------
    filters
        What may be hung before it, on top of what it wears already; empty for a light to be tuned.
    tuned
        Whether it is a fixture whose drives may be changed.
    max_loss_stops
        How much of its light it may lose at most.
    max_gain_stops
        How much more light a fixture may be driven to.
    stack
        How many filters may be hung one behind the other.
    pieces
        How many pieces of a filter it takes to cover it (four panels, four pieces).
    gel_m2
        How much of a filter it takes to cover it [m2], None where nobody said.
    trips
        How many trips it takes to change it.
    changes
        How it may burn or stand otherwise.
    """

    light: str
    filters: tuple[Filter, ...] = ()
    tuned: bool = False
    max_loss_stops: float = math.inf
    max_gain_stops: float = 0.0
    stack: int = 1
    pieces: int = 1
    gel_m2: float | None = None
    trips: int = 1
    changes: tuple[LightChange, ...] = ()


@dataclass(frozen=True)
class FixtureMatch:
    """What a fixture shall be tuned to.

    Another ``light`` of the setup; or the light that is neutral at ``kelvin`` and ``tint_cc``;
    or, with neither, the light that looks ``mired`` warm and ``green_cc`` green at the plan's
    setting.
    """

    fixture: str
    light: str = ""
    kelvin: float = 0.0
    tint_cc: float = 0.0
    mired: float = 0.0
    green_cc: float = 0.0


TUNED_LOSS_STOPS = 2.0
"""What a fixture that is tuned may lose where nobody said it, so that it stays a light."""

Preference = Literal["evenest", "brightest", "truest"]


@dataclass(frozen=True, eq=False)
class Wish:
    """All that is allowed and asked in a setup.

    ``stock`` counts the pieces of the filters that are limited, by name. ``key_loss_stops`` is
    how much light the key position may lose, ``ratios`` the levels wanted. ``assumed`` marks a wish
    that nobody stated. ``prefer`` says which drives of a fixture are taken of those that the camera
    sees alike: the evenest, the brightest to a meter or the truest to an eye.
    """

    lights: tuple[ChangeableLight, ...] = ()
    stock: tuple[tuple[str, int], ...] = ()
    key_loss_stops: float = math.inf
    matches: tuple[FixtureMatch, ...] = ()
    ratios: tuple[LevelRatio, ...] = ()
    assumed: bool = False
    prefer: Preference = "evenest"


def list_generic_filters() -> tuple[Filter, ...]:
    """List the generic corrections as filters."""
    return tuple(make_gel(each) for each in GELS)
