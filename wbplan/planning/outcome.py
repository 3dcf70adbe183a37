"""What came out at a position, by a frame of a grey there, against what was planned.

Idea
----
A balanced camera writes a grey with three equal values. What a frame's grey lacks of that, in
stops, added to the neutral that the dialled setting balances, is the neutral that the light really
has in this camera, and its coordinates are the setting that it wanted. The profile's own curves
turn stops into mired and CC, so a cast is as exact as the curves are near it, and a grey that came
out balanced needs no profile at all.

How bright the grey came out is told against where the plan puts it: in an encoding from middle
grey, by its green, which a light exposes otherwise than its lux say; in a raw by what is left to
clip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.colour_error import find_exposure_offset
from wbplan.camera.sensitivities import CHANNELS
from wbplan.camera.setting import (
    CameraView,
    find_distance,
    find_setting_log2,
    solve_coordinates,
)
from wbplan.core.intervals import Interval, find_ends
from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.planning.casts import Cast, WantedSetting
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.positions import PositionPlan
from wbplan.scene.setup import Setup, find_position_lux, find_source_power

CLOSE_STOPS = 1.0 / 3.0  # what a stop may be off by: common practice, no source
_BESIDE = 10.0  # mired, by `find_distance`: how near a light has to come to be named


@dataclass(frozen=True, eq=False)
class GreyReading:
    """What a frame shows of a perfect white at a position.

    ``balanced_log2`` (3,) [stops] in the camera's own balanced RGB. ``raw_log2`` (3,) [stops] from
    the sensor's clip, where the frame is a raw; None in an encoding, in which balanced values are
    scene linear.
    """

    balanced_log2: Array
    raw_log2: Array | None = None


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came out at one position, beside the plan for it.

    ``wanted`` and ``cast`` are the frame's, without intervals; ``planned`` has those of the plan.
    ``stops_over`` is how much brighter than planned the grey is, with the interval of what was
    planned; None where the profile does not say where the sensor clips. ``past_scale`` where the
    grey wants a setting beyond every Kelvin. ``alike`` names lights of the setup, each by itself,
    under which a grey would come out so.
    """

    setup: SetupPlan
    planned: PositionPlan
    wanted: WantedSetting
    cast: Cast
    stops_over: Interval | None
    past_scale: bool
    alike: tuple[str, ...]

    @property
    def is_mired_held(self) -> bool:
        """Whether the mired lie in the planned interval, to a tenth."""
        return _holds(self.planned.cast.mired, self.cast.mired.value)

    @property
    def is_green_held(self) -> bool:
        """Whether the CC lie in the planned interval, to a tenth."""
        return _holds(self.planned.cast.green_cc, self.cast.green_cc.value)

    @property
    def is_stop_held(self) -> bool | None:
        """Whether the stop is within a third of what was planned; None where nothing says it."""
        if self.stops_over is None:
            return None
        return self.stops_over.low <= CLOSE_STOPS and self.stops_over.high >= -CLOSE_STOPS

    @property
    def is_as_planned(self) -> bool:
        """Whether cast and, where it can be told, stop came out as planned."""
        return self.is_mired_held and self.is_green_held and self.is_stop_held is not False


def _holds(planned: Interval, value: float) -> bool:
    return planned.low - 0.05 < value < planned.high + 0.05


def find_position_power(setup: Setup, row: int) -> Array:
    """Find the light (401,) at a position, behind the filters [W m-2 nm-1]."""
    return np.asarray(find_position_lux(setup)[row] @ find_source_power(setup))


def find_outcome(plan: SetupPlan, camera: CameraView, row: int, seen: GreyReading) -> Outcome:
    """Find what came out at position ``row`` of a setup that ``camera`` shot at the plan's setting.

    Raises
    ------
    ValueError
        If the plan has no light there, or no setting neutralises it.
    """
    planned, dial = plan.positions[row], plan.dial
    if planned.lux.value <= 0 or planned.trouble:
        raise ValueError(planned.trouble or "no light at this position")
    dialled = find_setting_log2(camera.locus, np.array([dial.mired]), np.array([dial.tint_cc]))
    found = solve_coordinates(camera.locus, dialled + seen.balanced_log2)
    mired, tint = float(found.mired[0]), float(found.tint_cc[0])
    wanted = WantedSetting(_close(mired), _close(tint))
    return Outcome(
        setup=plan,
        planned=planned,
        wanted=wanted,
        cast=wanted.less(dial.mired, dial.tint_cc),
        stops_over=_compare_stops(plan, camera, row, seen),
        past_scale=bool(found.beyond[0]),
        alike=_find_alike(plan, planned, wanted),
    )


def _close(value: float) -> Interval:
    return Interval(value, value, value)


def _compare_stops(
    plan: SetupPlan, camera: CameraView, row: int, seen: GreyReading
) -> Interval | None:
    assert plan.exposure is not None
    there = plan.exposure.positions[row]
    if seen.raw_log2 is not None:
        if not plan.exposure.clip_is_stated:
            return None
        channel = CHANNELS.index(there.first_to_clip)
        left = there.headroom_stops[channel]
        came = float(seen.raw_log2[channel] + np.log2(MIDDLE_GREY))
        return Interval(came + left.value, came + left.low, came + left.high)
    power = find_position_power(plan.setup, row)
    green = float(find_exposure_offset(power, camera.profile.sensitivities)[1])
    low, high = 0.0, 0.0
    if camera.members.size:
        ends = find_ends(find_exposure_offset(power, camera.members)[:, 1], plan.setup.band_share)
        low, high = min(float(ends[0]) - green, 0.0), max(float(ends[1]) - green, 0.0)
    over = there.landings[0].from_grey_stops
    off = float(seen.balanced_log2[1]) - over.value - green
    below = np.hypot(over.high - over.value, high)
    above = np.hypot(over.value - over.low, low)
    return Interval(off, off - float(below), off + float(above))


def _find_alike(plan: SetupPlan, planned: PositionPlan, wanted: WantedSetting) -> tuple[str, ...]:
    """Name lights by themselves that come nearer to what came out than the planned mix does."""

    def measure(other: WantedSetting) -> float:
        mired, cc = (a - b for a, b in zip(other.point, wanted.point, strict=True))
        return float(find_distance(mired, cc))

    here = measure(planned.wanted)
    near = [
        (measure(each.wanted), each.name)
        for each in plan.lights
        if not each.trouble and each.power.any()
    ]
    return tuple(name for far, name in sorted(near) if far < min(_BESIDE, here / 2))
