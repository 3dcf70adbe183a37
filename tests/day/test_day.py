"""A day as values: times by the clock, windows, takes, filter changes, LUTs."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sky.test_broken import SCENARIO as CLOUD
from wbplan.camera.setting import Setting, view_camera
from wbplan.day.filters import TOUCH_MIRED, _follow
from wbplan.day.luts import step_casts
from wbplan.day.scene import DayScene, move_setup, respond_to_day
from wbplan.day.setups import DaySetup, plan_day_setup
from wbplan.day.times import DayWish, Tolerance, list_moments, list_seconds, say_clock
from wbplan.day.windows import find_take_ends, find_window_around, find_windows, serve
from wbplan.light.generic_filters import find_generic
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.planning.setups import decide_setup
from wbplan.read.scenario.reader import read_scenario
from wbplan.scene.cautions import SUN
from wbplan.scene.setup import Setup

pytest.importorskip("pvlib")

SCENARIO = """\
wbplan: 1
title: Yard
camera: nikon-d5100
site:
  {latitude_deg: 54.4, longitude_deg: 4.4, time_zone: Europe/Brussels, horizon: {90: 20, 180: 0}}
sources:
  sun: {sun: {facing: {azimuth_deg: 200}}}
  sky: {sky: {facing: {azimuth_deg: 200}}}
  window: {sky: {facing: {azimuth_deg: 315}}, filter: {nd_stops: 0.5}}
  lamp: {lamp: LED-B3}
  bulb: {black_body_kelvin: 2900}
setups:
  - name: Yard
    when: 2026-06-21 14:30
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    positions:
      face: {lux: {sun: model, sky: model}}
      other: {lux: {sky: {share: 0.5}}, intent: leave}
  - name: Room
    when: 2026-06-21 14:30
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8}
    positions:
      hands: {lux: {window: 240, lamp: 160}, weight: 2}
      wall: {lux: {window: 30, bulb: 45}, intent: {warm_mired: 40}, weight: 1, within: {mired: 60}}
    advise:
      lights:
        lamp: {filters: [eighth blue, quarter blue, eighth orange, quarter orange]}
        bulb: {filters: [eighth blue, quarter blue, half blue, full blue]}
