"""A LUT tried on a still: read, apply, write, before and after side by side.

A preview says what a file does, not how a grade looks: pixels are codes and go through the LUT as
they are, in the way of reading that is asked for. Integers are read as codes from 0 to 1 and
written in the bits that the output has, rounded; floating-point pixels are taken as they are.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from wbplan.codes.table3d import parse_cube, read_tetrahedral, read_trilinear
from wbplan.core.errors import InputError, Place
from wbplan.lut.clf import check_installed, make_clf_reader
from wbplan.lut.table1d import parse_curves, read_curves
from wbplan.read.pictures import read_whole

FloatArray = NDArray[np.float64]
Way = Literal["tetrahedral", "trilinear"]

LUT_ENDINGS = (".cube", ".clf", ".cc", ".ccc", ".cdl")
_ROWS_AT_ONCE = 1 << 18  # pixels
_DIVIDER = 4  # columns of grey between before and after


def load_lut(path: Path, way: Way) -> Callable[[FloatArray], FloatArray]:
    """Load a LUT as a function of pixels (m, 3).

    Raises
    ------
    InputError
        For a file that cannot be read or is not a LUT, with its place.
    """
    ending = path.suffix.lower()
    place = Place(str(path))
    if ending not in LUT_ENDINGS:
        raise InputError(f"'{path.suffix}'", "a file ending in " + ", ".join(LUT_ENDINGS), place)
    data = read_whole(path)
    if ending != ".cube":
        check_installed()
        try:
            return make_clf_reader(data, ending)
        except Exception as error:  # the library's own class, which is not imported here
            said = str(error).strip().splitlines()[0][:200]
            raise InputError(f"a file that OpenColorIO refuses ({said})", "a LUT", place) from None
    try:
        text = data.decode("ascii")
    except UnicodeDecodeError:
        raise InputError("bytes outside ASCII", "a .cube of plain text", place) from None
    if any(line.startswith("LUT_1D_SIZE") for line in text[:20000].splitlines()):
        curves = parse_curves(text, place)
        return lambda rgb: read_curves(curves, rgb)
    cube = parse_cube(text, place)
    read = read_tetrahedral if way == "tetrahedral" else read_trilinear
    return lambda rgb: read(cube, rgb)


def apply_lut(
    pixels: NDArray[Any], read: Callable[[FloatArray], FloatArray], beside: bool
) -> FloatArray:
    """Apply a LUT to pixels, and put before and after side by side if asked to.

    Returns
    -------
    ndarray
        (rows, columns, 3 or 4) codes, 1 for the largest integer; not bounded.
    """
    scale = 1.0 if pixels.dtype.kind == "f" else float(np.iinfo(pixels.dtype).max)
    before = pixels.astype(np.float64) / scale
    flat = before[..., :3].reshape(-1, 3)
    parts = [
        read(np.ascontiguousarray(flat[start : start + _ROWS_AT_ONCE]))
        for start in range(0, len(flat), _ROWS_AT_ONCE)
    ]
    after = before.copy()
    after[..., :3] = np.concatenate(parts).reshape(before[..., :3].shape)
    if not beside:
        return after
    middle = np.full((before.shape[0], _DIVIDER, before.shape[2]), 0.5)
    middle[..., 3:] = 1.0
    return np.concatenate([before, middle, after], axis=1)
