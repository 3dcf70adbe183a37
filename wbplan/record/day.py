"""The record of a day, `plan.json` of the format "wbplan day": columns over the times.

Every list under ``through_the_day`` and under a position has one entry for each of ``times``; null
where the model refuses or there is no light.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from wbplan.core.tables import Array
from wbplan.day.luts import DayLut
from wbplan.day.scene import Band
from wbplan.day.setups import DayPlan, DaySetup, find_nd_stops, find_stop
from wbplan.day.windows import SettingWindows
from wbplan.record.exposure import record_shooting
from wbplan.record.file import DAY_FORMAT
from wbplan.record.looks import record_site
from wbplan.record.luts import record_encoding, record_error
from wbplan.record.numbers import (
    make_cautions,
    make_head,
    make_keys,
    make_notes,
    make_number,
    make_numbers,
    make_setting,
)
from wbplan.scene.cautions import DEFERENCE
from wbplan.scene.predicted import list_predicted
from wbplan.sky.source import PlacedSky


def build_day_record(plan: DayPlan) -> dict[str, Any]:
    """Collect what a day holds into JSON-ready values."""
    return {
        **make_head(DAY_FORMAT, plan),
        **make_keys(interval_percent=100 * plan.band_share),
        "setups": [_record_setup(each) for each in plan.setups],
        "setups_without_sky": list(plan.passed_over),
        "cautions_defer_to": DEFERENCE,
        "files": [],
    }


def _column(values: Array) -> list[float | int | None]:
    return make_numbers(np.asarray(values, dtype=np.float64))


def _band(name: str, band: Band, place: int | None = None) -> dict[str, Any]:
    def take(values: Array) -> list[float | int | None]:
        return _column(values if place is None else values[:, place])

    return {
        name: take(band.value),
        f"{name}_low": take(band.low),
        f"{name}_high": take(band.high),
    }


def _record_setup(day: DaySetup) -> dict[str, Any]:
    setup, scene, wish = day.setup, day.scene, day.wish
    return {
        "name": setup.name,
        "camera": setup.camera.name,
        "site": record_site(setup.site),
        "key_position": setup.key,
        "shooting": record_shooting(setup.shooting),
        "within": make_keys(mired=wish.within.mired, cc=wish.within.cc, stops=wish.within.stops),
        "step_minutes": wish.step_minutes,
        "sun": _record_sun(day),
        "lights_of_the_sky": [
            _record_light(each.name, each.sky) for each in setup.sources if each.sky is not None
        ],
        "times": [each.isoformat() for each in day.moments],
        "through_the_day": {
            "sun_elevation_deg": _column(scene.elevation_deg),
            "sun_azimuth_deg": _column(scene.azimuth_deg),
            "refused": [each or None for each in scene.refused],
            **_band("exact_mired", scene.exact_mired),
            **_band("exact_tint_cc", scene.exact_tint_cc),
            "nearest_setting": [None if each is None else make_setting(each) for each in day.dials],
            "take_matches_until": [
                None if each is None else day.moments[each.last].isoformat() for each in day.takes
            ],
            "take_ends_by": [None if each is None else each.why or None for each in day.takes],
            "take_ends_at": [None if each is None else each.about or None for each in day.takes],
        },
        "positions": [_record_position(day, row) for row in range(len(setup.positions))],
        "whole_day_setting": None if day.whole is None else _record_windows(day, day.whole),
        "hourly_settings": [_record_windows(day, each) for each in day.hourly],
        "filters": _record_changes(day),
        "luts": None
        if day.luts is None
        else {
            "by": day.luts.by,
            "count_by_hour": day.luts.hours,
            "count_by_cast": day.luts.casts,
            "luts": [_record_lut(day, each) for each in day.luts.luts],
        },
        "cautions": make_cautions(day.cautions),
        "notes": make_notes(dict.fromkeys(day.notes)),
    }


def _record_sun(day: DaySetup) -> dict[str, Any]:
    zone = day.moments[0].tzinfo

    def say(second: float) -> str:
        return datetime.fromtimestamp(round(second), zone).isoformat()

    return {
        "times": [
            {
                "name": each.name,
                "at": say(each.second),
                **make_keys(elevation_deg=each.elevation_deg, azimuth_deg=each.azimuth_deg),
            }
            for each in day.sun.times
        ],
        "spans": [
            {"name": each.name, "from": say(each.first), "to": say(each.last)}
            for each in day.sun.spans
        ],
    }


def _record_light(name: str, sky: PlacedSky) -> dict[str, Any]:
    light = sky.light
    facing = None if light.kind == "shade" else light.facing
    return {
        "name": name,
        "kind": light.kind,
        "words": light.words,
        "origin": light.origin,
        **make_keys(tilt_deg=None if facing is None else facing.tilt_deg),
        **make_keys(azimuth_deg=None if facing is None else facing.azimuth_deg),
        "stated": sorted(light.stated),
        "horizon_deg": [[make_number(a), make_number(h)] for a, h in light.horizon.points],
        "readings_from": sky.when.isoformat(),
    }


def _record_position(day: DaySetup, row: int) -> dict[str, Any]:
    scene, position = day.scene, day.setup.positions[row]
    nd_name = "nd_for_wanted_t_stop_stops"
    if day.nd_stops is None:
        nd: dict[str, Any] = dict.fromkeys((nd_name, f"{nd_name}_low", f"{nd_name}_high"))
    else:
        nd = _band(nd_name, day.nd_stops, row)
    return {
        "name": position.name,
        "intent_words": position.intent.words,
        **_band("illuminance_lux", scene.lux, row),
        "cct_kelvin": _column(scene.cct_kelvin[:, row]),
        **_band("wanted_mired", scene.mired, row),
        **_band("wanted_tint_cc", scene.tint_cc, row),
        **_band("t_stop", day.t_stop, row),
        **nd,
        "from_key_stops": _column(day.from_key_stops[:, row]),
        "sun_over_shade_stops": _column(day.sun_over_shade_stops[:, row]),
        "trouble": [each[row] or None for each in scene.trouble],
        "predicted_lights": list(list_predicted(day.setup, row)),
    }


def _record_windows(day: DaySetup, served: SettingWindows) -> dict[str, Any]:
    return {
        "setting": make_setting(served.setting),
        "origin": served.origin,
        "at": None if served.at < 0 else day.moments[served.at].isoformat(),
        "windows": [
            {
                "from": day.moments[each.first].isoformat(),
                "to": day.moments[each.last].isoformat(),
                "t_stop": make_number(find_stop(day, each)),
                **make_keys(nd_for_wanted_t_stop_stops=find_nd_stops(day, each)),
            }
            for each in served.windows
        ],
    }


def _record_changes(day: DaySetup) -> dict[str, Any] | None:
    plan = day.changes
    if plan is None:
        return None
    return {
        "lights": list(plan.lights),
        "is_assumed": plan.is_assumed,
        "packs_weighed": plan.packs,
        "is_every_pack": plan.is_every_pack,
        "changes": [
            {
                "at": day.moments[each.at].isoformat(),
                "light": each.light,
                "before": list(each.before),
                "after": list(each.after),
                "burns_before": each.way_before or None,
                "burns_after": each.way_after or None,
                "loss_stops": make_number(each.loss_stops),
            }
            for each in plan.changes
        ],
        "times": [day.moments[each].isoformat() for each in plan.at],
        "left_rms_mired": _column(plan.left_mired),
        "untouched_rms_mired": _column(plan.untouched_mired),
        "settings": [make_setting(each) for each in plan.settings],
    }


def _record_lut(day: DaySetup, lut: DayLut) -> dict[str, Any]:
    made, file = lut.plan, lut.plan.file
    assert file.error is not None
    return {
        "for": lut.label,
        "times": [day.moments[each].isoformat() for each in lut.times],
        "file": made.file_name,
        "sha256": file.sha256,
        "size_points": file.size,
        "from": make_setting(made.shot_at),
        **make_keys(to_mired=made.wanted.mired.value, to_tint_cc=made.wanted.tint_cc.value),
        "encoding": record_encoding(day.setup.encoding),
        "keeps": file.recipe.keep,
        **make_keys(cost_stops=file.recipe.cost_stops, up_stops=file.recipe.up_stops),
        "limit_met": file.met,
        "needed_points": file.needed_size,
        "error": record_error(file.error, file.bounded_nodes),
    }
