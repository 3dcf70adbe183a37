"""What a camera and its plausible neighbours make of a scene, and the intervals."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.shared import make_setup
from wbplan.camera.setting import view_camera
from wbplan.core.intervals import make_interval
from wbplan.planning.response import respond_to_scene
from wbplan.read.catalogue import find_camera
from wbplan.scene.setup import MeterError


@pytest.fixture(scope="module")
def view() -> object:
    return view_camera(find_camera("cfa-mid", Path()))


@given(scale=st.floats(0.01, 100))
def test_scaling_all_lux_changes_no_colour(view: object, scale: float) -> None:
    lux = np.array([[100.0, 200.0, 50.0], [0.0, 30.0, 300.0]])
    one = respond_to_scene(make_setup(lux.tolist()), view)  # type: ignore[arg-type]
    two = respond_to_scene(make_setup((lux * scale).tolist()), view)  # type: ignore[arg-type]
    assert two.position.mired == pytest.approx(one.position.mired, abs=1e-6)
    assert two.position.tint_cc == pytest.approx(one.position.tint_cc, abs=1e-6)
    assert two.position_lux == pytest.approx(one.position_lux * scale, rel=1e-12)


def test_a_light_at_zero_lux_changes_nothing(view: object) -> None:
    without = respond_to_scene(make_setup([[100.0, 50.0]], ("A", "FL2")), view)  # type: ignore[arg-type]
    zero = respond_to_scene(make_setup([[100.0, 0.0, 50.0]]), view)  # type: ignore[arg-type]
    assert zero.position.mired == pytest.approx(without.position.mired, abs=1e-9)
    assert zero.position_draws is not None
    assert without.position_draws is not None
    assert zero.position_draws.mired == pytest.approx(without.position_draws.mired, abs=1e-9)


def test_a_source_that_is_off_counts_as_zero_lux(view: object) -> None:
    setup = make_setup([[100.0, 70.0, 50.0]])
    off = replace(setup.sources[1], on=False)
    dark = replace(setup, sources=(setup.sources[0], off, setup.sources[2]))
    zero = respond_to_scene(make_setup([[100.0, 0.0, 50.0]]), view)  # type: ignore[arg-type]
    found = respond_to_scene(dark, view)  # type: ignore[arg-type]
    assert found.position.mired == pytest.approx(zero.position.mired, abs=1e-9)
    assert found.position_lux == pytest.approx([150.0])


def test_swapping_positions_permutes_results(view: object) -> None:
    rows = [[100.0, 200.0, 50.0], [0.0, 30.0, 300.0], [5.0, 5.0, 5.0]]
    one = respond_to_scene(make_setup(rows), view)  # type: ignore[arg-type]
    two = respond_to_scene(make_setup(rows[::-1]), view)  # type: ignore[arg-type]
    assert two.position.mired[::-1] == pytest.approx(one.position.mired, abs=1e-9)


def test_a_mix_lies_between_its_lights(view: object) -> None:
    scene = respond_to_scene(make_setup([[100.0, 100.0, 0.0]]), view)  # type: ignore[arg-type]
    low, high = sorted(scene.source.mired[:2, 0])
    assert low < scene.position.mired[0, 0] < high


def test_reference_light_has_no_band_and_fluorescent_light_has_one(view: object) -> None:
    # Every camera of the family balances a light of the reference locus at its own Kelvin; D65 as
    # tabulated differs from the formula's only by rounding.
    scene = respond_to_scene(make_setup([[1.0, 1.0, 1.0]], ("D65", "FL2", "FL4")), view)  # type: ignore[arg-type]
    assert scene.source_draws is not None
    spread = scene.source_draws.mired.std(axis=1)
    assert spread[0] < 0.5
    # sd across 25 measured cameras: FL2 9, FL4 13 mired (Jiang et al. 2013); the family is to be
    # no tighter and not wildly wider
    assert 7 < spread[1] < 20
    assert 9 < spread[2] < 30


def test_meter_error_widens_what_it_should(view: object) -> None:
    plain = make_setup([[100.0, 0.0, 0.0]])
    lux = replace(plain, meter=MeterError(illuminance_percent=5.0))
    xy = replace(plain, meter=MeterError(chromaticity_xy=0.002))
    scenes = [respond_to_scene(each, view) for each in (plain, lux, xy)]  # type: ignore[arg-type]
    spread = [
        (each.position_draws.mired.std(), each.lux_draws.std())  # type: ignore[union-attr]
        for each in scenes
    ]
    assert spread[1][1] == pytest.approx(5.0, rel=0.15)
    assert spread[0][1] == pytest.approx(0.0, abs=1e-9)
    # One mired is 0.00034-0.00037 in 1960 u, v; 0.002 in x, y of tungsten is 3 to 8 mired.
    assert spread[1][0] == pytest.approx(spread[0][0], abs=1e-6)
    assert 2.0 < spread[2][0] - spread[0][0] < 10.0


def test_interval_holds_its_value() -> None:
    inside = make_interval(0.5, np.linspace(0, 1, 1001))
    assert (inside.low, inside.high) == pytest.approx((0.05, 0.95))
    assert make_interval(3.0, [1.0, 2.0]).high == 3.0
    assert not make_interval(3.0, []).is_open
