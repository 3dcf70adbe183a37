"""Which LUTs are wanted besides the main correction: kinds, formats, and between what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wbplan.camera.sensitivities import Camera
from wbplan.codes.encodings import LEVELS, Encoding, Levels
from wbplan.core.errors import InputError, Place, describe_choices

LutKind = Literal["correct", "positions", "gains", "light-match", "camera-match", "monitor"]
LutFormat = Literal["cube", "clf", "cc", "ccc", "cdl"]
MatchMap = Literal["best", "matrix"]
CdlOn = Literal["linear", "log"]
Screen = Literal["bt-1886", "p3-d65", "p3-dci", "pq", "hlg"]

KIND_WORDS: dict[LutKind, str] = {
    "correct": "White balance correction, from the setting shot at to the exact one",
    "positions": "White balance correction to one position",
    "gains": "White balance as gains per channel in the encoding's own primaries",
    "light-match": "Match of one light to another through this camera",
    "camera-match": "Match of this camera to another under the same light",
    "monitor": "Correction and view on a monitor",
}
"""Every kind of LUT, and what it is in words."""
FORMATS: tuple[LutFormat, ...] = ("cube", "clf", "cc", "ccc", "cdl")
CDL_ON: tuple[CdlOn, ...] = ("linear", "log")
MATCH_MAPS: tuple[MatchMap, ...] = ("best", "matrix")
INTO_KINDS: tuple[LutKind, ...] = ("correct", "positions", "light-match", "camera-match")
"""Kinds whose picture may come out in another encoding."""
CUBE_SIZES = (17, 33, 65, 97, 129)
"""Nodes per axis that can be asked for."""
MOST_UP_STOPS = 10.0
"""Largest exposure offset of a LUT, either way [stops]."""

SCREENS: dict[Screen, float] = {
    "bt-1886": 100.0,  # Rec. ITU-R BT.2035-0, 3.1
    "p3-d65": 100.0,  # common practice, no source
    "p3-dci": 48.0,  # SMPTE RP 431-2:2011, 7.1 (from memory)
    "pq": 203.0,  # Rep. ITU-R BT.2408-7, table 1
    "hlg": 203.0,
}
"""Every screen that a view can be for: full signal of the first three, else scene 1.0 [cd/m2]."""
HDR_SCREENS: tuple[Screen, ...] = ("pq", "hlg")
PEAK = 1000.0
"""Luminance where a view for PQ or HLG ends [cd/m2], Rep. ITU-R BT.2408-7, 2.1."""
WHITE_RANGE = (100.0, 500.0)
"""What scene 1.0 may be shown at in PQ and HLG [cd/m2]."""


@dataclass(frozen=True)
class Monitor:
    """What a view is for.

    Parameters
    ----------
    screen
        One of `SCREENS`.
    levels
        What the picture's codes 0 to 1 stand for.
    white
        At what scene 1.0 is shown in PQ and HLG [cd/m2]; the screen's own if not given, which the
        others keep.

    Raises
    ------
    InputError
        With the field, for what is not one.
    """

    screen: Screen = "bt-1886"
    levels: Levels = "full"
    white: float | None = None

    def __post_init__(self) -> None:
        for field, value, known in (
            ("monitor", self.screen, tuple(SCREENS)),
            ("range", self.levels, tuple(LEVELS)),
        ):
            if value not in known:
                raise InputError(f"'{value}'", describe_choices(value, known), Place(field=field))
        if self.white is None or self.white == SCREENS[self.screen]:
            return
        place, (low, high) = Place(field="white_cd_m2"), WHITE_RANGE
        if self.screen not in HDR_SCREENS:
            found = f"white at {self.white:g} cd/m2 on {self.screen}"
            allowed = f"{SCREENS[self.screen]:g}, its own; another on pq and hlg alone"
            raise InputError(found, allowed, place)
        if not low <= self.white <= high:
            raise InputError(f"{self.white:g}", f"{low:g} to {high:g} cd/m2", place)

    @property
    def luminance(self) -> float:
        """What its white is shown at [cd/m2]; see `SCREENS`."""
        return SCREENS[self.screen] if self.white is None else self.white


@dataclass(frozen=True, eq=False)
class LutRequest:
    """One LUT, or one for each position, in one or more formats.

    Parameters
    ----------
    size
        Nodes per axis of a three-dimensional table; None for the smallest that is good enough.
    start, end
        For a light match: names of positions or sources, before and after.
    like
        For a camera match: the camera whose picture is wanted.
    position
        For ``positions`` the only one wanted, for a camera match the one by whose light; empty
        for every position, or the key position.
    map
        For a match: ``best``, or ``matrix`` for what needs no table.
    into
        What the picture is written in after; None for as before, or as the other camera's.
    cdl_on
        What the numbers of a CDL are for: ``linear`` light or ``log`` codes.
    up_stops
        How much brighter than exact it makes the picture [stops]; None for the setup's.
    monitor
        What a view is for.
    """

    kind: LutKind
    formats: tuple[LutFormat, ...] = ("cube",)
    size: int | None = None
    start: str = ""
    end: str = ""
    like: Camera | None = None
    position: str = ""
    map: MatchMap = "best"
    into: Encoding | None = None
    cdl_on: CdlOn = "linear"
    up_stops: float | None = None
    monitor: Monitor = Monitor()


def check_up_stops(stops: float) -> None:
    """Refuse an exposure offset that no picture wants [stops]."""
    if not abs(stops) <= MOST_UP_STOPS:
        allowed = f"-{MOST_UP_STOPS:g} to {MOST_UP_STOPS:g} stops"
        raise InputError(f"{stops:g}", allowed, Place(field="up_stops"))


def check_size(size: int | None, field: str = "size") -> None:
    """Refuse a size that no table has."""
    if size is not None and size not in CUBE_SIZES:
        allowed = "one of " + ", ".join(str(each) for each in CUBE_SIZES)
        raise InputError(str(size), allowed, Place(field=field))
