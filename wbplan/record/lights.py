"""The record of described lights: every figure as JSON, unrounded, units in the keys."""

from __future__ import annotations

from typing import Any

from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.intervals import Interval
from wbplan.description.camera import CameraFigures
from wbplan.description.eye import pick_figures
from wbplan.description.gaps import GapFigures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.light.spectrum import STEP_NM, WAVELENGTHS_NM
from wbplan.record.numbers import (
    SPECTRUM_DIGITS,
    make_interval_keys,
    make_notes,
    make_number,
    make_numbers,
)
from wbplan.scene.cautions import DEFERENCE, choose_reading_cautions

FORMAT = "wbplan lights"
FORMAT_VERSION = 1


def build_light_record(lights: LightSet, version: str) -> dict[str, Any]:
    """Collect described lights into JSON-ready values; the keys: `wbplan guide records`."""
    against = lights.against
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "wbplan_version": version,
        "interval_percent": make_number(100 * lights.band_share),
        "wavelengths": {
            "first_nm": make_number(float(WAVELENGTHS_NM[0])),
            "step_nm": make_number(STEP_NM),
            "count": int(WAVELENGTHS_NM.size),
        },
        "camera": None if lights.camera is None else lights.camera.name,
        "filter": lights.filter_name or None,
        "against": None
        if against is None
        else {"name": against.name, "is_model": against.spectrum.is_model},
        "lights": [_record_light(lights, each) for each in lights.lights],
        "refused": [{"file": file, "reason": reason} for file, reason in lights.refused],
        "cautions": [
            {"code": each.code, "text": each.text}
            for each in choose_reading_cautions(lights.spectra)
        ],
        "cautions_defer_to": DEFERENCE,
    }


def _record_light(lights: LightSet, light: LightDescription) -> dict[str, Any]:
    figures = pick_figures(lights.eye, light.row)
    return {
        "name": light.name,
        "file": light.file or None,
        "origin": light.spectrum.origin,
        "is_model": light.is_model,
        "read_as": light.understood or None,
        "behind": light.behind or None,
        "loss_stops": make_number(light.loss_stops),
        "illuminance_lux": make_number(light.illuminance_lux),
        "illuminance_footcandle": make_number(light.illuminance_footcandle),
        "x": make_number(figures.x),
        "y": make_number(figures.y),
        "u_prime": make_number(figures.u_prime),
        "v_prime": make_number(figures.v_prime),
        "cct_kelvin": make_number(figures.cct_kelvin),
        "duv": make_number(figures.duv),
        "dominant_wavelength_nm": make_number(figures.dominant_nm),
        "dominant_is_complementary": figures.is_complementary,
        "excitation_purity_ratio": make_number(figures.purity),
        "cie_ra": make_number(figures.ra),
        "cie_special_indices": make_numbers(figures.special),
        "tm30_rf": make_number(figures.rf),
        "tm30_rg": make_number(figures.rg),
        "tm30_skin_rf": make_number(figures.skin_rf),
        "tm30_bin_rf": make_numbers(figures.bin_rf),
        "tm30_bin_chroma_shift_ratio": make_numbers(figures.bin_chroma),
        "tm30_bin_hue_shift_radians": make_numbers(figures.bin_hue),
        "ssi": make_number(figures.ssi),
        "ssi_reference": light.ssi_reference or None,
        "through_filter": None if light.change is None else _record_gap(light.change),
        "against": None if light.gap is None else _record_gap(light.gap),
        "camera": None if light.camera is None else _record_camera(light.camera),
        "spectrum_relative": make_numbers(light.spectrum.values, SPECTRUM_DIGITS),
        "notes": make_notes(light.notes),
    }


def _record_gap(gap: GapFigures) -> dict[str, Any]:
    cast = gap.camera
    return {
        "other": gap.other,
        "mired": make_number(gap.mired),
        "duv": make_number(gap.duv),
        "closing_filter_mired": make_number(gap.closing_mired),
        "closing_filter_green_cc": make_number(gap.closing_cc),
        "distance_xy": make_number(gap.xy),
        "distance_uv_prime": make_number(gap.uv_prime),
        "ssi": make_number(gap.ssi),
        "to_camera": None
        if cast is None
        else {
            **make_interval_keys("mired", cast.mired),
            **make_interval_keys("green_cc", cast.green_cc),
        },
    }


def _record_camera(view: CameraFigures) -> dict[str, Any]:
    mired = view.wanted.mired
    kelvin = Interval(1e6 / mired.value, 1e6 / mired.high, 1e6 / mired.low)
    return {
        "trouble": view.trouble or None,
        "wanted": {
            **make_interval_keys("kelvin", kelvin),
            **make_interval_keys("mired", mired),
            **make_interval_keys("tint_cc", view.wanted.tint_cc),
        },
        "exposure_offset": {
            key: value
            for name, each in zip(CHANNELS, view.exposure, strict=True)
            for key, value in make_interval_keys(f"{name}_stops", each).items()
        },
        "judged_by_kelvin": make_number(view.judged_kelvin),
        **make_interval_keys("hue_mean_ciede2000", view.hue_mean),
        **make_interval_keys("hue_worst_ciede2000", view.hue_worst),
        **make_interval_keys("skin_mean_ciede2000", view.skin_mean),
        **make_interval_keys("skin_worst_ciede2000", view.skin_worst),
        "camera_own_mean_ciede2000": make_number(view.own_error),
        "worst_surfaces": [
            {"name": each.name, "ciede2000": make_number(each.ciede2000)} for each in view.worst
        ],
    }
