"""Exposure: the equation of ISO 2720 by worked figures, its inverse, and stops as they are said."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.exposure.equation import (
    FLAT_RECEPTOR_C,
    Shooting,
    find_exposure_time_s,
    name_t_stop,
    solve_exposure_time_s,
    solve_nd_stops,
    solve_t_stop,
)

LUX_PER_FOOTCANDLE = 1 / 0.3048**2  # lumen per square foot; the foot is 0.3048 m exactly


# Exposure value is log2(N^2 / t) (ISO 2720:1974). At ISO 100 with C = 250, EV 10 is 2560 lux,
# EV 12 is 10 240 lux, which exposure tables give as 951 footcandles, and EV 15 is 81 920 lux
# (arithmetic from the standard's equation).
@pytest.mark.parametrize(("ev", "lux"), [(10, 2560.0), (12, 10_240.0), (15, 81_920.0)])
@pytest.mark.parametrize("time_s", [1.0, 1 / 48, 1 / 1000])
def test_exposure_values(ev: int, lux: float, time_s: float) -> None:
    stop = solve_t_stop(lux, 100, time_s, calibration_c=250.0)
    assert np.log2(stop**2 / time_s) == pytest.approx(ev, abs=1e-12)


def test_footcandles_of_ev_12() -> None:
    assert pytest.approx(951, abs=0.5) == 10_240 / LUX_PER_FOOTCANDLE


@pytest.mark.parametrize(
    ("ei", "time_s", "stop", "constant", "lux"),
    [
        (800, 1 / 48, 2.8, 250, 117.6),  # arithmetic from ISO 2720:1974
        (800, 1 / 48, 2.8, 320, 150.5),  # the same; the least C of a hemispherical receptor
        (100, 1.0, 8.0, 250, 160.0),  # the usual worked example of the incident equation
    ],
)
def test_worked_examples(
    ei: float, time_s: float, stop: float, constant: float, lux: float
) -> None:
    # lux is given to four digits, and the stop goes with its root
    assert solve_t_stop(lux, ei, time_s, 0.0, constant) == pytest.approx(stop, rel=4e-4)


def test_a_hundred_footcandles() -> None:
    # 100 footcandles at ISO 100, 24 fps, 180 degrees is T2.8 to T3 (common practice, no source);
    # the equation of ISO 2720 gives 2.99.
    time = find_exposure_time_s(180, 24)
    assert solve_t_stop(100 * LUX_PER_FOOTCANDLE, 100, time) == pytest.approx(2.99, abs=0.01)


def test_the_constant_is_that_of_a_flat_receptor() -> None:
    # ISO 2720:1974 (from memory): 240 to 400 for a flat receptor
    assert 240 <= FLAT_RECEPTOR_C <= 400
    assert solve_t_stop(160.0, 100, 1.0) == pytest.approx(8.0)


# angle / (360 fps). 172.8 degrees at 24 fps is 1/50 s and 144 degrees is 1/60 s: the angles that
# are used under 50 and 60 Hz mains (common practice; arithmetic).
@pytest.mark.parametrize(
    ("angle", "fps", "denominator"),
    [(180, 24, 48), (172.8, 24, 50), (144, 24, 60), (180, 25, 50), (360, 24, 24), (90, 100, 400)],
)
def test_shutter_angles(angle: float, fps: float, denominator: float) -> None:
    time = float(find_exposure_time_s(angle, fps))
    assert time == pytest.approx(1 / denominator, rel=1e-12)
    assert Shooting(800, fps, time).shutter_angle_deg == pytest.approx(angle, rel=1e-12)


@given(
    lux=st.floats(0.01, 2e5),
    ei=st.floats(25, 25_600),
    time_s=st.floats(1e-5, 1.0),
    stop=st.floats(0.7, 32),
    constant=st.floats(240, 540),
)
def test_the_nd_that_is_solved_gives_the_stop_that_was_wanted(
    lux: float, ei: float, time_s: float, stop: float, constant: float
) -> None:
    nd = solve_nd_stops(lux, ei, time_s, stop, constant)
    assert solve_t_stop(lux, ei, time_s, nd, constant) == pytest.approx(stop, rel=1e-9)


@given(lux=st.floats(0.01, 1e5), stops=st.floats(-10, 10))
def test_a_stop_is_a_factor_of_two_wherever_it_comes_from(lux: float, stops: float) -> None:
    reference = solve_t_stop(lux, 800, 1 / 48)
    for changed in (
        solve_t_stop(lux * 2.0**stops, 800, 1 / 48),
        solve_t_stop(lux, 800 * 2.0**stops, 1 / 48),
        solve_t_stop(lux, 800, 2.0**stops / 48),
        solve_t_stop(lux, 800, 1 / 48, nd_stops=-stops),
    ):
        assert 2 * np.log2(changed / reference) == pytest.approx(stops, abs=1e-9)


def test_too_little_light_asks_for_nd_below_zero() -> None:
    assert solve_nd_stops(160, 100, 1.0, 16.0) == pytest.approx(-2)
    assert solve_nd_stops(160, 100, 1.0, 4.0) == pytest.approx(2)


def test_no_light() -> None:
    assert solve_t_stop(0.0, 800, 1 / 48) == 0
    assert solve_nd_stops([0.0, 160.0], 100, 1.0, 8.0) == pytest.approx([-np.inf, 0.0])
    assert name_t_stop(0.0) == "no light"


def test_broadcasting() -> None:
    lux = np.array([[100.0], [200.0], [400.0]])
    assert solve_t_stop(lux, [400, 800], 1 / 48).shape == (3, 2)


# The engraved series of apertures is the powers of the root of two, rounded (ISO 517:2008, from
# memory).
ENGRAVED = [
    "0.5",
    "0.7",
    "1",
    "1.4",
    "2",
    "2.8",
    "4",
    "5.6",
    "8",
    "11",
    "16",
    "22",
    "32",
    "45",
    "64",
    "90",
    "128",
]


@pytest.mark.parametrize(("power", "figure"), list(enumerate(ENGRAVED, -2)))
def test_whole_stops_are_said_as_they_are_engraved(power: int, figure: str) -> None:
    exact = 2 ** (power / 2)
    assert name_t_stop(exact) == f"T{figure}"
    assert name_t_stop(float(figure)) == f"T{figure}"
    if power < 14:
        assert name_t_stop(exact * 2 ** (1 / 6)) == f"T{figure} and 1/3"
        assert name_t_stop(exact * 2 ** (2 / 6)) == f"T{figure} and 2/3"


# The third stops that lenses carry between the whole ones (from memory): 1.8, 3.2, 3.5, 6.3 ...
@pytest.mark.parametrize(
    ("engraved", "said"),
    [
        (1.8, "T1.4 and 2/3"),
        (3.2, "T2.8 and 1/3"),
        (3.5, "T2.8 and 2/3"),
        (6.3, "T5.6 and 1/3"),
        (7.1, "T5.6 and 2/3"),
        (13, "T11 and 1/3"),
    ],
)
def test_thirds(engraved: float, said: str) -> None:
    assert name_t_stop(engraved) == said


@given(st.floats(0.5, 127))
def test_a_name_is_within_a_sixth_of_a_stop(t_stop: float) -> None:
    figure, _, third = name_t_stop(t_stop).removeprefix("T").partition(" and ")
    thirds = int(third[0]) if third else 0
    said = ENGRAVED.index(figure) - 2 + thirds / 3
    assert abs(said - 2 * np.log2(t_stop)) <= 1 / 6 + 1e-9


@pytest.mark.parametrize(("t_stop", "said"), [(0.3, "T0.3"), (231.0, "T230"), (1234.0, "T1200")])
def test_beyond_the_engraved_figures_the_number_is_given(t_stop: float, said: str) -> None:
    assert name_t_stop(t_stop) == said


def test_a_flash_that_is_just_enough_leaves_no_time() -> None:
    """With C = 250, EI 100 at T2 needs 10 lux s (ISO 2720, 250 * 2^2 / 100)."""
    assert solve_exposure_time_s(1000.0, 100, 2.0, flash_lux_s=10.0, calibration_c=250.0) == 0.0
    assert np.isnan(
        solve_exposure_time_s(1000.0, 100, 2.0, flash_lux_s=10.001, calibration_c=250.0)
    )
