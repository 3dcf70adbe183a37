"""A scene as the crew describes it: sources, positions, intents, camera, exposure.

These are the inputs of a plan, immutable, with every value already on the shared grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import Setting
from wbplan.codes.encodings import Encoding
from wbplan.core.band import BAND_SHARE
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.exposure.burst import Burst, find_caught_share
from wbplan.exposure.equation import Shooting
from wbplan.exposure.flicker import Flicker
from wbplan.exposure.nd_kit import Kit
from wbplan.light.filters import CLEAR, Filter, name_cast
from wbplan.light.spectrum import Spectrum, freeze, scale_to_lux
from wbplan.scene.changes import Make, Wish
from wbplan.scene.fixtures import Fixture
from wbplan.scene.luts import LutRequest
from wbplan.scene.plate import PlateLens, Slate, Spot
from wbplan.sky.site import Site
from wbplan.sky.source import PlacedSky

Keep = Literal["green", "no_clip"]
Aim = Literal["meant", "watched", "left"]


@dataclass(frozen=True, eq=False)
class Source:
    """A light: its spectrum, whether it burns, and the filter that stands before it.

    ``flicker`` is how its output goes up and down, where that is known; ``flash`` marks a light
    that fires within every exposure and is read in lux seconds, of one pop; ``burst`` is how long
    it lasts and how often it pops, None for one flash that is taken to be whole.
    ``fixture`` holds the channels of a light that can be tuned; ``sky`` what is known of a
    modelled light of the sun or sky at the setup's time; ``make`` what makes it.
    """

    name: str
    spectrum: Spectrum
    on: bool = True
    filter: Filter = CLEAR
    flicker: Flicker | None = None
    flash: bool = False
    fixture: Fixture | None = None
    sky: PlacedSky | None = None
    make: Make = ""
    burst: Burst | None = None


@dataclass(frozen=True)
class Intent:
    """What a grey at a position is meant to look like.

    ``mired`` and ``green_cc`` are the wanted cast (+ warm, + green), 0 and 0 for neutral.
    ``weight`` is how hard it pulls on the setting, 0 where it does not. ``within_mired`` and
    ``within_cc`` are the hard limits of how far off it may be, infinite where there is none.
    ``aim`` says what the figures are: "meant" by the crew, "watched" where nobody said a look, so
    that the cast is told from neutral, or "left" where it may look as it comes.
    """

    mired: float = 0.0
    green_cc: float = 0.0
    weight: float = 1.0
    within_mired: float = math.inf
    within_cc: float = math.inf
    aim: Aim = "meant"

    @property
    def is_limited(self) -> bool:
        """Whether it has a hard limit."""
        return math.isfinite(self.within_mired) or math.isfinite(self.within_cc)

    @property
    def counts(self) -> bool:
        """Whether the setting heeds it: it pulls, or has a hard limit."""
        return self.weight > 0 or self.is_limited

    @property
    def words(self) -> str:
        """The intent as it is said on set."""
        if self.aim == "left":
            return "leave as it falls"
        if self.aim == "watched":
            return "watched"
        cast = name_cast(self.mired, self.green_cc)
        said = "neutral" if cast == "none" else f"keep {cast}"
        parts = [(self.within_mired, "mired"), (self.within_cc, "CC")]
        limit = " and ".join(f"{each:g} {unit}" for each, unit in parts if math.isfinite(each))
        said = f"{said}, within {limit}" if limit else said
        return said if self.counts else f"{said} (watched)"


@dataclass(frozen=True, eq=False)
class Position:
    """A place in the frame where light was read.

    ``lux`` (n,) is the illuminance of each source alone at this place [lux], in the order of the
    setup's sources, read with the source burning and before the filter that the plan puts on it.
    Of a flash the figure is the lux seconds of one pop. ``model_share`` says for each source what
    share of a modelled sky's level that is, None where somebody read it; empty where all was read.
    ``predicted`` holds for each source the ends of where 90 % of a reading would lie, as ratios of
    a level that a photometry file gave, None where somebody read it; empty where nothing is
    predicted.
    """

    name: str
    lux: Array
    intent: Intent
    model_share: tuple[float | None, ...] = ()
    predicted: tuple[tuple[float, float] | None, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "lux", freeze(self.lux))
        if (self.lux < 0).any():
            raise ValueError(f"position {self.name!r}: expected 0 lux or more")


@dataclass(frozen=True)
class MeterError:
    """How far the meter may be out, one standard deviation: [% of lux] and [x, y units]."""

    illuminance_percent: float = 0.0
    chromaticity_xy: float = 0.0


@dataclass(frozen=True, eq=False)
class Setup:
    """One camera, its sources, its positions and what is wanted of them.

    Parameters
    ----------
    key
        Name of the position that the exposure, and the setting unless others have a weight, is
        set for.
    shot_at
        The setting that is dialled in anyway, None to let the plan choose.
    band_share
        The share of plausible cameras and readings that every interval is to hold.
    keep
        What the LUT leaves as it is: the green channel's level, or that no channel clips.
    kit
        What glass, camera ND and lenses there are, None if not stated.
    mains_hz
        Frequency of the mains on location [Hz], None if not stated.
    wish
        What may be changed to make the positions agree, None if nothing was said of it.
    beside
        Further cameras that shoot the same positions.
    luts
        The LUTs that are wanted besides the main correction.
    lut_size
        Nodes per axis of every table that is not asked for in another size; None for the smallest
        that is good enough.
    lut_up_stops
        How much brighter than exact the LUTs make the picture [stops].
    site, when
        Where the scenario takes place and when this setup is shot, by the place's clock; None
        where nothing is said.
    lens, layout, slate
        What is kept with a plate: the lens, where lights and positions stand, what the slate says.
    """

    name: str
    camera: Camera
    sources: tuple[Source, ...]
    positions: tuple[Position, ...]
    shooting: Shooting
    encoding: Encoding
    key: str
    meter: MeterError = MeterError()
    shot_at: Setting | None = None
    keep: Keep = "green"
    notes: tuple[Note, ...] = ()
    band_share: float = BAND_SHARE
    kit: Kit | None = None
    mains_hz: float | None = None
    wish: Wish | None = None
    beside: tuple[Camera, ...] = ()
    luts: tuple[LutRequest, ...] = ()
    lut_size: int | None = None
    lut_up_stops: float = 0.0
    site: Site | None = None
    when: datetime | None = None
    lens: PlateLens | None = None
    layout: tuple[Spot, ...] = ()
    slate: Slate | None = None

    @property
    def key_row(self) -> int:
        """The number of the position that the exposure is set for."""
        return [each.name for each in self.positions].index(self.key)


def change_asked(setup: Setup, band_share: float, lut_size: int | None) -> Setup:
    """Give a setup the band that is asked for, and where one is asked for the size of tables."""
    return replace(setup, band_share=band_share, lut_size=lut_size or setup.lut_size)


def replace_lux(setup: Setup, lux: Array) -> Setup:
    """Give a setup other readings, (p, n) [lux]."""
    pairs = zip(setup.positions, lux, strict=True)
    return replace(setup, positions=tuple(replace(each, lux=row) for each, row in pairs))


def find_source_power(setup: Setup) -> Array:
    """Collect the sources' spectra behind their filters, per lux read without the filter.

    Returns
    -------
    ndarray
        (n, 401) [W m-2 nm-1 per lux], for every source whether it burns or not.
    """
    bare = scale_to_lux(np.stack([each.spectrum.values for each in setup.sources]), 1.0)
    return np.asarray(bare * np.stack([each.filter.transmittance for each in setup.sources]))


def find_position_lux(setup: Setup) -> Array:
    """Collect the readings, (p, n) [lux], of each burning source alone; 0 for one that is off.

    A flash counts as the steady light that gives the lux seconds of all its pops within the
    exposure time, as far as they fall into it, so that all which follows (settings, casts, stops)
    holds for the mix at the planned shutter.
    """
    return np.asarray(np.stack([each.lux for each in setup.positions]) * find_steady_share(setup))


def find_steady_share(setup: Setup) -> Array:
    """Find what a reading of each source is multiplied with to stand for steady light, (n,)."""
    time = setup.shooting.exposure_time_s
    caught = [
        each.burst.pops * float(find_caught_share(each.burst, time)) if each.burst else 1.0
        for each in setup.sources
    ]
    return np.array(
        [
            each.on * number / (time if each.flash else 1.0)
            for each, number in zip(setup.sources, caught, strict=True)
        ]
    )
