"""How a camera writes scene light into a file: a log curve and a gamut, by their published names.

A correction is a matrix in scene-linear light, but a file holds codes. An `Encoding` is the way
between the two: the curve f with code = f(linear), its inverse, and the gamut that says which
colours the three channels are. Names are those of the colour-science library (0.4), so that a
result can be checked against it.

Conventions, everywhere in this module:

- scene linear: 0.18 is an 18 % grey exposed as the meter says, 1.0 a perfect white diffuser;
- code: full-range, normalised so that 1.0 is code 1023 of a ten-bit file;
- the options of each curve are colour-science's defaults: linear values are reflections, codes are
  normalised code values, LogC3 is EI 800 of the SUP 3.x firmware, the Canon curves are v1.2 and
  Log3G10 is v3.

The common curves stand here in closed form as published, so that planning never waits for
colour-science to be imported (about two seconds); the rarer ones are taken from that library on
first use.

Two bounds keep every result finite. Scene values are held within plus and minus `SCENE_LIMIT`, the
largest half-precision number, which is also where ACES S-2014-003 ends ACEScc: two hundred times
past the top of any of these curves. Codes beyond the curve's own ends are held at them, so a curve
that is flat or undefined below some scene value decodes to that value.
"""

from __future__ import annotations

import json
import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.errors import UnknownNameError, describe_choices, fold_name

FloatArray = NDArray[np.float64]

SCENE_LIMIT = 65504.0
"""Largest scene-linear value that an encoding takes or gives [relative, grey 0.18]."""


class _Law(Protocol):
    def encode(self, linear: FloatArray) -> FloatArray: ...

    def decode(self, code: FloatArray) -> FloatArray: ...


@dataclass(frozen=True)
class _Line:
    """code = e x + f; with e = 0 a level, which is never decoded (see `_PiecewiseLaw.decode`)."""

    e: float
    f: float

    def encode(self, linear: FloatArray) -> FloatArray:
        return self.e * linear + self.f

    def decode(self, code: FloatArray) -> FloatArray:
        return (code - self.f) / self.e if self.e else np.zeros_like(code)


@dataclass(frozen=True)
class _Log:
    """code = c log_base(a x + b) + d; a and c both negative mirror the curve."""

    a: float
    b: float
    c: float
    d: float
    base: float = 10.0

    def encode(self, linear: FloatArray) -> FloatArray:
        scale = self.c / math.log(self.base)
        return scale * np.log(self.a * linear + self.b) + self.d

    def decode(self, code: FloatArray) -> FloatArray:
        scale = math.log(self.base) / self.c
        return (np.exp((code - self.d) * scale) - self.b) / self.a


@dataclass(frozen=True)
class _Power:
    """code = c (x + b)^p + d, the power taken of the size and the sign kept."""

    b: float
    c: float
    d: float
    p: float

    def encode(self, linear: FloatArray) -> FloatArray:
        return self.c * _raise(linear + self.b, self.p) + self.d

    def decode(self, code: FloatArray) -> FloatArray:
        return _raise((code - self.d) / self.c, 1.0 / self.p) - self.b


def _raise(x: FloatArray, p: float) -> FloatArray:
    return np.copysign(np.abs(x) ** p, x)


@dataclass(frozen=True)
class _PiecewiseLaw:
    """A curve of one to three pieces, darkest first, joined at scene values and at codes.

    Where a publication gives the join as a code too, that figure is used for decoding; else it
    is the code that the darker piece has at the join.
    """

    pieces: tuple[_Law, ...]
    joins: tuple[float, ...] = ()
    code_joins: tuple[float, ...] = ()

    def encode(self, linear: FloatArray) -> FloatArray:
        x = np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT)
        return _join(x, self.joins, [piece.encode for piece in self.pieces])

    def decode(self, code: FloatArray) -> FloatArray:
        ends = self.encode(np.array([-SCENE_LIMIT, SCENE_LIMIT]))
        joins = self.code_joins or tuple(
            float(piece.encode(np.array(at)))
            for piece, at in zip(self.pieces, self.joins, strict=False)
        )
        # A level's end is its join, and a join belongs to the brighter piece.
        y = np.clip(code, ends[0], ends[1])
        linear = _join(y, joins, [piece.decode for piece in self.pieces])
        return np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT)


