"""When a light is said to be past every setting: the stated limits, from both sides."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.camera.neutralisable import find_trouble
from wbplan.camera.setting import Coordinates, find_locus_response
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, find_effective_width_nm
from wbplan.planning.eye_view import see_as_eye
from wbplan.read.catalogue import find_camera

CAMERA = find_camera("nikon-d5100", Path())
LOCUS = find_locus_response(CAMERA.sensitivities[None])
DAYLIGHT = np.log2(radiate_daylight(5500.0) @ CAMERA.sensitivities)


def judge(power: np.ndarray, stops: np.ndarray) -> str:
    """What is said of a light (401,) whose channels lie so many stops from daylight's."""
    one = np.zeros((1, 1))
    place = Coordinates(one + 200.0, one, one > 1, one)
    return find_trouble(power[None], (DAYLIGHT + stops)[None], place, LOCUS)[0]


def make_bell(full_width_nm: float) -> np.ndarray:
    sigma = full_width_nm / (2 * np.sqrt(2 * np.log(2)))
    return np.exp(-0.5 * ((WAVELENGTHS_NM - 570) / sigma) ** 2)


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_a_channel_is_given_up_at_64_times_its_gain_by_daylight(channel: int) -> None:
    """64 times is 6 stops: common practice, no source. Overall level does not count."""
    short = np.eye(3)[channel]
    flat = np.ones(401)
    for gain, given_up in ((60.0, False), (68.0, True)):
        said = judge(flat, 3.0 - np.log2(gain) * short)
        assert bool(said) == given_up
    assert f"the {('red', 'green', 'blue')[channel]} channel is 6.1 stops short" in said
    # what is short is counted from the best channel to the worst
    assert judge(flat, np.array([3.2, 0.0, -3.2]))
    assert not judge(flat, np.array([2.8, 0.0, -2.8]))


def test_the_effective_width_of_a_bell() -> None:
    """(sum P)^2 / sum P^2 of a Gaussian is 2 sqrt(pi) sigma: 1.5053 times its full half width."""
    for width in (5.0, 20.0, 60.0):
        found = float(find_effective_width_nm(make_bell(width)))
        assert found == pytest.approx(2 * np.sqrt(np.pi) * width / 2.354820, rel=1e-4)


def test_a_line_is_told_from_a_narrow_led() -> None:
    """30 nm of effective width is a Gaussian of 19.93 nm: a bare LED of 20 to 25 nm passes."""
    level = np.zeros(3)
    assert "almost a single line (29 nm wide)" in judge(make_bell(19.4), level)
    assert judge(make_bell(20.4), level) == ""


def test_the_dark_has_no_colour() -> None:
    assert judge(np.zeros(401), np.zeros(3)) == "no light here"
    dark, lit = see_as_eye(np.stack([np.zeros(401), np.ones(401)]))
    assert np.isnan([dark.cct_kelvin, dark.duv, dark.x, dark.y]).all()
    # equal energy: x = y = 1/3 and 5455 K (CIE 15:2018)
    assert (lit.x, lit.y) == pytest.approx((1 / 3, 1 / 3), abs=2e-4)
    assert lit.cct_kelvin == pytest.approx(5455, abs=10)
