"""A chart in a still: where its patches lie, what each of them reads, and which can be used.

The user gives the four corners of the patch field; a homography finds the patches between them. The
middle of each patch is averaged; a patch that clips, is too noisy or nearly black is left out and
named.
"""

from __future__ import annotations

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
    cannot be used, or is empty; ``positions`` (24, 2) are places on the chart from 0 to 1.
    """

    mean: Array
    noise: Array
    faults: tuple[str, ...]
    positions: Array


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
    row, column = np.divmod(np.arange(ROWS * COLUMNS), COLUMNS)
    positions = np.stack([(column + 0.5) / COLUMNS, (row + 0.5) / ROWS], axis=1)
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
    return PatchReadings(np.maximum(mean, 0.0), noise, tuple(faults), positions)


def find_turn(mean: ArrayLike, predicted: ArrayLike) -> int:
    """Find by how many half turns a chart lies in the frame, 0 as stated or 1 upside down.

    Compares log green of the patches as read, (24, 3), with what a camera of this kind would read.
    """
    read = np.log(np.maximum(np.asarray(mean)[:, 1], 1e-9))
    wanted = np.log(np.maximum(np.asarray(predicted)[:, 1], 1e-9))
    fit = [np.corrcoef(each, wanted)[0, 1] for each in (read, read[::-1])]
    return int(np.argmax(fit))


def find_falloff(positions: ArrayLike, residuals: ArrayLike) -> Array:
    """Find how light falls off over the chart, (2,) [stops] from left to right and top to bottom.

    A plane through the mean log residual (m,) or (m, 3) of patches at positions (m, 2); the
    patches' own colours have been taken out by the prediction.
    """
    miss = np.asarray(residuals, dtype=np.float64).reshape(len(np.asarray(positions)), -1).mean(1)
    places = np.asarray(positions, dtype=np.float64)
    plane = np.column_stack([places, np.ones(len(places))])
    slope, *_ = np.linalg.lstsq(plane, miss / np.log(2.0), rcond=None)
    return np.asarray(slope[:2])


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
    raw = find_tristimulus(power) @ np.asarray(xyz_to_camera, dtype=np.float64).T
    white = find_tristimulus(light)[1]
    good = (raw > 0.005 * white * np.abs(np.asarray(xyz_to_camera)).max()).all(axis=1)
    if good.sum() < 6:
        raise ValueError("the matrix turns most colours negative")
    kept = tuple(each for each, use in zip(surfaces, good, strict=True) if use)
    return Frame(name, power[good], raw[good], kept, "matrix", MATRIX_NOISE)
