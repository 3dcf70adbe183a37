"""A correction as a look-up table: exact first, then baked, then measured as a reader will see it.

The exact transform is a matrix A in the scene-linear RGB of an encoding with curve f, and for some
kinds a bend B after it (`lut.bend`),

    y = f( B( A f^-1(x) ) ),

where x and y are codes of a camera file. A three-dimensional table holds y at regular codes x
and readers interpolate between them, which is wrong in two ways that this module puts numbers to:

- Near the knee between the straight and the logarithmic part of a curve (4 to 5 stops under grey)
  the transform bends within one cell of the table. A finer table mends that, and `choose_lut`
  takes the smallest that does.
- A matrix makes some saturated colours negative. Such a colour has no logarithm, the table's nodes
  around it mean nothing, and no size mends it: these are counted and left out of the errors.

The nodes are bounded below. A saturated corner taken at its word lies at codes down to minus a
thousand, and every cell that touches it is spoilt. Bounds from 0 to minus infinity were tried on
nine curves with a strong correcting matrix and 24 reflectances at -6 to +4 stops, 33 nodes: a bound
at 0 costs up to 8 codes at the black of curves that are straight there; one at -0.1 or lower costs
up to 900 codes on dark saturated colours; the least worst error lay between 0 and -0.05, at another
value for each curve. So nodes are held at code 0, or at the code of scene -0.02 if that is higher.
Above, nodes are not bounded: a value over code 1 is stored as it is, because a clipped node also
spoils the cell below it. A reader that works in integers clips there; how often is counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.codes.cube_text import format_head
from wbplan.codes.encodings import Encoding
from wbplan.codes.table3d import (
    CORNERS,
    Cube,
    format_cube,
    parse_cube,
    read_tetrahedral,
    read_trilinear,
    weigh_tetrahedral,
    weigh_trilinear,
)
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError
from wbplan.core.tables import Array, fold_channels
from wbplan.lut.bend import Bend
from wbplan.lut.kinds import TRIAL_WORDS, KindError, Trial, TrialKind, measure_kind

Reader = Callable[[ArrayLike], Array]

LUT_SIZES = (17, 33, 65, 97)
"""Nodes per axis that are tried, smallest first."""

_LOWEST_SCENE = -0.02
_NEGATIVE = -1e-9  # linear; rounding leaves blacks a little under 0
_STOPS_FROM = 1e-3  # linear; darker than 7.5 stops under grey a ratio says nothing
_CODES = 1023.0
_EXPOSURES = 2.0 ** (np.arange(-18, 13) / 3.0)
_RAMP = 4096
_MOST_SAMPLES = 32768
_FEW = 16  # one sample in so many is enough to refuse most tables
_DECIMALS = 6  # of a file
_NODE_DECIMALS = 12  # so that half of a file's last digit is one on every processor
_MATRIX_DECIMALS = 10


@dataclass(frozen=True, eq=False)
class LinearCorrection:
    """A matrix in the scene-linear RGB of an encoding, applied to codes.

    Attributes
    ----------
    encoding
        What the codes mean, before and after.
    matrix
        (3, 3), output = matrix @ input, held to ten decimals: its last bits differ between
        processors, and the toe of a log curve makes a thousand times as much of that. Its level is
        the caller's choice; see `normalise_gains`.
    target
        What the codes mean after, where that is another encoding (a monitor's, another camera's);
        the matrix then goes from the one's RGB to the other's.
    bend
        What is done to light after the matrix, None for nothing.
    """

    encoding: Encoding
    matrix: Array
    target: Encoding | None = None
    bend: Bend | None = None

    def __post_init__(self) -> None:
        matrix = np.array(self.matrix, dtype=np.float64)
        if matrix.shape != (3, 3) or not np.isfinite(matrix).all():
            raise InputError(f"a matrix of shape {matrix.shape}", "(3, 3) finite numbers")
        matrix = matrix.round(_MATRIX_DECIMALS) + 0.0
        matrix.flags.writeable = False
        object.__setattr__(self, "matrix", matrix)

    @property
    def into(self) -> Encoding:
        """What the codes mean after the correction."""
        return self.target or self.encoding

    def apply(self, code: ArrayLike) -> Array:
        """Give the exact corrected codes (..., 3) of codes (..., 3), unbounded and unrounded."""
        return self.into.encode(self.correct_light(self.encoding.decode(code)))

    def correct_light(self, light: ArrayLike) -> Array:
        """Give the corrected scene-linear RGB (..., 3) of RGB (..., 3)."""
        after = np.asarray(light, dtype=np.float64) @ self.matrix.T
        return after if self.bend is None else self.bend.apply(after)


@dataclass(frozen=True)
class ReadingError:
    """How far one way of reading a table is from the exact transform.

    Attributes
    ----------
    worst_codes, mean_codes
        Largest and mean absolute difference in any channel [code of 1023].
    over_one_percent
        Share of samples that differ by more than one code in some channel [%].
    worst_stops
        Largest ratio in scene-linear light where the exact value is over 1/1000 [stops].
    """

    worst_codes: float
    mean_codes: float
    over_one_percent: float
    worst_stops: float


@dataclass(frozen=True)
class LutError:
    """The errors of a table over a set of colours, and what the set held.

    Attributes
    ----------
    trilinear, tetrahedral
        Errors of the two common ways of reading, over the samples inside the gamut.
    clipped_percent
        Share of all samples whose exact result lies above code 1 in some channel, which an
        integer file cannot hold [%].
    out_of_gamut_percent
        Share of all samples whose scene-linear input or exact result is negative in some channel;
        they are left out of the errors [%].
    n_samples
        Number of all samples.
    scene_like, grey_ramp
        Errors of the two ways of reading, trilinear first, over the coloured samples and over
        those with three equal codes; None where there are none inside the gamut.
    scene_clipped_percent, scene_out_of_gamut_percent
        As above, in percent of the coloured samples alone.
    kinds
        Errors by kinds of colours, on others than the samples; see `lut.kinds`.
    """

    trilinear: ReadingError
    tetrahedral: ReadingError
    clipped_percent: float
    out_of_gamut_percent: float
    n_samples: int
    scene_like: tuple[ReadingError, ReadingError] | None
    grey_ramp: tuple[ReadingError, ReadingError] | None
    scene_clipped_percent: float
    scene_out_of_gamut_percent: float
    kinds: tuple[KindError, ...] = ()

    @property
    def worst_codes(self) -> float:
        """Largest error of either way of reading [code of 1023]."""
        return max(self.trilinear.worst_codes, self.tetrahedral.worst_codes)

    def list_met(self, limit_codes: float = 1.0) -> tuple[TrialKind, ...]:
        """List the kinds of colours on which no error reaches a limit [code of 1023]."""
        return tuple(each.kind for each in self.kinds if each.worst_codes < limit_codes)


@dataclass(frozen=True, eq=False)
class BakedLut:
    """A table ready to be written, with the errors of exactly these bytes.

    ``cube`` is the table as read back from ``data``, the bytes of the `.cube` file, and ``error``
    is measured on it; ``size`` nodes per axis. ``met`` tells whether both ways of reading stay
    under the limit that was asked for, on the samples (surfaces under the lights of a scene, and
    greys); `LutError.list_met` says for which kinds of colours. ``bounded_nodes`` of the
    ``size**3`` nodes are held at the lower bound in some channel.
    """

    cube: Cube
    data: bytes
    error: LutError
    size: int
    met: bool
    bounded_nodes: int

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return digest_bytes(self.data)


def bake_lut(correction: LinearCorrection, size: int, title: str = "") -> Cube:
    """Bake a correction into a table of ``size`` nodes per axis.

    Nodes lie at equal steps of code from 0 to 1. Values are finite: bounded below as the module's
    introduction says (`find_lowest_node`), not bounded at code 1.
    """
    return Cube(bake_nodes(correction, size)[0], title)


def find_lowest_node(encoding: Encoding) -> float:
    """Find the code under which nodes are held: 0, or that of scene -0.02 if it is higher.

    Where code 0 lies above black, as in ACEScc, it is the code of black.
    """
    dark, black = encoding.encode([_LOWEST_SCENE, 0.0])
    return float(min(max(0.0, dark), black))


def bake_nodes(correction: LinearCorrection, size: int) -> tuple[Array, int]:
    """Give the nodes (n, n, n, 3) and how many of them are bounded."""
    light = correction.encoding.decode(np.linspace(0.0, 1.0, size))
    red, green, blue = correction.matrix.T[:, None] * light[:, None]  # each (n, 3): its own share
    linear = red[:, None, None] + green[:, None] + blue
    nodes = correction.into.encode(correction.bend.apply(linear) if correction.bend else linear)
    lowest = find_lowest_node(correction.into)
    bounded = int((fold_channels(np.minimum, nodes) < lowest - 1e-9).sum())
    held = np.maximum(nodes.round(_NODE_DECIMALS), lowest)
    return held + 0.0, bounded  # a zero without a sign


def scene_codes(encoding: Encoding, linear_rgb: ArrayLike) -> Array:
    """Build the colours that a table is tried on.

    Parameters
    ----------
    encoding
        Of the camera file.
    linear_rgb
        (m, 3) scene-linear RGB in the encoding's gamut, with a grey card at 0.18: reflectances
        under the lights of the scene. Over 900 or so, evenly spaced ones are used.

    Returns
    -------
    (n, 3) codes, at most 32768: each colour from 6 stops under to 4 stops over in thirds of a stop,
    as far as all its codes lie within 0 to 1, and 4096 neutrals from black to code 1.
    """
    linear = np.asarray(linear_rgb, dtype=np.float64).reshape(-1, 3)
    most = (_MOST_SAMPLES - _RAMP) // len(_EXPOSURES)
    if len(linear) > most:
        linear = linear[np.linspace(0, len(linear) - 1, most).round().astype(np.intp)]
    exposed = encoding.encode(linear * _EXPOSURES[:, None, None]).reshape(-1, 3)
    exposed = exposed[fold_channels(np.logical_and, (exposed >= 0.0) & (exposed <= 1.0))]
    ramp = np.linspace(max(0.0, float(encoding.encode(0.0))), 1.0, _RAMP)
    return np.concatenate([exposed, np.repeat(ramp[:, None], 3, axis=-1)])


def find_least(before: Array, after: Array) -> Array:
    """Find the least channel (...) of linear colours (..., 3), before and after together."""
    return fold_channels(np.minimum, np.minimum(before, after))


@dataclass(frozen=True, eq=False)
class Samples:
    """Colours with what the exact transform makes of them, worked out once for many tables.

    Attributes
    ----------
    codes, wanted, light
        (m, 3) codes inside the gamut before and after, and what they become: codes and
        scene-linear light.
    coloured
        (m,) which of them are no greys.
    marks
        (n, 3) of all samples: over code 1 afterwards, outside the gamut, coloured.
    """

    codes: Array
    wanted: Array
    light: Array
    coloured: NDArray[np.bool_]
    marks: NDArray[np.bool_]


def prepare_samples(correction: LinearCorrection, codes: ArrayLike | Samples) -> Samples:
    """Apply the exact transform to samples (n, 3), once.

    Raises
    ------
    InputError
        When no sample stays inside the gamut.
    """
    if isinstance(codes, Samples):
        return codes
    x = np.asarray(codes, dtype=np.float64).reshape(-1, 3)
    before = correction.encoding.decode(x)
    after = correction.correct_light(before)
    inside = find_least(before, after) >= _NEGATIVE
    if not inside.any():
        raise InputError("no colour that stays positive in all channels", "at least one")
    exact = correction.into.encode(after)
    coloured = (x[:, 0] != x[:, 1]) | (x[:, 0] != x[:, 2])
    marks = np.stack([fold_channels(np.maximum, exact) > 1.0, ~inside, coloured], axis=-1)
    return Samples(x[inside], exact[inside], after[inside], coloured[inside], marks)


def list_readers(cube: Cube) -> tuple[Reader, Reader]:
    """List the two ways of reading a table: trilinear, tetrahedral."""
    return partial(read_trilinear, cube), partial(read_tetrahedral, cube)


def find_worst(table: Array, samples: Samples) -> float:
    """Find the largest miss of a table (n, n, n, 3) as a file holds it [code of 1023]."""
    readers = list_readers(Cube(table.round(_DECIMALS)))
    return (
        max(float(np.abs(read(samples.codes) - samples.wanted).max()) for read in readers) * _CODES
    )


def measure_lut(
    cube: Cube,
    correction: LinearCorrection,
    codes: ArrayLike | Samples,
    trials: Sequence[Trial] = (),
) -> LutError:
    """Measure a table against the exact transform it stands for.

    Parameters
    ----------
    cube
        The table, best as parsed from its file, since that is what a reader gets.
    correction
        The exact transform.
    codes
        (n, 3) codes within 0 to 1, as from `scene_codes`, or what `prepare_samples` made of them.
    trials
        Colours of other kinds, as from `lut.trials.draw_trials`.

    Raises
    ------
    InputError
        When no sample stays inside the gamut.
    """
    return measure_readers(list_readers(cube), correction, codes, trials)


def measure_readers(
    readers: tuple[Reader, Reader],
    correction: LinearCorrection,
    codes: ArrayLike | Samples,
    trials: Sequence[Trial] = (),
) -> LutError:
    """Measure two ways of reading a file against the exact transform; see `measure_lut`.

    Parameters
    ----------
    readers
        Functions from codes (m, 3) to what the file makes of them, trilinear and tetrahedral; the
        same one twice for a file that is read in one way only.
    """
    samples = prepare_samples(correction, codes)
    bright = samples.light > _STOPS_FROM
    clipped, outside, coloured = samples.marks.T

    def compare(read: Reader) -> Callable[[NDArray[np.bool_]], ReadingError]:
        codes_read = read(samples.codes)
        miss = np.abs(codes_read - samples.wanted) * _CODES
        got = np.maximum(correction.into.decode(codes_read), 1e-9)
        stops = np.abs(np.log2(got / np.where(bright, samples.light, got)))

        def summarise(part: NDArray[np.bool_]) -> ReadingError:
            here = miss[part]
            return ReadingError(
                worst_codes=float(here.max()),
                mean_codes=float(here.mean()),
                over_one_percent=_share(fold_channels(np.maximum, here) > 1.0),
                worst_stops=float(stops[part].max(initial=0.0)),
            )

        return summarise

    first = compare(readers[0])
    second = first if readers[1] is readers[0] else compare(readers[1])

    def split(part: NDArray[np.bool_]) -> tuple[ReadingError, ReadingError] | None:
        return (first(part), second(part)) if part.any() else None

    whole = np.ones(len(samples.codes), dtype=np.bool_)
    return LutError(
        trilinear=first(whole),
        tetrahedral=second(whole),
        clipped_percent=_share(clipped),
        out_of_gamut_percent=_share(outside),
        n_samples=len(clipped),
        scene_like=split(samples.coloured),
        grey_ramp=split(~samples.coloured),
        scene_clipped_percent=_share(clipped[coloured]),
        scene_out_of_gamut_percent=_share(outside[coloured]),
        kinds=tuple(measure_kind(each, readers) for each in trials),
    )


def _share(marked: NDArray[np.bool_]) -> float:
    return 100.0 * float(marked.mean()) if marked.size else 0.0


def choose_lut(
    correction: LinearCorrection,
    codes: ArrayLike | Samples,
    sizes: Sequence[int] = LUT_SIZES,
    limit_codes: float = 1.0,
    *,
    title: str = "",
    comments: Iterable[str] = (),
    trials: Sequence[Trial] = (),
) -> BakedLut:
    """Bake the smallest table whose measured error is under a limit, whichever way it is read.

    The error is measured on the table as read back from the file's own bytes, six decimals
    included. When no size meets the limit, the largest is given with ``met`` false.

    Parameters
    ----------
    correction
        The exact transform.
    codes
        (n, 3) codes to measure on, as from `scene_codes`.
    sizes
        Nodes per axis to try, smallest first.
    limit_codes
        Largest error allowed [code of 1023].
    title, comments
        Labels for the file; what the codes are, how many nodes are bounded, the error and the
        digest of the rows are added to them.
    trials
        Colours of other kinds that the chosen table's error is stated for, without a say in the
        choice.
    """
    if not sizes or list(sizes) != sorted(set(sizes)):
        raise InputError(f"the sizes {list(sizes)}", "one or more, each larger than the last")
    notes, samples = list(comments), prepare_samples(correction, codes)
    small = (n for n in sizes[:-1] if is_under(correction, samples, n, limit_codes))
    table, bounded = bake_nodes(correction, next(small, sizes[-1]))
    rows = write_rows(correction, samples, table)
    return pack_lut(correction, rows, bounded, limit_codes, title, notes, trials)


def is_under(correction: LinearCorrection, samples: Samples, size: int, limit_codes: float) -> bool:
    """Tell whether both ways of reading a sampled table stay under a limit.

    Few samples refuse most tables. The nodes that all samples touch are worked out one by one only
    where a whole table has more.
    """
    if _find_sampled_worst(correction, samples, size, _FEW) >= limit_codes:
        return False
    if size**3 > len(samples.codes) * len(CORNERS):
        return _find_sampled_worst(correction, samples, size, 1) < limit_codes
    return find_worst(bake_nodes(correction, size)[0], samples) < limit_codes


def _find_sampled_worst(
    correction: LinearCorrection, samples: Samples, size: int, every: int
) -> float:
    at = np.clip(samples.codes[::every], 0.0, 1.0) * (size - 1)
    lower = np.minimum(at.astype(np.intp), size - 2)
    nodes = correction.apply((lower[:, None] + CORNERS) / (size - 1))
    nodes = np.maximum(nodes, find_lowest_node(correction.into)).round(_DECIMALS)
    part, wanted = at - lower, samples.wanted[::every]
    reads = (weigh(part)[:, None] @ nodes for weigh in (weigh_trilinear, weigh_tetrahedral))
    return max(float(np.abs(read[:, 0] - wanted).max()) for read in reads) * _CODES


@dataclass(frozen=True, eq=False)
class Rows:
    """A table as the rows of a `.cube` file, as read back from them, and its error on samples."""

    text: bytes
    cube: Cube
    error: LutError


def write_rows(correction: LinearCorrection, samples: Samples, table: Array) -> Rows:
    """Write a table (n, n, n, 3) as a file's rows, and measure what they hold on samples."""
    bare = format_cube(Cube(table))
    cube = parse_cube(bare.decode("ascii"))
    return Rows(bare[bare.index(b"\n") + 1 :], cube, measure_lut(cube, correction, samples))


