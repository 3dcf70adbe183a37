"""Which of the drives that a camera sees alike are dialled, and what their steps leave.

Idea
----
A camera has three channels, so a fixture of more leaves a choice: all drives with the same native
RGB look the same to it. Of these the evenest, the brightest to a meter or those of the best colour
fidelity to an eye (ANSI/IES TM-30-20 Rf) are taken. Where a fixture lights its places alone its
level is free besides; it then keeps as much of its light as it can, so far as it was read.

The evenest and the brightest are the solutions of a convex problem. Fidelity is climbed from
both: best found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.tm30 import find_fidelity
from wbplan.mixed.drives import add_drives, slice_drives
from wbplan.mixed.gel_packs import DriveRange, Problem, add_lights, keeps_levels, score_packs
from wbplan.mixed.search import FoundPack
from wbplan.scene.changes import Preference
from wbplan.scene.dialling import settle
from wbplan.scene.fixtures import Fixture

_FIRM = 1e4
_NOTHING = 5e-5  # a drive this near to none or all is none or all
_SWEEPS = 6


def split_drives(problem: Problem, pack: FoundPack) -> tuple[Problem, Array, Array]:
    """Split a pack into its driven fixtures' problem, their drives (d,), and all else (3, q, 1)."""
    driven = [row for row, each in enumerate(pack.drives) if each is not None]
    fixed, levels = problem.fixed, problem.fixed_levels
    for row, fixture in enumerate(problem.fixtures):
        if row not in driven:
            fixed = fixed + np.tensordot(fixture.as_read, fixture.response, 1)
            levels = levels + fixture.as_read @ fixture.levels
    for light, pick in zip(problem.lights, pack.picks, strict=True):
        levels = levels + light.levels[pick]
    fixtures = tuple(problem.fixtures[row] for row in driven)
    part = replace(problem, fixed=fixed, fixed_levels=levels, fixtures=fixtures)
    drives = np.concatenate([np.array(pack.drives[row]) for row in driven])
    return part, drives, add_lights(part, np.array([pack.picks], dtype=np.intp))


def choose_drives(
    problem: Problem, pack: FoundPack, fixtures: Sequence[Fixture], prefer: Preference
) -> FoundPack:
    """Choose among the drives of a pack that the camera sees alike.

    ``fixtures`` are those of the problem, in its order.
    """
    if not any(pack.drives):
        return pack
    part, drives, raw = split_drives(problem, pack)
    total = raw + add_drives(part, drives[None])[0]
    chosen = list(pack.drives)
    driven = [row for row, each in enumerate(pack.drives) if each is not None]
    for row, (fixture, place) in zip(driven, slice_drives(part.fixtures), strict=True):
        own = drives[place]
        given = np.tensordot(own, fixture.response, 1)
        lit = given.sum(axis=1) > 0
        alone = bool(np.allclose(total[:, lit, 0].T, given[lit], rtol=1e-9))
        free = alone and problem.least_levels.size == 1
        found = _choose(fixture, fixtures[row], own, prefer, free)
        found = np.where(found < _NOTHING, 0.0, np.where(found > 1 - _NOTHING, 1.0, found))
        chosen[row] = tuple(float(each) for each in found)
    return _score_again(problem, replace(pack, drives=tuple(chosen))) or pack


def _score_again(problem: Problem, made: FoundPack) -> FoundPack | None:
    """Score a pack with other drives; None if it is not allowed."""
    part, drives, raw = split_drives(problem, made)
    more, levels = add_drives(part, drives[None])
    bent, left = score_packs(part, raw + more)
    if not np.isfinite(left[0]) or not keeps_levels(part, part.fixed_levels + levels)[0]:
        return None
    return replace(made, bent=tuple(float(each) for each in bent[:, 0]), left=float(left[0]))


def _choose(
    numbers: DriveRange, fixture: Fixture, drives: Array, prefer: Preference, free: bool
) -> Array:
    """Choose among the drives (n,) of one fixture; ``free`` says that its level may change."""
    from scipy.optimize import linprog

    place = int(numbers.response.sum(axis=(0, 2)).argmax())
    seen = numbers.response[:, place].T / (drives @ numbers.response[:, place])[:, None]
    same = seen[:2] - seen[2] if free else seen
    held = same @ drives
    ends = np.stack([numbers.output, -numbers.output])
    most = linprog(
        -numbers.output,
        A_ub=ends,
        b_ub=[numbers.most, -numbers.least],
        A_eq=same,
        b_eq=held,
        bounds=(0, 1),
    )
    brightest = np.clip(most.x, 0.0, 1.0) if most.status == 0 else drives
    if prefer == "brightest":
        return np.asarray(brightest)
    if free:  # keep as much light as it was read with, if it can
        level = min(1.0, float(numbers.output @ brightest))
        same, held = np.vstack([same, numbers.output]), np.append(held, level)
    even = _even(same, held, drives)
    output = float(numbers.output @ even)
    bounded = min(max(output, numbers.least), numbers.most)
    if bounded != output:
        even = _even(np.vstack([same, numbers.output]), np.append(held, bounded), drives)
    if prefer == "evenest":
        return even
    return _climb(numbers, fixture, same, held, (even, brightest, drives))


