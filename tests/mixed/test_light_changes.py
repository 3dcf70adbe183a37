"""Lights off, dimmed, moved, bounced and gelled twice, and level ratios: against an independent
brute force through spectra and every setting, and against the scenario that has it all done.

``python -m tests.mixed.test_light_changes 200`` tries so many random scenes.
"""

from __future__ import annotations

import re
import sys
import tempfile
from itertools import combinations_with_replacement, product
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import solve_coordinates, view_camera
from wbplan.front.plans import plan
from wbplan.light.generic_filters import find_generic
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux, scale_to_lux
from wbplan.planning.advice import Advice
from wbplan.planning.decisions import SetupPlan
from wbplan.read.catalogue import find_camera, find_source

HEAD = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 5600, is_a: window}
  lamp: {black_body_kelvin: 3200}
  tubes: {lamp: FL2}
setups:
  - name: Room
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
"""
ROOM = """    positions:
      near: {lux: {window: %(wn).6f, lamp: %(ln).6f, tubes: %(tn).6f}}
      far: {lux: {window: %(wf).6f, lamp: %(lf).6f, tubes: %(tf).6f}, weight: 1}
    advise:
      lights:
        window: {filters: [half orange, quarter orange], stack: 2, pieces: 2, gel_m2: 3, trips: 2}
        lamp:
          filters: [half blue]
          off: true
          dim_stops: [1, 2]
          now_m: {near: 2, far: 3}
          move: {back: {metres: {near: 4, far: 4.5}}}
          bounce:
            board:
              {reflectance_percent: 70, size_m: [1, 1], lamp_m: 1, metres: {near: 2, far: 2.5}}
        tubes: {off: true, dim_stops: [1]}
"""
RATIO = "      ratios: [{key: near, fill: far, ratio: %.6f, within_stops: 0.2}]\n"
LUX = {"wn": 300.0, "ln": 200.0, "tn": 40.0, "wf": 30.0, "lf": 120.0, "tf": 60.0}


def write(folder: Path, text: str) -> Path:
    file = folder / "room.yaml"
    file.write_text(text)
    return file


def decide(folder: Path, text: str) -> SetupPlan:
    return plan(write(folder, text), advise=True).setups[0]


def advise(folder: Path, text: str) -> Advice:
    advice = decide(folder, text).advice
    assert advice is not None
    return advice


# Everything again, another way --------------------------------------------------------------------


def cool_filament(stops: float) -> float:
    """Planck's law alone: the Kelvin at which a black body of 3200 K gives so many stops less."""

    def radiate(kelvin: float) -> float:
        power = WAVELENGTHS_NM**-5.0 / np.expm1(1.438776877e7 / (WAVELENGTHS_NM * kelvin))
        return float(find_illuminance_lux(power))

    return float(brentq(lambda k: radiate(k) - radiate(3200) / 2**stops, 1500, 3300, rtol=1e-12))


def fill(distance: float) -> float:
    """The part that a square metre fills, summed over 600 x 600 pieces of Lambert's law."""
    x = (np.arange(600) + 0.5) / 600 - 0.5
    return float(
        (distance**2 / (x[:, None] ** 2 + x**2 + distance**2) ** 2).sum() / 360_000 / np.pi
    )


