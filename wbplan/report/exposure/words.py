"""How an exposure is said: rounding and wording of `wbplan.planning.exposure` and its parts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wbplan.core.intervals import Interval
from wbplan.exposure.equation import name_ratio, name_stops, name_t_stop
from wbplan.exposure.flicker import Flicker
from wbplan.exposure.nd_kit import Pack
from wbplan.light.filters import name_cast
from wbplan.planning.channels import Relief
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.exposure import ExposurePlan, Landing, PositionExposure
from wbplan.planning.ripple import NOTABLE_RIPPLE_STOPS, BestShutter, FlickerAnswer
from wbplan.report.base import words

_MOST_STOPS = 20.0
_TEN_BIT = 1023


def say_signed(stops: float) -> str:
    """Say stops with a sign, as they are read off a scope: '+1.3', '−0.7', '0'."""
    if math.isnan(stops):
        return "unknown"
    if abs(stops) > _MOST_STOPS:
        return "over +20" if stops > 0 else "none"
    said = round(stops, 1)
    return f"{'+' if said > 0 else '−' if said < 0 else ''}{abs(said):g}"


def say_signed_span(interval: Interval) -> str:
    """Say the ends of an interval in signed stops; an empty text where nothing is unsure."""
    return words.say_ends(interval, say_signed) if interval.is_open else ""


def say_signed_range(interval: Interval) -> str:
    """Say a figure in signed stops with its interval behind it: '+1.3 (+1 to +1.5)'."""
    span = say_signed_span(interval)
    return f"{say_signed(interval.value)} ({span})" if span else say_signed(interval.value)


def say_code(landing: Landing) -> str:
    """Say a landing's ten-bit code (full range): '402', 'over 1023'."""
    code = landing.code.value
    if math.isnan(code):
        return "unknown"
    if code > 1:
        return f"over {_TEN_BIT}"
    return f"{max(round(_TEN_BIT * code), 0)}"


def say_code_span(landing: Landing) -> str:
    """Say the ends of a landing's code; an empty text where nothing is unsure."""
    if not landing.code.is_open:
        return ""
    return words.say_ends(
        landing.code, lambda code: f"{min(max(round(_TEN_BIT * code), 0), _TEN_BIT)}"
    )


def turn(stops: Interval) -> Interval:
    """Turn a contrast about: what the second lies over the first."""
    return Interval(-stops.value, -stops.high, -stops.low)


def say_contrast(stops: Interval) -> str:
    """Say a contrast in thirds of a stop and as n:1: '2 stops, 4:1', 'level, 1:1'."""
    if not math.isfinite(stops.value):
        return "no light on one side"
    said = name_stops(stops.value)
    return f"{'level' if said == '0 stops' else said}, {name_ratio(stops.value)}"


def say_contrast_span(stops: Interval) -> str:
    """Say the ends of a contrast as n:1; an empty text where nothing is unsure."""
    if not (stops.is_open and math.isfinite(stops.value)):
        return ""
    return words.say_ends(stops, name_ratio)


def say_pack(pack: Pack, most: bool = True) -> str:
    """Say what goes before the lens and inside the camera: 'ND 0.6 + ND 0.3, camera ND 2 stops'."""
    parts = [" + ".join(pack.glass)] if pack.glass else []
    if pack.camera_nd_stops:
        parts.append(f"camera ND {words.say_stops(pack.camera_nd_stops)}")
    said = ", ".join(parts) or "no ND"
    if not most or abs(pack.miss_stops) < 0.05:
        return said
    side = "dark" if pack.miss_stops > 0 else "bright"
    return f"{said} ({words.say_stops(pack.miss_stops)} {side})"


def say_nd_shot(exposure: ExposurePlan) -> str:
    """Say the ND that is shot with, the pack or a figure, and how far the wanted stop is missed."""
    said, miss = split_nd_shot(exposure)
    return f"{said} ({miss})" if miss else said