def _join(
    x: FloatArray,
    joins: tuple[float, ...],
    functions: list[Callable[[FloatArray], FloatArray]],
) -> FloatArray:
    """Evaluate each function on its own side of the joins alone, so that no log meets <= 0."""
    if not joins:
        return functions[0](x)
    result = functions[0](np.minimum(x, joins[0]))
    for at, function in zip(joins, functions[1:], strict=True):
        result = np.where(x >= at, function(np.maximum(x, at)), result)
    return result


@dataclass(frozen=True)
class _LibraryLaw:
    """A curve that only colour-science states.

    Several film-era curves are not defined at or below black (not a number, or minus infinity).
    Where that is so, dark values are held at code 0.
    """

    name: str

    def encode(self, linear: FloatArray) -> FloatArray:
        raw = self._encode_raw(np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT))
        return np.maximum(np.nan_to_num(raw, nan=0.0, neginf=0.0), self._lowest())

    def decode(self, code: FloatArray) -> FloatArray:
        highest = float(self._encode_raw(np.array(SCENE_LIMIT)))
        with np.errstate(all="ignore"):
            linear = _import_curve(self.name)[1](np.clip(code, self._lowest(), highest))
        return np.clip(np.asarray(linear, dtype=np.float64), -SCENE_LIMIT, SCENE_LIMIT)

    def _lowest(self) -> float:
        lowest = float(self._encode_raw(np.array(-SCENE_LIMIT)))
        return lowest if np.isfinite(lowest) else 0.0

    def _encode_raw(self, linear: FloatArray) -> FloatArray:
        with np.errstate(all="ignore"):
            return np.asarray(_import_curve(self.name)[0](linear), dtype=np.float64)


