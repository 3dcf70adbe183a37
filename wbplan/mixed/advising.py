"""Advice for a setup: what to change on which light, what it brings, and what it costs.

Idea
----
The search (`mixed.search`) finds the best pack for each number of changes on numbers alone. Here
the wish becomes such a problem, and each pack it finds goes back into the setup and through the
physics of the plan itself, with its intervals, so what is reported never rests on the search's
tables. Few changes are worth more than a difference that nobody sees: a plan is listed only
if it is better than every simpler one, and the simplest that is within a mired of the best is
suggested.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np

from wbplan.camera.neutral_table import tabulate_neutrals
from wbplan.camera.setting import CameraView, find_distance
from wbplan.core.intervals import make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.progress import Progress
from wbplan.core.tables import Array
from wbplan.light.filters import name_cast, stack_filters
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.mixed.drive_choice import choose_drives, find_drive_fidelity, round_drives
from wbplan.mixed.gel_packs import Problem
from wbplan.mixed.options import (
    Option,
    OptionList,
    apply_options,
    assume_wish,
    drive,
    list_options,
    pose_problem,
    sum_levels,
    weigh_drives,
    weigh_options,
)
from wbplan.mixed.search import FoundPack, SearchResult, search_packs
from wbplan.mixed.tune import tune_fixtures
from wbplan.planning.advice import Advice, Change, ChangePlan, DriveChoice, PlaceLeft, RatioLeft
from wbplan.planning.best_setting import choose_dial, solve_within_limits
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.eye_view import see_as_eye
from wbplan.planning.limits import SLACK, find_excess, find_limits
from wbplan.planning.response import respond_to_scene
from wbplan.planning.trade_off import say_gap
from wbplan.scene.changes import ChangeableLight, Preference, Wish
from wbplan.scene.dialling import read_panel
from wbplan.scene.fixtures import Fixture
from wbplan.scene.setup import Setup, find_position_lux, find_source_power, find_steady_share

_WORTH_MIRED = 0.5  # a further change that brings less is not listed
_SEEN_MIRED = 1.0  # plans nearer to each other than this look the same
_AGREES_MIRED = 5.0  # what can just be told side by side; common practice, no source
_MOST_LEFT_MIRED = 15.0
_CHOICE_CHANNELS = 4  # three or fewer leave none
_NO_STEP = "no step of its fixtures keeps what has to be kept: a plan that drives them is out"
_MOST_BEND_STOPS, _BEND_STOPS = 16.0, 0.05  # of ratios that cannot be had


@dataclass(frozen=True, eq=False)
class _Scene:
    """What the advice is worked out from."""

    setup: Setup
    camera: CameraView
    plan: SetupPlan
    judged: tuple[int, ...]

    @property
    def weight(self) -> Array:
        share = np.zeros(len(self.setup.positions))
        share[list(self.judged)] = [self.setup.positions[r].intent.weight for r in self.judged]
        return np.asarray(share / share.sum())


def advise_setup(plan: SetupPlan, camera: CameraView, progress: Progress | None = None) -> Advice:
    """Advise on a planned setup.

    Parameters
    ----------
    plan
        From `setups.plan_setup`; its setup holds the wish, or one is assumed.
    camera
        The setup's camera.
    progress
        Is told how far the search is.
    """
    setup = plan.setup
    wish = setup.wish or assume_wish(setup)
    judged = tuple(
        row
        for row, each in enumerate(plan.positions)
        if setup.positions[row].intent.counts and not each.trouble
    )
    fixtures, notes = tune_fixtures(plan, camera, wish.matches)
    if wish.assumed:
        notes.append(
            Note(
                "wish-assumed",
                "the scenario does not say what may be changed: every burning light is taken to be "
                "free for one generic filter, or to be tuned if it has channels, but daylight "
                "only where it comes through a window",
            )
        )
    if not wish.lights and not wish.assumed:
        return Advice((), 0, 0, True, math.nan, False, fixtures, tuple(notes))
    if not any(setup.positions[row].intent.weight > 0 for row in judged):
        text = "no position has both an intent and a light that a setting neutralises"
        notes.append(warn("nothing-to-advise", text))
        return Advice((), 0, 0, True, math.nan, wish.assumed, fixtures, tuple(notes))
    scene = _Scene(setup, camera, plan, judged)
    lists, more = _collect_options(scene, wish)
    notes += more
    problem = _pose(scene, wish, lists)
    result = search_packs(problem, progress)
    if not result.found and wish.ratios:
        bent = _bend_ratios(scene, wish, lists)
        if bent is not None:
            text = (
                "nothing that may be changed brings the levels there; plans come as near as can be"
            )
            notes.append(warn("ratio-out-of-reach", text))
        problem = _pose(scene, bent or replace(wish, ratios=()), lists)
        result = search_packs(problem, progress)
    as_it_is = _follow(scene, lists, FoundPack((0,) * len(problem.lights), 0.0, 0, 0.0))
    if not result.found:
        notes.append(warn("no-plan", "no setting of the camera serves these positions"))
    plans, stepless = _choose_plans(scene, lists, problem, result, as_it_is)
    notes += [warn("no-step", _NO_STEP)] if stepless else []
    best = plans[-1]
    suggested = next(
        row
        for row, each in enumerate(plans)
        if _rank(each) >= _rank(best) and each.rms_mired <= best.rms_mired + _SEEN_MIRED
    )
    plans = _offer_choices(scene, lists, problem, plans, suggested)
    stepped = any(each.has_steps for each in _list_fixtures(setup, lists))
    proven = result.exact and not stepped  # steps are walked to, not all tried
    notes += _note_limits(plans, suggested, proven)
    notes += _note_outcome(plans, suggested, lists, proven)
    notes += [note for each in plans[suggested].changes for note in each.notes]
    return Advice(
        plans=plans,
        suggested=suggested,
        packs_count=result.packs,
        is_exact=proven,
        least_rms_mired=math.sqrt(result.bound[-1]) if np.isfinite(result.bound[-1]) else math.nan,
        is_assumed=wish.assumed,
        fixtures=fixtures,
        notes=tuple(notes),
        is_driven=bool(problem.fixtures),
    )


def _collect_options(scene: _Scene, wish: Wish) -> tuple[list[OptionList], list[Note]]:
    """List the options of each light that can change anything."""
    setup = scene.setup
    rows = {each.name: row for row, each in enumerate(setup.sources)}
    lists: list[OptionList] = []
    notes: list[Note] = []
    for each in wish.lights:
        row = rows[each.light]
        if not setup.sources[row].on:
            notes.append(Note("light-off", "is off, so changing it changes nothing", each.light))
            continue
        if not _reaches(scene, wish, each, row):
            text = "reaches no position that counts, so changing it changes nothing"
            notes.append(Note("light-elsewhere", text, each.light))
            continue
        made = list_options(setup, each, dict(wish.stock))
        notes += made.notes
        if len(made.options) > 1 or each.tuned:
            lists.append(made)
    if not lists:
        text = "no light is left that may be changed: only the setting can make the positions agree"
        notes.append(warn("nothing-to-change", text))
    return lists, notes


def _pose(scene: _Scene, wish: Wish, lists: Sequence[OptionList]) -> Problem:
    """Pose the problem in numbers."""
    setup, judged = scene.setup, list(scene.judged)
    lux, power = find_position_lux(setup), find_source_power(setup)
    sums, steady = sum_levels(setup, wish, lux, power), find_steady_share(setup)
    limited = [name for name, _ in wish.stock]
    lights, fixtures = [], []
    for each in lists:
        if each.wish.tuned:
            read = each.options[0].lux * steady[each.row]
            fixtures.append(weigh_drives(setup, each, scene.camera, read, judged, sums))
            continue
        given = np.stack([option.lux for option in each.options]) * steady[each.row]
        lights.append(weigh_options(each, scene.camera, given, judged, sums, limited))
    table = tabulate_neutrals(scene.camera.locus)
    return pose_problem(setup, wish, lists, lights, fixtures, judged, lux, power, sums, table)


def _reaches(scene: _Scene, wish: Wish, light: ChangeableLight, row: int) -> bool:
    """Tell whether a light gives, or may come to give, anything to a place that counts."""
    places = [each.name for each in scene.setup.positions]
    counted = {places[each] for each in scene.judged}
    counted |= {name for each in wish.ratios for name in each.places}
    lux = [np.array([each.lux[row] for each in scene.setup.positions])]
    lux += [each.lux for each in light.changes]
    return any(each[places.index(name)] > 0 for each in lux for name in counted)


def _follow(scene: _Scene, lists: Sequence[OptionList], pack: FoundPack) -> ChangePlan:
    """Follow a pack through the physics of the plan."""
    chosen = _list_chosen(scene.setup, lists, pack)
    setup = apply_options(scene.setup, [(each.row, option) for each, option in chosen])
    seen = respond_to_scene(setup, scene.camera)
    intents = [each.intent for each in setup.positions]
    want_m = np.array([each.mired for each in intents])
    want_c = np.array([each.green_cc for each in intents])
    weight = scene.weight
    own_m, own_c = seen.position.mired[:, 0], seen.position.tint_cc[:, 0]
    counts = np.isin(np.arange(weight.size), scene.judged)
    within = find_limits(intents, counts)
    *best, limits = solve_within_limits(own_m, own_c, intents, weight, within)
    mired, cc = (float(each) for each in best)
    dial = choose_dial(setup, mired, cc, limits)
    off_m, off_c = own_m - want_m - dial.mired, own_c - want_c - dial.tint_cc
    distance = find_distance(off_m, off_c)
    kept = (np.abs(off_m) <= within[0] + SLACK) & (np.abs(off_c) <= within[1] + SLACK)
    kept &= ~seen.position.beyond[:, 0] | ~counts
    past = find_excess(limits, dial.mired, dial.tint_cc)
    joined = find_distance(past[0][:, 0], past[1][:, 0])
    has = np.isfinite(within[0]) | np.isfinite(within[1])
    ranks = np.unique(limits.weight[has])[::-1]
    draws = seen.position_draws
    places = []
    for row, position in enumerate(setup.positions):
        if scene.plan.positions[row].trouble:
            continue
        shift_m, shift_c = want_m[row] + dial.mired, want_c[row] + dial.tint_cc
        ends_m = None if draws is None else draws.mired[row] - shift_m
        ends_c = None if draws is None else draws.tint_cc[row] - shift_c
        over_m, over_c = (float(each[row, 0]) for each in past)
        places.append(
            PlaceLeft(
                position.name,
                bool(weight[row] > 0),
                make_interval(float(off_m[row]), ends_m, setup.band_share),
                make_interval(float(off_c[row]), ends_c, setup.band_share),
                float(seen.position_lux[row]),
                bool(kept[row]),
                over_m,
                over_c,
            )
        )
    ratios = () if setup.wish is None else _find_ratios(setup, setup.wish)
    lux = float(seen.position_lux[setup.key_row])
    before = scene.plan.key.lux.value
    return ChangePlan(
        changes=_list_changes(setup, chosen),
        mired=mired,
        tint_cc=cc,
        dial=dial,
        rms_mired=float(np.sqrt(weight @ distance**2)),
        worst_mired=float(distance[weight > 0].max()),
        keeps_limits=bool(kept.all()) and not any(each.past_stops for each in ratios),
        places=tuple(places),
        key_loss_stops=math.log2(before / lux) if before > 0 and lux > 0 else 0.0,
        key_t_stop=float(setup.shooting.solve_t_stop(lux)),
        ratios=ratios,
        bent=tuple(float(joined[has & (limits.weight == each)].max()) for each in ranks),
    )


def _find_ratios(setup: Setup, wish: Wish) -> tuple[RatioLeft, ...]:
    """Find what comes of the ratios that are wanted."""
    seen = find_position_lux(setup) * find_illuminance_lux(find_source_power(setup))
    places = [each.name for each in setup.positions]
    lights = [each.name for each in setup.sources]
    found = []
    for each in wish.ratios:
        if each.at:
            row = seen[places.index(each.at)]
            over, under = (float(row[lights.index(name)]) for name in (each.key, each.fill))
        else:
            over, under = (float(seen[places.index(name)].sum()) for name in (each.key, each.fill))
        ratio = over / under if under > 0 else math.inf
        found.append(RatioLeft(each, ratio))
    return tuple(found)


def _list_chosen(
    setup: Setup, lists: Sequence[OptionList], pack: FoundPack
) -> list[tuple[OptionList, Option]]:
    """List what a pack does to which light."""
    picks, drives = iter(pack.picks), iter(pack.drives)
    chosen = []
    for each in lists:
        if each.wish.tuned:
            driven = next(drives, None)
            if driven is not None:
                chosen.append((each, drive(setup, each, driven)))
        elif pick := next(picks):
            chosen.append((each, each.options[pick]))
    return chosen


def _list_changes(setup: Setup, chosen: Sequence[tuple[OptionList, Option]]) -> tuple[Change, ...]:
    changes = []
    for each, option in chosen:
        source = setup.sources[each.row]
        eye = see_as_eye(option.power[None])[0]
        fixture = source.fixture if option.drives is not None else None
        drives = [] if option.drives is None else [float(share) for share in option.drives]
        area = each.wish.gel_m2
        how, spread = option.change, stack_filters(option.filters).spread_deg
        notes = () if how is None else how.notes
        if spread:
            text = (
                f"its diffusion spreads it to some {spread:.0f} degrees: places beside its beam "
                "get light that nobody read"
            )
            notes = (*notes, Note("spread-light", text, each.wish.light))
        if (
            fixture is not None
            and fixture.kelvin_step
            and len(fixture.channels) >= _CHOICE_CHANNELS
        ):
            text = (
                "mixes its channels by itself, and the evenest mixture stands for what it does at "
                "that Kelvin and tint: read it again when it is dialled"
            )
            notes = (*notes, Note("panel-mixture", text, each.wish.light))
        changes.append(
            Change(
                light=each.wish.light,
                filters=tuple(one.name for one in option.filters),
                pieces=each.wish.pieces if option.filters else 0,
                drives=tuple(zip(fixture.channels, drives, strict=True)) if fixture else (),
                loss_stops=option.loss_stops,
                cct_kelvin=math.nan if option.is_off else eye.cct_kelvin,
                duv=math.nan if option.is_off else eye.duv,
                is_model=any(one.is_model for one in option.filters),
                is_generic=any(
                    note.code == "generic-filter" for one in option.filters for note in one.notes
                ),
                kind="" if how is None else how.kind,
                to="" if how is None else how.name,
                dimmed_stops=0.0 if how is None else how.stops,
                volts_share=None if how is None else how.volts_share,
                spread_deg=spread,
                gel_m2=None if area is None else area * len(option.filters),
                trips=each.wish.trips,
                notes=notes,
                drive_steps=fixture.drive_steps if fixture else 0,
                panel=read_panel(fixture, np.array(drives)) if fixture else None,
            )
        )
    return tuple(changes)


def _choose_plans(
    scene: _Scene,
    lists: Sequence[OptionList],
    problem: Problem,
    result: SearchResult,
    as_it_is: ChangePlan,
) -> tuple[tuple[ChangePlan, ...], bool]:
    """Choose the plans to show: as it is, then each that is better than every simpler one. Tell
    also whether one was left out since its fixtures have no steps for it.
    """
    plans, stepless = [as_it_is], False
    found = [each for each in result.found if each.changes > 0]
    best = min(found, key=lambda e: (e.bent, round(e.left, 6), e.changes), default=None)
    fixtures = _list_fixtures(scene.setup, lists)
    prefer = (scene.setup.wish or Wish()).prefer
    for each in found:
        if best is None or each.changes > best.changes:
            break
        made = choose_drives(problem, each, fixtures, prefer)
        stepped = round_drives(problem, made, fixtures)
        if stepped is None:
            stepless = True
            continue
        followed = _follow(scene, lists, stepped)
        if stepped is not made:
            exact = _follow(scene, lists, made).rms_mired
            followed = replace(followed, rounding_mired=followed.rms_mired - exact)
        worth = 1e-6 if each is best else _WORTH_MIRED
        gain = plans[-1].rms_mired - followed.rms_mired
        nearer, before = _rank(followed), _rank(plans[-1])
        if nearer > before or (gain > worth and nearer == before):
            plans.append(followed)
    return tuple(plans), stepless


def _rank(plan: ChangePlan) -> tuple[tuple[float, ...], bool, float]:
    """Rank what comes before colour: how little limits bend, and how near the ratios come."""
    bent = tuple(-round(each, 1) for each in plan.bent)
    return bent, plan.keeps_limits, -round(plan.past_stops, 2)


def _bend_ratios(scene: _Scene, wish: Wish, lists: Sequence[OptionList]) -> Wish | None:
    """Let ratios be off by as little more as it takes; None where that is not what stands in the
    way.
    """

    def widen(more: float) -> Wish:
        wider = tuple(replace(e, within_stops=e.within_stops + more) for e in wish.ratios)
        return replace(wish, ratios=wider)

    low, high = 0.0, _MOST_BEND_STOPS
    if not search_packs(_pose(scene, widen(high), lists)).found:
        return None
    while high - low > _BEND_STOPS:
        middle = (low + high) / 2 if low else high / 4
        if search_packs(_pose(scene, widen(middle), lists)).found:
            high = middle
        else:
            low = middle
    return widen(high)


def _list_fixtures(setup: Setup, lists: Sequence[OptionList]) -> list[Fixture]:
    """List the fixtures that the search drives, in its order."""
    found = [setup.sources[each.row].fixture for each in lists if each.wish.tuned]
    return [each for each in found if each is not None]


def _offer_choices(
    scene: _Scene,
    lists: Sequence[OptionList],
    problem: Problem,
    plans: tuple[ChangePlan, ...],
    suggested: int,
) -> tuple[ChangePlan, ...]:
    """Say of the suggested plan's fixtures what other drives that look alike would cost."""
    plan = plans[suggested]
    driven = {each.light: each.drives for each in plan.changes if each.drives}
    if not driven:
        return plans
    tuned = [each for each in lists if each.wish.tuned]
    picks = []
    for each in (one for one in lists if not one.wish.tuned):
        hung = [c for c in plan.changes if c.light == each.wish.light]
        picks.append(each.options.index(_find_option(each, hung[0])) if hung else 0)
    given = [driven.get(each.wish.light) for each in tuned]
    drives = tuple(None if d is None else tuple(share for _, share in d) for d in given)
    pack = FoundPack(tuple(picks), 0.0, 0, 0.0, (), drives)
    fixtures = _list_fixtures(scene.setup, lists)
    taken = (scene.setup.wish or Wish()).prefer
    rows: dict[str, list[DriveChoice]] = {}
    for way in get_args(Preference):
        other = pack if way == taken else choose_drives(problem, pack, fixtures, way)
        for each, fixture, shares in zip(tuned, fixtures, other.drives, strict=True):
            if shares is None or len(shares) < _CHOICE_CHANNELS or fixture.kelvin_step:
                continue
            made = drive(scene.setup, each, shares)
            worn = scene.setup.sources[each.row].filter.transmittance
            rf = float(find_drive_fidelity(fixture, worn, np.array([shares]))[0])
            choice = DriveChoice(way, made.loss_stops, rf, way == taken)
            rows.setdefault(each.wish.light, []).append(choice)
    changes = tuple(replace(e, choices=tuple(rows.get(e.light, ()))) for e in plan.changes)
    return (*plans[:suggested], replace(plan, changes=changes), *plans[suggested + 1 :])


