"""How a camera writes scene light into a file: a log curve and a gamut, by their published names.

A correction is a matrix in scene-linear light, but a file holds codes. An `Encoding` is the way
between the two: the curve f with code = f(linear), its inverse, and the gamut that says which
colours the three channels are. The list is a chosen one: published curves of cameras, of ACES and
of displays, each stated here from its publication. Names are those of the colour-science library
(0.4), so that a result can be checked against it.

To add a curve, state its law in ``_LAWS`` under the publication it is from and put the codes that
the publication gives for black, grey and white into the tests; to add a gamut, name it in
``wbplan/data/make_encodings.py`` and run that.

Conventions, everywhere in this module:

- scene linear: 0.18 is an 18 % grey exposed as the meter says, 1.0 a perfect white diffuser;
- code: normalised so that 1.0 is code 1023 of a ten-bit file, in one of three levels. ``full``: the
  number that the curve's publication gives. ``legal``: that number squeezed into 64 to 940, as
  the file of a legal-range recording holds it before a reader expands it. ``legal-expanded``: the
  published code after a reader has taken the file for legal range and stretched 64 to 940 to 0
  to 1, codes outside lost;
- what a publication leaves open is as in colour-science: linear values are reflections, codes are
  normalised code values, LogC3 is the SUP 3.x firmware's by EI, the Canon curves are v1.2 and
  Log3G10 is v3.

Two bounds keep every result finite. Scene values are held within plus and minus `SCENE_LIMIT`, the
largest half-precision number, which is also where ACES S-2014-003 ends ACEScc: two hundred times
past the top of any of these curves. Codes beyond the curve's own ends are held at them, so a curve
that is flat or undefined below some scene value decodes to that value.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.curves import (
    FlooredLaw,
    Law,
    Line,
    Log,
    PiecewiseLaw,
    Power,
    PqLaw,
    RangedLaw,
)
from wbplan.core.errors import UnknownNameError, describe_choices, fold_name
from wbplan.core.files import show_value
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array

Levels = Literal["full", "legal", "legal-expanded"]
LEVELS: Mapping[Levels, tuple[float, float, str]] = {
    "full": (1.0, 0.0, "full-range codes"),
    "legal": (876 / 1023, 64 / 1023, "codes of a signal kept within the legal range, 64 to 940"),
    "legal-expanded": (1023 / 876, -64 / 876, "codes whose legal range, 64 to 940, became 0 to 1"),
}
"""What 0 to 1 stands for: scale and offset from the published curve's number, and in words."""


# ARRI, "ALEXA Log C Curve: Usage in VFX" (2012): SUP 3.x, linear scene exposure, by EI: the join,
# b, c and d of the logarithm (its a is 5.555556), slope and offset of the line.
_LOGC3: Mapping[int, tuple[float, ...]] = {
    160: (0.005561, 0.080216, 0.269036, 0.381991, 5.842037, 0.092778),
    200: (0.006208, 0.076621, 0.266007, 0.382478, 5.776265, 0.092782),
    250: (0.006871, 0.072941, 0.262978, 0.382966, 5.710494, 0.092786),
    320: (0.007622, 0.068768, 0.259627, 0.383508, 5.637732, 0.092791),
    400: (0.008318, 0.064901, 0.256598, 0.383999, 5.571960, 0.092795),
    500: (0.009031, 0.060939, 0.253569, 0.384493, 5.506188, 0.092800),
    640: (0.009840, 0.056443, 0.250219, 0.385040, 5.433426, 0.092805),
    800: (0.010591, 0.052272, 0.247190, 0.385537, 5.367655, 0.092809),
    1000: (0.011361, 0.047996, 0.244161, 0.386036, 5.301883, 0.092814),
    1280: (0.012235, 0.043137, 0.240810, 0.386590, 5.229121, 0.092819),
    1600: (0.013047, 0.038625, 0.237781, 0.387093, 5.163350, 0.092824),
}
LOGC3_EI = 800
"""EI of the curve that is meant where nobody says one."""


