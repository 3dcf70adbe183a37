"""Settings and casts: the solve, its laws, what cameras want, the menu."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.camera.sensitivities import Menu, find_log2_response, respond
from wbplan.camera.setting import (
    CameraView,
    Setting,
    check_unique,
    find_distance,
    find_gains,
    find_locus_log2,
    find_setting_log2,
    round_setting,
    solve_coordinates,
    view_camera,
)
from wbplan.camera.tint_duv import tabulate_duv_tint
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.illuminants import find_mired, radiate_locus
from wbplan.read.catalogue import find_camera, find_source, list_shipped

PROFILES = tuple(list_shipped("camera_profiles"))
FILTER_ARRAYS = ("cfa-mid", "nikon-d5100", "sony-ilce-7m4", "canon-eos-5d-mark-iv")


class Views(dict[str, CameraView]):
    def __repr__(self) -> str:
        return "views"


@pytest.fixture(scope="module")
def views() -> Views:
    names = {*PROFILES, *FILTER_ARRAYS}
    return Views((name, view_camera(find_camera(name, Path()))) for name in names)


def solve(view: CameraView, power: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    raw = respond(power, view.profile.sensitivities[None])
    found = solve_coordinates(view.locus, find_log2_response(raw))
    return found.mired[..., 0], found.tint_cc[..., 0]


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize("light", ["A", "D55", "D65"])
def test_reference_lights_want_their_own_kelvin(
    views: dict[str, CameraView], name: str, light: str
) -> None:
    # A lies on the black-body locus and D55, D65 on the daylight locus by their definitions
    # (CIE 15:2018), so every camera wants just what a meter shows.
    kelvin = {"A": 2855.5, "D55": 5503.0, "D65": 6504.0}[light]
    mired, cc = solve(views[name], find_source(light).values)
    assert mired == pytest.approx(1e6 / kelvin, abs=2.0)
    assert cc == pytest.approx(0.0, abs=0.2)


# Mean over 25 measured cameras of (mired wanted minus mired of the CCT, CC of green), computed
# from the published sensitivities of Jiang, Liu, Gu and Suesstrunk 2013.
WANTED = {
    "LED-B3": (10.0, 1.4),
    "LED-B5": (8.0, 0.9),
    "FL2": (8.0, 2.5),
    "FL4": (24.0, 2.8),
    "FL11": (7.0, 2.1),
    "FL12": (13.0, 2.7),
}


@pytest.mark.parametrize("light", WANTED)
def test_mean_of_filter_array_profiles_wants_what_measured_cameras_want(
    views: dict[str, CameraView], light: str
) -> None:
    power = find_source(light).values
    meter = 1e6 / find_cct_duv(power)[0]
    found = np.array([solve(views[name], power) for name in FILTER_ARRAYS]).mean(axis=0)
    assert found[0] - meter == pytest.approx(WANTED[light][0], abs=4.0)
    assert found[1] == pytest.approx(WANTED[light][1], abs=1.0)


@pytest.mark.parametrize("name", PROFILES)
def test_table_of_the_locus_equals_the_integral(views: dict[str, CameraView], name: str) -> None:
    kelvin = np.geomspace(1001.0, 24990.0, 331)
    exact = find_log2_response(respond(radiate_locus(kelvin), views[name].profile.sensitivities))
    found = find_locus_log2(views[name].locus, find_mired(kelvin)[:, None])[:, 0]
    assert np.abs(found - exact).max() < 2e-5  # stops; 0.002 mired


@pytest.mark.parametrize("name", PROFILES)
def test_every_profile_has_one_kelvin_per_ratio(views: dict[str, CameraView], name: str) -> None:
    assert check_unique(views[name].locus, views[name].profile.menu)


@given(
    st.sampled_from(PROFILES), st.floats(2500.0, 12000.0), st.floats(-6.0, 6.0), st.floats(-9, 9)
)
def test_setting_round_trips(
    views: dict[str, CameraView], name: str, kelvin: float, tint: float, level: float
) -> None:
    mired = 1e6 / kelvin
    neutral = find_setting_log2(views[name].locus, np.array([mired]), np.array([tint])) + level
    found = solve_coordinates(views[name].locus, neutral)
    assert not found.beyond[0]
    assert found.mired[0] == pytest.approx(mired, abs=1e-6)
    # At 7000 K one polynomial of CIE daylight gives way to another (CIE 15:2018, 4.1.2) and they do
    # not quite meet: just there a neutral belongs to either side.
    step = 2e-5 if abs(kelvin - 7000.0) < 1e-6 else 0.0
    assert found.tint_cc[0] == pytest.approx(tint, abs=1e-6 + step)


@pytest.mark.parametrize("name", PROFILES)
def test_gains_of_the_solved_setting_make_the_neutral_equal(
    views: dict[str, CameraView], name: str
) -> None:
    raw = respond(find_source("FL12").values, views[name].profile.sensitivities[None])
    found = solve_coordinates(views[name].locus, find_log2_response(raw))
    gains = find_gains(find_setting_log2(views[name].locus, found.mired, found.tint_cc))
    balanced = (raw * gains)[0]
    assert gains[0, 1] == 1.0
    assert balanced == pytest.approx(np.full(3, balanced[1]), rel=1e-7)


def test_channel_scales_do_not_count(views: dict[str, CameraView]) -> None:
    from dataclasses import replace

    profile = views["cfa-mid"].profile
    scaled = replace(profile, sensitivities=profile.sensitivities * np.array([0.3, 1.0, 7.0]))
    power = find_source("LED-B3").values
    assert np.array(solve(view_camera(scaled), power)) == pytest.approx(
        np.array(solve(views["cfa-mid"], power)), abs=1e-6
    )


def test_green_light_reads_green_and_warm_light_reads_warm(views: dict[str, CameraView]) -> None:
    view = views["cfa-mid"]
    base = solve(view, find_source("D55").values)
    warm = solve(view, find_source("A").values)
    wavelengths = np.arange(380.0, 781.0)
    greener = find_source("D55").values * (1 + 0.2 * ((wavelengths > 500) & (wavelengths < 570)))
    green = solve(view, greener)
    assert warm[0] > base[0] + 100
    assert green[1] > base[1] + 1


def test_a_light_off_the_locus_is_said_to_be(views: dict[str, CameraView]) -> None:
    red_line = np.zeros(401)
    red_line[640 - 380] = 1.0
    blue_line = np.zeros(401)
    blue_line[450 - 380] = 1.0
    view = views["cfa-mid"]
    raw = respond(np.stack([red_line, blue_line]), view.profile.sensitivities[None])
    found = solve_coordinates(view.locus, find_log2_response(raw))
    assert found.beyond.all()
    assert found.mired[:, 0] == pytest.approx([1000.0, 40.0])
    assert found.shortfall_stops[0, 0] > 0 > found.shortfall_stops[1, 0]


@given(st.floats(45.0, 900.0), st.floats(-60.0, 60.0))
def test_rounding_is_the_nearest_on_the_menu(mired: float, tint: float) -> None:
    menu = Menu(
        kelvin=tuple(float(k) for k in range(2500, 10001, 100)),
        tint_cc=tuple(2.5 * n for n in range(-8, 9)),
        presets=(("odd", 3333.0, 1.0),),
    )
    chosen = round_setting(menu, mired, tint)
    options = [(k, t) for k in menu.kelvin for t in menu.tint_cc] + [(3333.0, 1.0)]
    best = min(float(find_distance(1e6 / k - mired, t - tint)) for k, t in options)
    assert find_distance(chosen.mired - mired, chosen.tint_cc - tint) == pytest.approx(best)


def test_a_cc_weighs_seven_mired() -> None:
    """24, 7, 25 by Pythagoras. That seven is fair is held in tests/light/test_filters."""
    assert find_distance(24.0, 1.0) == pytest.approx(25.0)
    assert find_distance(-24.0, -1.0) == pytest.approx(25.0)


@pytest.mark.parametrize("name", FILTER_ARRAYS)
def test_thirty_cc_of_tint_are_a_stop_of_green(views: dict[str, CameraView], name: str) -> None:
    """0.3 of density is 0.30 / 0.30103 = 0.9966 stop (ND arithmetic), and a CC a hundredth of it.

    A light whose green alone is 30 CC stronger wants 30 CC of magenta more, and no other Kelvin.
    """
    locus = views[name].locus
    plain, tinted = find_setting_log2(
        locus, np.array([[300.0], [300.0]]), np.array([[0.0], [30.0]])
    )
    assert tinted[0] - plain[0] == pytest.approx([0.0, 0.9966, 0.0], abs=1e-4)
    greener = find_locus_log2(locus, np.array([[300.0]])) + np.array([0.0, 0.9966, 0.0])
    found = solve_coordinates(locus, greener)
    assert found.tint_cc[0, 0] == pytest.approx(30.0, abs=0.01)
    assert found.mired[0, 0] == pytest.approx(300.0, abs=1e-6)


def test_presets_only_gives_a_named_preset() -> None:
    menu = Menu((), presets=(("tungsten", 3200.0, 0.0), ("daylight", 5600.0, 0.0)))
    assert round_setting(menu, 1e6 / 3000, 8.0) == Setting(3200.0, 0.0, "tungsten")


def test_duv_tint_moves_red_against_blue_and_green_tint_does_not(
    views: dict[str, CameraView],
) -> None:
    place, tint = np.array([312.5]), np.array([10.0])
    for name, moves in (("cfa-mid", False), ("cfa-duv-tint", True)):
        locus = views[name].locus
        shift = (find_setting_log2(locus, place, tint) - find_setting_log2(locus, place, 0 * tint))[
            0
        ]
        assert (abs(shift[0] - shift[2]) > 0.01) == moves
        assert shift[1] - (shift[0] + shift[2]) / 2 > 0.1


def test_duv_tint_agrees_with_a_chromaticity_that_moves_across_the_locus(
    views: dict[str, CameraView],
) -> None:
    # A reference light through a filter that moves it along Duv keeps its CCT by definition
    # (CIE 15:2018, 9.5), so a tint along Duv should leave the Kelvin nearly alone, and one
    # along green need not.
    from wbplan.light.filters import make_ideal_filter

    power = find_source("A").values * make_ideal_filter(green_cc=10.0).transmittance
    meter = 1e6 / find_cct_duv(power)[0]
    duv_mired, _ = solve(views["cfa-duv-tint"], power)
    green_mired, _ = solve(views["cfa-mid"], power)
    assert abs(duv_mired - meter) < abs(green_mired - meter)


def test_one_cc_along_duv_is_some_eight_mired_in_the_uv_diagram() -> None:
    # One mired is 0.00034 to 0.00037 in 1960 u, v along the locus (arithmetic on CIE 15:2018).
    mired = np.linspace(100.0, 400.0, 31)
    found = [
        tabulate_duv_tint(find_camera(name, Path()).sensitivities, mired).duv_per_cc / 0.000355
        for name in FILTER_ARRAYS
    ]
    assert 6.0 < np.median(found) < 10.0
    assert max(found) < 12.0  # one of the four, measured, is at 10.7