"""


@pytest.fixture(scope="module")
def setups(tmp_path_factory: pytest.TempPathFactory) -> tuple[Setup, ...]:
    path = tmp_path_factory.mktemp("day") / "yard.yaml"
    path.write_text(SCENARIO)
    return read_scenario(path).setups


@pytest.fixture(scope="module")
def yard(setups: tuple[Setup, ...]) -> DaySetup:
    wish = DayWish(begin=360, end=1320)
    return plan_day_setup(setups[0], view_camera(setups[0].camera), wish, ("01-yard", ""))


@pytest.fixture(scope="module")
def room(setups: tuple[Setup, ...]) -> DaySetup:
    wish = DayWish(begin=480, end=1260, step_minutes=30)
    return plan_day_setup(setups[1], view_camera(setups[1].camera), wish, ("02-room", ""))


# --- the clock ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        # Summer time in Central Europe begins on the last Sunday of March and ends on that of
        # October (Directive 2000/84/EC): 29 March and 25 October 2026.
        (date(2026, 3, 29), 23),
        (date(2026, 6, 21), 24),
        (date(2026, 10, 25), 25),
    ],
)
def test_days_of_23_and_25_hours(day: date, hours: int) -> None:
    moments = list_moments(day, "Europe/Brussels", DayWish(step_minutes=60))
    assert len(moments) == hours + 1
    assert set(np.diff(list_seconds(moments))) == {3600.0}
    assert say_clock(moments[0]) == say_clock(moments[-1]) == "00:00"
    shown = [say_clock(each) for each in moments]
    assert ("02:00" in shown) == (hours != 23)
    assert shown.count("02:00") == (2 if hours == 25 else hours - 23)


def test_from_and_to() -> None:
    wish = DayWish(begin=630, end=700, step_minutes=20)
    moments = list_moments(date(2026, 6, 21), "Europe/Brussels", wish)
    assert [say_clock(each) for each in moments] == ["10:30", "10:50", "11:10", "11:30"]
    one = list_moments(date(2026, 6, 21), "UTC", replace(wish, end=630))
    assert len(one) == 1


# --- the scene ----------------------------------------------------------------------------------


@pytest.mark.parametrize("which", [0, 1])
def test_a_day_is_what_a_plan_says_at_each_time(
    setups: tuple[Setup, ...], yard: DaySetup, room: DaySetup, which: int
) -> None:
    """The judge is `decide_setup` on the scene moved to that time, bands included.

    But for levels that were read: a plan takes a reading as it is, and a day carries it on
    through air that nobody knows, so its band may only be wider.
    """
    day = (yard, room)[which]
    setup = setups[which]
    camera = view_camera(setup.camera)
    rows = np.flatnonzero(day.scene.usable)[:: 14 if which == 0 else 9]
    assert rows.size >= 3
    for row in rows:
        made = decide_setup(move_setup(setup, day.moments[row]), camera, "x")
        for band, want in (
            (day.scene.exact_mired, made.exact.mired),
            (day.scene.exact_tint_cc, made.exact.tint_cc),
        ):
            assert band.value[row] == pytest.approx(want.value, abs=1e-6)
            if which == 0:
                ends = (band.low[row], band.high[row])
                assert ends == pytest.approx((want.low, want.high), abs=1e-6)
        for place, position in enumerate(made.positions):
            lux = day.scene.lux
            assert lux.value[row, place] == pytest.approx(position.lux.value, rel=1e-9)
            low, high = lux.low[row, place], lux.high[row, place]
            if which == 0:
                ends = (position.lux.low, position.lux.high)
                assert (low, high) == pytest.approx(ends, rel=1e-9)
            else:
                assert low <= position.lux.low + 1e-9
                assert high >= position.lux.high - 1e-9
            assert day.t_stop.value[row, place] == pytest.approx(position.t_stop.value, rel=1e-9)
            assert day.from_key_stops[row, place] == pytest.approx(position.from_key_stops)
            if position.nd_for_stop is not None:
                assert day.nd_stops is not None
                assert day.nd_stops.value[row, place] == pytest.approx(position.nd_for_stop)


def test_a_reading_is_carried_by_the_model(setups: tuple[Setup, ...], room: DaySetup) -> None:
    """240 lux through the window at 14:30; at another time as the modelled sky goes."""
    setup = setups[1]
    row = [say_clock(each) for each in room.moments].index("14:30")
    assert room.scene.source_lux[row, 0, 0] == pytest.approx(240)
    other = [say_clock(each) for each in room.moments].index("18:00")
    moved = move_setup(setup, room.moments[other])
    first, then = setup.sources[0].sky, moved.sources[0].sky
    assert first is not None
    assert then is not None
    assert room.scene.source_lux[other, 0, 0] == pytest.approx(240 * then.lux / first.lux)
    assert room.scene.source_lux[other, 0, 1] == 160


def test_deep_twilight_and_night_are_refused_with_a_reason(
    yard_scene: tuple[DayScene, Setup],
) -> None:
    scene, _ = yard_scene
    assert scene.elevation_deg.min() < -8
    for row, said in enumerate(scene.refused):
        height = scene.elevation_deg[row]
        assert bool(said) == (height < -8)
        assert bool(said) == np.isnan(scene.lux.value[row]).all()
        if said:
            assert "night are not modelled" in said
            assert np.isnan(scene.exact_mired.value[row])


def test_sun_over_shade(yard: DaySetup) -> None:
    """log2 of all light over the light without the beam, where the beam falls."""
    scene = yard.scene
    lit = scene.beam_lux[:, 0] > 0
    total, beam = scene.lux.value[lit, 0], scene.beam_lux[lit, 0]
    assert yard.sun_over_shade_stops[lit, 0] == pytest.approx(np.log2(total / (total - beam)))
    assert np.isnan(yard.sun_over_shade_stops[~lit, 0]).all()
    assert np.isnan(yard.sun_over_shade_stops[:, 1]).all()
    # Clear noon: the sun about three to four stops over open sky alone on level ground (80 klx
    # against 12 klx; common practice, no source). On an upright face with sunlit ground, less.
    assert 1.0 < yard.sun_over_shade_stops[lit, 0].max() < 3.5


def test_sun_over_shade_under_broken_cloud(tmp_path: Path) -> None:
    """With the sun out what it adds, through the usual thin cloud; hidden, nothing to say."""
    wish = DayWish(begin=720, end=840, step_minutes=60)
    stops = {}
    for state, name in (("out", "lit"), ("hidden", "dull")):
        (tmp_path / "a.yaml").write_text(CLOUD.replace("{lit: model}", f"{{{name}: model}}"))
        setup = read_scenario(tmp_path / "a.yaml").setups[0]
        day = plan_day_setup(setup, view_camera(setup.camera), wish, ("x", ""))
        stops[state] = day.sun_over_shade_stops[:, 0]
    # Flat ground at Helsinki, minutes with the sun out and over 30 degrees, whole over diffuse
    # photons: the middle 90 % 0.86 to 1.97 stops in 2015, 0.96 to 2.23 in 2023 (data of
    # photobiologySun; figures worked out from its minutes).
    assert ((stops["out"] > 0.86) & (stops["out"] < 2.23)).all()
    assert np.isnan(stops["hidden"]).all()


# --- windows and takes --------------------------------------------------------------------------

LEVELS = st.lists(st.floats(-3, 3), min_size=1, max_size=14)


@settings(max_examples=200, deadline=None)
@given(LEVELS, st.data(), st.floats(0.05, 2))
def test_windows_are_the_fewest_and_keep_their_stop(
    levels: list[float], data: st.DataObject, stops: float
) -> None:
    """Against every way to cut the served times into runs of one stop."""
    level = np.array(levels)
    fine = np.array(data.draw(st.lists(st.booleans(), min_size=level.size, max_size=level.size)))
    windows = find_windows(fine, level, stops)
    held = [row for each in windows for row in range(each.first, each.last + 1)]
    assert held == list(np.flatnonzero(fine))
    for each in windows:
        part = level[each.first : each.last + 1]
        assert np.abs(part - each.key_log2_lux).max() <= stops + 1e-6

    def count(first: int) -> int:
        if first >= level.size:
            return 0
        if not fine[first]:
            return count(first + 1)
        best = 99
        for last in range(first, level.size):
            part = level[first : last + 1]
            if not fine[last] or np.ptp(part) > 2 * stops + 1e-9:
                break
            best = min(best, 1 + count(last + 1))
        return best

    if level.size <= 9:
        assert len(windows) == count(0)


def test_a_window_around_an_hour() -> None:
    fine = np.array([True, True, False, True, True, True, True])
    level = np.array([0.0, 0.0, 0.0, 0.2, 0.0, -0.4, 0.9])
    window = find_window_around(4, fine, level, 0.5)
    assert window is not None
    assert (window.first, window.last, window.key_log2_lux) == (3, 5, 0.0)
    assert find_window_around(2, fine, level, 0.5) is None


def test_the_best_setting_serves_most(setups: tuple[Setup, ...], yard: DaySetup) -> None:
    """By trying the whole menu, one entry after the other."""
    setup = setups[0]
    intents = [each.intent for each in setup.positions]
    menu = setup.camera.menu
    most = max(
        int(serve(yard.scene, intents, Setting(kelvin, tint), yard.wish.within).sum())
        for kelvin, tint in product(menu.kelvin, menu.tint_cc)
    )
    assert yard.whole is not None
    assert most == serve(yard.scene, intents, yard.whole.setting, yard.wish.within).sum()
    assert most == sum(each.last - each.first + 1 for each in yard.whole.windows)


@settings(max_examples=15, deadline=None)
@given(st.floats(1, 40), st.floats(0.2, 5), st.floats(0.05, 1))
def test_a_wider_tolerance_never_serves_less(
    yard_scene: tuple[DayScene, Setup], mired: float, cc: float, stops: float
) -> None:
    scene, setup = yard_scene
    names = [each.name for each in setup.positions]
    intents = [each.intent for each in setup.positions]
    tight, wide = Tolerance(mired, cc, stops), Tolerance(mired * 1.3, cc * 1.3, stops * 1.3)
    setting = Setting(6000.0, 0.0)
    served = serve(scene, intents, setting, tight), serve(scene, intents, setting, wide)
    assert (served[1] | ~served[0]).all()
    for short, long in zip(
        find_take_ends(scene, names, tight), find_take_ends(scene, names, wide), strict=True
    ):
        assert (short is None) == (long is None)
        if short is not None and long is not None:
            assert long.last >= short.last


@pytest.fixture(scope="module")
def yard_scene(setups: tuple[Setup, ...]) -> tuple[DayScene, Setup]:
    moments = list_moments(date(2026, 6, 21), "Europe/Brussels", DayWish(step_minutes=30))
    seconds = list_seconds(moments)
    setup = setups[0]
    return respond_to_day(setup, view_camera(setup.camera), seconds), setup


def test_takes_end_where_something_has_drifted(setups: tuple[Setup, ...], yard: DaySetup) -> None:
    scene, within = yard.scene, yard.wish.within
    every = np.stack([scene.mired.value, scene.tint_cc.value, np.log2(scene.lux.value)])
    shown, names = every[:, :, 0], [each.name for each in yard.setup.positions]
    limits = np.array([within.mired, within.cc, within.stops])[:, None]
    for start, end in enumerate(yard.takes):
        assert (end is None) == (not scene.usable[start])
        if end is None:
            continue
        kept = np.abs(shown[:, start : end.last + 1] - shown[:, start : start + 1])
        assert (kept <= limits + 1e-6).all()
        if end.why and end.about:
            there = every[:, :, names.index(end.about)]
            after = np.abs(there[:, end.last + 1] - there[:, start])
            assert not (after <= limits[:, 0]).all()
        if end.why and not end.about:
            assert scene.refused[end.last + 1]
    ended = {each.why.split()[-1] for each in yard.takes if each is not None and each.about}
    assert ended <= {"mired", "CC", "stops", "light"}
    assert "stops" in ended


def test_takes_watch_the_whole_picture(setups: tuple[Setup, ...], yard: DaySetup) -> None:
    """By the words of the issue, frame by frame: all that has light, and what gets some."""
    scene, within = yard.scene, yard.wish.within
    assert setups[0].positions[1].intent.weight == 0  # 'leave' is watched as well
    lux, mired, tint = scene.lux.value, scene.mired.value, scene.tint_cc.value
    for start, end in enumerate(yard.takes):
        if end is None:
            continue
        last = start
        while last + 1 < lux.shape[0]:
            after = last + 1
            same = not scene.refused[after]
            for place in range(lux.shape[1]):
                now, then = lux[after, place], lux[start, place]
                if then > 0:
                    same &= bool(now > 0)
                    same &= bool(abs(mired[after, place] - mired[start, place]) <= within.mired)
                    same &= bool(abs(tint[after, place] - tint[start, place]) <= within.cc)
                    same &= bool(abs(np.log2(now / then)) <= within.stops)
                else:
                    same &= not now > 0
            if not same:
                break
            last = after
        assert end.last == last


def test_a_dark_place_that_gets_sun_ends_a_take(setups: tuple[Setup, ...]) -> None:
    setup = setups[0]
    beam = replace(setup.positions[1], lux=setup.positions[0].lux * [1, 0], model_share=(1.0, None))
    moved = replace(setup, positions=(setup.positions[1], beam), key="other")
    moved = replace(
        moved,
        positions=tuple(
            replace(x, intent=setup.positions[0].intent, name=n)
            for x, n in zip(moved.positions, ("other", "beam"), strict=True)
        ),
    )
    wish = DayWish(begin=600, end=720, step_minutes=10, within=Tolerance(500.0, 100.0, 9.0))
    day = plan_day_setup(moved, view_camera(moved.camera), wish, ("x", ""))
    dark = np.flatnonzero(day.scene.lux.value[:, 1] == 0)
    assert 0 < dark.size < len(day.moments)
    end = day.takes[0]
    assert end is not None
    assert (end.why, end.about, end.last) == ("new light", "beam", dark[-1])


def test_a_sun_with_its_sky_is_still_over_its_shade(tmp_path: Path) -> None:
    """One source that holds both says what two sources say."""
    both = SCENARIO.replace("{sun: model, sky: model}", "{sun: model}").replace(
        "sun: {sun: {facing: {azimuth_deg: 200}}}",
        "sun: {sun: {facing: {azimuth_deg: 200}, with_sky: true}}",
    )
    assert both != SCENARIO
    wish = DayWish(begin=480, end=1200, step_minutes=60)
    days = []
    for each in (SCENARIO, both):
        (tmp_path / "a.yaml").write_text(each)
        setup = read_scenario(tmp_path / "a.yaml").setups[0]
        days.append(plan_day_setup(setup, view_camera(setup.camera), wish, ("x", "")))
    two, one = (each.sun_over_shade_stops[:, 0] for each in days)
    assert np.isnan(two).any()
    assert one == pytest.approx(two, nan_ok=True)
    said = [[n.text for n in each.notes if n.code == "sun-reaches"] for each in days]
    assert said[0] == said[1]


def test_what_the_day_does_not_follow_is_said(setups: tuple[Setup, ...], yard: DaySetup) -> None:
    setup = replace(setups[0], beside=(setups[0].camera,))
    wish = DayWish(begin=420, end=440)
    day = plan_day_setup(setup, view_camera(setup.camera), wish, ("x", ""))
    (note,) = (each for each in day.notes if each.code == "not-followed")
    assert f"the cameras beside ({setup.camera.name})" in note.text
    assert not any(each.code == "not-followed" for each in yard.notes)
    # The face in the shade of the wall asks for more than the menu has: said, with its times.
    top = setup.camera.menu.kelvin[-1]
    off = [
        f"{say_clock(m)}"
        for m, x in zip(yard.moments, yard.scene.exact_mired.value, strict=True)
        if 1e6 / x > top + 0.5
    ]
    (warning,) = (each for each in yard.notes if each.code == "off-menu-kelvin")
    assert off
    assert warning.weight == "warning"
    assert f": {off[0]} to " in warning.text


def test_a_short_day_is_told_by_its_ends(setups: tuple[Setup, ...]) -> None:
    wish = DayWish(begin=730, end=770)
    day = plan_day_setup(setups[0], view_camera(setups[0].camera), wish, ("x", ""))
    assert [say_clock(day.moments[row]) for row in day.hours] == ["12:10", "12:50"]


def test_a_day_of_a_source_with_its_own_time(tmp_path: Path) -> None:
    text = SCENARIO.replace("    when: 2026-06-21 14:30\n", "").replace(
        "{facing: {azimuth_deg: 200}}", "{facing: {azimuth_deg: 200}, when: 2026-06-21 14:30}"
    )
    text = text.split("  - name: Room")[0]
    (tmp_path / "a.yaml").write_text(text)
    setup = read_scenario(tmp_path / "a.yaml").setups[0]
    assert setup.when is None
    wish = DayWish(begin=720, end=780)
    day = plan_day_setup(setup, view_camera(setup.camera), wish, ("x", ""))
    assert day.moments[0].date() == date(2026, 6, 21)


def test_the_best_setting_is_one_that_can_be_exposed(tmp_path: Path) -> None:
    """While the key is dark there is no stop to shoot at, so such times do not choose."""
    text = SCENARIO.replace("{sun: model, sky: model}", "{sun: model}").replace(
        "{sky: {share: 0.5}}, intent: leave", "{lamp: 300}"
    )
    (tmp_path / "a.yaml").write_text(text)
    setup = read_scenario(tmp_path / "a.yaml").setups[0]
    wish = DayWish(begin=420, end=1200, step_minutes=30, within=Tolerance(60.0, 9.0, 0.5))
    day = plan_day_setup(setup, view_camera(setup.camera), wish, ("x", ""))
    lit = day.scene.lux.value[:, 0] > 0
    assert 0 < lit.sum() < lit.size
    assert day.whole is not None
    held = [row for each in day.whole.windows for row in range(each.first, each.last + 1)]
    assert held
    assert lit[held].all()


def test_hours_stand_by_the_clock(yard: DaySetup) -> None:
    shown = [say_clock(yard.moments[row]) for row in yard.hours]
    assert shown[0] == "06:00"
    assert all(each.endswith(":00") for each in shown)
    assert len(set(shown)) == len(shown) > 10


def test_a_beam_that_nobody_names_is_warned_of(yard: DaySetup, room: DaySetup) -> None:
    """A window to the north-west that names only sky; on 21 June at 54 north the sun stands in the
    plane of it (azimuth 225) at about 15:30 summer time there, and shines in till evening.
    """
    (half,) = (each for each in yard.notes if each.code == "sun-unnamed")
    assert "for it at other:" in half.text  # and not at face, which names the sun
    (note,) = (each for each in room.notes if each.code == "sun-unnamed")
    assert note.about == "window"
    assert note.weight == "warning"
    assert "at hands, wall" in note.text
    begin, end = re.search(r"from (\d\d:\d\d) to (\d\d:\d\d)", note.text).groups()  # type: ignore[union-attr]
    azimuth = dict(zip(map(say_clock, room.moments), room.scene.azimuth_deg, strict=True))
    assert 225 < azimuth[begin] < 234  # said from a tenth of a stop on
    # At 21:00, the last time, a part of the disc still looks over the roofs, which climb in a
    # straight line from 0 in the south to 20 degrees in the east: its radius is 0.2666.
    assert end == "21:00"
    over = room.scene.elevation_deg[-1] - 20 * (room.scene.azimuth_deg[-1] - 180) / 270
    assert -0.2666 < over < 0.2666


# --- filters ------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4), st.sampled_from([(2,), (3,), (2, 2), (2, 3)]))
def test_the_schedule_is_the_cheapest_there_is(
    seed: int, times: int, sizes: tuple[int, ...]
) -> None:
    """Against every schedule, one by one."""
    picks = np.array(list(product(*(range(each) for each in sizes))))
    cost = np.random.default_rng(seed).uniform(0, 60, (times, len(picks)))
    touch = TOUCH_MIRED**2

    def price(path: tuple[int, ...]) -> float:
        hung = [np.zeros(len(sizes), dtype=int), *(picks[each] for each in path)]
        touched = sum(int((a != b).sum()) for a, b in pairwise(hung))
        return float(sum(cost[t, each] for t, each in enumerate(path)) + touch * touched)

    best = min(price(path) for path in product(range(len(picks)), repeat=times))
    assert price(tuple(int(each) for each in _follow(cost, picks))) == pytest.approx(best)


def test_lights_are_dimmed_through_the_day_so_that_a_ratio_holds(tmp_path: Path) -> None:
    """Levels by hand: what the sky gives then over the lamp's 160 lux, halved for each stop."""
    wish = """
        lamp: {off: true, dim_stops: [1, 2, 3], filters: [quarter orange]}
      ratios: [{at: hands, key: window, fill: lamp, ratio: 3, within_stops: 0.6}]
"""
    text = SCENARIO[: SCENARIO.index("        lamp: {filters")].rstrip() + wish
    (tmp_path / "a.yaml").write_text(text)
    setup = read_scenario(tmp_path / "a.yaml").setups[1]
    day = plan_day_setup(
        setup, view_camera(setup.camera), DayWish(begin=540, end=1320, step_minutes=60), "x"
    )
    plan = day.changes
    assert plan is not None
    ways = {each.way_after for each in plan.changes}
    assert any(each.startswith("dimmed by") for each in ways)
    assert not any(each.code == "not-followed" for each in day.notes)
    (missed,) = (each for each in plan.notes if each.code == "ratio-out-of-reach")
    names = [each.name for each in setup.sources]
    lamp = setup.sources[names.index("lamp")]
    way, worn, out = "", (), 0
    for at in plan.at:
        for change in (each for each in plan.changes if each.at == at):
            way, worn = change.way_after, change.after
        stops = float(way.split()[2]) if way.startswith("dimmed") else 0.0
        through = find_generic("quarter orange") if worn else None
        power = lamp.spectrum.values * (1.0 if through is None else through.transmittance)
        passed = find_illuminance_lux(power) / find_illuminance_lux(lamp.spectrum.values)
        window = (
            day.scene.source_lux[at, 0, names.index("window")] * 2**-0.5
        )  # its filter is half a stop
        with np.errstate(divide="ignore"):  # by night
            ratio = np.log2(window / (160 * 2**-stops * passed)) if way != "off" else np.inf
        out += abs(ratio - np.log2(3)) > 0.6 + 1e-3
    assert 0 < out < len(plan.at)
    assert f"at {out} of {len(plan.at)} times" in missed.text


