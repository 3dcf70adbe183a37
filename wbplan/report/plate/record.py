"""The plate notes as JSON, for the tools of those who work on the plate later.

Like the plan's record: a unit in the name of each number, an interval as three keys, null for what
was not given or has no meaning, keys in a fixed order, the same bytes for the same plan. What each
key means stands in the JSON Schema ``record/plate.schema.json``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC
from functools import cached_property
from typing import Any, Literal

from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.digest import digest_bytes
from wbplan.exposure.equation import MIDDLE_GREY, name_t_stop
from wbplan.light.colorimetry import find_uv_prime
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.eye_view import EyeView
from wbplan.planning.plate.values import Bracket, Dial, Levels, PlateView, Stage, Triple
from wbplan.record.looks import record_bodies
from wbplan.record.luts import record_encoding
from wbplan.record.numbers import (
    make_cautions,
    make_channels,
    make_eye,
    make_flicker,
    make_head,
    make_keys,
    make_notes,
    make_number,
    make_setting,
    make_wanted,
)
from wbplan.report.plan.setup_page import collect_notes
from wbplan.report.plate.words import BASIS, CAUTION, list_lens, list_reminders, list_unplaced
from wbplan.scene.cautions import DEFERENCE
from wbplan.scene.plate import PlateLens, find_facing_deg, find_separation
from wbplan.scene.setup import Setup


@dataclass(frozen=True)
class PlateFile:
    """A file that goes with a plate: its name, what it is, the light it is of or "", its bytes."""

    name: str
    kind: str
    light: str
    content: bytes

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of its bytes, hexadecimal."""
        return digest_bytes(self.content)


def build_plate_record(
    plan: Plan, setup_plan: SetupPlan, number: int, files: tuple[PlateFile, ...]
) -> dict[str, Any]:
    """Collect the plate notes of one setup into JSON-ready values.

    Parameters
    ----------
    number
        Of the setup, from 1.
    files
        That go with it.
    """
    view, setup = setup_plan.plate, setup_plan.setup
    if view is None:
        raise ValueError(f"setup '{setup_plan.name}' has no plate notes")
    red, green, blue = setup_plan.gains
    return {
        **make_head("wbplan plate notes", plan),
        **make_keys(interval_percent=100 * plan.band_share),
        "setup": {"number": number, "name": setup_plan.name},
        "slate": _record_slate(setup),
        "site": _record_site(setup),
        "when": _record_when(setup),
        **record_bodies(setup, setup_plan.bodies),
        "camera": {
            "name": setup.camera.name,
            "title": setup.camera.title,
            "provenance": setup.camera.provenance,
            "base_ei": make_number(setup.camera.base_ei),
        },
        "shooting": _record_shooting(setup_plan),
        "lens": None if setup.lens is None else _record_lens(setup.lens),
        "dialled_setting": {
            **make_setting(setup_plan.dial),
            "given_by_user": setup_plan.dial_is_given,
        },
        "exact_setting": make_wanted(setup_plan.exact),
        "gains": {
            **make_keys(red_ratio=red, green_ratio=green, blue_ratio=blue),
        },
        "encoding": record_encoding(setup.encoding),
        "luts": _record_luts(setup_plan),
        "scale": _record_scale(setup_plan, view),
        "positions": [
            _record_position(setup_plan, view, row) for row in range(len(setup_plan.positions))
        ],
        "lights": [
            _record_light(setup_plan, view, row, files) for row in range(len(setup_plan.lights))
        ],
        "levels": _record_levels(view.levels),
        "stage": _record_stage(setup_plan, view.stage),
        "sky": {
            "seen_from": setup.slate.lamps_seen_from or None if setup.slate else None,
            "left_out": [{"name": name, "why": why} for name, why in view.sky_left_out],
        },
        "not_given": {
            "lens": list_lens(setup.lens)[1],
            "places": list_unplaced(setup_plan),
        },
        "bracket": None if view.bracket is None else _record_bracket(view.bracket),
        "checklist": [
            {"code": each.code, "title": each.title, "text": each.text, "basis": BASIS}
            for each in list_reminders(setup_plan)
        ],
        "cautions": make_cautions((*setup_plan.cautions, CAUTION)),
        "cautions_defer_to": DEFERENCE,
        "notes": make_notes((*view.notes, *collect_notes(setup_plan))),
        "files": [
            {
                "file": each.name,
                "sha256": each.sha256,
                "kind": each.kind,
                "light": each.light or None,
            }
            for each in files
        ],
    }


def _record_slate(setup: Setup) -> dict[str, Any] | None:
    slate = setup.slate
    if slate is None:
        return None
    names = ("slate", "scene", "take", "clip", "notes")
    return {name: getattr(slate, name) or None for name in names}


