"""What a scenario says of place and time; fields: `wbplan guide scenario`."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from wbplan.core.errors import InputError
from wbplan.core.notes import Note, warn
from wbplan.read.yaml.fields import Fields
from wbplan.sky.dome import Horizon
from wbplan.sky.site import FIRST_YEAR, LAST_YEAR, Site

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

_WHEN = re.compile(r"(\d{4}-\d{2}-\d{2})[ T](\d{1,2}:\d{2})(?:\s*([+-]\d{2}:\d{2}))?")
_MOST_POINTS = 360
_MOST_HOURS_OFF = 3.0
_CLOCK_YEAR = 2024
WHEN_ALLOWED = "a date and a time of day by the site's clock, as 2026-06-21 14:30"


def read_site(fields: Fields) -> Site | None:
    """Read where the location is; None where nothing is said.

    Raises
    ------
    InputError
        For a place that is not on the earth or a time zone that the system does not know.
    """
    if "site" not in fields:
        return None
    said = fields.mapping("site")
    zone = said.text("time_zone")
    find_zone(said, zone)
    return Site(
        name=said.text("name", ""),
        latitude_deg=said.number("latitude_deg"),
        longitude_deg=said.number("longitude_deg"),
        altitude_m=said.number("altitude_m"),
        time_zone=zone,
        horizon=read_horizon(said),
    )


def note_site(site: Site | None) -> tuple[Note, ...]:
    """Warn of a place that its own clock contradicts, and of one that nobody shoots at.

    A clock stands by the sun's to three hours everywhere on land (the west of China: 2 h 50 min
    late; common practice, no source); beyond that a sign is lost or two fields are swapped.
    """
    if site is None:
        return ()
    from zoneinfo import ZoneInfo

    offset = datetime(_CLOCK_YEAR, 1, 1, tzinfo=ZoneInfo(site.time_zone)).utcoffset()
    clock = (offset or timedelta()).total_seconds() / 3600.0

    def find_hours_off(longitude_deg: float) -> float:
        return abs((clock - longitude_deg / 15.0 + 12.0) % 24.0 - 12.0)

    if site.latitude_deg == 0 and site.longitude_deg == 0:
        text = "latitude and longitude are both 0, a point in the open Gulf of Guinea"
        return (warn("site-nowhere", text, "site"),)
    off = find_hours_off(site.longitude_deg)
    if off <= _MOST_HOURS_OFF:
        return ()
    text = f"its clock ({site.time_zone}) and its longitude lie {off:.1f} hours of sun apart"
    if find_hours_off(-site.longitude_deg) <= _MOST_HOURS_OFF / 2:
        text += f"; west is minus: {-site.longitude_deg:g} would fit"
    elif abs(site.longitude_deg) <= 90 and find_hours_off(site.latitude_deg) <= _MOST_HOURS_OFF / 2:
        text += "; latitude and longitude look swapped"
    return (warn("site-clock", f"{text}. The sun is planned for the longitude", "site"),)


def read_horizon(fields: Fields) -> Horizon:
    """Read what blocks the view: elevations by azimuth; a free view where nothing is said."""
    if "horizon" not in fields:
        return Horizon()
    said = fields.mapping("horizon")
    points = {}
    for name, height in fields.named_numbers("horizon").items():
        try:
            azimuth = float(name)
        except ValueError:
            azimuth = -1.0
        if not 0 <= azimuth < 360 or azimuth in points:
            found = f"the azimuth '{name}'"
            raise InputError(found, "azimuths from 0 to under 360, each once", said.place_of(name))
        points[azimuth] = height
    if len(points) > _MOST_POINTS:
        raise fields.refuse("horizon", f"{len(points)} points", f"at most {_MOST_POINTS}")
    return Horizon(tuple(sorted(points.items())))


def find_zone(fields: Fields, name: str) -> ZoneInfo:
    """Find a time zone by its IANA name."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise fields.refuse(
            "time_zone",
            f"'{name}'",
            "a name of the IANA time zone database that this machine has, as Europe/Madrid or UTC",
        ) from None


def read_when(fields: Fields, site: Site | None, name: str = "when") -> datetime | None:
    """Read a moment by the site's clock, as an aware datetime; None where nothing is said.

    Raises
    ------
    InputError
        Without a site, for what is no date and time, and for a time of day that the clock skips
        or shows twice (when summer time begins or ends).
    """
    if name not in fields:
        return None
    text = fields.text(name)
    if site is None:
        raise fields.refuse(name, "a time without a place", "a site for the whole scenario")
    return parse_when(fields, name, text, find_zone(fields, site.time_zone))


def parse_when(fields: Fields, name: str, text: str, zone: ZoneInfo) -> datetime:
    """Turn a written moment into an aware datetime of the zone; see `read_when`."""
    match = _WHEN.fullmatch(text)
    try:
        if match is None:
            raise ValueError
        clock = datetime.strptime(f"{match[1]} {match[2]}", "%Y-%m-%d %H:%M")
    except ValueError:
        raise fields.refuse(name, f"'{text}'", WHEN_ALLOWED) from None
    if not FIRST_YEAR <= clock.year <= LAST_YEAR:
        raise fields.refuse(name, f"'{text}'", f"a year from {FIRST_YEAR} to {LAST_YEAR}")
    both = [clock.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    real = [each for each in both if _is_real(each)]
    if not real:
        found = f"{text}, which the clocks of {zone.key} skip that day"
        raise fields.refuse(name, found, "a time that the clock shows")
    offsets = {each.utcoffset(): each for each in real}
    if match[3]:
        sign = -1 if match[3][0] == "-" else 1
        wanted = sign * timedelta(hours=int(match[3][1:3]), minutes=int(match[3][4:]))
        if wanted not in offsets:
            said = " or ".join(f"{each:%z}" for each in real)
            raise fields.refuse(name, f"the offset {match[3]}", f"{said} in {zone.key} then")
        return offsets[wanted]
    if len(offsets) > 1:
        raise fields.refuse(
            name,
            f"{text}, which the clocks of {zone.key} show twice that day",
            " or ".join(f"{text} {f'{each:%z}'[:3]}:{f'{each:%z}'[3:5]}" for each in real),
        )
    return real[0]


def _is_real(moment: datetime) -> bool:
    back = moment.astimezone(UTC).astimezone(moment.tzinfo)
    return back.replace(tzinfo=None) == moment.replace(tzinfo=None)
