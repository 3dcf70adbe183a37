"""Hard limits and the trade-off, against scipy's search and enumeration of the menu."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from tests.shared import make_setup
from wbplan.camera.sensitivities import Menu
from wbplan.camera.setting import Setting, view_camera
from wbplan.planning.best_setting import solve_balance
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.limits import find_box, find_conflicts, find_limits, move_inside, round_inside
from wbplan.planning.setups import plan_setup
from wbplan.read.catalogue import find_camera
from wbplan.scene.setup import Intent, Setup

numbers = st.floats(-100, 100)
rows = st.lists(
    st.tuples(numbers, numbers, st.floats(0.1, 5), st.floats(5, 80), st.floats(1, 20)),
    min_size=1,
    max_size=5,
)
VIEW = view_camera(find_camera("cfa-mid", Path()))


def decide(setup: Setup) -> SetupPlan:
    return plan_setup(setup, VIEW, "01-test")


def limit(setup: Setup, *limits: tuple[float, float]) -> Setup:
    places = tuple(
        replace(each, intent=Intent(within_mired=m, within_cc=c))
        for each, (m, c) in zip(setup.positions, limits, strict=True)
    )
    return replace(setup, positions=places)


@settings(max_examples=60, deadline=None)
@given(rows)
def test_setting_under_limits_is_the_minimum_that_scipy_finds(
    places: list[tuple[float, ...]],
) -> None:
    mired, cc, weight, within_m, within_c = np.array(places).T
    box = find_box(mired, cc, within_m, within_c)
    zero = np.zeros(mired.size)
    found = np.array(move_inside(*solve_balance(mired, cc, zero, zero, weight), box))
    if box.is_empty:
        return

    def cost(setting: np.ndarray) -> float:
        off = (mired - setting[0]) ** 2 + 49 * (cc - setting[1]) ** 2
        return float(weight @ off)

    ends = [(box.low_mired, box.high_mired), (box.low_cc, box.high_cc)]
    judge = minimize(cost, [float(low) for low, _ in ends], bounds=ends)
    assert cost(found) <= judge.fun + 1e-5 * max(1.0, judge.fun)
    assert (np.abs(mired - found[0]) <= within_m + 1e-9).all()
    assert (np.abs(cc - found[1]) <= within_c + 1e-9).all()


@given(rows)
def test_no_setting_keeps_all_just_when_two_conflict(places: list[tuple[float, ...]]) -> None:
    mired, cc, _, within_m, within_c = np.array(places).T
    names = [str(each) for each in range(mired.size)]
    conflicts = find_conflicts(names, mired, cc, (within_m, within_c))
    assert bool(find_box(mired, cc, within_m, within_c).is_empty) == bool(conflicts)
    for each in conflicts:  # what is missing is what the two intervals are apart
        i, j = int(each.warmer), int(each.cooler)
        apart = max(0.0, abs(mired[i] - mired[j]) - within_m[i] - within_m[j])
        assert each.mired == pytest.approx(apart, abs=1e-9)
        assert each.mired > 0 or each.cc > 0


def test_menu_setting_is_the_best_of_those_that_keep_the_limits() -> None:
    menu = Menu(tuple(range(2500, 8001, 100)), tuple(range(-10, 11)))
    box = find_box(np.array([200.0, 230.0]), np.array([0.0, 2.0]), np.array([40, 20.0]),
                   np.array([3.0, 1.0]))  # fmt: skip
    found = round_inside(menu, 190.0, 5.0, box)
    assert found is not None
    # 210 to 240 mired and 1 to 3 CC are left; the entry nearest to 190 is 4700 K (212.8 mired)
    assert (found.kelvin, found.tint_cc) == (4700, 3)
    nothing = find_box(np.array([200.1]), np.array([0.0]), np.array([0.05]), np.array([1.0]))
    assert round_inside(menu, 200.0, 0.0, nothing) is None


def test_limits_only_bind_positions_that_count() -> None:
    intents = [Intent(within_mired=10.0), Intent(within_cc=2.0), Intent()]
    mired, cc = find_limits(intents, [True, False, True])
    assert mired.tolist() == [10.0, np.inf, np.inf]
    assert np.isinf(cc).all()


def test_a_limit_pulls_the_setting_off_the_mean() -> None:
    setup = make_setup([[100.0, 0.0, 0.0], [0.0, 0.0, 100.0]])
    free = decide(setup)
    tight = decide(limit(setup, (10.0, np.inf), (np.inf, np.inf)))
    own = tight.positions[0].wanted.mired.value
    assert free.positions[0].off_intent.mired.value > 30
    assert tight.exact.mired.value == pytest.approx(own - 10.0)
    assert abs(tight.positions[0].off_intent.mired.value) <= 10.0
    assert not [note for note in tight.notes if note.code.startswith("limit")]
    assert tight.positions[0].intent_words == "neutral, within 10 mired"


def test_limits_that_conflict_are_told_by_name_and_size() -> None:
    setup = limit(make_setup([[100.0, 0.0, 0.0], [0.0, 0.0, 100.0]]), (10.0, 5.0), (10.0, 5.0))
    plan = decide(setup)
    assert plan.tradeoff is not None
    (conflict,) = plan.tradeoff.conflicts
    warm, cool = (each.wanted.mired.value for each in plan.positions)
    assert (conflict.warmer, conflict.cooler) == ("place 0", "place 1")
    assert conflict.mired == pytest.approx(warm - cool - 20.0)
    assert plan.tradeoff.common is None
    texts = [note.text for note in plan.notes if note.code == "limits-conflict"]
    assert len(texts) == 1
    assert f"{conflict.mired:.0f} mired too far apart" in texts[0].replace(" and", "")
    # the setting is then that of the mean, as if there were no limits
    assert plan.exact.mired.value == pytest.approx((warm + cool) / 2)


def test_limits_that_the_menu_or_the_shot_misses_are_told() -> None:
    setup = limit(make_setup([[100.0, 0.0, 0.0]]), (2.0, 1.0))
    shot = decide(replace(setup, shot_at=Setting(5600.0, 0.0)))
    codes = [note.code for note in shot.notes]
    assert "limit-broken" in codes
    assert "limits-off-menu" in codes


def test_tradeoff_is_what_each_setting_would_leave() -> None:
    setup = make_setup([[100.0, 20.0, 0.0], [0.0, 10.0, 100.0], [30.0, 30.0, 30.0]])
    plan = decide(setup)
    tradeoff = plan.tradeoff
    assert tradeoff is not None
    for column in (0, 20, 40):
        kelvin = 1e6 / float(tradeoff.mired[column])
        there = decide(replace(setup, shot_at=Setting(kelvin, plan.dial.tint_cc)))
        casts = [each.off_intent for each in there.positions]
        mired = [each.mired.value for each in casts]
        np.testing.assert_allclose(tradeoff.off_mired[:, column], mired, atol=1e-6)
        green = [each.green_cc.value for each in casts]
        np.testing.assert_allclose(tradeoff.off_green_cc, green, atol=1e-6)
    best = float(tradeoff.mired[tradeoff.total_mired.argmin()])
    step = float(tradeoff.mired[1] - tradeoff.mired[0])
    assert best == pytest.approx(plan.exact.mired.value, abs=step)


def test_kept_range_is_where_the_limit_is_kept() -> None:
    setup = limit(make_setup([[100.0, 0.0, 0.0], [0.0, 0.0, 100.0]]), (40.0, 4.0), (80.0, 9.0))
    tradeoff = decide(setup).tradeoff
    assert tradeoff is not None
    assert tradeoff.common is not None
    inside = np.array([0.001, -0.001])
    for end, shift in zip((tradeoff.common.low_mired, tradeoff.common.high_mired), inside,
                          strict=True):  # fmt: skip
        for step, kept in ((shift, True), (-shift, False)):
            kelvin = 1e6 / (end + step)
            plan = decide(replace(setup, shot_at=Setting(kelvin, 0.0)))
            assert kept != any(note.code == "limit-broken" for note in plan.notes)
