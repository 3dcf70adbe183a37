"""A chart in a still: where its patches lie, what each of them reads, and which can be used.

The four corners of the patch field are given, or were found in the picture; a homography finds the
patches between them. The middle of each patch is averaged; a patch that clips, is too noisy or
nearly black is left out and named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.learn.estimate import Frame
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_tristimulus

ROWS, COLUMNS = 4, 6
CLIP_LEVEL = 0.98  # of the white level; above it a sensor's response bends or is cut
_INNER = 0.5  # middle part of each patch that is read
_SAMPLES = 24  # per side of a patch
_MOST_CLIPPED = 0.002
_MOST_NOISE = 0.15  # of single pixels; the mean of hundreds is far better
_LEAST_LEVEL = 0.0005


@dataclass(frozen=True, eq=False)
class PatchReadings:
    """``mean`` (24, 3) and ``noise`` (24, 3) relative sd of pixels; ``faults`` says why a patch
    cannot be used, or is empty.
    """

    mean: Array
    noise: Array
    faults: tuple[str, ...]


def find_homography(corners: ArrayLike) -> Array:
    """Find the (3, 3) map from the unit square to four image points.

    Parameters
    ----------
    corners
        (4, 2) x, y in pixels of the field's top left, top right, bottom right, bottom left.

    Raises
    ------
    ValueError
        If the points do not make a convex four-sided figure.
    """
    points = np.asarray(corners, dtype=np.float64)
    sides = np.roll(points, -1, axis=0) - points
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    if points.shape != (4, 2) or not ((turns > 1e-9).all() or (turns < -1e-9).all()):
        raise ValueError("four corners in order around the patch field are needed")
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    rows, values = [], []
    for (u, v), (x, y) in zip(square, points, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -u * x, -v * x], [0, 0, 0, u, v, 1, -u * y, -v * y]]
        values += [x, y]
    return np.append(np.linalg.solve(np.array(rows), np.array(values)), 1.0).reshape(3, 3)


def read_patches(image: ArrayLike, corners: ArrayLike) -> PatchReadings:
    """Read a 24-patch chart, four rows of six, patch 1 at the first corner, 6 at the second.

    Parameters
    ----------
    image
        (h, w, 3) linear, black at 0 and the white level at 1.
    corners
        As in `find_homography`.

    Raises
    ------
    ValueError
        If a corner lies outside the image.
    """
    pixels = np.asarray(image, dtype=np.float64)
    points = np.asarray(corners, dtype=np.float64)
    height, width = pixels.shape[:2]
    if (points < 0).any() or (points[:, 0] > width - 1).any() or (points[:, 1] > height - 1).any():
        raise ValueError(f"corners lie inside the image, which is {width} by {height} pixels")
    transform = find_homography(points)
    positions = place_patches()
    steps = (np.arange(_SAMPLES) + 0.5) / _SAMPLES - 0.5
    du, dv = np.meshgrid(steps * _INNER / COLUMNS, steps * _INNER / ROWS)
    u = positions[:, :1] + du.reshape(1, -1)
    v = positions[:, 1:] + dv.reshape(1, -1)
    mapped = np.stack([u, v, np.ones_like(u)], axis=-1) @ transform.T
    x = np.rint(mapped[..., 0] / mapped[..., 2]).astype(np.intp)
    y = np.rint(mapped[..., 1] / mapped[..., 2]).astype(np.intp)
    values = pixels[y.clip(0, height - 1), x.clip(0, width - 1)]
    mean = values.mean(axis=1)
    noise = values.std(axis=1) / np.maximum(mean, 1e-9)
    clipped = (values >= CLIP_LEVEL).any(axis=-1).mean(axis=1)
    faults = []
    for number in range(ROWS * COLUMNS):
        if clipped[number] > _MOST_CLIPPED:
            faults.append(f"clips in {100 * clipped[number]:.0f} % of its pixels")
        elif mean[number].min() < _LEAST_LEVEL:
            faults.append("is nearly black in a channel")
        elif noise[number].max() > _MOST_NOISE:
            faults.append(f"is noisy or uneven ({100 * noise[number].max():.0f} %)")
        else:
            faults.append("")
    return PatchReadings(np.maximum(mean, 0.0), noise, tuple(faults))


TURNS = (
    "as stated", "upside down", "mirrored left to right", "mirrored top to bottom",
    "on its side", "on its other side", "mirrored, on its side", "mirrored, on its other side",
)  # fmt: skip
_CLEARLY = 0.5  # how much better than as stated a turn has to fit, as a share of the miss
MOST_MISS = 0.5  # of log RGB: what was found in a picture and misses more is no chart


def turn_patches(raw: ArrayLike, turn: int) -> Array:
    """Bring a table's rows (24, 3) into the chart's order, if they were listed as ``turn`` says."""
    number = np.arange(ROWS * COLUMNS).reshape(ROWS, COLUMNS)
    upright = (number, number[::-1, ::-1], number[:, ::-1], number[::-1])
    sides = (number.T[::-1], number.T[:, ::-1], number.T, number.T[::-1, ::-1])
    turned = np.empty((ROWS * COLUMNS, 3))
    turned[(*upright, *sides)[turn].reshape(-1)] = np.asarray(raw, dtype=np.float64)
    return turned


def place_patches() -> Array:
    """Place the patches of a chart of four rows of six, (24, 2) from 0 to 1."""
    row, column = np.divmod(np.arange(ROWS * COLUMNS), COLUMNS)
    return np.stack([(column + 0.5) / COLUMNS, (row + 0.5) / ROWS], axis=1)


def turn_corners(corners: ArrayLike, turn: int) -> Array:
    """Give the corners (4, 2) of a still's patch field as `TURNS` number ``turn`` has them."""
    order = ((0, 1, 2, 3), (2, 3, 0, 1), (1, 0, 3, 2), (3, 2, 1, 0),
             (1, 2, 3, 0), (3, 0, 1, 2), (0, 3, 2, 1), (2, 1, 0, 3))[turn]  # fmt: skip
    return np.asarray(corners, dtype=np.float64)[list(order)]


