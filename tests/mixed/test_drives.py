"""Fixtures driven by the search: against another method, laws, choices and steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.drive_trial import Scene, find_driven, make_scene, solve_otherwise
from tests.mixed.test_search import make_problem
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.mixed.bounds import bound_packs, list_corners, prepare_bounds
from wbplan.mixed.drive_choice import choose_drives, find_drive_fidelity, round_drives
from wbplan.mixed.drives import add_drives, fit_outputs, list_starts, solve_drives
from wbplan.mixed.gel_packs import add_lights, score_packs
from wbplan.mixed.search import FoundPack, search_packs
from wbplan.scene.fixtures import Fixture


@pytest.mark.parametrize(("seed", "sizes"), [(0, (2,)), (1, (6,)), (3, (5,))])
def test_no_other_method_leaves_less(seed: int, sizes: tuple[int, ...]) -> None:
    """scipy's SLSQP from several starts, through the full solve; 0.05 mired are allowed."""
    scene = make_scene(seed, sizes)
    assert find_driven(scene).left ** 0.5 <= solve_otherwise(scene, seed) + 0.05


@pytest.mark.parametrize("size", [2, 6, 12])
def test_a_bound_is_never_above_what_drives_leave(size: int) -> None:
    problem = make_scene(7, (size,)).problem
    bounds = prepare_bounds(problem)
    assert bounds is not None
    low = float(bound_packs(bounds, 0, problem.fixed.T[:, :, None]).left[0])
    drives = np.random.default_rng(1).uniform(0, 1, (2000, size))
    drives = fit_outputs(problem.fixtures, drives)
    raw = problem.fixed.T[:, :, None] + add_drives(problem, drives)[0]
    assert low <= score_packs(problem, raw)[1].min()
    assert low <= find_driven(make_scene(7, (size,))).left + 1e-6


@pytest.mark.parametrize("size", [2, 6, 12, 32])
def test_corners_hold_whatever_a_fixture_gives(size: int) -> None:
    (fixture,) = make_scene(4, (size,)).problem.fixtures
    drives = fit_outputs((fixture,), np.random.default_rng(2).uniform(0, 1, (500, size)))
    ways = np.random.default_rng(3).normal(size=(200, 3))
    given = np.tensordot(drives, fixture.response[:, 0], (1, 0)) @ ways.T
    reach = list_corners(fixture)[:, 0] @ ways.T
    assert (given.max(axis=0) <= reach.max(axis=0) + 1e-6 * np.abs(reach).max()).all()


def test_what_a_fixture_may_give_is_kept() -> None:
    problem = make_scene(2, (6,)).problem
    (fixture,) = problem.fixtures
    firm = replace(problem, fixtures=(replace(fixture, least=0.9, most=1.1),))
    found = [each for each in search_packs(firm).found if each.drives[0] is not None]
    assert found
    for each in found:
        drives = np.array(each.drives[0])
        assert ((drives >= 0) & (drives <= 1)).all()
        assert 0.9 - 1e-6 <= drives @ fixture.output <= 1.1 + 1e-6
    free = min(each.left for each in search_packs(problem).found)
    assert free <= min(each.left for each in found) + 0.05


def test_limits_bend_where_no_drives_keep_them() -> None:
    problem = make_scene(5, (6,)).problem
    tight = np.full(problem.weight.size, 0.5)
    firm = replace(problem, within_mired=tight, within_cc=tight / 5)
    found = search_packs(firm).found
    assert found
    assert all(len(each.bent) == len(firm.ranks) for each in found)
    assert any(sum(each.bent) > 0 for each in found)


def test_lights_and_fixtures_are_searched_together() -> None:
    scene = make_scene(6, (6,))
    problem = replace(scene.problem, lights=make_problem(6, 2, 4).lights)
    result = search_packs(problem)
    alone = search_packs(replace(problem, fixtures=()))
    assert min(e.left for e in result.found) <= min(e.left for e in alone.found) + 1e-6
    assert result.packs == 2 * 5**2
    assert result.exact or result.bound[-1] < min(each.left for each in result.found)