def _state_logc3(ei: int) -> PiecewiseLaw:
    at, b, c, d, slope, offset = _LOGC3[ei]
    return PiecewiseLaw((Line(slope, offset), Log(5.555556, b, c, d)), (at,))


def _state_logc4() -> PiecewiseLaw:
    a, b, c = (2**18 - 16) / 117.45, (1023 - 95) / 1023, 95 / 1023
    s = 7 * math.log(2) * 2 ** (7 - 14 * c / b) / (a * b)
    t = (2 ** (14 * (-c / b) + 6) - 64) / a
    log = Log(a, 64.0, b / 14, c - 6 * b / 14, 2.0)
    return PiecewiseLaw((Line(1 / s, -t / s), log), (t,), (0.0,))


def _state_mirrored(a: float, c: float, d: float) -> PiecewiseLaw:
    """State a log curve turned about black; ``a`` is per unit of the 90 % white it is based on."""
    return PiecewiseLaw((Log(-a / 0.9, 1.0, -c, d), Log(a / 0.9, 1.0, c, d)), (0.0,), (d,))


def _state_hlg() -> PiecewiseLaw:
    """State Rec. ITU-R BT.2100-2, table 5, with a perfect white at 75 % (Rep. BT.2408-7, table 1).

    The standard's own E is 1 at the peak; that puts scene 1.0 at E = 0.265 and grey at 38 %.
    """
    a = 0.17883277
    b, c = 1.0 - 4.0 * a, 0.5 - a * math.log(4.0 * a)
    white = (math.exp((0.75 - c) / a) + b) / 12.0
    log = Log(12.0 * white, -b, a, c, math.e)
    root = Power(0.0, math.sqrt(3.0 * white), 0.0, 0.5)
    return PiecewiseLaw((root, log), (1.0 / (12.0 * white),), (0.5,))


_LEGAL, _BLACK = 876 / 1023, 64 / 1023  # ten-bit legal range: 64 to 940

