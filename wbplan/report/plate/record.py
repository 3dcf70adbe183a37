"""The plate notes as JSON, for the tools of those who work on the plate later.

Like the plan's record: a unit in the name of each number, an interval as three keys, null for what
was not given or has no meaning, keys in a fixed order, the same bytes for the same plan. What each
key means stands in the JSON Schema beside this module, ``plate.schema.json``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC
from functools import cached_property
from typing import Any

from wbplan.core.digest import digest_bytes
from wbplan.core.intervals import Interval
from wbplan.exposure.equation import MIDDLE_GREY, name_t_stop
from wbplan.exposure.flicker import Flicker
from wbplan.light.colorimetry import find_uv_prime
from wbplan.planning.casts import WantedSetting
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.eye_view import EyeView
from wbplan.planning.lights import LightPlan
from wbplan.planning.plate.values import Bracket, LightPlate, PlateView, Triple
from wbplan.planning.positions import PositionPlan
from wbplan.record.luts import record_encoding
from wbplan.record.numbers import make_interval_keys, make_number
from wbplan.report.plan.setup_page import collect_notes
from wbplan.report.plate.words import BASIS, CAUTION, list_lens, list_reminders, list_unplaced
from wbplan.scene.cautions import DEFERENCE
from wbplan.scene.plate import PlateLens, Spot, find_facing_deg, find_separation
from wbplan.scene.setup import Setup

FORMAT = "wbplan plate notes"
FORMAT_VERSION = 1
SCHEMA_NAME = "plate.schema.json"
_CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class PlateFile:
    """A file that goes with a plate: its name, what it is, the light it is of, its bytes."""

    name: str
    kind: str
    light: str
    content: bytes

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of its bytes, hexadecimal."""
        return digest_bytes(self.content)


def build_plate_record(
    plan: Plan, setup_plan: SetupPlan, number: int, spectra: tuple[PlateFile, ...]
) -> dict[str, Any]:
    """Collect the plate notes of one setup into JSON-ready values.

    Parameters
    ----------
    number
        Of the setup, from 1.
    spectra
        The files that go with it.
    """
    view, setup = setup_plan.plate, setup_plan.setup
    if view is None:
        raise ValueError(f"setup '{setup_plan.name}' has no plate notes")
    red, green, blue = setup_plan.gains
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "wbplan_version": plan.version,
        "digest_sha256": plan.digest,
        "title": plan.title,
        "scenario": plan.scenario_file,
        "invented": plan.invented,
        "interval_percent": make_number(100 * plan.band_share),
        "setup": {"number": number, "name": setup_plan.name},
        "slate": _record_slate(setup),
        "site": _record_site(setup),
        "when": _record_when(setup),
        "camera": {
            "name": setup.camera.name,
            "title": setup.camera.title,
            "provenance": setup.camera.provenance,
            "base_ei": make_number(setup.camera.base_ei),
        },
        "shooting": _record_shooting(setup_plan),
        "lens": None if setup.lens is None else _record_lens(setup.lens),
        "dialled_setting": {
            "kelvin": make_number(setup_plan.dial.kelvin),
            "mired": make_number(setup_plan.dial.mired),
            "tint_cc": make_number(setup_plan.dial.tint_cc),
            "preset": setup_plan.dial.preset or None,
            "given_by_user": setup_plan.dial_is_given,
        },
        "exact_setting": _record_wanted(setup_plan.exact),
        "gains": {
            "red_ratio": make_number(red),
            "green_ratio": make_number(green),
            "blue_ratio": make_number(blue),
        },
        "encoding": record_encoding(setup.encoding),
        "luts": _record_luts(setup_plan),
        "scale": _record_scale(setup_plan, view),
        "positions": [
            _record_position(setup_plan, view, row) for row in range(len(setup_plan.positions))
        ],
        "lights": [
            _record_light(setup_plan, light, view.lights[row], row, spectra)
            for row, light in enumerate(setup_plan.lights)
        ],
        "not_given": {
            "lens": list_lens(setup.lens)[1],
            "places": list_unplaced(setup_plan),
        },
        "bracket": None if view.bracket is None else _record_bracket(view.bracket),
        "checklist": [
            {"code": each.code, "title": each.title, "text": each.text, "basis": BASIS}
            for each in list_reminders(setup_plan)
        ],
        "cautions": [
            {"code": each.code, "text": each.text} for each in (*setup_plan.cautions, CAUTION)
        ],
        "cautions_defer_to": DEFERENCE,
        "notes": [
            {"code": each.code, "text": each.text, "about": each.about, "weight": each.weight}
            for each in collect_notes(setup_plan)
        ],
        "files": [
            {"file": each.name, "sha256": each.sha256, "kind": each.kind, "light": each.light}
            for each in spectra
        ],
    }


def _optional(value: float | None) -> float | int | None:
    return None if value is None else make_number(value)


