"""How records write figures: RFC 8259 has no NaN or infinity, and an interval has three keys."""

from __future__ import annotations

import json
import math
import re
from importlib.resources import files

from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.intervals import Interval
from wbplan.planning.decisions import WantedSetting
from wbplan.record.numbers import (
    DECIMALS,
    make_channels,
    make_keys,
    make_number,
    make_wanted,
    round_by_unit,
)

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


def test_numbers_are_rounded_by_the_unit_at_the_end_of_their_key() -> None:
    given = {
        "mean_ciede2000": 1.4e-14,
        "kelvin_low": 5599.99876,
        "setups": [
            {"name": "1.23456789", "mired": [-1e-9, 178.571428], "count": 3, "is_key": True}
        ],
        "x": None,
        "red_per_lux": 1.234567891e-3,
        "kelvin_step": 100.0,
    }
    assert json.dumps(round_by_unit(given)) == (
        '{"mean_ciede2000": 0, "kelvin_low": 5600, '
        '"setups": [{"name": "1.23456789", "mired": [0, 178.5714], "count": 3, "is_key": true}], '
        '"x": null, "red_per_lux": 0.001234568, "kelvin_step": 100}'
    )


@given(st.sampled_from(sorted(DECIMALS)), st.floats(-1e4, 1e4), st.integers(-8, 8))
def test_what_differs_in_the_last_bits_is_written_alike(unit: str, value: float, ulps: int) -> None:
    """A figure in the middle of its quantum; one on the edge of two may still go either way."""
    value = round(value, DECIMALS[unit])
    near = value + ulps * math.ulp(value)
    assert round_by_unit({unit: near}) == round_by_unit({unit: value})
    assert round_by_unit(round_by_unit({unit: near})) == round_by_unit({unit: near})


def test_the_guide_states_the_quanta() -> None:
    table = {}
    for line in (files("wbplan.guide") / "records.md").read_text(encoding="utf-8").split("\n"):
        cells = [each.strip() for each in line.strip("|").split("|")]
        if line.startswith("|") and re.fullmatch("(0[.]|1e-)[0-9]+", cells[-1]):
            table |= {unit: float(cells[1]) for unit in re.findall("[a-z0-9]+", cells[0])}
    stated = {unit: table[unit] for unit in DECIMALS}
    assert stated == {unit: float(f"1e-{places}") for unit, places in DECIMALS.items()}
