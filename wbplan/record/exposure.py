"""The record's part on exposure: `planning.exposure` and its parts as JSON-ready values."""

from __future__ import annotations

import math
from typing import Any

from wbplan.core.intervals import Interval
from wbplan.exposure.burst import Burst, find_caught_share
from wbplan.exposure.equation import Shooting, name_ratio, name_t_stop
from wbplan.exposure.nd_kit import Kit, Pack
from wbplan.planning.channels import Relief
from wbplan.planning.decisions import Plan
from wbplan.planning.exposure import ExposurePlan, PositionExposure
from wbplan.planning.flash import FlashShutter
from wbplan.planning.ripple import FlickerAnswer, FlickerPlan
from wbplan.record.numbers import make_channels, make_flicker, make_keys, make_number, make_numbers
from wbplan.scene.setup import Setup

_TEN_BIT = 1023


def record_exposure(plan: ExposurePlan, setup: Setup) -> dict[str, Any]:
    """Collect what was decided about one setup's exposure."""
    fps = setup.shooting.fps
    needed = plan.nd_needed
    return {
        "t_stop": make_number(plan.t_stop),
        "t_stop_said": name_t_stop(plan.t_stop),
        "nd_stops": make_number(plan.nd_stops),
        "nd_needed": None if needed is None else make_keys(nd_stops=needed),
        "packs": [_record_pack(each) for each in plan.packs],
        "lenses": None if plan.lenses is None else list(plan.lenses),
        "grey_to_clip_stops": make_number(plan.clip_stops),
        "grey_to_clip_is_stated": plan.clip_is_stated,
        "positions": [_record_position(each) for each in plan.positions],
        "contrasts": [
            {
                "brighter": each.brighter,
                "darker": each.darker,
                **make_keys(contrast_stops=each.stops),
                "said": name_ratio(each.stops.value),
            }
            for each in plan.contrasts
        ],
        "light_channels": [
            {"light": each.name, **make_channels("against_lux_stops", each.stops)}
            for each in plan.lights
        ],
        "gains": {
            **make_channels("gain_stops", plan.gains.stops),
            **make_channels("against_daylight_stops", plan.gains.against_daylight_stops),
            "worst_channel": plan.gains.worst,
            **make_keys(worst_lift_stops=plan.gains.worst_lift_stops),
            "reliefs": [_record_relief(each) for each in plan.gains.reliefs],
        },
        "flashes": [
            _record_flash(each.name, each.burst or Burst(), setup.shooting)
            for each in setup.sources
            if each.flash and each.on
        ],
        "flash_mix": [_record_shutter(each, fps) for each in plan.flash],
        "flicker": None if plan.flicker is None else _record_flicker(plan.flicker, fps),
    }


def _record_flash(name: str, burst: Burst, shooting: Shooting) -> dict[str, Any]:
    """Write how a flash fires and what an exposure catches of it; null is taken as no time."""
    half_ms, tenth_ms = (1000 * burst.fade_s * math.log(share) for share in (2.0, 10.0))
    rate = burst.most_hz if math.isfinite(burst.most_hz) else None
    caught = float(find_caught_share(burst, shooting.exposure_time_s))
    return {
        "light": name,
        **make_keys(t05_ms=half_ms or None, t01_ms=tenth_ms or None),
        "pops_count": burst.pops,
        **make_keys(gap_ms=1000 * burst.gap_s if burst.pops > 1 else None, most_per_second=rate),
        "is_fired_by_shutter": burst.is_synced,
        "caught_percent": make_number(100 * caught),
    }


def record_shooting(shooting: Shooting) -> dict[str, Any]:
    """State how the camera is run."""
    return make_keys(
        ei=shooting.ei,
        fps=shooting.fps,
        exposure_time_seconds=shooting.exposure_time_s,
        shutter_angle_degrees=shooting.shutter_angle_deg,
        nd_stops=shooting.nd_stops,
        wanted_t_stop=shooting.t_stop,
        calibration_c_lux_seconds=shooting.calibration_c,
        readout_seconds=shooting.readout_s,
    )


def record_kit(kit: Kit | None) -> dict[str, Any] | None:
    """Collect the stated kit."""
    if kit is None:
        return None
    return {
        "glass": [
            {
                "name": each.name,
                "loss_stops": make_number(each.stops),
                "pieces_count": each.count,
                "stays": each.stays,
            }
            for each in kit.pieces
        ],
        "camera_nd_stops": make_numbers(kit.camera_nd_stops),
        "most_glass_count": kit.most_glass,
        "lenses": [
            {
                "name": each.name,
                **make_keys(widest_t_stop=each.widest_t_stop, smallest_t_stop=each.smallest_t_stop),
            }
            for each in kit.lenses
        ],
    }


