"""What a picture looks like on a monitor: renderings from scene light to a screen's signal.

All are broadcast's own chain, the camera curve of BT.709 shown on a screen of BT.1886, which
together make the picture somewhat more contrasty than the scene, as a dim room wants (it is the
OOTF of Rec. ITU-R BT.2100-2, table 4); HLG leaves that to the display. The screens:

- ``bt-1886``: BT.709, 2.4 power, full signal at 100 cd/m2;
- ``p3-d65`` and ``p3-dci``: P3 with the white of D65 or of DCI (x 0.314, y 0.351), 2.6 power
  (SMPTE RP 431-2); the light of the first, coded for that power; 100 and 48 cd/m2;
- ``pq``: SMPTE ST 2084 in BT.2020, scene 1.0 at 203 cd/m2 or what is asked for;
- ``hlg``: Rec. ITU-R BT.2100-2, table 5, likewise on a display of 1000 cd/m2 (gamma 1.2).

Two things are done first. Light outside the screen's gamut is brought inside with its hue kept
(`lut.gamut`). And a log file holds far more light than a screen: light over a knee (half of white;
white itself in PQ and HLG) is bent by a shoulder, straight up to the knee, then logarithmic,
meeting the straight part with the same slope, and reaching the end (full signal; 1000 cd/m2 in PQ
and HLG) where the log file ends. An 18 % grey lies below it: 40.9 % of signal in BT.1886, 38 %
in PQ and HLG. It is a way to look at a correction, not a grade.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wbplan.codes.curves import SCENE_LIMIT, Law, PiecewiseLaw, Power, RangedLaw, find_pq_scene
from wbplan.codes.encodings import LEVELS, Encoding, find_encoding
from wbplan.core.tables import Array
from wbplan.scene.luts import HDR_SCREENS, PEAK, SCREENS, Monitor, Screen

KNEE = 0.5
"""Scene value up to which a rendering for BT.1886 or P3 is straight [relative, grey 0.18]."""
HDR_KNEE = 1.0
"""The same for PQ and HLG."""
_PLAIN_POWER, _P3_POWER = 2.4, 2.6
_HLG_GAMMA = 1.2  # Rec. ITU-R BT.2100-2, table 5, note 5f: of a display of 1000 cd/m2
_SPACES: dict[Screen, tuple[str, str, str]] = {
    "bt-1886": ("ITU-R BT.709", "ITU-R BT.709", "BT.709 with shoulder, for a BT.1886 screen"),
    "p3-d65": ("ITU-R BT.709", "P3-D65", "Power 2.6 with shoulder, for a P3 screen of D65 white"),
    "p3-dci": ("ITU-R BT.709", "DCI-P3", "Power 2.6 with shoulder, for a P3 screen of DCI white"),
    "pq": ("ITU-R BT.2100 PQ", "ITU-R BT.2020", "PQ with shoulder"),
    "hlg": ("ITU-R BT.2100 HLG", "ITU-R BT.2020", "HLG with shoulder"),
}


@dataclass(frozen=True)
class ShoulderLaw:
    """A law after a shoulder: x to the knee, then knee + room * ln(1 + c t) / c; times a gain.

    ``room`` is peak - knee and t is (x - knee) / room, so the slope is 1 on both sides;
    ``steepness`` is c, 0 for no shoulder.
    """

    law: Law
    steepness: float
    knee: float = KNEE
    peak: float = 1.0
    gain: float = 1.0

    def encode(self, linear: Array) -> Array:
        """Give codes."""
        bent = self._bend(np.clip(linear, -SCENE_LIMIT, SCENE_LIMIT))
        return self.law.encode(self.gain * bent)

    def decode(self, code: Array) -> Array:
        """Give scene-linear values."""
        light, c = self.law.decode(code) / self.gain, self.steepness
        knee, room = self.knee, self.peak - self.knee
        if not c:
            return light
        # Held where the largest scene value ends, so that the exponential stays finite.
        most = float(self._bend(np.array(SCENE_LIMIT)))
        t = np.expm1(c * np.clip(light - knee, 0.0, most - knee) / room) / c
        return np.where(light > knee, knee + room * t, light)

    def _bend(self, x: Array) -> Array:
        c, knee, room = self.steepness, self.knee, self.peak - self.knee
        if not c:
            return x
        above = np.log1p(c * np.maximum(x - knee, 0.0) / room) / c
        return np.where(x > knee, knee + room * above, x)


@dataclass(frozen=True)
class ChainedLaw:
    """A law on the codes of another: the same light for a screen of another power."""

    law: Law
    then: Law

    def encode(self, linear: Array) -> Array:
        """Give codes."""
        return self.then.encode(self.law.encode(linear))

    def decode(self, code: Array) -> Array:
        """Give scene-linear values."""
        return self.law.decode(self.then.decode(code))


def find_steepness(top: float, knee: float = KNEE, peak: float = 1.0) -> float:
    """Find the shoulder's c with which scene light ``top`` comes out at ``peak``; 0 if not over it.

    Solves ln(1 + c T) / c = 1 for T = (top - knee) / (peak - knee) by bisection.
    """
    reach = (top - knee) / (peak - knee)
    if reach <= 1.0 + 1e-9:
        return 0.0
    low, high = 1e-9, 100.0
    for _ in range(100):
        middle = (low + high) / 2.0
        low, high = (middle, high) if np.log1p(middle * reach) > middle else (low, middle)
    return high


def make_monitor_encoding(source: Encoding, monitor: Monitor | None = None) -> Encoding:
    """Make the encoding of a picture for a screen, from a file's encoding.

    Parameters
    ----------
    source
        Of the camera file; what its code 1 stands for decides where the shoulder ends.
    monitor
        The screen, the levels of the picture that is made, and its white; BT.1886 if not given.
    """
    monitor = monitor or Monitor()
    screen, white = monitor.screen, monitor.luminance
    curve, gamut, words = _SPACES[screen]
    plain = find_encoding(curve, gamut)
    law: Law = plain.law
    knee, peak, gain = KNEE, 1.0, 1.0
    if screen.startswith("p3"):
        power = PiecewiseLaw((Power(0.0, 1.0, 0.0, _PLAIN_POWER / _P3_POWER),))
        law = ChainedLaw(law, power)
    elif screen == "pq":
        gain, peak = find_pq_scene(white), find_pq_scene(PEAK)
    elif screen == "hlg":
        gain = (white / SCREENS[screen]) ** (1.0 / _HLG_GAMMA)
        peak = float(law.decode(np.array(1.0)))
    if screen in HDR_SCREENS:
        knee, peak = HDR_KNEE, peak / gain
        words += f", white at {white:g} of {PEAK:g} cd/m2"
    steepness = find_steepness(float(source.decode(1.0)), knee, peak)
    law = ShoulderLaw(law, steepness, knee, peak, gain)
    scale, offset, _ = LEVELS[monitor.levels]
    if monitor.levels != "full":
        law = RangedLaw(law, scale, offset)
    return replace(plain, curve=words, law=law, levels=monitor.levels)
