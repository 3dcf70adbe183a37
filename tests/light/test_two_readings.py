"""Filters from two readings: given back exactly, through noise, and refused where they are none.

The noise is added here: the floor of a meter as 0.1 % of each reading's peak at every nm, both
sides of zero, and what falls under zero set to zero as the reader does.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import solve_coordinates, view_camera
from wbplan.core.tables import Array
from wbplan.light.filters import make_ideal_filter, stack_filters
from wbplan.light.generic_filters import GELS, make_gel
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.light.two_readings import divide_readings
from wbplan.read.catalogue import find_camera, find_source

QUARTER = make_gel(next(each for each in GELS if each.name == "quarter orange")).transmittance


def read(power: Array, chance: np.random.Generator, floor: float = 1e-3) -> Array:
    noise = floor * power.max() * chance.standard_normal(power.size)
    return np.asarray(np.maximum(power + noise, 0.0))


@settings(max_examples=15)
@given(
    mired=st.floats(-150, 150),
    green_cc=st.floats(-30, 30),
    light=st.sampled_from(["A", "D55", "LED-B3"]),
    scale=st.floats(1e-3, 1e3),
)
def test_without_noise_the_filter_is_given_back(
    mired: float, green_cc: float, light: str, scale: float
) -> None:
    # 0.003: an edge of 8 nm is joined within bins of 5 nm
    wanted = make_ideal_filter(mired, green_cc).transmittance
    bare = find_source(light).values * scale
    made = divide_readings("gel", bare, bare * wanted)
    assert not made.is_model
    strong = bare >= 0.01 * bare.max()
    np.testing.assert_allclose(made.transmittance[strong], wanted[strong], atol=3e-3)


@pytest.mark.parametrize("light", ["LED-B3", "LED-RGB1", "FL2", "FL11"])
def test_a_quarter_orange_through_a_meters_noise(light: str) -> None:
    """Six readings under each light; all are taken, and daylight behind the gel comes out right.

    Judged by the measured camera: a mired is under what a menu in steps of 50 K can show.
    """
    camera = view_camera(find_camera("nikon-d5100", Path()))
    daylight = find_source("D55").values
    chance = np.random.default_rng(20_26)
    bare = find_source(light).values
    made = np.stack(
        [
            divide_readings("gel", read(bare, chance), read(bare * QUARTER, chance)).transmittance
            for _ in range(6)
        ]
    )
    through = daylight * np.concatenate([QUARTER[None], made])
    neutrals = find_log2_response(respond(through, camera.profile.sensitivities[None]))
    found = solve_coordinates(camera.locus, neutrals)
    mired, tint = np.asarray(found.mired).ravel(), np.asarray(found.tint_cc).ravel()
    assert np.abs(mired[1:] - mired[0]).max() < 1.5
    assert np.abs(tint[1:] - tint[0]).max() < 0.5


def test_a_sharp_filter_in_strong_light_stays_sharp() -> None:
    edge = 0.1 + 0.4 * (1 + np.tanh((WAVELENGTHS_NM - 560) / 5.0))
    bare = find_source("A").values
    chance = np.random.default_rng(1)
    made = divide_readings("edge", read(bare, chance), read(bare * edge, chance))
    strong = WAVELENGTHS_NM > 480
    np.testing.assert_allclose(made.transmittance[strong], edge[strong], atol=0.03)


def test_noise_where_there_is_no_light_does_not_reach_the_filter() -> None:
    bare = find_source("LED-B5").values.copy()
    behind = 0.5 * bare
    dark = WAVELENGTHS_NM < 405
    bare[dark] = 1e-6
    behind[dark] = 1e-4  # a hundredfold "transmittance"
    made = divide_readings("gel", bare, behind)
    np.testing.assert_allclose(made.transmittance, 0.5, rtol=1e-6)
    assert [note.code for note in made.notes] == ["weak-reading"]


@pytest.mark.parametrize("width_nm", [20, 0.4])
def test_a_line_spectrum_is_warned_of(width_nm: float) -> None:
    bare = np.exp(-0.5 * ((WAVELENGTHS_NM - 550) / width_nm) ** 2)
    made = divide_readings("gel", bare, 0.5 * bare)
    assert made.notes[0].weight == "warning"
    np.testing.assert_allclose(made.transmittance, 0.5, rtol=1e-6)


def test_a_noisy_pair_says_what_it_leaves_open() -> None:
    bare = find_source("A").values
    chance = np.random.default_rng(2)
    made = divide_readings("gel", read(bare, chance, 0.2), read(bare * QUARTER, chance, 0.2))
    note = next(each for each in made.notes if each.code == "noisy-reading")
    assert note.weight == "warning"
    assert "stronger light" in note.text


@pytest.mark.parametrize(("factor", "said"), [(1.2, "more light behind"), (0.0, "no light")])
def test_readings_that_are_no_filter(factor: float, said: str) -> None:
    bare = find_source("A").values
    with pytest.raises(ValueError, match=said):
        divide_readings("gel", bare, bare * factor)


def test_a_stack_of_read_filters_multiplies() -> None:
    bare = find_source("A").values
    one = divide_readings("one", bare, 0.5 * bare)
    two = divide_readings("two", bare, 0.25 * bare)
    np.testing.assert_allclose(stack_filters((one, two)).transmittance, 0.125, rtol=1e-6)
