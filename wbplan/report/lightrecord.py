"""The record of described lights: every figure as JSON, unrounded, units in the keys."""

from __future__ import annotations

import math
from typing import Any

from wbplan.balance import Interval
from wbplan.camerafigures import CameraFigures
from wbplan.description import GapFigures, LightDescription, LightSet
from wbplan.report.lightwords import CHANNEL_NAMES, pick_figures
from wbplan.spectrum import STEP_NM, WAVELENGTHS_NM

FORMAT = "wbplan lights"
FORMAT_VERSION = 1
_DIGITS, _SPECTRUM_DIGITS = 9, 6


def build_light_record(lights: LightSet, version: str) -> dict[str, Any]:
    """Collect described lights into JSON-ready values; see DEVELOPERS.md for the keys."""
    against = lights.against
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "wbplan_version": version,
        "interval_percent": _number(100 * lights.band_share),
        "wavelengths": {
            "first_nm": _number(float(WAVELENGTHS_NM[0])),
            "step_nm": _number(STEP_NM),
            "count": int(WAVELENGTHS_NM.size),
        },
        "camera": None if lights.camera is None else lights.camera.name,
        "filter": lights.filter_name or None,
        "against": None
        if against is None
        else {"name": against.name, "is_model": against.spectrum.is_model},
        "lights": [_record_light(lights, each) for each in lights.lights],
        "refused": [{"file": file, "reason": reason} for file, reason in lights.refused],
    }


def _number(value: float, digits: int = _DIGITS) -> float | int | None:
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def _numbers(values: tuple[float, ...]) -> list[float | int | None]:
    return [_number(each) for each in values]


def _interval(name: str, interval: Interval) -> dict[str, Any]:
    return {
        name: _number(interval.value),
        f"{name}_low": _number(interval.low),
        f"{name}_high": _number(interval.high),
    }


def _record_light(lights: LightSet, light: LightDescription) -> dict[str, Any]:
    figures = pick_figures(lights, light)
    return {
        "name": light.name,
        "file": light.file or None,
        "origin": light.spectrum.origin,
        "is_model": light.is_model,
        "read_as": light.understood or None,
        "behind": light.behind or None,
        "loss_stops": _number(light.loss_stops),
        "illuminance_lux": _number(light.illuminance_lux),
        "illuminance_footcandle": _number(light.illuminance_footcandle),
        "x": _number(figures.x),
        "y": _number(figures.y),
        "u_prime": _number(figures.u_prime),
        "v_prime": _number(figures.v_prime),
        "cct_kelvin": _number(figures.cct_kelvin),
        "duv": _number(figures.duv),
        "dominant_wavelength_nm": _number(figures.dominant_nm),
        "dominant_is_complementary": figures.is_complementary,
        "excitation_purity_ratio": _number(figures.purity),
        "cie_ra": _number(figures.ra),
        "cie_special_indices": _numbers(figures.special),
        "tm30_rf": _number(figures.rf),
        "tm30_rg": _number(figures.rg),
        "tm30_skin_rf": _number(figures.skin_rf),
        "tm30_bin_rf": _numbers(figures.bin_rf),
        "tm30_bin_chroma_shift_ratio": _numbers(figures.bin_chroma),
        "tm30_bin_hue_shift_radians": _numbers(figures.bin_hue),
        "ssi": _number(figures.ssi),
        "ssi_reference": light.ssi_reference or None,
        "through_filter": None if light.change is None else _record_gap(light.change),
        "against": None if light.gap is None else _record_gap(light.gap),
        "camera": None if light.camera is None else _record_camera(light.camera),
        "spectrum_relative": [
            _number(float(each), _SPECTRUM_DIGITS) for each in light.spectrum.values
        ],
        "notes": [
            {"code": each.code, "text": each.text, "about": each.about, "weight": each.weight}
            for each in light.notes
        ],
    }


def _record_gap(gap: GapFigures) -> dict[str, Any]:
    cast = gap.camera
    return {
        "other": gap.other,
        "mired": _number(gap.mired),
        "duv": _number(gap.duv),
        "closing_filter_mired": _number(gap.closing_mired),
        "closing_filter_green_cc": _number(gap.closing_cc),
        "distance_xy": _number(gap.xy),
        "distance_uv_prime": _number(gap.uv_prime),
        "ssi": _number(gap.ssi),
        "to_camera": None
        if cast is None
        else {**_interval("mired", cast.mired), **_interval("green_cc", cast.green_cc)},
    }


def _record_camera(view: CameraFigures) -> dict[str, Any]:
    mired = view.wanted.mired
    kelvin = Interval(1e6 / mired.value, 1e6 / mired.high, 1e6 / mired.low)
    return {
        "trouble": view.trouble or None,
        "wanted": {
            **_interval("kelvin", kelvin),
            **_interval("mired", mired),
            **_interval("tint_cc", view.wanted.tint_cc),
        },
        "exposure_offset": {
            key: value
            for name, each in zip(CHANNEL_NAMES, view.exposure, strict=True)
            for key, value in _interval(f"{name}_stops", each).items()
        },
        "judged_by_kelvin": _number(view.judged_kelvin),
        **_interval("chart_mean_ciede2000", view.chart_mean),
        **_interval("chart_worst_ciede2000", view.chart_worst),
        **_interval("skin_mean_ciede2000", view.skin_mean),
        **_interval("skin_worst_ciede2000", view.skin_worst),
        "camera_own_mean_ciede2000": _number(view.own_error),
        "worst_surfaces": [
            {"name": each.name, "ciede2000": _number(each.ciede2000)} for each in view.worst
        ],
    }