def _find_option(each: OptionList, change: Change) -> Option:
    """Find the option that a change came from."""
    for option in each.options:
        how = option.change
        if tuple(one.name for one in option.filters) == change.filters and (
            ("" if how is None else how.kind) == change.kind
            and ("" if how is None else how.name) == change.to
            and (0.0 if how is None else how.stops) == change.dimmed_stops
        ):
            return option
    raise ValueError(f"'{change.light}' has no such option")


def _note_limits(plans: Sequence[ChangePlan], suggested: int, proven: bool) -> list[Note]:
    """Say which limits stay passed, and by how much."""
    past = [each for each in plans[suggested].places if each.past_mired or each.past_cc]
    if not past:
        return []
    found = "no plan keeps" if proven else "no plan was found that keeps"
    said = ", ".join(f"{e.name} by {say_gap(e.past_mired, e.past_cc)}" for e in past)
    text = (
        f"{found} every limit, so they bend least, the heaviest weight last: plan {suggested} "
        f"passes those of {said}"
    )
    return [warn("limits-out-of-reach", text)]


def _note_outcome(
    plans: Sequence[ChangePlan], suggested: int, lists: Sequence[OptionList], proven: bool
) -> list[Note]:
    """Say in words what can be had and what not."""
    notes = []
    first, last, chosen = plans[0], plans[-1], plans[suggested]
    if suggested == 0 and lists:
        if first.worst_mired <= _AGREES_MIRED and first.keeps_limits:
            text = (
                f"as it is no position is more than {first.worst_mired:.1f} mired from its intent: "
                "leave the lights alone"
            )
        else:
            gain = first.rms_mired - last.rms_mired
            text = (
                (
                    "nothing that may be changed brings"
                    if proven
                    else "no change was found that brings"
                )
                + " the positions nearer"
                + (f" by more than {gain:.1f} mired" if gain > 0.05 else "")
                + ": leave the lights alone"
            )
        notes.append(Note("change-pointless", text))
    elif suggested < len(plans) - 1:
        gain = chosen.rms_mired - last.rms_mired
        more = last.count - chosen.count
        text = (
            f"plan {len(plans) - 1} would bring only {gain:.1f} mired more than plan {suggested}, "
            f"for {more} further change{'s' if more > 1 else ''}"
        )
        notes.append(Note("change-pointless", text))
    worst = max(
        (each for each in chosen.places if each.judged),
        key=lambda each: float(find_distance(each.off_mired.value, each.off_green_cc.value)),
    )
    if chosen.worst_mired > _MOST_LEFT_MIRED:
        off = name_cast(worst.off_mired.value, worst.off_green_cc.value)
        text = f"is still {off} from its intent in the suggested plan"
        notes.append(warn("far-off", text, worst.name))
    return notes
