"""The search: the best pack for each number of changes, proven or with the bound it is within.

Idea
----
Depth first over the lights, in blocks: the one that counts most is decided first, and whatever
cannot beat what is known already (`wbplan.mixed.bounds`) is left out with all that follows from it.
What is known at the start comes from changing every two or three lights in every way, which
settles the packs of few changes, and from exchanging two at a time after that. Up to 10^7 packs
the search runs to its end, so its result is that of trying every pack; beyond, it stops after a
fixed amount of work, and the least bound of what it has not opened says how much better the
unknown could be. Work is counted, not timed, and equals are settled by the light they cost, then by
the order of the options, so the same problem gives the same answer on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from wbplan.core.progress import Progress, tell
from wbplan.core.tables import Array
from wbplan.mixed.bounds import Bounds, bound_packs, prepare_bounds
from wbplan.mixed.gel_packs import LightOptions, Problem, add_lights, check_allowed, score_packs

EXACT_PACKS = 10_000_000
_WORK = 4_000_000  # evaluations, where more packs exist
_BOUND_WORK = 4  # a bound costs about as much as this many evaluations
_BLOCK = 32_768
_NODES = 2_048
_TIE = 1e-9
_ROUNDS = 12
_MOST_TRIPLES = 800_000


@dataclass(frozen=True)
class FoundPack:
    """A pack: the option of each light, what it leaves [mired^2], its changes and its loss."""

    picks: tuple[int, ...]
    left: float
    changes: int
    loss_stops: float

    @property
    def order(self) -> tuple[float, tuple[int, ...]]:
        """What settles a tie."""
        return round(self.loss_stops, 6), self.picks


@dataclass(frozen=True)
class SearchResult:
    """The best pack of each number of changes that has one, and what is known of the rest.

    ``bound`` holds for each number of changes what no pack with so many or fewer can get under
    [mired^2]. ``exact`` means that nothing was left unopened that could be better.
    """

    found: tuple[FoundPack, ...]
    bound: tuple[float, ...]
    packs: int
    exact: bool


@dataclass(eq=False)
class _Nodes:
    """Half-decided packs: raw (3, q, n), picks (n, level), changes, loss (n,), levels, use."""

    raw: Array
    picks: np.ndarray
    changes: np.ndarray
    loss: Array
    levels: Array
    use: Array
    bound: Array

    def take(self, rows: np.ndarray | slice) -> _Nodes:
        return _Nodes(
            self.raw[:, :, rows],
            self.picks[rows],
            self.changes[rows],
            self.loss[rows],
            self.levels[rows],
            self.use[rows],
            self.bound[rows],
        )


@dataclass(eq=False)
class _State:
    problem: Problem
    bounds: Bounds | None
    order: np.ndarray  # of the lights, in the problem as it was given
    budget: float
    progress: Progress | None
    best: dict[int, FoundPack] = field(default_factory=dict)
    unopened: dict[int, float] = field(default_factory=dict)
    work: float = 0.0
    covered: float = 0.0
    settled: int = -1  # up to so many changes every pack has been tried

    def list_caps(self) -> Array:
        """List the least that is known for each number of changes or fewer."""
        caps = np.full(self.problem.most_changes + 1, np.inf)
        for count, each in self.best.items():
            caps[count] = each.left
        return np.asarray(np.minimum.accumulate(caps))

    def find_cap(self, changes: np.ndarray) -> Array:
        """Find what a pack has to beat that has so many changes or more, and is not settled."""
        beyond = np.maximum(changes, self.settled + 1)
        return np.asarray(self.list_caps()[np.minimum(beyond, self.problem.most_changes)])

    def offer(self, picks: np.ndarray, left: Array, changes: np.ndarray, loss: Array) -> bool:
        """Keep what is better than the best known; tell whether anything was."""
        better = False
        for count in np.unique(changes[np.isfinite(left)]):
            here = np.flatnonzero(changes == count)
            least = float(left[here].min())
            known = self.best.get(int(count))
            if not np.isfinite(least) or (known is not None and least > known.left + _TIE):
                continue
            near = here[left[here] <= least + _TIE]
            near = near[np.round(loss[near], 6) == np.round(loss[near], 6).min()]
            given = np.empty_like(picks[near])
            given[:, self.order] = picks[near]
            first = np.lexsort(given.T[::-1])[0] if given.shape[1] else 0
            row = near[first]
            pack = FoundPack(
                tuple(int(each) for each in given[first]),
                float(left[row]),
                int(count),
                float(loss[row]),
            )
            if known is None or pack.left < known.left - _TIE or pack.order < known.order:
                self.best[int(count)] = pack
                better = True
        return better


def search_packs(problem: Problem, progress: Progress | None = None) -> SearchResult:
    """Search the packs of a problem.

    Parameters
    ----------
    problem
        With at least one position that counts.
    progress
        Is told now and then which share of the packs is dealt with.

    Returns
    -------
    SearchResult
        For each number of changes the best pack with just so many, if one is allowed.
    """
    influence = [float(problem.weight @ _find_shares(problem, each)) for each in problem.lights]
    order = np.array(sorted(range(len(influence)), key=lambda row: -influence[row]), dtype=np.intp)
    turned = replace(problem, lights=tuple(problem.lights[row] for row in order))
    exact = problem.packs <= EXACT_PACKS
    state = _State(
        turned,
        prepare_bounds(turned),
        order,
        np.inf if exact else _WORK,
        progress,
    )
    _start(state)
    if state.settled < problem.most_changes:
        _open(state, _make_root(turned), 0)
    tell(progress, 1.0, "packs of filters")
    caps = state.list_caps()
    unopened = np.array([state.unopened.get(count, np.inf) for count in range(caps.size)])
    bound = np.minimum(np.minimum.accumulate(unopened), caps)
    bound[: state.settled + 1] = caps[: state.settled + 1]
    return SearchResult(
        tuple(state.best[count] for count in sorted(state.best)),
        tuple(float(each) for each in bound),
        problem.packs,
        bool((bound >= caps - 1e-6).all()),
    )


def try_every_pack(problem: Problem) -> SearchResult:
    """Try every pack, one by one: what `search_packs` has to equal."""
    counts = [each.count for each in problem.lights]
    order = np.arange(len(counts))
    state = _State(problem, None, order, np.inf, None)
    total = problem.packs
    for begin in range(0, total, _BLOCK):
        number = np.arange(begin, min(begin + _BLOCK, total))
        picks = np.stack(np.unravel_index(number, counts), axis=1) if counts else number[:, None]
        _evaluate(state, picks)
    bound = tuple(float(each) for each in state.list_caps())
    return SearchResult(tuple(state.best[k] for k in sorted(state.best)), bound, total, True)


def _find_shares(problem: Problem, light: LightOptions) -> Array:
    """Find which share of each position's RGB a light has as it is, (q,)."""
    own = light.response[0].sum(axis=1)
    total = problem.fixed.sum(axis=1)
    for each in problem.lights:
        total = total + each.response[0].sum(axis=1)
    return np.asarray(own / np.where(total > 0, total, 1.0))


