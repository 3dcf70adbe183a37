"""A plan's record, read back: which file it is, that it is one, and what the plan was made from.

The record may come from anybody. Names in it are only ever compared with names that a plan asks
for, never opened; still a name that would leave its folder, or a content that is not what its
SHA-256 says, marks a record that wbplan did not write, and is refused.
"""

from __future__ import annotations

import base64
import binascii
import math
import os
from dataclasses import dataclass
from pathlib import Path

from wbplan.core.band import check_band
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.core.ledger import MOST_INPUT_BYTES, Asked, InputFile, PlanInputs, make_safe_part
from wbplan.read.json_fields import JsonFields, read_json
from wbplan.scene.luts import CUBE_SIZES

RECORD_NAME = "plan.json"
FORMAT = "wbplan plan"
DAY_FORMAT = "wbplan day"
# What is written now comes first, what can still be read follows. In a plan of format 1 a position
# without a weight pulled on the setting with weight 1; its keys are all here still.
FORMAT_VERSIONS = {FORMAT: (2, 1), DAY_FORMAT: (1,), "wbplan plate notes": (1,)}
_KINDS = {
    FORMAT: "the record of a plan",
    DAY_FORMAT: "the record of a day",
    "wbplan lights": "the record of lights",
    "wbplan plate notes": "plate notes",
}
_MOST_NAME, _MOST_FILES = 1000, 10_000


@dataclass(frozen=True, eq=False)
class RecordFile:
    """A record: where it lies, its format, who wrote it, the digest it states, and its fields.

    ``is_current`` is False for one of an earlier format.
    """

    path: Path
    format: str
    version: str
    digest: str
    fields: JsonFields
    is_current: bool = True


def find_record_file(name: str | os.PathLike[str]) -> Path:
    """Find the record that is meant: the file itself, or `plan.json` in a folder."""
    path = Path(name)
    return path / RECORD_NAME if os.path.isdir(path) else path


def read_record(name: str | os.PathLike[str], formats: tuple[str, ...] = (FORMAT,)) -> RecordFile:
    """Read a record that has one of the formats, a plan's if nothing else is said.

    Raises
    ------
    InputError
        For a file that is no such record, or has a format that is not known here.
    """
    path = find_record_file(name)
    return open_record(read_json(path), path, formats)


def open_record(
    fields: JsonFields, path: Path, formats: tuple[str, ...] = (FORMAT, DAY_FORMAT)
) -> RecordFile:
    """Open the fields of a record that has one of the formats; see `read_record`."""
    found = fields.text_or_none("format")
    if found is None or found not in formats:
        raise _refuse_format(fields, found, formats)
    version = fields.number("format_version")
    known = FORMAT_VERSIONS[found]
    if version not in known:
        allowed = " or ".join(str(each) for each in sorted(known))
        raise fields.refuse("format_version", f"{version:g}", allowed)
    wrote, digest = fields.text("wbplan_version"), fields.text("digest_sha256")
    return RecordFile(path, found, wrote, digest, fields, version == known[0])


def _refuse_format(fields: JsonFields, found: str | None, formats: tuple[str, ...]) -> InputError:
    said = "none" if found is None else show_value(found)
    if found in _KINDS:
        said += f", {_KINDS[found]}"
    allowed = " or ".join(f"'{each}', {_KINDS[each]}" for each in formats)
    if found == DAY_FORMAT:  # only a plan is wanted
        allowed += "; a day is made again from its scenario, by 'wbplan day SCENARIO'"
    return fields.refuse("format", said, allowed)


def read_inputs(record: RecordFile) -> PlanInputs:
    """Read what a plan was made from.

    Raises
    ------
    InputError
        For a record without inputs (one from before records carried them), or with such that no
        plan can have been made from.
    """
    if "inputs" not in record.fields:
        found = f"no inputs, in a record of wbplan {show_value(record.version)}"
        allowed = "a record that carries its inputs; plan the scenario anew to get one"
        raise InputError(found, allowed, Place(str(record.path), field="inputs"))
    inputs = record.fields.item("inputs")
    files: dict[str, InputFile] = {}
    total = 0
    for each in inputs.items("files"):
        file = _read_file(each)
        if file.name in files:
            raise each.refuse("name", f"{show_value(file.name)} again", "a name of its own")
        total += len(file.data)
        if total > MOST_INPUT_BYTES or len(files) >= _MOST_FILES:
            allowed = f"at most {_MOST_FILES} files of {MOST_INPUT_BYTES / 1e6:g} MB together"
            raise inputs.refuse("files", "more", allowed)
        files[file.name] = file
    scenario = inputs.text("scenario")
    camera = inputs.text_or_none("camera_in_place_of_all")
    for field, name in (("scenario", scenario), ("camera_in_place_of_all", camera)):
        if name is None:
            continue
        is_file = field == "scenario" or "/" in name or name.lower().endswith((".yaml", ".yml"))
        if (is_file and name not in files) or (not is_file and make_safe_part(name) != name):
            raise inputs.refuse(field, show_value(name), "the name of one of the files")
    band = inputs.number("band_share_ratio")
    try:
        check_band(band)
    except InputError as error:
        raise inputs.refuse("band_share_ratio", error.found, error.allowed) from None
    points = inputs.number("lut_size_points")  # an older record does not say
    if not math.isnan(points) and points not in CUBE_SIZES:
        allowed = "null, " + ", ".join(map(str, CUBE_SIZES))
        raise inputs.refuse("lut_size_points", f"{points:g}", allowed)
    advise, plate, figures = (inputs.flag(each) for each in ("advise", "plate", "figures"))
    tried = inputs.texts("tried") if "tried" in inputs else ()  # an older record does not say
    size = None if math.isnan(points) else int(points)
    asked = Asked(band, advise, plate, figures, size, tried)
    return PlanInputs(scenario, tuple(files.values()), camera, asked)


def _read_file(fields: JsonFields) -> InputFile:
    name = fields.text("name")
    parts = name.split("/")
    odd = any(part in ("", ".", "..") or make_safe_part(part) != part for part in parts)
    if odd or len(parts) < 2 or len(name) > _MOST_NAME or ":" in parts[0]:
        allowed = "a relative name with a folder, parts joined by '/', none of them '..'"
        raise fields.refuse("name", show_value(name), allowed)
    data = _read_content(fields)
    stated = fields.text("sha256")
    if digest_bytes(data) != stated:
        allowed = "the SHA-256 of the content beside it; this record was changed after it was made"
        raise fields.refuse("sha256", show_value(stated), allowed)
    return InputFile(name, data)


def _read_content(fields: JsonFields) -> bytes:
    text, packed = fields.text_or_none("text"), fields.text_or_none("base64")
    if (text is None) == (packed is None):
        found = "neither text nor base64" if text is None else "both text and base64"
        raise fields.refuse("text", found, "one of them, the other null")
    try:
        if text is not None:
            return text.encode("utf-8")
        return base64.b64decode((packed or "").encode("ascii"), validate=True)
    except UnicodeEncodeError:
        raise fields.refuse(
            "text" if text is not None else "base64", "characters that no file holds", "plain text"
        ) from None
    except binascii.Error:
        raise fields.refuse("base64", "text that is no base64", "base64 (RFC 4648)") from None
