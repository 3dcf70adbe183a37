"""Figures that nobody would mean are said; figures of every set are not (common practice)."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.exposure.equation import find_engraved_stop, solve_t_stop
from wbplan.exposure.missing_term import ExposureTerms, solve_term
from wbplan.exposure.plausible import doubt_exposure, doubt_height, doubt_lux, doubt_t_stop


@pytest.mark.parametrize(
    "notes",
    [
        doubt_exposure(ei=1e9),
        doubt_exposure(fps=1e-300),
        doubt_exposure(exposure_time_s=1e-300),
        doubt_t_stop(0.26, "key"),
        doubt_t_stop(520.0, "key"),
        doubt_lux(40_000.0, "face", -12.0),
        doubt_lux(2e5, "face"),
        doubt_lux(1e-300, "face"),
        doubt_height(155.0, "camera height"),
    ],
)
def test_what_nobody_means_is_warned_of(notes: tuple) -> None:  # type: ignore[type-arg]
    assert [(each.code, each.weight) for each in notes] == [("implausible", "warning")]


def test_what_crews_do_is_not() -> None:
    assert not doubt_exposure(12.0, 1000.0, 1 / 8000)
    assert not doubt_exposure(4000.0, 24.0, 1 / 48)
    assert not any(doubt_t_stop(each, "key") for each in (0.95, 1.3, 2.8, 22.6, 45.3, 0.0, np.inf))
    assert not doubt_lux(110_000.0, "face", 60.0)  # the sun at noon
    assert not doubt_lux(40_000.0, "face")
    assert not doubt_lux(800.0, "face", -12.0)
    assert not any(doubt_lux(each, "face") for each in (0.0, 0.0005))  # no light; starlight
    assert not doubt_height(12.0, "crane")


def test_the_help_is_right() -> None:
    # 2 log2(1.4 / 0.26) = 4.86 stops; 2 log2(520 / 22.63) = 9.04 (arithmetic)
    assert "4.9 stops" in doubt_t_stop(0.26, "key")[0].text
    assert "ND 9.0 stops" in doubt_t_stop(520.0, "key")[0].text


# Whole stops are powers of the root of two (ISO 517: 1, 1.4, 2 ... 11, 16, 22), engraved in round.
@pytest.mark.parametrize(
    ("figure", "exact"),
    [(1.4, 2**0.5), (2.8, 2**1.5), (5.6, 2**2.5), (11, 2**3.5), (22, 2**4.5), (8, 8), (6.3, 6.3)],
)
def test_engraved_figures(figure: float, exact: float) -> None:
    assert find_engraved_stop(figure) == pytest.approx(exact, abs=1e-12)


def test_engraved_stops_are_a_stop_apart() -> None:
    lux = np.array([1000.0, 2000.0, 4000.0])
    stops = solve_t_stop(lux, 100, 1 / 50)
    factor = find_engraved_stop(11) / stops[0]
    assert stops * factor == pytest.approx([find_engraved_stop(each) for each in (11, 16, 22)])


def test_a_solved_term_says_its_doubts() -> None:
    answer = solve_term(ExposureTerms(ei=1e9, exposure_time_s=1 / 48, light=147.0))
    assert len(answer.notes) == 2
    reflected = ExposureTerms(ei=800, exposure_time_s=1e-3, light=2e5, calibration=12.5, t_stop=22)
    assert not solve_term(reflected).notes  # cd/m2 of a sunlit cloud are no lux
