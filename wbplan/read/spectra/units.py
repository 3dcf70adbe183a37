"""Units of spectral power, read where they are written: in a label or a line above the numbers.

Only irradiance (power on a surface) gives lux. A unit is never guessed from the size of the values.
A unit is found by walking over its parts (a power, then areas, wavelengths, angles and times with
their exponents, in any order and with any sign between them), so that every way to write it counts.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final, NamedTuple

AVOGADRO_PER_MOL: Final = 6.02214076e23  # SI Brochure, 9th ed., 2.2
LONGEST_TEXT: Final = 2000  # of a label or a line; what stands behind it is no unit

_WORDS: Final = (
    (re.compile(r"\bsquare[ _-]?(centi)?met(?:re|er)s?\b"), r"\1m2"),
    (re.compile(r"\bsq\.? ?m(?:et(?:re|er)s?)?\b"), "m2"),
    (re.compile(r"\bcentim2\b"), "cm2"),
    (re.compile(r"\bnanomet(?:re|er)s?\b"), "nm"),
    (re.compile(r"\bmicro(?:met(?:re|er)s?|ns?)\b"), "um"),
    (re.compile(r"\bmet(?:re|er)s? squared\b"), "m2"),
    (re.compile(r"\b(milli|micro|nano|kilo)?watts?\b"), r"\1w"),
    (re.compile(r"\b(milli|micro|nano)?moles?\b"), r"\1mol"),
    (re.compile(r"\bmilli(?=w|mol)"), "m"),
    (re.compile(r"\bmicro(?=w|mol)"), "u"),
    (re.compile(r"\bnano(?=w|mol)"), "n"),
    (re.compile(r"\bkilo(?=w)"), "k"),
    (re.compile(r"\bsteradians?\b"), "sr"),
    (re.compile(r"\bsec(?:ond)?s?\b"), "s"),
    (re.compile(r"(?<![a-z])per(?![a-z])"), "/"),
)
_PREFIX: Final = {"": 1.0, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9}
_START: Final = re.compile(
    r"(?<![a-z0-9])(?=[kmun]?w(?![b-ln-rt-z])|[mun]?mol(?![a-ln-rt-z])|photons?\b|quanta\b)"
)
_TOKEN: Final = re.compile(
    r"([kmun]?w|[mun]?mol|photons?|quanta|nm|um|cm|mm|sr|m|s)"
    r"(?:\s?(?:\^|\*\*)?\s?[({]?\s?([+-]?[1-3])(?![0-9]|\.[0-9])[)}]?)?"
)
_BETWEEN: Final = re.compile(r"[\s/·⋅•×*^.()\[\]{}_|-]{1,12}")
_MOST_PARTS: Final = 12
_AREA: Final = {"m": 1.0, "cm": 1e4, "mm": 1e6}


class Unit(NamedTuple):
    """A spectral unit: what it measures, and the factor to W m-2 nm-1 (or the like).

    ``quantity`` is irradiance, radiance, flux or intensity; the first two with "photon " before
    where photons are counted, and then ``factor`` leads to mol m-2 s-1 nm-1.
    """

    quantity: str
    factor: float


def fold_text(text: str) -> str:
    """Fold what counts as equal in a unit: width, raised figures, case, kinds of minus."""
    plain = unicodedata.normalize("NFKC", text[:LONGEST_TEXT]).casefold()
    for dash in "\u2212\u2010\u2011\u2012\u2013":
        plain = plain.replace(dash, "-")
    return plain.replace("μ", "u").replace("µ", "u")


def find_units(text: str) -> set[Unit]:
    """Find every spectral unit in a text."""
    plain = fold_text(text)
    for pattern, word in _WORDS:
        plain = pattern.sub(word, plain)
    found: set[Unit] = set()
    position = 0
    while match := _START.search(plain, position):
        parts, position = _read_parts(plain, match.start())
        if position < len(plain) and plain[position].isalnum():
            continue
        unit = _make_unit(parts)
        if unit is not None:
            found.add(unit)
    return found


def _read_parts(text: str, start: int) -> tuple[list[tuple[str, int]], int]:
    """Read the parts of a unit with their exponents (0 if none), and where they end."""
    parts: list[tuple[str, int]] = []
    end = position = start
    while len(parts) < _MOST_PARTS and (match := _TOKEN.match(text, position)):
        parts.append((match[1], int(match[2] or 0)))
        end = match.end()
        between = _BETWEEN.match(text, end)
        position = between.end() if between else end
    return parts, max(end, start + 1)


def _make_unit(parts: list[tuple[str, int]]) -> Unit | None:
    if not parts:
        return None
    (name, _), *rest = parts
    is_photons = not name.endswith("w")
    if name.endswith(("w", "mol")):
        factor = _PREFIX[name.removesuffix("w").removesuffix("mol")]
    else:
        factor = 1.0 / AVOGADRO_PER_MOL
    area = wavelength = angle = time = 0
    for name, exponent in rest:
        size = abs(exponent)
        if name in _AREA and size == 2:
            area += 1
            factor *= _AREA[name]
        elif name == "m" and size == 3:  # W/m3 is W/m2 for each metre of wavelength
            area += 1
            wavelength += 1
            factor *= 1e-9
        elif name in ("nm", "um") and size in (0, 1):
            wavelength += 1
            factor *= 1.0 if name == "nm" else 1e-3
        elif name == "sr" and size in (0, 1):
            angle += 1
        elif name == "s" and size in (0, 1) and is_photons:
            time += 1
        elif not (is_photons and name in ("photon", "photons", "quanta")):
            return None
    if wavelength != 1 or area > 1 or angle > 1 or time > 1:
        return None
    quantity = {
        (1, 0): "irradiance",
        (1, 1): "radiance",
        (0, 1): "intensity",
        (0, 0): "flux",
    }[area, angle]
    return Unit(f"photon {quantity}" if is_photons else quantity, factor)
