"""What the values of each column are, by the words and units that the file writes.

A column's own label comes first; what stands above the numbers counts for the columns whose label
says nothing. A line of the form 'key: value' counts only if its key speaks of the values, so that
the name of a lamp or of an instrument decides nothing.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final, NamedTuple

from wbplan.read.spectra.units import Unit, find_units, fold_text

SURFACE_QUANTITIES: Final = (
    *("transmittance", "reflectance", "absorptance", "r-factor", "t-factor"),
)
DENSITY: Final = "optical density"
RELATIVE: Final = "relative"
PERCENT: Final = "percent"  # of what is not said
PHOTONS: Final = "photon"  # begins the name of every quantity that counts photons
LOGARITHM: Final = "a logarithm"
INCOMPLETE: Final = "blanks in some rows"
WAVELENGTHS: Final = "wavelengths"
# What is neither a light nor a filter, whatever it is asked for.
USELESS: Final = (
    *(LOGARITHM, "raw counts", "a saturated reading", "an uncalibrated reading"),
    *("absorbance", "a sensitivity", INCOMPLETE, WAVELENGTHS),
)

_EDGE: Final = r"(?<![^\W\d_])(?:{})(?![^\W\d_])"


def _compile(words: str) -> re.Pattern[str]:
    return re.compile(_EDGE.format(words))


# In this order: the first that is found settles it, before any unit.
_FIRST: Final = (
    (
        LOGARITHM,
        _compile(
            r"log ?10|log(?=[ _]?\()|log(?=[ _-](?:spectral|irradiance|radiance|power|value|w\b))"
            r"|^log$|ln(?= ?\()|dbm?|decibels?"
        ),
    ),
    ("raw counts", _compile(r"counts?|adu|digital numbers?|^dn$")),
)
_FIRST_OF_LABELS: Final = (
    ("an uncalibrated reading", _compile(r"uncalibrated|not calibrated|un-calibrated")),
    ("a saturated reading", _compile(r"saturated|over-?exposed")),
    ("raw counts", _compile(r"raw")),
)
_THEN: Final = (
    ("a sensitivity", _compile(r"sensitivity|sensitivities|responsivity|quantum efficiency")),
    (DENSITY, _compile(r"(?:optical|transmission|visual) density|od|^density$")),
    ("absorbance", _compile(r"absorbance|absorption|extinction")),
    ("absorptance", _compile(r"absorptance")),
    ("transmittance", _compile(r"transmittance|transmission|transmissivity|transmitance")),
    ("reflectance", _compile(r"reflectance|reflectivity|reflectance factor")),
)
_PHOTON: Final = _compile(r"photons?|quantum|quanta|ppfd")
_RELATIVE: Final = _compile(r"normali[sz]ed|relative|rel|norm|arbitrary|arb|a\. ?u\.")
_PERCENT: Final = _compile(r"percent")
_WAVELENGTH: Final = _compile(r"wavelengths?|lambda|λ|wl")
_LIGHT: Final = tuple(
    (name, _compile(name)) for name in ("irradiance", "radiance", "intensity", "flux")
)

_KEYED: Final = re.compile(r'[\s#/;"]*([^:=,;\t"]{1,40}?)"?\s*[:=,;\t]+\s*(\S.*)')
_SPEAKS: Final = re.compile(
    r"unit|quantit|measur|type|mode|value|data|kind|spectr|ordinate|scale|status|calibrat|satur"
    r"|signal|column|^y\b|axis|device.class"
)
_NO: Final = r"(?:no|false|0|none|ok|n/?a|never|off)\b"
_STATUS: Final = (
    (
        "an uncalibrated reading",
        re.compile(
            rf"(?:un-?|not )calibrated(?![\s:=,;\"]*{_NO})|\bcalibrated[\s:=,;\"]+(?:no|false|0)\b"
            r"|\bcalibration[\s:=,;\"]+(?:no|none|missing|off|false|invalid)\b"
        ),
    ),
    (
        "a saturated reading",
        re.compile(
            r"(?<!not )(?<!un)(?<!un-)\b(?:saturated|over-?exposed)\b"
            rf"(?![\s:=,;\"]*(?:{_NO}|[02-9]))"
            r"|\b(?:saturation|over-?range|overflow)[\s:=,;\"]+(?:yes|true|1\b(?![.,\d])|warning)"
        ),
    ),
)


class Quantity(NamedTuple):
    """What a column holds: a name, empty if nothing says so, and its unit's factor or NaN."""

    name: str
    factor: float = math.nan