def _record_slate(setup: Setup) -> dict[str, Any] | None:
    slate = setup.slate
    if slate is None:
        return None
    return {
        "slate": slate.slate or None,
        "scene": slate.scene or None,
        "take": slate.take or None,
        "clip": slate.clip or None,
        "notes": slate.notes or None,
    }


def _record_site(setup: Setup) -> dict[str, Any] | None:
    site = setup.site
    if site is None:
        return None
    return {
        "name": site.name or None,
        "latitude_degrees": make_number(site.latitude_deg),
        "longitude_degrees": make_number(site.longitude_deg),
        "altitude_metres": make_number(site.altitude_m),
        "time_zone": site.time_zone,
    }


def _record_when(setup: Setup) -> dict[str, Any] | None:
    if setup.when is None:
        return None
    return {
        "local": setup.when.isoformat(timespec="seconds"),
        "utc": f"{setup.when.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
    }


def _record_shooting(plan: SetupPlan) -> dict[str, Any]:
    shooting, exposure = plan.setup.shooting, plan.exposure
    t_stop = plan.key.t_stop.value if exposure is None else exposure.t_stop
    pack = exposure.packs[0] if exposure is not None and exposure.packs else None
    return {
        "ei": make_number(shooting.ei),
        "fps": make_number(shooting.fps),
        "exposure_time_seconds": make_number(shooting.exposure_time_s),
        "shutter_angle_degrees": make_number(shooting.shutter_angle_deg),
        "readout_seconds": _optional(shooting.readout_s),
        "t_stop": make_number(t_stop) if t_stop > 0 else None,
        "t_stop_said": name_t_stop(t_stop),
        "nd_stops": make_number(shooting.nd_stops if exposure is None else exposure.nd_stops),
        "glass": None if pack is None else list(pack.glass),
        "camera_nd_stops": None if pack is None else make_number(pack.camera_nd_stops),
    }


def _record_lens(lens: PlateLens) -> dict[str, Any]:
    focus = lens.focus_distance_m
    return {
        "name": lens.name or None,
        "focal_length_millimetres": _optional(lens.focal_length_mm),
        "squeeze_ratio": _optional(lens.squeeze_ratio),
        "focus_distance_metres": _optional(focus),
        "focus_is_infinity": focus is not None and math.isinf(focus),
        "camera_height_metres": _optional(lens.camera_height_m),
        "tilt_degrees": _optional(lens.tilt_deg),
        "roll_degrees": _optional(lens.roll_deg),
        "heading_degrees": _optional(lens.heading_deg),
        "sensor_width_millimetres": _optional(lens.sensor_width_mm),
        "sensor_height_millimetres": _optional(lens.sensor_height_mm),
        "picture_width_pixels": lens.picture_width_px,
        "picture_height_pixels": lens.picture_height_px,
        "horizontal_view_degrees": _optional(lens.horizontal_angle_deg),
        "filters": list(lens.filters),
    }


def _record_wanted(wanted: WantedSetting) -> dict[str, Any]:
    mired = wanted.mired
    ends = (1e6 / each if each > 0 else math.nan for each in (mired.value, mired.high, mired.low))
    return {
        **make_interval_keys("kelvin", Interval(*ends)),
        **make_interval_keys("mired", mired),
        **make_interval_keys("tint_cc", wanted.tint_cc),
    }


def _record_luts(plan: SetupPlan) -> list[dict[str, Any]]:
    listed = []
    if plan.lut is not None:
        listed.append(
            {
                "file": plan.lut.file_name,
                "sha256": plan.lut.baked.sha256,
                "kind": "correct",
                "encoding": record_encoding(plan.setup.encoding),
            }
        )
    for each in plan.luts:
        listed.append(
            {
                "file": each.file_name,
                "sha256": each.sha256,
                "kind": each.recipe.kind,
                "encoding": record_encoding(each.source),
            }
        )
    return listed


def _record_scale(plan: SetupPlan, view: PlateView) -> dict[str, Any]:
    return {
        "gamut": "ACES2065-1",
        "key": plan.setup.key,
        "grey_reflectance_ratio": MIDDLE_GREY,
        **make_interval_keys("key_illuminance_lux", view.key_lux),
        "key_from_grey_stops": make_number(view.key_from_grey_stops),
        "lut_cost_stops": _optional(view.lut_cost_stops),
        "eye_adapted_from_kelvin": make_number(view.white_kelvin),
        "eye_adapted_from_x": make_number(view.white_xy[0]),
        "eye_adapted_from_y": make_number(view.white_xy[1]),
        "eye_adaptation": "Bradford",
        "meter_illuminance_sd_percent": make_number(plan.setup.meter.illuminance_percent),
        "meter_chromaticity_sd_xy": make_number(plan.setup.meter.chromaticity_xy),
    }


def _record_eye(eye: EyeView) -> dict[str, Any]:
    u, v = (float(each) for each in find_uv_prime([eye.x, eye.y]))
    return {
        "cct_kelvin": make_number(eye.cct_kelvin),
        "duv": make_number(eye.duv),
        "x": make_number(eye.x),
        "y": make_number(eye.y),
        "u_prime": make_number(u),
        "v_prime": make_number(v),
    }


