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

Fixtures that may be driven anew are left as they are first, then one after the other is let go, in
every combination. With any of them let go a pack is a smooth problem of its own (`mixed.drives`):
the packs that the bounds leave are solved, those of the least bound first. A solve may end at a
minimum that is not the least, so such a pack is proven only by its bound.

Where no pack keeps every hard limit, packs are compared by how little they bend, the heaviest
weight first (`gel_packs.score_packs`), and only then by what they leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from wbplan.core.progress import Progress, tell
from wbplan.core.tables import Array
from wbplan.mixed.bounds import Bound, Bounds, bound_packs, prepare_bounds
from wbplan.mixed.drives import (
    add_drives,
    find_output_loss,
    list_starts,
    slice_drives,
    solve_drives,
)
from wbplan.mixed.gel_packs import (
    CC_WEIGHT,
    LightOptions,
    Problem,
    add_lights,
    check_allowed,
    keeps_levels,
    score_packs,
)

EXACT_PACKS = 10_000_000
PROVEN_MIRED = 0.05  # a bound this near to what a pack of drives leaves proves it
_WORK = 4_000_000  # evaluations, where more packs exist
_PROVABLE_PACKS = 10**11  # with more, a bound seldom comes near in any time
_BOUND_WORK = 4  # a bound costs about as much as this many evaluations
_BLOCK = 32_768
_NODES = 2_048
_TIE = 1e-9
_ROUNDS = 12
_MOST_AT_ONCE = 800_000  # packs that are tried to settle those of few changes
_MOST_BASES = 16  # packs around which lights are exchanged
_NEAR = 32  # options of each light that are exchanged for one another
_MOST_LEAVES = 100_000  # packs with drives that are kept to be solved, for each set of fixtures
_MOST_SOLVES = 2_000  # packs with drives that are solved, for all sets of fixtures
_AT_ONCE = 64
_VALLEY = 17  # entries of tint that are tried about the best


@dataclass(frozen=True)
class FoundPack:
    """A pack: the option of each light, what it leaves [mired^2], its changes and its loss.

    ``bent`` is by how much hard limits are passed, for each weight [mired], the heaviest first;
    ``drives`` those of each fixture, None where it is left as it is.
    """

    picks: tuple[int, ...]
    left: float
    changes: int
    loss_stops: float
    bent: tuple[float, ...] = ()
    drives: tuple[tuple[float, ...] | None, ...] = ()

    @property
    def order(self) -> tuple[float, tuple[int, ...]]:
        """What settles a tie."""
        return round(self.loss_stops, 6), self.picks

    @property
    def rank(self) -> tuple[tuple[float, ...], float]:
        """What makes one pack better than another: less is better."""
        return self.bent, self.left


@dataclass(frozen=True)
class SearchResult:
    """The best pack of each number of changes that has one, and what is known of the rest.

    ``bound`` holds for each number of changes what no pack with so many or fewer, that bends
    limits as little, can get under [mired^2]. ``exact`` means that nothing was left unopened that
    could be better; by 0.05 mired at most, where drives are solved.
    """

    found: tuple[FoundPack, ...]
    bound: tuple[float, ...]
    packs: int
    exact: bool


@dataclass(eq=False)
class _Nodes:
    """Half-decided packs: raw (3, q, n), picks (n, level), changes, loss (n,), levels, use, bound.

    ``bound`` is None before anything is bounded.
    """

    raw: Array
    picks: np.ndarray
    changes: np.ndarray
    loss: Array
    levels: Array
    use: Array
    bound: Bound

    def take(self, rows: np.ndarray | slice) -> _Nodes:
        if not isinstance(rows, slice):
            rows = np.flatnonzero(rows) if rows.dtype == bool else rows
            raw = self.raw.take(rows, axis=2)
        else:
            raw = self.raw[:, :, rows]
        return _Nodes(
            raw,
            self.picks[rows],
            self.changes[rows],
            self.loss[rows],
            self.levels[rows],
            self.use[rows],
            _take_bound(self.bound, rows),
        )


