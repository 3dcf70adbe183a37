"""A grey, or the grey patches of a chart, read off a frame: what a perfect white there reads.

A raw is read as the sensor counted it, with the gains that the camera wrote down for the setting it
was at; any other picture holds the encoding of the plan, or scene-linear light of its gamut.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wbplan.camera.learn.frames import (
    MOST_MISS,
    TURNS,
    find_misses,
    read_patches,
    turn_corners,
)
from wbplan.camera.sensitivities import CHANNELS, Camera, respond
from wbplan.codes.encodings import Encoding
from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array, load_table
from wbplan.lut.correction import find_camera_matrix
from wbplan.planning.outcome import GreyReading
from wbplan.read.charts import find_charts
from wbplan.read.pictures import check_pixels, find_full_scale, load_still
from wbplan.read.raws import RAW_ENDINGS, load_raw

_MOST_ACROSS = 2000  # pixels: of a wider picture every other one is read, or fewer
_AREA_SHARE = 0.1  # of the picture's height, where no area is given
_CLIP, _MOST_CLIPPED = 0.98, 0.002
_MOST_UNEVEN = 0.15  # between the sixteenths of a grey
_LEAST = 0.0005  # of white
_GREYS = slice(18, 23)  # patches 19 to 23 of the chart; 24 is the black


@dataclass(frozen=True)
class GreyPlace:
    """Where in a frame to look: an area of grey, or a chart.

    ``area`` is x, y, width and height in pixels, None for the middle; ``reflectance`` the grey's
    [ratio]. ``chart`` reads the greys of a chart instead, at ``corners`` (8 numbers) or where it
    is found.
    """

    area: tuple[float, ...] | None = None
    reflectance: float = 0.18
    chart: bool = False
    corners: tuple[float, ...] | None = None


@dataclass(frozen=True, eq=False)
class _Picture:
    """A frame's linear RGB.

    ``values`` (h, w, 3), ``clip`` (h, w) where they are cut. ``balance`` (3, 3) makes the camera's
    balanced RGB of them. ``cell`` is how many pixels of the file one of these is wide.
    """

    values: Array
    clip: NDArray[Any]
    balance: Array
    cell: int
    is_raw: bool


def read_grey(
    frame: str | Path | NDArray[Any],
    camera: Camera,
    kelvin: float,
    encoding: Encoding,
    light: Array,
    place: GreyPlace,
) -> tuple[GreyReading, Array | None]:
    """Read the grey in a frame.

    Parameters
    ----------
    frame
        A raw, DNG or still, or pixels.
    camera, kelvin, encoding
        What shot it, at which Kelvin, and what its codes mean.
    light
        (401,) that fell on it, as planned; takes the tint of a chart's greys out.
    place
        Where the grey is.

    Returns
    -------
    tuple
        The reading, and the corners (4, 2) of the chart in pixels of the file, None for a grey.

    Raises
    ------
    InputError
        For a frame that cannot be read or whose grey is clipped, black, uneven or no chart, with
        the file and where one helps the field of `GreyPlace`.
    """
    name = "" if isinstance(frame, np.ndarray) else str(frame)
    picture = _load(frame, name, camera, kelvin, encoding)
    corners = None
    if place.chart:
        white, corners = _read_chart(picture, name, camera, light, place.corners)
    else:
        white = _read_area(picture, name, place.area) / place.reflectance
    if (white <= 0).any():
        raise InputError("a grey without light in a channel", "a grey that is lit", Place(name))
    balanced = picture.balance @ white
    if (balanced <= 0).any():
        found = "a grey that no balanced camera of this profile writes"
        raise InputError(found, f"a frame in {encoding.words}", Place(name))
    raw = np.log2(white) if picture.is_raw else None
    return GreyReading(np.log2(balanced), raw), corners


def _load(
    frame: str | Path | NDArray[Any], name: str, camera: Camera, kelvin: float, encoding: Encoding
) -> _Picture:
    place = Place(name)
    if not isinstance(frame, np.ndarray) and Path(frame).suffix.lower() in RAW_ENDINGS:
        raw = load_raw(Path(frame))
        if raw.gains is None:
            allowed = "one that does, or a still in the plan's encoding"
            raise InputError("a raw that states no gains for its setting", allowed, place)
        clip = np.asarray((raw.pixels >= _CLIP).any(axis=-1))
        return _Picture(raw.pixels, clip, np.diag(raw.gains), raw.cell, True)
    if isinstance(frame, np.ndarray):
        pixels = check_pixels(frame, place)
    else:
        pixels = load_still(Path(frame)).pixels
    step = max(1, pixels.shape[1] // _MOST_ACROSS)
    pixels = pixels[::step, ::step, :3]
    whole = pixels.dtype.kind != "f"
    codes = pixels.astype(np.float64) / find_full_scale(pixels)
    clip = np.asarray((codes >= 0.9999).any(axis=-1) & whole)
    matrix = find_camera_matrix(camera.sensitivities, encoding, kelvin, camera.matrix_kelvin)
    return _Picture(encoding.decode(codes), clip, np.asarray(np.linalg.inv(matrix)), step, False)


def _read_area(picture: _Picture, name: str, area: tuple[float, ...] | None) -> Array:
    """Read the mean of an area, (3,)."""
    height, width = picture.values.shape[:2]
    if area is None:
        side = max(4, round(_AREA_SHARE * height))
        left, top = (width - side) // 2, (height - side) // 2
        right, bottom = left + side, top + side
    else:
        x, y, wide, high = (each / picture.cell for each in area)
        left, top, right, bottom = (round(each) for each in (x, y, x + wide, y + high))
    place = Place(name, field="grey")
    if not (
        0 <= left < right - 3 and 0 <= top < bottom - 3 and right <= width and bottom <= height
    ):
        size = f"{width * picture.cell} by {height * picture.cell}"
        allowed = f"x, y, width and height inside the picture, which is {size} pixels"
        raise InputError("an area that is not in it, or too small to be read", allowed, place)
    values = picture.values[top:bottom, left:right]
    allowed = "an even, well exposed grey"
    if picture.clip[top:bottom, left:right].mean() > _MOST_CLIPPED:
        raise InputError("a grey that clips", allowed, place)
    rows, columns = (np.array_split(np.arange(each), 4) for each in values.shape[:2])
    parts = np.array([[values[np.ix_(r, c)].mean(axis=(0, 1)) for c in columns] for r in rows])
    mean = values.mean(axis=(0, 1))
    if mean.min() < _LEAST:
        channel = CHANNELS[int(mean.argmin())]
        raise InputError(f"a grey that is nearly black in {channel}", allowed, place)
    uneven = float((parts.std(axis=(0, 1)) / mean).max())
    if uneven > _MOST_UNEVEN:
        raise InputError(f"an area that is no even grey ({100 * uneven:.0f} %)", allowed, place)
    return np.asarray(mean)


def _read_chart(
    picture: _Picture, name: str, camera: Camera, light: Array, given: tuple[float, ...] | None
) -> tuple[Array, Array]:
    """Read what a white beside the chart would be, (3,), by its greys, and the corners (4, 2)."""
    place = Place(name, field="corners")
    top = 1.0 if picture.is_raw else 1.1 * max(float(picture.values.max()), 1e-9)
    image = picture.values / top
    if given is None:
        try:
            charts = find_charts(image)
        except InputError as error:
            raise error.at(place) from None
    else:
        charts = [(np.array(given).reshape(4, 2) + 0.5) / picture.cell - 0.5]
    allowed = "one 24-patch chart, flat on and large in the picture, or its four corners"
    turned = [turn_corners(each, turn) for each in charts for turn in range(len(TURNS))]
    readings = []
    for corners in turned:
        try:
            readings.append(read_patches(image, corners))
        except ValueError as error:
            raise InputError(str(error), allowed, place) from None
    if not readings:
        raise InputError("a picture in which no chart is found", allowed, place)
    predicted = respond(light * load_table("chart"), camera.sensitivities)
    misses = find_misses([each.mean for each in readings], predicted)
    best = int(np.argmin(misses))
    if misses[best] > MOST_MISS:
        found = "patches without the colours of the chart under the planned light"
        raise InputError(found, allowed, place)
    used = [row for row in range(24)[_GREYS] if not readings[best].faults[row]]
    if not used:
        found = f"greys of the chart that cannot be read: {readings[best].faults[20]}"
        raise InputError(found, "well exposed greys", place)
    share = predicted[used] / respond(light, camera.sensitivities)
    white = np.exp2(np.log2(readings[best].mean[used] / share).mean(axis=0)) * top
    return white, (turned[best] + 0.5) * picture.cell - 0.5
