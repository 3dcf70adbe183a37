"""Advice on whole setups, from the scenario to the plans, and several cameras on one setup."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.shared import plan_shipped
from wbplan.camera.setting import find_distance
from wbplan.front.plans import plan
from wbplan.planning.advice import Advice
from wbplan.planning.decisions import SetupPlan

HEAD = """wbplan: 1
title: Test
camera: {camera}
sources:
  window: {{daylight_kelvin: 6000}}
  lamp: {{black_body_kelvin: 2900}}
  tubes: {{lamp: FL2}}
  panel:
    channels:
      warm: {{lamp: LED-B1, lux: 500}}
      cool: {{lamp: LED-B5, lux: 500}}
filters:
  mine: {{shift: {{cool_mired: 120}}}}
setups:
  - name: Room
    shooting: {{ei: 800, fps: 24, shutter_angle_deg: 180}}
{extra}
    positions:
{positions}
{advise}
"""
POSITIONS = """      face: {lux: {window: 200, lamp: 120}}
      wall: {lux: {lamp: 100, tubes: 40}, weight: 1}
      door: {lux: {window: 150, tubes: 60}, weight: 1}
"""
ADVISE = """    advise:
      lights:
        lamp: {filters: [full blue, half blue, quarter blue]}
        tubes: {filters: [half magenta, quarter magenta, mine]}
