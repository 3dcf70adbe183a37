"""The record: everything a plan decided, as JSON for machines.

Idea
----
The page rounds for people; the record does not. Every number carries its unit in its key (`kelvin`,
`illuminance_lux`); an interval is three keys, the value and the ends of its interval,
`mired`, `mired_low` and `mired_high`. Signs: mired + is warm; a cast's `green_cc` + is green; a
setting's `tint_cc` + adds magenta. What does not exist (the CCT of a light far from white, the
colour of a position without light) is null. Keys keep their order and the same plan gives the same
bytes; for that `numbers.round_by_unit` rounds each number to a quantum of its unit.
"""

from __future__ import annotations

import base64
import json
import re
from itertools import islice
from typing import Any

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import find_distance
from wbplan.core.ledger import InputFile, PlanInputs
from wbplan.core.names import BIDI_CONTROLS
from wbplan.exposure.equation import name_t_stop
from wbplan.light.spectrum import STEP_NM, WAVELENGTHS_NM
from wbplan.planning.casts import Cast
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.lights import LightPlan
from wbplan.planning.luts import LutPlan
from wbplan.planning.verdict import Verdict
from wbplan.record.exposure import record_day, record_exposure, record_kit, record_shooting
from wbplan.record.file import FORMAT
from wbplan.record.looks import record_appearance, record_bodies, record_site, record_when
from wbplan.record.luts import record_encoding, record_error, record_lut_file
from wbplan.record.mixed import record_advice, record_agreement, record_tradeoff
from wbplan.record.numbers import (
    make_cautions,
    make_eye,
    make_head,
    make_keys,
    make_notes,
    make_number,
    make_numbers,
    make_setting,
    make_spectrum,
    make_wanted,
    round_by_unit,
)
from wbplan.scene.cautions import DEFERENCE
from wbplan.scene.setup import Setup


def record_inputs(inputs: PlanInputs | None) -> dict[str, Any] | None:
    """Collect every file that was read, and what was asked for."""
    if inputs is None or not inputs.files:
        return None
    return {
        "scenario": inputs.scenario,
        "camera_in_place_of_all": inputs.camera,
        "band_share_ratio": inputs.asked.band_share,
        "advise": inputs.asked.advise,
        "plate": inputs.asked.plate,
        "figures": inputs.asked.figures,
        "lut_size_points": inputs.asked.lut_size,
        "tried": list(inputs.asked.tried),
        "files": [_record_file(each) for each in inputs.files],
    }


def _record_file(file: InputFile) -> dict[str, Any]:
    try:
        content = {"text": file.data.decode("utf-8"), "base64": None}
    except UnicodeDecodeError:
        content = {"text": None, "base64": base64.b64encode(file.data).decode("ascii")}
    return {"name": file.name, "sha256": file.sha256, **content}


