"""The parts of the record on mixed light: the trade-off, the advice, the cameras beside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wbplan.planning.trade_off import KeptRange, TradeOff
from wbplan.record.numbers import (
    make_keys,
    make_notes,
    make_number,
    make_numbers,
    make_setting,
)

if TYPE_CHECKING:
    from wbplan.planning.advice import (
        Advice,
        Agreement,
        BesideCamera,
        Change,
        ChangePlan,
        RatioLeft,
        TunedFixture,
    )


def _range(kept: KeptRange) -> dict[str, Any]:
    ends = (kept.high_mired, kept.low_mired)
    low, high = (make_number(1e6 / each) if each > 0 else None for each in ends)
    return {
        "name": kept.name,
        "kelvin_low": low or None,
        "kelvin_high": high or None,
        **make_keys(mired_low=kept.low_mired, mired_high=kept.high_mired, tint_cc_low=kept.low_cc),
        "tint_cc_high": make_number(kept.high_cc),
    }


def record_tradeoff(tradeoff: TradeOff) -> dict[str, Any]:
    """Write the trade-off: each position's distance at each of the listed settings."""
    return {
        "kelvin": make_numbers(1e6 / tradeoff.mired),
        "tint_cc": make_number(tradeoff.tint_cc),
        "positions": [
            {
                "name": name,
                "is_judged": tradeoff.judged[row],
                "off_mired": make_numbers(tradeoff.off_mired[row]),
                "off_green_cc": make_number(float(tradeoff.off_green_cc[row])),
                "distance_mired": make_numbers(tradeoff.distance_mired[row]),
            }
            for row, name in enumerate(tradeoff.names)
        ],
        "weighted_rms_mired": make_numbers(tradeoff.total_mired),
        "kept_ranges": [_range(each) for each in tradeoff.ranges],
        "all_kept": None if tradeoff.common is None else _range(tradeoff.common),
        "conflicts": [
            {
                "warmer": each.warmer,
                "cooler": each.cooler,
                **make_keys(too_far_apart_mired=each.mired, too_far_apart_cc=each.cc),
            }
            for each in tradeoff.conflicts
        ],
    }


def record_advice(advice: Advice) -> dict[str, Any]:
    """Write what is advised; ``suggested_number`` counts the plans from 1."""
    return {
        "is_assumed": advice.is_assumed,
        "packs_count": advice.packs_count,
        "best_is_proven": advice.is_exact,
        "is_driven": advice.is_driven,
        "least_rms_mired": make_number(advice.least_rms_mired),
        "suggested_number": advice.suggested + 1 if advice.plans else None,
        "plans": [_plan(row + 1, each) for row, each in enumerate(advice.plans)],
        "fixtures": [_fixture(each) for each in advice.fixtures],
        "notes": make_notes(advice.notes),
    }


def _plan(row: int, plan: ChangePlan) -> dict[str, Any]:
    return {
        "number": row,
        "changes_count": plan.count,
        "changes": [_change(each) for each in plan.changes],
        "exact_setting": {
            "kelvin": make_number(1e6 / plan.mired) if plan.mired > 0 else None,
            **make_keys(mired=plan.mired, tint_cc=plan.tint_cc),
        },
        "dialled_setting": make_setting(plan.dial),
        **make_keys(rms_mired=plan.rms_mired, worst_mired=plan.worst_mired),
        "keeps_limits": plan.keeps_limits,
        **make_keys(key_loss_stops=plan.key_loss_stops, key_t_stop=plan.key_t_stop),
        "trips_count": plan.trips,
        "pieces_count": plan.pieces,
        **make_keys(gel_m2=plan.gel_m2),
        **make_keys(rounding_mired=plan.rounding_mired),
        "ratios": [_ratio(each) for each in plan.ratios],
        "positions": [
            {
                "name": each.name,
                "is_judged": each.judged,
                **make_keys(off_mired=each.off_mired, off_green_cc=each.off_green_cc),
                "illuminance_lux": make_number(each.lux),
                "keeps_limit": each.keeps_limit,
                **make_keys(past_limit_mired=each.past_mired, past_limit_cc=each.past_cc),
            }
            for each in plan.places
        ],
    }