"""


def decide(
    folder: Path,
    positions: str = POSITIONS,
    advise: str = ADVISE,
    extra: str = "",
    camera: str = "cfa-mid",
) -> SetupPlan:
    file = folder / "room.yaml"
    file.write_text(HEAD.format(positions=positions, advise=advise, extra=extra, camera=camera))
    return plan(file, advise=True).setups[0]


def advise(folder: Path, **changes: str) -> Advice:
    found = decide(folder, **changes).advice
    assert found is not None
    return found


def list_codes(advice: Advice) -> list[str]:
    return [note.code for note in advice.notes]


def test_plans_get_better_with_each_change_and_the_first_is_as_it_is(tmp_path: Path) -> None:
    made = decide(tmp_path)
    advice = made.advice
    assert advice is not None
    assert advice.packs_count == 16
    assert advice.is_exact
    assert advice.plans[0].changes == ()
    assert advice.plans[0].dial == made.dial
    for place, left in zip(made.positions, advice.plans[0].places, strict=True):
        for mine, theirs in (
            (left.off_mired, place.off_intent.mired),
            (left.off_green_cc, place.off_intent.green_cc),
        ):
            ends = (theirs.value, theirs.low, theirs.high)
            assert (mine.value, mine.low, mine.high) == pytest.approx(ends)
    assert len(advice.plans) > 1
    for simpler, better in zip(advice.plans, advice.plans[1:], strict=False):
        assert better.rms_mired < simpler.rms_mired
        assert better.count > simpler.count


def test_a_plan_is_what_the_scenario_with_its_filters_would_give(tmp_path: Path) -> None:
    advice = advise(tmp_path)
    best = advice.plans[-1]
    lines = {"lamp": "{black_body_kelvin: 2900", "tubes": "{lamp: FL2"}
    text = (tmp_path / "room.yaml").read_text()
    for change in best.changes:
        worn = ", ".join(
            "{shift: {cool_mired: 120}}" if each == "mine" else f"{{generic: {each}}}"
            for each in change.filters
        )
        begin = lines[change.light]
        text = text.replace(f"{begin}}}", f"{begin}, filter: [{worn}]}}")
    (tmp_path / "hung.yaml").write_text(text)
    hung = plan(tmp_path / "hung.yaml").setups[0]
    assert hung.dial == best.dial
    for place, left in zip(hung.positions, best.places, strict=True):
        assert left.off_mired.value == pytest.approx(place.off_intent.mired.value, abs=1e-6)
        assert left.off_mired.high == pytest.approx(place.off_intent.mired.high, abs=1e-6)
        assert left.lux == pytest.approx(place.lux.value)
    assert best.key_t_stop == pytest.approx(hung.key.t_stop.value)
    off = np.array([[p.off_mired.value, p.off_green_cc.value] for p in best.places])
    rms = np.sqrt(np.mean(np.asarray(find_distance(off[:, 0], off[:, 1])) ** 2))
    assert best.rms_mired == pytest.approx(rms)


def test_blue_on_the_lamp_is_what_a_gaffer_would_hang(tmp_path: Path) -> None:
    # tungsten to daylight is a full blue, common practice; no source
    positions = (
        "      face: {lux: {window: 300}}\n      wall: {lux: {lamp: 300, tubes: 0}, weight: 1}\n"
    )
    best = advise(tmp_path, positions=positions).plans[-1]
    assert [(each.light, each.filters) for each in best.changes] == [("lamp", ("full blue",))]
    assert best.changes[0].is_model
    assert best.changes[0].loss_stops == pytest.approx(1.6, abs=0.1)


def test_scaling_all_lux_changes_nothing_but_exposure(tmp_path: Path) -> None:
    one = advise(tmp_path)
    brighter = POSITIONS
    for before in ("200", "120", "100", "40", "150", "60"):
        brighter = brighter.replace(f": {before}", f": {before}0")
    two = advise(tmp_path, positions=brighter)
    for first, second in zip(one.plans, two.plans, strict=True):
        assert first.changes == second.changes
        assert first.dial == second.dial
        assert second.rms_mired == pytest.approx(first.rms_mired, abs=1e-6)
        assert second.key_t_stop == pytest.approx(first.key_t_stop * np.sqrt(10))


def test_swapping_positions_permutes_results(tmp_path: Path) -> None:
    lines = POSITIONS.splitlines(keepends=True)
    one = advise(tmp_path, extra="    key: face")
    two = advise(tmp_path, positions="".join(lines[::-1]), extra="    key: face")
    for first, second in zip(one.plans, two.plans, strict=True):
        assert first.changes == second.changes
        assert first.dial == second.dial
        for a, b in zip(first.places, second.places[::-1], strict=True):
            assert a.name == b.name
            assert a.off_mired.value == pytest.approx(b.off_mired.value, abs=1e-6)


def test_a_light_at_zero_lux_changes_nothing(tmp_path: Path) -> None:
    one = advise(tmp_path)
    dark = POSITIONS.replace("lamp: 120}", "lamp: 120, panel: 0}")
    allowed = ADVISE + "        panel: {tune: true}\n"
    two = advise(tmp_path, positions=dark, advise=allowed)
    assert [each.changes for each in one.plans] == [each.changes for each in two.plans]
    assert "light-elsewhere" in list_codes(two)


def test_stock_losses_and_the_key_limit_what_is_advised(tmp_path: Path) -> None:
    free = advise(tmp_path)
    assert any("full blue" in c.filters for c in free.plans[-1].changes)
    none = advise(tmp_path, advise=ADVISE + "      stock: {full blue: 0}\n")
    assert not any("full blue" in c.filters for each in none.plans for c in each.changes)
    assert "out-of-stock" in list_codes(none)
    cheap = advise(tmp_path, advise=ADVISE + "      max_loss_stops: 0.6\n")
    assert max(c.loss_stops for each in cheap.plans for c in each.changes) <= 0.6
    key = advise(tmp_path, advise=ADVISE + "      key_loss_stops: 0.1\n")
    assert max(each.key_loss_stops for each in key.plans) <= 0.1 + 1e-9
    assert key.plans[-1].rms_mired >= free.plans[-1].rms_mired
    dear = advise(tmp_path, advise=ADVISE + "      max_loss_stops: 0.01\n")
    assert "too-dear" in list_codes(dear)
    assert "nothing-to-change" in list_codes(dear)
    assert len(dear.plans) == 1


def test_a_fixture_in_the_search_is_tuned_to_the_window(tmp_path: Path) -> None:
    positions = """      face: {lux: {window: 300}}
      wall: {lux: {panel: 300}, weight: 1}
