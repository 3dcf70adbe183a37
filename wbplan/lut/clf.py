"""A correction as a Common LUT Format file: the curve, the matrix, the curve, exactly.

The format (SMPTE ST 2136-1:2024; Academy S-2014-006) is a chain of operations, so a correction in a
log encoding needs no table: decode, multiply, encode, in under two kilobytes, right everywhere to a
small part of a ten-bit code. A curve that its log, power and matrix elements cannot say (a square,
a cube root, a mirrored log) becomes a fine one-dimensional table in the chain, still exact to
far under a code, in under two megabytes. What bends light beyond a matrix stands in a table of
three dimensions: between codes as in a `.cube`, or behind a log shaper where codes are light.

OpenColorIO writes it and reads it back, and is imported only here: it is an optional part of
the installation, `wbplan[clf]`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.cube_text import make_plain
from wbplan.codes.curves import SCENE_LIMIT, Law, Line, Log, PiecewiseLaw, Power, RangedLaw
from wbplan.codes.encodings import Encoding, find_encoding, is_light
from wbplan.core.errors import InputError
from wbplan.core.tables import Array
from wbplan.lut.bake import (
    LinearCorrection,
    LutError,
    bake_lut,
    describe_codes,
    describe_error,
    measure_readers,
)
from wbplan.lut.correction import find_gamut_change
from wbplan.lut.kinds import Trial

_FORMAT = "Academy/ASC Common LUT Format"
_CLOSE_CODES = 0.1  # an analytic chain that misses by more is made with tables
_ENTRIES = 65536
TABLE_SIZE = 33
_SHAPER = "ACEScct"  # codes 0 to 1 are light from -0.007 to 223


@dataclass(frozen=True, eq=False)
class BakedClf:
    """A chain ready to be written, with the errors of exactly these bytes as they are read back.

    ``analytic`` says that it holds no table; ``size`` is the points of one of three dimensions,
    None where it holds none; ``met`` says that the error is under the limit.
    """

    data: bytes
    error: LutError
    analytic: bool
    met: bool
    size: int | None = None


def bake_clf(
    correction: LinearCorrection,
    codes: ArrayLike,
    limit_codes: float = 1.0,
    *,
    title: str = "",
    comments: tuple[str, ...] = (),
    trials: Sequence[Trial] = (),
    size: int = TABLE_SIZE,
) -> BakedClf:
    """Write a correction as a chain of operations, and measure it.

    Parameters
    ----------
    correction
        The exact transform.
    codes
        (n, 3) codes to measure on, as from `bake.scene_codes`.
    limit_codes
        Largest error allowed [code of 1023].
    title, comments
        Labels, reduced to ASCII; the error is added.
    trials
        Colours of other kinds that the error is stated for.
    size
        Points per axis of a table, where the correction needs one.

    Raises
    ------
    InputError
        When OpenColorIO is not installed.
    """
    check_installed()
    if correction.bend is not None:
        steps = _tabulate_bent(correction, size)
        read = make_clf_reader(_write(steps, correction, title, comments))
        error = measure_readers((read, read), correction, codes, trials)
        data = _write(steps, correction, title, (*comments, *describe_error(error)))
        return BakedClf(data, error, False, error.worst_codes < limit_codes, size)
    source, target = correction.encoding, correction.into
    for analytic, say in ((True, _code), (False, _tabulate)):
        before, after = say(source, False), say(target, True)
        if before is None or after is None:
            continue
        steps = [*before, _multiply(correction.matrix), *after]
        data = _write(steps, correction, title, comments)
        read = make_clf_reader(data)
        error = measure_readers((read, read), correction, codes, trials)
        if not analytic or error.worst_codes < _CLOSE_CODES:
            break
    said = (*comments, *describe_error(error))
    data = _write(steps, correction, title, said)
    return BakedClf(data, error, analytic, error.worst_codes < limit_codes)


def check_installed() -> None:
    """Refuse the format where OpenColorIO is not installed."""
    if find_spec("PyOpenColorIO") is None:
        raise InputError(
            "the format 'clf' without OpenColorIO", "other formats, or pip install 'wbplan[clf]'"
        )


def _load_library() -> Any:
    import PyOpenColorIO

    return PyOpenColorIO


def make_clf_reader(data: bytes, ending: str = ".clf") -> Callable[[ArrayLike], Array]:
    """Make a function that applies a file's bytes to colours (..., 3) as OpenColorIO does."""
    ocio = _load_library()
    with tempfile.TemporaryDirectory(prefix="wbplan-") as folder:
        path = Path(folder) / f"chain{ending}"
        path.write_bytes(data)
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_BEST)
        level = ocio.GetLoggingLevel()
        ocio.SetLoggingLevel(ocio.LOGGING_LEVEL_NONE)  # it would quote the file on stderr
        try:
            processor = ocio.Config.CreateRaw().getProcessor(transform)
        finally:
            ocio.SetLoggingLevel(level)
    applied = processor.getDefaultCPUProcessor()

    def read(rgb: ArrayLike) -> Array:
        pixels = np.array(rgb, dtype=np.float32, order="C")
        applied.applyRGB(pixels)
        return pixels.astype(np.float64)

    return read


