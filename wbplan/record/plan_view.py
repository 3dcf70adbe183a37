"""A plan's record, read for comparing: only what is compared is looked at, and each by its type.

Records of format 1 from before a key was added are read too; what they do not say is left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Protocol, TypeVar

from wbplan.core.files import show_value
from wbplan.read.json_fields import JsonFields
from wbplan.record.file import RecordFile
from wbplan.record.values import (
    Recorded,
    RecordedLight,
    RecordedLut,
    RecordedPosition,
    RecordedSetup,
    Shade,
    Span,
)


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_T = TypeVar("_T", bound=_Named)


def read_recorded(found: RecordFile, read: Callable[[JsonFields], _T]) -> Recorded[_T]:
    """Read the record of a plan or a day, its setups by their names, one at least.

    Raises
    ------
    InputError
        For a record of which a part has another type than a record's, or another length.
    """
    fields = found.fields
    title, band = fields.text("title"), fields.number("interval_percent")
    setups = [read(each) for each in fields.items("setups")]
    if not setups:
        raise fields.refuse("setups", "no setup", "one at least")
    named = gather_by_name(fields, "setups", setups)
    invented = "invented" in fields and fields.flag("invented")
    return Recorded(str(found.path), title, found.version, found.digest, band, named, invented)


def gather_by_name(fields: JsonFields, name: str, values: Iterable[_T]) -> dict[str, _T]:
    """Gather values by their names, each of which may stand once."""
    found: dict[str, _T] = {}
    for each in values:
        if each.name in found:
            raise fields.refuse(name, f"{show_value(each.name)} twice", "each name once")
        found[each.name] = each
    return found


def read_plan_setup(fields: JsonFields) -> RecordedSetup:
    """Read a setup of a plan's record."""
    shooting, intent = fields.item("shooting"), fields.item("intent")
    dial, exact = fields.item("dialled_setting"), fields.item("exact_setting")
    lights = list(fields.items("lights"))
    places = list(fields.items("positions"))
    key = intent.text("key")
    exposure = fields.item_or_none("exposure")
    lut = fields.item_or_none("lut")
    shot_at = next((each for each in places if each.text("name") == key), None)
    if shot_at is None:
        raise intent.refuse("key", show_value(key), "the name of a position")
    positions = [_read_position(each) for each in places]
    return RecordedSetup(
        name=fields.text("name"),
        camera=fields.item("camera").text("name"),
        encoding=read_encoding(fields),
        shooting=read_shooting(shooting),
        key=key,
        dial=read_shade(dial, "tint_cc"),
        preset=dial.text_or_none("preset") or "",
        exact=read_shade(exact, "tint_cc"),
        band=Span(read_shade(exact, "tint_cc", "_low"), read_shade(exact, "tint_cc", "_high")),
        t_stop=(exposure or shot_at).number("t_stop"),
        nd_stops=(exposure or shooting).number("nd_stops"),
        lights=gather_by_name(fields, "lights", (_read_light(each) for each in lights)),
        positions=gather_by_name(fields, "positions", positions),
        main_lut=None if lut is None else _read_lut(lut, ""),
        luts=_read_luts(fields),
        warnings=tuple(dict.fromkeys(list_warnings(fields, lights))),
        cautions=tuple(each.text("text") for each in fields.items("cautions")),
    )


def read_shooting(fields: JsonFields) -> str:
    """Read how the camera is run, in words."""
    return (
        f"EI {fields.number('ei'):g}, {fields.number('fps'):g} fps, "
        f"{fields.number('shutter_angle_degrees'):.4g}°"
    )


def read_shade(fields: JsonFields, cc: str, end: str = "") -> Shade:
    """Read mired and CC as one."""
    return Shade(fields.number(f"mired{end}"), fields.number(f"{cc}{end}"))


def read_encoding(fields: JsonFields, name: str = "encoding") -> str:
    """Read an encoding as words."""
    encoding = fields.item(name)
    levels = encoding.text_or_none("range") or "full"
    return f"{encoding.text('curve')}, {encoding.text('gamut')}, {levels} range"


def _read_light(fields: JsonFields) -> RecordedLight:
    return RecordedLight(
        fields.text("name"),
        fields.flag("on"),
        fields.text("filter"),
        read_shade(fields.item("wanted"), "tint_cc"),
        fields.numbers("spectrum_relative"),
    )


def _read_position(fields: JsonFields) -> RecordedPosition:
    lux = fields.number("illuminance_lux")
    return RecordedPosition(
        fields.text("name"),
        {
            each.text("light"): lux * each.number("share_percent") / 100
            for each in fields.items("shares")
        },
        read_shade(fields.item("cast"), "green_cc"),
        fields.number("from_key_stops"),
        fields.text_or_none("trouble") or "",
    )


def _read_luts(fields: JsonFields) -> dict[str, RecordedLut]:
    """Read the further LUTs by what they are for, those for the same thing by their turn."""
    own = fields.item("camera").text("name")
    luts: dict[str, RecordedLut] = {}
    for entry in fields.items("luts"):
        purpose = said = _read_purpose(entry, own)
        turn = 1
        while said in luts:
            turn += 1
            said = f"{purpose}, number {turn}"
        luts[said] = _read_lut(entry, said)
    return luts


def _read_purpose(fields: JsonFields, camera: str) -> str:
    """Read what a LUT is for: what it does, where its aim is named, for which camera, its form."""
    kind, end = fields.text_or_none("kind") or "correct", fields.text_or_none("to") or ""
    match kind:
        case "positions":
            said = f"correction to {end.rpartition(', ')[0] or end}"
        case "light-match":
            said = f"match of {fields.text_or_none('from')} to {end}"
        case "camera-match":
            said = f"match to {end}"
        case "gains":
            said = "correction by gains"
        case "monitor":
            said = "view on a monitor"
        case _:
            said = "correction"
    by = fields.text_or_none("camera") or camera
    if by != camera:
        said += f" for {by}"
    if "encoding_after" in fields:
        after = read_encoding(fields, "encoding_after")
        said += f" into {after}" if after != read_encoding(fields) else ""
    form = fields.text_or_none("format")
    return f"{said}, .{form}" if form else said


def _read_lut(fields: JsonFields, purpose: str) -> RecordedLut:
    rows = fields.rows("matrix_linear_ratio")
    encoding = fields.item("encoding")
    ei = encoding.number("ei")
    taken, added = (fields.number(each) for each in ("cost_stops", "up_stops"))
    return RecordedLut(
        file_name=fields.text("file"),
        sha256=fields.text("sha256"),
        encoding=read_encoding(fields),
        size=fields.number("size_points"),
        matrix=tuple(each for row in rows for each in row),
        purpose=purpose,
        coding=(
            encoding.text("curve"),
            encoding.text("gamut"),
            encoding.text_or_none("range") or "full",
            None if math.isnan(ei) else ei,
        ),
        cost_stops=sum(each for each in (taken, -added) if not math.isnan(each)),
    )


def list_warnings(fields: JsonFields, lights: Iterable[JsonFields] = ()) -> Iterable[str]:
    """List the warnings of a setup and of its lights, each with what it is about."""
    owners = [("", fields), *((each.text("name"), each) for each in lights)]
    for owner, each in owners:
        for note in each.items("notes"):
            if note.text("weight") == "warning":
                about = note.text("about") or owner
                yield f"{about}: {note.text('text')}" if about else note.text("text")
