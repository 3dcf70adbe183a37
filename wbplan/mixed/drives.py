"""Drives of fixtures, solved as continuous numbers for many packs at once.

Idea
----
A fixture adds a sum of its channels to every position, so native RGB is linear in the drives, and
what is left of a position is a smooth function of its RGB. That is a small bounded least-squares
problem for each pack, and they are all solved together: damped Gauss-Newton steps over drives and
setting, a variable held where it stands at its end and would go past it. What a fixture may give
in all, the sums of lux that have to stay, and hard limits are residuals that weigh so much that
they give way by less than is seen.

Hard limits that cannot all be kept bend in the order of `planning.limits`: the greatest excess of
the heaviest weight is made least, then held there while the next weight's is, and what is left
over comes last.

Each solve ends at a minimum of its neighbourhood, begun from several drives: best found, never
proven by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from wbplan.camera.setting import MIRED_PER_CC
from wbplan.core.tables import Array
from wbplan.mixed.gel_packs import DriveRange, Problem, find_menu_ends

_LN2 = float(np.log(2.0))
_STEPS = 40
_FIRM = 1e5  # of the square of what a limit is passed by, against what is left
_PAST = 1e-3  # mired: less excess is none
_CLOSE = 1e-4  # of a solve's squared rest [mired^2], when to stop
_PATIENT_STEPS, _PATIENT_CLOSE = 400, 1e-8
_BEYOND = 300.0  # mired a stop, past the ends of the locus
_NEVER = 1e8  # no end
_LEAST_ROOM, _NO_PRICE = 1e-14, 1e14  # past which no step leads anywhere
_TOWARDS, _END = 0.1, 1e-5  # how the central path is followed, and where it ends [mired^2]
_HALVES = 4
_LOTS = 8
_MET = 5e-3  # by which a row may be missed on the way; the next step makes it good
_NOISE = 1e-7  # by which a step may be worse: the table is made of straight lines
_SLOPE_STOPS = {False: 2e-3, True: 1e-2}  # for line tables and for planes


@dataclass(frozen=True, eq=False)
class Drives:
    """Drives (n, d) of all fixtures one after the other, the setting (n, 2) [mired, CC] that goes
    with them, and what that leaves (n,) [mired^2], at any setting if none was given.
    """

    drives: Array
    setting: Array
    left: Array


@dataclass(eq=False)
class _Task:
    """Arrays of a solve: n packs, q positions, d drives.

    ``cap`` (n,) is what is of use, ``base`` (n, q, 3) and ``levels`` (n, c) are what everything
    else gives, ``add`` (q, 3, d) and ``add_levels`` (c, d) what full drives add; ``low`` and
    ``high`` (n, d + 4) bound drives,
    setting (mired, and CC as mired) and the excess that is being made least on either axis;
    ``within`` (n, q, 2) are the limits as mired, ``firm`` (q,) which of them are heeded,
    ``bending`` (q,) which of those the excess belongs to.
    """

    problem: Problem
    cap: Array
    base: Array
    levels: Array
    add: Array
    add_levels: Array
    low: Array
    high: Array
    within: Array
    firm: np.ndarray
    bending: np.ndarray
    patient: bool


def count_drives(fixtures: tuple[DriveRange, ...]) -> int:
    """Count the drives of fixtures."""
    return sum(each.as_read.size for each in fixtures)


def slice_drives(fixtures: tuple[DriveRange, ...]) -> Iterator[tuple[DriveRange, slice]]:
    """Go through fixtures, each with the columns of its drives among all, in order."""
    start = 0
    for each in fixtures:
        yield each, slice(start, start + each.as_read.size)
        start += each.as_read.size


def list_starts(problem: Problem) -> Array:
    """List drives (s, d) to begin from: as read, the reddest, bluest and evenest there are, and
    some by lot, the same each time.
    """
    fixtures = problem.fixtures
    starts = [np.concatenate([each.as_read for each in fixtures])]
    for way in range(3):
        rows = []
        for each in fixtures:
            seen = each.response.sum(axis=1)
            red = seen[:, 0] / np.maximum(seen[:, 2], 1e-12 * seen.sum())
            order = np.argsort(red)
            drives = np.full(red.size, 0.5)
            half = order[: max(1, red.size // 2)] if way == 0 else order[red.size // 2 :]
            if way < 2:
                drives[:] = 0.05
                drives[half] = 0.9
            rows.append(_fit_output(each, drives))
        starts.append(np.concatenate(rows))
    lots = np.random.default_rng(0).uniform(0, 1, (_LOTS, count_drives(fixtures))) ** 2
    return np.concatenate([starts, fit_outputs(fixtures, lots)])


def _fit_output(fixture: DriveRange, drives: Array) -> Array:
    """Bring drives (..., n) to what the fixture may give, down by a factor, up towards all full."""
    now = drives @ fixture.output
    full = fixture.output.sum()
    down = np.minimum(1.0, fixture.most / np.maximum(now, 1e-300))[..., None]
    short = np.maximum(fixture.least - now, 0.0) / np.maximum(full - now, 1e-300)
    fitted = drives * down
    return np.asarray(fitted + np.clip(short, 0.0, 1.0)[..., None] * (1.0 - fitted))


def fit_outputs(fixtures: tuple[DriveRange, ...], drives: Array) -> Array:
    """Bring all drives (..., d) within 0 and 1 and within what each fixture may give."""
    parts = [
        _fit_output(each, np.clip(drives[..., own], 0.0, 1.0))
        for each, own in slice_drives(fixtures)
    ]
    return np.concatenate(parts, axis=-1)


def add_drives(problem: Problem, drives: Array) -> tuple[Array, Array]:
    """Add up what drives (n, d) give: native RGB (3, q, n), and to the sums of lux (n, c)."""
    response = np.concatenate([each.response for each in problem.fixtures])
    levels = np.concatenate([each.levels for each in problem.fixtures])
    return np.tensordot(response, drives, (0, 1)).transpose(1, 0, 2), drives @ levels


def find_output_loss(fixtures: tuple[DriveRange, ...], drives: Array) -> Array:
    """Find the light that fixtures lose against as read, summed, (n,) [stops]; a gain is none."""
    loss = np.zeros(drives.shape[0])
    for each, own in slice_drives(fixtures):
        output = drives[:, own] @ each.output
        loss += np.maximum(0.0, -np.log2(np.maximum(output, 1e-12)))
    return loss


def solve_drives(
    problem: Problem,
    raw: Array,
    levels: Array,
    start: Array,
    settings: Array | None = None,
    cap: Array | None = None,
    patient: bool = False,
) -> Drives:
    """Solve the drives of all fixtures of a problem for n packs.

    Parameters
    ----------
    problem
        Its ``fixtures`` are those to be driven.
    raw, levels
        (3, q, n) native RGB and (n, c) sums of lux that everything else gives.
    start
        (n, d) drives to begin from.
    settings
        (n, 2) the setting of each pack [mired, CC], not a number on an axis that may go anywhere
        between the ends of the menu; None for both.
    cap
        (n,) what a pack has to stay under, limits kept, to be of use [mired^2]: one that will not
        is left half solved; infinite or None to solve it to its end, limits bent if they must.
    patient
        Whether to go on where steps creep, along a valley.

    Returns
    -------
    Drives
        Within 0 and 1 and within what each fixture may give.
    """
    count, d = start.shape
    fixtures = problem.fixtures
    scale = np.array([1.0, MIRED_PER_CC])
    low, high = np.zeros((count, d + 4)), np.ones((count, d + 4))
    ends = np.broadcast_to(find_menu_ends(problem.menu).T, (count, 2, 2))
    if settings is not None:
        ends = np.where(np.isnan(settings)[:, None, :], ends, settings[:, None, :])
    low[:, d : d + 2], high[:, d : d + 2] = ends[:, 0] * scale, ends[:, -1] * scale
    high[:, d + 2 :] = 1e4 if problem.is_limited else 0.0
    places = problem.weight.size
    within = np.stack([problem.within_mired, MIRED_PER_CC * problem.within_cc], axis=-1)
    task = _Task(
        problem,
        np.full(count, np.inf) if cap is None else cap,
        raw.transpose(2, 1, 0),
        levels,
        np.concatenate([each.response for each in fixtures]).transpose(1, 2, 0),
        np.concatenate([each.levels for each in fixtures]).T,
        low,
        high,
        np.broadcast_to(within, (count, places, 2)).copy(),
        np.ones(places, dtype=bool),
        np.ones(places, dtype=bool),
        patient,
    )
    state = np.concatenate([start, np.zeros((count, 4))], axis=1)
    y = _look(task, state)[0]
    state[:, d : d + 2] = np.clip(
        np.tensordot(y, problem.weight, (1, 0)), low[:, d : d + 2], high[:, d : d + 2]
    )
    if problem.is_limited:
        state[:, d + 2 :] = 1.0 + _find_excess(task, state).max(axis=1)
    state = _descend(task, state)
    if problem.is_limited:
        state = _bend(task, state)
    off = _look(task, state)[0] - state[:, None, d : d + 2]
    left = np.tensordot((off**2).sum(axis=2), problem.weight, (1, 0))
    return Drives(fit_outputs(fixtures, state[:, :d]), state[:, d : d + 2] / scale, left)


def _bend(task: _Task, state: Array) -> Array:
    """Bend the limits of packs that cannot keep them all and may, the heaviest weight last."""
    d = state.shape[1] - 4
    rows = np.flatnonzero((state[:, d + 2 :].max(axis=1) > _PAST) & np.isinf(task.cap))
    if not rows.size:
        return state
    part = _take(task, rows)
    here = state[rows]
    part.firm = np.zeros_like(task.firm)
    for rank in task.problem.ranks:
        part.bending = np.zeros_like(task.bending)
        part.bending[rank] = part.firm[rank] = True
        here[:, d + 2 :] = 1.0 + _find_excess(part, here)[:, rank].max(axis=1)
        here = _descend(part, here)
        part.within[:, rank] += here[:, None, d + 2 :] + 0.5 * _PAST
    state = state.copy()
    state[rows] = here
    return state


def _take(task: _Task, rows: np.ndarray) -> _Task:
    return _Task(
        task.problem,
        task.cap[rows],
        task.base[rows],
        task.levels[rows],
        task.add,
        task.add_levels,
        task.low[rows],
        task.high[rows].copy(),
        task.within[rows].copy(),
        task.firm,
        task.bending,
        task.patient,
    )


def _look(task: _Task, state: Array) -> tuple[Array, Array]:
    """Find what each position wants of the setting, (n, q, 2) [mired], and its RGB (n, q, 3)."""
    d = state.shape[1] - 4
    raw = task.base + np.tensordot(state[:, :d], task.add, (1, 2))
    raw = np.maximum(raw, 1e-12)
    stops = np.log2(raw)
    return _read(task, stops[..., 0] - stops[..., 2], _find_green(stops)), raw


def _find_green(stops: Array) -> Array:
    return np.asarray(stops[..., 1] - 0.5 * (stops[..., 0] + stops[..., 2]))


def _read(task: _Task, red_blue: Array, green: Array) -> Array:
    table = task.problem.table
    mired, cc, _ = table.read(red_blue, green)
    beyond = red_blue - np.clip(red_blue, table.low, table.high)  # slopes back to what has a Kelvin
    mired = mired + _BEYOND * beyond
    return np.stack(
        [mired - task.problem.want_mired, MIRED_PER_CC * (cc - task.problem.want_cc)], axis=-1
    )


def _differentiate(task: _Task, raw: Array) -> Array:
    """Find the slopes of what positions want over the drives, (n, q, 2, d)."""
    table = task.problem.table
    stops = np.log2(raw)
    red_blue, green = stops[..., 0] - stops[..., 2], _find_green(stops)
    step = _SLOPE_STOPS[table.is_plane]
    along = (_read(task, red_blue + step, green) - _read(task, red_blue - step, green)) / (2 * step)
    across = (_read(task, red_blue, green + step) - _read(task, red_blue, green - step)) / (
        2 * step
    )
    relative = task.add / raw[..., None] / _LN2
    of_red_blue = relative[..., 0, :] - relative[..., 2, :]
    of_green = relative[..., 1, :] - 0.5 * (relative[..., 0, :] + relative[..., 2, :])
    return np.asarray(
        along[..., None] * of_red_blue[..., None, :] + across[..., None] * of_green[..., None, :]
    )


def _find_excess(task: _Task, state: Array) -> Array:
    d = state.shape[1] - 4
    off = _look(task, state)[0] - state[:, None, d : d + 2]
    return np.asarray(np.maximum(np.abs(off) - task.within, 0.0))


def _find_firm(task: _Task, state: Array, off: Array) -> Array:
    """Find how far what must not be passed is passed, (n, m): above 0 is past.

    What fixtures give at most and at least, the sums of lux, and the limits to either side.
    """
    d = state.shape[1] - 4
    parts = []
    for each, own in slice_drives(task.problem.fixtures):
        output = state[:, own] @ each.output
        parts += [output / each.most - 1.0, 1.0 - output / each.least]
    span = _size_levels(task)
    given = task.levels + state[:, :d] @ task.add_levels.T
    short = np.where(
        span > 0, (task.problem.least_levels - given) / np.where(span > 0, span, 1), -1
    )
    found = [10 * np.stack(parts, axis=1), 10 * short]
    if task.problem.is_limited:
        room = task.within + np.where(task.bending[:, None], state[:, None, d + 2 :], 0.0)
        room = np.minimum(np.where(task.firm[:, None], room, 1e6), 1e6)
        found += [(off - room).reshape(len(state), -1), (-off - room).reshape(len(state), -1)]
    return np.concatenate(found, axis=1)


def _slope_firm(task: _Task, state: Array, jac: Array) -> Array:
    """Find the slopes of `_find_firm`, (n, m, d + 4); ``jac`` (n, q, 2, d + 4) are those of off."""
    count, width = state.shape
    d = width - 4
    rows = []
    for each, own in slice_drives(task.problem.fixtures):
        for side in (each.output / each.most, -each.output / each.least):
            row = np.zeros(width)
            row[own] = 10 * side
            rows.append(row)
    short = np.zeros((task.add_levels.shape[0], width))
    span = _size_levels(task)[:, None]
    short[:, :d] = np.where(span > 0, -10 * task.add_levels / np.where(span > 0, span, 1), 0.0)
    found = [
        np.broadcast_to(np.vstack([np.array(rows), short]), (count, len(rows) + len(short), width))
    ]
    if task.problem.is_limited:
        for sign in (1.0, -1.0):
            side = sign * jac
            for axis in range(2):
                side[:, :, axis, d + 2 + axis] = -task.bending.astype(float)
            found.append(side.reshape(count, -1, width))
    return np.concatenate(found, axis=1)


def _size_levels(task: _Task) -> Array:
    """Find a size of each sum of lux, (c,), 0 for one that no drive can change."""
    return np.asarray(np.abs(task.add_levels).sum(axis=1))


def _weigh(task: _Task, state: Array) -> tuple[Array, Array, Array, Array]:
    """Find the cost (n,), what positions are off (n, q, 2), their RGB, and the firm rows."""
    d = state.shape[1] - 4
    y, raw = _look(task, state)
    off = y - state[:, None, d : d + 2]
    cost = (task.problem.weight[:, None] * off**2).sum((1, 2)) + (
        _FIRM * state[:, d + 2 :] ** 2
    ).sum(1)
    return cost, off, raw, _find_firm(task, state, off)


def _descend(task: _Task, state: Array) -> Array:
    """Follow the central path of an interior-point method, Gauss-Newton for the curvature."""
    free = task.high > task.low
    inner = 0.02 * np.minimum(task.high - task.low, 1.0)
    state = np.where(free, np.clip(state, task.low + inner, task.high - inner), task.low)
    cost, off, raw, firm = _weigh(task, state)
    room = np.concatenate([_find_room(task, state, free), np.maximum(-firm, 0.05)], axis=1)
    centre = 0.03 * np.maximum(cost, 10.0) / state.shape[1]
    price = np.where(room < _NEVER, centre[:, None] / room, 0.0)
    live = np.arange(state.shape[0])
    best = state.copy()
    part = task
    counted = (room < _NEVER).sum(axis=1)
    for _ in range(_PATIENT_STEPS if task.patient else _STEPS):
        centre = np.maximum(_TOWARDS * (room * price).sum(1, where=room < _NEVER) / counted, _END)
        *move, least = _find_step(part, state, off, raw, firm, room, price, centre)
        state, room, price, off, raw, firm, small = _walk(
            part, state, room, price, centre, move, off, raw, firm
        )
        best[live] = state
        done = small & (centre <= 2 * _END) | (least > part.cap) | (price.max(axis=1) > _NO_PRICE)
        if done.all():
            break
        if done.any():
            keep = np.flatnonzero(~done)
            part, live = _take(part, keep), live[keep]
            state, room, price, off, raw, firm, counted = (
                each[keep] for each in (state, room, price, off, raw, firm, counted)
            )
    return best


def _find_room(task: _Task, state: Array, free: np.ndarray) -> Array:
    low = np.where(free, state - task.low, 2 * _NEVER)
    return np.concatenate([low, np.where(free, task.high - state, 2 * _NEVER)], axis=1)


def _find_step(
    task: _Task,
    here: Array,
    off: Array,
    raw: Array,
    firm: Array,
    room: Array,
    price: Array,
    centre: Array,
) -> tuple[Array, Array, Array, Array]:
    """Find the step of state, room and price, and the least that the straight problem can reach."""
    count, width = here.shape
    d = width - 4
    jac = np.zeros((*off.shape, width))
    jac[..., :d] = _differentiate(task, raw)
    for axis in range(2):
        jac[:, :, axis, d + axis] = -1.0
    pull = np.sqrt(task.problem.weight)[:, None]
    pulled = (pull[..., None] * jac).reshape(count, -1, width)
    aim = -np.matmul(pulled.transpose(0, 2, 1), (pull * off).reshape(count, -1, 1))[..., 0]
    aim[:, d + 2 :] -= _FIRM * here[:, d + 2 :]
    steep = -_slope_firm(task, here, jac)
    rows = slice(2 * width, None)
    least = _find_least(task, here, off, firm, aim, steep, price[:, rows])
    matrix = np.matmul(pulled.transpose(0, 2, 1), pulled)
    ends = np.arange(width)
    matrix[:, ends[d + 2 :], ends[d + 2 :]] += _FIRM
    pressed = np.where(room < _NEVER, centre[:, None] / room, 0.0)
    stiff = np.where(room < _NEVER, price / room, 0.0)
    miss = -firm - room[:, rows]
    aim += pressed[:, :width] - pressed[:, width : 2 * width]
    aim += np.matmul(
        steep.transpose(0, 2, 1), (pressed[:, rows] - stiff[:, rows] * miss)[..., None]
    )[..., 0]
    matrix += np.matmul((steep * stiff[:, rows, None]).transpose(0, 2, 1), steep)
    matrix[:, ends, ends] += stiff[:, :width] + stiff[:, width : 2 * width]
    size = np.einsum("nii->ni", matrix)
    matrix[:, ends, ends] += 1e-7 * size + 1e-10
    held = task.low >= task.high
    matrix = np.where(held[:, :, None] | held[:, None, :], 0.0, matrix)
    matrix[:, ends, ends] += held
    step = np.linalg.solve(matrix, np.where(held, 0.0, aim)[..., None])[..., 0]
    moved = np.concatenate([step, -step, np.matmul(steep, step[..., None])[..., 0] + miss], axis=1)
    dearer = np.where(room < _NEVER, pressed - price - stiff * moved, 0.0)
    return step, moved, dearer, least


def _find_least(
    task: _Task, here: Array, off: Array, firm: Array, aim: Array, steep: Array, price: Array
) -> Array:
    """Find what the problem, taken as straight, leaves at least, (n,) [mired^2].

    By weak duality: its Lagrangian lies above its tangent, which is least at a corner of the box.
    """
    d = here.shape[1] - 4
    cost = (task.problem.weight[:, None] * off**2).sum((1, 2)) + (
        _FIRM * here[:, d + 2 :] ** 2
    ).sum(1)
    fall = aim + np.matmul(steep.transpose(0, 2, 1), price[..., None])[..., 0]
    high = task.high.copy()
    of_use = np.sqrt(task.cap / _FIRM)  # more excess than this costs more than the cap
    high[:, d + 2 :] = np.minimum(high[:, d + 2 :], of_use[:, None])
    far = np.maximum(fall * (task.low - here), fall * (high - here)).sum(axis=1)
    return np.asarray(cost + 2 * (price * firm).sum(axis=1) - 2 * far)


def _walk(
    task: _Task,
    state: Array,
    room: Array,
    price: Array,
    centre: Array,
    move: Sequence[Array],
    off: Array,
    raw: Array,
    firm: Array,
) -> tuple[Array, Array, Array, Array, Array, Array, np.ndarray]:
    """Walk along a step as far as it stays inside and gets better."""
    step, moved, dearer = move
    inside = room < _NEVER
    reach = _reach(np.where(inside, room, 1.0), np.where(inside, moved, 0.0))
    afford = _reach(np.where(inside, price, 1.0), np.where(inside, dearer, 0.0))

    # what is not met has to cost more than it can win: twice what the rows are worth
    dear = np.maximum(price, price + dearer)[:, -firm.shape[1] :].max(axis=1)
    fine = np.maximum(1e3, 4 * dear)

    def judge(cost: Array, firm: Array, room: Array) -> Array:
        missed = np.maximum(np.abs(firm + room[:, -firm.shape[1] :]) - _MET, 0.0)
        logs = np.log(np.where(inside, np.maximum(room, 1e-300), 1.0)).sum(axis=1)
        return np.asarray(cost - 2 * centre * logs + fine * missed.sum(axis=1))

    was = judge(
        (task.problem.weight[:, None] * off**2).sum((1, 2)) + (_FIRM * state[:, -2:] ** 2).sum(1),
        firm,
        room,
    )
    share = reach.copy()
    cost, new_off, new_raw, new_firm = _weigh(task, state + share[:, None] * step)
    now = judge(cost, new_firm, room + share[:, None] * moved)
    worse = np.flatnonzero(now > was + _NOISE * (1.0 + np.abs(was)))
    for _ in range(_HALVES):
        if not worse.size:
            break
        share[worse] /= 3
        tried = state[worse] + share[worse, None] * step[worse]
        cost[worse], new_off[worse], new_raw[worse], new_firm[worse] = _weigh(
            _take(task, worse), tried
        )
        now = judge(cost, new_firm, room + share[:, None] * moved)
        worse = worse[now[worse] > was[worse] + _NOISE * (1.0 + np.abs(was[worse]))]
    state = state + share[:, None] * step
    room = np.where(inside, np.maximum(room + share[:, None] * moved, _LEAST_ROOM), room)
    price = np.where(inside, price + np.minimum(afford, 1.0)[:, None] * dearer, price)
    close = _PATIENT_CLOSE if task.patient else _CLOSE
    small = np.abs(was - now) < close * np.maximum(1.0, np.abs(cost))
    return state, room, price, new_off, new_raw, new_firm, small


def _reach(value: Array, change: Array) -> Array:
    """Find which share of a change keeps values above 0, at most 1, (n,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.where(change < 0, -0.995 * value / change, np.inf)
    return np.asarray(np.minimum(1.0, ends.min(axis=1)))
