"""The record of described lights: every figure as JSON, unrounded, units in the keys."""

from __future__ import annotations

from typing import Any

from wbplan.description.camera import CameraFigures
from wbplan.description.eye import pick_figures
from wbplan.description.gaps import GapFigures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.description.pairs import Pair
from wbplan.description.repeats import Repeat
from wbplan.description.sampling import SamplingBand
from wbplan.light.spectrum import STEP_NM, WAVELENGTHS_NM
from wbplan.planning.casts import Cast
from wbplan.record.numbers import (
    make_cautions,
    make_channels,
    make_keys,
    make_notes,
    make_number,
    make_numbers,
    make_spectrum,
    make_wanted,
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
        **make_keys(interval_percent=100 * lights.band_share),
        "wavelengths": {
            **make_keys(first_nm=float(WAVELENGTHS_NM[0]), step_nm=STEP_NM),
            "count": int(WAVELENGTHS_NM.size),
        },
        "camera": None if lights.camera is None else lights.camera.name,
        "filter": lights.filter_name or None,
        "against": None
        if against is None
        else {"name": against.name, "is_model": against.spectrum.is_model},
        "lights": [_record_light(lights, each) for each in lights.lights],
        "pairs": [_record_pair(lights, each) for each in lights.pairs],
        "repeats": [_record_repeat(each) for each in lights.repeats],
        "refused": [{"file": file, "reason": reason} for file, reason in lights.refused],
        "cautions": make_cautions(choose_reading_cautions(lights.spectra)),
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
        **make_keys(loss_stops=light.loss_stops, illuminance_lux=light.illuminance_lux),
        **make_keys(illuminance_footcandle=light.illuminance_footcandle),
        **make_keys(x=figures.x, y=figures.y, u_prime=figures.u_prime, v_prime=figures.v_prime),
        **make_keys(cct_kelvin=figures.cct_kelvin, duv=figures.duv),
        "dominant_wavelength_nm": make_number(figures.dominant_nm),
        "dominant_is_complementary": figures.is_complementary,
        **make_keys(excitation_purity_ratio=figures.purity, cie_ra=figures.ra),
        "cie_special_indices": make_numbers(figures.special),
        **make_keys(tm30_rf=figures.rf, tm30_rg=figures.rg, tm30_skin_rf=figures.skin_rf),
        "tm30_intent": {
            key: level or None
            for key, level in zip(
                ("preference_level", "vividness_level", "fidelity_level"),
                figures.intent,
                strict=True,
            )
        },
        **make_keys(tlci_qa=figures.tlci),
        "tm30_bin_rf": make_numbers(figures.bin_rf),
        "tm30_bin_chroma_shift_ratio": make_numbers(figures.bin_chroma),
        "tm30_bin_hue_shift_radians": make_numbers(figures.bin_hue),
        "ssi": make_number(figures.ssi),
        "ssi_reference": light.ssi_reference or None,
        "through_filter": None if light.change is None else _record_gap(light.change),
        "against": None if light.gap is None else _record_gap(light.gap),
        "camera": None if light.camera is None else _record_camera(light.camera),
        "flicker": None
        if light.flicker is None
        else make_keys(
            light_hz=light.flicker.light_hz,
            depth_ratio=light.flicker.depth,
            index_ratio=light.flicker.flicker_index,
        ),
        "sampling": None if light.sampling is None else _record_sampling(light.sampling),
        "spectrum_relative": make_spectrum(light.spectrum.values),
        "notes": make_notes(light.notes),
    }


def _record_gap(gap: GapFigures) -> dict[str, Any]:
    return {
        "other": gap.other,
        **make_keys(mired=gap.mired, duv=gap.duv, closing_filter_mired=gap.closing_mired),
        **make_keys(closing_filter_green_cc=gap.closing_cc, distance_xy=gap.xy),
        **make_keys(distance_uv_prime=gap.uv_prime, distance_steps=gap.steps),
        **make_keys(ssi=gap.ssi, tlmf_qa=gap.tlmf),
        "to_camera": _record_cast(gap.camera),
    }


def _record_cast(cast: Cast | None) -> dict[str, Any] | None:
    return None if cast is None else make_keys(mired=cast.mired, green_cc=cast.green_cc)


def _record_repeat(repeat: Repeat) -> dict[str, Any]:
    return {
        "name": repeat.name,
        "reading_count": len(repeat.rows),
        **make_keys(mean_lux=repeat.illuminance_lux.mean),
        **make_keys(deviation_lux=repeat.illuminance_lux.deviation),
        **make_keys(mean_mired=repeat.mired.mean, deviation_mired=repeat.mired.deviation),
        **make_keys(mean_duv=repeat.duv.mean, deviation_duv=repeat.duv.deviation),
        **make_keys(mean_cie_ra=repeat.ra.mean, deviation_cie_ra=repeat.ra.deviation),
        **make_keys(mean_cie_r9=repeat.r9.mean, deviation_cie_r9=repeat.r9.deviation),
    }


def _record_sampling(band: SamplingBand) -> dict[str, Any]:
    return {
        **make_keys(step_nm=band.step_nm, cct_kelvin=band.cct_kelvin, duv=band.duv),
        **make_keys(cie_ra=band.ra, cie_r9=band.r9, tm30_rf=band.rf, tlci_qa=band.tlci),
        **make_keys(ssi=band.ssi),
    }


def _record_pair(lights: LightSet, pair: Pair) -> dict[str, Any]:
    return {
        "first": lights.lights[pair.first].name,
        "second": lights.lights[pair.second].name,
        **make_keys(distance_steps=pair.steps, ssi=pair.ssi),
        "to_camera": _record_cast(pair.cast),
        "matches_eye": pair.matches_eye,
        "matches_camera": pair.matches_camera if pair.cast is not None else None,
    }


def _record_camera(view: CameraFigures) -> dict[str, Any]:
    dial, shift = view.dial, view.skin_shift
    return {
        "trouble": view.trouble or None,
        "wanted": make_wanted(view.wanted),
        "dial": None
        if dial is None
        else {**make_keys(kelvin=dial.kelvin, tint_cc=dial.tint_cc), "preset": dial.preset or None},
        "metered_leaves": _record_cast(view.metered),
        "exposure_offset": make_channels("stops", view.exposure),
        **make_keys(judged_by_kelvin=view.judged_kelvin, hue_mean_ciede2000=view.hue_mean),
        **make_keys(hue_worst_ciede2000=view.hue_worst, skin_mean_ciede2000=view.skin_mean),
        **make_keys(skin_chroma_shift_cielab=shift.chroma, skin_hue_shift_cielab=shift.hue),
        **make_keys(skin_mean_with_own_matrix_ciede2000=shift.mended),
        **make_keys(skin_worst_ciede2000=view.skin_worst, camera_own_mean_ciede2000=view.own_error),
        "worst_surfaces": [
            {"name": each.name, "ciede2000": make_number(each.ciede2000)} for each in view.worst
        ],
    }