"""
    wish = "    advise:\n      lights:\n        panel: {tune: true}\n"
    advice = advise(tmp_path, positions=positions, advise=wish)
    best = advice.plans[-1]
    (change,) = best.changes
    drives = dict(change.drives)
    assert drives["cool"] > 5 * drives["warm"]
    assert best.worst_mired < 6
    assert best.places[1].lux == pytest.approx(300 * 2.0**-change.loss_stops)


def test_fixtures_match_a_light_a_setting_and_an_intent(tmp_path: Path) -> None:
    positions = POSITIONS.replace("lamp: 120}", "lamp: 120, panel: 80}")
    wish = "    advise:\n      tune:\n        panel: {%s}\n"
    light = advise(tmp_path, positions=positions, advise=wish % "match: tubes")
    assert light.plans == ()
    (tuned,) = light.fixtures
    assert abs(tuned.off_mired) < 2
    assert tuned.wanted == "the look of tubes"
    assert tuned.cct_kelvin == pytest.approx(4000, abs=500)
    setting = advise(tmp_path, positions=positions, advise=wish % "kelvin: 3600, magenta_cc: 1")
    assert abs(setting.fixtures[0].off_mired) < 5
    made = decide(tmp_path, positions=positions, advise=wish % "intent: {warm_mired: 40}")
    assert made.advice is not None
    (warm,) = made.advice.fixtures
    assert dict(warm.drives)["warm"] == 1.0
    full = dict(warm.lux)["face"]
    # read with both channels at full, so 80 lux is that, and what is left follows the drives
    left = sum(each for _, each in warm.drives) / 2
    assert full == pytest.approx(80 * left, rel=1e-6)
    assert warm.loss_stops == pytest.approx(-np.log2(left), rel=1e-6)
    far = advise(tmp_path, positions=positions, advise=wish % "kelvin: 12000")
    assert "fixture-short" in list_codes(far)


def test_limits_are_kept_by_the_plan_where_they_can_be(tmp_path: Path) -> None:
    tight = POSITIONS.replace("tubes: 40}", "tubes: 40}, within: {mired: 25}")
    made = decide(tmp_path, positions=tight)
    assert made.advice is not None
    best = made.advice.plans[-1]
    assert best.keeps_limits
    assert abs(best.places[1].off_mired.value) <= 25
    never = ", within: {mired: 0.5, cc: 0.1}}"
    impossible = POSITIONS.replace("120}}", "120}" + never).replace(": 1}", ": 1" + never)
    lost = advise(tmp_path, positions=impossible)
    assert "limits-out-of-reach" in list_codes(lost)
    assert not lost.plans[-1].keeps_limits


def test_pointless_wishes_are_answered(tmp_path: Path) -> None:
    agreeing = "      face: {lux: {window: 300}}\n"
    agreeing += "      wall: {lux: {window: 200, lamp: 1, tubes: 0}, weight: 1}\n"
    advice = advise(tmp_path, positions=agreeing)
    assert advice.suggested == 0
    (note,) = [note for note in advice.notes if note.code == "change-pointless"]
    assert "leave the lights alone" in note.text


def test_without_a_wish_daylight_is_left_alone(tmp_path: Path) -> None:
    advice = advise(tmp_path, advise="")
    assert advice.is_assumed
    assert advice.packs_count == 17**2
    assert {c.light for each in advice.plans for c in each.changes} <= {"lamp", "tubes"}
    assert "wish-assumed" in list_codes(advice)


@pytest.mark.parametrize("camera", ["cfa-duv-tint", "cfa-presets", "layered-measured"])
def test_every_kind_of_menu_is_advised_on(tmp_path: Path, camera: str) -> None:
    made = decide(tmp_path, camera=camera)
    assert made.advice is not None
    menu = made.setup.camera.menu
    for each in made.advice.plans:
        at = (each.dial.kelvin, each.dial.tint_cc)
        presets = [(kelvin, tint) for _, kelvin, tint in menu.presets]
        assert at in presets or (at[0] in menu.kelvin and at[1] in menu.tint_cc)


def test_a_shot_setting_stays(tmp_path: Path) -> None:
    advice = advise(tmp_path, extra="    shot_at: {kelvin: 5600}")
    assert {each.dial.kelvin for each in advice.plans} == {5600.0}


def test_nothing_that_counts_is_told(tmp_path: Path) -> None:
    green = "sources:\n  line: {lamp: sodium-low-pressure-1700k}\n"
    text = HEAD.format(
        positions="      face: {lux: {line: 20}}\n", advise="", extra="", camera="cfa-mid"
    ).replace("sources:\n", green)
    (tmp_path / "room.yaml").write_text(text)
    advice = plan(tmp_path / "room.yaml", advise=True).setups[0].advice
    assert advice is not None
    assert list_codes(advice) == ["wish-assumed", "nothing-to-advise"]


def test_same_wish_same_advice(tmp_path: Path) -> None:
    assert advise(tmp_path) == advise(tmp_path)


# What counts as much and as little, from both sides; our own figures where no source stands ------


def advise_on_black_bodies(
    folder: Path, off: dict[str, float], filters: dict[str, float]
) -> Advice:
    """Places lit by a black body each, so many mired warmer than the 3200 K that is dialled in.

    ``filters`` are what may be hung on each, by how many mired it cools. Under 4000 K the reference
    locus is the black body's, so what is left of each place is the difference of the mired.
    """
    lights = "".join(
        f"  {name}: {{black_body_kelvin: {1e6 / (1e6 / 3200 + mired):.9f}}}\n"
        for name, mired in off.items()
    )
    made = "".join(
        f"  {name} cooler: {{shift: {{cool_mired: {mired}}}}}\n" for name, mired in filters.items()
    )
    places = "".join(f"      at {name}: {{lux: {{{name}: 100}}, weight: 1}}\n" for name in off)
    asked = "".join(f"        {name}: {{filters: [{name} cooler]}}\n" for name in filters)
    text = HEAD.format(
        camera="cfa-mid", extra="    shot_at: {kelvin: 3200}", positions=places,
        advise=f"    advise:\n      lights:\n{asked}",
    )  # fmt: skip
    head, rest = text.split("sources:\n")
    rest = rest[rest.index("filters:\n") :].replace("filters:\n", f"filters:\n{made}", 1)
    text = f"{head}sources:\n{lights}{rest}"
    (folder / "room.yaml").write_text(text)
    found = plan(folder / "room.yaml", advise=True).setups[0].advice
    assert found is not None
    return found


@pytest.mark.parametrize("off", [4.9, 5.1])
def test_lights_within_5_mired_are_left_alone(tmp_path: Path, off: float) -> None:
    """5 mired can just be told side by side (common practice, no source)."""
    advice = advise_on_black_bodies(tmp_path, {"lamp": off}, {"lamp": 90.0})
    assert advice.plans[0].worst_mired == pytest.approx(off, abs=1e-3)
    (note,) = [note for note in advice.notes if note.code == "change-pointless"]
    assert ("as it is no position is more than" in note.text) == (off <= 5)


@pytest.mark.parametrize("off", [14.9, 15.1])
def test_what_stays_is_warned_of_from_15_mired(tmp_path: Path, off: float) -> None:
    advice = advise_on_black_bodies(tmp_path, {"lamp": off}, {"lamp": 90.0})
    assert ("far-off" in list_codes(advice)) == (off > 15)


@pytest.mark.parametrize("cooler", [0.92, 0.98, 1.02, 1.08])
def test_a_change_that_brings_a_mired_is_suggested(tmp_path: Path, cooler: float) -> None:
    advice = advise_on_black_bodies(tmp_path, {"lamp": 9.0}, {"lamp": cooler})
    gain = advice.plans[0].rms_mired - advice.plans[1].rms_mired
    assert gain == pytest.approx(cooler, rel=0.01)
    assert advice.suggested == (1 if gain > 1.0 else 0)


@pytest.mark.parametrize("cooler", [0.97, 1.01, 1.04, 1.08])
def test_a_step_that_brings_half_a_mired_is_listed(tmp_path: Path, cooler: float) -> None:
    """Of two places the one gains about a mired: its root mean square with the other's is half."""
    off = {"lamp": 9.0, "tubes": 9.0}
    alone = advise_on_black_bodies(tmp_path, off, {"lamp": cooler})
    gain = alone.plans[0].rms_mired - alone.plans[1].rms_mired
    assert 0.46 < gain < 0.54
    both = advise_on_black_bodies(tmp_path, off, {"lamp": cooler, "tubes": 0.6})
    assert [each.count for each in both.plans] == ([0, 1, 2] if gain > 0.5 else [0, 2])