def split_nd_shot(exposure: ExposurePlan) -> tuple[str, str]:
    """Split what `say_nd_shot` says into what is put on, and how far that misses.

    A pack's own miss counts from no ND where the light falls short of the wanted stop; what is
    missing then is said as well.
    """
    needed, miss = exposure.nd_needed, 0.0
    if exposure.packs:
        said, miss = say_pack(exposure.packs[0], most=False), exposure.packs[0].miss_stops
    elif round(exposure.nd_stops, 1) == 0:
        said = "no ND"
    else:
        said = (
            f"ND {words.say_stops(exposure.nd_stops)} (density {name_density(exposure.nd_stops)})"
        )
    if needed is not None and math.isfinite(needed.value) and needed.value < 0:
        miss = exposure.nd_stops - needed.value
    if abs(miss) < 0.05:
        return said, ""
    return said, f"{words.say_stops(miss)} {'dark' if miss > 0 else 'bright'}"


def name_density(stops: float) -> str:
    """Write stops as the density that glass is engraved with: '0.6'."""
    return f"{stops * math.log10(2.0):.2g}"


def say_angle(exposure_time_s: float, fps: float) -> str:
    """Say a shutter by both its figures: '172.8° (1/50 s)'."""
    angle = 360.0 * fps * exposure_time_s
    return f"{angle:.5g}° ({say_time(exposure_time_s)})"


def say_time(seconds: float) -> str:
    """Say an exposure time: '1/48 s', '0.4 s'."""
    return f"1/{1 / seconds:.4g} s" if seconds < 0.3 else f"{seconds:.3g} s"


def say_ripple(stops: float) -> str:
    """Say a ripple: 'none', 'under 0.01 stop', '0.12 stops', 'whole frames dark'."""
    if math.isinf(stops):
        return "down to black"
    if math.isnan(stops):
        return "unknown"
    if stops < 1e-6:
        return "none"
    if stops < 0.005:
        return "under 0.01 stop"
    return f"{stops:.2f} stops" if stops < 1 else words.say_stops(stops)


def say_ripple_span(interval: Interval) -> str:
    """Say the ends of a ripple, where they differ as they are said."""
    return words.say_ends_apart(interval, say_ripple)


def say_flicker(flicker: Flicker) -> str:
    """Say a flicker: '100 Hz, 35 %, sine', and what was taken for want of a figure."""
    depth = f"{100 * flicker.depth:.3g} %" + (" taken as the worst" if flicker.is_assumed else "")
    shape = str(flicker.waveform)
    if flicker.waveform == "square":
        shape = f"square, on {100 * flicker.duty:.3g} %"
    said = f"{flicker.light_hz:g} Hz, {depth}, {shape}"
    if flicker.mains_depth:
        said += f", uneven half waves {100 * flicker.mains_depth:.3g} %"
    if flicker.has_colour:
        said += f", dimmest {name_cast(flicker.trough_mired, flicker.trough_green_cc)}"
    return said


def say_safe(answer: FlickerAnswer, fps: float) -> str:
    """Say the nearest safe shutter and what it costs."""
    if not answer.safe_times_s:
        return f"none at {fps:.6g} fps"
    said = say_angle(answer.safe_time_s, fps)
    cost = answer.safe_cost_stops
    if abs(cost) < 1e-6:
        return f"{said}, the planned one"
    size = "under 0.05 stops" if abs(cost) < 0.05 else words.say_stops(cost)
    return f"{said}, {size} {'less' if cost > 0 else 'more'} light"


def say_beat(answer: FlickerAnswer) -> str:
    """Say how the ripple is seen from frame to frame."""
    if answer.beat_hz == 0:
        return "stands still"
    return f"beats {words.say_significant(answer.beat_hz, 2)} times a second"


def say_bands(answer: FlickerAnswer) -> str:
    """Say the bands that a rolling shutter draws into a frame."""
    if answer.band_count == 0:
        return "none, global shutter"
    if answer.band_ripple_stops < 1e-6:
        return "none"
    count = answer.band_count
    number = f"{count:.0f}" if count >= 10 else f"{count:.2g}"
    return f"{say_ripple(answer.band_ripple_stops)} over {number} bands a frame"


