"""The `luts:` list of a setup: which LUTs are wanted besides the main correction."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from wbplan.camera.sensitivities import Camera
from wbplan.codes.encodings import Encoding, Levels, find_encoding, note_ei
from wbplan.core.errors import InputError, Place, UnknownNameError, describe_choices
from wbplan.core.notes import Note
from wbplan.read.yaml.fields import Fields
from wbplan.scene.luts import (
    CUBE_SIZES,
    FORMATS,
    INTO_KINDS,
    SCREENS,
    CdlOn,
    LutFormat,
    LutKind,
    LutRequest,
    MatchMap,
    Monitor,
    Screen,
)

MOST_REQUESTS = 100


def read_lut_requests(
    fields: Fields,
    positions: list[str],
    sources: list[str],
    find_camera: Callable[[str, Place], Camera],
    ei: float,
) -> tuple[LutRequest, ...]:
    """Read what a setup's `luts:` asks for; nothing where it has none.

    Parameters
    ----------
    fields
        The setup.
    positions, sources
        Names that a match may go between.
    find_camera
        From a profile's name or path, and where it stands in the file, to the profile.
    ei
        What is shot at, for curves that are published by EI.

    Raises
    ------
    InputError
        With the place of the fault.
    """
    if "luts" not in fields:
        return ()
    entries = fields.mappings("luts")
    if len(entries) > MOST_REQUESTS:
        raise fields.refuse("luts", f"{len(entries)} entries", f"at most {MOST_REQUESTS}")
    return tuple(_read_request(each, positions, sources, find_camera, ei) for each in entries)


def read_lut_size(fields: Fields, name: str) -> int | None:
    """Read the points of tables; None where nothing is said."""
    if name not in fields:
        return None
    size = fields.whole(name)
    if size not in CUBE_SIZES:
        raise fields.refuse(name, str(size), "one of " + ", ".join(map(str, CUBE_SIZES)))
    return size


def read_up_stops(fields: Fields, name: str) -> float | None:
    """Read an exposure offset [stops]; None where nothing is said."""
    if name not in fields:
        return None
    return fields.number(name)


def _read_request(
    fields: Fields,
    positions: list[str],
    sources: list[str],
    find_camera: Callable[[str, Place], Camera],
    ei: float,
) -> LutRequest:
    kind = cast(LutKind, fields.choice("kind"))
    size = read_lut_size(fields, "size")
    stops = read_up_stops(fields, "up_stops")
    start = end = position = ""
    like = None
    if kind == "light-match":
        lights = list(dict.fromkeys([*positions, *sources]))
        start = fields.choice("from", lights)
        end = fields.choice("to", lights)
        if start == end:
            raise fields.refuse("to", f"'{end}' again", "another position or source")
    elif kind == "camera-match":
        like = find_camera(fields.text("like"), fields.place_of("like"))
    if kind in ("camera-match", "positions"):
        position = fields.choice("position", positions, "")
    by: MatchMap = "best"
    if kind in ("light-match", "camera-match"):
        by = cast(MatchMap, fields.choice("map"))
    into = None
    if "into" in fields:
        if kind not in INTO_KINDS:
            raise fields.refuse("into", f"a '{kind}' LUT", "kinds " + ", ".join(INTO_KINDS))
        into = read_encoding(fields, "into", ei)[0]
    monitor = _read_monitor(fields) if kind == "monitor" else Monitor()
    cdl_on = cast(CdlOn, fields.choice("cdl_on"))
    formats = _read_formats(fields)
    return LutRequest(
        kind, formats, size, start, end, like, position, by, into, cdl_on, stops, monitor
    )


def _read_monitor(fields: Fields) -> Monitor:
    """Read what a view is for: its screen, range and white [cd/m2]."""
    screen = cast(Screen, fields.choice("monitor"))
    levels = cast(Levels, fields.choice("range"))
    white = fields.number("white_cd_m2", SCREENS[screen])
    try:
        return Monitor(screen, levels, white)
    except InputError as error:
        raise error.at(fields.place_of("white_cd_m2")) from None


def read_encoding(fields: Fields, name: str, ei: float) -> tuple[Encoding, tuple[Note, ...]]:
    """Read an encoding under a field: curve, gamut, range and EI; ``ei`` is the one shot at."""
    given = fields.mapping(name)
    curve, gamut, levels = given.text("curve"), given.text("gamut"), given.text("range")
    ei = given.number("ei", ei)
    try:
        found = find_encoding(curve, gamut, levels, ei)
    except UnknownNameError as error:
        raise error.at(fields.place_of(name)) from None
    return found, note_ei(found, ei)


def _read_formats(fields: Fields) -> tuple[LutFormat, ...]:
    if "formats" not in fields:
        return ("cube",)
    names = fields.texts("formats")
    for name in names:
        if name not in FORMATS:
            raise fields.refuse("formats", f"'{name}'", describe_choices(name, FORMATS))
    if not names:
        raise fields.refuse("formats", "an empty list", "at least one of " + ", ".join(FORMATS))
    return tuple(dict.fromkeys(cast(LutFormat, name) for name in names))