def _take_bound(bound: Bound, rows: np.ndarray | slice) -> Bound:
    return Bound(bound.left[rows], bound.own[:, rows], bound.kept[:, rows])


@dataclass(eq=False)
class _Known:
    """What the whole search knows, whatever fixtures are let go."""

    problem: Problem
    progress: Progress | None
    best: dict[int, FoundPack] = field(default_factory=dict)
    unopened: list[tuple[np.ndarray, Bound]] = field(default_factory=list)
    solves: int = 0
    covered: float = 0.0
    caps: tuple[Array, Array] | None = None

    def list_caps(self) -> tuple[Array, Array]:
        """List the best for each number of changes or fewer: bent (c, r), and left (c,)."""
        if self.caps is None:
            counts = self.problem.most_changes + 1
            bent = np.full((counts, len(self.problem.ranks)), np.inf)
            left = np.full(counts, np.inf)
            least = None
            for count in range(counts):
                each = self.best.get(count)
                if each is not None and (least is None or each.rank < least):
                    least = each.rank
                if least is not None:
                    bent[count], left[count] = least
            self.caps = bent, left
        return self.caps

    def find_cap(self, changes: np.ndarray) -> Array:
        """Find what packs have to stay under, limits kept; infinite where they may bend too."""
        bent, left = self.list_caps()
        row = np.minimum(changes, self.problem.most_changes)
        return np.where((bent[row] == 0).all(axis=1), left[row] + _TIE, np.inf)

    def find_own_cap(self, changes: np.ndarray) -> Array:
        """Find what packs have to stay under to be the best of just so many changes."""
        caps = np.full(self.problem.most_changes + 1, np.inf)
        for count, each in self.best.items():
            caps[count] = np.inf if any(each.bent) else each.left + 2 * _TIE
        return np.asarray(caps[changes])

    def find_live(
        self, changes: np.ndarray, bound: Bound, slack: Array | float = -_TIE
    ) -> np.ndarray:
        """Tell which bounds leave room for something better, by ``slack`` [mired^2] at least."""
        bent, left = self.list_caps()
        row = np.minimum(changes, self.problem.most_changes)
        live, tied = np.zeros(row.shape, dtype=bool), np.ones(row.shape, dtype=bool)
        clean = tied.copy()  # all heavier limits are kept
        for number in range(bent.shape[1]):
            cap = bent[row, number]
            low = np.where(clean, bound.kept[number], bound.own[number])
            live |= tied & (low < cap - _TIE)
            tied &= low <= cap + _TIE
            clean &= cap == 0
        with np.errstate(invalid="ignore"):
            least = np.where(np.isfinite(left[row]), left[row] - slack, np.inf)
        return np.asarray(live | tied & (bound.left <= least))

    def take(self, pack: FoundPack) -> bool:
        """Keep a pack if it is better than the best known of its changes."""
        known = self.best.get(pack.changes)
        if known is not None:
            if (pack.bent, pack.left - _TIE) > (known.bent, known.left):
                return False
            level = pack.bent == known.bent and pack.left >= known.left - _TIE
            if level and (pack.order >= known.order or any(pack.drives)):
                return False
        self.best[pack.changes] = pack
        self.caps = None
        return True