def _even(same: Array, held: Array, drives: Array) -> Array:
    """Find the evenest drives: least squares about their mean, what is seen held."""
    from scipy.optimize import lsq_linear

    size = drives.size
    spread = np.eye(size) - 1.0 / size
    found = lsq_linear(
        np.vstack([_FIRM * same, spread]), np.append(_FIRM * held, np.zeros(size)), (0.0, 1.0)
    )
    return np.asarray(np.clip(found.x, 0.0, 1.0))


def find_drive_fidelity(fixture: Fixture, worn: Array, drives: Array) -> Array:
    """Find Rf of a fixture's own light behind what it wears (401,), (m,) for drives (m, n)."""
    power = drives @ fixture.power * worn
    return find_fidelity(power, find_cct_duv(power)[..., 0]).rf


def _climb(
    numbers: DriveRange, fixture: Fixture, same: Array, held: Array, starts: tuple[Array, ...]
) -> Array:
    """Climb to the best fidelity from several drives."""
    from scipy.optimize import minimize

    plain = np.ones(fixture.power.shape[1])

    def lose(drives: Array) -> tuple[float, Array]:
        step = 1e-4
        tried = np.vstack([drives, drives + step * np.eye(drives.size)])
        rf = np.nan_to_num(find_drive_fidelity(fixture, plain, tried))
        return -float(rf[0]) / 10, -(rf[1:] - rf[0]) / step / 10

    best, most = starts[0], -np.inf
    for start in starts:
        found = minimize(
            lose,
            start,
            jac=True,
            method="SLSQP",
            bounds=[(0.0, 1.0)] * start.size,
            constraints=[
                {"type": "eq", "fun": lambda x: same @ x - held, "jac": lambda x: same},
                {
                    "type": "ineq",
                    "fun": lambda x: np.array(
                        [numbers.most - numbers.output @ x, numbers.output @ x - numbers.least]
                    ),
                    "jac": lambda x: np.stack([-numbers.output, numbers.output]),
                },
            ],
            options={"maxiter": 60, "ftol": 1e-6},
        )
        drives = np.clip(found.x, 0.0, 1.0)
        rf = float(np.nan_to_num(find_drive_fidelity(fixture, plain, drives[None]))[0])
        if np.abs(same @ drives - held).max() < 1e-5 and rf > most:
            best, most = drives, rf
    return np.asarray(best)


def round_drives(
    problem: Problem, pack: FoundPack, fixtures: Sequence[Fixture]
) -> FoundPack | None:
    """Settle the drives of a pack on what its fixtures can be set to, one after the other, so that
    as little as can be is left; None where no step is allowed.
    """
    driven = [row for row, each in enumerate(pack.drives) if each is not None]
    if not any(fixtures[row].has_steps for row in driven):
        return pack
    part, drives, raw = split_drives(problem, pack)

    def weigh(tried: Array) -> Array:
        more, levels = add_drives(part, tried)
        bent, left = score_packs(part, raw + more)
        fine = keeps_levels(part, part.fixed_levels + levels)
        for each, own in slice_drives(part.fixtures):
            output = tried[:, own] @ each.output
            fine &= (output >= each.least * (1 - 1e-6)) & (output <= each.most * (1 + 1e-6))
        return np.concatenate([bent, np.where(fine, left, np.inf)[None]]).T

    whole = drives.copy()
    for _ in range(_SWEEPS):
        before = whole.copy()
        for row, (_, own) in zip(driven, slice_drives(part.fixtures), strict=True):

            def weigh_own(tried: Array, own: slice = own) -> Array:
                every = np.repeat(whole[None], len(tried), axis=0)
                every[:, own] = tried
                return weigh(every)

            whole[own] = settle(fixtures[row], whole[own], weigh_own)
        if sum(fixtures[row].has_steps for row in driven) < 2 or np.array_equal(before, whole):
            break
    parts = list(pack.drives)
    for row, (_, own) in zip(driven, slice_drives(part.fixtures), strict=True):
        parts[row] = tuple(float(each) for each in whole[own])
    return _score_again(problem, replace(pack, drives=tuple(parts)))
