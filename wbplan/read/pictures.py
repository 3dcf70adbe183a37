"""Stills in and out: PNG, TIFF, EXR and DPX, with their bits, alpha and metadata.

OpenImageIO reads and writes them all; it is an optional part of the installation,
`wbplan[pictures]`. Without it imageio does what it does whole: PNG of 8 bits, TIFF of 8 and 16.
"""

from __future__ import annotations

import io
import stat
import tempfile
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.codes.encodings import Encoding
from wbplan.core.errors import InputError, OutputError, Place
from wbplan.core.tables import Array

STILL_ENDINGS = (".png", ".tif", ".tiff", ".exr", ".dpx")
_PLAIN_ENDINGS = (".png", ".tif", ".tiff")
_EXTRA = "OpenImageIO: pip install 'wbplan[pictures]'"
_MOST_BYTES = 1 << 29
_MOST_PIXELS = 200_000_000
_DPX_BITS = 10  # of a DPX made from another format
_NO_DATE = "1970:01:01 00:00:00"  # OpenImageIO would stamp the clock's own
Attributes = Mapping[str, str | float | tuple[float, ...]]
_KNOWN = {  # standard attributes of OpenEXR by what OpenImageIO finds in stills of any kind
    "DateTime": "DateTime",
    "ExposureTime": "ExposureTime",
    "FNumber": "FNumber",
    "PhotographicSensitivity": "isoSpeed",
    "Exif:PhotographicSensitivity": "isoSpeed",
    "Exif:FocalLength": "nominalFocalLength",
    "Exif:SubjectDistance": "focus",
    "Make": "cameraMake",
    "Model": "cameraModel",
    "Exif:LensModel": "lensModel",
}
_UNTRUE_AFTER = ("acesImageContainerFlag",)  # a promise that a LUT may break


@dataclass(frozen=True, eq=False)
class Still:
    """A picture as it was read.

    Attributes
    ----------
    pixels
        (rows, columns, 3 or 4): integers of 8 or 16 bits, or 32-bit float.
    ending
        Of its file, such as ``.exr``; empty for pixels without a file.
    kind
        Of its samples: ``uint8``, ``uint16``, ``half`` or ``float``.
    header
        What else the file says, as OpenImageIO holds it; None where imageio read it.
    """

    pixels: NDArray[Any]
    ending: str = ""
    kind: str = "uint8"
    header: Any = None


def load_still(path: Path) -> Still:
    """Load a still.

    Raises
    ------
    InputError
        For a file that cannot be read as a picture, or would be read with fewer bits than it has.
    """
    place, ending = Place(str(path)), path.suffix.lower()
    if ending not in STILL_ENDINGS:
        raise InputError(f"'{path.suffix}'", "a still: " + ", ".join(STILL_ENDINGS), place)
    data = read_whole(path)
    if find_spec("OpenImageIO") is not None:
        return _read_whole_file(path, ending, place)
    deep = data[:8] == b"\x89PNG\r\n\x1a\n" and data[24:25] == b"\x10"
    if deep or ending not in _PLAIN_ENDINGS:
        what = "a PNG of 16 bits" if deep else f"a {ending}"
        allowed = f"a PNG of 8 bits or a TIFF, or {_EXTRA}"
        raise InputError(f"{what} without OpenImageIO", allowed, place)
    pixels = np.asarray(_read_plainly(data, ending, place))
    pixels = pixels.astype(np.float32) if pixels.dtype.kind == "f" else pixels
    kind = "float" if pixels.dtype.kind == "f" else str(pixels.dtype)
    return Still(check_pixels(pixels, place), ending, kind)


def check_pixels(given: ArrayLike, place: Place | None = None) -> NDArray[Any]:
    """Check pixels, (rows, columns) or (rows, columns, 3 or 4); see `Still`."""
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


def find_full_scale(pixels: NDArray[Any]) -> float:
    """Find the value that stands for 1: the most that whole numbers hold, 1 for floating point."""
    return 1.0 if pixels.dtype.kind == "f" else float(np.iinfo(pixels.dtype).max)


