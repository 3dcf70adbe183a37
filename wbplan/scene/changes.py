"""What a crew allows to be changed, so that the positions agree: filters, fixtures, stock, losses.

Values only, read from a scenario and worked on by `wbplan.mixed.advising`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wbplan.light.filters import Filter
from wbplan.light.generic_filters import GELS, make_gel


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
    stack
        How many filters may be hung one behind the other.
    pieces
        How many pieces of a filter it takes to cover it (four panels, four pieces).
    """

    light: str
    filters: tuple[Filter, ...] = ()
    tuned: bool = False
    max_loss_stops: float = math.inf
    stack: int = 1
    pieces: int = 1


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


@dataclass(frozen=True, eq=False)
class Wish:
    """All that is allowed and asked in a setup.

    ``stock`` counts the pieces of the filters that are limited, by name. ``key_loss_stops`` is
    how much light the key position may lose. ``assumed`` marks a wish that nobody stated.
    """

    lights: tuple[ChangeableLight, ...] = ()
    stock: tuple[tuple[str, int], ...] = ()
    key_loss_stops: float = math.inf
    matches: tuple[FixtureMatch, ...] = ()
    assumed: bool = False


def list_generic_filters() -> tuple[Filter, ...]:
    """List the generic corrections as filters."""
    return tuple(make_gel(each) for each in GELS)
