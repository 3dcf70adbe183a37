"""Stills in and out through imageio: PNG, TIFF, and EXR where a reader for it is installed."""

from __future__ import annotations

import io
import os
import tempfile
import warnings
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.core.errors import InputError, OutputError, Place
from wbplan.core.tables import Array

STILL_ENDINGS = (".png", ".tif", ".tiff", ".exr")
_MOST_BYTES = 1 << 29
_COLOUR_OF_ANY_DEPTH = 3  # OpenCV's IMREAD_COLOR | IMREAD_ANYDEPTH


def load_still(path: Path) -> NDArray[Any]:
    """Load a still as pixels (rows, columns, 3 or 4): integers of 8 or 16 bits, or 32-bit float.

    Raises
    ------
    InputError
        For a file that cannot be read as a picture, or would be read with fewer bits than it has.
    """
    place = Place(str(path))
    if path.suffix.lower() not in STILL_ENDINGS:
        raise InputError(f"'{path.suffix}'", "a still: " + ", ".join(STILL_ENDINGS), place)
    data = read_whole(path)
    deep = data[:8] == b"\x89PNG\r\n\x1a\n" and data[24:25] == b"\x10"
    if deep and find_spec("cv2") is None:
        raise InputError(
            "a PNG of 16 bits, which would be read as 8",
            "a PNG of 8 bits, a TIFF, or imageio's plugin opencv installed",
            place,
        )
    pixels = np.asarray(_call_imageio("read", path.suffix.lower(), data, place, deep))
    return check_pixels(pixels.astype(np.float32) if pixels.dtype.kind == "f" else pixels, place)


def check_pixels(given: ArrayLike, place: Place | None = None) -> NDArray[Any]:
    """Check pixels, (rows, columns) or (rows, columns, 3 or 4); see `load_still`."""
    pixels = np.asarray(given)
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., None], 3, axis=-1)
    if pixels.ndim != 3 or pixels.shape[-1] not in (3, 4):
        raise InputError(f"pixels of shape {pixels.shape}", "one picture in RGB or RGBA", place)
    if pixels.dtype.kind == "f":
        if not np.isfinite(pixels).all():
            raise InputError("NaN or infinity among the pixels", "finite pixels", place)
    elif pixels.dtype not in (np.uint8, np.uint16):
        raise InputError(f"pixels of {pixels.dtype}", "8 or 16 bits, or floating point", place)
    return pixels


def encode_still(picture: Array, path: Path, sixteen_bits: bool) -> tuple[bytes, float]:
    """Make the bytes of a still: PNG of 8 bits, TIFF of 8 or 16, EXR of floating point.

    Returns
    -------
    tuple
        The bytes, and how many of the pixels lay outside 0 to 1 and were held [%]; 0 for EXR.

    Raises
    ------
    OutputError
        For an ending that is not a still's, or a format that cannot be written here.
    """
    ending = path.suffix.lower()
    if ending not in STILL_ENDINGS:
        raise OutputError(f"{path}: found '{path.suffix}'; allowed: " + ", ".join(STILL_ENDINGS))
    if ending == ".exr":
        return _call_imageio("write", ending, picture.astype(np.float32), Place(str(path))), 0.0
    colours = picture[..., :3]
    held = 100.0 * float(((colours < -1e-9) | (colours > 1.0 + 1e-9)).any(axis=-1).mean())
    kind = np.uint16 if sixteen_bits and ending != ".png" else np.uint8
    whole = np.rint(np.clip(picture, 0.0, 1.0) * np.iinfo(kind).max).astype(kind)
    return _call_imageio("write", ending, whole, Place(str(path))), held


def _call_imageio(
    way: Literal["read", "write"], ending: str, what: Any, place: Place, deep: bool = False
) -> Any:
    """Read or write one picture; what goes wrong is told as the user's to mend."""
    more: dict[str, Any] = {}
    if (deep or ending == ".exr") and find_spec("cv2") is not None:
        os.environ.setdefault("OPENCV_IO_ENABLE_OPENEXR", "1")  # off unless it is asked for
        more = {"plugin": "opencv"}
    kind: type[InputError | OutputError] = InputError if way == "read" else OutputError
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import imageio.v3 as iio

        try:
            if way == "read" and not more:
                return iio.imread(io.BytesIO(what), extension=ending)
            # By way of a file: not all of imageio's plugins work in memory.
            with tempfile.TemporaryDirectory(prefix="wbplan-") as folder:
                path = Path(folder) / f"still{ending}"
                if way == "read":
                    path.write_bytes(what)
                    return iio.imread(path, **more, flags=_COLOUR_OF_ANY_DEPTH)
                iio.imwrite(path, what, **more)
                return path.read_bytes()
        except Exception as error:  # each of imageio's readers has errors of its own
            said = str(error).strip().splitlines()[0][:160] if str(error).strip() else "no reason"
            verb = "reader" if way == "read" else "writer"
            found = f"a {ending} that no installed {verb} of imageio takes ({said})"
            allowed = (
                "PNG or TIFF, or for EXR imageio's plugin opencv with a build that has OpenEXR"
            )
            if kind is InputError:
                raise InputError(found, allowed, place) from None
            raise OutputError(f"{place}: found {found}; allowed: {allowed}") from None


def read_whole(path: Path) -> bytes:
    """Read a still or a LUT, refused over 512 MB."""
    place = Place(str(path))
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError("a file over 512 MB", "a still or a LUT", place)
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"{error.strerror or error}", "a file that can be read", place) from None
