"""What a plan decides about exposure, as values: see `wbplan.planning.decisions` for the rest.

Complete and unrounded, like every plan. Per-channel results are triples in the order red, green,
blue. An interval holds the plan's share of the profile's family and the meter's stated error.
"""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.core.intervals import Interval
from wbplan.exposure.flicker import Flicker
from wbplan.exposure.nd_kit import Pack

Channels = tuple[Interval, Interval, Interval]


@dataclass(frozen=True)
class Landing:
    """Where a surface lands: stops from middle grey, and the encoding's code (1 is full range)."""

    surface: str
    reflectance: float
    from_grey_stops: Interval
    code: Interval


@dataclass(frozen=True)
class PositionExposure:
    """One position at the exposure that will be shot.

    ``landings`` by brightness, grey first. ``from_key_stops`` is the contrast to the key position.
    ``headroom_stops`` is what a grey has left in each channel before the sensor clips there.
    ``white_over_stops`` is how far a white lies over the first clip, 0 or less where it holds.
    ``ripple_stops`` is the worst flicker here, from frame to frame.
    """

    name: str
    landings: tuple[Landing, ...]
    from_key_stops: Interval
    headroom_stops: Channels
    first_to_clip: str
    white_over_stops: Interval
    ripple_stops: Interval


@dataclass(frozen=True)
class Contrast:
    """Two positions and how far the first lies over the second."""

    brighter: str
    darker: str
    stops: Interval


@dataclass(frozen=True)
class LightChannels:
    """What each channel gets of a light, in stops against what its lux promise.

    0 is what the same lux of 5500 K daylight give that channel.
    """

    name: str
    stops: Channels


@dataclass(frozen=True)
class Relief:
    """A way to have the worst channel amplified less, and what it costs.

    ``kind`` is ``setting`` (another entry of the menu: the sensor gets the same, a cast stays)
    or ``filter`` (at the lens: the sensor gets more in that channel, light is lost).
    ``relief_stops`` less gain over the best-lit channel; ``cost_stops`` of light;
    ``left_mired`` and ``left_cc`` the cast at the key position (+ warm, + green).
    """

    kind: str
    name: str
    relief_stops: Interval
    cost_stops: float
    left_mired: float
    left_cc: float


@dataclass(frozen=True)
class ChannelGains:
    """What the dialled setting amplifies.

    ``stops`` with green at 0; ``against_daylight_stops`` less the same camera's at 5500 K.
    ``worst`` is the channel that is amplified most, by ``worst_lift_stops`` over the least.
    """

    stops: Channels
    against_daylight_stops: Channels
    worst: str
    worst_lift_stops: Interval
    reliefs: tuple[Relief, ...]


@dataclass(frozen=True)
class FlickerAnswer:
    """One flicker against the shutter.

    ``label`` names the sources, or the mains; ``is_source`` is False for mains that no source is
    said to follow, whose depth is then not known and taken as the worst. ``safe_time_s`` is the
    nearest safe time, NaN where no time within a frame is safe; ``safe_times_s`` all of them, the
    nearest ones where there are many. ``band_ripple_stops`` is what one frame's rows differ by.
    """

    label: str
    is_source: bool
    flicker: Flicker
    safe_times_s: tuple[float, ...]
    safe_time_s: float
    safe_cost_stops: float
    ripple_stops: float
    safe_ripple_stops: float
    beat_hz: float
    band_count: float
    band_ripple_stops: float
    low_risk_percent: float

    @property
    def is_risky(self) -> bool:
        """Whether the stated depth is over the low-risk limit."""
        known = self.is_source and not self.flicker.is_assumed
        return known and 100 * self.flicker.depth > self.low_risk_percent


@dataclass(frozen=True)
class FlickerPlan:
    """All flicker of a setup; ``common_time_s`` is nearest and safe for all, NaN if none is."""

    answers: tuple[FlickerAnswer, ...]
    common_time_s: float
    readout_s: float
    readout_is_stated: bool


@dataclass(frozen=True)
class FlashMix:
    """Flash and ambient at one position and shutter.

    ``over_ambient_stops`` is minus infinity without flash and infinity without ambient;
    mired (+ warm) and CC (+ green) of the cast at the dialled setting.
    """

    name: str
    over_ambient_stops: Interval
    mired: Interval
    green_cc: Interval


@dataclass(frozen=True)
class FlashShutter:
    """The mix at every position for one exposure time."""

    exposure_time_s: float
    is_planned: bool
    positions: tuple[FlashMix, ...]


@dataclass(frozen=True)
class ExposurePlan:
    """Everything decided about one setup's exposure.

    ``t_stop`` and ``nd_stops`` are what will be shot: the wanted stop with the ND that the key
    position asks for (from the kit where there is one), or the stop that the key asks for.
    ``nd_needed`` is None where no stop is wanted. ``clip_stops`` is from middle grey to clip at
    this EI; ``clip_is_stated`` tells a profile's figure from ISO 12232's. ``lenses`` are those of
    the kit that can be set to the stop, None where the kit names none.
    """

    t_stop: float
    nd_stops: float
    nd_needed: Interval | None
    packs: tuple[Pack, ...]
    lenses: tuple[str, ...] | None
    clip_stops: float
    clip_is_stated: bool
    positions: tuple[PositionExposure, ...]
    contrasts: tuple[Contrast, ...]
    lights: tuple[LightChannels, ...]
    gains: ChannelGains
    flicker: FlickerPlan | None
    flash: tuple[FlashShutter, ...]
