"""What a picture looks like on a video monitor: a rendering from scene light to BT.1886.

The chain is the broadcast one: the camera curve of BT.709, shown on a screen that follows
BT.1886, which together make the picture somewhat more contrasty than the scene, as a dim room
wants. A log file holds far more light than that curve's 100 %, so light above half of white is
bent by a shoulder: straight up to 0.5, then logarithmic, meeting the straight part with the
same slope, and reaching full signal where the log file ends. An 18 % grey lies below the shoulder,
at 40.9 % of signal. It is a way to look at a correction, not a grade.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wbplan.codes.curves import SCENE_LIMIT, Law
from wbplan.codes.encodings import Encoding, Levels, find_encoding
from wbplan.core.tables import Array

KNEE = 0.5
"""Scene value up to which the rendering is straight [relative, grey 0.18]."""


@dataclass(frozen=True)
class ShoulderLaw:
    """A law after a shoulder: x to the knee, then knee + room * ln(1 + c t) / c.

    ``room`` is 1 - knee and t is (x - knee) / room, so the slope is 1 on both sides; ``steepness``
    is c, 0 for no shoulder.
    """

    law: Law
    steepness: float

    def encode(self, linear: Array) -> Array:
        """Give codes."""
        return self.law.encode(self._bend(np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT)))

    def decode(self, code: Array) -> Array:
        """Give scene-linear values."""
        light, c, room = self.law.decode(code), self.steepness, 1.0 - KNEE
        if not c:
            return light
        # Held where the largest scene value ends, so that the exponential stays finite.
        most = float(self._bend(np.array(SCENE_LIMIT)))
        t = np.expm1(c * np.clip(light - KNEE, 0.0, most - KNEE) / room) / c
        return np.where(light > KNEE, KNEE + room * t, light)

    def _bend(self, x: Array) -> Array:
        c, room = self.steepness, 1.0 - KNEE
        if not c:
            return x
        above = np.log1p(c * np.maximum(x - KNEE, 0.0) / room) / c
        return np.where(x > KNEE, KNEE + room * above, x)


def find_steepness(top: float) -> float:
    """Find the shoulder's c with which scene light ``top`` comes out at 1; 0 if top is 1 or less.

    Solves ln(1 + c T) / c = 1 for T = (top - knee) / (1 - knee) by bisection.
    """
    reach = (top - KNEE) / (1.0 - KNEE)
    if reach <= 1.0 + 1e-9:
        return 0.0
    low, high = 1e-9, 100.0
    for _ in range(100):
        middle = (low + high) / 2.0
        low, high = (middle, high) if np.log1p(middle * reach) > middle else (low, middle)
    return high


def make_monitor_encoding(source: Encoding, levels: Levels = "full") -> Encoding:
    """Make the encoding of a BT.709 picture for a BT.1886 screen, from a file's encoding.

    Parameters
    ----------
    source
        Of the camera file; what its code 1 stands for decides where the shoulder ends.
    levels
        Of the picture that is made.
    """
    plain = find_encoding("ITU-R BT.709", "ITU-R BT.709", levels)
    shoulder = ShoulderLaw(plain.law, find_steepness(float(source.decode(1.0))))
    return replace(plain, curve="BT.709 with shoulder, for a BT.1886 screen", law=shoulder)
