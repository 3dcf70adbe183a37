"""The record of LUTs: what each does, its file, and its measured errors."""

from __future__ import annotations

from typing import Any

from wbplan.codes.encodings import Encoding
from wbplan.lut.bake import LutError, ReadingError
from wbplan.lut.file import LutFile
from wbplan.lut.kinds import KindError, KindReading
from wbplan.lut.match import Differences, MatchScore
from wbplan.record.numbers import make_keys, make_number, make_numbers


def record_encoding(encoding: Encoding) -> dict[str, Any]:
    """State an encoding by its names and what its codes stand for."""
    return {
        "curve": encoding.curve,
        "gamut": encoding.gamut,
        "range": encoding.levels,
        "ei": encoding.ei,
    }


def record_lut_file(lut: LutFile) -> dict[str, Any]:
    """State one LUT."""
    recipe = lut.recipe
    against, bend = recipe.against_exact, recipe.correction.bend
    return {
        "file": lut.file_name,
        "sha256": lut.sha256,
        "camera": lut.draft.camera_name,
        "kind": recipe.kind,
        "format": lut.format,
        "form": lut.form,
        "size_points": lut.size,
        "from": recipe.start,
        "to": recipe.end,
        "encoding": record_encoding(lut.source),
        "encoding_after": record_encoding(lut.target),
        "keeps": recipe.keep,
        **make_keys(cost_stops=recipe.cost_stops, up_stops=recipe.up_stops),
        "matrix_linear_ratio": [make_numbers(line) for line in lut.matrix],
        "bend": None if bend is None else bend.words,
        "limit_met": lut.met,
        "needed_points": lut.needed_size,
        "error": None if lut.error is None else record_error(lut.error, lut.bounded_nodes),
        "match": None if recipe.match is None else _record_match(recipe.match),
        "against_full_correction": None if against is None else _record_differences(against),
    }


def record_error(error: LutError, bounded_nodes: int) -> dict[str, Any]:
    """State the errors of a file, over all colours, the scene-like ones and the grey ramp."""
    return {
        "trilinear": _record_reading(error.trilinear),
        "tetrahedral": _record_reading(error.tetrahedral),
        "scene_like": _record_readings(error.scene_like),
        "grey_ramp": _record_readings(error.grey_ramp),
        "above_code_one_percent": make_number(error.clipped_percent),
        "out_of_gamut_percent": make_number(error.out_of_gamut_percent),
        "scene_like_above_code_one_percent": make_number(error.scene_clipped_percent),
        "scene_like_out_of_gamut_percent": make_number(error.scene_out_of_gamut_percent),
        "by_kind": [_record_kind(each) for each in error.kinds],
        "limit_met_for": list(error.list_met()),
        "samples_count": error.n_samples,
        "bounded_nodes_count": bounded_nodes,
    }


def _record_kind(error: KindError) -> dict[str, Any]:
    return {
        "kind": error.kind,
        "trilinear": _record_kind_reading(error.trilinear),
        "tetrahedral": _record_kind_reading(error.tetrahedral),
        "colours_count": error.n_colours,
    }


def _record_kind_reading(error: KindReading) -> dict[str, Any]:
    return {
        **make_keys(worst_ten_bit_codes=error.worst_codes, mean_ten_bit_codes=error.mean_codes),
        "percentile_99_9_ten_bit_codes": make_number(error.high_codes),
    }


def _record_readings(readings: tuple[ReadingError, ReadingError] | None) -> dict[str, Any] | None:
    if readings is None:
        return None
    trilinear, tetrahedral = readings
    return {
        "trilinear": _record_reading(trilinear),
        "tetrahedral": _record_reading(tetrahedral),
    }


def _record_reading(error: ReadingError) -> dict[str, Any]:
    return {
        **make_keys(worst_ten_bit_codes=error.worst_codes, mean_ten_bit_codes=error.mean_codes),
        **make_keys(over_one_code_percent=error.over_one_percent, worst_stops=error.worst_stops),
    }


def _record_differences(differences: Differences) -> dict[str, Any]:
    return {
        **make_keys(mean_ciede2000=differences.mean, percentile_95_ciede2000=differences.high),
        "worst_ciede2000": make_number(differences.worst),
    }


def _record_match(score: MatchScore) -> dict[str, Any]:
    return {
        "before": _record_differences(score.before),
        "best_matrix": _record_differences(score.matrix),
        "after": _record_differences(score.after),
        "surfaces_count": score.n_surfaces,
        "lost_colours": [
            {
                "name": each.name,
                **make_keys(after_ciede2000=each.after, twin_ciede2000=each.twin),
            }
            for each in score.lost
        ],
    }
