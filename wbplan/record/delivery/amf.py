"""An ACES Metadata File for a main correction: what brings a clip into ACES, and its correction.

Academy S-2019-001, version 2.0. The input transform is the chain of the delivery from the camera's
encoding to ACES2065-1, the look transform the correction as a matrix in that light; both are named
by paths from the file's own folder, with their SHA-256. Neither is applied.
"""

from __future__ import annotations

import base64
import os.path
from datetime import UTC, datetime
from pathlib import PurePosixPath
from urllib.parse import quote
from uuid import NAMESPACE_URL, uuid5
from xml.sax.saxutils import escape

from wbplan.core.names import clean_text
from wbplan.lut.file import say_offset
from wbplan.record.delivery.color_config import name_space_file
from wbplan.record.delivery.manifest import LutEntry

_SHA256 = "http://www.w3.org/2001/04/xmlenc#sha256"
_ACES_VERSION = (2, 0, 0)


def name_amf(entry: LutEntry) -> str:
    """Name the file: beside the LUT, by its name."""
    return str(PurePosixPath(entry.path).with_suffix("")) + ".amf"


def format_amf(
    entry: LutEntry, look_path: str, digests: dict[str, str], identity: str, written: datetime
) -> bytes:
    """Write the file of a main correction.

    Parameters
    ----------
    look_path
        Of the correction in ACES2065-1, below the delivery.
    digests
        SHA-256 of the delivery's files by their paths [hexadecimal].
    identity
        SHA-256 of what the plan was made from; the file's UUID follows from it and the LUT.
    written
        When the delivery was written, with its time zone.
    """
    recipe = entry.file.recipe
    stamp = f"{written.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    dates = (
        "<aces:dateTime>"
        f"<aces:creationDateTime>{stamp}</aces:creationDateTime>"
        f"<aces:modificationDateTime>{stamp}</aces:modificationDateTime>"
        "</aces:dateTime>"
    )
    idents = [uuid5(NAMESPACE_URL, f"{identity} {entry.path} {part}") for part in ("file", "line")]
    file_id, line_id = (f"<aces:uuid>urn:uuid:{each}</aces:uuid>" for each in idents)
    space = name_space_file(entry.file.source)
    camera = entry.file.draft.camera_name
    offset = f", {say_offset(recipe.up_stops)}" if recipe.up_stops else ""
    does = f"White balance, {recipe.start} to {recipe.end}{offset}, {camera}"
    serves = f", {entry.serves}" if entry.serves else ""
    version = "".join(
        f"<aces:{name}Version>{number}</aces:{name}Version>"
        for name, number in zip(("major", "minor", "patch"), _ACES_VERSION, strict=True)
    )
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<aces:acesMetadataFile xmlns:aces="urn:ampas:aces:amf:v2.0" version="2.0">',
        f"<aces:amfInfo>{_describe(entry.setup + serves)}{dates}{file_id}</aces:amfInfo>",
        *_name_clip(entry),
        "<aces:pipeline>",
        f"<aces:pipelineInfo>{dates}{line_id}"
        f"<aces:systemVersion>{version}</aces:systemVersion></aces:pipelineInfo>",
        '<aces:inputTransform applied="false">'
        f"{_name_file(entry.file.source.words, space, entry, digests)}</aces:inputTransform>",
        '<aces:lookTransform applied="false">'
        f"{_name_file(does, look_path, entry, digests)}</aces:lookTransform>",
        "<aces:workingLocation/>",
        "</aces:pipeline>",
        "</aces:acesMetadataFile>",
        "",
    ]
    return "\n".join(lines).encode("utf-8")


def _describe(text: str) -> str:
    return f"<aces:description>{escape(clean_text(text))}</aces:description>"


def _name_clip(entry: LutEntry) -> list[str]:
    clip = entry.slate.clip if entry.slate else ""
    if not clip:
        return []
    name, file = escape(clean_text(clip)), quote(clip)
    named = f"<aces:clipName>{name}</aces:clipName><aces:file>{file}</aces:file>"
    return [f"<aces:clipId>{named}</aces:clipId>"]


def _name_file(said: str, path: str, entry: LutEntry, digests: dict[str, str]) -> str:
    digest = base64.b64encode(bytes.fromhex(digests[path])).decode("ascii")
    relative = os.path.relpath(path, entry.folder or ".").replace(os.sep, "/")
    return (
        f'{_describe(said)}<aces:hash algorithm="{_SHA256}">{digest}</aces:hash>'
        f"<aces:file>{quote(relative)}</aces:file>"
    )
