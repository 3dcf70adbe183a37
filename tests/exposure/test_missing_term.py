"""Any one term of an exposure from the rest: ISO 2720, EV tables, APEX, round trips, refusals."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.band import BAND_SHARE
from wbplan.core.errors import InputError
from wbplan.exposure import missing_term as solving
from wbplan.exposure.equation import (
    GREY_TO_CLIP_STOPS,
    HEMISPHERICAL_RECEPTOR_C,
    REFLECTED_K,
    find_exposure_value,
    name_ei,
    name_ratio,
    name_stops,
    name_t_stop,
    solve_ei,
    solve_exposure_time_s,
    solve_flash_lux_s,
    solve_fps,
    solve_illuminance_lux,
    solve_t_stop,
)
from wbplan.exposure.missing_term import ExposureTerms, find_missing_term, solve_term
from wbplan.front.cli import exposure as exposecommands

FULL = ExposureTerms(
    t_stop=2.8, ei=800, fps=24, shutter_angle_deg=180, nd_stops=0.0, light=117.6
)  # ISO 2720:1974 with C 250: ISO 800, 1/48 s and T2.8 need 117.6 lux (arithmetic)


# EV at ISO 100 with C 250 is E / 2.5 = 2^EV: EV 10 2560 lux, EV 12 10 240 (951 footcandles in
# exposure tables), EV 15 81 920; with K 12.5, EV 15 is 4096 cd/m2 (ISO 2720:1974, arithmetic).
@pytest.mark.parametrize(
    ("ev", "light", "constant"),
    [(10, 2560.0, 250), (12, 10_240.0, 250), (15, 81_920.0, 250), (15, 4096.0, 12.5)],
)
@pytest.mark.parametrize("time_s", [1.0, 1 / 48, 1 / 1000])
def test_exposure_values(ev: int, light: float, constant: float, time_s: float) -> None:
    known = ExposureTerms(ei=100, exposure_time_s=time_s, light=light, calibration=constant)
    stop = solve_term(known).value.value
    assert find_exposure_value(stop, time_s) == pytest.approx(ev, abs=1e-12)
    missing = replace(known, t_stop=stop, light=None)
    assert solve_term(missing).value.value == pytest.approx(light, rel=1e-12)


# The whole-stop series of aperture and time that EV tables list for one EV; the engraved figures
# are rounded, each by up to a tenth of a stop (EV tables, common practice, no source).
@pytest.mark.parametrize(
    ("ev", "stop", "time_s"),
    [(0, 1.0, 1.0), (9, 2.8, 1 / 60), (12, 5.6, 1 / 125), (12, 8, 1 / 60), (15, 16, 1 / 125)],
)
def test_ev_table(ev: int, stop: float, time_s: float) -> None:
    assert find_exposure_value(stop, time_s) == pytest.approx(ev, abs=0.2)


@given(
    stop=st.floats(0.7, 32), time_s=st.floats(1e-4, 1), ei=st.floats(25, 25_600)
)  # APEX: Av + Tv = Iv + Sv, Av = 2 log2 N, Tv = -log2 t, Sv = log2(0.32 S), Iv = log2(E / 80)
def test_apex(stop: float, time_s: float, ei: float) -> None:
    # Iv and Sv are such that their constants make up C: 1/0.32 x 80 = 250 (ANSI PH2.7, from memory)
    light = float(solve_illuminance_lux(ei, time_s, stop))
    av, tv = 2 * np.log2(stop), -np.log2(time_s)
    sv, iv = np.log2(0.32 * ei), np.log2(light / 80)
    assert av + tv == pytest.approx(iv + sv, abs=1e-9)


# ISO 800, 1/48 s, T2.8: 117.6 lux (C 250), 150.5 (C 320), 159.9 (C 340) (arithmetic, ISO 2720)
@pytest.mark.parametrize(("constant", "lux"), [(250, 117.6), (320, 150.5), (340, 159.9)])
def test_constants(constant: float, lux: float) -> None:
    known = replace(FULL, light=None, calibration=constant)
    assert solve_term(known).value.value == pytest.approx(lux, abs=0.05)


def test_constants_lie_where_the_standard_has_them() -> None:
    # ISO 2720:1974 (from memory): C 320 to 540 hemispherical, K 10.6 to 13.4
    assert 320 <= HEMISPHERICAL_RECEPTOR_C <= 540
    assert 10.6 <= REFLECTED_K <= 13.4
    # with the usual constants: the dome asks 159.9 lux for T2.8 at ISO 800 and 1/48 s (340 common,
    # no source), a spot meter 4096 cd/m2 for EV 15 (published tables, K 12.5), a flat receptor
    # 81 920 lux for it (C 250)
    dome = solve_illuminance_lux(800, 1 / 48, 2.8, calibration_c=HEMISPHERICAL_RECEPTOR_C)
    assert dome == pytest.approx(159.9, abs=0.1)
    ev_15 = 2.0**7.5  # the stop of 1 s at EV 15
    assert solve_illuminance_lux(100, 1.0, ev_15, calibration_c=REFLECTED_K) == pytest.approx(4096)
    assert solve_illuminance_lux(100, 1.0, ev_15) == pytest.approx(81920)
    # ISO 12232:2019: saturation at 78/S, middle grey at 10/S lux seconds: 2.96 stops
    assert pytest.approx(2.963, abs=5e-4) == GREY_TO_CLIP_STOPS


def test_flash_is_the_integral_of_the_same_equation() -> None:
    # N^2 = H S / C: 40 lux s at ISO 100 is f/4 (arithmetic)
    assert solve_term(ExposureTerms(ei=100, flash_lux_s=40)).value.value == pytest.approx(4.0)
    # 160 lux for 1 s at ISO 100 is f/8 (the usual example); half of it as flash is the same
    both = ExposureTerms(ei=100, exposure_time_s=1.0, light=80, flash_lux_s=80)
    assert solve_term(both).value.value == pytest.approx(8.0)


@given(
    ei=st.floats(25, 25_600),
    time_s=st.floats(1e-4, 0.5),
    nd=st.floats(0, 12),
    lux=st.floats(0.1, 2e5),
    flash=st.floats(0.01, 500),
    constant=st.sampled_from([250.0, 340.0, 12.5]),
)
def test_solving_each_term_in_turn_comes_back(
    ei: float, time_s: float, nd: float, lux: float, flash: float, constant: float
) -> None:
    full = ExposureTerms(
        ei=ei, exposure_time_s=time_s, nd_stops=nd, light=lux, flash_lux_s=flash,
        calibration=constant,
    )  # fmt: skip
    full = solve_term(full).terms
    names = {
        "t-stop": "t_stop", "ei": "ei", "shutter": "exposure_time_s", "nd": "nd_stops",
        "light": "light", "flash": "flash_lux_s",
    }  # fmt: skip
    shares = lux * time_s, flash
    for term, name in names.items():
        without = replace(full, **{name: None})
        found = solve_term(without, term)
        # where one light is a small part of the sum, it is known as badly as the sum allows
        part = {"light": shares[0], "shutter": shares[0], "flash": shares[1]}.get(term, sum(shares))
        close = 1e-9 * sum(shares) / part
        assert found.value.value == pytest.approx(getattr(full, name), rel=close, abs=1e-9)
        assert solve_term(found.terms).term == "level"
        assert solve_term(found.terms).value.value == pytest.approx(0, abs=1e-6)


@given(angle=st.floats(1, 360), fps=st.floats(1, 1000), lux=st.floats(1, 1e5))
def test_the_rate_comes_back_from_its_angle(angle: float, fps: float, lux: float) -> None:
    full = solve_term(ExposureTerms(ei=800, shutter_angle_deg=angle, fps=fps, light=lux)).terms
    without = replace(full, fps=None, exposure_time_s=None)
    found = solve_term(without)
    assert found.term == "fps"
    assert found.value.value == pytest.approx(fps, rel=1e-9)


def test_functions_broadcast() -> None:
    lux = np.array([[100.0], [200.0]])
    assert solve_ei(lux, [0.01, 0.02, 0.04], 4.0).shape == (2, 3)
    assert solve_exposure_time_s(lux, [100, 200, 400], 4.0).shape == (2, 3)
    assert solve_fps([90, 180], 1 / 48).tolist() == pytest.approx([12, 24])


def test_too_much_flash_or_light_is_no_number() -> None:
    assert np.isnan(solve_illuminance_lux(100, 0.02, 4.0, flash_lux_s=41.0))
    assert np.isnan(solve_exposure_time_s(100, 100, 4.0, flash_lux_s=41.0))
    assert np.isnan(solve_flash_lux_s(1e6, 100, 0.02, 4.0))
    assert solve_exposure_time_s(0.0, 100, 4.0) == np.inf
    assert solve_ei(0.0, 0.02, 4.0) == np.inf


@pytest.mark.parametrize(
    ("absent", "term"),
    [
        ({"t_stop"}, "t-stop"), ({"ei"}, "ei"), ({"light"}, "light"), ({"nd_stops"}, "nd"),
        ({"fps"}, "fps"), ({"shutter_angle_deg"}, "shutter"), (set(), "level"),
        ({"fps", "shutter_angle_deg"}, "shutter"),
    ],
)  # fmt: skip
def test_the_missing_term_is_told(absent: set[str], term: str) -> None:
    known = replace(FULL, **dict.fromkeys(absent))
    assert find_missing_term(known) == term
    answer = solve_term(known)
    assert answer.term == term
    expected = {
        "t-stop": 2.8, "ei": 800, "light": 117.6, "nd": 0, "fps": 24, "shutter": 1 / 48, "level": 0,
    }  # fmt: skip
    assert answer.value.value == pytest.approx(expected[term], rel=1e-3, abs=1e-3)


def test_the_band_is_that_of_the_meter() -> None:
    # 90 % of a normal error lies within 1.645 standard deviations
    factor = NormalDist().inv_cdf((1 + BAND_SHARE) / 2)
    found = solve_term(replace(FULL, t_stop=None, meter_percent=4.0)).value
    assert found.low == pytest.approx(found.value * np.sqrt(1 - 0.04 * factor))
    assert found.high == pytest.approx(found.value * np.sqrt(1 + 0.04 * factor))
    assert not solve_term(replace(FULL, light=None, meter_percent=4.0)).value.is_open


@pytest.mark.parametrize(
    ("changes", "wanted", "fragments"),
    [
        ({"t_stop": None, "ei": None}, None, ["t-stop and ei missing", "one missing term"]),
        ({"fps": None, "shutter_angle_deg": None, "t_stop": None}, None, ["shutter missing"]),
        ({"exposure_time_s": 0.02}, None, ["by time and by angle"]),
        ({"shutter_angle_deg": None, "exposure_time_s": 0.05}, None, ["at most one frame"]),
        ({}, "t-stop", ["t-stop both given and asked for"]),
        ({}, "shutter", ["shutter both given"]),
        ({"t_stop": None}, "speed", ["the term 'speed'"]),
        ({"light": None, "fps": None, "shutter_angle_deg": None}, "light", ["no shutter"]),
        ({"t_stop": None, "light": None}, "t-stop", ["no light"]),
        ({"light": None, "flash_lux_s": 90.0}, "light", ["flash that alone lies", "stops over"]),
        ({"light": 1e6}, "flash", ["steady light that alone lies"]),
        ({"shutter_angle_deg": None, "light": None, "flash_lux_s": 1.0}, "shutter", ["no light"]),
    ],
)
def test_bad_questions_are_refused(
    changes: dict[str, float | None], wanted: str | None, fragments: list[str]
) -> None:
    with pytest.raises(InputError) as caught:
        solve_term(replace(FULL, **changes), wanted)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_the_command_line_knows_the_same_terms() -> None:
    assert exposecommands.TERMS == solving.TERMS


@pytest.mark.parametrize(
    ("t_stop", "parts", "said"),
    [
        (3.0, 10, "T2.8 and 2/10"),  # 2 log2(3) = 3.17 stops over T1
        (3.13, 3, "T2.8 and 1/3"),
        (3.13, 1, "T2.8"),
        (3.5, 1, "T4"),
        (np.inf, 3, "no stop"),
    ],
)
def test_stops_in_wholes_thirds_and_tenths(t_stop: float, parts: int, said: str) -> None:
    assert name_t_stop(t_stop, parts) == said  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stops", "parts", "said"),
    [
        (0.0, 3, "0 stops"), (1 / 3, 3, "1/3 stop"), (-1.0, 3, "1 stop"),
        (1.7, 3, "1 and 2/3 stops"), (2.0, 3, "2 stops"), (2.34, 10, "2 and 3/10 stops"),
        (2.4, 1, "2 stops"), (np.inf, 3, "no end of stops"),
    ],
)  # fmt: skip
def test_sizes_in_stops(stops: float, parts: int, said: str) -> None:
    assert name_stops(stops, parts) == said  # type: ignore[arg-type]


# Exposure indices in thirds as cameras carry them (ISO 12232:2019 lists them; from memory)
@pytest.mark.parametrize(
    ("ei", "said"),
    [(100, "100"), (87.4, "80"), (126, "125"), (800, "800"), (12_700, "12800"), (5, "5"),
     (2e5, "200000")],
)  # fmt: skip
def test_exposure_indices_in_thirds(ei: float, said: str) -> None:
    assert name_ei(ei) == said


# Key to fill: 1 stop 2:1, 2 stops 4:1, 3 stops 8:1 (common practice, no source)
def test_exposure_indices_are_those_of_the_standard() -> None:
    """ISO 12232:2019, the series of speeds in thirds of a stop (from memory), 12 to 10 000.

    From there cameras carry exact doublings of 800 (common practice, no source).
    """
    series = (
        *(12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800),
        *(1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10000),
    )
    exact = 100.0 * 2.0 ** ((np.arange(len(series)) - 9) / 3.0)
    assert [name_ei(float(each)) for each in exact] == [str(each) for each in series]
    assert np.abs(np.log2(np.array(series) / exact)).max() < 1 / 9
    for doublings in range(4, 8):
        assert name_ei(100.0 * 2.0 ** (doublings + 3)) == str(800 * 2**doublings)
    for third in (16000, 20000, 32000, 40000, 64000, 80000):
        assert name_ei(float(third)) == str(third)


@pytest.mark.parametrize(
    ("stops", "said"),
    [(1, "2:1"), (2, "4:1"), (3, "8:1"), (-1, "1:2"), (0, "1:1"), (1.5, "2.8:1"), (0.02, "1:1"),
     (-0.02, "1:1"), (4.33, "20:1"), (np.inf, "no ratio")],
)  # fmt: skip
def test_ratios(stops: float, said: str) -> None:
    assert name_ratio(stops) == said


def test_no_light_is_no_stop() -> None:
    assert solve_t_stop(0.0, 800, 0.02, flash_lux_s=0.0) == 0