def pack_lut(
    correction: LinearCorrection,
    rows: Rows,
    bounded: int,
    limit_codes: float,
    title: str,
    comments: Iterable[str],
    trials: Sequence[Trial] = (),
) -> BakedLut:
    """Measure rows on other kinds of colours, and make a whole file of them; see `choose_lut`."""
    size, readers = rows.cube.size, list_readers(rows.cube)
    notes = [
        *comments,
        *describe_codes(correction),
        f"Nodes held up at code {find_lowest_node(correction.into):.4f}: {bounded} of {size**3}.",
    ]
    error = replace(rows.error, kinds=tuple(measure_kind(each, readers) for each in trials))
    notes += [*describe_error(error), say_rows(rows.text)]
    data = format_head(f"LUT_3D_SIZE {size}", title, notes) + rows.text
    cube = replace(rows.cube, title=title)
    return BakedLut(cube, data, error, size, error.worst_codes < limit_codes, bounded)


def describe_codes(correction: LinearCorrection) -> tuple[str, ...]:
    """Say for a file's header what its codes are, before and after."""
    if correction.target is None:
        return (f"In and out: {correction.encoding.words}.",)
    return (f"In: {correction.encoding.words}.", f"Out: {correction.target.words}.")


def describe_error(error: LutError) -> tuple[str, ...]:
    """Say for a file's header how far it is from exact, in ten-bit codes, by kinds of colours."""
    listed = [
        (TRIAL_WORDS[each.kind], each.trilinear.worst_codes, each.tetrahedral.worst_codes)
        for each in error.kinds
    ]
    if not listed:
        listed = [("samples", error.trilinear.worst_codes, error.tetrahedral.worst_codes)]
    said = "; ".join(f"{kind} {one:.2f}, {other:.2f}" for kind, one, other in listed)
    return (f"Worst error in ten-bit codes, read trilinear and tetrahedral: {said}.",)


def say_rows(rows: bytes) -> str:
    """Say for a header the digest of the rows under it."""
    return f"Rows SHA-256 {digest_bytes(rows)}."


def normalise_gains(gains: ArrayLike, keep: Literal["green", "no_clip"]) -> tuple[Array, float]:
    """Scale channel gains so that a chosen level is kept.

    Parameters
    ----------
    gains
        (3,) positive gains of red, green and blue.
    keep
        ``"green"``: green is 1, so the exposure of a neutral is kept and the channels with a
        larger gain may go over the top. ``"no_clip"``: the largest gain is 1, so that nothing
        goes over that was not over before, and the picture is darker.

    Returns
    -------
    The (3,) gains, and what they cost against green at 1 [stops], 0 or more.
    """
    values = np.asarray(gains, dtype=np.float64)
    if values.shape != (3,) or not np.isfinite(values).all() or not (values > 0.0).all():
        raise InputError(f"the gains {values.tolist()}", "three positive numbers")
    if keep == "green":
        return values / values[1], 0.0
    if keep == "no_clip":
        return values / values.max(), float(np.log2(values.max() / values[1]))
    raise InputError(f"'{keep}'", "'green' or 'no_clip'")