def _record_site(setup: Setup) -> dict[str, Any] | None:
    site = setup.site
    if site is None:
        return None
    return {
        "name": site.name or None,
        **make_keys(latitude_degrees=site.latitude_deg, longitude_degrees=site.longitude_deg),
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
        **make_keys(ei=shooting.ei, fps=shooting.fps),
        "exposure_time_seconds": make_number(shooting.exposure_time_s),
        "shutter_angle_degrees": make_number(shooting.shutter_angle_deg),
        **make_keys(readout_seconds=shooting.readout_s),
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
        **make_keys(focal_length_millimetres=lens.focal_length_mm),
        **make_keys(squeeze_ratio=lens.squeeze_ratio, focus_distance_metres=focus),
        "focus_is_infinity": focus is not None and math.isinf(focus),
        **make_keys(camera_height_metres=lens.camera_height_m, tilt_degrees=lens.tilt_deg),
        **make_keys(roll_degrees=lens.roll_deg, heading_degrees=lens.heading_deg),
        **make_keys(sensor_width_millimetres=lens.sensor_width_mm),
        **make_keys(sensor_height_millimetres=lens.sensor_height_mm),
        "picture_width_pixels": lens.picture_width_px,
        "picture_height_pixels": lens.picture_height_px,
        **make_keys(horizontal_view_degrees=lens.horizontal_angle_deg),
        **make_keys(vertical_view_degrees=lens.vertical_angle_deg),
        "filters": list(lens.filters),
        "serial": lens.serial or None,
        **make_keys(entrance_pupil_millimetres=lens.entrance_pupil_mm),
        "distortion": lens.distortion or None,
    }


def _record_luts(plan: SetupPlan) -> list[dict[str, Any]]:
    luts = [(each.file_name, each.sha256, each.recipe.kind, each.source) for each in plan.luts]
    if plan.lut is not None:
        main = plan.lut
        luts.insert(0, (main.file_name, main.file.sha256, "correct", plan.setup.encoding))
    return [
        {
            "file": name,
            "sha256": sha256,
            "kind": kind,
            "encoding": record_encoding(encoding),
        }
        for name, sha256, kind, encoding in luts
    ]


def _record_scale(plan: SetupPlan, view: PlateView) -> dict[str, Any]:
    return {
        "gamut": "ACES2065-1",
        "key": plan.setup.key,
        "grey_reflectance_ratio": MIDDLE_GREY,
        **make_keys(key_illuminance_lux=view.key_lux, key_from_grey_stops=view.key_from_grey_stops),
        **make_keys(lut_cost_stops=view.lut_cost_stops, eye_adapted_from_kelvin=view.white_kelvin),
        **make_keys(eye_adapted_from_x=view.white_xy[0], eye_adapted_from_y=view.white_xy[1]),
        "eye_adaptation": "Bradford",
        "meter_illuminance_sd_percent": make_number(plan.setup.meter.illuminance_percent),
        "meter_chromaticity_sd_xy": make_number(plan.setup.meter.chromaticity_xy),
    }


def _record_eye(eye: EyeView) -> dict[str, Any]:
    u, v = (float(each) for each in find_uv_prime([eye.x, eye.y]))
    return {**make_eye(eye), **make_keys(u_prime=u, v_prime=v)}


def _record_channels(channels: Channels | None, unit: str) -> dict[str, Any] | None:
    return None if channels is None else make_channels(unit, channels)


def _record_triple(values: Triple | None, names: tuple[str, ...]) -> dict[str, Any] | None:
    return None if values is None else make_keys(**dict(zip(names, values, strict=True)))


def _record_spot(
    plan: SetupPlan, view: PlateView, name: str, kind: Literal["light", "position"]
) -> dict[str, Any] | None:
    layout = plan.setup.layout
    spots = {(each.kind, each.name): each for each in layout}
    spot, key = spots.get((kind, name)), spots.get(("position", plan.setup.key))
    if spot is None:
        return None
    apart = None if key is None else find_separation(spot, key)
    width, height = (None, None) if spot.size_m is None else spot.size_m
    seen = view.pictured[layout.index(spot)]
    return {
        **make_keys(distance_metres=spot.distance_m, bearing_degrees=spot.bearing_deg),
        **make_keys(height_metres=spot.height_m, facing_degrees=find_facing_deg(spot, layout)),
        **make_keys(tilt_degrees=spot.tilt_deg),
        "aimed_at": spot.aimed_at or None,
        **make_keys(width_metres=width, tallness_metres=height),
        **make_keys(
            to_key_floor_metres=None if apart is None else apart.floor_m,
            to_key_metres=None if apart is None else apart.straight_m,
        ),
        "in_picture": None if seen is None else seen.where,
        "out_of_picture": [] if seen is None else list(seen.sides),
        **make_keys(lens_axis_degrees=None if seen is None else seen.axis_deg),
    }


def _record_position(plan: SetupPlan, view: PlateView, row: int) -> dict[str, Any]:
    position = plan.positions[row]
    seen = view.positions[row]
    return {
        "number": row + 1,
        "name": position.name,
        "is_key": position.name == plan.setup.key,
        **make_keys(illuminance_lux=position.lux, from_key_stops=position.from_key_stops),
        "eye": _record_eye(position.eye),
        "place": _record_spot(plan, view, position.name, "position"),
        "grey_raw": _record_channels(seen.raw, "ratio"),
        "grey_after_gains": _record_channels(seen.balanced, "ratio"),
        "grey_ap0": _record_channels(seen.ap0, "linear"),
        "grey_ap0_as_shot": _record_channels(seen.shot, "linear"),
        "grey_ap0_through_lut": _record_channels(seen.corrected, "linear"),
        "trouble": position.trouble or None,
    }


