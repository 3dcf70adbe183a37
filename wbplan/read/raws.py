"""Camera raw and DNG through rawpy: what the sensor counted, and nothing done to it.

Each cell of the colour filter array (two by two photosites, or six by six) becomes one pixel, the
mean of its sites of each colour: the picture is smaller, and nothing is interpolated. Black and
white level are the file's; no gain, no matrix, no curve is applied, and the picture lies as the
sensor does.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array
from wbplan.read.pictures import read_whole

RAW_ENDINGS = (
    *(".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dcr", ".dng", ".erf", ".fff", ".iiq", ".kdc"),
    *(".mef", ".mos", ".mrw", ".nef", ".nrw", ".orf", ".pef", ".raf", ".rw2", ".rwl", ".sr2"),
    *(".srf", ".srw", ".x3f"),
)
_CUT = 0.98  # of the white level: a cell with one such site counts as clipped
_CHANNEL = {"R": 0, "G": 1, "B": 2}


@dataclass(frozen=True, eq=False)
class RawStill:
    """What a raw file holds.

    ``pixels`` (h, w, 3) linear camera RGB, black at 0 and the white level at 1. ``cell`` is how
    many photosites one pixel is wide. ``gains`` (3,) are those of the setting that the camera was
    shot at, green = 1, as it wrote them down; None where it did not.
    """

    pixels: Array
    cell: int
    gains: Array | None


def load_raw(path: Path) -> RawStill:
    """Load a raw file.

    Raises
    ------
    InputError
        Where rawpy is not installed, or the file is none that it reads as red, green and blue.
    """
    place = Place(str(path))
    if find_spec("rawpy") is None:
        allowed = "rawpy installed (pip install 'wbplan[raw]'), or a linear TIFF"
        raise InputError(f"'{path.suffix}', a camera raw", allowed, place)
    import rawpy

    data = read_whole(path)
    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            return _read(raw, place)
    except InputError:
        raise
    except Exception as error:  # LibRaw's own, and whatever a broken file leads to
        said = str(error).strip().splitlines()[0][:160] if str(error).strip() else "no reason"
        found = f"a file that rawpy does not read ({said})"
        raise InputError(found, "a camera raw or DNG, or a linear TIFF", place) from None


def _read(raw: Any, place: Place) -> RawStill:
    letters = raw.color_desc.decode("ascii", "replace")
    if any(each not in _CHANNEL for each in letters):
        raise InputError(f"a sensor of {letters}", "one of red, green and blue", place)
    channel = np.array([_CHANNEL[each] for each in letters])
    black = np.asarray(raw.black_level_per_channel, dtype=np.float64)
    values = np.asarray(raw.raw_image_visible)
    span = raw.white_level - black
    if (span <= 0).any():
        found = f"a white level of {raw.white_level} under black"
        raise InputError(found, "black under white", place)
    gains = np.asarray(raw.camera_whitebalance, dtype=np.float64)[:3]
    known = bool(np.isfinite(gains).all() and (gains > 0).all())
    as_shot = gains / gains[1] if known else None
    if values.ndim == 3:  # each photosite sees all three, or the file is demosaiced already
        linear = (values[..., :3] - black[:3]) / span[:3]
        return RawStill(linear, 1, as_shot)
    pattern = np.asarray(raw.raw_pattern)
    side = len(pattern)
    colours = np.asarray(raw.raw_colors_visible)[:side, :side]
    height, width = (each // side for each in values.shape)
    cells = values[: height * side, : width * side].reshape(height, side, width, side)
    return RawStill(_average(cells, colours, channel, black, span), side, as_shot)


def _average(
    cells: NDArray[Any], colours: NDArray[Any], channel: Array, black: Array, span: Array
) -> Array:
    """Average the sites of each colour, (h, w, 3); a cell with a clipped site reads 1 there."""
    total = np.zeros((cells.shape[0], cells.shape[2], 3))
    count = np.zeros(3)
    cut = np.zeros(total.shape, dtype=bool)
    for row, column in np.ndindex(colours.shape):
        colour = int(colours[row, column])
        own = int(channel[colour])
        site = (cells[:, row, :, column] - black[colour]) / span[colour]
        total[..., own] += site
        cut[..., own] |= site >= _CUT
        count[own] += 1
    return np.where(cut, np.maximum(total / count, 1.0), total / count)
