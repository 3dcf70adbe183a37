"""A plan's record, read for comparing: only what is compared is looked at, and each by its type.

Records of format 1 from before a key was added are read too; what they do not say is left out.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Protocol, TypeVar

from wbplan.files import show_value
from wbplan.jsonfields import JsonFields
from wbplan.recorded import (
    RecordedLight,
    RecordedLut,
    RecordedPlan,
    RecordedPosition,
    RecordedSetup,
    Shade,
    Span,
)
from wbplan.recordfile import read_record


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_T = TypeVar("_T", bound=_Named)


def read_recorded_plan(name: str | os.PathLike[str]) -> RecordedPlan:
    """Read a `plan.json`, or the one in a folder.

    Raises
    ------
    InputError
        For a file that is no record, or of which a part has another type than a record's.
    """
    found = read_record(name)
    fields = found.fields
    setups = [_read_setup(each) for each in fields.items("setups")]
    if not setups:
        raise fields.refuse("setups", "no setup", "one at least")
    return RecordedPlan(
        str(found.path),
        fields.text("title"),
        found.version,
        found.digest,
        fields.number("interval_percent"),
        _by_name(fields, "setups", setups),
    )


def _by_name(fields: JsonFields, name: str, values: Iterable[_T]) -> dict[str, _T]:
    found: dict[str, _T] = {}
    for each in values:
        if each.name in found:
            raise fields.refuse(name, f"{show_value(each.name)} twice", "each name once")
        found[each.name] = each
    return found


def _read_setup(fields: JsonFields) -> RecordedSetup:
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
        encoding=_read_encoding(fields),
        shooting=(
            f"EI {shooting.number('ei'):g}, {shooting.number('fps'):g} fps, "
            f"{shooting.number('shutter_angle_degrees'):.4g}°"
        ),
        key=key,
        dial=_read_shade(dial, "tint_cc"),
        preset=dial.text_or_none("preset") or "",
        exact=_read_shade(exact, "tint_cc"),
        band=Span(_read_shade(exact, "tint_cc", "_low"), _read_shade(exact, "tint_cc", "_high")),
        t_stop=(exposure or shot_at).number("t_stop"),
        nd_stops=(exposure or shooting).number("nd_stops"),
        lights=_by_name(fields, "lights", (_read_light(each) for each in lights)),
        positions=_by_name(fields, "positions", positions),
        main_lut=None if lut is None else _read_lut(lut),
        luts={
            each.file_name: each for each in (_read_lut(entry) for entry in fields.items("luts"))
        },
        warnings=tuple(dict.fromkeys(_list_warnings(fields, lights))),
        cautions=tuple(each.text("text") for each in fields.items("cautions")),
    )


def _read_shade(fields: JsonFields, cc: str, end: str = "") -> Shade:
    return Shade(fields.number(f"mired{end}"), fields.number(f"{cc}{end}"))


def _read_encoding(fields: JsonFields) -> str:
    encoding = fields.item("encoding")
    levels = encoding.text_or_none("range") or "full"
    return f"{encoding.text('curve')}, {encoding.text('gamut')}, {levels} range"


def _read_light(fields: JsonFields) -> RecordedLight:
    return RecordedLight(
        fields.text("name"),
        fields.flag("on"),
        fields.text("filter"),
        _read_shade(fields.item("wanted"), "tint_cc"),
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
        _read_shade(fields.item("cast"), "green_cc"),
        fields.number("from_key_stops"),
        fields.text_or_none("trouble") or "",
    )


def _read_lut(fields: JsonFields) -> RecordedLut:
    rows = fields.rows("matrix_linear_ratio")
    return RecordedLut(
        fields.text("file"),
        fields.text("sha256"),
        _read_encoding(fields),
        fields.number("size_points"),
        tuple(each for row in rows for each in row),
    )


def _list_warnings(fields: JsonFields, lights: list[JsonFields]) -> Iterable[str]:
    owners = [("", fields), *((each.text("name"), each) for each in lights)]
    for owner, each in owners:
        for note in each.items("notes"):
            if note.text("weight") == "warning":
                about = note.text("about") or owner
                yield f"{about}: {note.text('text')}" if about else note.text("text")
