"""What is advised for a setup, as values: changes to lights, tuned fixtures, several cameras.

Immutable, complete and unrounded, as `planning.decisions`, which holds them in a setup's plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
from wbplan.scene.changes import LevelRatio
from wbplan.scene.dialling import DialPlace

RATIO_SLACK_STOPS = 1e-5  # past which a ratio is not kept: more than the arithmetic's error


@dataclass(frozen=True)
class DriveChoice:
    """One of the drives that a camera sees alike: light lost against as read (a gain is below 0)
    and ANSI/IES TM-30-20 Rf of the fixture's own light; ``taken`` marks the one that is dialled.
    """

    name: str
    loss_stops: float
    rf: float
    taken: bool


@dataclass(frozen=True)
class Change:
    """One light changed: filters hung before it, its channels driven anew, or burning otherwise.

    ``kind`` says how it burns or stands then: off, dimmed, moved, bounced, or empty for as it did;
    ``to`` names the new place or the surface, ``dimmed_stops`` and ``volts_share`` (None where it
    is no filament) belong to a dimmed one. ``drives`` are (channel, 0 to 1), empty for a light
    that keeps its own; ``cct_kelvin`` (NaN where it has no meaning) and ``duv`` are what an eye's
    meter shows of the light then. ``pieces`` is what is needed of each filter, ``gel_m2`` the area
    of all (None where nobody said it), ``spread_deg`` how wide they spread its beam, ``trips`` what
    it takes to get there. ``loss_stops`` is infinite for a light that is put out. ``is_generic``
    marks the catalogue's corrections, ``is_model`` any that nobody measured. ``choices`` are the
    drives that a camera sees alike, and what each costs. ``drive_steps`` counts the steps of a
    drive, or of the level of a fixture with a ``panel`` of its own, 0 where nobody stated any.
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
    choices: tuple[DriveChoice, ...] = ()
    kind: str = ""
    to: str = ""
    dimmed_stops: float = 0.0
    volts_share: float | None = None
    spread_deg: float = 0.0
    gel_m2: float | None = None
    trips: int = 1
    notes: tuple[Note, ...] = ()
    drive_steps: int = 0
    panel: DialPlace | None = None

    @property
    def count(self) -> int:
        """How many things are changed on it."""
        return len(self.filters) + bool(self.drives) + bool(self.kind)


@dataclass(frozen=True)
class RatioLeft:
    """A ratio that is wanted, and what comes of it; 0 or infinite where a level is dark."""

    wanted: LevelRatio
    ratio: float

    @property
    def off_stops(self) -> float:
        """How far it is from what is wanted [stops], + where the key is too bright."""
        if not 0 < self.ratio < math.inf:
            return math.inf if self.ratio > 0 else -math.inf
        return math.log2(self.ratio / self.wanted.ratio)

    @property
    def past_stops(self) -> float:
        """How far it is past what it may be off [stops], 0 where it is kept."""
        past = abs(self.off_stops) - self.wanted.within_stops
        return past if past > RATIO_SLACK_STOPS else 0.0


@dataclass(frozen=True)
class PlaceLeft:
    """What stays at a position: mired and CC from its intent, or from neutral where not judged.

    ``past_mired`` and ``past_cc`` are by how much its limit is passed.
    """

    name: str
    judged: bool
    off_mired: Interval
    off_green_cc: Interval
    lux: float
    keeps_limit: bool
    past_mired: float = 0.0
    past_cc: float = 0.0


@dataclass(frozen=True)
class ChangePlan:
    """A set of changes with the setting that goes with it.

    ``mired`` and ``tint_cc`` are the exact setting, ``dial`` that of the menu. ``rms_mired`` is the
    root of the weighted mean of the squared distances that stay at the dial, ``worst_mired`` the
    largest distance of a judged position. ``key_loss_stops`` is what the key position loses.
    ``keeps_limits`` is of positions and ratios; ``bent`` is by how much hard limits are passed for
    each weight, mired and CC joined [mired], the heaviest first. ``rounding_mired`` is what the
    steps of fixtures add to what stays, None where none has steps that anybody stated.
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
    ratios: tuple[RatioLeft, ...] = ()
    bent: tuple[float, ...] = ()
    rounding_mired: float | None = None

    @property
    def count(self) -> int:
        """How many things are changed: filters hung, fixtures tuned, lamps dimmed, moved or off."""
        return sum(each.count for each in self.changes)

    @property
    def trips(self) -> int:
        """How many trips it takes."""
        return sum(each.trips for each in self.changes)

    @property
    def pieces(self) -> int:
        """How many pieces of filter it takes."""
        return sum(each.pieces * len(each.filters) for each in self.changes)

    @property
    def gel_m2(self) -> float | None:
        """How much filter it takes [m2]; None where that is not known of every light it needs."""
        known = [each.gel_m2 for each in self.changes if each.filters and each.gel_m2 is not None]
        return sum(known) if len(known) == sum(bool(e.filters) for e in self.changes) else None

    @property
    def past_stops(self) -> float:
        """How far the worst ratio is past what it may be off [stops], 0 where all are kept."""
        return max((each.past_stops for each in self.ratios), default=0.0)


@dataclass(frozen=True)
class TunedFixture:
    """A fixture tuned to a wish, at full output.

    ``off_mired`` and ``off_green_cc`` are what the camera still sees of a difference. ``lux`` are
    (position, lux at full output), ``loss_stops`` against all channels at full. ``cct_kelvin`` and
    ``duv`` are where a person would begin to dial; ``drive_steps`` and ``panel`` as in `Change`.
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
    drive_steps: int = 0
    panel: DialPlace | None = None


@dataclass(frozen=True)
class Advice:
    """What is advised for a setup.

    ``plans`` begin with everything as it is and go on by the number of changes, each better than
    those before it; ``suggested`` is the row of the simplest that is as good as the best to the
    eye. ``packs_count`` packs were in question; ``is_exact`` means that the last plan is the best
    of all, else ``least_rms_mired`` is what no pack gets under. ``is_assumed`` marks advice that
    nobody limited. ``is_driven`` says that channels of fixtures were driven as continuous numbers.
    """

    plans: tuple[ChangePlan, ...]
    suggested: int
    packs_count: int
    is_exact: bool
    least_rms_mired: float
    is_assumed: bool
    fixtures: tuple[TunedFixture, ...]
    notes: tuple[Note, ...]
    is_driven: bool = False


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