def record_day(plan: Plan) -> list[dict[str, Any]]:
    """Collect the day's summary: the setups in shooting order with what is set for each."""
    rows = []
    for number, setup in enumerate(plan.in_shooting_order, 1):
        exposure = setup.exposure
        shot = {"t_stop": setup.key.t_stop.value, "nd_stops": setup.setup.shooting.nd_stops}
        if exposure is not None:
            shot = {"t_stop": exposure.t_stop, "nd_stops": exposure.nd_stops}
        best = exposure.packs[0] if exposure is not None and exposure.packs else None
        safe = None
        if exposure is not None and exposure.flicker is not None:
            shutter = exposure.flicker.best
            safe = make_number(shutter.exposure_time_s) if shutter.is_safe else None
        rows.append(
            {
                "shooting_number": number,
                "setup": setup.name,
                **make_keys(kelvin=setup.dial.kelvin, tint_cc=setup.dial.tint_cc),
                **{name: make_number(each) for name, each in shot.items()},
                "pack": None if best is None else _record_pack(best),
                **make_keys(ei=setup.setup.shooting.ei, fps=setup.setup.shooting.fps),
                "shutter_angle_degrees": make_number(setup.setup.shooting.shutter_angle_deg),
                "flicker_safe_seconds": safe,
            }
        )
    return rows


def _record_pack(pack: Pack) -> dict[str, Any]:
    return {
        "glass": list(pack.glass),
        **make_keys(camera_nd_stops=pack.camera_nd_stops, loss_stops=pack.stops),
        "too_dark_stops": make_number(pack.miss_stops),
        "reaches": pack.reaches,
    }


def _record_position(place: PositionExposure) -> dict[str, Any]:
    return {
        "name": place.name,
        "landings": [
            {
                "surface": each.surface,
                "reflectance_ratio": make_number(each.reflectance),
                **make_keys(from_grey_stops=each.from_grey_stops),
                **make_keys(ten_bit_codes=_scale(each.code, _TEN_BIT)),
            }
            for each in place.landings
        ],
        **make_keys(from_key_stops=place.from_key_stops),
        **make_channels("headroom_stops", place.headroom_stops),
        "first_to_clip": place.first_to_clip,
        **make_keys(white_over_clip_stops=place.white_over_stops, ripple_stops=place.ripple_stops),
        **make_keys(ripple_mired=place.ripple_mired, ripple_green_cc=place.ripple_cc),
    }


def _scale(interval: Interval, by: float) -> Interval:
    return Interval(interval.value * by, interval.low * by, interval.high * by)


def _record_relief(relief: Relief) -> dict[str, Any]:
    return {
        "kind": relief.kind,
        "name": relief.name,
        **make_keys(relief_stops=relief.relief_stops, cost_stops=relief.cost_stops),
        **make_keys(left_mired=relief.left_mired, left_green_cc=relief.left_cc),
    }


def _record_shutter(shutter: FlashShutter, fps: float) -> dict[str, Any]:
    return {
        "exposure_time_seconds": make_number(shutter.exposure_time_s),
        "shutter_angle_degrees": make_number(360 * fps * shutter.exposure_time_s),
        "is_planned": shutter.is_planned,
        "positions": [
            {
                "name": each.name,
                **make_keys(flash_over_ambient_stops=each.over_ambient_stops, mired=each.mired),
                **make_keys(green_cc=each.green_cc),
            }
            for each in shutter.positions
        ],
    }


def _record_flicker(plan: FlickerPlan, fps: float) -> dict[str, Any]:
    best = plan.best
    return {
        "readout_seconds": make_number(plan.readout_s),
        "readout_is_stated": plan.readout_is_stated,
        "best_shutter": {
            "exposure_time_seconds": make_number(best.exposure_time_s),
            "shutter_angle_degrees": make_number(360 * fps * best.exposure_time_s),
            "is_planned": best.is_planned,
            "is_safe": best.is_safe,
            **make_keys(cost_stops=best.cost_stops, ripple_stops=best.ripple_stops),
            "worst_at": best.place,
        },
        "lights": [_record_answer(each, fps) for each in plan.answers],
    }


def _record_answer(answer: FlickerAnswer, fps: float) -> dict[str, Any]:
    return {
        "label": answer.label,
        "is_a_stated_light": answer.is_source,
        **make_flicker(answer.flicker),
        "safe_seconds": make_numbers(answer.safe_times_s),
        "safe_degrees": make_numbers(360 * fps * each for each in answer.safe_times_s),
        "nearest_safe_seconds": make_number(answer.safe_time_s),
        "nearest_safe_degrees": make_number(360 * fps * answer.safe_time_s),
        "nearest_safe_cost_stops": make_number(answer.safe_cost_stops),
        "ripple_stops": make_number(answer.ripple_stops),
        **make_keys(nearest_safe_ripple_stops=answer.safe_ripple_stops, beat_hz=answer.beat_hz),
        **make_keys(bands_count=answer.band_count, band_ripple_stops=answer.band_ripple_stops),
        "low_risk_depth_percent": make_number(answer.low_risk_percent),
        "is_over_low_risk": answer.is_risky,
    }
