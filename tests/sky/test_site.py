"""Place and time in a scenario: what is read, and what is refused."""

from __future__ import annotations

from datetime import UTC, timedelta

import pytest

from wbplan.core.errors import InputError
from wbplan.read.model.forms import Map
from wbplan.read.model.scenario import SCENARIO
from wbplan.read.scenario.site import read_site, read_when
from wbplan.read.yaml.fields import parse_yaml
from wbplan.sky.site import Site, say_moment

SITE = (  # invented: a point in open sea
    "site: {name: Old brickworks, latitude_deg: 54.4, longitude_deg: 4.4,"
    " time_zone: Europe/Brussels}\n"
)


def parse(text: str, form: Map | None = None):
    return parse_yaml(text, "a.yaml", SCENARIO, form)


def read(text: str):
    return read_when(parse("name: Wide\n" + text, Map("setup")), read_site(parse(SITE)))


def test_a_site_is_read_and_said() -> None:
    site = read_site(parse(SITE))
    assert site == Site("Old brickworks", 54.4, 4.4, 0.0, "Europe/Brussels")
    assert site.words == "Old brickworks, 54.4000° N, 4.4000° E, 0 m"
    south = Site("", -33.9, -70.5, 540, "UTC")
    assert south.words == "33.9000° S, 70.5000° W, 540 m"


def test_a_moment_is_by_the_clock_of_the_place() -> None:
    # Summer time in the European Union: last Sunday of March to last Sunday of October, UTC+2 in
    # Brussels (Directive 2000/84/EC).
    summer, winter = read("when: 2026-06-21 14:30"), read("when: 2026-12-21 9:05")
    assert summer.astimezone(UTC).strftime("%H:%M") == "12:30"
    assert winter.astimezone(UTC).strftime("%H:%M") == "08:05"
    assert say_moment(summer) == "2026-06-21 14:30 (UTC+02:00)"
    assert read("") is None


def test_an_hour_shown_twice_needs_its_offset() -> None:
    with pytest.raises(InputError, match=r"show twice that day.*\+02:00 or .*\+01:00"):
        read("when: 2026-10-25 02:30")
    first, second = read("when: 2026-10-25 02:30 +02:00"), read("when: 2026-10-25 02:30+01:00")
    assert second.astimezone(UTC) - first.astimezone(UTC) == timedelta(hours=1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("when: 2026-03-29 02:30", "skip that day"),
        ("when: 2026-06-21", "a date and a time of day"),
        ("when: 2026-06-31 10:00", "a date and a time of day"),
        ("when: 2026-06-21 24:30", "a date and a time of day"),
        ("when: noon", "a date and a time of day"),
        ("when: 2026-06-21 14:30 +05:00", r"\+0200 in Europe/Brussels"),
    ],
)
def test_what_is_no_moment_is_refused(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("site: {latitude_deg: 91, longitude_deg: 0, time_zone: UTC}", "latitude_deg"),
        ("site: {latitude_deg: 1, longitude_deg: 181, time_zone: UTC}", "longitude_deg"),
        ("site: {latitude_deg: 1, longitude_deg: 1}", "time_zone"),
        ("site: {latitude_deg: 1, longitude_deg: 1, time_zone: Mars/Base}", "IANA"),
        ("site: {latitude_deg: 1, longitude_deg: 1, time_zone: ../../etc/passwd}", "IANA"),
    ],
)
def test_what_is_no_site_is_refused(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_site(parse(text))


def test_a_time_without_a_site_is_refused() -> None:
    with pytest.raises(InputError, match="without a place"):
        read_when(parse("when: 2026-06-21 14:30", Map("setup")), None)
