"""A DNG written byte by byte: baseline TIFF 6.0 and DNG 1.4, uncompressed, one plane.

Tag numbers are those of TIFF 6.0, TIFF/EP (ISO 12234-2) and the DNG specification 1.4.0.0.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np

BYTE, ASCII, SHORT, LONG, RATIONAL, SRATIONAL = 1, 2, 3, 4, 5, 10
_SIZES = {BYTE: 1, ASCII: 1, SHORT: 2, LONG: 4, RATIONAL: 8, SRATIONAL: 8}
_XYZ_TO_RGB = (0.65, -0.2, -0.06, -0.48, 1.26, 0.24, -0.12, 0.23, 0.54)  # any one will do


def write_dng(
    path: Path,
    picture: np.ndarray,
    black: int = 512,
    white: int = 16383,
    gains: Sequence[float] | None = (2.0, 1.0, 1.5),
    pattern: str = "RGGB",
) -> Path:
    """Write linear RGB (h, w, 3), 0 to 1, as a mosaic; whole RGB where ``pattern`` is empty."""
    codes = np.clip(np.rint(black + picture * (white - black)), 0, 65535).astype("<u2")
    if pattern:
        colours = np.array(["RGB".index(each) for each in pattern]).reshape(2, 2)
        rows, columns = np.indices(codes.shape[:2])
        codes = np.take_along_axis(codes, colours[rows % 2, columns % 2][..., None], 2)[..., 0]
    planes = 1 if pattern else 3
    height, width = codes.shape[:2]
    data = np.ascontiguousarray(codes).tobytes()
    tags = [
        (254, LONG, [0]), (256, LONG, [width]), (257, LONG, [height]),
        (258, SHORT, [16] * planes), (259, SHORT, [1]), (262, SHORT, [32803 if pattern else 34892]),
        (271, ASCII, b"Invented\0"), (272, ASCII, b"Test\0"), (273, LONG, [0]), (274, SHORT, [1]),
        (277, SHORT, [planes]), (278, LONG, [height]), (279, LONG, [len(data)]),
        (284, SHORT, [1]),
        (50706, BYTE, [1, 4, 0, 0]), (50708, ASCII, b"Invented Test\0"),
        (50714, SHORT, [black] * planes), (50717, LONG, [white] * planes),
        (50721, SRATIONAL, [round(each * 10000) for each in _XYZ_TO_RGB]),
        (50778, SHORT, [21]),
    ]  # fmt: skip
    if pattern:
        tags += [(33421, SHORT, [2, 2]), (33422, BYTE, ["RGB".index(each) for each in pattern])]
    if gains is not None:
        tags.append((50728, RATIONAL, [round(10000 / each) for each in gains]))
    path.write_bytes(_pack(sorted(tags), data))
    return path


def _pack(tags: list, data: bytes) -> bytes:  # type: ignore[type-arg]
    start = 8 + 2 + 12 * len(tags) + 4
    beyond, entries = b"", []
    blobs = []
    for number, kind, values in tags:
        if kind == ASCII or isinstance(values, bytes):
            count, raw = len(values), bytes(values)
        elif kind in (RATIONAL, SRATIONAL):
            count = len(values)
            raw = b"".join(struct.pack("<iI", each, 10000) for each in values)
        else:
            count = len(values)
            raw = struct.pack(f"<{count}{ {BYTE: 'B', SHORT: 'H', LONG: 'I'}[kind] }", *values)
        blobs.append((number, kind, count, raw))
    for number, kind, count, raw in blobs:
        assert len(raw) == count * _SIZES[kind]
        if len(raw) > 4:
            place = struct.pack("<I", start + len(beyond))
            beyond += raw + b"\0" * (len(raw) % 2)
        else:
            place = raw.ljust(4, b"\0")
        entries.append((number, kind, count, place))
    picture_at = struct.pack("<I", start + len(beyond))
    table = b"".join(
        struct.pack("<HHI", number, kind, count) + (picture_at if number == 273 else place)
        for number, kind, count, place in entries
    )
    head = b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", len(tags))
    return head + table + b"\0\0\0\0" + beyond + data
