"""The `.cube` file: a table of colours on a regular grid, written and read strictly.

The format is the Cube LUT Specification 1.0 (Adobe, 2013). Programs that read it agree on its core
and differ, often silently, on the rest: a domain other than 0 to 1, comments after a number,
non-finite values, a byte-order mark. So a file written here holds only what all of them read alike
(ASCII, line feeds, a plain title, comments at the top, six decimals, red changing fastest), and a
file read here is refused, with the line, where readers would part; a stated domain is read as the
specification has it. How the text is made and taken
apart stands in `codes.cube_text`.

Two ways of reading between the nodes are common, and a `.cube` does not say which will be used:
trilinear (eight nodes of the cell) and tetrahedral (four). Both are here so that both can be
measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.codes.cube_text import (
    LARGEST_SIZE,
    SMALLEST_SIZE,
    UNIT_DOMAIN,
    check_domain,
    format_head,
    format_layers,
    format_rows,
    parse_table,
    place_in_domain,
    refuse_domain,
)
from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array

CORNERS = (np.arange(8)[:, None] >> np.arange(3)) & 1
"""(8, 3) the corners of a cell, in steps from its lowest node."""
_BLOCK = 4096


@dataclass(frozen=True, eq=False)
class Cube:
    """A three-dimensional table over a domain of each channel, 0 to 1 of those written here.

    Attributes
    ----------
    table
        (n, n, n, 3) values; ``table[r, g, b]`` is the output RGB for the inputs ``r/(n-1)``,
        ``g/(n-1)`` and ``b/(n-1)`` of the domain. Values outside 0 to 1 are allowed, NaN and
        infinity are not.
    title
        A label for people. What a `.cube` cannot hold is replaced when it is written.
    domain
        (2, 3) the inputs of the first and of the last nodes.

    Raises
    ------
    InputError
        When the table has another shape, under 2 or over 129 nodes, or a value that is not finite.
    """

    table: Array
    title: str = ""
    domain: Array = field(default_factory=lambda: UNIT_DOMAIN)

    def __post_init__(self) -> None:
        object.__setattr__(self, "domain", check_domain(self.domain))
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

    Raises
    ------
    InputError
        For a domain other than 0 to 1, which readers take in several ways.
    """
    refuse_domain(cube.domain)
    head = format_head(f"LUT_3D_SIZE {cube.size}", cube.title, comments)
    layers = cube.table.transpose(2, 1, 0, 3)
    return format_layers(head, layers) or head + b"".join(
        format_rows(layer.ravel()) for layer in layers
    )


def parse_cube(text: str, place: Place | None = None) -> Cube:
    """Read a three-dimensional `.cube`, strictly.

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
        keyword, a size out of range, a domain without extent, a one-dimensional table, a row
        that is not three finite numbers, too few or too many rows.
    """
    values, n, title, domain = parse_table(text, "LUT_3D_SIZE", place or Place())
    return Cube(values.reshape(n, n, n, 3).transpose(2, 1, 0, 3), title, domain)


def read_trilinear(cube: Cube, rgb: ArrayLike) -> Array:
    """Read a cube between its nodes from the eight corners of a cell.

    Parameters
    ----------
    cube
        The table.
    rgb
        (..., 3) finite inputs; those outside the domain are held at the edge, as readers do.

    Returns
    -------
    (..., 3) outputs.
    """
    return _read_blocks(_walk_edges, cube, rgb)


def _walk_edges(cube: Cube, x: Array) -> Array:
    index, part, nodes = _locate(cube, x)
    red, green, blue = (np.repeat(each, 3).reshape(-1, 3) for each in part.T)
    by_red, by_green, by_blue = _list_steps(cube)

    def step(low: Array, high: Array, share: Array) -> Array:
        high -= low
        high *= share
        low += high
        return low

    def walk_blue(at: NDArray[np.intp]) -> Array:
        return step(nodes.take(at, axis=0), nodes.take(at + by_blue, axis=0), blue)

    def walk_green(at: NDArray[np.intp]) -> Array:
        return step(walk_blue(at), walk_blue(at + by_green), green)

    return step(walk_green(index), walk_green(index + by_red), red)