def list_ways(lux: dict[str, float]) -> list[list[tuple[int, np.ndarray]]]:
    """List for each light (changes, its light at both places (2, 401))."""

    def light(power: np.ndarray, near: float, far: float) -> np.ndarray:
        return np.array([[near], [far]]) * scale_to_lux(power, 1.0)

    window = light(radiate_daylight(5600.0), lux["wn"], lux["wf"])
    gels = [find_generic(each).transmittance for each in ("half orange", "quarter orange")]
    windows = [
        (size, window * np.prod([gels[each] for each in group] or [np.ones(401)], axis=0))
        for size in range(3)
        for group in combinations_with_replacement((0, 1), size)
    ]
    lamp = radiate_black_body(3200.0)
    near, far = lux["ln"], lux["lf"]
    onto = max(near * 4.0, far * 9.0)  # a metre from the lamp, by the inverse square
    stands = [
        (0, lamp, near, far),
        *((1, radiate_black_body(cool_filament(s)), near / 2**s, far / 2**s) for s in (1, 2)),
        (1, lamp, near * (2 / 4) ** 2, far * (3 / 4.5) ** 2),
        (1, lamp, 0.7 * onto * fill(2.0), 0.7 * onto * fill(2.5)),
    ]
    blue = find_generic("half blue").transmittance
    lamps = [(1, np.zeros((2, 401)))]
    for changes, power, at_near, at_far in stands:
        made = light(power, at_near, at_far)
        lamps += [(changes, made), (changes + 1, made * blue)]
    tube = light(find_source("FL2").values, lux["tn"], lux["tf"])
    return [windows, lamps, [(0, tube), (1, tube * 0), (1, tube / 2)]]


def try_everything(lux: dict[str, float], ratio: float | None) -> dict[int, float]:
    """Find the least rms [mired] for each number of changes, over every pack and setting."""
    view = view_camera(find_camera("cfa-mid", Path()))
    menu = view.profile.menu
    mired = np.array([1e6 / each for each in menu.kelvin])
    tint = np.array(menu.tint_cc)
    curves = view.profile.sensitivities
    packs = list(product(*list_ways(lux)))
    power = np.stack([np.sum([each for _, each in pack], axis=0) for pack in packs])
    level = find_illuminance_lux(power)
    count = np.array([sum(changes for changes, _ in pack) for pack in packs])
    fine = level.min(axis=1) > 0
    if ratio is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            fine &= np.abs(np.log2(level[:, 0] / level[:, 1] / ratio)) <= 0.2
    raw = find_log2_response(respond(power[fine], curves))
    found = solve_coordinates(view.locus, raw[:, :, None, :])
    left_m = ((found.mired - mired) ** 2).mean(axis=1).min(axis=-1)
    left_c = ((found.tint_cc - tint) ** 2).mean(axis=1).min(axis=-1)
    left = np.sqrt(left_m + 49.0 * left_c)
    best: dict[int, float] = {}
    for changes, each in zip(count[fine], left, strict=True):
        best[int(changes)] = min(best.get(int(changes), np.inf), float(each))
    return best


def check_against_everything(folder: Path, lux: dict[str, float], ratio: float | None) -> float:
    """Compare the advice with trying everything; returns how far the last plans lie apart."""
    text = HEAD + ROOM % lux + ("" if ratio is None else RATIO % ratio)
    advice = advise(folder, text)
    best = try_everything(lux, ratio)
    assert advice.packs_count == 6 * 11 * 3
    if not best:
        assert "ratio-out-of-reach" in {each.code for each in advice.notes}
        assert not any(each.keeps_limits for each in advice.plans)
        return 0.0
    last = advice.plans[-1]
    assert last.keeps_limits
    for each in advice.plans[1:]:
        if each.keeps_limits:
            assert each.rms_mired == pytest.approx(best[each.count], abs=0.02)
    return last.rms_mired - min(best.values())


@pytest.mark.parametrize("ratio", [None, 4.0])
def test_best_plan_is_what_trying_everything_says(tmp_path: Path, ratio: float | None) -> None:
    assert abs(check_against_everything(tmp_path, LUX, ratio)) < 0.02


def main(count: int) -> None:
    """Try so many random scenes, every other one with a ratio."""
    generator = np.random.default_rng(17)
    gaps = []
    for number in range(count):
        levels = generator.lognormal(4.5, 1.0, len(LUX))
        lux = dict(zip(LUX, (float(each) for each in levels), strict=True))
        ratio = float(2.0 ** generator.uniform(-3, 3)) if number % 2 else None
        with tempfile.TemporaryDirectory() as folder:
            gap = check_against_everything(Path(folder), lux, ratio)
        gaps.append(gap)
    print(f"{count} scenes: last plan at most {max(gaps):.4f} mired worse, {min(gaps):.4f} better")