def test_changes_of_the_room(room: DaySetup) -> None:
    plan = room.changes
    assert plan is not None
    assert plan.is_every_pack
    assert plan.packs == 25
    assert set(plan.lights) == {"lamp", "bulb"}
    hung = {"lamp": (), "bulb": ()}
    for change in plan.changes:
        assert change.before == hung[change.light]
        assert change.before != change.after
        hung[change.light] = change.after
    assert (np.diff([each.at for each in plan.changes]) >= 0).all()
    gain = np.nanmean(plan.untouched_mired**2 - plan.left_mired**2) * 13
    assert gain > TOUCH_MIRED**2 * len(plan.changes) * 0.9


def test_without_a_wish_daylight_is_left_alone(setups: tuple[Setup, ...]) -> None:
    setup = replace(setups[1], wish=None)
    wish = DayWish(begin=720, end=900, step_minutes=60)
    day = plan_day_setup(setup, view_camera(setup.camera), wish, ("x", ""))
    assert day.changes is not None
    assert set(day.changes.lights) == {"lamp", "bulb"}
    assert day.changes.is_assumed


# --- LUTs ---------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(50, 400), st.floats(-8, 8)), min_size=1, max_size=40),
    st.floats(1, 30),
    st.floats(0.5, 5),
)
def test_casts_cover_every_time_once_within_the_tolerance(
    points: list[tuple[float, float]], mired: float, cc: float
) -> None:
    m, c = np.array(points).T
    steps = step_casts(m, c, Tolerance(mired, cc, 1.0))
    assert sorted(row for each in steps for row in each.times) == list(range(m.size))
    for each in steps:
        rows = list(each.times)
        assert np.abs(m[rows] - each.mired).max() <= mired + 1e-6
        assert np.abs(c[rows] - each.tint_cc).max() <= cc + 1e-6


