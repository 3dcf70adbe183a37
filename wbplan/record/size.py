"""How large the record of a plan or a day comes out, before the work and after it.

A record that no version of wbplan would read again is not written. The figures per setup, light,
position and reading are those of `tests.bench.scale`, bytes as they came out; they are good to a
third or so.
"""

from __future__ import annotations

from collections.abc import Sequence

from wbplan.core.errors import InputError, Place
from wbplan.core.ledger import PlanInputs
from wbplan.day.times import DayWish
from wbplan.read.json_fields import MOST_RECORD_BYTES
from wbplan.scene.setup import Setup

TOLD_BYTES = 5_000_000
_SETUP, _LIGHT, _POSITION, _READING = 15_000, 9_000, 11_600, 85
_FLASH, _BESIDE = 2_000, 300  # of a position, for each of these
_HEAD, _LIGHT_OF_DAY, _TIME, _HOURLY = 10_000, 1_500, 500, 300
_ALLOWED = (
    f"at most {MOST_RECORD_BYTES / 1e6:g} MB, which is what a record is read up to; put the "
    "setups into several scenarios, or leave out positions (of a day, times)"
)


def estimate_record_bytes(setups: Sequence[Setup], inputs: PlanInputs | None = None) -> int:
    """Estimate how large the record of a plan of setups will be [bytes]."""
    total = 0 if inputs is None else sum(len(each.data) for each in inputs.files)
    for each in setups:
        place = _POSITION + _READING * len(each.sources) + _BESIDE * len(each.beside)
        place += _FLASH * any(source.flash and source.on for source in each.sources)
        total += _SETUP + _LIGHT * len(each.sources) + place * len(each.positions)
    return total


def say_size(setups: Sequence[Setup], inputs: PlanInputs | None = None) -> str:
    """Say how large a plan will be, '' for one of the usual size.

    Raises
    ------
    InputError
        Where the record would be larger than what is read.
    """
    return _tell(estimate_record_bytes(setups, inputs), setups)


def estimate_day_bytes(
    setups: Sequence[Setup], wish: DayWish, inputs: PlanInputs | None = None
) -> int:
    """Estimate how large the record of a day of setups will be [bytes]."""
    total = 0 if inputs is None else sum(len(each.data) for each in inputs.files)
    times = (wish.end - wish.begin) // wish.step_minutes + 1
    for each in setups:
        at_once = _TIME + _HOURLY * len(each.positions)
        total += _HEAD + _LIGHT_OF_DAY * len(each.sources) + at_once * times
    return total


def say_day_size(setups: Sequence[Setup], wish: DayWish, inputs: PlanInputs | None = None) -> str:
    """Say how large a day will be, '' for one of the usual size.

    Raises
    ------
    InputError
        Where the record would be larger than what is read.
    """
    said = f", every {wish.step_minutes} minutes"
    return _tell(estimate_day_bytes(setups, wish, inputs), setups, said)


def _tell(size: int, setups: Sequence[Setup], when: str = "") -> str:
    if size < TOLD_BYTES:
        return ""
    lights, places = (
        _say_span([len(each) for each in several], noun)
        for several, noun in (
            ([each.sources for each in setups], "light"),
            ([each.positions for each in setups], "position"),
        )
    )
    many = f"{len(setups)} setup{'' if len(setups) == 1 else 's'} of {lights} at {places}"
    said = f"{many}{when}: a record of some {size / 1e6:.0f} MB"
    if size > MOST_RECORD_BYTES:
        raise InputError(said, _ALLOWED)
    return said


def check_record_bytes(data: bytes, name: str) -> None:
    """Refuse a record that came out larger than what is read.

    Raises
    ------
    InputError
        With its size, before anything is written.
    """
    if len(data) > MOST_RECORD_BYTES:
        raise InputError(f"a record of {len(data) / 1e6:.0f} MB", _ALLOWED, Place(name))


def _say_span(counts: list[int], noun: str) -> str:
    low, high = min(counts), max(counts)
    span = f"{low}" if low == high else f"{low} to {high}"
    return f"{span} {noun}{'' if high == 1 else 's'}"