def find_misses(readings: Sequence[Array], predicted: Array) -> Array:
    """Find how far readings of a chart are from what a camera of its kind would read.

    Parameters
    ----------
    readings
        Some of (24, 3) values in the chart's order; NaN where a patch is missing.
    predicted
        (24, 3), any exposure and gains.

    Returns
    -------
    ndarray
        Of each reading, the rms of log RGB, exposure and gains taken out. The right way round is
        0.02 to 0.1, of a layered sensor against a filter array 0.4; wrong ways are over 0.55.
    """
    wanted = np.log(np.maximum(predicted, 1e-9))
    miss = np.log(np.maximum(np.stack(readings), 1e-9)) - wanted
    return np.asarray(
        np.sqrt(np.nanmean((miss - np.nanmean(miss, axis=1, keepdims=True)) ** 2, (1, 2)))
    )


def pick_turn(readings: Sequence[Array], predicted: Array) -> int:
    """Pick the turn of a chart that fits what a camera of this kind would read.

    ``readings`` are the values if it lay as each of `TURNS` says; see `find_misses`. 0 unless
    another one misses by less than half as much.
    """
    misses = find_misses(readings, predicted)
    best = int(np.argmin(misses))
    return best if misses[best] < _CLEARLY * misses[0] else 0


MATRIX_NOISE = 0.03  # what a 3x3 fit misses on a chart's colours, of the order; common practice


def make_matrix_frame(
    name: str,
    light: ArrayLike,
    xyz_to_camera: ArrayLike,
    reflectances: Array,
    surfaces: tuple[str, ...],
) -> Frame:
    """Turn a matrix and its light into a frame.

    Parameters
    ----------
    light
        (401,) the calibration light.
    xyz_to_camera
        (3, 3), of any scale.
    reflectances
        (m, 401) of surfaces with m names; those that the matrix turns negative are left out.

    Raises
    ------
    ValueError
        If fewer than six surfaces stay positive: no camera has such a matrix.
    """
    power = np.asarray(light, dtype=np.float64) * reflectances
    matrix = np.asarray(xyz_to_camera, dtype=np.float64)
    matrix = matrix / (np.abs(matrix).max() or 1.0)
    raw = find_tristimulus(power) @ matrix.T
    white = find_tristimulus(light)[1]
    good = (raw > 0.005 * white).all(axis=1)
    if good.sum() < 6:
        raise ValueError("the matrix turns most colours negative")
    kept = tuple(each for each, use in zip(surfaces, good, strict=True) if use)
    return Frame(name, power[good], raw[good], kept, "matrix", MATRIX_NOISE)