@dataclass(eq=False)
class _State:
    """The search with one set of fixtures let go; ``problem`` has these alone."""

    problem: Problem
    known: _Known
    bounds: Bounds | None
    order: np.ndarray  # of the lights, in the problem as it was given
    driven: tuple[int, ...]
    budget: float
    work: float = 0.0
    settled: int = -1  # up to so many changes every pack has been tried
    leaves: list[_Nodes] = field(default_factory=list)
    solved: set[tuple[int, ...]] = field(default_factory=set)  # packs with drives

    def find_live(self, changes: np.ndarray, bound: Bound) -> np.ndarray:
        """Tell which nodes may lead to something better that is not settled."""
        return self.known.find_live(np.maximum(changes, self.settled + 1), bound)

    def offer(
        self,
        picks: np.ndarray,
        score: tuple[Array, Array],
        changes: np.ndarray,
        loss: Array,
        drives: Array | None = None,
    ) -> bool:
        """Keep what is better than the best known; tell whether anything was."""
        better = False
        bent, left = score
        for count in np.unique(changes[np.isfinite(left)]):
            here = np.flatnonzero((changes == count) & np.isfinite(left))
            for each in bent:
                here = here[each[here] <= each[here].min() + _TIE]
            near = here[left[here] <= left[here].min() + _TIE]
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
                tuple(float(each) for each in bent[:, row]),
                self._split(None if drives is None else drives[row]),
            )
            better |= self.known.take(pack)
        return better

    def _split(self, drives: Array | None) -> tuple[tuple[float, ...] | None, ...]:
        parts: list[tuple[float, ...] | None] = [None] * len(self.known.problem.fixtures)
        for row, (_, own) in zip(self.driven, slice_drives(self.problem.fixtures), strict=True):
            assert drives is not None
            parts[row] = tuple(float(each) for each in drives[own])
        return tuple(parts)


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
    known = _Known(problem, progress)
    every = range(len(problem.fixtures))
    settled = 0
    for driven in (group for size in range(len(every) + 1) for group in combinations(every, size)):
        state = _prepare(known, driven)
        if driven:
            _search_driven(state)
        else:
            _start(state)
            settled = state.settled
            if state.settled < state.problem.most_changes:
                _open(state, _make_root(state.problem), 0)
    tell(progress, 1.0, "packs of filters")
    left = known.list_caps()[1]
    bound, exact = left.copy(), True
    for changes, each in known.unopened:
        gain = np.maximum(2 * np.sqrt(left[changes]) * PROVEN_MIRED, 1e-6) if every else 1e-6
        exact &= not known.find_live(changes, each, gain).any()
        live = known.find_live(changes, each)
        np.minimum.at(bound, changes[live], np.minimum(each.left[live], bound[changes[live]]))
    bound = np.minimum.accumulate(bound)
    if not every:
        bound[: settled + 1] = left[: settled + 1]
    return SearchResult(
        tuple(known.best[count] for count in sorted(known.best)),
        tuple(float(each) for each in bound),
        problem.packs,
        exact,
    )


def _prepare(known: _Known, driven: tuple[int, ...]) -> _State:
    """Prepare the search with some fixtures let go and the others as they were read."""
    whole = known.problem
    still = [each for row, each in enumerate(whole.fixtures) if row not in driven]
    fixed, levels = whole.fixed, whole.fixed_levels
    for each in still:
        fixed = fixed + np.tensordot(each.as_read, each.response, 1)
        levels = levels + each.as_read @ each.levels
    problem = replace(
        whole,
        fixed=fixed,
        fixed_levels=levels,
        fixtures=tuple(whole.fixtures[row] for row in driven),
    )
    influence = [float(problem.weight @ _find_shares(problem, each)) for each in problem.lights]
    order = np.array(sorted(range(len(influence)), key=lambda row: -influence[row]), dtype=np.intp)
    turned = replace(problem, lights=tuple(problem.lights[row] for row in order))
    work = _WORK if whole.packs <= _PROVABLE_PACKS else _WORK / 8
    budget = np.inf if whole.packs <= EXACT_PACKS else work / 2 ** len(whole.fixtures)
    return _State(turned, known, prepare_bounds(turned), order, driven, budget)


def try_every_pack(problem: Problem) -> SearchResult:
    """Try every pack, one by one: what `search_packs` has to equal where nothing is driven."""
    counts = [each.count for each in problem.lights]
    known = _Known(replace(problem, fixtures=()), None)
    state = _State(known.problem, known, None, np.arange(len(counts)), (), np.inf)
    total = known.problem.packs
    for begin in range(0, total, _BLOCK):
        number = np.arange(begin, min(begin + _BLOCK, total))
        picks = np.stack(np.unravel_index(number, counts), axis=1) if counts else number[:, None]
        nodes = _pose_nodes(known.problem, picks[:, : len(counts)])
        bent, left = score_packs(known.problem, nodes.raw)
        fine = check_allowed(known.problem, nodes.picks)
        score = bent, np.where(fine, left, np.inf)
        state.offer(nodes.picks, score, nodes.changes, nodes.loss)
    bound = tuple(float(each) for each in known.list_caps()[1])
    return SearchResult(tuple(known.best[k] for k in sorted(known.best)), bound, total, True)


