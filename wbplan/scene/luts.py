"""Which LUTs are wanted besides the main correction: kinds, formats, and between what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wbplan.camera.sensitivities import Camera
from wbplan.codes.encodings import Encoding
from wbplan.core.errors import InputError, Place

LutKind = Literal["correct", "positions", "gains", "light-match", "camera-match", "monitor"]
LutFormat = Literal["cube", "clf", "cc", "ccc", "cdl"]
MatchMap = Literal["best", "matrix"]
CdlOn = Literal["linear", "log"]

KIND_WORDS: dict[LutKind, str] = {
    "correct": "White balance correction, from the setting shot at to the exact one",
    "positions": "White balance correction to one position",
    "gains": "White balance as gains per channel in the encoding's own primaries",
    "light-match": "Match of one light to another through this camera",
    "camera-match": "Match of this camera to another under the same light",
    "monitor": "Correction and view on a BT.1886 monitor",
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
    up_stops
        How much brighter than exact it makes the picture [stops]; None for the setup's.
    map
        For a match: ``best``, or ``matrix`` for what needs no table.
    into
        What the picture is written in after; None for as before, or as the other camera's.
    cdl_on
        What the numbers of a CDL are for: ``linear`` light or ``log`` codes.
    """

    kind: LutKind
    formats: tuple[LutFormat, ...] = ("cube",)
    size: int | None = None
    start: str = ""
    end: str = ""
    like: Camera | None = None
    position: str = ""
    up_stops: float | None = None
    map: MatchMap = "best"
    into: Encoding | None = None
    cdl_on: CdlOn = "linear"


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