# The scenario that has it done --------------------------------------------------------------------


def test_a_plan_is_what_the_scenario_that_has_it_done_gives(tmp_path: Path) -> None:
    """Dimmed, moved and put out by hand in the scenario, by Planck and the inverse square."""
    lux = {"wn": 300.0, "ln": 300.0, "tn": 5.0, "wf": 300.0, "lf": 60.0, "tf": 60.0}
    wish = """        lamp: {dim_stops: [2]}
        tubes: {off: true}
"""
    text = HEAD + (ROOM % lux)[: (ROOM % lux).index("        window:")] + wish
    best = advise(tmp_path, text).plans[-1]
    assert {each.kind for each in best.changes} <= {"dimmed", "off"}
    assert best.changes
    done = {each.light: each.kind for each in best.changes}
    if done.get("lamp") == "dimmed":
        kelvin = cool_filament(2)
        text = text.replace("black_body_kelvin: 3200", f"black_body_kelvin: {kelvin:.6f}")
        for name in ("ln", "lf"):
            text = text.replace(f"lamp: {lux[name]:.6f}", f"lamp: {lux[name] / 4:.6f}")
    if done.get("tubes") == "off":
        text = text.replace("{lamp: FL2}", "{lamp: FL2, on: false}")
    hung = decide(tmp_path, text)
    assert hung.dial == best.dial
    for place, left in zip(hung.positions, best.places, strict=True):
        assert left.off_mired.value == pytest.approx(place.off_intent.mired.value, abs=0.01)
        assert left.lux == pytest.approx(place.lux.value)
    assert best.key_t_stop == pytest.approx(hung.key.t_stop.value)


def test_a_ratio_out_of_reach_is_come_as_near_as_can_be(tmp_path: Path) -> None:
    advice = advise(tmp_path, HEAD + ROOM % LUX + RATIO % 60.0)
    assert "ratio-out-of-reach" in {each.code for each in advice.notes}
    chosen = advice.plans[advice.suggested]
    near = max(
        float(level[0] / level[1])
        for pack in product(*list_ways(LUX))
        if (level := find_illuminance_lux(sum(each for _, each in pack))).min() > 0
    )
    assert chosen.ratios[0].ratio == pytest.approx(near, rel=0.06)  # it is sought to 0.05 stops
    assert not chosen.keeps_limits
    assert advice.plans[0].ratios[0].off_stops < chosen.ratios[0].off_stops < 0


def test_costs_are_counted(tmp_path: Path) -> None:
    advice = advise(tmp_path, HEAD + ROOM % LUX)
    for each in advice.plans:
        touched = {change.light for change in each.changes}
        assert each.trips == sum(2 if name == "window" else 1 for name in touched)
        hung = {change.light: len(change.filters) for change in each.changes}
        assert each.pieces == 2 * hung.get("window", 0) + hung.get("lamp", 0)
        if not hung.get("lamp"):
            assert each.gel_m2 == 3.0 * hung.get("window", 0)
    twice = [c.filters for each in advice.plans for c in each.changes if c.light == "window"]
    assert twice


def test_a_window_is_gelled_by_default_where_it_is_called_one(tmp_path: Path) -> None:
    room = re.sub(", tubes: [0-9.]+", "", (ROOM % LUX)[: (ROOM % LUX).index("    advise:")])
    named = advise(tmp_path, HEAD + room)
    assert "window" in {c.light for each in named.plans for c in each.changes}
    silent = advise(tmp_path, HEAD.replace(", is_a: window", "") + room)
    assert "window" not in {c.light for each in silent.plans for c in each.changes}
    assert named.packs_count == 17**2
    assert silent.packs_count == 17


if __name__ == "__main__":
    main(int(sys.argv[1]))
