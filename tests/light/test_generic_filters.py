"""Generic corrections."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.filters import find_loss_stops, stack_filters
from wbplan.light.generic_filters import GELS, Gel, describe_gel, make_gel
from wbplan.light.illuminants import radiate_locus
from wbplan.light.spectrum import WAVELENGTHS_NM

BY_NAME = {each.name: each for each in GELS}

# 1e6/3200 - 1e6/5600 is 133.93 mired (arithmetic), 134 in round, and its half, quarter and eighth.
# The light each is made for: orange on daylight, blue on tungsten (common practice, no source).
SHIFTS = [
    ("full orange", 5600, 134),
    ("half orange", 5600, 67),
    ("quarter orange", 5600, 33.5),
    ("eighth orange", 5600, 16.75),
    ("full blue", 3200, -134),
    ("half blue", 3200, -67),
    ("quarter blue", 3200, -33.5),
    ("eighth blue", 3200, -16.75),
]
# What filters on sale are listed with (Brown, Cinematography: Theory and Practice, table 12.1): the
# rule lies within a quarter of each.
LISTED = [
    ("half orange", 81),
    ("quarter orange", 42),
    ("eighth orange", 20),
    ("full blue", -131),
    ("half blue", -68),
    ("quarter blue", -30),
]


@pytest.mark.parametrize(("name", "kelvin", "mired"), SHIFTS)
def test_shift_to_the_eye_is_the_nominal_one(name: str, kelvin: float, mired: float) -> None:
    light = radiate_locus(kelvin)
    behind = find_cct_duv(light * make_gel(BY_NAME[name]).transmittance)[0]
    assert 1e6 / behind - 1e6 / kelvin == pytest.approx(mired, rel=0.05)


@pytest.mark.parametrize(("name", "listed"), LISTED)
def test_the_rule_is_near_what_is_sold(name: str, listed: float) -> None:
    assert BY_NAME[name].mired == pytest.approx(listed, rel=0.25)


@pytest.mark.parametrize("kelvin", [3200, 5600])
def test_full_orange_and_full_blue_undo_each_other(kelvin: float) -> None:
    light = radiate_locus(kelvin)
    pair = make_gel(BY_NAME["full orange"]), make_gel(BY_NAME["full blue"])
    back = find_cct_duv(light * stack_filters(pair).transmittance)[0]
    assert 1e6 / back - 1e6 / kelvin == pytest.approx(0, abs=0.5)


# Full orange passes about half, full blue about a third of the light, half blue about half; from
# memory of makers' sheets, which differ by a few percent.
@pytest.mark.parametrize(
    ("name", "kelvin", "passed"),
    [("full orange", 5600, 0.50), ("full blue", 3200, 0.34), ("half blue", 3200, 0.53)],
)
def test_light_that_is_left(name: str, kelvin: float, passed: float) -> None:
    loss = float(find_loss_stops(make_gel(BY_NAME[name]).transmittance, radiate_locus(kelvin)))
    assert 2.0**-loss == pytest.approx(passed, abs=0.06)


# Full green or magenta 30 CC, half 15, quarter 7.5 (common practice, no source); a CC is 0.01 of
# density at the peak, and a dyed filter has about 0.04 of base density (from memory).
@pytest.mark.parametrize(
    ("name", "cc"), [("full green", 30), ("half green", 15), ("quarter magenta", 7.5)]
)
def test_density_of_green_and_magenta(name: str, cc: float) -> None:
    density = -np.log10(make_gel(BY_NAME[name]).transmittance)
    assert density.max() - density.min() == pytest.approx(cc / 100, abs=0.002)
    assert density.min() == pytest.approx(0.04, abs=0.001)
    middle, outside = density[WAVELENGTHS_NM == 537][0], density[WAVELENGTHS_NM == 640][0]
    assert bool(outside > middle) == ("green" in name)


def test_catalogue_is_whole_ordered_and_marked() -> None:
    assert len(BY_NAME) == 16
    strengths = [each.name.split()[0] for each in GELS]
    assert strengths == ["full", "half", "quarter", "eighth"] * 4
    for first, second in pairwise(GELS):
        if first.name.split()[1] == second.name.split()[1]:
            assert abs(first.mired) + abs(first.green_cc) > abs(second.mired) + abs(second.green_cc)
    for each in GELS:
        made = make_gel(each)
        assert made.is_model
        assert made.name == each.name
        assert [note.code for note in made.notes] == ["generic-filter"]
        assert "generic" in describe_gel(each)[-1]


def test_loss_depends_on_the_light() -> None:
    warm = make_gel(Gel("x", 134.0, 0.0)).transmittance
    tungsten, daylight = (float(find_loss_stops(warm, radiate_locus(k))) for k in (3200, 6500))
    assert tungsten < daylight  # orange passes what tungsten has
