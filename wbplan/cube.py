"""The `.cube` file: a table of colours on a regular grid, written and read strictly.

The format is the Cube LUT Specification 1.0 (Adobe, 2013). Programs that read it agree on its core
and differ, often silently, on the rest: a domain other than 0 to 1, comments after a number,
non-finite values, a byte-order mark. So a file written here holds only what all of them read alike
(ASCII, line feeds, a plain title, comments at the top, six decimals, red changing fastest), and a
file read here is refused, with the line, where readers would part.

Six decimals are 0.0005 of a ten-bit code at most. The writer makes the digits with array
arithmetic; its bytes are those of ``"%.6f"``.

Two ways of reading between the nodes are common, and a `.cube` does not say which will be used:
trilinear (eight nodes of the cell) and tetrahedral (four). Both are here so that both can be
measured.
"""

from __future__ import annotations

import math
import textwrap
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.errors import InputError, Place

FloatArray = NDArray[np.float64]

SMALLEST_SIZE = 2
LARGEST_SIZE = 129
"""Most nodes per axis; the lowest of the limits of the usual readers (OpenColorIO's)."""

_CHANNELS = ("red", "green", "blue")
_ALMOST_HALF = 0.5 - 4e-9
_TITLE_LENGTH = 200  # some readers take lines of 512 bytes, and cut longer ones in two


@dataclass(frozen=True, eq=False)
class Cube:
    """A three-dimensional table over the domain 0 to 1 of each channel.

    Attributes
    ----------
    table
        (n, n, n, 3) values; ``table[r, g, b]`` is the output RGB for the inputs ``r/(n-1)``,
        ``g/(n-1)`` and ``b/(n-1)``. Values outside 0 to 1 are allowed, NaN and infinity are not.
    title
        A label for people. What a `.cube` cannot hold is replaced when it is written.

    Raises
    ------
    InputError
        When the table has another shape, under 2 or over 129 nodes, or a value that is not finite.
    """

    table: FloatArray
    title: str = ""

    def __post_init__(self) -> None:
        table = np.array(self.table, dtype=np.float64, order="C")
        n = table.shape[0] if table.ndim else 0
        if table.shape != (n, n, n, 3) or not SMALLEST_SIZE <= n <= LARGEST_SIZE:
            raise InputError(
                f"a table of shape {table.shape}",
                f"(n, n, n, 3) with n from {SMALLEST_SIZE} to {LARGEST_SIZE}",
            )
        if not np.isfinite(table).all():
            at = tuple(int(i) for i in np.argwhere(~np.isfinite(table))[0])
            raise InputError(f"{table[at]} in the node {at[:3]}", "finite values")
        table.flags.writeable = False
        object.__setattr__(self, "table", table)

    @property
    def size(self) -> int:
        """Nodes along each axis."""
        return int(self.table.shape[0])


def format_cube(cube: Cube, comments: Iterable[str] = ()) -> bytes:
    """Give the bytes of a `.cube` file.

    Title and comments are labels, so what the format cannot hold is replaced rather than refused:
    accents are dropped, other characters outside ASCII become ``?``, double quotes become single,
    line breaks become spaces. A title is cut at 200 characters and comments are wrapped at 100.
    """
    head = [f"# {line}" for comment in comments for line in textwrap.wrap(_make_plain(comment), 98)]
    title = _make_plain(cube.title).replace('"', "'")[:_TITLE_LENGTH]
    if title:
        head.append(f'TITLE "{title}"')
    head.append(f"LUT_3D_SIZE {cube.size}")
    # One blue value at a time: what is worked on then stays in the processor's cache.
    layers = (layer.ravel() for layer in cube.table.transpose(2, 1, 0, 3))
    return b"".join(["\n".join([*head, ""]).encode("ascii"), *map(_format_rows, layers)])


