"""The record: everything a plan decided, as JSON for machines.

Idea
----
The page rounds; the record does not. Every number carries its unit in its key (`kelvin`,
`illuminance_lux`); an interval is three keys, the value and the ends of its interval,
`mired`, `mired_low` and `mired_high`. Signs: mired + is warm; a cast's `green_cc` + is green; a
setting's `tint_cc` + adds magenta. What does not exist (the CCT of a light far from white, the
colour of a position without light) is null. Keys keep their order and the same plan gives the same
bytes. Numbers have nine significant digits, since the last bits differ between machines, and those
of spectra six.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
import re
from typing import Any

import numpy as np

from wbplan.camera.sensitivities import CameraProfile
from wbplan.camera.setting import find_distance
from wbplan.core.intervals import Interval
from wbplan.core.ledger import InputFile, PlanInputs
from wbplan.core.names import BIDI_CONTROLS
from wbplan.exposure.equation import Shooting, name_t_stop
from wbplan.light.spectrum import STEP_NM, WAVELENGTHS_NM
from wbplan.planning.decisions import (
    Cast,
    EyeView,
    LightPlan,
    LutPlan,
    Plan,
    PositionPlan,
    SetupPlan,
    WantedSetting,
)
from wbplan.record.exposure import record_day, record_exposure, record_kit
from wbplan.record.looks import record_appearance, record_site, record_when
from wbplan.record.luts import record_encoding, record_error, record_lut_file
from wbplan.record.mixed import record_advice, record_agreement, record_tradeoff
from wbplan.record.numbers import (
    make_interval_keys,
    make_notes,
    make_number,
    make_numbers,
    make_setting,
    make_spectrum,
)
from wbplan.scene.cautions import DEFERENCE
from wbplan.scene.setup import Setup


def record_inputs(inputs: PlanInputs | None) -> dict[str, Any] | None:
    """Collect every file that was read, and what was asked for."""
    if inputs is None:
        return None
    return {
        "scenario": inputs.scenario,
        "camera_in_place_of_all": inputs.camera,
        "band_share_ratio": inputs.asked.band_share,
        "advise": inputs.asked.advise,
        "plate": inputs.asked.plate,
        "figures": inputs.asked.figures,
        "files": [_record_file(each) for each in inputs.files],
    }


def _record_file(file: InputFile) -> dict[str, Any]:
    try:
        content = {"text": file.data.decode("utf-8"), "base64": None}
    except UnicodeDecodeError:
        content = {"text": None, "base64": base64.b64encode(file.data).decode("ascii")}
    return {"name": file.name, "sha256": file.sha256, **content}


FORMAT = "wbplan plan"
FORMAT_VERSION = 1
# Direction controls would let a name rearrange the lines around it, lone surrogates are no UTF-8.
_ESCAPED = re.compile(f"[{BIDI_CONTROLS}\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def format_record(record: dict[str, Any]) -> str:
    """Write a record as JSON text (RFC 8259), a line for each value, with a line end at the end.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, which JSON does not have.
    """
    text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
    return _ESCAPED.sub(lambda hit: f"\\u{ord(hit.group()):04x}", text) + "\n"


def build_record(plan: Plan) -> dict[str, Any]:
    """Collect what a plan holds into JSON-ready values: dicts, lists, texts, numbers, null."""
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "wbplan_version": plan.version,
        "digest_sha256": plan.digest,
        "title": plan.title,
        "scenario": plan.scenario_file,
        "invented": plan.invented,
        "site": record_site(plan.setups[0].setup.site if plan.setups else None),
        "interval_percent": make_number(100 * plan.band_share),
        "wavelengths": {
            "first_nm": make_number(WAVELENGTHS_NM[0]),
            "step_nm": make_number(STEP_NM),
            "count": int(WAVELENGTHS_NM.size),
        },
        "setups": [_record_setup(each) for each in plan.setups],
        "day": record_day(plan),
        "inputs": record_inputs(plan.inputs),
    }


def _limit_kelvin(wanted: WantedSetting) -> Interval:
    """Give the Kelvin, not a number where mired is 0 or less, which no Kelvin has."""
    mired = wanted.mired
    kelvin = (1e6 / each if each > 0 else math.nan for each in (mired.value, mired.high, mired.low))
    return Interval(*kelvin)


def _wanted(wanted: WantedSetting) -> dict[str, Any]:
    return {
        **make_interval_keys("kelvin", _limit_kelvin(wanted)),
        **make_interval_keys("mired", wanted.mired),
        **make_interval_keys("tint_cc", wanted.tint_cc),
    }


def _cast(cast: Cast) -> dict[str, Any]:
    distance = float(find_distance(cast.mired.value, cast.green_cc.value))
    return {
        **make_interval_keys("mired", cast.mired),
        **make_interval_keys("green_cc", cast.green_cc),
        "distance_mired": make_number(distance),
    }


def _eye(eye: EyeView) -> dict[str, Any]:
    return {
        "cct_kelvin": make_number(eye.cct_kelvin),
        "duv": make_number(eye.duv),
        "x": make_number(eye.x),
        "y": make_number(eye.y),
    }


def _record_setup(plan: SetupPlan) -> dict[str, Any]:
    setup = plan.setup
    red, green, blue = plan.gains
    return {
        "name": plan.name,
        "when": record_when(setup),
        "camera": _record_camera(setup.camera),
        "shooting": _record_shooting(setup.shooting),
        "meter_error": {
            "illuminance_sd_percent": make_number(setup.meter.illuminance_percent),
            "chromaticity_sd_xy": make_number(setup.meter.chromaticity_xy),
        },
        "encoding": record_encoding(setup.encoding),
        "intent": _record_intent(setup),
        "exact_setting": _wanted(plan.exact),
        "dialled_setting": {
            **make_setting(plan.dial),
            "tint_dial_number": make_number(plan.dial.tint_cc / setup.camera.menu.cc_per_step),
            "given_by_user": plan.dial_is_given,
        },
        "left_over_cast": _cast(plan.left_over),
        "gains": {
            "red_ratio": make_number(red),
            "green_ratio": make_number(green),
            "blue_ratio": make_number(blue),
        },
        "lights": [_record_light(each) for each in plan.lights],
        "positions": [_record_position(plan, row) for row in range(len(plan.positions))],
        "appearance": None if plan.appearance is None else record_appearance(plan.appearance),
        "kit": record_kit(setup.kit),
        "exposure": None if plan.exposure is None else record_exposure(plan.exposure, setup),
        "lut": None if plan.lut is None else _record_lut(plan.lut, setup),
        "trade_off": None if plan.tradeoff is None else record_tradeoff(plan.tradeoff),
        "advice": None if plan.advice is None else record_advice(plan.advice),
        "cameras_beside": None if plan.agreement is None else record_agreement(plan.agreement),
        "luts": [record_lut_file(each) for each in plan.luts],
        "cautions": [{"code": each.code, "text": each.text} for each in plan.cautions],
        "cautions_defer_to": DEFERENCE,
        "notes": make_notes(plan.notes),
    }


def _ladder(name: str, values: tuple[float, ...]) -> dict[str, Any]:
    """State what can be set: the list, or its ends and step where it is even and long."""
    if len(values) > 3:
        step = (values[-1] - values[0]) / (len(values) - 1)
        if np.allclose(np.diff(values), step, rtol=1e-9, atol=0):
            return {
                f"{name}_low": make_number(values[0]),
                f"{name}_high": make_number(values[-1]),
                f"{name}_step": make_number(step),
            }
    return {f"{name}_choices": make_numbers(values)}


def _record_camera(camera: CameraProfile) -> dict[str, Any]:
    menu = camera.menu
    return {
        "name": camera.name,
        "title": camera.title,
        "provenance": camera.provenance,
        "menu": {
            **_ladder("kelvin", menu.kelvin),
            **_ladder("tint_cc", menu.tint_cc),
            "tint_cc_per_step": make_number(menu.cc_per_step),
            "tint_axis": menu.tint_axis,
            "presets": [
                {"name": name, "kelvin": make_number(kelvin), "tint_cc": make_number(tint)}
                for name, kelvin, tint in menu.presets
            ],
        },
        "base_ei": make_number(camera.base_ei),
        "family": camera.family,
    }


def _record_shooting(shooting: Shooting) -> dict[str, Any]:
    wanted = shooting.t_stop
    return {
        "ei": make_number(shooting.ei),
        "fps": make_number(shooting.fps),
        "exposure_time_seconds": make_number(shooting.exposure_time_s),
        "shutter_angle_degrees": make_number(shooting.shutter_angle_deg),
        "nd_stops": make_number(shooting.nd_stops),
        "wanted_t_stop": None if wanted is None else make_number(wanted),
        "calibration_c_lux_seconds": make_number(shooting.calibration_c),
        "readout_seconds": None if shooting.readout_s is None else make_number(shooting.readout_s),
    }


def _record_intent(setup: Setup) -> dict[str, Any]:
    return {
        "key": setup.key,
        "lut_keeps": setup.keep,
        "positions": [
            {
                "name": each.name,
                "mired": make_number(each.intent.mired),
                "green_cc": make_number(each.intent.green_cc),
                "weight_relative": make_number(each.intent.weight),
                "within_mired": make_number(each.intent.within_mired),
                "within_cc": make_number(each.intent.within_cc),
            }
            for each in setup.positions
        ],
    }


def _record_light(light: LightPlan) -> dict[str, Any]:
    return {
        "name": light.name,
        "origin": light.origin,
        "is_model": light.is_model,
        "on": light.on,
        "filter": light.filter_name,
        "loss_stops": make_number(light.loss_stops),
        "eye": _eye(light.eye),
        "wanted": _wanted(light.wanted),
        "trouble": light.trouble or None,
        "spectrum_relative": make_spectrum(light.power),
        "notes": make_notes(light.notes),
    }


def _record_position(plan: SetupPlan, row: int) -> dict[str, Any]:
    position: PositionPlan = plan.positions[row]
    nd = position.nd_for_stop
    return {
        "number": row + 1,
        "name": position.name,
        "is_key": position.name == plan.setup.key,
        "intent": position.intent_words,
        "weight_relative": make_number(position.weight),
        **make_interval_keys("illuminance_lux", position.lux),
        "shares": [
            {"light": light.name, "share_percent": make_number(100 * share)}
            for light, share in zip(plan.lights, position.shares, strict=True)
        ],
        "eye": _eye(position.eye),
        "wanted": _wanted(position.wanted),
        "cast": _cast(position.cast),
        "off_intent": _cast(position.off_intent),
        **make_interval_keys("t_stop", position.t_stop),
        "t_stop_said": name_t_stop(position.t_stop.value),
        "nd_for_wanted_t_stop_stops": None if nd is None else make_number(nd),
        "from_key_stops": make_number(position.from_key_stops),
        "trouble": position.trouble or None,
    }


def _record_lut(lut: LutPlan, setup: Setup) -> dict[str, Any]:
    baked, encoding = lut.baked, setup.encoding
    return {
        "file": lut.file_name,
        "sha256": hashlib.sha256(baked.data).hexdigest(),
        "size_points": baked.size,
        "from": make_setting(lut.shot_at),
        "to": _wanted(lut.wanted),
        "encoding": record_encoding(encoding),
        "keeps": lut.keep,
        "cost_stops": make_number(lut.cost_stops),
        "matrix_linear_ratio": [make_numbers(line) for line in lut.matrix],
        "limit_met": baked.met,
        # The sizes are tried in turn, so the one that meets the limit is the one that is needed.
        "needed_points": baked.size if baked.met else None,
        "needs_more_than_points": None if baked.met else baked.size,
        "error": record_error(baked.error, baked.bounded_nodes),
    }
