"""The 24-patch chart looked for in a picture.

`colour-checker-detection` finds squares; whether they are a chart is checked here. Squares that lie
side by side are counted into a lattice, the lattice has to be six by four with most of its places
taken, and one perspective has to explain them all. That also finds charts that stand at an angle.
Whether the patches have a chart's colours is for whoever reads them to check
(`camera.learn.frames.pick_turn`).
"""

from __future__ import annotations

import warnings
from importlib.util import find_spec

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.learn.frames import COLUMNS, ROWS
from wbplan.core.errors import InputError
from wbplan.core.tables import Array

_WIDTHS = (720, 1080)  # of the picture that is searched: the small one is twice as fast
_LEAST_SQUARES = 15  # of the 24
_NEAR = 0.35  # of the way to the next patch: how far off it may lie of where it is awaited
_MOST_MISS = 0.12  # of the way to the next patch, from where one perspective puts it
_WHITE_SHARE = 0.995

Step = tuple[int, int]


def find_charts(picture: ArrayLike) -> list[Array]:
    """Find what may be charts of four rows of six, the one with most squares first.

    Parameters
    ----------
    picture
        (h, w, 3) linear, any balance and exposure.

    Returns
    -------
    list
        Corners (4, 2) of the field of patches, in pixels and in order around; which of them is the
        first patch's is not known.

    Raises
    ------
    InputError
        Where the library is not installed.
    """
    if find_spec("colour_checker_detection") is None:
        found = "no corners of the chart, and nothing here that looks for it"
        allowed = "the four corners, or pip install 'wbplan[chart]'"
        raise InputError(found, allowed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour_checker_detection.detection import segmentation

        pixels = np.asarray(picture, dtype=np.float64)
        white = np.maximum(np.quantile(pixels, _WHITE_SHARE, axis=(0, 1)), 1e-9)
        shown = np.clip(pixels / white, 0.0, 1.0).astype(np.float32)
        for width in _WIDTHS:
            seen = segmentation.segmenter_default(shown, additional_data=True, working_width=width)
            squares = np.asarray(seen.swatches, dtype=np.float64).reshape(-1, 4, 2)
            charts = fit_lattices(squares) if len(squares) else []
            if charts:
                scale = pixels.shape[1] / width
                return [(each + 0.5) * scale - 0.5 for each in charts]
    return []


def fit_lattices(squares: Array) -> list[Array]:
    """Find charts among squares (n, 4, 2), each as the corners (4, 2) of its field of patches."""
    centres = squares.mean(axis=1)
    left, found = set(range(len(squares))), []
    while left:
        start = min(left)
        counted = _count_lattice(start, squares, centres)
        left -= {start, *counted.values()}
        corners = _fit_field(counted, centres)
        if corners is not None:
            found.append((len(counted), corners))
    return [corners for _, corners in sorted(found, key=lambda each: -each[0])]


def _count_lattice(start: int, squares: Array, centres: Array) -> dict[Step, int]:
    """Count squares from one of them on, by column and row."""
    sides = np.linalg.norm(np.roll(squares, -1, axis=1) - squares, axis=2)
    size = float(sides[start].mean())
    away = centres - centres[start]
    far = np.linalg.norm(away, axis=1)
    alike = np.abs(np.log(np.maximum(sides.mean(axis=1), 1e-9) / size)) < np.log(1.6)
    near = [int(k) for k in np.argsort(far) if 0 < far[k] < 1.8 * size and alike[k]]
    if not near:
        return {}
    across = away[near[0]]
    turned = np.array([-across[1], across[0]])
    upright = [k for k in near if abs(away[k] @ across) < 0.5 * far[k] * np.linalg.norm(across)]
    down = away[upright[0]] if upright else turned
    down = down if down @ turned > 0 else -down
    counted: dict[Step, int] = {(0, 0): start}
    waiting: list[tuple[Step, Array, Array]] = [((0, 0), across, down)]
    while waiting:
        (column, row), across, down = waiting.pop(0)
        here = centres[counted[column, row]]
        for by, step in (((1, 0), across), ((-1, 0), -across), ((0, 1), down), ((0, -1), -down)):
            place = (column + by[0], row + by[1])
            miss = np.linalg.norm(centres - here - step, axis=1)
            k = int(np.argmin(miss))
            taken = place in counted or k in counted.values()
            if taken or not alike[k] or miss[k] > _NEAR * np.linalg.norm(step):
                continue
            counted[place] = k
            moved = centres[k] - here
            waiting.append((place, *(
                (moved * by[0], down) if by[0] else (across, moved * by[1])
            )))  # fmt: skip
    return counted


def _fit_field(counted: dict[Step, int], centres: Array) -> Array | None:
    """Fit one perspective to a lattice of six by four; None where it is another or does not fit."""
    if len(counted) < _LEAST_SQUARES:
        return None
    places = np.array(list(counted), dtype=np.float64)
    places -= places.min(axis=0)
    wide, high = places.max(axis=0) + 1
    if (wide, high) not in ((COLUMNS, ROWS), (ROWS, COLUMNS)):
        return None
    seen = centres[list(counted.values())]
    through = _fit_perspective(places + 0.5, seen)
    pitch = np.linalg.norm(np.ptp(seen, axis=0)) / np.hypot(wide, high)
    miss = np.linalg.norm(_map(through, places + 0.5) - seen, axis=1)
    if miss.max() > _MOST_MISS * pitch:
        return None
    ends = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])
    corners = _map(through, ends)
    return corners if wide > high else np.roll(corners, -1, axis=0)


def _fit_perspective(places: Array, seen: Array) -> Array:
    """Fit the (3, 3) map from places (n, 2) to points (n, 2), least squares of its equations."""
    middle, spread = seen.mean(axis=0), seen.std()
    x, y = ((seen - middle) / spread).T
    u, v = places.T
    one, zero = np.ones_like(u), np.zeros_like(u)
    rows = np.concatenate([
        np.stack([u, v, one, zero, zero, zero, -u * x, -v * x, -x], axis=1),
        np.stack([zero, zero, zero, u, v, one, -u * y, -v * y, -y], axis=1),
    ])  # fmt: skip
    fitted = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    back = np.array([[spread, 0.0, middle[0]], [0.0, spread, middle[1]], [0.0, 0.0, 1.0]])
    return np.asarray(back @ fitted)


def _map(through: Array, places: Array) -> Array:
    mapped = np.column_stack([places, np.ones(len(places))]) @ through.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])