def _find_shares(problem: Problem, light: LightOptions) -> Array:
    """Find which share of each position's RGB a light has as it is, (q,)."""
    own = light.response[0].sum(axis=1)
    total = problem.fixed.sum(axis=1)
    for each in problem.lights:
        total = total + each.response[0].sum(axis=1)
    for fixture in problem.fixtures:
        total = total + fixture.as_read @ fixture.response.sum(axis=2)
    return np.asarray(own / np.where(total > 0, total, 1.0))


def _evaluate(state: _State, nodes: _Nodes) -> bool:
    """Offer packs of which every light is decided, fixtures driven where any are."""
    problem = state.problem
    if problem.fixtures:
        return _drive(state, _take_hopeful(state, nodes))
    fine = keeps_levels(problem, nodes.levels) & (nodes.use <= problem.stock).all(axis=1)
    cap = np.where(fine, state.known.find_own_cap(nodes.changes), 0.0)
    bent, left = score_packs(problem, nodes.raw, cap)
    score = bent, np.where(fine, left, np.inf)
    return state.offer(nodes.picks, score, nodes.changes, nodes.loss)


def _take_hopeful(state: _State, nodes: _Nodes) -> _Nodes:
    """Take packs that nobody has solved and that their bounds leave room for."""
    new = [tuple(each) not in state.solved for each in nodes.picks.tolist()]
    nodes = nodes.take(np.flatnonzero(new))
    if state.bounds is not None and nodes.changes.size:
        nodes.bound = _bound(state, len(state.problem.lights), nodes)
        nodes = nodes.take(state.find_live(nodes.changes, nodes.bound))
    state.solved.update(tuple(each) for each in nodes.picks.tolist())
    return nodes


def _count(problem: Problem, picks: np.ndarray) -> tuple[np.ndarray, Array]:
    """Count the changes of packs, (n,), and the stops that they lose."""
    changes = np.full(picks.shape[0], len(problem.fixtures), dtype=np.intp)
    loss = np.zeros(picks.shape[0])
    for column, light in enumerate(problem.lights):
        changes += light.changes[picks[:, column]].astype(np.intp)
        loss += light.loss_stops[picks[:, column]]
    return changes, loss


def _pose_nodes(problem: Problem, picks: np.ndarray) -> _Nodes:
    """Pose packs of which every light is decided."""
    levels = np.repeat(problem.fixed_levels[None], picks.shape[0], axis=0)
    use = np.zeros((picks.shape[0], problem.stock.size))
    for column, light in enumerate(problem.lights):
        levels = levels + light.levels[picks[:, column]]
        use = use + light.use[picks[:, column]]
    raw = add_lights(problem, picks)
    return _Nodes(raw, picks, *_count(problem, picks), levels, use, _bound_nothing(problem, picks))


def _bound_nothing(problem: Problem, picks: np.ndarray) -> Bound:
    none = np.zeros((len(problem.ranks), picks.shape[0]))
    return Bound(np.zeros(picks.shape[0]), none, none)