@cache
def _import_curve(name: str) -> tuple[Callable[[FloatArray], Any], Callable[[FloatArray], Any]]:
    """Import colour-science, which warns of every optional package it misses, and take a curve."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour.LOG_ENCODINGS[name], colour.LOG_DECODINGS[name]


def _state_logc4() -> _PiecewiseLaw:
    a, b, c = (2**18 - 16) / 117.45, (1023 - 95) / 1023, 95 / 1023
    s = 7 * math.log(2) * 2 ** (7 - 14 * c / b) / (a * b)
    t = (2 ** (14 * (-c / b) + 6) - 64) / a
    log = _Log(a, 64.0, b / 14, c - 6 * b / 14, 2.0)
    return _PiecewiseLaw((_Line(1 / s, -t / s), log), (t,), (0.0,))


def _state_mirrored(a: float, c: float, d: float) -> _PiecewiseLaw:
    """State a log curve turned about black; ``a`` is per unit of the 90 % white it is based on."""
    return _PiecewiseLaw((_Log(-a / 0.9, 1.0, -c, d), _Log(a / 0.9, 1.0, c, d)), (0.0,), (d,))


_LEGAL, _BLACK = 876 / 1023, 64 / 1023  # ten-bit legal range: 64 to 940

_LAWS: Mapping[str, _PiecewiseLaw] = {
    # ACES S-2014-003, 5.3: a level below black, then log2 with an offset up to 2^-15.
    "ACEScc": _PiecewiseLaw(
        (
            _Line(0.0, (9.72 - 16) / 17.52),
            _Log(0.5, 2.0**-16, 1 / 17.52, 9.72 / 17.52, 2.0),
            _Log(1.0, 0.0, 1 / 17.52, 9.72 / 17.52, 2.0),
        ),
        (0.0, 2.0**-15),
        ((9.72 - 16) / 17.52, (9.72 - 15) / 17.52),
    ),
    # ACES S-2016-001, 5.
    "ACEScct": _PiecewiseLaw(
        (
            _Line(10.5402377416545, 0.0729055341958355),
            _Log(1.0, 0.0, 1 / 17.52, 9.72 / 17.52, 2.0),
        ),
        (0.0078125,),
        (0.155251141552511,),
    ),
    # ARRI, "ALEXA Log C Curve: Usage in VFX" (2012): SUP 3.x, linear scene exposure, EI 800.
    "ARRI LogC3": _PiecewiseLaw(
        (_Line(5.367655, 0.092809), _Log(5.555556, 0.052272, 0.247190, 0.385537)), (0.010591,)
    ),
    # Cooper and Brendel, "ARRI LogC4 Logarithmic Color Space Specification" (2022).
    "ARRI LogC4": _state_logc4(),
    # "Apple Log Profile White Paper" (2023): a level, a square, then log2.
    "Apple Log Profile": _PiecewiseLaw(
        (
            _Line(0.0, 0.0),
            _Power(0.05641088, 47.28711236, 0.0, 2.0),
            _Log(1.0, 0.00964052, 0.08550479, 0.69336945, 2.0),
        ),
        (-0.05641088, 0.01),
        (0.0, 47.28711236 * (0.01 + 0.05641088) ** 2),
    ),
    # Blackmagic Design, "Blackmagic Generation 5 Color Science" (2021): natural logarithm.
    "Blackmagic Film Generation 5": _PiecewiseLaw(
        (
            _Line(8.283605932402494, 0.09246575342465753),
            _Log(1.0, 0.005494072432257808, 0.08692876065491224, 0.5300133392291939, math.e),
        ),
        (0.005,),
    ),
    # Canon, Input Transform version 202007 (2020), curves v1.2.
    "Canon Log": _state_mirrored(10.1596, 0.45310179, 0.12512248),
    "Canon Log 2": _state_mirrored(87.09937546, 0.24136077, 0.092864125),
    "Canon Log 3": _PiecewiseLaw(
        (
            _Log(-14.98325 / 0.9, 1.0, -0.36726845, 0.12783901),
            _Line(1.9754798 / 0.9, 0.12512219),
            _Log(14.98325 / 0.9, 1.0, 0.36726845, 0.12240537),
        ),
        (-0.014 * 0.9, 0.014 * 0.9),
        (0.097465473, 0.15277891),
    ),
    # DJI, "White Paper on D-Log and D-Gamut" (2017).
    "D-Log": _PiecewiseLaw(
        (_Line(6.025, 0.0929), _Log(0.9892, 0.0108, 0.256663, 0.584555)), (0.0078,), (0.14,)
    ),
    # Blackmagic Design, "Wide Gamut Intermediate DaVinci Resolve" (2020).
    "DaVinci Intermediate": _PiecewiseLaw(
        (_Line(10.44426855, 0.0), _Log(1.0, 0.0075, 0.07329248, 0.07329248 * 7.0, 2.0)),
        (0.00262409,),
        (0.02740668,),
    ),
    # Fujifilm, "F-Log Data Sheet Ver.1.1" and "F-Log2 Data Sheet Ver.1.0" (2022).
    "F-Log": _PiecewiseLaw(
        (_Line(8.735631, 0.092864), _Log(0.555556, 0.009468, 0.344676, 0.790453)),
        (0.00089,),
        (0.100537775223865,),
    ),
    "F-Log2": _PiecewiseLaw(
        (_Line(8.799461, 0.092864), _Log(5.555556, 0.064829, 0.245281, 0.384316)),
        (0.000889,),
        (0.100686685370811,),
    ),
    # Rec. ITU-R BT.709-6, item 1.2; a camera curve without a knee, for completeness.
    "ITU-R BT.709": _PiecewiseLaw(
        (_Line(4.5, 0.0), _Power(0.0, 1.099, -0.099, 0.45)),
        (0.018,),
        (1.099 * 0.018**0.45 - 0.099,),
    ),
    # Leica, "L-Log Reference Manual" (2022).
    "L-Log": _PiecewiseLaw((_Line(8.0, 0.09), _Log(1.3, 0.0115, 0.27, 0.6)), (0.006,), (0.138,)),
    "Linear": _PiecewiseLaw((_Line(1.0, 0.0),)),
    # RED, "White Paper on REDWideGamutRGB and Log3G10" (2017), v3: an offset of 0.01, then log.
    "Log3G10": _PiecewiseLaw(
        (
            _Line(15.1927, 15.1927 * 0.01),
            _Log(155.975327, 155.975327 * 0.01 + 1.0, 0.224282, 0.0),
        ),
        (-0.01,),
        (0.0,),
    ),
    # Nikon, "N-Log Specification Document 1.0.0" (2018): a cube root, then a natural logarithm.
    "N-Log": _PiecewiseLaw(
        (_Power(0.0075, 650 / 1023, 0.0, 1 / 3), _Log(1.0, 0.0, 150 / 1023, 619 / 1023, math.e)),
        (0.328,),
        (452 / 1023,),
    ),
    # Sony, "S-Log2 Technical Paper" (2012): linear over 0.9, the log in ten-bit legal range.
    "S-Log2": _PiecewiseLaw(
        (
            _Line(5.0 * 155 / 219 / 0.9 * _LEGAL, 0.030001222851889303 * _LEGAL + _BLACK),
            _Log(155 / 219 / 0.9, 0.037584, 0.432699 * _LEGAL, 0.646596 * _LEGAL + _BLACK),
        ),
        (0.0,),
    ),
    # Sony, "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3", V1.00.
    "S-Log3": _PiecewiseLaw(
        (
            _Line((171.2102946929 - 95) / 0.01125 / 1023, 95 / 1023),
            _Log(1 / 0.19, 0.01 / 0.19, 261.5 / 1023, 420 / 1023),
        ),
        (0.01125,),
        (171.2102946929 / 1023,),
    ),
    # Panasonic, "VARICAM V-Log/V-Gamut" (2014).
    "V-Log": _PiecewiseLaw(
        (_Line(5.6, 0.125), _Log(1.0, 0.00873, 0.241514, 0.598206)), (0.01,), (0.181,)
    ),
    # IEC 61966-2-1:1999, 5.2.
    "sRGB": _PiecewiseLaw((_Line(12.92, 0.0), _Power(0.0, 1.055, -0.055, 1 / 2.4)), (0.0031308,)),
}


@dataclass(frozen=True, eq=False)
class Encoding:
    """A log (or display) curve and a gamut: what the numbers in a camera file mean.

    Built by `find_encoding`. Scene linear is relative with 0.18 for grey; codes are full range,
    normalised to 1. Both bounds of the module's introduction hold, so that a finite input gives
    a finite result; the price is that encoding and decoding undo each other only between them.

    Attributes
    ----------
    curve, gamut
        Canonical names.
    rgb_to_xyz
        (3, 3) matrix from scene-linear RGB of the gamut to CIE 1931 XYZ, equal RGB giving the
        gamut's white with Y = 1.
    white_xy
        (2,) CIE 1931 chromaticity of that white.
    """

    curve: str
    gamut: str
    rgb_to_xyz: FloatArray
    white_xy: FloatArray
    _law: _Law = field(repr=False)

    def __post_init__(self) -> None:
        for name, shape in (("rgb_to_xyz", (3, 3)), ("white_xy", (2,))):
            value = np.array(getattr(self, name), dtype=np.float64).reshape(shape)
            value.flags.writeable = False
            object.__setattr__(self, name, value)

    def encode(self, linear: ArrayLike) -> FloatArray:
        """Give the codes of scene-linear values, of any shape."""
        return np.asarray(self._law.encode(np.asarray(linear, dtype=np.float64)))

    def decode(self, code: ArrayLike) -> FloatArray:
        """Give the scene-linear values of codes, of any shape."""
        return np.asarray(self._law.decode(np.asarray(code, dtype=np.float64)))


def find_encoding(curve: str, gamut: str) -> Encoding:
    """Look an encoding up by the names of its curve and its gamut.

    Case, spaces, hyphens and underscores do not count.

    Raises
    ------
    UnknownNameError
        When either name is not known; it says which names are near.
    """
    curve = _match(curve, list_curves(), "log curve")
    gamut = _match(gamut, list_gamuts(), "gamut")
    entry = _read_data()["gamuts"][gamut]
    law: _Law = _LAWS[curve] if curve in _LAWS else _LibraryLaw(curve)
    return Encoding(curve, gamut, np.array(entry["rgb_to_xyz"]), np.array(entry["white_xy"]), law)


def list_curves() -> tuple[str, ...]:
    """List the names of all curves, sorted."""
    return tuple(sorted({*_LAWS, *_read_data()["curves"]}, key=str.casefold))


def list_gamuts() -> tuple[str, ...]:
    """List the names of all gamuts, sorted."""
    return tuple(sorted(_read_data()["gamuts"], key=str.casefold))


def _match(name: str, known: tuple[str, ...], kind: str) -> str:
    for each in known:
        if fold_name(each) == fold_name(name):
            return each
    raise UnknownNameError(f"{kind} '{name}'", describe_choices(name, known))


@cache
def _read_data() -> Any:
    path = files("wbplan").joinpath("data", "encodings.json")
    return json.loads(path.read_text(encoding="utf-8"))