def _make_plain(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text)
    bare = "".join(ch for ch in decomposed if not unicodedata.combining(ch))
    printable = "".join(ch if ch.isprintable() else " " for ch in bare)
    return " ".join(printable.encode("ascii", "replace").decode("ascii").split())


def _make_words(patterns: list[str]) -> NDArray[np.uint32]:
    return np.frombuffer("".join(patterns).encode("ascii"), dtype=np.uint32)


# The eight characters of d.dddddd are two four-byte words, each looked up whole: the first by the
# leading three digits, the second by the last four.
_LEADING = _make_words([f"{k // 100}.{k % 100:02d}" for k in range(1000)])
_TRAILING = _make_words([f"{k:04d}" for k in range(10000)])
_UNSIGNED = np.dtype([("leading", np.uint32), ("trailing", np.uint32), ("end", np.uint8)])
_SIGNED = np.dtype([("sign", np.uint8), *_UNSIGNED.descr])


def _format_rows(values: FloatArray) -> bytes:
    """Write values (3 m,) as rows of three with six decimals, as ``%.6f`` would."""
    size = np.abs(values)
    if float(size.max()) >= 9.9999995:
        return ("%.6f %.6f %.6f\n" * (len(values) // 3) % tuple(values)).encode("ascii")
    scaled = size * 1e6
    whole = np.rint(scaled)
    # The product is rounded, so within its last bits of a half it cannot say which way to go.
    from_whole = np.abs(np.subtract(scaled, whole, out=scaled), out=scaled)
    if float(from_whole.max()) > _ALMOST_HALF:
        for i in np.flatnonzero(from_whole > _ALMOST_HALF):
            whole[i] = int(f"{size[i]:.6f}".replace(".", ""))
    micro = whole.astype(np.uint32)
    leading = micro // 10000
    trailing = micro - leading * 10000
    negative = np.signbit(values)
    signed = bool(negative.any())
    records = np.empty(len(values), dtype=_SIGNED if signed else _UNSIGNED)
    records["leading"] = _LEADING.take(leading)
    records["trailing"] = _TRAILING.take(trailing)
    records["end"] = ord(" ")
    records["end"][2::3] = ord("\n")
    if not signed:
        return records.tobytes()
    records["sign"] = np.where(negative, ord("-"), 0)
    return records.tobytes().translate(None, b"\0")


def parse_cube(text: str, place: Place | None = None) -> Cube:
    """Read a three-dimensional `.cube` with domain 0 to 1, strictly.

    Line ends may be LF or CRLF; blank lines and whole-line comments may stand anywhere.

    Parameters
    ----------
    text
        The whole file.
    place
        The file's name, for errors.

    Raises
    ------
    InputError
        For each fault: a byte-order mark, a line ended by CR alone, an unknown, repeated or late
        keyword, a size out of range, another domain, a one-dimensional table, a row that is not
        three finite numbers, too few or too many rows.
    """
    where = place or Place()
    if text.startswith("\ufeff"):
        raise InputError("a byte-order mark", "plain text", replace(where, line=1))
    header = _Header(where)
    start, number = 0, 0
    while start < len(text):
        stop = text.find("\n", start)
        stop = len(text) if stop < 0 else stop
        line = _clean_line(text[start:stop], number + 1, where)
        if line and (line[0] in "+-." or line[0].isdigit()):
            break
        number += 1
        start = stop + 1
        if line and not line.startswith("#"):
            header.take(line, number)
    if header.size is None:
        raise InputError(
            "no LUT_3D_SIZE before the first row" if text.strip() else "an empty file",
            "a line LUT_3D_SIZE before the rows",
            replace(where, line=number + 1, field="LUT_3D_SIZE"),
        )
    n = header.size
    body = text[start:]
    values = _parse_fixed_rows(body, n)
    if values is None:
        values = _parse_rows(body, n**3, number, where)
    return Cube(values.reshape(n, n, n, 3).transpose(2, 1, 0, 3), header.title)


def _clean_line(line: str, number: int, where: Place) -> str:
    line = line.removesuffix("\r")
    if "\r" in line:
        place = replace(where, line=number)
        raise InputError("a carriage return inside a line", "lines ended by LF or CRLF", place)
    return line.strip(" \t")


class _Header:
    """The keyword lines met so far."""

    def __init__(self, place: Place) -> None:
        self.title = ""
        self.size: int | None = None
        self._place = place
        self._seen: set[str] = set()

    def take(self, line: str, number: int) -> None:
        word, _, rest = line.replace("\t", " ").partition(" ")
        rest = rest.strip()
        place = replace(self._place, line=number, field=word[:40])
        if word in self._seen:
            raise InputError(f"a second {word}", f"{word} once", place)
        self._seen.add(word)
        if word == "TITLE":
            if len(rest) < 2 or rest[0] != '"' or rest[-1] != '"' or '"' in rest[1:-1]:
                raise InputError(rest or "nothing", "text in double quotes", place)
            self.title = rest[1:-1]
        elif word == "LUT_3D_SIZE":
            number_like = rest.isascii() and rest.isdigit() and len(rest) < 6
            if not number_like or not SMALLEST_SIZE <= int(rest) <= LARGEST_SIZE:
                allowed = f"a whole number from {SMALLEST_SIZE} to {LARGEST_SIZE}"
                raise InputError(f"'{rest[:40]}'", allowed, place)
            self.size = int(rest)
        elif word in ("DOMAIN_MIN", "DOMAIN_MAX"):
            edge = 0.0 if word == "DOMAIN_MIN" else 1.0
            if _read_numbers(rest) != [edge] * 3:
                allowed = f"{edge:g} {edge:g} {edge:g} (readers disagree on other domains)"
                raise InputError(f"'{rest[:40]}'", allowed, place)
        else:
            known = "TITLE, LUT_3D_SIZE, DOMAIN_MIN or DOMAIN_MAX in capitals"
            raise InputError(f"'{word[:40]}'", known, place)


def _read_numbers(line: str) -> list[float] | None:
    """Read plain decimal numbers, None when a word is not one; float() alone takes more."""
    if not set(line) <= set("0123456789+-.eE \t"):
        return None
    try:
        return [float(word) for word in line.split()]
    except ValueError:
        return None


def _parse_fixed_rows(body: str, size: int) -> FloatArray | None:
    """Read rows laid out exactly as `format_cube` does, fast; None for any other layout.

    A whole number of millionths over 10^6 is correctly rounded, so it is what float() gives.
    """
    if not body.isascii():
        return None
    data = body.encode("ascii")
    bare = data.translate(None, b"-")
    if len(bare) != 27 * size**3:
        return None
    characters = np.frombuffer(bare, dtype=np.uint8).reshape(size, -1, 9)
    values = np.empty(3 * size**3)
    if not all(map(_read_layer, characters, values.reshape(size, -1))):
        return None
    signs = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("-"))
    token, offset = np.divmod(signs - np.arange(len(signs)), 9)
    if offset.any() or (np.diff(token) <= 0).any() or (token >= len(values)).any():
        return None
    values[token] *= -1.0
    return values


def _read_layer(characters: NDArray[np.uint8], into: FloatArray) -> bool:
    """Read tokens (m, 9) ``d.dddddd`` and a separator; False when they are anything else."""
    ends = characters[:, 8].reshape(-1, 3)
    if not ((characters[:, 1] == ord(".")).all() and (ends == (32, 32, 10)).all()):
        return False
    micro = np.zeros(len(characters), dtype=np.uint32)
    for column in (0, 2, 3, 4, 5, 6, 7):
        digit = characters[:, column] - np.uint8(48)  # anything but a digit wraps above nine
        if digit.max() > 9:
            return False
        micro *= np.uint32(10)
        micro += digit
    np.divide(micro, 1e6, out=into)
    return True


def _parse_rows(body: str, count: int, line_before: int, where: Place) -> FloatArray:
    """Read rows line by line and name the first fault."""
    rows: list[list[float]] = []
    lines = body.split("\n")
    for number, raw in enumerate(lines, line_before + 1):
        line = _clean_line(raw, number, where)
        if not line or line.startswith("#"):
            continue
        row = _read_numbers(line)
        if row is None or len(row) != 3 or not all(map(math.isfinite, row)):
            raise _describe_bad_row(line, replace(where, line=number))
        if len(rows) == count:
            raise InputError("a further row", f"{count} rows", replace(where, line=number))
        rows.append(row)
    if len(rows) < count:
        end = replace(where, line=line_before + len(lines))
        raise InputError(f"{len(rows)} rows", f"{count} rows", end)
    return np.array(rows, dtype=np.float64)


def _describe_bad_row(line: str, place: Place) -> InputError:
    words = line.split()
    for word, channel in zip(words, _CHANNELS, strict=False):
        value = _read_numbers(word)
        if value is None or not math.isfinite(value[0]):
            allowed = "a finite number with a decimal point"
            return InputError(f"'{word[:40]}'", allowed, replace(place, field=channel))
    return InputError(f"{len(words)} values in a row", "3 values", place)


def read_trilinear(cube: Cube, rgb: ArrayLike) -> FloatArray:
    """Read a cube between its nodes from the eight corners of a cell.

    Parameters
    ----------
    cube
        The table.
    rgb
        (..., 3) finite inputs; those outside 0 to 1 are held at the edge, as readers do.

    Returns
    -------
    (..., 3) outputs.
    """
    index, part, nodes = _locate(cube, rgb)
    steps = _list_steps(cube)
    total = np.zeros(part.shape)
    for corner in range(8):
        up = [(corner >> axis) & 1 for axis in range(3)]
        weight = np.ones(len(part))
        for axis in range(3):
            weight *= part[:, axis] if up[axis] else 1.0 - part[:, axis]
        total += weight[:, None] * nodes.take(index + int(steps @ up), axis=0)
    return total.reshape(np.shape(rgb))


def read_tetrahedral(cube: Cube, rgb: ArrayLike) -> FloatArray:
    """Read a cube between its nodes from the four corners of a tetrahedron.

    The cell is cut along its grey diagonal into six tetrahedra, so greys are read from two nodes
    alone. Parameters and result as for `read_trilinear`.
    """
    index, part, nodes = _locate(cube, rgb)
    steps = _list_steps(cube)
    order = np.argsort(-part, axis=-1, kind="stable")
    high, middle, low = np.take_along_axis(part, order, axis=-1).T[:, :, None]
    first = index + steps[order[:, 0]]
    second = first + steps[order[:, 1]]
    total: FloatArray = (1.0 - high) * nodes.take(index, axis=0)
    total += (high - middle) * nodes.take(first, axis=0)
    total += (middle - low) * nodes.take(second, axis=0)
    total += low * nodes.take(index + int(steps.sum()), axis=0)
    return total.reshape(np.shape(rgb))


def _list_steps(cube: Cube) -> NDArray[np.intp]:
    return np.array([cube.size**2, cube.size, 1], dtype=np.intp)


def _locate(cube: Cube, rgb: ArrayLike) -> tuple[NDArray[np.intp], FloatArray, FloatArray]:
    """Give each sample's lower node (m,), its place in the cell (m, 3), and the nodes (n^3, 3)."""
    x = np.asarray(rgb, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(x).all():
        raise InputError("NaN or infinity among the colours to read", "finite values")
    x = np.clip(x, 0.0, 1.0) * (cube.size - 1)
    lower = np.minimum(x.astype(np.intp), cube.size - 2)
    return lower @ _list_steps(cube), x - lower, cube.table.reshape(-1, 3)