def _evaluate(state: _State, picks: np.ndarray) -> bool:
    problem = state.problem
    picks = picks[:, : len(problem.lights)]
    left = score_packs(problem, add_lights(problem, picks))
    left = np.where(check_allowed(problem, picks), left, np.inf)
    changes = np.zeros(picks.shape[0], dtype=np.intp)
    loss = np.zeros(picks.shape[0])
    for column, light in enumerate(problem.lights):
        changes += light.changes[picks[:, column]].astype(np.intp)
        loss += light.loss_stops[picks[:, column]]
    return state.offer(picks, left, changes, loss)


def _start(state: _State) -> None:
    """Settle the packs of few changes, then exchange two lights at a time while that helps."""
    lights = state.problem.lights
    none = np.zeros(len(lights), dtype=np.intp)
    at_once = 2
    for size in (2, 3):
        groups = list(combinations(range(len(lights)), min(size, len(lights))))
        count = sum(float(np.prod([lights[row].count for row in each])) for each in groups)
        if size == 2 or count <= _MOST_TRIPLES:
            at_once = size
    _exchange(state, none, at_once)
    state.settled = at_once if len(lights) > at_once else state.problem.most_changes
    tried = {tuple(int(each) for each in none)}
    for _ in range(_ROUNDS):
        bases = [each.picks for _, each in sorted(state.best.items()) if each.picks not in tried]
        for base in bases:
            tried.add(base)
            _exchange(state, np.array(base, dtype=np.intp)[state.order], 2)
        if not bases or state.settled == state.problem.most_changes:
            return