def read_tetrahedral(cube: Cube, rgb: ArrayLike) -> Array:
    """Read a cube between its nodes from the four corners of a tetrahedron.

    The cell is cut along its grey diagonal into six tetrahedra, so greys are read from two nodes
    alone. Parameters and result as for `read_trilinear`.
    """
    return _read_blocks(_walk_tetrahedron, cube, rgb)


def _walk_tetrahedron(cube: Cube, x: Array) -> Array:
    index, part, nodes = _locate(cube, x)
    steps = _list_steps(cube)
    red, green, blue = part.T
    red_first, blue_last = red >= green, blue <= green
    # Of equal channels the earlier goes first, so that the walk is one and the same.
    up = np.where(red_first, np.where(red >= blue, 0, 2), np.where(blue_last, 1, 2))
    last = np.where(blue_last, np.where(blue <= red, 2, 0), np.where(green <= red, 1, 0))
    least, most = np.minimum(red, green), np.maximum(red, green)
    high, low = np.maximum(most, blue)[:, None], np.minimum(least, blue)[:, None]
    middle = np.maximum(least, np.minimum(most, blue))[:, None]
    first = index + steps[up]
    second = index + (steps.sum() - steps[last])
    total: Array = (1.0 - high) * nodes.take(index, axis=0)
    total += (high - middle) * nodes.take(first, axis=0)
    total += (middle - low) * nodes.take(second, axis=0)
    total += low * nodes.take(index + int(steps.sum()), axis=0)
    return total


def _read_blocks(read: Callable[[Cube, Array], Array], cube: Cube, rgb: ArrayLike) -> Array:
    """Read samples (..., 3) some at a time, so that each stays in the processor's cache."""
    x = np.asarray(rgb, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(x).all():
        raise InputError("NaN or infinity among the colours to read", "finite values")
    result = np.empty_like(x)
    for start in range(0, len(x), _BLOCK):
        result[start : start + _BLOCK] = read(cube, x[start : start + _BLOCK])
    return result.reshape(np.shape(rgb))


def _list_steps(cube: Cube) -> NDArray[np.intp]:
    return np.array([cube.size**2, cube.size, 1], dtype=np.intp)


def _locate(cube: Cube, x: Array) -> tuple[NDArray[np.intp], Array, Array]:
    """Give each sample's lower node (m,), its place in the cell (m, 3), and the nodes (n^3, 3)."""
    x = place_in_domain(x, cube.domain) * (cube.size - 1)
    lower = np.minimum(x.astype(np.intp), cube.size - 2)
    index = (lower[:, 0] * cube.size + lower[:, 1]) * cube.size + lower[:, 2]
    return index, x - lower, cube.table.reshape(-1, 3)


def weigh_trilinear(part: Array) -> Array:
    """Find the weights (..., 8) of a cell's corners at places (..., 3) in it."""
    ends = np.stack([1.0 - part, part], axis=-1)  # (..., 3, 2)
    red, green, blue = (ends[..., axis, CORNERS[:, axis]] for axis in range(3))
    return np.asarray(red * green * blue)


def weigh_tetrahedral(part: Array) -> Array:
    """Find the weights (..., 8) of the four corners that a place (..., 3) is read from."""
    order = np.argsort(-part, axis=-1, kind="stable")
    high, middle, low = np.moveaxis(np.take_along_axis(part, order, axis=-1), -1, 0)
    weight = np.zeros((*part.shape[:-1], 8))
    weight[..., 0], weight[..., 7] = 1.0 - high, low
    one, two = 1 << order[..., :1], 7 ^ (1 << order[..., 2:])
    np.put_along_axis(weight, one, (high - middle)[..., None], axis=-1)
    np.put_along_axis(weight, two, (middle - low)[..., None], axis=-1)
    return weight