# Several cameras ---------------------------------------------------------------------------------


def test_the_same_camera_agrees_with_itself(tmp_path: Path) -> None:
    shipped = Path("camera_profiles").resolve()
    (tmp_path / "twin.yaml").write_text((shipped / "cfa-mid.yaml").read_text())
    (tmp_path / "cfa-mid.csv").write_text((shipped / "cfa-mid.csv").read_text())
    made = decide(tmp_path, advise="", extra="    also_cameras: [twin.yaml]")
    assert made.agreement is not None
    (twin,) = made.agreement.cameras
    assert twin.dial == made.dial
    assert twin.worst_mired == pytest.approx(0.0, abs=1e-6)
    for _, mired, _ in twin.apart:  # another sensor of the family need not agree
        assert mired.low < -1 < 1 < mired.high


def test_cameras_are_set_so_that_they_agree_best(tmp_path: Path) -> None:
    made = decide(tmp_path, advise="", extra="    also_cameras: [cfa-duv-tint, layered-measured]")
    assert made.agreement is not None
    assert [each.name for each in made.agreement.cameras] == ["cfa-duv-tint", "layered-measured"]
    for each in made.agreement.cameras:
        off_m = np.array([mired.value for _, mired, _ in each.apart]) + each.dial.mired
        off_c = np.array([green.value for _, _, green in each.apart]) + each.dial.tint_cc
        menu = plan_menu(each.name)
        # brute force over the second camera's whole menu
        left = [
            (float((((off_m - 1e6 / k) ** 2) + 49 * (off_c - t) ** 2).mean()), k, t)
            for k in menu.kelvin
            for t in menu.tint_cc
        ]
        best = min(left)
        assert (each.dial.kelvin, each.dial.tint_cc) == best[1:]
        assert each.rms_mired == pytest.approx(np.sqrt(best[0]))
        left_m, left_c = off_m - each.dial.mired, off_c - each.dial.tint_cc
        assert each.worst_mired == pytest.approx(np.sqrt(left_m**2 + 49 * left_c**2).max())
        assert not each.notes or {note.code for note in each.notes} == {"cameras-apart"}