def _exchange(state: _State, base: np.ndarray, at_once: int) -> None:
    """Try every option of every so many lights, the others as they are in ``base``."""
    lights = state.problem.lights
    for group in combinations(range(len(lights)), min(at_once, len(lights))):
        counts = [lights[row].count for row in group]
        total = int(np.prod(counts))
        for begin in range(0, total, _BLOCK):
            number = np.arange(begin, min(begin + _BLOCK, total))
            picks = np.repeat(base[None], number.size, axis=0)
            if group:
                picks[:, group] = np.stack(np.unravel_index(number, counts), axis=1)
            _evaluate(state, picks)


def _make_root(problem: Problem) -> _Nodes:
    return _Nodes(
        problem.fixed.T[:, :, None].copy(),
        np.empty((1, 0), dtype=np.intp),
        np.zeros(1, dtype=np.intp),
        np.zeros(1),
        problem.fixed_levels[None],
        np.zeros((1, problem.stock.size)),
        np.zeros(1),
    )


def _branch(problem: Problem, nodes: _Nodes, level: int) -> _Nodes:
    """Give every node each option of the next light."""
    light = problem.lights[level]
    count, width = nodes.changes.size, light.count
    add = light.response.T
    option = np.tile(np.arange(width), count)
    picks = np.concatenate([np.repeat(nodes.picks, width, axis=0), option[:, None]], axis=1)
    return _Nodes(
        (nodes.raw[..., None] + add[:, :, None, :]).reshape(*nodes.raw.shape[:2], count * width),
        picks,
        np.repeat(nodes.changes, width) + light.changes[option].astype(np.intp),
        np.repeat(nodes.loss, width) + light.loss_stops[option],
        np.repeat(nodes.levels, width, axis=0) + light.levels[option],
        np.repeat(nodes.use, width, axis=0) + light.use[option],
        np.repeat(nodes.bound, width),
    )


def _open(state: _State, nodes: _Nodes, level: int) -> None:
    """Deal with nodes of a level and with all that follows from them."""
    problem = state.problem
    lights = problem.lights
    below = float(np.prod([float(each.count) for each in lights[level:]]))
    if level == len(lights):
        left = score_packs(problem, nodes.raw)
        fine = (nodes.use <= problem.stock).all(axis=1)
        fine &= (nodes.levels >= problem.least_levels).all(axis=1)
        state.offer(nodes.picks, np.where(fine, left, np.inf), nodes.changes, nodes.loss)
        state.work += left.size
        _cover(state, left.size)
        return
    step = max(1, _BLOCK // lights[level].count)
    last = level == len(lights) - 1
    ahead = sum((each.levels.max(axis=0) for each in lights[level + 1 :]), np.zeros(1))
    for begin in range(0, nodes.changes.size, step):
        block = nodes.take(slice(begin, begin + step))
        live = block.bound <= state.find_cap(block.changes) + _TIE
        if state.work >= state.budget:
            for count in np.unique(block.changes[live]):
                least = float(block.bound[live & (block.changes == count)].min())
                state.unopened[int(count)] = min(least, state.unopened.get(int(count), np.inf))
            _cover(state, below * live.size)
            continue
        _cover(state, below * float((~live).sum()))
        if not live.any():
            continue
        children = _branch(problem, block.take(live), level)
        if last:
            _open(state, children, level + 1)
            continue
        each = below / lights[level].count
        if state.bounds is not None:
            cap = state.find_cap(children.changes) + _TIE
            own = bound_packs(state.bounds, level + 1, children.raw, cap)
            children.bound = np.maximum(children.bound, own)
            state.work += _BOUND_WORK * own.size
        keep = children.bound <= state.find_cap(children.changes) + _TIE
        keep &= (children.use <= problem.stock).all(axis=1)
        keep &= (children.levels + ahead >= problem.least_levels).all(axis=1)
        _cover(state, each * float((~keep).sum()))
        rows = np.flatnonzero(keep)
        rows = rows[np.argsort(children.bound[rows], kind="stable")]
        for start in range(0, rows.size, _NODES):
            _open(state, children.take(rows[start : start + _NODES]), level + 1)


def _cover(state: _State, packs: float) -> None:
    state.covered += packs
    share = min(1.0, state.covered / max(1.0, float(state.problem.packs)))
    tell(state.progress, share, "packs of filters")
