"""How records write figures: RFC 8259 has no NaN or infinity, and an interval has three keys."""

from __future__ import annotations

import json
import math

from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.intervals import Interval
from wbplan.planning.decisions import WantedSetting
from wbplan.record.numbers import make_channels, make_keys, make_number, make_wanted

NUMBERS = st.floats(allow_nan=True, allow_infinity=True)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_an_interval_has_a_key_for_its_value_and_for_each_end(
    value: float, low: float, high: float
) -> None:
    keys = make_keys(t_stop=Interval(value, low, high))
    assert list(keys) == ["t_stop", "t_stop_low", "t_stop_high"]
    assert list(keys.values()) == [make_number(each) for each in (value, low, high)]
    json.dumps(keys, allow_nan=False)


@given(NUMBERS)
def test_nine_digits_or_null(value: float) -> None:
    (made,) = make_keys(lux=value).values()
    if math.isfinite(value):
        assert made is not None
        assert math.isclose(made, value, rel_tol=1e-8, abs_tol=0.0)
    else:
        assert made is None


def test_what_is_not_given_is_null_and_order_is_kept() -> None:
    made = make_keys(tilt=None, ei=800.0, band=Interval(2.0, 1.0, 3.0), fps=23.976)
    assert json.dumps(made) == (
        '{"tilt": null, "ei": 800, "band": 2, "band_low": 1, "band_high": 3, "fps": 23.976}'
    )


def test_channels_stand_before_the_name() -> None:
    one = Interval(1.0, 1.0, 1.0)
    assert list(make_channels("stops", (one, one, one)))[::3] == [
        "red_stops",
        "green_stops",
        "blue_stops",
    ]


def test_mired_of_nought_has_no_kelvin_and_the_ends_turn_round() -> None:
    """A mired is a millionth of a reciprocal kelvin (common practice, no source)."""
    tint = Interval(0.0, 0.0, 0.0)
    made = make_wanted(WantedSetting(Interval(200.0, 100.0, 250.0), tint))
    assert (made["kelvin_low"], made["kelvin"], made["kelvin_high"]) == (4000, 5000, 10000)
    none = make_wanted(WantedSetting(Interval(0.0, -5.0, 10.0), tint))
    assert (none["kelvin"], none["kelvin_low"], none["kelvin_high"]) == (None, 100000, None)
