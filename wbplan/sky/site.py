"""Where and when: a place on the earth with its clock.

What a place's clock shows is what a crew writes on a call sheet, so that is what stands in a
scenario; the time zone turns it into an instant. Twice a year a clock shows an hour that does not
exist, and one that exists twice: the first is refused, the second needs its offset.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from wbplan.sky.dome import FREE_VIEW, Horizon

FIRST_YEAR, LAST_YEAR = 1950, 2099
"""Years of which time zones and the length of the day are known well enough to place the sun."""


@dataclass(frozen=True)
class Site:
    """A place on the earth.

    Parameters
    ----------
    name
        What the crew calls it; may be empty.
    latitude_deg, longitude_deg
        Geodetic [degrees], + north and + east.
    altitude_m
        Above sea level [m].
    time_zone
        Its name in the IANA time zone database.
    horizon
        What blocks the view of the sky there.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    time_zone: str
    horizon: Horizon = FREE_VIEW

    @property
    def words(self) -> str:
        """The place in a line, as a map says it: hemispheres named, no bare signs."""
        north = "N" if self.latitude_deg >= 0 else "S"
        east = "E" if self.longitude_deg >= 0 else "W"
        where = (
            f"{abs(self.latitude_deg):.4f}° {north}, {abs(self.longitude_deg):.4f}° {east}, "
            f"{self.altitude_m:g} m"
        )
        return f"{self.name}, {where}" if self.name else where


def say_moment(moment: datetime) -> str:
    """Say a moment by the place's clock: date, time of day and offset from UTC."""
    offset = moment.strftime("%z")
    return f"{moment:%Y-%m-%d %H:%M} (UTC{offset[:3]}:{offset[3:5]})"