def encode_still(
    picture: Array, path: Path, like: Still, attributes: Attributes = MappingProxyType({})
) -> tuple[bytes, float]:
    """Make the bytes of a still.

    Integers have the bits of the still that it was made from; an EXR is half float or float as
    that was, a DPX keeps its bits. Metadata are kept within one format, and an EXR made of another
    has what that says of date, exposure and lens; ``attributes`` go into an EXR, over what it had,
    under OpenImageIO's names.

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
    held = 0.0
    whole: NDArray[Any] = picture.astype(np.float32)
    if ending != ".exr":
        colours = picture[..., :3]
        held = 100.0 * float(((colours < -1e-9) | (colours > 1.0 + 1e-9)).any(axis=-1).mean())
        deep = np.uint8 if like.kind == "uint8" and ending != ".dpx" else np.uint16
        whole = np.rint(np.clip(picture, 0.0, 1.0) * np.iinfo(deep).max).astype(deep)
    if find_spec("OpenImageIO") is not None:
        return _write_whole_file(whole, path, ending, like, attributes), held
    if ending not in _PLAIN_ENDINGS or (ending == ".png" and whole.dtype != np.uint8):
        what = "a PNG of 16 bits" if ending == ".png" else f"a {ending}"
        raise OutputError(f"{path}: found {what} without OpenImageIO; allowed: a .tif, or {_EXTRA}")
    return _write_plainly(whole, ending, path), held


def _read_whole_file(path: Path, ending: str, place: Place) -> Still:
    import OpenImageIO as Oiio

    ask = Oiio.ImageSpec()
    ask.attribute("oiio:UnassociatedAlpha", 1)  # a PNG's and a TIFF's colours as they stand
    opened = Oiio.ImageInput.open(str(path), ask)
    pixels = None
    if opened is not None:
        header = opened.spec()
        kind = str(header.format)
        if header.width * header.height > _MOST_PIXELS or not 1 <= header.nchannels <= 4:
            opened.close()
            found = f"{header.width} by {header.height} pixels of {header.nchannels} channels"
            allowed = f"one picture in RGB or RGBA of at most {_MOST_PIXELS / 1e6:g} million pixels"
            raise InputError(found, allowed, place)
        pixels = opened.read_image(kind if kind in ("uint8", "uint16") else "float")
        opened.close()
    if pixels is None:
        try:
            said = str(Oiio.geterror()).strip().splitlines() or ["no reason"]
        except UnicodeDecodeError:  # it quotes the file's own bytes
            said = ["no reason that can be read"]
        found = f"a {ending} that OpenImageIO does not read ({said[0][:160]})"
        raise InputError(found, "a picture", place)
    pixels = pixels.reshape(header.height, header.width, -1)
    if pixels.shape[-1] == 1:
        pixels = pixels[..., 0]
    return Still(check_pixels(pixels, place), ending, kind, header)


def _write_whole_file(
    whole: NDArray[Any], path: Path, ending: str, like: Still, attributes: Attributes
) -> bytes:
    import OpenImageIO as Oiio

    rows, columns, channels = whole.shape
    # Two pictures side by side are another one, of which the header would be untrue.
    alone = like.header is not None and (like.header.height, like.header.width) == (rows, columns)
    same = alone and _name_format(like.ending) == _name_format(ending)
    header = (
        Oiio.ImageSpec(like.header) if same else Oiio.ImageSpec(columns, rows, channels, "uint8")
    )
    kind = str(whole.dtype)
    if ending == ".exr":
        kind = "half" if like.kind == "half" else "float"
    header.nchannels = channels
    if not same or len(header.channelnames) != channels:
        header.channelnames = ("R", "G", "B", "A")[:channels]
    header.alpha_channel = 3 if channels == 4 else -1
    header.channelformats = ()
    header.set_format(kind)
    header.tile_width = header.tile_height = header.tile_depth = 0
    for name in _UNTRUE_AFTER:
        header.erase_attribute(name)
    if ending != ".exr":
        header.attribute("oiio:UnassociatedAlpha", 1)
    else:
        known = _list_known(like.header) if alone and not same else {}
        for name, value in {**known, **attributes}.items():
            if isinstance(value, tuple):
                header.attribute(name, f"float[{len(value)}]", value)
            else:
                header.attribute(name, value)
        if header.get_string_attribute("DateTime") == "":
            header.attribute("DateTime", _NO_DATE)
    if ending == ".dpx" and not same:
        header.attribute("oiio:BitsPerSample", _DPX_BITS)
    with tempfile.TemporaryDirectory(prefix="wbplan-") as folder:
        made = Path(folder) / f"still{ending}"
        output = Oiio.ImageOutput.create(str(made))
        good = False
        if output is not None and output.open(str(made), header):
            good = output.write_image(np.ascontiguousarray(whole)) and output.close()
        if not good:
            said = str(output.geterror() if output else Oiio.geterror()).strip()[:160]
            allowed = ", ".join(STILL_ENDINGS)
            raise OutputError(f"{path}: found a {ending} that is not written ({said}); {allowed}")
        del output  # an environment's last rows reach the file only now
        return made.read_bytes()


def _list_known(header: Any) -> dict[str, str | float | tuple[float, ...]]:
    """List what a still of another format says that has a standard attribute in an EXR."""
    found = ((name, header.getattribute(theirs)) for theirs, name in _KNOWN.items())
    return {
        name: value if isinstance(value, str) else float(value)
        for name, value in found
        if isinstance(value, str | float | int) and value != ""
    }


def list_colour_attributes(
    encoding: Encoding, name: str = ""
) -> dict[str, str | float | tuple[float, ...]]:
    """List the primaries and the white of an EXR's linear pixels, and their space's name if any.

    ``adoptedNeutral`` is what has three equal values.
    """
    places = (encoding.rgb_to_xyz / encoding.rgb_to_xyz.sum(axis=0))[:2].T
    white = tuple(float(each) for each in encoding.white_xy)
    found: dict[str, str | float | tuple[float, ...]] = {
        "chromaticities": (*(float(each) for each in places.ravel()), *white),
        "adoptedNeutral": white,
    }
    return {**found, "colorInteropID": name} if name else found


def _name_format(ending: str) -> str:
    return ".tif" if ending == ".tiff" else ending


def _read_plainly(data: bytes, ending: str, place: Place) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import imageio.v3 as iio

        try:
            return iio.imread(io.BytesIO(data), extension=ending)
        except Exception as error:  # each of imageio's readers has errors of its own
            found = f"a {ending} that imageio does not read ({_quote(error)})"
            raise InputError(found, f"PNG or TIFF, or {_EXTRA}", place) from None


def _write_plainly(whole: NDArray[Any], ending: str, path: Path) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import imageio.v3 as iio

        try:
            return bytes(iio.imwrite("<bytes>", whole, extension=ending))
        except Exception as error:  # each of imageio's writers has errors of its own
            found = f"a {ending} that imageio does not write ({_quote(error)})"
            raise OutputError(f"{path}: found {found}; allowed: PNG, TIFF, or {_EXTRA}") from None


def _quote(error: Exception) -> str:
    said = str(error).strip()
    return said.splitlines()[0][:160] if said else "no reason"


def read_whole(path: Path) -> bytes:
    """Read a still or a LUT, refused over 512 MB."""
    place = Place(str(path))
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise InputError("a directory, a device or a pipe", "a still or a LUT", place)
        if status.st_size > _MOST_BYTES:
            raise InputError("a file over 512 MB", "a still or a LUT", place)
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"{error.strerror or error}", "a file that can be read", place) from None
    except InputError:
        raise
    except ValueError:  # a NUL or a lone surrogate inside the path
        raise InputError("a path no file can have", "the path of a file", place) from None