_BT709 = PiecewiseLaw(
    (Line(4.5, 0.0), Power(0.0, 1.099, -0.099, 0.45)), (0.018,), (1.099 * 0.018**0.45 - 0.099,)
)
_LAWS: Mapping[str, Law] = {
    # ACES S-2014-003, 5.3: a level below black, then log2 with an offset up to 2^-15.
    "ACEScc": PiecewiseLaw(
        (
            Line(0.0, (9.72 - 16) / 17.52),
            Log(0.5, 2.0**-16, 1 / 17.52, 9.72 / 17.52, 2.0),
            Log(1.0, 0.0, 1 / 17.52, 9.72 / 17.52, 2.0),
        ),
        (0.0, 2.0**-15),
        ((9.72 - 16) / 17.52, (9.72 - 15) / 17.52),
    ),
    # ACES S-2016-001, 5.
    "ACEScct": PiecewiseLaw(
        (
            Line(10.5402377416545, 0.0729055341958355),
            Log(1.0, 0.0, 1 / 17.52, 9.72 / 17.52, 2.0),
        ),
        (0.0078125,),
        (0.155251141552511,),
    ),
    "ARRI LogC3": _state_logc3(LOGC3_EI),
    # Cooper and Brendel, "ARRI LogC4 Logarithmic Color Space Specification" (2022).
    "ARRI LogC4": _state_logc4(),
    # "Apple Log Profile White Paper" (2023): a level, a square, then log2.
    "Apple Log Profile": PiecewiseLaw(
        (
            Line(0.0, 0.0),
            Power(0.05641088, 47.28711236, 0.0, 2.0),
            Log(1.0, 0.00964052, 0.08550479, 0.69336945, 2.0),
        ),
        (-0.05641088, 0.01),
        (0.0, 47.28711236 * (0.01 + 0.05641088) ** 2),
    ),
    # Blackmagic Design, "Blackmagic Generation 5 Color Science" (2021): natural logarithm.
    "Blackmagic Film Generation 5": PiecewiseLaw(
        (
            Line(8.283605932402494, 0.09246575342465753),
            Log(1.0, 0.005494072432257808, 0.08692876065491224, 0.5300133392291939, math.e),
        ),
        (0.005,),
    ),
    # Canon, Input Transform version 202007 (2020), curves v1.2.
    "Canon Log": _state_mirrored(10.1596, 0.45310179, 0.12512248),
    "Canon Log 2": _state_mirrored(87.09937546, 0.24136077, 0.092864125),
    "Canon Log 3": PiecewiseLaw(
        (
            Log(-14.98325 / 0.9, 1.0, -0.36726845, 0.12783901),
            Line(1.9754798 / 0.9, 0.12512219),
            Log(14.98325 / 0.9, 1.0, 0.36726845, 0.12240537),
        ),
        (-0.014 * 0.9, 0.014 * 0.9),
        (0.097465473, 0.15277891),
    ),
    # DJI, "White Paper on D-Log and D-Gamut" (2017).
    "D-Log": PiecewiseLaw(
        (Line(6.025, 0.0929), Log(0.9892, 0.0108, 0.256663, 0.584555)), (0.0078,), (0.14,)
    ),
    # Blackmagic Design, "Wide Gamut Intermediate DaVinci Resolve" (2020).
    "DaVinci Intermediate": PiecewiseLaw(
        (Line(10.44426855, 0.0), Log(1.0, 0.0075, 0.07329248, 0.07329248 * 7.0, 2.0)),
        (0.00262409,),
        (0.02740668,),
    ),
    # Fujifilm, "F-Log Data Sheet Ver.1.1" and "F-Log2 Data Sheet Ver.1.0" (2022).
    "F-Log": PiecewiseLaw(
        (Line(8.735631, 0.092864), Log(0.555556, 0.009468, 0.344676, 0.790453)),
        (0.00089,),
        (0.100537775223865,),
    ),
    "F-Log2": PiecewiseLaw(
        (Line(8.799461, 0.092864), Log(5.555556, 0.064829, 0.245281, 0.384316)),
        (0.000889,),
        (0.100686685370811,),
    ),
    # Rec. ITU-R BT.709-6, item 1.2; a camera curve without a knee, for completeness.
    "ITU-R BT.709": _BT709,
    # Rec. ITU-R BT.1886, annex 1, white at 1 and black at 0: light of a screen.
    "ITU-R BT.1886": PiecewiseLaw((Power(0.0, 1.0, 0.0, 1 / 2.4),)),
    # Rec. ITU-R BT.2020-2, table 4, ten bits: the curve of BT.709.
    "ITU-R BT.2020": _BT709,
    "ITU-R BT.2100 HLG": _state_hlg(),
    # Rec. ITU-R BT.2100-2, table 4; black is the curve's end, scene 1 is 203 cd/m2 on its screen.
    "ITU-R BT.2100 PQ": FlooredLaw(PqLaw()),
    # Leica, "L-Log Reference Manual" (2022).
    "L-Log": PiecewiseLaw((Line(8.0, 0.09), Log(1.3, 0.0115, 0.27, 0.6)), (0.006,), (0.138,)),
    "Linear": PiecewiseLaw((Line(1.0, 0.0),)),
    # RED, "White Paper on REDWideGamutRGB and Log3G10" (2017), v3: an offset of 0.01, then log.
    "Log3G10": PiecewiseLaw(
        (
            Line(15.1927, 15.1927 * 0.01),
            Log(155.975327, 155.975327 * 0.01 + 1.0, 0.224282, 0.0),
        ),
        (-0.01,),
        (0.0,),
    ),
    # Nikon, "N-Log Specification Document 1.0.0" (2018): a cube root, then a natural logarithm.
    "N-Log": PiecewiseLaw(
        (Power(0.0075, 650 / 1023, 0.0, 1 / 3), Log(1.0, 0.0, 150 / 1023, 619 / 1023, math.e)),
        (0.328,),
        (452 / 1023,),
    ),
    # Sony, "S-Log2 Technical Paper" (2012): linear over 0.9, the log in ten-bit legal range.
    "S-Log2": PiecewiseLaw(
        (
            Line(5.0 * 155 / 219 / 0.9 * _LEGAL, 0.030001222851889303 * _LEGAL + _BLACK),
            Log(155 / 219 / 0.9, 0.037584, 0.432699 * _LEGAL, 0.646596 * _LEGAL + _BLACK),
        ),
        (0.0,),
    ),
    # Sony, "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3", V1.00.
    "S-Log3": PiecewiseLaw(
        (
            Line((171.2102946929 - 95) / 0.01125 / 1023, 95 / 1023),
            Log(1 / 0.19, 0.01 / 0.19, 261.5 / 1023, 420 / 1023),
        ),
        (0.01125,),
        (171.2102946929 / 1023,),
    ),
    # Panasonic, "VARICAM V-Log/V-Gamut" (2014).
    "V-Log": PiecewiseLaw(
        (Line(5.6, 0.125), Log(1.0, 0.00873, 0.241514, 0.598206)), (0.01,), (0.181,)
    ),
    # IEC 61966-2-1:1999, 5.2.
    "sRGB": PiecewiseLaw((Line(12.92, 0.0), Power(0.0, 1.055, -0.055, 1 / 2.4)), (0.0031308,)),
}


