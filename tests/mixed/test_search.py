"""The search over packs: against every pack tried, and against an independent brute force."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wbplan.camera.neutral_table import NeutralTable, tabulate_neutrals
from wbplan.camera.sensitivities import Camera, find_log2_response, respond
from wbplan.camera.setting import CameraView, solve_coordinates, view_camera
from wbplan.light.filters import CLEAR, Filter, make_ideal_filter
from wbplan.light.generic_filters import GELS, make_gel
from wbplan.light.spectrum import find_illuminance_lux, scale_to_lux
from wbplan.mixed.bounds import bound_packs, prepare_bounds
from wbplan.mixed.gel_packs import (
    LightOptions,
    Problem,
    add_lights,
    check_allowed,
    make_menu,
    score_packs,
)
from wbplan.mixed.search import SearchResult, search_packs, try_every_pack
from wbplan.read.catalogue import find_camera, find_source

LIGHTS = ("D65", "FL2", "LED-B3", "A", "LED-B5", "FL11", "FL4")
FILTERS: tuple[Filter, ...] = (
    *(make_gel(each) for each in GELS),
    *(make_ideal_filter(m, c) for m in (-100, -50, 60, 100) for c in (-10, 0, 10)),
    make_ideal_filter(25.0),
)


@cache
def see(name: str) -> tuple[CameraView, NeutralTable]:
    view = view_camera(replace_family(find_camera(name, Path())))
    return view, tabulate_neutrals(view.locus)


def replace_family(camera: Camera) -> Camera:
    return replace(camera, family="exact")


def make_options(
    view: CameraView, light: str, filters: tuple[Filter, ...], lux: np.ndarray, key: float = 0.0
) -> LightOptions:
    bare = scale_to_lux(find_source(light).values, 1.0)
    power = bare * np.stack([CLEAR.transmittance, *(each.transmittance for each in filters)])
    luminous = find_illuminance_lux(power)
    return LightOptions(
        lux[:, None] * respond(power, view.profile.sensitivities)[:, None],
        key * luminous[:, None],
        np.array([0] + [1] * len(filters)),
        -np.log2(luminous),
        np.zeros((len(filters) + 1, 0)),
    )


def make_problem(
    seed: int,
    lights: int = 4,
    filters: int = 8,
    places: int = 4,
    camera: str = "cfa-mid",
    limit: float = np.inf,
    single: bool = False,
) -> Problem:
    generator = np.random.default_rng(seed)
    view, table = see(camera)
    options = []
    for row in range(lights):
        chosen = generator.permutation(len(FILTERS))[:filters]
        lux = generator.lognormal(4, 1.3, places) * (generator.random(places) < 0.7)
        picked = tuple(FILTERS[each] for each in chosen)
        options.append(make_options(view, LIGHTS[row], picked, lux, float(lux[0])))
    day = respond(scale_to_lux(find_source("D55").values, 1.0), view.profile.sensitivities)
    weight = generator.uniform(0.5, 3, places)
    within = np.where(np.arange(places) < 2, limit, np.inf)
    menu = view.profile.menu
    pair = np.array([[1e6 / 4300, 1.0]])
    return Problem(
        lights=tuple(options),
        fixed=day * generator.lognormal(3, 1, places)[:, None],
        want_mired=generator.uniform(-20, 20, places),
        want_cc=generator.uniform(-2, 2, places),
        weight=weight / weight.sum(),
        within_mired=within,
        within_cc=within / 5,
        menu=make_menu((), (), pair) if single else make_menu(menu.kelvin, menu.tint_cc, pair[:0]),
        table=table,
        stock=np.zeros(0),
        fixed_levels=np.zeros(1),
        least_levels=np.zeros(1),
    )


def name_best(result: SearchResult) -> list[tuple[int, tuple[int, ...]]]:
    return [(each.changes, each.picks) for each in result.found]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("lights", "filters"), [(1, 29), (2, 29), (3, 12), (4, 9), (5, 5)])
def test_search_equals_trying_every_pack(seed: int, lights: int, filters: int) -> None:
    problem = make_problem(seed, lights, filters)
    result, every = search_packs(problem), try_every_pack(problem)
    assert name_best(result) == name_best(every)
    assert result.exact
    assert result.packs == (filters + 1) ** lights
    for one, two in zip(result.found, every.found, strict=True):
        assert one.left == pytest.approx(two.left, abs=1e-9)


@pytest.mark.parametrize(
    "change",
    [{"limit": 12.0}, {"single": True}, {"single": True, "limit": 25.0}, {"camera": "cfa-presets"}],
    ids=["limits", "one setting", "one setting and limits", "presets"],
)
@pytest.mark.parametrize("seed", range(4))
def test_search_equals_every_pack_under_limits_and_menus(
    seed: int, change: dict[str, object]
) -> None:
    problem = make_problem(seed, 4, 9, **change)  # type: ignore[arg-type]
    assert name_best(search_packs(problem)) == name_best(try_every_pack(problem))


def test_search_equals_every_pack_for_a_tint_along_duv() -> None:
    problem = make_problem(3, 3, 6, camera="cfa-duv-tint")
    assert name_best(search_packs(problem)) == name_best(try_every_pack(problem))


def test_more_packs_than_can_be_tried_are_proven_or_bounded() -> None:
    problem = make_problem(0, 6, 29)
    result = search_packs(problem)
    assert result.packs == 30**6
    best = min(each.left for each in result.found)
    assert result.bound[-1] <= best + 1e-6
    assert result.exact == all(
        low >= min(each.left for each in result.found if each.changes <= count) - 1e-6
        for count, low in enumerate(result.bound)
    )
    # nothing that can be reached by chance is better
    generator = np.random.default_rng(1)
    picks = generator.integers(0, 30, (100_000, 6))
    assert score_packs(problem, add_lights(problem, picks)).min() >= result.bound[-1]
    assert search_packs(problem) == result


# An independent brute force: every pack and every setting of the menu, through spectra ------------


@pytest.mark.parametrize("camera", ["cfa-mid", "layered-measured"])
def test_best_pack_is_what_spectra_and_every_setting_say(camera: str) -> None:
    view, table = see(camera)
    generator = np.random.default_rng(5)
    lights, places = ("FL2", "A", "LED-B5"), 3
    filters = tuple(make_gel(each) for each in GELS if each.name.split()[0] in ("full", "half"))[:5]
    lux = generator.uniform(20, 400, (places, len(lights)))
    want_m, want_c = np.array([0.0, 30.0, -15.0]), np.array([0.0, 1.0, 0.0])
    weight = np.array([0.5, 0.3, 0.2])
    menu = view.profile.menu
    mired = np.array([1e6 / each for each in menu.kelvin])
    best: dict[int, tuple[float, tuple[int, ...]]] = {}
    power = [scale_to_lux(find_source(each).values, 1.0) for each in lights]
    passes = [np.ones(401), *(each.transmittance for each in filters)]
    for picks in product(range(len(passes)), repeat=len(lights)):
        light = sum(lux[:, [row]] * power[row] * passes[pick] for row, pick in enumerate(picks))
        raw = respond(light, view.profile.sensitivities)
        found = solve_coordinates(view.locus, find_log2_response(raw)[:, None, :])
        off_m = found.mired[:, 0] - want_m
        off_c = found.tint_cc[:, 0] - want_c
        left_m = weight @ (off_m[:, None] - mired) ** 2
        left_c = weight @ (off_c[:, None] - np.array(menu.tint_cc)) ** 2
        left = float((left_m[:, None] + 49.0 * left_c).min())  # 1 CC as 7 mired, every setting
        changes = sum(pick > 0 for pick in picks)
        if changes not in best or left < best[changes][0]:
            best[changes] = (left, picks)
    problem = Problem(
        lights=tuple(
            make_options(view, each, filters, lux[:, row]) for row, each in enumerate(lights)
        ),
        fixed=np.zeros((places, 3)),
        want_mired=want_m,
        want_cc=want_c,
        weight=weight,
        within_mired=np.full(places, np.inf),
        within_cc=np.full(places, np.inf),
        menu=make_menu(menu.kelvin, menu.tint_cc, np.empty((0, 2))),
        table=table,
        stock=np.zeros(0),
        fixed_levels=np.zeros(1),
        least_levels=np.zeros(1),
    )
    for each in search_packs(problem).found:
        assert each.picks == best[each.changes][1]
        assert each.left == pytest.approx(best[each.changes][0], abs=0.02)


# Laws ------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), level=st.integers(1, 4), limit=st.sampled_from([np.inf, 15.0]))
def test_a_bound_is_never_above_what_follows(seed: int, level: int, limit: float) -> None:
    problem = make_problem(seed, 4, 10, limit=limit)
    bounds = prepare_bounds(problem)
    assert bounds is not None
    generator = np.random.default_rng(seed)
    begun = generator.integers(0, 11, level)
    picks = generator.integers(0, 11, (500, 4))
    picks[:, :level] = begun
    raw = problem.fixed.T[:, :, None].copy()
    for row in range(level):
        light = problem.lights[row]
        raw[:, :, 0] += light.response[begun[row]].T
    low = float(bound_packs(bounds, level, raw)[0])
    assert low <= score_packs(problem, add_lights(problem, picks)).min() + 1e-9


@given(scale=st.floats(1e-3, 1e3))
@settings(max_examples=15, deadline=None)
def test_scaling_all_lux_changes_nothing(scale: float) -> None:
    problem = make_problem(2, 3, 6)
    scaled = replace(
        problem,
        fixed=problem.fixed * scale,
        lights=tuple(replace(each, response=each.response * scale) for each in problem.lights),
    )
    one, two = search_packs(problem), search_packs(scaled)
    assert name_best(one) == name_best(two)


def test_a_light_at_zero_lux_is_never_changed() -> None:
    problem = make_problem(2, 3, 6)
    view, _ = see("cfa-mid")
    dark = make_options(view, "FL4", FILTERS[:6], np.zeros(4))
    more = search_packs(replace(problem, lights=(*problem.lights, dark)))
    plain = search_packs(problem)
    # the best of so many changes or fewer is the same, and does not touch the dark light
    for count in range(4):
        one = min((each for each in plain.found if each.changes <= count), key=lambda e: e.left)
        two = min((each for each in more.found if each.changes <= count), key=lambda e: e.left)
        assert two.picks == (*one.picks, 0)
        assert two.left == pytest.approx(one.left, abs=1e-9)
    assert more.bound[-1] == pytest.approx(plain.bound[-1], abs=1e-9)


def test_order_of_positions_and_lights_does_not_count() -> None:
    problem = make_problem(4, 3, 8)
    rows = np.array([2, 0, 3, 1])
    turned = replace(
        problem,
        fixed=problem.fixed[rows],
        want_mired=problem.want_mired[rows],
        want_cc=problem.want_cc[rows],
        weight=problem.weight[rows],
        lights=tuple(
            replace(each, response=each.response[:, rows]) for each in reversed(problem.lights)
        ),
    )
    one, two = search_packs(problem), search_packs(turned)
    assert [each.picks for each in one.found] == [each.picks[::-1] for each in two.found]


def test_stock_and_the_light_at_the_key_are_kept() -> None:
    problem = make_problem(1, 3, 6)
    lights = tuple(
        replace(each, use=np.eye(7)[:, 1:] if row else np.eye(7)[:, 1:] * 4)
        for row, each in enumerate(problem.lights)
    )
    now = sum(each.levels[0] for each in lights)
    tight = replace(problem, lights=lights, stock=np.full(6, 3.0), least_levels=0.8 * now)
    result, every = search_packs(tight), try_every_pack(tight)
    assert name_best(result) == name_best(every)
    picks = np.array([each.picks for each in result.found])
    assert check_allowed(tight, picks).all()
    assert (picks[:, 0] == 0).all()  # it takes four pieces and there are three
    assert name_best(result) != name_best(search_packs(problem))


def test_equals_are_settled_by_light_then_by_order() -> None:
    problem = make_problem(6, 2, 5)
    first = problem.lights[0]
    rows = [0, 1, 2, 3, 4, 5, 1, 2, 3, 4, 5]  # every filter twice
    twice = replace(
        first,
        response=first.response[rows],
        levels=first.levels[rows],
        changes=first.changes[rows],
        loss_stops=first.loss_stops[rows],
        use=first.use[rows],
    )
    doubled = replace(problem, lights=(twice, problem.lights[1]))
    assert name_best(search_packs(doubled)) == name_best(search_packs(problem))


def test_nothing_to_change_is_one_pack() -> None:
    problem = replace(make_problem(0, 2, 3), lights=())
    result = search_packs(problem)
    assert [each.picks for each in result.found] == [()]
    assert result.exact
    assert result.packs == 1


def test_limits_that_nothing_keeps_leave_nothing() -> None:
    assert search_packs(make_problem(0, 2, 3, limit=1e-4)).found == ()


def test_progress_rises_to_the_end() -> None:
    told: list[float] = []
    search_packs(make_problem(0, 5, 9), lambda share, _: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > 2


# The table -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["cfa-mid", "nikon-d5100", "layered-measured"])
def test_table_agrees_with_the_solve(name: str) -> None:
    view, table = see(name)
    generator = np.random.default_rng(2)
    red_blue = generator.uniform(table.low, table.high, 5000)
    green = generator.uniform(-2, 2, 5000)
    mired, cc, inside = table.read(red_blue, green)
    neutral = np.stack([red_blue / 2, green, -red_blue / 2], axis=-1)[:, None, :]
    solved = solve_coordinates(view.locus, neutral)
    assert inside.all()
    np.testing.assert_allclose(mired, solved.mired[:, 0], atol=1e-3)
    np.testing.assert_allclose(cc, solved.tint_cc[:, 0], atol=1e-3)
    assert not table.read(np.array([table.high + 0.1]), np.zeros(1))[2].any()


def test_table_along_duv_agrees_with_the_solve() -> None:
    view, table = see("cfa-duv-tint")
    generator = np.random.default_rng(2)
    lights = np.stack([find_source(each).values for each in LIGHTS])
    mixes = generator.dirichlet(np.ones(len(LIGHTS)), 2000) @ lights
    log2 = find_log2_response(respond(mixes, view.profile.sensitivities))
    red_blue = log2[:, 0] - log2[:, 2]
    mired, cc, inside = table.read(red_blue, log2[:, 1] - (log2[:, 0] + log2[:, 2]) / 2)
    solved = solve_coordinates(view.locus, log2[:, None, :])
    assert inside.all()
    np.testing.assert_allclose(mired, solved.mired[:, 0], atol=0.06)
    np.testing.assert_allclose(cc, solved.tint_cc[:, 0], atol=0.02)
