"""The pieces that camera and display curves are made of, and how they are joined.

A law is a way from scene-linear values to codes and back. The published curves are a few simple
pieces each (a line, a logarithm, a power), joined at scene values; `PiecewiseLaw` evaluates each
piece on its own side of the joins alone and keeps every result finite.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from wbplan.core.tables import Array

SCENE_LIMIT = 65504.0
"""Largest scene-linear value that a law takes or gives [relative, grey 0.18]."""


class Law(Protocol):
    """Codes of scene-linear values, and back; any shape."""

    def encode(self, linear: Array) -> Array:
        """Give codes."""
        ...

    def decode(self, code: Array) -> Array:
        """Give scene-linear values."""
        ...


@dataclass(frozen=True)
class Line:
    """code = e x + f; with e = 0 a level, which is never decoded (see `PiecewiseLaw.decode`)."""

    e: float
    f: float

    def encode(self, linear: Array) -> Array:
        return self.e * linear + self.f

    def decode(self, code: Array) -> Array:
        return (code - self.f) / self.e if self.e else np.zeros_like(code)


@dataclass(frozen=True)
class Log:
    """code = c log_base(a x + b) + d; a and c both negative mirror the curve."""

    a: float
    b: float
    c: float
    d: float
    base: float = 10.0

    def encode(self, linear: Array) -> Array:
        scale = self.c / math.log(self.base)
        return scale * np.log(self.a * linear + self.b) + self.d

    def decode(self, code: Array) -> Array:
        scale = math.log(self.base) / self.c
        return (np.exp((code - self.d) * scale) - self.b) / self.a


@dataclass(frozen=True)
class Power:
    """code = c (x + b)^p + d, the power taken of the size and the sign kept."""

    b: float
    c: float
    d: float
    p: float

    def encode(self, linear: Array) -> Array:
        return self.c * _raise(linear + self.b, self.p) + self.d

    def decode(self, code: Array) -> Array:
        return _raise((code - self.d) / self.c, 1.0 / self.p) - self.b


def _raise(x: Array, p: float) -> Array:
    return np.copysign(np.abs(x) ** p, x)


@dataclass(frozen=True)
class PiecewiseLaw:
    """A curve of one to three pieces, darkest first, joined at scene values and at codes.

    Where a publication gives the join as a code too, that figure is used for decoding; else it
    is the code that the darker piece has at the join.
    """

    pieces: tuple[Law, ...]
    joins: tuple[float, ...] = ()
    code_joins: tuple[float, ...] = ()

    def encode(self, linear: Array) -> Array:
        x = np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT)
        return _join(x, self.joins, [piece.encode for piece in self.pieces])

    @cached_property
    def _code_ends(self) -> tuple[Array, tuple[float, ...]]:
        """The codes of the limits (2,), and those at which the pieces join."""
        joins = self.code_joins or tuple(
            float(piece.encode(np.array(at)))
            for piece, at in zip(self.pieces, self.joins, strict=False)
        )
        return self.encode(np.array([-SCENE_LIMIT, SCENE_LIMIT])), joins

    def decode(self, code: Array) -> Array:
        ends, joins = self._code_ends
        # A level's end is its join, and a join belongs to the brighter piece.
        y = np.clip(code, ends[0], ends[1])
        linear = _join(y, joins, [piece.decode for piece in self.pieces])
        return np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT)


def _join(
    x: Array,
    joins: tuple[float, ...],
    functions: list[Callable[[Array], Array]],
) -> Array:
    """Evaluate each function on its own side of the joins alone, so that no log meets <= 0."""
    if not joins:
        return functions[0](x)
    result = functions[0](np.minimum(x, joins[0]))
    for at, function in zip(joins, functions[1:], strict=True):
        result = np.where(x >= at, function(np.maximum(x, at)), result)
    return result


@dataclass(frozen=True)
class PqLaw:
    """The camera curve of Rec. ITU-R BT.2100-2, table 4: its OOTF, then the inverse of its EOTF.

    Scene 1.0 is the reference white of Rep. ITU-R BT.2408-7, 203 cd/m2 on the screen, as it is in
    HLG; the standard's E is scene times 1.8290 over 59.5208.
    """

    def encode(self, linear: Array) -> Array:
        x = _PQ_LEVEL * np.clip(linear, 0.0, SCENE_LIMIT)
        bent = np.where(x >= _PQ_JOIN, 1.099 * np.maximum(x, 1e-9) ** 0.45 - 0.099, _PQ_SLOPE * x)
        power = (0.01 * bent**2.4) ** _PQ_M1
        return ((_PQ_C1 + _PQ_C2 * power) / (1.0 + _PQ_C3 * power)) ** _PQ_M2

    def decode(self, code: Array) -> Array:
        root = np.maximum(code, 0.0) ** (1.0 / _PQ_M2)
        power = np.maximum(root - _PQ_C1, 0.0) / (_PQ_C2 - _PQ_C3 * root)
        bent = (100.0 * power ** (1.0 / _PQ_M1)) ** (1.0 / 2.4)
        bright = ((bent + 0.099) / 1.099) ** (1.0 / 0.45)
        dark = bent < 1.099 * _PQ_JOIN**0.45 - 0.099
        return np.where(dark, bent / _PQ_SLOPE, bright) / _PQ_LEVEL


_PQ_M1, _PQ_M2 = 2610 / 16384, 2523 / 4096 * 128
_PQ_C1, _PQ_C2, _PQ_C3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32


def _raise_pq(luminance: float) -> float:
    return float((((luminance / 100.0) ** (1.0 / 2.4) + 0.099) / 1.099) ** (1.0 / 0.45))


_PQ_LEVEL = _raise_pq(203.0)
_PQ_JOIN, _PQ_SLOPE = 0.018, 4.5  # BT.709's; the standard's 0.0003024 and 267.84 are these, rounded


def find_pq_scene(luminance: float) -> float:
    """Find the scene light, 1.0 for 203 cd/m2, that `PqLaw` shows at a luminance over 1 [cd/m2]."""
    return _raise_pq(luminance) / _PQ_LEVEL


@dataclass(frozen=True)
class FlooredLaw:
    """A law that is not defined below black: darker values have the code of black."""

    law: Law

    def encode(self, linear: Array) -> Array:
        return self.law.encode(np.clip(linear, 0.0, SCENE_LIMIT))

    def decode(self, code: Array) -> Array:
        ends = self.encode(np.array([0.0, SCENE_LIMIT]))
        return np.clip(self.law.decode(np.clip(code, *ends)), 0.0, SCENE_LIMIT)


@dataclass(frozen=True)
class RangedLaw:
    """A law whose codes are scaled and moved, as between full and legal range."""

    law: Law
    scale: float
    offset: float

    def encode(self, linear: Array) -> Array:
        return self.law.encode(linear) * self.scale + self.offset

    def decode(self, code: Array) -> Array:
        return self.law.decode((code - self.offset) / self.scale)
