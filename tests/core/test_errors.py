"""Refusals: what a person reads of them."""

from __future__ import annotations

import pytest

from wbplan.core.errors import InputError, MistakesError, Place, describe_choices, list_mistakes

HOSTILE = "a\u202eb\n\x1b[31m"


@pytest.mark.parametrize(
    ("found", "allowed", "place"),
    [(HOSTILE, "x", Place()), ("x", HOSTILE, Place()), ("x", "y", Place(HOSTILE, 1, 2, HOSTILE))],
)
def test_what_somebody_wrote_reaches_no_terminal_as_a_control(
    found: str, allowed: str, place: Place
) -> None:
    error = InputError(found, allowed, place)
    moved = error.at(place).move(lambda each: each)
    assert str(error) == str(moved)
    assert str(error).isprintable()
    assert error.found.isprintable()
    assert error.allowed.isprintable()
    several = MistakesError([error, moved], 2)
    assert len(str(several).split("\n")) == len(list_mistakes(several)) == 2


def test_a_name_that_is_offered_has_an_end() -> None:
    # Found by a fuzzer: a table whose heading was thousands of letters long.
    assert len(describe_choices("red", ["a" * 5000, "b" * 5000])) < 250
    assert len(describe_choices("a" * 4990, ["a" * 5000])) < 250
