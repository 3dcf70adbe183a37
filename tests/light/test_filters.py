"""Filters: nominal mired on black bodies, densities, stacks, and what they cost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import MIRED_PER_CC, solve_coordinates, view_camera
from wbplan.core.notes import Note
from wbplan.light.colorimetry import find_cct_duv, find_tristimulus
from wbplan.light.filters import (
    CLEAR,
    Filter,
    find_loss_stops,
    make_ideal_filter,
    make_measured_filter,
    make_neutral_density,
    name_cast,
    stack_filters,
)
from wbplan.light.illuminants import find_mired, radiate_black_body, radiate_locus
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum
from wbplan.read.catalogue import find_camera, find_source

GRID = WAVELENGTHS_NM
LIGHTS = ("A", "D55", "FL2", "FL11", "LED-B3")


def find_shift(kelvin: float, mired: float) -> float:
    """Find by how many mired of CCT an ideal filter moves a black body."""
    through = radiate_black_body(kelvin) * make_ideal_filter(mired).transmittance
    return float(1e6 / find_cct_duv(through)[0] - 1e6 / kelvin)


def find_uv(power: np.ndarray) -> np.ndarray:
    xyz = find_tristimulus(power)
    scale = xyz @ np.array([1.0, 15.0, 3.0])
    return np.asarray(np.stack([4 * xyz[..., 0], 6 * xyz[..., 1]], axis=-1) / scale[..., None])


# Mired ------------------------------------------------------------------------------------------


def test_131_mired_take_5500_to_3200() -> None:
    # The camera filter from 5500 to 3200 K is +131 mired (Wheeler, Practical Cinematography, fig.
    # 14.2).
    # Wien's approximation is 1.3 % short of Planck's law at 5500 K, so the shift is as much long.
    wanted = find_mired(3200) - find_mired(5500)
    assert wanted == pytest.approx(131, abs=0.5)
    through = radiate_black_body(5500) * make_ideal_filter(131).transmittance
    cct, duv = find_cct_duv(through)
    assert cct == pytest.approx(3200, rel=0.01)
    assert abs(duv) < 2e-4
    assert find_shift(5500, 131) == pytest.approx(131, abs=2)


# Shifts of camera filters +18 to +131 (Wheeler, Practical Cinematography, fig. 14.2), of lighting
# filters +81, +42, +20, -131, -68, -30, -12 (Brown, Cinematography: Theory and Practice, table
# 12.1).
@pytest.mark.parametrize("mired", [18, 52, 112, 131, 81, 42, 20, -131, -68, -30, -12])
def test_nominal_shifts_on_tungsten(mired: float) -> None:
    # within 2 in 131, for Wien's approximation between 3200 K and, at most, 5500 K
    assert find_shift(3200, mired) == pytest.approx(mired, rel=0.015)


@pytest.mark.parametrize("kelvin", [1500, 2000, 2500, 2800])
@pytest.mark.parametrize("mired", [40, 131])
def test_the_shift_is_the_same_on_any_warm_light(kelvin: float, mired: float) -> None:
    assert find_shift(kelvin, mired) == pytest.approx(mired, abs=0.1)


@given(first=st.floats(-200, 200), second=st.floats(-200, 200), kelvin=st.floats(1500, 10_000))
def test_shifts_add_exactly_in_wiens_approximation(
    first: float, second: float, kelvin: float
) -> None:
    # exp(-c2 / lambda T), CODATA 2018 c2 = 1.438776877e-2 m K
    def wien(mired: float) -> np.ndarray:
        light = np.exp(-1.438776877e7 / GRID * mired * 1e-6)
        return np.asarray(light / light[180])

    mired = 1e6 / kelvin
    stack = stack_filters((make_ideal_filter(first), make_ideal_filter(second)))
    through = wien(mired) * stack.transmittance
    np.testing.assert_allclose(through / through[180], wien(mired + first + second), rtol=1e-9)


# Densities --------------------------------------------------------------------------------------


@pytest.mark.parametrize("green_cc", [30.0, 15.0, 7.5, 1.0, -30.0, -15.0, -1.0])
def test_a_cc_is_a_hundredth_of_density(green_cc: float) -> None:
    # the number of a colour compensating filter is 100 x its nominal peak density
    density = -np.log10(make_ideal_filter(green_cc=green_cc).transmittance)
    middle = density[GRID == 537]
    for outside in (400, 440, 640, 700):
        apart = density[outside == GRID] - middle
        assert apart == pytest.approx(green_cc / 100, rel=1e-4)
    assert density.max() == pytest.approx(abs(green_cc) / 100, rel=1e-4)
    assert density.min() == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize("green_cc", [30.0, -30.0])
def test_the_green_band_lies_where_a_cameras_green_does(green_cc: float) -> None:
    """Its edges against the wavelengths at which the measured camera's channels cross.

    NPL (Darrodi et al. 2015), each channel over its peak: blue and green at 498, green and red at
    579 nm. Half the density stands within 10 nm of both, and rises by tanh over 8 nm either way.
    """
    curves = find_camera("nikon-d5100", Path()).sensitivities
    red, green, blue = (curves / curves.max(axis=0)).T
    seen = (GRID > 440) & (GRID < 650)
    crossings = [
        GRID[seen][np.flatnonzero(np.diff(np.sign(each[seen])))[0]]
        for each in (green - blue, red - green)
    ]
    density = -np.log10(make_ideal_filter(green_cc=green_cc).transmittance)
    held = density if green_cc < 0 else 0.3 - density
    edges = GRID[np.flatnonzero(np.diff(np.sign(held - 0.15 + 1e-9)))]
    assert edges == pytest.approx(crossings, abs=10.0)
    for edge, side in ((490.0, 1), (585.0, -1)):
        for away in (-8, 0, 8):
            share = held[edge + side * away == GRID][0] / 0.3
            assert share == pytest.approx(0.5 * (1 + np.tanh(away / 8.0)), abs=1e-4)


def test_neutral_density_and_stops() -> None:
    # a stop is a density of log10(2) = 0.30103, and ND 0.3 is 0.9966 stop (arithmetic)
    density = -np.log10(make_neutral_density(1).transmittance)
    np.testing.assert_allclose(density, 0.30103, atol=5e-6)
    light = find_source("D55").values
    assert find_loss_stops(np.full(401, 10**-0.3), light) == pytest.approx(0.9966, abs=5e-5)
    assert np.ptp(density) == 0


@given(stops=st.floats(0, 20), name=st.sampled_from(LIGHTS))
def test_neutral_density_costs_its_stops_under_any_light(stops: float, name: str) -> None:
    nd = make_neutral_density(stops)
    assert find_loss_stops(nd.transmittance, find_source(name).values) == pytest.approx(
        stops, abs=1e-9
    )


@given(mired=st.floats(-400, 400), green_cc=st.floats(-100, 100))
def test_an_ideal_filter_passes_from_none_to_all(mired: float, green_cc: float) -> None:
    filt = make_ideal_filter(mired, green_cc)
    assert filt.is_model
    assert filt.transmittance.min() > 0
    assert filt.transmittance.max() <= 1
    if abs(green_cc) < 1e-9:
        assert filt.transmittance.max() == pytest.approx(1)
    for name in LIGHTS:
        assert find_loss_stops(filt.transmittance, find_source(name).values) >= 0


@pytest.mark.parametrize("mired", [-131, -12, 20, 131])
def test_a_mired_filter_passes_all_at_one_end_of_the_spectrum(mired: float) -> None:
    transmittance = make_ideal_filter(mired).transmittance
    assert transmittance[-1 if mired > 0 else 0] == 1
    assert (np.sign(np.diff(transmittance)) == np.sign(mired)).all()


def test_the_filter_of_no_shift_is_clear() -> None:
    np.testing.assert_array_equal(make_ideal_filter().transmittance, CLEAR.transmittance)
    assert find_loss_stops(CLEAR.transmittance, find_source("A").values) == 0


# Stacks -----------------------------------------------------------------------------------------

shifts = st.tuples(st.floats(-200, 200), st.floats(-40, 40))


@given(st.lists(shifts, min_size=2, max_size=4), st.randoms())
def test_the_order_of_a_stack_does_not_count(
    pairs: list[tuple[float, float]], random: object
) -> None:
    filters = [make_ideal_filter(mired, cc) for mired, cc in pairs]
    turned = [*filters]
    random.shuffle(turned)  # type: ignore[attr-defined]
    one, two = stack_filters(tuple(filters)), stack_filters(tuple(turned))
    np.testing.assert_allclose(one.transmittance, two.transmittance, rtol=1e-12)
    # nor how it is taken apart
    nested = stack_filters((filters[0], stack_filters(tuple(filters[1:]))))
    np.testing.assert_allclose(one.transmittance, nested.transmittance, rtol=1e-12)


def test_losses_of_a_stack_add_where_one_part_is_neutral() -> None:
    light = find_source("A").values
    warm = make_ideal_filter(131)
    both = stack_filters((make_neutral_density(2), warm))
    alone = find_loss_stops(warm.transmittance, light)
    assert find_loss_stops(both.transmittance, light) == pytest.approx(alone + 2)


def test_a_stack_carries_what_is_known_of_its_parts() -> None:
    note = Note("dusty", "a dusty filter")
    real = Filter("half amber", np.full(401, 0.5), notes=(note,))
    assert stack_filters(()) is CLEAR
    assert not stack_filters((real, real)).is_model
    both = stack_filters((real, make_neutral_density(1)))
    assert (both.name, both.is_model, both.notes) == ("half amber + ND 1 stops", True, (note,))


def test_losses_in_batches() -> None:
    lights = np.stack([find_source(name).values for name in LIGHTS])
    filters = np.stack([make_ideal_filter(m).transmittance for m in (-131, 131)])
    losses = find_loss_stops(filters[:, None], lights[None])
    assert losses.shape == (2, len(LIGHTS))
    assert losses[1, 2] == pytest.approx(find_loss_stops(filters[1], lights[2]))


# The value --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "transmittance",
    [
        np.full(401, 1.01),
        np.where(GRID == 500, -0.01, 0.5),
        np.where(GRID == 500, np.nan, 0.5),
        np.full(400, 0.5),
    ],
)
def test_what_is_no_transmittance_is_refused(transmittance: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"from 0 to 1|finite|ends? in"):
        Filter("bad", transmittance)


def test_negative_nd_is_refused() -> None:
    with pytest.raises(ValueError, match="from 0 to 1"):
        make_neutral_density(-1)


def test_a_filter_is_its_own_copy_and_read_only() -> None:
    values = np.full(401, 0.5)
    filt = Filter("half", values)
    values[0] = 1
    assert filt.transmittance[0] == 0.5
    with pytest.raises(ValueError, match="read-only"):
        filt.transmittance[0] = 1


def test_a_measured_filter_keeps_its_name_and_notes() -> None:
    note = Note("range-extended", "held")
    measured = make_measured_filter(Spectrum(np.full(401, 0.4), "amber", notes=(note,)))
    assert (measured.name, measured.is_model, measured.notes) == ("amber", False, (note,))
    with pytest.raises(ValueError, match="'too clear'"):
        make_measured_filter(Spectrum(np.full(401, 1.5), "too clear"))


@pytest.mark.parametrize(
    ("mired", "green_cc", "words"),
    [
        (0, 0, "none"),
        (0.04, -0.04, "none"),
        (40, 5, "40 mired warm, 5 CC green"),
        (-131, 0, "131 mired cool"),
        (0, -7.5, "7.5 CC magenta"),
        (0, 104, "104 CC green"),
        (1234, 0, "1234 mired warm"),
    ],
)
def test_casts_in_words(mired: float, green_cc: float, words: str) -> None:
    assert name_cast(mired, green_cc) == words


# How far a mired and a CC move a light that the eye sees ------------------------------------------


@pytest.mark.parametrize("kelvin", [2500, 3200, 4500, 5500, 6500])
def test_the_length_of_a_mired(kelvin: float) -> None:
    # The Planckian locus of the 1931 observer, computed with two libraries: 0.00034 to 0.00037 of
    # 1960 u, v for each mired (a little over on the daylight part, whose mired are longer).
    mired = 1e6 / kelvin
    ends = find_uv(radiate_locus(1e6 / np.array([mired - 0.5, mired + 0.5])))
    assert 0.00033 <= np.hypot(*(ends[1] - ends[0])) <= 0.00039


@pytest.mark.parametrize("kelvin", [3200, 5500])
@pytest.mark.parametrize("name", ["cfa-mid", "nikon-d5100"])
def test_a_cc_of_green_weighs_as_many_mired_as_the_distance_says(kelvin: float, name: str) -> None:
    # `setting.find_distance` holds one CC of the camera's green against seven mired. Both
    # are measured here in 1960 u, v, through a filter that moves the light across the locus.
    mired = 1e6 / kelvin
    ends = find_uv(radiate_locus(1e6 / np.array([mired - 0.5, mired + 0.5])))
    light = radiate_locus(kelvin)
    green = light * make_ideal_filter(green_cc=10).transmittance
    moved = find_cct_duv(green)[1] - find_cct_duv(light)[1]
    camera = view_camera(find_camera(name, Path()))
    read = find_log2_response(respond(green, camera.profile.sensitivities[None]))
    ratio = (
        moved / np.hypot(*(ends[1] - ends[0])) / solve_coordinates(camera.locus, read).tint_cc[0]
    )
    assert MIRED_PER_CC / np.sqrt(2) <= ratio <= MIRED_PER_CC * np.sqrt(2)