def judge_columns(labels: Sequence[str], above: Sequence[str]) -> tuple[Quantity, ...]:
    """Judge what each column holds.

    Parameters
    ----------
    labels
        Of the columns of values; empty ones where the file has none.
    above
        The lines above and below the numbers, without the one that gives the labels.

    Returns
    -------
    tuple
        One for each label. A unit counts only if it is the only one of its place.
    """
    status = find_status(above)
    common = status or _judge_lines(above)
    result = []
    for label in labels:
        own = _judge_text(label, (*_FIRST, *_FIRST_OF_LABELS))
        is_silent = math.isnan(own.factor) and (
            own.name in ("", "intensity", "flux", common.name)
            or (own.name == f"{PHOTONS}s" and common.name.startswith(PHOTONS))
            or (own.name in _NAMES_OF_LIGHT and common.name in USELESS)
        )
        if status is not None or (is_silent and common.name):
            own = common
        result.append(own)
    stated = any(math.isfinite(each.factor) for each in result)
    if stated and status is None:  # a column without a unit beside one with its own is relative
        result = [each if each.name else Quantity(RELATIVE) for each in result]
    return tuple(result)


_NAMES_OF_LIGHT: Final = tuple(name for name, _ in _LIGHT)


def find_status(above: Sequence[str]) -> Quantity | None:
    """Find a line that calls the whole reading saturated or uncalibrated."""
    for line in above:
        plain = fold_text(line)
        for name, pattern in _STATUS:
            if pattern.search(plain):
                return Quantity(name)
    return None


def _pick_unit(units: set[Unit]) -> Quantity | None:
    """Take the only unit; several settle nothing but what they agree on."""
    if len(units) == 1:
        return Quantity(*units.pop())
    names = {each.quantity for each in units}
    return Quantity(names.pop()) if len(names) == 1 else None


def _judge_text(text: str, first: Sequence[tuple[str, re.Pattern[str]]] = _FIRST) -> Quantity:
    plain = fold_text(text)
    for name, pattern in first:
        if pattern.search(plain):
            return Quantity(name)
    found = _pick_unit(find_units(text))
    if found is not None:
        if _RELATIVE.search(plain) or _PERCENT.search(plain):
            return Quantity(RELATIVE)
        if found.name == "irradiance" and re.search(r"(?<!ir)radiance", plain):
            return Quantity("radiance")
        return found
    for name, pattern in _THEN:
        if pattern.search(plain):
            return Quantity(name)
    if _PHOTON.search(plain):
        return Quantity(f"{PHOTONS}s")
    scales = ((RELATIVE, _RELATIVE), (PERCENT, _PERCENT), (WAVELENGTHS, _WAVELENGTH))
    for name, pattern in (*scales, *_LIGHT):
        if pattern.search(plain):
            return Quantity(name)
    return Quantity("")


def _judge_lines(lines: Sequence[str]) -> Quantity:
    units: set[Unit] = set()
    named: list[Quantity] = []
    for line in lines:
        units |= find_units(line)
        keyed = _KEYED.fullmatch(line[:400].rstrip())
        if keyed and not _SPEAKS.search(fold_text(keyed[1])):
            continue
        judged = _judge_text(line)
        if judged.name and judged.name != WAVELENGTHS:
            named.append(judged)
    first = [each for each in named if each.name in dict(_FIRST)]
    if first:
        return first[0]
    if units:
        return _pick_unit(units) or Quantity("")
    others = [each for each in named if each.name not in (RELATIVE, PERCENT, *_NAMES_OF_LIGHT)]
    return next(iter(others or named), Quantity(""))
