"""The one-dimensional `.cube` file: a curve for each channel, where no channel looks at another.

A correction that is a gain per channel in an encoding's own primaries needs no three-dimensional
table. Three curves of 1024 entries are 28 kB instead of 7 MB and are exact at every ten-bit code.
The rules of the format are those of `codes.table3d`: what is written is what all readers take
alike. All of them read linearly between entries.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.cube_text import (
    LARGEST_CURVE,
    SMALLEST_CURVE,
    UNIT_DOMAIN,
    check_domain,
    format_head,
    format_rows,
    parse_table,
    place_in_domain,
    refuse_domain,
)
from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array
from wbplan.lut.bake import (
    LinearCorrection,
    LutError,
    describe_codes,
    describe_error,
    find_lowest_node,
    measure_readers,
    say_rows,
)
from wbplan.lut.kinds import Trial

CURVE_SIZES = (1024, 4096, 16384)
"""Entries per channel that are tried, smallest first; 1024 stand at the ten-bit codes."""
_DIAGONAL = 1e-9


@dataclass(frozen=True, eq=False)
class CurveTable:
    """Three curves over a domain, 0 to 1 of those written here.

    Attributes
    ----------
    table
        (n, 3) values; ``table[k]`` is the output RGB of the inputs ``k/(n-1)`` of the domain.
    title
        A label for people.
    domain
        (2, 3) the inputs of the first and of the last entries.

    Raises
    ------
    InputError
        When the table has another shape, under 2 or over 65536 entries, or a value that is not
        finite.
    """

    table: Array
    title: str = ""
    domain: Array = field(default_factory=lambda: UNIT_DOMAIN)

    def __post_init__(self) -> None:
        object.__setattr__(self, "domain", check_domain(self.domain))
        table = np.array(self.table, dtype=np.float64, order="C")
        n = table.shape[0] if table.ndim else 0
        if table.shape != (n, 3) or not SMALLEST_CURVE <= n <= LARGEST_CURVE:
            raise InputError(
                f"a table of shape {table.shape}",
                f"(n, 3) with n from {SMALLEST_CURVE} to {LARGEST_CURVE}",
            )
        if not np.isfinite(table).all():
            raise InputError("NaN or infinity in a curve", "finite values")
        table.flags.writeable = False
        object.__setattr__(self, "table", table)

    @property
    def size(self) -> int:
        """Entries per channel."""
        return int(self.table.shape[0])


def format_curves(curves: CurveTable, comments: Iterable[str] = ()) -> bytes:
    """Give the bytes of a one-dimensional `.cube` file; labels as for `table3d.format_cube`."""
    refuse_domain(curves.domain)
    head = format_head(f"LUT_1D_SIZE {curves.size}", curves.title, comments)
    return head + format_rows(curves.table.reshape(-1))


def parse_curves(text: str, place: Place | None = None) -> CurveTable:
    """Read a one-dimensional `.cube`, strictly, as `table3d.parse_cube`."""
    values, size, title, domain = parse_table(text, "LUT_1D_SIZE", place or Place())
    return CurveTable(values.reshape(size, 3), title, domain)


def read_curves(curves: CurveTable, rgb: ArrayLike) -> Array:
    """Read curves linearly between entries.

    Parameters
    ----------
    rgb
        (..., 3) finite inputs; those outside the domain are held at the edge, as readers do.
    """
    x = np.asarray(rgb, dtype=np.float64)
    if not np.isfinite(x).all():
        raise InputError("NaN or infinity among the colours to read", "finite values")
    at = place_in_domain(x, curves.domain) * (curves.size - 1)
    lower = np.minimum(at.astype(np.intp), curves.size - 2)
    channel = np.arange(3)
    low, high = curves.table[lower, channel], curves.table[lower + 1, channel]
    return np.asarray(low + (at - lower) * (high - low))


def find_channel_gains(correction: LinearCorrection) -> Array | None:
    """Find the gains (3,) of a correction that no channel of which looks at another, else None."""
    if correction.bend is not None:
        return None
    gains = np.diag(correction.matrix)
    rest = correction.matrix - np.diag(gains)
    same = np.abs(rest).max() <= _DIAGONAL * np.abs(gains).max()
    return gains.copy() if same else None


def bake_curves(correction: LinearCorrection, size: int) -> Array:
    """Bake a correction that mixes no channels into curves (size, 3), bounded as 3D nodes are.

    Raises
    ------
    InputError
        When the correction mixes channels.
    """
    gains = find_channel_gains(correction)
    if gains is None:
        raise InputError("a correction that mixes channels", "a gain per channel")
    lowest = find_lowest_node(correction.into)
    return np.maximum(_sample(correction, gains, size), lowest) + 0.0


def _sample(correction: LinearCorrection, gains: Array, size: int) -> Array:
    light = correction.encoding.decode(np.linspace(0.0, 1.0, size))
    return correction.into.encode(light[:, None] * gains)


@dataclass(frozen=True, eq=False)
class BakedCurves:
    """Curves ready to be written, with the errors of exactly these bytes; see `bake.BakedLut`."""

    curves: CurveTable
    data: bytes
    error: LutError
    size: int
    met: bool
    bounded_nodes: int


def choose_curves(
    correction: LinearCorrection,
    codes: ArrayLike,
    limit_codes: float = 1.0,
    *,
    title: str = "",
    comments: Iterable[str] = (),
    trials: Sequence[Trial] = (),
) -> BakedCurves:
    """Bake the shortest curves whose measured error is under a limit.

    Parameters
    ----------
    correction
        One that `find_channel_gains` finds gains of.
    codes
        (n, 3) codes to measure on, as from `bake.scene_codes`.
    limit_codes
        Largest error allowed [code of 1023].
    title, comments
        Labels for the file; the error and the digest of the rows are added.
    trials
        Colours of other kinds that the error is stated for.

    Raises
    ------
    InputError
        When the correction mixes channels.
    """
    gains = find_channel_gains(correction)
    if gains is None:
        raise InputError("a correction that mixes channels", "a gain per channel")
    lowest = find_lowest_node(correction.into)
    for size in CURVE_SIZES:
        exact = _sample(correction, gains, size)
        bounded = int((exact < lowest - 1e-9).any(axis=-1).sum())
        notes = [
            *comments,
            *describe_codes(correction),
            f"Entries held up at code {lowest:.4f}: {bounded} of {size}.",
        ]
        bare = format_curves(CurveTable(np.maximum(exact, lowest) + 0.0))
        rows = bare[bare.index(b"\n") + 1 :]
        curves = replace(parse_curves(bare.decode("ascii")), title=title)

        def read(rgb: ArrayLike, curves: CurveTable = curves) -> Array:
            return read_curves(curves, rgb)

        error = measure_readers((read, read), correction, codes, trials)
        met = error.worst_codes < limit_codes
        if met:
            break
    notes += [*describe_error(error), say_rows(rows)]
    data = format_head(f"LUT_1D_SIZE {size}", title, notes) + rows
    return BakedCurves(curves, data, error, size, met, bounded)
