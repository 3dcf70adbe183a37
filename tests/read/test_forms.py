"""What a number may be: limits, 0 besides, and how they are said and put into a schema."""

from __future__ import annotations

import jsonschema
import pytest

from wbplan.read.model.forms import Number

LUX = Number(0.000001, 1e7, or_zero=True)


@pytest.mark.parametrize("value", [0.0, 1e-6, 3.0, 1e7])
def test_zero_and_what_lies_within_is_taken(value: float) -> None:
    assert LUX.takes(value)
    jsonschema.validate(value, LUX.make_schema())


@pytest.mark.parametrize("value", [-1.0, 5e-324, 9e-7, 2e7])
def test_what_is_nearly_nothing_is_not(value: float) -> None:
    assert not LUX.takes(value)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(value, LUX.make_schema())


def test_limits_are_said_without_an_exponent() -> None:
    assert LUX.describe() == "0, or a number from 0.000001 to 10000000"
    assert Number(1e-9).describe() == "a number of at least 0.000000001"


def test_both_of_two_forms_hold() -> None:
    assert LUX.tighten(Number(high=100.0)).describe() == "0, or a number from 0.000001 to 100"
    assert not LUX.tighten(Number(above=0.0)).takes(0.0)