def _record_channels(channels: Channels | None, unit: str) -> dict[str, Any] | None:
    if channels is None:
        return None
    keys: dict[str, Any] = {}
    for name, each in zip(_CHANNELS, channels, strict=True):
        keys |= make_interval_keys(f"{name}_{unit}", each)
    return keys


def _record_triple(values: Triple | None, names: tuple[str, ...]) -> dict[str, Any] | None:
    if values is None:
        return None
    return {name: make_number(each) for name, each in zip(names, values, strict=True)}


def _record_spot(plan: SetupPlan, name: str, kind: str) -> dict[str, Any] | None:
    layout = plan.setup.layout
    spots = {(each.kind, each.name): each for each in layout}
    spot = next((spots[key] for key in spots if key == (kind, name)), None)
    if spot is None:
        return None
    key: Spot | None = next(
        (each for each in layout if (each.kind, each.name) == ("position", plan.setup.key)), None
    )
    apart = None if key is None else find_separation(spot, key)
    width, height = (None, None) if spot.size_m is None else spot.size_m
    return {
        "distance_metres": make_number(spot.distance_m),
        "bearing_degrees": make_number(spot.bearing_deg),
        "height_metres": _optional(spot.height_m),
        "facing_degrees": _optional(find_facing_deg(spot, layout)),
        "tilt_degrees": _optional(spot.tilt_deg),
        "aimed_at": spot.aimed_at or None,
        "width_metres": _optional(width),
        "tallness_metres": _optional(height),
        "to_key_floor_metres": None if apart is None else make_number(apart.floor_m),
        "to_key_metres": None if apart is None else _optional(apart.straight_m),
    }


def _record_position(plan: SetupPlan, view: PlateView, row: int) -> dict[str, Any]:
    position: PositionPlan = plan.positions[row]
    seen = view.positions[row]
    return {
        "number": row + 1,
        "name": position.name,
        "is_key": position.name == plan.setup.key,
        **make_interval_keys("illuminance_lux", position.lux),
        "from_key_stops": make_number(position.from_key_stops),
        "eye": _record_eye(position.eye),
        "place": _record_spot(plan, position.name, "position"),
        "grey_raw": _record_channels(seen.raw, "ratio"),
        "grey_after_gains": _record_channels(seen.balanced, "ratio"),
        "grey_ap0": _record_channels(seen.ap0, "linear"),
        "grey_ap0_through_lut": _record_channels(seen.corrected, "linear"),
        "trouble": position.trouble or None,
    }


def _record_flicker(flicker: Flicker | None) -> dict[str, Any] | None:
    if flicker is None:
        return None
    return {
        "light_hz": make_number(flicker.light_hz),
        "depth_percent": make_number(100 * flicker.depth),
        "depth_is_assumed": flicker.is_assumed,
        "waveform": flicker.waveform,
        "duty_percent": make_number(100 * flicker.duty) if flicker.waveform == "square" else None,
    }


def _record_light(
    plan: SetupPlan, light: LightPlan, seen: LightPlate, row: int, spectra: tuple[PlateFile, ...]
) -> dict[str, Any]:
    source = plan.setup.sources[row]
    return {
        "name": light.name,
        "origin": light.origin,
        "is_model": light.is_model,
        "on": light.on,
        "is_flash": source.flash,
        "filter": light.filter_name,
        "loss_stops": make_number(light.loss_stops),
        "flicker": _record_flicker(source.flicker),
        "eye": _record_eye(light.eye),
        "wanted": _record_wanted(light.wanted),
        "trouble": light.trouble or None,
        "place": _record_spot(plan, light.name, "light"),
        "illuminance": [
            {"position": place.name, "illuminance_lux": make_number(lux)}
            for place, lux in zip(plan.positions, seen.lux, strict=True)
        ],
        "camera_ap0": _record_channels(seen.camera_per_lux, "per_lux"),
        "eye_ap0": _record_triple(
            seen.eye_per_lux, ("red_per_lux", "green_per_lux", "blue_per_lux")
        ),
        "eye_xyz": _record_triple(seen.xyz, ("x_relative", "y_relative", "z_relative")),
        "data_first_nm": make_number(seen.data_nm[0]),
        "data_last_nm": make_number(seen.data_nm[1]),
        "spectra": [each.name for each in spectra if each.light == light.name],
    }


def _record_bracket(bracket: Bracket) -> dict[str, Any]:
    return {
        "brightest": bracket.brightest,
        "darkest": bracket.darkest,
        "spread_stops": make_number(bracket.spread_stops),
        "darker_stops": make_number(bracket.darker_stops),
        "brighter_stops": make_number(bracket.brighter_stops),
        "sources": [
            {
                "light": each.light,
                "seen_from": each.position,
                "luminance_cd_m2": make_number(each.luminance_cd_m2),
                "from_grey_stops": make_number(each.from_grey_stops),
            }
            for each in bracket.glows
        ],
    }
