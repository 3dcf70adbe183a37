"""Rounding that does not hang on the last bits."""

from __future__ import annotations

import math

import pytest

from wbplan.core.rounding import settle
from wbplan.exposure.equation import name_ratio, name_stops
from wbplan.light.filters import name_cast
from wbplan.planning.casts import name_tint
from wbplan.report.base import words


@pytest.mark.parametrize(
    ("say", "half"),
    [
        (lambda x: name_ratio(math.log2(x)), 1.65),
        (name_stops, 0.5),
        (lambda x: name_cast(x, 0.0), 10.5),
        (lambda x: name_cast(0.0, x), 0.25),
        (name_tint, 1.35),
        (words.say_lux, 330.5),
        (words.say_kelvin, 4250.5),
        (words.say_stops, 0.25),
        (words.say_percent, 12.5),
    ],
)
def test_a_half_is_said_alike_whatever_its_last_bits(say: object, half: float) -> None:
    near = [half * (1.0 + bits * 2.0**-50) for bits in range(-8, 9)]
    assert len({say(each) for each in near}) == 1  # type: ignore[operator]


def test_what_is_no_number_stays() -> None:
    assert settle(math.inf) == math.inf
    assert math.isnan(settle(math.nan))
    assert settle(-0.1234567891) == -0.123456789