def test_luts_of_the_day(yard: DaySetup, room: DaySetup) -> None:
    for day in (yard, room):
        luts = day.luts
        assert luts is not None
        assert len(luts.luts) == min(luts.hours, luts.casts)
        assert luts.by == ("cast" if luts.casts <= luts.hours else "hour")
        names = [each.plan.file_name for each in luts.luts]
        assert len(set(names)) == len(names)
        assert all(f"-{luts.by if luts.by == 'cast' else 'at'}-" in each for each in names)
        if luts.by == "cast":  # in the order in which they are first due
            first = [each.times[0] for each in luts.luts]
            assert first == sorted(first)
            assert names == sorted(names)
            for number, (each, name) in enumerate(zip(luts.luts, names, strict=True), 1):
                clock = f"{day.moments[each.times[0]]:%H%M}"
                assert f"-cast-{number}-from-{clock}_correct_" in name
        for each in luts.luts:
            head = each.plan.file.data.split(b"LUT_3D_SIZE")[0].decode().replace("\n# ", " ")
            assert SUN.text in head
            assert f"For {day.moments[0]:%Y-%m-%d}, " in head


def test_few_hours_make_luts_by_the_clock(setups: tuple[Setup, ...]) -> None:
    """Around sunrise over the wall the light runs: one hour, several casts."""
    wish = DayWish(begin=470, end=500, within=Tolerance(0.5, 0.1, 0.5))
    day = plan_day_setup(setups[0], view_camera(setups[0].camera), wish, ("01-yard", ""))
    assert day.luts is not None
    assert day.luts.by == "hour"
    assert "01-yard-at-0800" in day.luts.luts[0].plan.file_name


def test_a_day_without_any_usable_time(setups: tuple[Setup, ...]) -> None:
    wish = DayWish(begin=0, end=120, step_minutes=60)
    day = plan_day_setup(setups[0], view_camera(setups[0].camera), wish, ("x", ""))
    assert day.whole is None
    assert day.luts is None
    assert day.changes is None
    assert any(each.code == "no-time" for each in day.notes)


def test_a_setup_without_sky_has_no_day(tmp_path: Path) -> None:
    text = SCENARIO.replace("{window: 240, lamp: 160}", "{lamp: 160}")
    text = text.replace("{window: 30, bulb: 45}", "{bulb: 45}")
    (tmp_path / "a.yaml").write_text(text)
    setup = read_scenario(tmp_path / "a.yaml").setups[1]
    with pytest.raises(ValueError, match="no light of the sky"):
        respond_to_day(setup, view_camera(setup.camera), np.array([0.0]))
    assert move_setup(setup, setup.when + timedelta(hours=1)).positions[0].lux[0] == 160  # type: ignore[operator]