def _drives(made: Change | TunedFixture) -> list[dict[str, Any]]:
    steps = 0 if made.panel else made.drive_steps
    return [
        {
            "channel": name,
            "drive_percent": make_number(100 * each),
            "step": round(each * steps) if steps else None,
        }
        for name, each in made.drives
    ]


def _panel(made: Change | TunedFixture) -> dict[str, Any] | None:
    panel, steps = made.panel, made.drive_steps
    if panel is None:
        return None
    return {
        **make_keys(kelvin=panel.kelvin, tint_green_cc=panel.tint_cc),
        "level_percent": make_number(100 * panel.level),
        "level_step": round(panel.level * steps) if steps else None,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "light": change.light,
        "filters": list(change.filters),
        "is_model": change.is_model,
        "is_generic": change.is_generic,
        "pieces_count": change.pieces,
        "drives": _drives(change),
        "panel": _panel(change),
        "drives_alike": [
            {
                "name": each.name,
                "is_taken": each.taken,
                **make_keys(loss_stops=each.loss_stops, fidelity_rf=each.rf),
            }
            for each in change.choices
        ],
        "burns": change.kind or "as it did",
        "to": change.to or None,
        "dimmed_stops": make_number(change.dimmed_stops) if change.kind == "dimmed" else None,
        **make_keys(volts_percent=None if change.volts_share is None else 100 * change.volts_share),
        "spread_deg": make_number(change.spread_deg) if change.spread_deg else None,
        **make_keys(gel_m2=change.gel_m2),
        "trips_count": change.trips,
        **make_keys(loss_stops=change.loss_stops, cct_kelvin=change.cct_kelvin, duv=change.duv),
    }


def _ratio(left: RatioLeft) -> dict[str, Any]:
    return {
        "at": left.wanted.at or None,
        "key": left.wanted.key,
        "fill": left.wanted.fill,
        "wanted_ratio": make_number(left.wanted.ratio),
        "within_stops": make_number(left.wanted.within_stops),
        "ratio": make_number(left.ratio),
        "is_kept": not left.past_stops,
    }


def _fixture(fixture: TunedFixture) -> dict[str, Any]:
    return {
        "light": fixture.fixture,
        "wanted": fixture.wanted,
        "is_reached": fixture.reached,
        "drives": _drives(fixture),
        "panel": _panel(fixture),
        **make_keys(off_mired=fixture.off_mired, off_green_cc=fixture.off_green_cc),
        **make_keys(loss_stops=fixture.loss_stops, cct_kelvin=fixture.cct_kelvin, duv=fixture.duv),
        "positions": [
            {"name": name, "illuminance_lux": make_number(each)} for name, each in fixture.lux
        ],
    }


def record_agreement(agreement: Agreement) -> dict[str, Any]:
    """Write how further cameras are set, and what stays between them and the first."""
    return {
        "first": agreement.first,
        "cameras": [_beside(each) for each in agreement.cameras],
    }


def _beside(camera: BesideCamera) -> dict[str, Any]:
    return {
        "name": camera.name,
        "title": camera.title,
        "exact_setting": {
            "kelvin": make_number(1e6 / camera.mired) if camera.mired > 0 else None,
            **make_keys(mired=camera.mired, tint_cc=camera.tint_cc),
        },
        "dialled_setting": make_setting(camera.dial),
        **make_keys(rms_mired=camera.rms_mired, worst_mired=camera.worst_mired),
        "positions": [
            {
                "name": name,
                "is_judged": judged,
                **make_keys(apart_mired=mired, apart_green_cc=green),
            }
            for (name, mired, green), judged in zip(camera.apart, camera.judged, strict=True)
        ],
        "notes": make_notes(camera.notes),
    }
