"""What a table can do to light beyond a matrix.

A correction is a matrix in scene-linear light, and where a matrix is not the best that can be done,
a bend after it. Every bend keeps greys and scales with exposure unless it says otherwise; a file
made of operations alone cannot hold one, a table can.

`RootBend` is the root polynomial of Finlayson, Mackiewicz and Hurlbert (2015), "Color correction
using root-polynomial regression", IEEE Trans. Image Process. 24(5): beside red, green and blue
their products to the power that makes them linear in exposure again. Here it is written as what is
added to a matrix, and every term is nothing for a white.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.errors import InputError
from wbplan.core.tables import Array

TERM_COUNTS = {1: 2, 2: 5, 3: 12}
"""Terms of a polynomial by its degree; of degree 1 they are those of a matrix."""
ROOTS = "root polynomial"
_DIGITS = 10


class Bend(Protocol):
    """What is done to light after a correction's matrix."""

    def apply(self, light: Array) -> Array:
        """Give scene-linear RGB (..., 3) of what the matrix made, (..., 3)."""
        ...

    def move(self, change: Array) -> Bend:
        """Give what does the same in another RGB, into which (3, 3) brings this one."""
        ...

    def state(self) -> dict[str, Any]:
        """State it as ``what`` it is and the numbers that make it, for a header or a record."""
        ...

    @property
    def words(self) -> str:
        """What it is, in a few words."""
        ...


def list_terms(rgb: ArrayLike, degree: int) -> Array:
    """List the terms (..., k) of balanced camera RGB (..., 3), each 0 for a grey.

    Red and blue less green; from degree 2 the square roots of products of two channels, from
    degree 3 the cube roots of products of three, each less the mean of the channels. Of a channel
    below 0 no root is taken.
    """
    x = np.asarray(rgb, dtype=np.float64)
    terms = [x[..., 0] - x[..., 1], x[..., 2] - x[..., 1]]
    if degree > 1:
        r, g, b = np.moveaxis(np.maximum(x, 0.0), -1, 0)
        mean = x.mean(axis=-1)
        terms += [np.sqrt(each) - mean for each in (r * g, g * b, b * r)]
    if degree > 2:
        # r^2/3 g^1/3 by single cube roots: exact for a grey, and cheaper
        p, q, s = np.cbrt(r), np.cbrt(g), np.cbrt(b)
        mixed = (p * q * q, p * p * q, q * s * s, q * q * s, s * p * p, s * s * p, p * q * s)
        terms += [each - mean for each in mixed]
    return np.stack(terms, axis=-1)


@dataclass(frozen=True, eq=False)
class RootBend:
    """A root polynomial, as what it adds to light that a matrix has corrected.

    Attributes
    ----------
    into
        (3, 3) from that light to the RGB that the terms are made of, a camera's balanced RGB.
    weights
        (3, k) of the k terms, see `list_terms`.
    """

    into: Array
    weights: Array

    def __post_init__(self) -> None:
        for name in ("into", "weights"):
            value = np.array(getattr(self, name), dtype=np.float64)
            if value.ndim != 2 or len(value) != 3 or not np.isfinite(value).all():
                raise InputError(f"{name} of shape {value.shape}", "(3, k) finite numbers")
            value.flags.writeable = False
            object.__setattr__(self, name, value)
        if self.weights.shape[1] not in TERM_COUNTS.values():
            raise InputError(f"{self.weights.shape[1]} terms", "2, 5 or 12 terms")

    @property
    def degree(self) -> int:
        """The polynomial's degree."""
        return next(d for d, count in TERM_COUNTS.items() if count == self.weights.shape[1])

    @property
    def words(self) -> str:
        """What it is, in a few words."""
        return f"{ROOTS} of degree {self.degree}"

    def apply(self, light: Array) -> Array:
        """Give scene-linear RGB (..., 3) of what the matrix made, (..., 3)."""
        return np.asarray(light + list_terms(light @ self.into.T, self.degree) @ self.weights.T)

    def move(self, change: Array) -> RootBend:
        """Give what does the same in another RGB, into which (3, 3) brings this one."""
        return RootBend(self.into @ np.linalg.inv(change), change @ self.weights)

    def state(self) -> dict[str, Any]:
        """State it as numbers."""
        return {"what": ROOTS, "into": _round(self.into), "weights": _round(self.weights)}


def read_root_bend(said: Mapping[str, Any]) -> RootBend:
    """Read what `RootBend.state` says."""
    return RootBend(
        np.array(said["into"], dtype=np.float64), np.array(said["weights"], dtype=np.float64)
    )


def _round(numbers: Array) -> list[list[float]]:
    return [[float(f"{each:.{_DIGITS}g}") for each in row] for row in numbers]