ALIASES: Mapping[str, tuple[str, ...]] = {
    # curves
    "ARRI LogC3": ("LogC3", "LogC", "LogC EI"),
    "ARRI LogC4": ("LogC4",),
    "Apple Log Profile": ("Apple Log",),
    "Blackmagic Film Generation 5": ("BMDFilm Gen 5", "Film Gen 5"),
    "Canon Log": ("C-Log",),
    "Canon Log 2": ("C-Log2",),
    "Canon Log 3": ("C-Log3",),
    "DaVinci Intermediate": ("DI",),
    "ITU-R BT.709": ("BT.709", "Rec.709", "Rec.709 camera"),
    "ITU-R BT.1886": ("BT.1886", "Rec.1886", "Gamma 2.4"),
    "ITU-R BT.2020": ("BT.2020", "Rec.2020"),
    "ITU-R BT.2100 HLG": ("HLG", "BT.2100 HLG"),
    "ITU-R BT.2100 PQ": ("PQ", "BT.2100 PQ", "ST 2084"),
    "Linear": ("Scene linear", "Lin"),
    # gamuts
    "ACES2065-1": ("AP0",),
    "ACEScg": ("AP1",),
    "ARRI Wide Gamut 3": ("AWG3", "AWG", "Alexa Wide Gamut"),
    "ARRI Wide Gamut 4": ("AWG4",),
    "Blackmagic Wide Gamut": ("BMD Wide Gamut", "BWG"),
    "DaVinci Wide Gamut": ("DWG",),
    "DJI D-Gamut": ("D-Gamut",),
    "DCI-P3": ("P3 DCI", "P3 theatre"),
    "REDWideGamutRGB": ("RWG", "RED Wide Gamut"),
}
"""Short names that people type, by the published one; the log curves of ACES are gamuts too."""


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
    law
        The curve itself.
    levels
        What the codes 0 to 1 stand for, see the module's conventions.
    ei
        The EI that the curve is published for, of a curve that has one for each; else None.
    """

    curve: str
    gamut: str
    rgb_to_xyz: Array
    white_xy: Array
    law: Law = field(repr=False)
    levels: Levels = "full"
    ei: int | None = None

    def __post_init__(self) -> None:
        for name, shape in (("rgb_to_xyz", (3, 3)), ("white_xy", (2,))):
            value = np.array(getattr(self, name), dtype=np.float64).reshape(shape)
            value.flags.writeable = False
            object.__setattr__(self, name, value)

    def encode(self, linear: ArrayLike) -> Array:
        """Give the codes of scene-linear values, of any shape."""
        return np.asarray(self.law.encode(np.asarray(linear, dtype=np.float64)))

    @property
    def words(self) -> str:
        """The encoding in words for a header: 'S-Log3, S-Gamut3.Cine, full-range codes'."""
        curve = self.curve if self.ei is None else f"{self.curve} EI {self.ei}"
        return f"{curve}, {self.gamut}, {self.levels_words}"

    @property
    def levels_words(self) -> str:
        """What the codes 0 to 1 stand for, in words."""
        return LEVELS[self.levels][2]

    def decode(self, code: ArrayLike) -> Array:
        """Give the scene-linear values of codes, of any shape."""
        return np.asarray(self.law.decode(np.asarray(code, dtype=np.float64)))


def find_encoding(
    curve: str, gamut: str, levels: str = "full", ei: float | None = None
) -> Encoding:
    """Look an encoding up by the names of its curve, its gamut and its levels.

    Case, spaces, hyphens and underscores do not count, and the short names of `ALIASES` do.

    Parameters
    ----------
    ei
        EI of the recording, for a curve that is published by EI: the nearest published one is
        taken, and `note_ei` says so. 800 if not given. Other curves are the same at every EI.

    Raises
    ------
    UnknownNameError
        When a name is not known; it says which names are near.
    """
    curve = _match(curve, list_curves(), "log curve")
    gamut = _match(gamut, list_gamuts(), "gamut")
    taken = _take_ei(curve, ei)
    entry = _read_data()["gamuts"][gamut]
    law = _LAWS[curve] if taken is None else _state_logc3(taken)
    known = cast(Levels, _match(levels, tuple(LEVELS), "range"))
    scale, offset, _ = LEVELS[known]
    if known != "full":
        law = RangedLaw(law, scale, offset)
    matrix, white = np.array(entry["rgb_to_xyz"]), np.array(entry["white_xy"])
    return Encoding(curve, gamut, matrix, white, law, known, taken)


def _take_ei(curve: str, ei: float | None) -> int | None:
    if curve != "ARRI LogC3":
        return None
    wanted = math.log(ei or LOGC3_EI)
    return min(_LOGC3, key=lambda each: abs(math.log(each) - wanted))


def find_ei_range(curve: str) -> tuple[int, int] | None:
    """Find the least and the largest EI that a curve is published for, None if it has none."""
    return (min(_LOGC3), max(_LOGC3)) if curve == "ARRI LogC3" else None


def note_ei(encoding: Encoding, ei: float | None) -> tuple[Note, ...]:
    """Warn where a curve is not published for the EI that it is used at."""
    if encoding.ei is None or ei is None or encoding.ei == ei:
        return ()
    text = (
        f"{encoding.curve} is published for EI {min(_LOGC3)} to {max(_LOGC3)} in steps; for EI "
        f"{ei:g} the curve of EI {encoding.ei} is taken, which may be some codes off"
    )
    return (warn("curve-ei", text, encoding.curve),)


def is_light(encoding: Encoding) -> bool:
    """Tell whether codes are scene light itself, which has no end at 1."""
    return encoding.curve == "Linear"


def list_curves() -> tuple[str, ...]:
    """List the names of all curves, sorted."""
    return tuple(sorted(_LAWS, key=str.casefold))


def list_gamuts() -> tuple[str, ...]:
    """List the names of all gamuts, sorted."""
    return tuple(sorted(_read_data()["gamuts"], key=str.casefold))


def list_aliases(name: str) -> tuple[str, ...]:
    """List what else a curve or a gamut is called."""
    return ALIASES.get(name, ())


@lru_cache(256)
def _match(name: str, known: tuple[str, ...], kind: str) -> str:
    if name in known:
        return name
    for each in known:
        if fold_name(name) in {fold_name(it) for it in (each, *list_aliases(each))}:
            return each
    raise UnknownNameError(f"{kind} {show_value(name)}", describe_choices(name, known))


@cache
def _read_data() -> Any:
    path = files("wbplan").joinpath("data", "encodings.json")
    return json.loads(path.read_text(encoding="utf-8"))