def _start(state: _State) -> None:
    """Settle the packs of few changes, then exchange two lights at a time while that helps."""
    lights = state.problem.lights
    none = np.zeros(len(lights), dtype=np.intp)
    at_once = 1
    for size in (2, 3):
        groups = list(combinations(range(len(lights)), min(size, len(lights))))
        count = sum(float(np.prod([lights[row].count for row in each])) for each in groups)
        if count <= _MOST_AT_ONCE:
            at_once = size
    every = [np.arange(each.count) for each in lights]
    _exchange(state, none, at_once, every)
    state.settled = at_once if len(lights) > at_once else state.problem.most_changes
    tried = {tuple(int(each) for each in none)}
    for _ in range(_MOST_BASES):
        bases = [each for each in state.known.best.values() if each.picks not in tried]
        if not bases or state.settled == state.problem.most_changes:
            return
        given = min(bases, key=lambda each: each.rank).picks
        tried.add(given)
        base = np.array(given, dtype=np.intp)[state.order]
        _exchange(state, base, 2, _list_near_options(state, base))


def _list_near_options(state: _State, base: np.ndarray) -> list[np.ndarray]:
    """List for each light the options that are best by themselves beside ``base``."""
    near = []
    for row, light in enumerate(state.problem.lights):
        picks = np.repeat(base[None], light.count, axis=0)
        picks[:, row] = np.arange(light.count)
        bent, left = score_packs(state.problem, add_lights(state.problem, picks))
        near.append(np.sort(np.lexsort((left, *bent[::-1]))[:_NEAR]))
    return near


