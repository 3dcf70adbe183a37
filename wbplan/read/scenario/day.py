"""What a scenario, or the command line, says of a day; fields: `wbplan guide scenario`."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Final

from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.day.times import MOST_TIMES, DayWish, Tolerance
from wbplan.read.yaml.fields import Fields
from wbplan.sky.site import FIRST_YEAR, LAST_YEAR

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})")
_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_MINUTES: Final = 1440
_TOLERANCE: Final = {"mired": 500.0, "cc": 200.0, "stops": 20.0}


def read_day(fields: Fields) -> DayWish:
    """Read the day that is asked for; what is left out has `DayWish`'s defaults."""
    said = fields.mapping("day")
    wish = DayWish(
        date=parse_date(said.text("date"), said.place_of("date")) if "date" in said else None,
        step_minutes=said.whole("step_minutes"),
        within=_read_within(said),
    )
    begin, end = wish.begin, wish.end
    if "from" in said:
        begin = parse_clock(said.text("from"), said.place_of("from"))
    if "to" in said:
        end = parse_clock(said.text("to"), said.place_of("to"))
    place = said.place_of("to" if "to" in said else "from")
    return check_day(replace(wish, begin=begin, end=end), place)


def _read_within(fields: Fields) -> Tolerance:
    if "within" not in fields:
        return Tolerance()
    said = fields.mapping("within")
    return Tolerance(**{name: said.number(name) for name in _TOLERANCE})


def parse_tolerance(words: Iterable[str], usual: Tolerance, place: Place) -> Tolerance:
    """Read tolerances in words: ``mired:10``, ``cc:2``, ``stops:0.5``.

    Raises
    ------
    InputError
        For anything else.
    """
    found = {}
    for word in words:
        name, _, size = word.partition(":")
        try:
            number = float(size)
        except ValueError:
            number = -1.0
        if name not in _TOLERANCE or not 0 < number <= _TOLERANCE[name]:
            allowed = "mired:, cc: or stops: and a number above 0, as mired:10"
            raise InputError(show_value(word), allowed, place)
        found[name] = number
    return replace(usual, **found)


def parse_date(text: str, place: Place) -> date:
    """Read a date, 2026-06-21.

    Raises
    ------
    InputError
        For what is none, and for years of which no time zone's rules are known.
    """
    try:
        if not _DATE.fullmatch(text):
            raise ValueError
        found = date.fromisoformat(text)
    except ValueError:
        raise InputError(show_value(text), "a date, as 2026-06-21", place) from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        allowed = f"a year from {FIRST_YEAR} to {LAST_YEAR}"
        raise InputError(show_value(text), allowed, place)
    return found


def parse_clock(text: str, place: Place) -> int:
    """Read a time of day, 06:30 to 24:00, as minutes from midnight."""
    match = _CLOCK.fullmatch(text)
    fits = match is not None and int(match[2]) < 60
    minutes = int(match[1]) * 60 + int(match[2]) if match and fits else _MINUTES + 1
    if minutes > _MINUTES:
        raise InputError(show_value(text), "a time of day from 00:00 to 24:00, as 06:30", place)
    return minutes


def check_day(wish: DayWish, place: Place) -> DayWish:
    """Let a day that ends before it begins end on the next, and refuse one of too many times."""
    end = wish.end - _MINUTES if wish.end > _MINUTES else wish.end
    wish = replace(wish, end=end + _MINUTES if end < wish.begin else end)
    count = (wish.end - wish.begin) // wish.step_minutes + 1
    if count > MOST_TIMES:
        found = f"{count} times"
        raise InputError(found, f"at most {MOST_TIMES}: a longer step, or fewer hours", place)
    return wish
