"""What is advised for a setup, as values: changes to lights, tuned fixtures, several cameras.

Immutable, complete and unrounded, as `planning.decisions`, which holds them in a setup's plan.
"""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note


@dataclass(frozen=True)
class Change:
    """One light changed: filters hung before it, or its channels driven anew.

    ``drives`` are (channel, 0 to 1), empty for a light that gets filters; ``cct_kelvin`` (NaN where
    it has no meaning) and ``duv`` are what an eye's meter shows of the light then. ``pieces`` is
    what is needed of each filter. ``is_generic`` marks the catalogue's corrections, ``is_model``
    any that nobody measured.
    """

    light: str
    filters: tuple[str, ...]
    pieces: int
    drives: tuple[tuple[str, float], ...]
    loss_stops: float
    cct_kelvin: float
    duv: float
    is_model: bool
    is_generic: bool


@dataclass(frozen=True)
class PlaceLeft:
    """What stays at a position: mired and CC from its intent, or from neutral where not judged."""

    name: str
    judged: bool
    off_mired: Interval
    off_green_cc: Interval
    lux: float
    keeps_limit: bool


@dataclass(frozen=True)
class ChangePlan:
    """A set of changes with the setting that goes with it.

    ``mired`` and ``tint_cc`` are the exact setting, ``dial`` that of the menu. ``rms_mired`` is the
    root of the weighted mean of the squared distances that stay at the dial, ``worst_mired`` the
    largest distance of a judged position. ``key_loss_stops`` is what the key position loses.
    """

    changes: tuple[Change, ...]
    mired: float
    tint_cc: float
    dial: Setting
    rms_mired: float
    worst_mired: float
    keeps_limits: bool
    places: tuple[PlaceLeft, ...]
    key_loss_stops: float
    key_t_stop: float

    @property
    def count(self) -> int:
        """How many things are changed: filters hung and fixtures tuned."""
        return sum(max(1, len(each.filters)) for each in self.changes)


@dataclass(frozen=True)
class TunedFixture:
    """A fixture tuned to a wish, at full output.

    ``off_mired`` and ``off_green_cc`` are what the camera still sees of a difference. ``lux`` are
    (position, lux at full output), ``loss_stops`` against all channels at full. ``cct_kelvin`` and
    ``duv`` are where a person would begin to dial.
    """

    fixture: str
    wanted: str
    drives: tuple[tuple[str, float], ...]
    reached: bool
    off_mired: float
    off_green_cc: float
    lux: tuple[tuple[str, float], ...]
    loss_stops: float
    cct_kelvin: float
    duv: float


@dataclass(frozen=True)
class Advice:
    """What is advised for a setup.

    ``plans`` begin with everything as it is and go on by the number of changes, each better than
    those before it; ``suggested`` is the row of the simplest that is as good as the best to the
    eye. ``packs_count`` packs were in question; ``is_exact`` means that the last plan is the best
    of all, else ``least_rms_mired`` is what no pack gets under. ``is_assumed`` marks advice that
    nobody limited.
    """

    plans: tuple[ChangePlan, ...]
    suggested: int
    packs_count: int
    is_exact: bool
    least_rms_mired: float
    is_assumed: bool
    fixtures: tuple[TunedFixture, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class BesideCamera:
    """A further camera on the same positions, set so that it agrees with the first.

    ``apart`` are (position, mired, CC): how much warmer and greener it shows each position than
    the first camera does, ``judged`` saying which of them count. ``rms_mired`` is the root of the
    weighted mean of their squared distances, ``worst_mired`` the largest.
    """

    name: str
    title: str
    mired: float
    tint_cc: float
    dial: Setting
    apart: tuple[tuple[str, Interval, Interval], ...]
    judged: tuple[bool, ...]
    rms_mired: float
    worst_mired: float
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Agreement:
    """The first camera and those beside it."""

    first: str
    dial: Setting
    cameras: tuple[BesideCamera, ...]