def _exchange(state: _State, base: np.ndarray, at_once: int, options: Sequence[np.ndarray]) -> None:
    """Try every of some options of every so many lights, the others as they are in ``base``."""
    problem = state.problem
    lights = problem.lights
    for group in combinations(range(len(lights)), min(at_once, len(lights))):
        others = [row for row in range(len(lights)) if row not in group]
        still = replace(problem, lights=tuple(lights[row] for row in others))
        tried = tuple(lights[row].take(options[row]) for row in group)
        nodes = _pose_nodes(still, base[None, others])
        nodes.picks = nodes.picks[:, :0]
        turned = replace(problem, lights=tried)
        for level in range(len(group) - 1):
            nodes = _branch(turned, nodes, level)
        step = max(1, _BLOCK // tried[-1].count) if group else 1
        for begin in range(0, nodes.changes.size, step):
            block = nodes.take(slice(begin, begin + step))
            if group:
                block = _branch(turned, block, len(group) - 1)
            picks = np.repeat(base[None], block.changes.size, axis=0)
            for column, row in enumerate(group):
                picks[:, row] = options[row][block.picks[:, column]]
            block.picks = picks
            _evaluate(state, block)


def _make_root(problem: Problem) -> _Nodes:
    return _Nodes(
        problem.fixed.T[:, :, None].copy(),
        np.empty((1, 0), dtype=np.intp),
        np.full(1, len(problem.fixtures), dtype=np.intp),
        np.zeros(1),
        problem.fixed_levels[None],
        np.zeros((1, problem.stock.size)),
        _bound_nothing(problem, np.empty((1, 0))),
    )


def _branch(problem: Problem, nodes: _Nodes, level: int) -> _Nodes:
    """Give every node each option of the next light."""
    light = problem.lights[level]
    count, width = nodes.changes.size, light.count
    add = np.ascontiguousarray(light.response.T)
    option = np.tile(np.arange(width), count)
    picks = np.concatenate([np.repeat(nodes.picks, width, axis=0), option[:, None]], axis=1)
    return _Nodes(
        (nodes.raw[..., None] + add[:, :, None, :]).reshape(*nodes.raw.shape[:2], count * width),
        picks,
        np.repeat(nodes.changes, width) + light.changes[option].astype(np.intp),
        np.repeat(nodes.loss, width) + light.loss_stops[option],
        np.repeat(nodes.levels, width, axis=0) + light.levels[option],
        np.repeat(nodes.use, width, axis=0) + light.use[option],
        _take_bound(nodes.bound, np.repeat(np.arange(count), width)),
    )


def _open(state: _State, nodes: _Nodes, level: int) -> None:
    """Deal with nodes of a level and with all that follows from them."""
    problem = state.problem
    lights = problem.lights
    below = float(np.prod([float(each.count) for each in lights[level:]]))
    if level == len(lights):
        fine = np.asarray((nodes.use <= problem.stock).all(axis=1))
        if problem.fixtures:
            state.leaves.append(nodes.take(fine))
            return
        _evaluate(state, nodes)
        state.work += nodes.changes.size
        _cover(state, nodes.changes.size)
        return
    step = max(1, _BLOCK // lights[level].count)
    last = level == len(lights) - 1 and not problem.fixtures
    ahead = sum((each.levels.max(axis=0) for each in lights[level + 1 :]), np.zeros(1))
    for each in problem.fixtures:
        ahead = ahead + np.maximum(each.levels, 0.0).sum(axis=0)
    for begin in range(0, nodes.changes.size, step):
        block = nodes.take(slice(begin, begin + step))
        live = state.find_live(block.changes, block.bound)
        full = sum(each.changes.size for each in state.leaves) > _MOST_LEAVES
        if state.work >= state.budget or full:
            _leave(state, block.take(live))
            _cover(state, below * live.size)
            continue
        _cover(state, below * float((~live).sum()))
        if not live.any():
            continue
        children = _branch(problem, block.take(live), level)
        if last:
            _open(state, children, level + 1)
            continue
        each_below = below / lights[level].count
        if state.bounds is not None:
            children.bound = _bound(state, level + 1, children)
            state.work += _BOUND_WORK * children.changes.size
        keep = state.find_live(children.changes, children.bound)
        keep &= (children.use <= problem.stock).all(axis=1)
        keep &= keeps_levels(problem, children.levels + ahead)
        _cover(state, each_below * float((~keep).sum()))
        rows = np.flatnonzero(keep)
        rows = rows[np.argsort(children.bound.left[rows], kind="stable")]
        for start in range(0, rows.size, _NODES):
            _open(state, children.take(rows[start : start + _NODES]), level + 1)


def _bound(state: _State, level: int, nodes: _Nodes) -> Bound:
    """Bound nodes by themselves and by what they come from."""
    assert state.bounds is not None
    cap = state.known.find_cap(np.maximum(nodes.changes, state.settled + 1))
    own, was = bound_packs(state.bounds, level, nodes.raw, cap), nodes.bound
    return Bound(
        np.maximum(own.left, was.left),
        np.maximum(own.own, was.own),
        np.maximum(own.kept, was.kept),
    )


def _leave(state: _State, nodes: _Nodes) -> None:
    """Note what is left unopened: of each number of changes and bend the least bound."""
    if nodes.changes.size:
        state.known.unopened.append((nodes.changes, nodes.bound))


def _search_driven(state: _State) -> None:
    """Search the packs with some fixtures let go: gather what the bounds leave, and solve it."""
    known, lights = state.known, state.problem.lights
    most = known.solves + _MOST_SOLVES // (2 ** len(known.problem.fixtures) - 1)
    none = np.zeros((1, len(lights)), dtype=np.intp)
    seeds = [none, *(np.array([e.picks])[:, state.order] for _, e in sorted(known.best.items()))]
    _evaluate(state, _pose_nodes(state.problem, np.unique(np.concatenate(seeds), axis=0)))
    tried: set[tuple[int, ...]] = set()
    for _ in range(_ROUNDS):
        own = [e for _, e in sorted(known.best.items()) if _list_driven(e) == state.driven]
        bases = [each.picks for each in own if each.picks not in tried]
        if not bases or not lights or known.solves > most:
            break
        tried.update(bases)
        for base in bases:
            if known.solves <= most:
                at = np.array(base, dtype=np.intp)[state.order]
                _exchange(state, at, 1, [np.arange(each.count) for each in lights])
    root = _make_root(state.problem)
    if state.bounds is not None:
        root.bound = _bound(state, 0, root)
    _open(state, root, 0)
    leaves = _join(state.leaves) if state.leaves else root.take(slice(0, 0))
    state.leaves = []
    total = float(leaves.changes.size)
    order = np.lexsort((leaves.bound.left, *leaves.bound.kept[::-1]))
    solved = []
    while order.size:
        live = state.find_live(leaves.changes[order], _take_bound(leaves.bound, order))
        _cover(state, float((~live).sum()))
        order = order[live]
        here, rest = order[:_AT_ONCE], order[_AT_ONCE:]
        if known.solves >= most:
            _leave(state, leaves.take(order))
            break
        if here.size:
            _drive(state, _take_hopeful(state, leaves.take(here)))
            solved.append(here)
            _cover(state, here.size)
        order = rest
    _cover(state, max(0.0, state.problem.packs / 2 ** len(state.driven) - total))
    if solved:
        _leave(state, leaves.take(np.concatenate(solved)))
    last = [e.picks for e in known.best.values() if _list_driven(e) == state.driven]
    if last:
        picks = np.unique(np.array(last)[:, state.order], axis=0)
        _drive(state, _pose_nodes(state.problem, picks), thorough=True)


def _list_driven(pack: FoundPack) -> tuple[int, ...]:
    return tuple(row for row, each in enumerate(pack.drives) if each is not None)


def _join(parts: list[_Nodes]) -> _Nodes:
    return _Nodes(
        np.concatenate([each.raw for each in parts], axis=2),
        np.concatenate([each.picks for each in parts]),
        np.concatenate([each.changes for each in parts]),
        np.concatenate([each.loss for each in parts]),
        np.concatenate([each.levels for each in parts]),
        np.concatenate([each.use for each in parts]),
        Bound(
            np.concatenate([each.bound.left for each in parts]),
            np.concatenate([each.bound.own for each in parts], axis=1),
            np.concatenate([each.bound.kept for each in parts], axis=1),
        ),
    )


def _drive(state: _State, nodes: _Nodes, thorough: bool = False) -> bool:
    """Solve the drives of packs at any setting, then at the entry of the menu next to that.

    ``thorough`` begins from several drives and tries every entry around.
    """
    problem, known = state.problem, state.known
    nodes = nodes.take(np.flatnonzero((nodes.use <= problem.stock).all(axis=1)))
    starts = list_starts(problem)[: None if thorough else 1]
    nodes = nodes.take(np.repeat(np.arange(nodes.changes.size), len(starts)))
    count = nodes.changes.size
    if not count:
        return False
    known.solves += count
    start = np.tile(starts, (count // len(starts), 1))
    free = solve_drives(problem, nodes.raw, nodes.levels, start, cap=known.find_cap(nodes.changes))
    better = _offer_driven(state, nodes, free.drives)
    bound = Bound(free.left, nodes.bound.own, nodes.bound.kept)
    rows = np.flatnonzero(known.find_live(nodes.changes, bound))
    settings = _list_near(problem, free.setting[rows], thorough)
    known.solves += rows.size * settings.shape[1]
    for number in range(settings.shape[1]):
        part = nodes.take(rows)
        at = settings[:, number]
        cap = known.find_cap(part.changes)
        fixed = solve_drives(problem, part.raw, part.levels, free.drives[rows], at, cap)
        better |= _offer_driven(state, part, fixed.drives)
    if thorough:
        better |= _follow_valley(state, nodes.take(rows), free.drives[rows], free.setting[rows])
        better |= _polish(state)
    return better


def _polish(state: _State) -> bool:
    """Solve the best packs on from where they are, patiently, at the entries of the menu around."""
    known = state.known
    own = [e for _, e in sorted(known.best.items()) if _list_driven(e) == state.driven]
    if not own:
        return False
    nodes = _pose_nodes(state.problem, np.array([e.picks for e in own])[:, state.order])
    parts = [[share for part in each.drives if part is not None for share in part] for each in own]
    start = np.array(parts)
    free = solve_drives(state.problem, nodes.raw, nodes.levels, start, patient=True)
    better = _offer_driven(state, nodes, free.drives)
    settings = _list_near(state.problem, free.setting, True)
    known.solves += len(own) * (1 + settings.shape[1])
    for number in range(settings.shape[1]):
        at, cap = settings[:, number], known.find_cap(nodes.changes)
        made = solve_drives(state.problem, nodes.raw, nodes.levels, free.drives, at, cap, True)
        better |= _offer_driven(state, nodes, made.drives)
    return better


def _follow_valley(state: _State, nodes: _Nodes, drives: Array, setting: Array) -> bool:
    """Solve drives at the tints around, mired free, and then at the entries of mired next to those.

    Where many settings leave equally little, the one that an entry meets may lie far off.
    """
    menu = state.problem.menu
    if not (menu.mired.size and menu.tint_cc.size and nodes.changes.size):
        return False
    first = np.unique(nodes.picks, axis=0, return_index=True)[1]
    near = np.argsort(np.abs(menu.tint_cc - setting[first, 1, None]), axis=1)[:, :_VALLEY]
    rows = np.repeat(first, near.shape[1])
    tint = menu.tint_cc[near.ravel()]
    part, better = nodes.take(rows), False
    at = np.stack([np.full(tint.size, np.nan), tint], axis=1)
    cap = state.known.find_cap(part.changes)
    half = solve_drives(state.problem, part.raw, part.levels, drives[rows], at, cap)
    live = state.find_live(part.changes, replace(part.bound, left=half.left))
    if not live.any():
        return False
    part, along = part.take(live), half.drives[live]
    ends = np.searchsorted(menu.mired, half.setting[live, 0])
    for side in (-1, 0):
        entry = menu.mired[np.clip(ends + side, 0, menu.mired.size - 1)]
        at = np.stack([entry, tint[live]], axis=1)
        cap = state.known.find_cap(part.changes)
        made = solve_drives(state.problem, part.raw, part.levels, along, at, cap)
        better |= _offer_driven(state, part, made.drives)
    state.known.solves += tint.size + 2 * int(live.sum())
    return better


def _offer_driven(state: _State, nodes: _Nodes, drives: Array) -> bool:
    problem = state.problem
    raw, levels = add_drives(problem, drives)
    bent, left = score_packs(problem, nodes.raw + raw)
    fine = keeps_levels(problem, nodes.levels + levels)
    loss = nodes.loss + find_output_loss(problem.fixtures, drives)
    score = bent, np.where(fine, left, np.inf)
    return state.offer(nodes.picks, score, nodes.changes, loss, drives)


def _list_near(problem: Problem, setting: Array, around: bool) -> Array:
    """List the entry of the menu next to settings (n, 2), or those around: (n, k, 2)."""
    menu, found = problem.menu, []
    if not setting.size or (menu.pairs.shape[0] == 1 and not menu.mired.size):
        return np.empty((setting.shape[0], 0, 2))
    if menu.mired.size and menu.tint_cc.size:
        scales = (menu.mired, menu.tint_cc)
        near = [
            np.abs(setting[:, axis, None] - scale).argmin(axis=1)
            for axis, scale in enumerate(scales)
        ]
        side = [
            np.where(setting[:, axis] > scale[near[axis]], 1, -1)
            for axis, scale in enumerate(scales)
        ]
        for steps in ((0, 0), (1, 0), (0, 1), (1, 1)) if around else ((0, 0),):
            rows = [
                np.clip(near[axis] + steps[axis] * side[axis], 0, scales[axis].size - 1)
                for axis in range(2)
            ]
            found.append(np.stack([scales[axis][rows[axis]] for axis in range(2)], axis=1))
    far = [
        (setting[:, 0] - mired) ** 2 + CC_WEIGHT * (setting[:, 1] - cc) ** 2
        for mired, cc in menu.pairs
    ]
    order = np.argsort(far, axis=0) if far else np.empty((0, 0), dtype=np.intp)
    found += [menu.pairs[row] for row in order[: len(order) if around else 2]]
    return np.stack(found, axis=1)


def _cover(state: _State, packs: float) -> None:
    known = state.known
    known.covered += packs
    share = min(1.0, known.covered / max(1.0, float(known.problem.packs)))
    tell(known.progress, share, "packs of filters")