def test_a_cap_only_cuts_short_what_stays_over_it() -> None:
    lights = make_problem(6, 1, 25).lights
    problem = replace(make_scene(6, (6,)).problem, lights=lights)
    picks = np.arange(lights[0].count)[:, None]
    raw, levels = add_lights(problem, picks), problem.fixed_levels + lights[0].levels
    start = np.repeat(list_starts(problem)[:1], picks.size, axis=0)
    whole = solve_drives(problem, raw, levels, start).left
    cap = np.full(picks.size, float(np.median(whole)))
    short = solve_drives(problem, raw, levels, start, cap=cap).left
    under = whole < cap - 0.1
    assert under.any()
    np.testing.assert_allclose(short[under], whole[under], atol=1e-3)
    assert (short[whole > cap + 0.1] > cap[0]).all()


# Which drives, and their steps -------------------------------------------------------------------


@pytest.fixture(scope="module")
def six() -> tuple[Scene, FoundPack, Fixture]:
    """A scene with a fixture of six channels, its pack, and the fixture itself."""
    scene = make_scene(1, (6,))
    (numbers,) = scene.problem.fixtures
    lit = int(numbers.response.sum(axis=(0, 2)).argmax())
    names = tuple(f"channel {row}" for row in range(6))
    return scene, find_driven(scene), Fixture(names, scene.power[0][:, lit], numbers.as_read)


def test_each_preference_is_best_at_what_it_prefers(six: tuple[Scene, FoundPack, Fixture]) -> None:
    scene, pack, fixture = six
    (numbers,) = scene.problem.fixtures
    made = {}
    for way in ("evenest", "brightest", "truest"):
        chosen = choose_drives(scene.problem, pack, [fixture], way)  # type: ignore[arg-type]
        assert chosen.left == pytest.approx(pack.left, abs=1e-2)
        assert chosen.drives[0] is not None
        made[way] = np.array(chosen.drives[0])
    drives = np.stack(list(made.values()))
    assert ((drives >= 0) & (drives <= 1)).all()
    assert (drives @ numbers.output <= numbers.most + 1e-6).all()
    spread, lux = drives.std(axis=1), find_illuminance_lux(drives @ fixture.power)
    rf = find_drive_fidelity(fixture, np.ones(401), drives)
    assert spread.argmin() == 0
    assert lux[1] >= lux.max() - 1e-6 * lux.max()
    assert rf[2] >= rf.max() - 1e-6


@pytest.mark.parametrize(("steps", "worse_mired"), [(255, 0.6), (65535, 0.01)])
def test_steps_leave_little_and_no_neighbour_leaves_less(
    six: tuple[Scene, FoundPack, Fixture], steps: int, worse_mired: float
) -> None:
    scene, pack, fixture = six
    stepped = replace(fixture, drive_steps=steps)
    made = round_drives(scene.problem, pack, [stepped])
    assert made.drives[0] is not None
    drives = np.array(made.drives[0])
    np.testing.assert_allclose(drives * steps, np.round(drives * steps), atol=1e-6)
    assert made.left**0.5 <= pack.left**0.5 + worse_mired
    (numbers,) = scene.problem.fixtures
    ways = np.vstack([np.eye(6), -np.eye(6)]) / steps
    near = np.clip(drives + ways, 0, 1)
    output = near @ numbers.output
    near = near[(output >= numbers.least) & (output <= numbers.most)]
    raw = scene.problem.fixed.T[:, :, None] + add_drives(scene.problem, near)[0]
    assert score_packs(scene.problem, raw)[1].min() >= made.left - 1e-6


def test_drives_without_steps_stay(six: tuple[Scene, FoundPack, Fixture]) -> None:
    scene, pack, fixture = six
    assert round_drives(scene.problem, pack, [fixture]) is pack
