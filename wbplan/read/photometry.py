"""Photometry files: IES LM-63 (1986 to 2019, photometric type C) and EULUMDAT.

Either is told by what it says, not by its name: LM-63 has a line TILT=. The layouts are those of
ANSI/IESNA LM-63-2002 and of EULUMDAT (A. Stockmar, 1990); what LM-63 editions make of the second
number of the ballast's line is from memory.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterator
from typing import Literal

import numpy as np

from wbplan.core.errors import InputError, Place
from wbplan.core.files import read_bytes, show_value
from wbplan.core.tables import Array
from wbplan.light.photometry import Photometry

_MOST_BYTES = 4_000_000
_MOST_ANGLES = 1441  # a quarter of a degree all around
_FOOT_M = 0.3048
Symmetry = Literal["none", "round", "0-180", "90-270", "both"]
_LM63: dict[tuple[float, float], Symmetry] = {
    (0.0, 0.0): "round",
    (0.0, 90.0): "both",
    (0.0, 180.0): "0-180",
    (90.0, 270.0): "90-270",
    (0.0, 360.0): "none",
}
_EULUMDAT: tuple[Symmetry, ...] = ("none", "round", "0-180", "90-270", "both")


def read_photometry(path: str | os.PathLike[str], lamp_set: int | None = None) -> Photometry:
    """Read a photometry file.

    Parameters
    ----------
    lamp_set
        Which of an EULUMDAT file's sets of lamps is in it, from 1; None where there is but one.

    Raises
    ------
    InputError
        With file, line, field, what was found and what is allowed.
    """
    raw = read_bytes(path, _MOST_BYTES)
    file = os.fspath(path)
    if b"\0" in raw or not raw.strip():
        found = "an empty file" if not raw.strip() else "a file that is not text"
        raise InputError(found, "IES LM-63 or EULUMDAT, as text", Place(file))
    lines = raw.decode("latin-1").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    tilt = next((n for n, line in enumerate(lines) if re.match(r"\s*TILT\s*=", line)), None)
    if tilt is None:
        return _read_eulumdat(lines, file, lamp_set)
    if lamp_set not in (None, 1):
        raise InputError(f"the set of lamps {lamp_set}", "no `lamp_set` for LM-63", Place(file))
    return _read_lm63(lines, tilt, file)


class _Numbers:
    """Gives out the numbers of an LM-63 file in order, each with its line."""

    def __init__(self, lines: list[str], first: int, file: str) -> None:
        self._file, self._line = file, first
        self._rest = self._list(lines, first)

    def _list(self, lines: list[str], first: int) -> Iterator[str]:
        for number, line in enumerate(lines[first:], first + 1):
            for word in re.split(r"[\s,]+", line.strip().rstrip("\x1a")):
                if word:
                    self._line = number
                    yield word

    def refuse(self, field: str, found: str, allowed: str) -> InputError:
        return InputError(found, allowed, Place(self._file, self._line, 0, field))

    def number(self, field: str, low: float = -math.inf, high: float = math.inf) -> float:
        word = next(self._rest, None)
        allowed = "a number" if low == -math.inf else f"a number from {low:g} to {high:g}"
        if word is None:
            raise self.refuse(field, "the end of the file", allowed)
        value = _parse(word)
        if not low <= value <= high:
            raise self.refuse(field, show_value(word), allowed)
        return value

    def whole(self, field: str, low: int, high: int) -> int:
        value = self.number(field, low, high)
        if value != int(value):
            raise self.refuse(field, f"{value:g}", f"a whole number from {low} to {high}")
        return int(value)

    def rising(self, field: str, count: int) -> Array:
        values = np.array([self.number(field, 0.0, 360.0) for _ in range(count)])
        if (np.diff(values) <= 0).any():
            raise self.refuse(field, "angles that do not rise", "each angle above the one before")
        return values

    def finish(self) -> None:
        word = next(self._rest, None)
        if word is not None:
            raise self.refuse("candela", f"{show_value(word)} after the last candela", "the end")


def _parse(word: str) -> float:
    """Read a number in plain digits; NaN, which no limit lets pass, for anything else."""
    plain = re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", word)
    value = float(word) if plain else math.nan
    return value if math.isfinite(value) else math.nan


def _read_lm63(lines: list[str], at: int, file: str) -> Photometry:
    numbers = _Numbers(lines, at + 1, file)
    said = lines[at].partition("=")[2].strip()
    if said.upper() not in ("NONE", "INCLUDE"):
        place = Place(file, at + 1, 0, "TILT")
        raise InputError(show_value(said), "NONE or INCLUDE, with its table in the file", place)
    tilts, ratios = np.empty(0), np.empty(0)
    if said.upper() == "INCLUDE":
        numbers.whole("lamp to luminaire geometry", 1, 3)
        count = numbers.whole("number of tilts", 1, _MOST_ANGLES)
        tilts = numbers.rising("tilt", count)
        ratios = np.array([numbers.number("tilt factor", 0.0, 10.0) for _ in range(count)])
    lamps = numbers.whole("number of lamps", 1, 10_000)
    lumens = numbers.number("lumens per lamp", -1.0, 1e8)
    scale = numbers.number("candela multiplier", 1e-9, 1e9)
    gammas = numbers.whole("number of vertical angles", 2, _MOST_ANGLES)
    planes = numbers.whole("number of horizontal angles", 1, _MOST_ANGLES)
    kind = numbers.whole("photometric type", 1, 3)
    if kind != 1:
        found = f"{kind}, type {'B' if kind == 2 else 'A'}"
        raise numbers.refuse("photometric type", found, "1, type C: ask the maker for that file")
    metre = _FOOT_M if numbers.whole("units", 1, 2) == 1 else 1.0
    size = max(abs(numbers.number(each, -1e4, 1e4)) for each in ("width", "length", "height"))
    ballast = numbers.number("ballast factor", 1e-6, 100.0)
    second = numbers.number("ballast-lamp photometric factor", 0.0, 100.0)
    if not lines[0].strip().upper().startswith(("IESNA:LM-63-2002", "IES:LM-63-2019")):
        scale *= second  # of no meaning since 2002, the kind of file since 2019
    numbers.number("watts", 0.0, 1e7)
    gamma = numbers.rising("vertical angles", gammas)
    if gamma[0] not in (0.0, 90.0) or gamma[-1] not in (90.0, 180.0):
        found = f"angles from {gamma[0]:g} to {gamma[-1]:g}"
        raise numbers.refuse("vertical angles", found, "from 0 or 90 to 90 or 180")
    c = numbers.rising("horizontal angles", planes)
    symmetry = _LM63.get((float(c[0]), float(c[-1])))
    if symmetry is None:
        found = f"angles from {c[0]:g} to {c[-1]:g}"
        allowed = "from 0 to 0, 90, 180 or 360, or from 90 to 270"
        raise numbers.refuse("horizontal angles", found, allowed)
    cells = [numbers.number("candela", 0.0, 1e9) for _ in range(planes * gammas)]
    numbers.finish()
    candela = np.array(cells).reshape(planes, gammas) * scale * ballast
    whole_c, whole = _mirror(c, candela, symmetry)
    total = None if lumens < 0 else lamps * lumens
    tilt = tuple(float(x) for x in tilts), tuple(float(x) for x in ratios)
    return Photometry(whole_c, gamma, whole, size * metre, total, *tilt)


def _mirror(c: Array, candela: Array, symmetry: Symmetry) -> tuple[Array, Array]:
    """Write out what is mirrored: planes from 0 to 360, both there."""
    if symmetry == "round":
        return np.array([0.0, 360.0]), np.repeat(candela[:1], 2, axis=0)
    rows = dict(zip(np.mod(c, 360.0).round(6).tolist(), candela, strict=False))
    for about, turned in (("0-180", 360.0), ("90-270", 180.0)):
        if symmetry in (about, "both"):
            for angle, row in list(rows.items()):
                rows.setdefault(round((turned - angle) % 360.0, 6), row)
    angles = sorted(rows)
    return np.array([*angles, 360.0]), np.stack([*(rows[x] for x in angles), rows[angles[0]]])


class _Lines:
    """Gives the fields of an EULUMDAT file by line, numbered from 1."""

    def __init__(self, lines: list[str], file: str) -> None:
        self._file = file
        while lines and not lines[-1].strip("\x1a \t"):
            lines = lines[:-1]
        self._lines = lines

    @property
    def count(self) -> int:
        return len(self._lines)

    def refuse(self, line: int, field: str, found: str, allowed: str) -> InputError:
        return InputError(found, allowed, Place(self._file, line, 0, field))

    def number(self, line: int, field: str, low: float, high: float) -> float:
        allowed = f"a number from {low:g} to {high:g}"
        if line > self.count:
            raise self.refuse(self.count, field, "the end of the file", allowed)
        text = self._lines[line - 1].strip()
        value = _parse(text.replace(",", "."))
        if not low <= value <= high:
            raise self.refuse(line, field, show_value(text), allowed)
        return value

    def whole(self, line: int, field: str, low: int, high: int) -> int:
        value = self.number(line, field, low, high)
        if value != int(value):
            raise self.refuse(line, field, f"{value:g}", f"a whole number from {low} to {high}")
        return int(value)

    def numbers(self, first: int, count: int, field: str, high: float) -> Array:
        return np.array([self.number(first + n, field, 0.0, high) for n in range(count)])

    def rising(self, first: int, count: int, field: str, high: float) -> Array:
        values = self.numbers(first, count, field, high)
        wrong = np.flatnonzero(np.diff(values) <= 0)
        if wrong.size:
            found = "angles that do not rise"
            raise self.refuse(first + int(wrong[0]) + 1, field, found, "more than the line before")
        return values


def _read_eulumdat(lines: list[str], file: str, lamp_set: int | None) -> Photometry:
    fields = _Lines(lines, file)
    if fields.count < 26:
        found = f"{fields.count} lines and no TILT="
        raise InputError(found, "IES LM-63 or EULUMDAT", Place(file))
    symmetry = _EULUMDAT[fields.whole(3, "symmetry", 0, 4)]
    planes = fields.whole(4, "number of C planes", 1, _MOST_ANGLES)
    gammas = fields.whole(6, "number of gamma angles", 2, _MOST_ANGLES)
    size = max(fields.number(line, "luminous area", 0.0, 1e6) for line in range(16, 22)) / 1000.0
    scale = fields.number(24, "conversion factor", 1e-9, 1e9)
    sets = fields.whole(26, "number of sets of lamps", 1, 20)
    lumens = _choose_lumens(fields, sets, lamp_set)
    absolute = fields.whole(27, "number of lamps", -10_000, 10_000) < 0
    at = 27 + 6 * sets + 10
    listed = fields.rising(at, planes, "C angles", 360.0)
    gamma = fields.rising(at + planes, gammas, "gamma angles", 180.0)
    stored = _list_stored(planes, symmetry)
    if stored is None or (symmetry != "round" and listed[0] != 0):
        found = f"{planes} planes from {listed[0]:g} with symmetry {_EULUMDAT.index(symmetry)}"
        raise fields.refuse(4, "number of C planes", found, "planes from 0 that it can mirror")
    first = at + planes + gammas
    cells = fields.numbers(first, len(stored) * gammas, "intensity", 1e9)
    if fields.count >= first + cells.size:
        raise fields.refuse(
            first + cells.size, "intensity", "lines after the last intensity", "the end"
        )
    candela = cells.reshape(-1, gammas) * scale * lumens / 1000.0
    c, whole = _mirror(listed[stored], candela, symmetry)
    return Photometry(c, gamma, whole, size, None if absolute else lumens)


def _choose_lumens(fields: _Lines, sets: int, lamp_set: int | None) -> float:
    """Find the flux of the lamps that are in it [lm]: their intensities are per 1000 lm."""
    several = [
        fields.number(27 + 6 * n + 2, "luminous flux of the lamps", 1e-3, 1e8) for n in range(sets)
    ]
    if lamp_set is None and len(set(several)) > 1:
        told = ", ".join(f"{each:g}" for each in several)
        found, allowed = f"{sets} sets of lamps, of {told} lm", "`lamp_set` beside the file"
        raise fields.refuse(26, "number of sets of lamps", found, allowed)
    if lamp_set is not None and lamp_set > sets:
        found = f"the set of lamps {lamp_set}"
        raise fields.refuse(26, "number of sets of lamps", found, f"1 to {sets}")
    return several[(lamp_set or 1) - 1]


def _list_stored(planes: int, symmetry: Symmetry) -> list[int] | None:
    """List which planes an EULUMDAT file holds, in its order; None where it cannot mirror them."""
    if symmetry == "none":
        return list(range(planes))
    if symmetry == "round":
        return [0]
    if planes % (2 if symmetry == "0-180" else 4):
        return None
    if symmetry == "90-270":
        return [each % planes for each in range(3 * planes // 4, 5 * planes // 4 + 1)]
    return list(range(planes // (2 if symmetry == "0-180" else 4) + 1))