def say_best(best: BestShutter, fps: float) -> str:
    """Say the shutter to take against all flicker, and what it leaves."""
    limit = f"{NOTABLE_RIPPLE_STOPS:g} stops"
    left = say_ripple(best.ripple_stops)
    left = "nothing" if left == "none" else f"{left} at {best.place}"
    angle = say_angle(best.exposure_time_s, fps)
    if not best.is_safe:
        return f"no shutter stays under {limit} everywhere; {angle} leaves least, {left}"
    if best.is_planned:
        return f"the planned shutter is safe everywhere: it leaves {left}"
    return f"safe everywhere, under {limit}: {angle}, which leaves {left}"


def say_colour_ripple(place: PositionExposure) -> str:
    """Say how far a position's colour flickers: '8 mired, 2 CC'; '' where nothing is known."""
    if math.isnan(place.ripple_mired):
        return ""
    return f"colour {place.ripple_mired:.1f} mired, {place.ripple_cc:.1f} CC"


def say_relief(relief: Relief) -> str:
    """Say a way to spare the worst channel, with its price."""
    gain = f"{words.say_stops(relief.relief_stops.value)} less"
    span = ""
    if relief.relief_stops.is_open:
        span = f" ({say_signed_span(relief.relief_stops).replace('+', '')})"
    if relief.kind == "setting":
        left = words.say_shift(relief.left_mired, relief.left_cc)
        return (
            f"setting {relief.name}: {gain} gain{span}, and leaves {left} at the key; the sensor "
            "gets the same, so grading it back brings the noise back"
        )
    return (
        f"{relief.name} filter at the lens, camera set anew: {gain} gain{span}, and costs "
        f"{words.say_stops(relief.cost_stops)} of light"
    )


def say_flash_ratio(over_ambient: Interval) -> str:
    """Say flash against ambient: '+1 (2:1)', 'flash alone', 'no flash'."""
    stops = over_ambient.value
    if math.isnan(stops):
        return "no light"
    if math.isinf(stops):
        return "flash alone" if stops > 0 else "no flash"
    return f"{say_signed_range(over_ambient)}, {name_ratio(stops)}"


def say_flash_colour(mired: Interval, green_cc: Interval) -> str:
    """Say the colour of a mix, its interval behind it."""
    said = words.say_shift(mired.value, green_cc.value)
    if not (mired.is_open or green_cc.is_open):
        return said
    return f"{said} ({words.say_mired_span(mired)}; {words.say_green_span(green_cc)})"


@dataclass(frozen=True)
class DayRow:
    """One setup's line in the day's summary, as it is said."""

    order: int
    row: int
    name: str
    setting: str
    shutter: str
    stop: str
    nd: str
    safe_shutter: str
    lenses: str


def list_day(plan: Plan) -> tuple[DayRow, ...]:
    """List the setups in shooting order with what the camera crew sets for each."""
    numbers = plan.shooting_order or range(len(plan.setups))
    pairs = enumerate(numbers, 1)
    return tuple(_describe(order, number, plan.setups[number]) for order, number in pairs)


def _describe(order: int, number: int, setup: SetupPlan) -> DayRow:
    exposure, shooting = setup.exposure, setup.setup.shooting
    safe, lenses = "not asked", "not stated"
    stop, nd = name_t_stop(setup.key.t_stop.value), "no ND"
    if exposure is not None:
        stop, nd = name_t_stop(exposure.t_stop), say_nd_shot(exposure)
        if exposure.lenses is not None:
            lenses = ", ".join(exposure.lenses) or "none reaches it"
        if exposure.flicker is not None:
            best = exposure.flicker.best
            safe = say_angle(best.exposure_time_s, shooting.fps) if best.is_safe else "none"
    return DayRow(
        order,
        number,
        setup.name,
        words.say_setting(setup.dial),
        f"EI {shooting.ei:g}, {shooting.fps:.6g} fps, {words.say_exposure_time(shooting)}",
        stop,
        nd,
        safe,
        lenses,
    )