def test_a_place_that_is_watched_does_not_pull_a_second_camera(tmp_path: Path) -> None:
    made = decide(
        tmp_path,
        advise="",
        positions="      face: {lux: {tubes: 100}}\n      door: {lux: {window: 100}}\n",
        extra="    also_cameras: [layered-measured]",
    )
    assert made.agreement is not None
    (other,) = made.agreement.cameras
    assert other.judged == (True, False)
    _, mired, green = other.apart[0]
    assert other.rms_mired == pytest.approx(float(find_distance(mired.value, green.value)))
    assert other.worst_mired == pytest.approx(other.rms_mired)
    assert "cameras-unjudged" not in {note.code for note in other.notes}


def test_cameras_that_nothing_judges_say_so(tmp_path: Path) -> None:
    made = decide(
        tmp_path,
        advise="",
        positions="      face: {lux: {line: 20}}\n",
        extra="    also_cameras: [layered-measured]\n"
        "    sources: {line: {lamp: sodium-low-pressure-1700k}}",
    )
    assert made.agreement is not None
    (other,) = made.agreement.cameras
    assert {note.code for note in other.notes} == {"cameras-unjudged"}
    assert other.worst_mired == 0


def test_cameras_that_show_a_face_10_mired_apart_are_warned_of(tmp_path: Path) -> None:
    """The figure is our own, twice what can just be told; the intents and menus do the rest."""
    distances = []
    for day in (44, 50, 60, 100):
        made = decide(
            tmp_path,
            advise="",
            positions=f"      face: {{lux: {{tubes: 100, window: {day}}}}}\n"
            "      door: {lux: {window: 100}, weight: 1}\n",
            extra="    also_cameras: [layered-measured]",
        )
        assert made.agreement is not None
        (other,) = made.agreement.cameras
        distances.append(other.worst_mired)
        warned = "cameras-apart" in {note.code for note in other.notes}
        assert warned == (other.worst_mired > 10.0)
    assert min(distances) < 10.0 < max(distances)


def plan_menu(name: str) -> object:
    from wbplan.read.catalogue import find_camera

    return find_camera(name, Path()).menu


def test_the_shipped_scenario_is_advised_as_it_promises() -> None:
    made = plan_shipped("reading_room", advise=True).setups[0]
    advice = made.advice
    assert advice is not None
    assert advice.is_driven  # so "best found", unless a bound proves it
    assert not advice.plans[0].keeps_limits
    chosen = advice.plans[advice.suggested]
    assert chosen.keeps_limits
    assert chosen.rms_mired < advice.plans[0].rms_mired / 3
    assert chosen.key_loss_stops <= 1.5
    assert made.agreement is not None
    assert len(advice.fixtures) == 2