def format_space(encoding: Encoding, reference: Encoding) -> bytes:
    """Write a chain from an encoding's codes to the linear light of a reference, both named in it.

    Raises
    ------
    InputError
        When OpenColorIO is not installed.
    """
    check_installed()
    ahead = _code(encoding, False)
    if ahead is None:
        ahead = _tabulate(encoding, False)
    steps = [*ahead, _multiply(find_gamut_change(encoding, reference))]
    words = (encoding.words, f"{reference.curve}, {reference.gamut}")
    return _write_steps(steps, words, f"{encoding.curve} {encoding.gamut} to {reference.gamut}", ())


def _write(
    steps: list[Any], correction: LinearCorrection, title: str, comments: tuple[str, ...]
) -> bytes:
    words = (correction.encoding.words, correction.into.words)
    return _write_steps(steps, words, title, (*comments, *describe_codes(correction)))


def _write_steps(
    steps: list[Any], words: tuple[str, str], title: str, comments: tuple[str, ...]
) -> bytes:
    ocio = _load_library()
    group = ocio.GroupTransform()
    for step in steps:
        group.appendTransform(step)
    about = group.getFormatMetadata()
    about.setName(make_plain(title))
    about.setID(make_plain(title).replace(" ", "-"))
    for each in comments:
        about.addChildElement("Description", make_plain(each))
    about.addChildElement("InputDescriptor", words[0])
    about.addChildElement("OutputDescriptor", words[1])
    return str(group.write(_FORMAT, ocio.Config.CreateRaw())).encode("ascii")


def _multiply(matrix: Array, offset: float = 0.0) -> Any:
    ocio = _load_library()
    square = np.eye(4)
    square[:3, :3] = matrix
    return ocio.MatrixTransform(square.ravel().tolist(), [offset, offset, offset, 0.0])


def _code(encoding: Encoding, forward: bool) -> list[Any] | None:
    """Say how an encoding codes light, or takes codes back; None where it has no such elements."""
    law = encoding.law
    if not isinstance(law, RangedLaw):
        return _say(law, forward)
    inner = _say(law.law, forward)
    if inner is None:
        return None
    if forward:
        return [*inner, _multiply(law.scale * np.eye(3), law.offset)]
    return [_multiply(1.0 / law.scale * np.eye(3), -law.offset / law.scale), *inner]


def _say(law: Law, forward: bool) -> list[Any] | None:
    """Say a law in the format's own elements; None for one that has none."""
    ocio = _load_library()
    ahead, back = ocio.TRANSFORM_DIR_FORWARD, ocio.TRANSFORM_DIR_INVERSE
    match law:
        case PiecewiseLaw(pieces=(Line(e=1.0, f=0.0),)):
            return []
        case PiecewiseLaw(pieces=(Line(e=slope), Log() as log), joins=(at,)) if slope:
            return [
                ocio.LogCameraTransform(
                    linSideBreak=[at] * 3,
                    base=log.base,
                    logSideSlope=[log.c] * 3,
                    logSideOffset=[log.d] * 3,
                    linSideSlope=[log.a] * 3,
                    linSideOffset=[log.b] * 3,
                    linearSlope=[slope] * 3,
                    direction=ahead if forward else back,
                )
            ]
        case PiecewiseLaw(pieces=(Line(), Power(b=0.0, c=c, d=d, p=p))) if abs(c + d - 1) < 1e-9:
            return [
                ocio.ExponentWithLinearTransform(
                    gamma=[1.0 / p] * 3 + [1.0],
                    offset=[-d] * 3 + [0.0],
                    direction=back if forward else ahead,
                )
            ]
        case PiecewiseLaw(pieces=(Power(b=0.0, c=1.0, d=0.0, p=p),)):
            return [
                ocio.ExponentTransform(
                    [1.0 / p] * 3 + [1.0],
                    ocio.NEGATIVE_MIRROR,
                    back if forward else ahead,
                )
            ]
    return None


def _tabulate_bent(correction: LinearCorrection, size: int) -> list[Any]:
    """Make a table of three dimensions of a correction, between log codes on both sides."""
    shaper = find_encoding(_SHAPER, correction.encoding.gamut)
    before, after = is_light(correction.encoding), is_light(correction.into)
    inner = LinearCorrection(
        shaper if before else correction.encoding,
        correction.matrix,
        shaper if after else correction.into,
        correction.bend,
    )
    table = _load_library().Lut3DTransform(gridSize=size)
    table.setInterpolation(_load_library().INTERP_TETRAHEDRAL)
    # This library wants blue fastest.
    table.setData(bake_lut(inner, size).table.astype(np.float32).ravel())
    return [
        *(_say(shaper.law, True) or [] if before else []),
        table,
        *(_say(shaper.law, False) or [] if after else []),
    ]


def _tabulate(encoding: Encoding, forward: bool) -> list[Any]:
    """Make a table: of scene values at even steps of code, or the other way.

    Codes stand at every half-precision number, which is dense where a log curve is steep.
    """
    if forward:
        light = np.arange(_ENTRIES, dtype=np.uint16).view(np.float16).astype(np.float64)
        light = np.nan_to_num(light, nan=0.0, posinf=SCENE_LIMIT, neginf=-SCENE_LIMIT)
        values = encoding.encode(light)
    else:
        values = encoding.decode(np.linspace(0.0, 1.0, _ENTRIES))
    table = _load_library().Lut1DTransform(length=_ENTRIES, inputHalfDomain=forward)
    table.setData(np.repeat(values.astype(np.float32)[:, None], 3, axis=1).ravel())
    return [table]
