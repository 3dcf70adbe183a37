"""What a scenario says for the plate; fields: `wbplan guide scenario`."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

from wbplan.core.errors import InputError, describe_choices, fold_name
from wbplan.read.scenario.predicted import read_lamp
from wbplan.read.yaml.fields import Fields
from wbplan.scene.plate import CAMERA, PlateLens, Slate, Spot

_MOST_FILTERS = 12
_MOST_M = 10_000.0


def read_plate_lens(fields: Fields) -> PlateLens | None:
    """Read the lens and how the camera stood; None where nothing is said."""
    if "lens" not in fields:
        return None
    lens = fields.mapping("lens")
    filters = tuple(lens.texts("filters", required=False))
    if len(filters) > _MOST_FILTERS:
        raise lens.refuse("filters", f"{len(filters)} filters", f"at most {_MOST_FILTERS}")
    return PlateLens(
        name=lens.text("name", ""),
        focal_length_mm=lens.number("focal_length_mm", None),
        squeeze_ratio=lens.number("squeeze_ratio", None),
        focus_distance_m=_read_focus(lens),
        camera_height_m=lens.number("camera_height_m", None),
        tilt_deg=lens.number("tilt_deg", None),
        roll_deg=lens.number("roll_deg", None),
        heading_deg=lens.number("heading_deg", None),
        sensor_width_mm=lens.number("sensor_width_mm", None),
        sensor_height_mm=lens.number("sensor_height_mm", None),
        picture_width_px=lens.whole("picture_width_px", None),
        picture_height_px=lens.whole("picture_height_px", None),
        filters=filters,
        serial=lens.text("serial", ""),
        entrance_pupil_mm=lens.number("entrance_pupil_mm", None),
        distortion=lens.text("distortion", ""),
    )


def _read_focus(lens: Fields) -> float | None:
    name = "focus_distance_m"
    if lens.is_text(name):
        try:
            lens.choice(name, ("infinity",))
        except InputError as error:
            allowed = f"a number above 0 and of at most {_MOST_M:g}, or infinity"
            raise lens.refuse(name, error.found, allowed) from None
        return math.inf
    return lens.number(name, None)


def read_layout(
    fields: Fields, lights: Iterable[str], positions: Iterable[str], folder: Path
) -> tuple[Spot, ...]:
    """Read where lights and positions stand; empty where nothing is said.

    Photometry files are looked for from ``folder``.

    Raises
    ------
    InputError
        For a name that is no light or position of the setup (with the nearest ones), that is
        both, or that comes twice.
    """
    if "layout" not in fields:
        return ()
    outer = fields.mapping("layout")
    known_lights, known_positions = list(lights), list(positions)
    known = list(dict.fromkeys([*known_lights, *known_positions]))
    spots: dict[str, Spot] = {}
    for written, each in fields.named_mappings("layout").items():
        name = _match(outer, written, known)
        if name in known_lights and name in known_positions:
            found = f"'{name}', which is a light and a position"
            raise outer.refuse(written, found, "a name that only one of them has")
        if name in spots:
            raise outer.refuse(written, f"'{name}' twice", "each name once")
        spots[name] = _read_spot(each, name, name in known_lights, known, folder)
    return tuple(spots.values())


def _match(outer: Fields, written: str, known: list[str]) -> str:
    if written in known:
        return written
    for each in known:
        if fold_name(each) == fold_name(written):
            return each
    raise outer.refuse(
        written,
        f"the name '{written}'",
        f"a light or position of this setup: {describe_choices(written, known)}",
    )


def _read_spot(fields: Fields, name: str, is_light: bool, known: list[str], folder: Path) -> Spot:
    bearing = fields.number("bearing_deg")
    facing = fields.number("facing_deg", None)
    aimed_at = ""
    if "aimed_at" in fields:
        for other in ("facing_deg", "tilt_deg"):
            if other in fields:
                found = f"aimed_at and {other} together"
                raise fields.refuse(other, found, "a thing it is aimed at, or a direction")
        aimed_at = fields.choice("aimed_at", [CAMERA, *(each for each in known if each != name)])
    size = fields.numbers("size_m", 2, required=False)
    if size and not is_light:
        raise fields.refuse("size_m", "the size of a position", "the size of a light")
    lamp = read_lamp(fields, folder)
    if lamp is not None and not is_light:
        raise fields.refuse("photometry", "the photometry of a position", "that of a light")
    return Spot(
        name=name,
        kind="light" if is_light else "position",
        distance_m=fields.number("distance_m"),
        bearing_deg=_turn(bearing),
        height_m=fields.number("height_m", None),
        facing_deg=None if facing is None else _turn(facing),
        tilt_deg=fields.number("tilt_deg", None),
        aimed_at=aimed_at,
        size_m=(size[0], size[1]) if size else None,
        lamp=lamp,
    )


def _turn(degrees: float) -> float:
    """Bring an angle to over -180 up to 180 degrees."""
    return 180.0 - (180.0 - degrees) % 360.0


def read_slate(fields: Fields, positions: Iterable[str]) -> Slate | None:
    """Read what stands on the slate and in the notes; None where nothing is said."""
    if "plate" not in fields:
        return None
    plate = fields.mapping("plate")
    return Slate(
        slate=plate.text("slate", ""),
        scene=plate.text("scene", ""),
        take=plate.text("take", ""),
        clip=plate.text("clip", ""),
        notes=plate.text("notes", ""),
        lamps_seen_from=plate.choice("lamps_seen_from", [CAMERA, *positions], ""),
    )