def _record_light(
    plan: SetupPlan, view: PlateView, row: int, files: tuple[PlateFile, ...]
) -> dict[str, Any]:
    light, seen = plan.lights[row], view.lights[row]
    source = plan.setup.sources[row]
    return {
        "name": light.name,
        "origin": light.origin,
        "is_model": light.is_model,
        "on": light.on,
        "is_flash": source.flash,
        "filter": light.filter_name,
        "loss_stops": make_number(light.loss_stops),
        "flicker": None if source.flicker is None else make_flicker(source.flicker),
        "eye": _record_eye(light.eye),
        "wanted": make_wanted(light.wanted),
        "trouble": light.trouble or None,
        "place": _record_spot(plan, view, light.name, "light"),
        "illuminance": [
            {
                "position": place.name,
                "illuminance_lux": make_number(lux),
                "is_predicted": light.name in place.predicted,
            }
            for place, lux in zip(plan.positions, seen.lux, strict=True)
        ],
        "camera_ap0": _record_channels(seen.camera_per_lux, "per_lux"),
        "eye_ap0": _record_triple(
            seen.eye_per_lux, ("red_per_lux", "green_per_lux", "blue_per_lux")
        ),
        "eye_xyz": _record_triple(seen.xyz, ("x_relative", "y_relative", "z_relative")),
        **make_keys(data_first_nm=seen.data_nm[0], data_last_nm=seen.data_nm[1]),
        "spectra": [each.name for each in files if each.light == light.name],
    }


def _record_levels(levels: Levels) -> dict[str, Any]:
    return {
        "at_positions": [
            {
                "light": each.light,
                "position": each.position,
                **make_keys(illuminance_lux=each.lux),
                "grey_acescg": make_channels("linear", each.acescg),
                "grey_raw": make_channels("linear", each.raw),
                "under_main": make_channels("stops", each.under_main_stops),
            }
            for each in levels.at_places
        ],
        "key_to_fill": [
            {
                "position": each.position,
                "main": each.main,
                "over_rest": _record_channels(each.stops, "stops"),
            }
            for each in levels.key_to_fill
        ],
        "dials": [
            {
                "light": each.light,
                "against": each.against,
                "camera": _record_dial(each.camera),
                "eye": _record_dial(each.eye),
            }
            for each in levels.dials
        ],
    }


def _record_stage(plan: SetupPlan, stage: Stage) -> dict[str, Any]:
    units = {"panel": "cd_m2", "point": "candela", "sun": "lux", "dome": "ratio"}
    return {
        "minus_z": "true north" if stage.has_north else "lens",
        "lights": [
            {
                "light": each.name,
                "kind": each.kind,
                **{
                    f"strength_{unit}": make_number(each.strength) if kind == each.kind else None
                    for kind, unit in units.items()
                },
                "reference": each.reference,
                "positions": [
                    {"position": place.name, **make_keys(read_lux=read, stage_lux=given)}
                    for place, read, given in zip(
                        plan.positions, each.read_lux, each.stage_lux, strict=True
                    )
                ],
            }
            for each in stage.lights
        ],
        "left_out": [{"name": name, "why": why} for name, why in stage.left_out],
    }


def _record_dial(dial: Dial | None) -> dict[str, Any] | None:
    if dial is None:
        return None
    pairs = zip(CHANNELS, dial.colour, strict=True)
    colour = {f"{channel}_ratio": each for channel, each in pairs}
    return make_keys(exposure_stops=dial.exposure_stops, **colour)


def _record_bracket(bracket: Bracket) -> dict[str, Any]:
    return {
        "brightest": bracket.brightest,
        "darkest": bracket.darkest,
        "peak": bracket.peak,
        **make_keys(spread_stops=bracket.spread_stops, darker_stops=bracket.darker_stops),
        "brighter_stops": make_number(bracket.brighter_stops),
        "sources": [
            {
                "light": each.light,
                "seen_from": each.position,
                "luminance_cd_m2": make_number(each.luminance_cd_m2),
                "from_grey_stops": make_number(each.from_grey_stops),
                "aim_is_given": each.aim_is_given,
            }
            for each in bracket.glows
        ],
        "is_whole": bracket.is_whole,
        "frames": [
            {
                **make_keys(
                    from_planned_stops=each.from_planned_stops,
                    exposure_time_seconds=each.exposure_time_s,
                    ei=each.ei,
                    nd_stops=each.nd_stops,
                ),
                "glass": None if each.glass is None else list(each.glass),
                **make_keys(camera_nd_stops=each.camera_nd_stops, miss_stops=each.miss_stops),
            }
            for each in bracket.frames
        ],
        **make_keys(free_sun_stops=bracket.free_sun_stops),
        "charts": [
            {"position": name, "from_planned_stops": make_number(stops)}
            for name, stops in bracket.charts
        ],
    }
