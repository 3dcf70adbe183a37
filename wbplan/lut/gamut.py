"""Bringing light into a screen's gamut with its hue kept.

Camera gamuts are wider than screens, and light that a screen has no colour for is negative in one
of its channels. Cut off there, a deep blue turns violet and an orange yellow. So chroma is lessened
along a line of one hue and one lightness, in Oklab (Ottosson 2020, "A perceptual color space for
image processing"), which was made so that such lines look of one hue. Against the loci that people
set (Hung and Berns 1995, twelve hues) its hue is off by 5 degrees on the way, 10 for blue; CIELAB's
by 7, and 24 for blue.

How far a colour stands from grey is told in its own unit: 1 is the edge of the gamut at its hue.
Up to `INNER` nothing changes; from there the distance is bent, with no kink, so that even the
furthest stays under 1. Oklab scales with exposure (by its cube root), and so does this.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.errors import InputError
from wbplan.core.tables import Array
from wbplan.lut.correction import find_gamut_change

GAMUT = "gamut compression"
INNER = 0.8
"""Share of the way from grey to the edge that is left as it is."""
_HUES = 7200
_FAR = 1e6  # a hue on which no channel comes to nothing
_LITTLE = 1e-12
_DIGITS = 10

# Ottosson (2020): from XYZ under D65 to cone responses, and from their cube roots to lightness and
# two opponent axes.
_XYZ_TO_LMS = np.array(
    [
        [0.8189330101, 0.3618667424, -0.1288597137],
        [0.0329845436, 0.9293118715, 0.0361456387],
        [0.0482003018, 0.2643662691, 0.6338517070],
    ]
)
_ROOTS_TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


@dataclass(frozen=True, eq=False)
class GamutBend:
    """Light brought into a gamut, each colour along its own hue.

    Attributes
    ----------
    gamut
        The canonical name of the gamut.
    into
        (3, 3) from the light that it is given to linear RGB of that gamut, and back after.
    """

    gamut: str
    into: Array

    def __post_init__(self) -> None:
        value = np.array(self.into, dtype=np.float64)
        if value.shape != (3, 3) or not np.isfinite(value).all():
            raise InputError(f"a matrix of shape {value.shape}", "(3, 3) finite numbers")
        value.flags.writeable = False
        object.__setattr__(self, "into", value)

    @cached_property
    def _back(self) -> Array:
        return np.asarray(np.linalg.inv(self.into), dtype=np.float64)

    @property
    def words(self) -> str:
        """What it is, in a few words."""
        return f"{GAMUT} to {self.gamut}, hue kept"

    def apply(self, light: Array) -> Array:
        """Give linear RGB (..., 3) of RGB (..., 3), none negative in the gamut's own channels.

        Light without lightness is black.
        """
        return np.asarray(compress_chroma(light @ self.into.T, self.gamut) @ self._back.T)

    def move(self, change: Array) -> GamutBend:
        """Give what does the same in another RGB, into which (3, 3) brings this one."""
        return GamutBend(self.gamut, self.into @ np.linalg.inv(change))

    def state(self) -> dict[str, Any]:
        """State it as numbers."""
        rows = [[float(f"{each:.{_DIGITS}g}") for each in row] for row in self.into]
        return {"what": GAMUT, "gamut": self.gamut, "into": rows}


def read_gamut_bend(said: Mapping[str, Any]) -> GamutBend:
    """Read what `GamutBend.state` says."""
    return GamutBend(
        find_encoding("Linear", said["gamut"]).gamut, np.array(said["into"], dtype=np.float64)
    )


def compress_chroma(rgb: ArrayLike, gamut: str) -> Array:
    """Bring linear RGB (..., 3) of a gamut inside it; see the module's introduction."""
    x = np.asarray(rgb, dtype=np.float64)
    roots_to_lab, ahead, back = _find_matrices(gamut)
    lab = np.cbrt(x @ ahead.T) @ roots_to_lab.T
    lightness, a, b = np.moveaxis(lab, -1, 0)
    chroma = np.hypot(a, b)
    edges = _find_edges(gamut)
    hue = np.mod(np.arctan2(b, a), 2.0 * np.pi) * (_HUES / (2.0 * np.pi))
    edge = np.interp(hue, np.arange(_HUES + 1), edges)
    bright = np.maximum(lightness, 0.0)
    distance = chroma / np.maximum(edge * bright, _LITTLE)
    over = np.maximum(distance - INNER, 0.0) / (1.0 - INNER)
    bent = INNER + (1.0 - INNER) * over / (1.0 + over)
    # Where nothing is lit the share is of no account: both are nothing.
    share = np.where(over > 0.0, bent / np.maximum(distance, _LITTLE), 1.0)
    held = np.stack([bright, a * share, b * share], axis=-1)
    roots = np.where(bright[..., None] > 0.0, held, 0.0) @ np.linalg.inv(roots_to_lab).T
    # What is left under 0 is of the table of edges.
    inside = np.maximum(roots**3 @ back.T, 0.0)
    return np.where(((over > 0.0) | (lightness <= 0.0))[..., None], inside, x)


@cache
def _find_matrices(gamut: str) -> tuple[Array, Array, Array]:
    """Find the roots' matrix to Lab, RGB to cone responses, and its inverse; white is 1, 0, 0."""
    own, plain = find_encoding("Linear", gamut), find_encoding("Linear", "ITU-R BT.709")
    ahead = _XYZ_TO_LMS @ plain.rgb_to_xyz @ find_gamut_change(own, plain)
    ahead = ahead / ahead.sum(axis=1, keepdims=True)
    # The published opponent rows add up to 1e-10 or so: a grey has none at all.
    lab = _ROOTS_TO_LAB - np.array([[0.0], [1.0], [1.0]]) * _ROOTS_TO_LAB.mean(
        axis=1, keepdims=True
    )
    lab[0] /= lab[0].sum()
    return lab, ahead, np.linalg.inv(ahead)


@cache
def _find_edges(gamut: str) -> Array:
    """Find chroma over lightness (n + 1,) at which a channel comes to nothing, by hue all round.

    A channel along a hue is a cubic in that ratio: its least positive root.
    """
    lab, _, back = _find_matrices(gamut)
    angle = np.linspace(0.0, 2.0 * np.pi, _HUES + 1)
    step = np.stack([np.zeros_like(angle), np.cos(angle), np.sin(angle)], axis=-1)
    k = step @ np.linalg.inv(lab).T  # roots are 1 + k s
    terms = np.stack([k**3, 3.0 * k**2, 3.0 * k], axis=-1)  # (n, lms, s^3 s^2 s)
    cubic = np.einsum("cl,nlt->nct", back, terms)
    companion = np.zeros((*cubic.shape[:2], 3, 3))
    companion[..., 1, 0] = companion[..., 2, 1] = 1.0
    # in t = 1 / s the cubic is t^3 + c1 t^2 + c2 t + c3, its leading term never nothing
    companion[..., 0, :] = -cubic[..., ::-1]
    t = np.linalg.eigvals(companion)
    real = np.where(np.abs(t.imag) < 1e-9 * (1.0 + np.abs(t.real)), t.real, 0.0)
    most = np.maximum(real.max(axis=(-1, -2)), 1.0 / _FAR)
    edges = np.asarray(1.0 / most)
    edges.flags.writeable = False
    return edges


def find_gamut_bend(target: Encoding) -> GamutBend:
    """Find what brings an encoding's own linear RGB into its gamut."""
    return GamutBend(target.gamut, np.eye(3))
