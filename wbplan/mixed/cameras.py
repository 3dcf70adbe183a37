"""Several cameras on the same positions: one setting each, so that they agree.

Idea
----
Two cameras agree where they show every position with the same cast. The difference of their casts
is the difference of the positions' coordinates less that of the settings, so the weighted squared
difference is least when its weighted mean is zero: the second camera's setting is the mean of its
coordinates less the casts that the first one shows. Each camera set to the intents by itself
would come to the same exact setting; following the first camera as it is dialled also takes up what
that camera's menu leaves. What stays is how differently the two see the lights.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wbplan.camera.setting import CameraView, LocusResponse, find_distance, round_setting
from wbplan.core.intervals import make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.filters import name_cast
from wbplan.planning.advice import Agreement, BesideCamera
from wbplan.planning.best_setting import solve_balance
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.response import SceneResponse, respond_to_scene

_APART_MIRED = 10.0


def compare_cameras(plan: SetupPlan, first: CameraView, beside: Sequence[CameraView]) -> Agreement:
    """Set further cameras so that they agree with a planned one, and find what stays between them.

    Parameters
    ----------
    plan
        Of the first camera, whose dialled setting stands.
    first, beside
        The cameras.

    Returns
    -------
    Agreement
        With the intervals that both families and the meter leave; the members of two families are
        drawn alike, so one family is taken in another order to make them independent.
    """
    return Agreement(
        plan.setup.camera.name, plan.dial, tuple(_compare(plan, first, each) for each in beside)
    )


def _compare(plan: SetupPlan, first: CameraView, other: CameraView) -> BesideCamera:
    one, two = _pair(first, other)
    setup = plan.setup
    ours = respond_to_scene(setup, one)
    theirs = respond_to_scene(replace(setup, camera=other.profile), two)
    usable = ~theirs.position.beyond[:, 0] & np.array([not e.trouble for e in plan.positions])
    weight = np.array([each.intent.weight for each in setup.positions]) * usable
    judged = weight > 0
    notes: list[Note] = []
    if not judged.any():
        notes.append(warn("cameras-unjudged", "no position that both cameras can neutralise"))
        weight, judged = usable.astype(float), np.zeros(usable.size, dtype=bool)
        if not usable.any():
            weight = np.ones(usable.size)
    cast_m = ours.position.mired[:, 0] - plan.dial.mired
    cast_c = ours.position.tint_cc[:, 0] - plan.dial.tint_cc
    own_m, own_c = theirs.position.mired[:, 0], theirs.position.tint_cc[:, 0]
    mired, cc = (float(each) for each in solve_balance(own_m, own_c, cast_m, cast_c, weight))
    dial = round_setting(other.profile.menu, mired, cc)
    apart_m, apart_c = own_m - dial.mired - cast_m, own_c - dial.tint_cc - cast_c
    draws = _find_draws(ours, theirs)
    shift = (dial.mired - plan.dial.mired, dial.tint_cc - plan.dial.tint_cc)
    apart = []
    for row, position in enumerate(setup.positions):
        if not usable[row]:
            continue
        off_m, off_c = (
            None if x is None else x[row] - by for x, by in zip(draws, shift, strict=True)
        )
        apart.append(
            (
                position.name,
                make_interval(float(apart_m[row]), off_m, setup.band_share),
                make_interval(float(apart_c[row]), off_c, setup.band_share),
            )
        )
    distance = find_distance(apart_m, apart_c)
    counted = distance[judged]
    if counted.size and float(counted.max()) > _APART_MIRED:
        row = int(np.flatnonzero(judged)[counted.argmax()])
        said = name_cast(float(apart_m[row]), float(apart_c[row]))
        text = f"shows '{setup.positions[row].name}' {said} beside {setup.camera.name}"
        notes.append(warn("cameras-apart", text, other.profile.name))
    share = weight / weight.sum()
    return BesideCamera(
        name=other.profile.name,
        title=other.profile.title,
        mired=mired,
        tint_cc=cc,
        dial=dial,
        apart=tuple(apart),
        judged=tuple(bool(each) for each in judged[usable]),
        rms_mired=float(np.sqrt(share @ distance**2)),
        worst_mired=float(counted.max()) if counted.size else 0.0,
        notes=tuple(notes),
    )


def _pair(first: CameraView, other: CameraView) -> tuple[CameraView, CameraView]:
    """Bring two families to one number of members, the second in another order than the first."""
    count = min(first.members.shape[0], other.members.shape[0])
    if count == 0 or first.member_locus is None or other.member_locus is None:
        return first, other
    rows = np.arange(count)
    return _take(first, rows), _take(other, np.roll(rows, count // 2))


def _take(view: CameraView, rows: np.ndarray) -> CameraView:
    locus = view.member_locus
    if locus is None:
        return view
    picked = LocusResponse(locus.edges, locus.coefficients[:, :, rows], locus.duv)
    return replace(view, members=view.members[rows], member_locus=picked)


def _find_draws(
    ours: SceneResponse, theirs: SceneResponse
) -> tuple[Array, Array] | tuple[None, None]:
    """Find the differences of two sets of draws, (p, k); None where both cameras are exact."""
    if ours.position_draws is None and theirs.position_draws is None:
        return None, None
    one = ours.position_draws or ours.position
    two = theirs.position_draws or theirs.position
    counts = [each.mired.shape[1] for each in (one, two) if each.mired.shape[1] > 1]
    count = min(counts, default=1)
    mired = two.mired[:, :count] - one.mired[:, :count]
    return mired, two.tint_cc[:, :count] - one.tint_cc[:, :count]
