"""A setup of more positions than a page can carry, cut down to those that decide."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wbplan.camera.setting import find_distance
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.positions import PositionPlan

MOST_SHOWN, MOST_DRAWN = 40, 24
FILES = "positions.csv and plan.json"
"""Where all positions are."""
_MOST_CONTRASTS = 16


def choose_shown(plan: SetupPlan) -> tuple[int, ...]:
    """Choose which positions are shown, by row: all of up to 40.

    Of more the key, then those that pull on the setting, then those farthest from their intents,
    in the scenario's order.
    """
    rows = range(len(plan.positions))
    if len(rows) <= MOST_SHOWN:
        return tuple(rows)

    def order(row: int) -> tuple[bool, bool, float, int]:
        place = plan.positions[row]
        intent = plan.setup.positions[row].intent
        return row != plan.setup.key_row, not intent.counts, -_measure(place), row

    return tuple(sorted(sorted(rows, key=order)[:MOST_SHOWN]))


def _measure(place: PositionPlan) -> float:
    """Measure how far a position is off; one that cannot be judged comes last."""
    if place.trouble or place.lux.value <= 0:
        return -1.0
    far = float(find_distance(*place.off_intent.point))
    return round(far, 9) if math.isfinite(far) else -1.0


def choose_drawn(plan: SetupPlan) -> tuple[int, ...]:
    """Choose which lights get figures, by row: all of up to 24, of more what gives most anywhere.

    Of how much light there is at a position, as a share.
    """
    rows = range(len(plan.lights))
    most = [max((round(x.shares[row], 9) for x in plan.positions), default=0.0) for row in rows]
    return tuple(sorted(sorted(rows, key=lambda row: -most[row])[:MOST_DRAWN]))


def say_drawn(drawn: int, there: int) -> str:
    """Say how many lights are drawn; '' where all are."""
    if drawn == there:
        return ""
    return f"{drawn} of {there} lights are drawn: those that give the most at any position shown."


def cut_positions(plan: SetupPlan) -> SetupPlan:
    """Cut a setup down to the positions that are shown; the same plan where all are."""
    rows = choose_shown(plan)
    if len(rows) == len(plan.positions):
        return plan
    names = {plan.positions[row].name for row in rows}
    hidden = {each.name for each in plan.positions} - names
    exposure, seen, tradeoff = plan.exposure, plan.appearance, plan.tradeoff
    if exposure is not None:
        kept = (x for x in exposure.contrasts if not {x.brighter, x.darker} & hidden)
        exposure = replace(
            exposure,
            positions=tuple(exposure.positions[row] for row in rows),
            contrasts=(*exposure.contrasts[:1], *kept)[:_MOST_CONTRASTS],
            flash=tuple(
                replace(each, positions=tuple(each.positions[row] for row in rows))
                for each in exposure.flash
            ),
        )
    if seen is not None:
        seen = replace(seen, positions=tuple(seen.positions[row] for row in rows))
    if tradeoff is not None:
        own = np.array([each in names for each in tradeoff.names], dtype=np.bool_)
        tradeoff = replace(
            tradeoff,
            names=tuple(each for each in tradeoff.names if each in names),
            judged=tuple(x for x, kept in zip(tradeoff.judged, own, strict=True) if kept),
            off_mired=tradeoff.off_mired[own],
            off_green_cc=tradeoff.off_green_cc[own],
            distance_mired=tradeoff.distance_mired[own],
            ranges=tuple(each for each in tradeoff.ranges if each.name in names),
        )
    return replace(
        plan,
        setup=replace(plan.setup, positions=tuple(plan.setup.positions[row] for row in rows)),
        positions=tuple(plan.positions[row] for row in rows),
        notes=tuple(each for each in plan.notes if each.about not in hidden),
        exposure=exposure,
        appearance=seen,
        tradeoff=tradeoff,
    )