# Direction controls would let a name rearrange the lines around it, lone surrogates are no UTF-8.
_CHUNKS = 100_000
_ESCAPED = re.compile(f"[{BIDI_CONTROLS}\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def format_record(record: dict[str, Any]) -> str:
    """Write a record as JSON text (RFC 8259), a line for each value, with a line end at the end.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, which JSON does not have.
    """
    coder = json.JSONEncoder(indent=1, ensure_ascii=False, allow_nan=False)
    chunks = coder.iterencode(round_by_unit(record))
    parts = []
    while part := "".join(islice(chunks, _CHUNKS)):  # of a large record all are many
        parts.append(_ESCAPED.sub(lambda hit: f"\\u{ord(hit.group()):04x}", part))
    return "".join([*parts, "\n"])


def build_record(plan: Plan) -> dict[str, Any]:
    """Collect what a plan holds into JSON-ready values: dicts, lists, texts, numbers, null."""
    return {
        **make_head(FORMAT, plan),
        "site": record_site(plan.setups[0].setup.site if plan.setups else None),
        **make_keys(interval_percent=100 * plan.band_share),
        "wavelengths": {
            **make_keys(first_nm=WAVELENGTHS_NM[0], step_nm=STEP_NM),
            "count": int(WAVELENGTHS_NM.size),
        },
        "setups": [_record_setup(each) for each in plan.setups],
        "day": record_day(plan),
        "inputs": record_inputs(plan.inputs),
    }


def _cast(cast: Cast) -> dict[str, Any]:
    distance = float(find_distance(cast.mired.value, cast.green_cc.value))
    return make_keys(mired=cast.mired, green_cc=cast.green_cc, distance_mired=distance)


def _record_setup(plan: SetupPlan) -> dict[str, Any]:
    setup = plan.setup
    red, green, blue = plan.gains
    return {
        "name": plan.name,
        "when": record_when(setup),
        **record_bodies(setup, plan.bodies),
        "camera": _record_camera(setup.camera),
        "shooting": record_shooting(setup.shooting),
        "meter_error": {
            "illuminance_sd_percent": make_number(setup.meter.illuminance_percent),
            "chromaticity_sd_xy": make_number(setup.meter.chromaticity_xy),
        },
        "encoding": record_encoding(setup.encoding),
        "intent": _record_intent(setup),
        "exact_setting": make_wanted(plan.exact),
        "dialled_setting": {
            **make_setting(plan.dial),
            "tint_dial_number": make_number(plan.dial.tint_cc / setup.camera.menu.cc_per_step),
            "given_by_user": plan.dial_is_given,
        },
        "left_over_cast": _cast(plan.left_over),
        "verdict": None if plan.verdict is None else _record_verdict(plan.verdict),
        "gains": {
            **make_keys(red_ratio=red, green_ratio=green, blue_ratio=blue),
        },
        "lights": [_record_light(each) for each in plan.lights],
        "positions": [_record_position(plan, row) for row in range(len(plan.positions))],
        "appearance": None if plan.appearance is None else record_appearance(plan.appearance),
        "kit": record_kit(setup.kit),
        "exposure": None if plan.exposure is None else record_exposure(plan.exposure, setup),
        "lut": None if plan.lut is None else _record_lut(plan.lut),
        "trade_off": None if plan.tradeoff is None else record_tradeoff(plan.tradeoff),
        "advice": None if plan.advice is None else record_advice(plan.advice),
        "cameras_beside": None if plan.agreement is None else record_agreement(plan.agreement),
        "luts": [record_lut_file(each) for each in plan.luts],
        "cautions": make_cautions(plan.cautions),
        "cautions_defer_to": DEFERENCE,
        "notes": make_notes(plan.notes),
    }


def _ladder(name: str, values: tuple[float, ...]) -> dict[str, Any]:
    """State what can be set: the list, or its ends and step where it is even and long."""
    if len(values) > 3:
        step = (values[-1] - values[0]) / (len(values) - 1)
        if np.allclose(np.diff(values), step, rtol=1e-9, atol=0):
            ends = {f"{name}_low": values[0], f"{name}_high": values[-1]}
            return make_keys(**ends, **{f"{name}_step": step})
    return {f"{name}_choices": make_numbers(values)}


def _record_camera(camera: Camera) -> dict[str, Any]:
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


def _record_intent(setup: Setup) -> dict[str, Any]:
    return {
        "key": setup.key,
        "lut_keeps": setup.keep,
        "positions": [
            {
                "name": each.name,
                **make_keys(mired=each.intent.mired, green_cc=each.intent.green_cc),
                "weight_relative": make_number(each.intent.weight),
                "aim": each.intent.aim,
                **make_keys(within_mired=each.intent.within_mired, within_cc=each.intent.within_cc),
            }
            for each in setup.positions
        ],
    }


def _record_verdict(verdict: Verdict) -> dict[str, Any]:
    remedy = verdict.remedy
    return {
        "solved_for": [
            {"name": name, "share_percent": make_number(100 * share)}
            for name, share in verdict.solved_for
        ],
        "limits_heeded": list(verdict.heeded),
        "key_off_intent": None if verdict.key_off is None else _cast(verdict.key_off),
        "key_is_far": verdict.is_far,
        "others": [
            {"name": each.name, "is_meant": each.is_meant, "off": _cast(each.off)}
            for each in verdict.others
        ],
        "dark": [
            {"name": name, "under_key_stops": make_number(stops)} for name, stops in verdict.dark
        ],
        "helps_most": None
        if remedy is None
        else {
            "way": remedy.way,
            "setting": None if remedy.setting is None else make_setting(remedy.setting),
            "light": remedy.light or None,
            "filter": remedy.filter or None,
            **make_keys(left_mired=remedy.left_mired, left_green_cc=remedy.left_green_cc),
        },
    }


def _record_light(light: LightPlan) -> dict[str, Any]:
    return {
        "name": light.name,
        "origin": light.origin,
        "is_model": light.is_model,
        "on": light.on,
        "filter": light.filter_name,
        "loss_stops": make_number(light.loss_stops),
        "eye": make_eye(light.eye),
        "wanted": make_wanted(light.wanted),
        "trouble": light.trouble or None,
        "spectrum_relative": make_spectrum(light.power),
        "notes": make_notes(light.notes),
    }


def _record_position(plan: SetupPlan, row: int) -> dict[str, Any]:
    position = plan.positions[row]
    return {
        "number": row + 1,
        "name": position.name,
        "is_key": position.name == plan.setup.key,
        "intent": position.intent_words,
        "aim": position.aim,
        **make_keys(weight_relative=position.weight, illuminance_lux=position.lux),
        "shares": [
            {"light": light.name, "share_percent": make_number(100 * share)}
            for light, share in zip(plan.lights, position.shares, strict=True)
        ],
        "eye": make_eye(position.eye),
        "wanted": make_wanted(position.wanted),
        "cast": _cast(position.cast),
        "off_intent": _cast(position.off_intent),
        **make_keys(t_stop=position.t_stop),
        "t_stop_said": name_t_stop(position.t_stop.value),
        **make_keys(nd_for_wanted_t_stop_stops=position.nd_for_stop),
        **make_keys(from_key_stops=position.from_key_stops),
        "trouble": position.trouble or None,
        "predicted_lights": list(position.predicted),
    }


def _record_lut(lut: LutPlan) -> dict[str, Any]:
    file = lut.file
    assert file.error is not None
    return {
        "file": lut.file_name,
        "sha256": file.sha256,
        "size_points": file.size,
        "from": make_setting(lut.shot_at),
        "to": make_wanted(lut.wanted),
        "encoding": record_encoding(file.source),
        "keeps": file.recipe.keep,
        **make_keys(cost_stops=file.recipe.cost_stops, up_stops=file.recipe.up_stops),
        "matrix_linear_ratio": [make_numbers(line) for line in file.matrix],
        "limit_met": file.met,
        "needed_points": file.needed_size,
        "needs_more_than_points": None if file.met else file.size,
        "error": record_error(file.error, file.bounded_nodes),
    }
