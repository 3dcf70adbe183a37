"""Figures that a file states of its own light: a free check of how its spectrum was read.

Only lines (or headings with their cell) that are a known word, its unit if any, and a number count.
A title and a date are kept as they stand.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from wbplan.light.spectrum import StatedFigure
from wbplan.read.spectra.units import fold_text

_WORDS: Final = {
    "illuminance": r"(?:photopic )?(?:illuminance|lux|lx|light level)(?: ?[ev]v?)?",
    "CCT": r"cct|tcp|(?:correlated )?colou?r temp(?:erature)?\.?(?: cct)?",
    "Ra": r"ra|cri(?: ?ra)?|colou?r rendering(?: index)?(?: ?ra)?",
}
_UNITS: Final = {"illuminance": r"lux|lx", "CCT": r"k|kelvin", "Ra": r"ra"}
_BEFORE: Final = r"[\s#/;\"]*"
_FIGURE: Final = r"([0-9]{1,7}(?:[.,][0-9]{1,6})?)(?![0-9.,]*[0-9])"
_PATTERNS: Final = {
    name: re.compile(
        rf"{_BEFORE}(?:{words})(?:[ _]?[(\[]?(?:{_UNITS[name]})[)\]]?)?\"?"
        rf"[\s:=,;\"]+{_FIGURE}\s*(?:{_UNITS[name]})?[\s,;\"]*"
    )
    for name, words in _WORDS.items()
}
_TEXTS: Final = re.compile(
    rf"{_BEFORE}(title|name|sample(?: name)?|date|time|measured|recorded)(?: and time)?"
    r"\"?[ \t]*[:=,;\t]\s*(\S.*)",
    re.I,
)
_TITLES: Final = ("title", "name", "sample", "sample name")


_WIDTH: Final = re.compile(
    rf"{_BEFORE}(?:spectral |optical |instrument )?(?:band ?width|band ?pass|resolution)"
    rf"(?:[ _]?[(\[]?(?:fwhm|nm|half width)[)\]]?){{0,2}}\"?[\s:=,;\"]+{_FIGURE}\s*(?:nm)?"
    r"[\s,;\"()fwhm]*"
)
_CORRECTED: Final = re.compile(
    rf"{_BEFORE}band ?(?:width|pass)[ _]?correct(?:ed|ion)\"?"
    r"(?:[\s:=,;\"]+(?:yes|true|on|1|applied|done))?[\s,;\"]*"
)


def find_bandwidth_nm(lines: Iterable[str]) -> float | None:
    """Find an instrument's bandwidth that lines state [nm]: 0 where it is corrected for."""
    width = None
    for line in lines:
        plain = fold_text(line[:200]).replace("_", " ")
        if _CORRECTED.fullmatch(plain):
            return 0.0
        match = _WIDTH.fullmatch(plain)
        if match is not None:
            width = float(match[1].replace(",", "."))
    return width


def find_stated(lines: Iterable[str]) -> tuple[StatedFigure, ...]:
    """Find the illuminance [lux], CCT [K] and Ra that lines state; one stated twice counts not."""
    found: dict[str, StatedFigure] = {}
    twice: set[str] = set()
    for line in lines:
        plain = fold_text(line[:200]).replace("_", " ")
        for name, pattern in _PATTERNS.items():
            match = pattern.fullmatch(plain)
            if match is None:
                continue
            figure = match[1].replace(",", ".")
            decimals = len(figure.partition(".")[2])
            made = StatedFigure(name, float(figure), 0.5 * 10.0**-decimals)
            if name in found and found[name] != made:
                twice.add(name)
            found[name] = made
    return tuple(each for name, each in found.items() if name not in twice)


def find_texts(lines: Iterable[str]) -> tuple[str, ...]:
    """Find a title or a name, and a date, that lines state, as 'title: Kitchen'."""
    found = []
    for line in lines:
        match = _TEXTS.fullmatch(line[:200].rstrip())
        if match:
            words = " ".join(match[2].strip(' ,;"').split())[:80]
            found.append(f"{match[1].casefold()}: {words}")
    return tuple(dict.fromkeys(found))[:4]


def find_title(lines: Iterable[str]) -> str:
    """Find what a light is called in lines that state a title or a name; empty where none does."""
    said = (each.partition(": ") for each in find_texts(lines))
    return next((words for word, _, words in said if word in _TITLES), "")
