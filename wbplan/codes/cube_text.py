"""The text of a `.cube` file: making it fast, and reading it strictly.

Six decimals are 0.0005 of a ten-bit code at most. The writer makes the digits with array
arithmetic; its bytes are those of ``"%.6f"``.
"""

from __future__ import annotations

import math
import textwrap
import unicodedata
from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array

SizeWord = Literal["LUT_3D_SIZE", "LUT_1D_SIZE"]

SMALLEST_SIZE = 2
LARGEST_SIZE = 129
"""Most nodes per axis; the lowest of the limits of the usual readers (OpenColorIO's)."""

SMALLEST_CURVE, LARGEST_CURVE = 2, 65536
"""Fewest and most entries of a one-dimensional table."""

_SIZES = {
    "LUT_3D_SIZE": (SMALLEST_SIZE, LARGEST_SIZE),
    "LUT_1D_SIZE": (SMALLEST_CURVE, LARGEST_CURVE),
}
_INPUT_RANGES = ("LUT_1D_INPUT_RANGE", "LUT_3D_INPUT_RANGE")  # how others say the domain
_EDGES = ("DOMAIN_MIN", "DOMAIN_MAX")
UNIT_DOMAIN = np.array([[0.0] * 3, [1.0] * 3])
"""(2, 3) inputs of the first and of the last nodes where a file says nothing else."""
UNIT_DOMAIN.flags.writeable = False
_LARGEST_INPUT = 65504.0  # of half-precision pixels
_CHANNELS = ("red", "green", "blue")
_ALMOST_HALF = 0.5 - 4e-9
_WIDE = 9.9999995  # what rounds to two digits before the point
_BLOCK = 3 * 4096
_TITLE_LENGTH = 200  # some readers take lines of 512 bytes, and cut longer ones in two


def format_head(size_line: str, title: str, comments: Iterable[str]) -> bytes:
    """Give the lines above the rows of a `.cube`; see `format_cube` for what becomes of labels."""
    head = [
        f"# {line}"
        for comment in comments
        for line in textwrap.wrap(make_plain(comment), 98, break_on_hyphens=False)
    ]
    plain = make_plain(title).replace('"', "'")[:_TITLE_LENGTH]
    if plain:
        head.append(f'TITLE "{plain}"')
    return "\n".join([*head, size_line, ""]).encode("ascii")


def make_plain(text: str) -> str:
    """Reduce a label to printable ASCII on one line."""
    decomposed = unicodedata.normalize("NFKD", text)
    bare = "".join(ch for ch in decomposed if not unicodedata.combining(ch))
    printable = "".join(ch if ch.isprintable() else " " for ch in bare)
    return " ".join(printable.encode("ascii", "replace").decode("ascii").split())


def _spell(digits: int) -> NDArray[np.uint8]:
    """Spell all numbers of some digits, leading zeros and all, (10^digits, digits) characters."""
    places = 10 ** np.arange(digits - 1, -1, -1)
    return (np.arange(10**digits)[:, None] // places % 10 + ord("0")).astype(np.uint8)


# The eight characters of d.dddddd are two four-byte words, each looked up whole: the first by the
# leading three digits, the second by the last four.
_LEADING = np.insert(_spell(3), 1, ord("."), axis=1).view(np.uint32)[:, 0]
_TRAILING = _spell(4).view(np.uint32)[:, 0]
_UNSIGNED = np.dtype([("leading", np.uint32), ("trailing", np.uint32), ("end", np.uint8)])
_SIGNED = np.dtype([("sign", np.uint8), *_UNSIGNED.descr])


def format_layers(head: bytes, layers: Array) -> bytes | None:
    """Write a head and layers (n, n, n, 3) in one pass; None for what needs a sign or more room.

    One layer at a time: what is worked on then stays in the processor's cache, and the digits go
    straight to their place in the file.
    """
    if float(layers.max()) >= _WIDE or np.signbit(layers).any():
        return None
    rows = layers.size // len(layers)
    whole_file = np.empty(len(head) + layers.size * _UNSIGNED.itemsize, dtype=np.uint8)
    whole_file[: len(head)] = np.frombuffer(head, dtype=np.uint8)
    records = whole_file[len(head) :].view(_UNSIGNED).reshape(len(layers), rows)
    records["end"] = np.tile(np.frombuffer(b"  \n", dtype=np.uint8), rows // 3)
    scaled, whole = np.empty(rows), np.empty(rows)
    micro, part = np.empty(rows, dtype=np.uint32), np.empty(rows, dtype=np.uint32)
    index, digits = np.empty(rows, dtype=np.intp), np.empty(rows, dtype=np.uint32)
    for layer, record in zip(layers, records, strict=True):
        np.multiply(layer.reshape(-1), 1e6, out=scaled)
        np.rint(scaled, out=whole)
        np.subtract(scaled, whole, out=scaled)
        if scaled.max() > _ALMOST_HALF or scaled.min() < -_ALMOST_HALF:
            _settle_halves(layer.reshape(-1), np.abs(scaled), whole)
        np.copyto(micro, whole, casting="unsafe")
        np.floor_divide(micro, 10000, out=part)
        # Every index is in range; "wrap" only spares the check.
        np.copyto(index, part)
        record["leading"] = np.take(_LEADING, index, out=digits, mode="wrap")
        np.multiply(part, 10000, out=part)
        np.copyto(index, np.subtract(micro, part, out=micro))
        record["trailing"] = np.take(_TRAILING, index, out=digits, mode="wrap")
    return whole_file.tobytes()


def _settle_halves(size: Array, off: Array, whole: Array) -> None:
    """Round the few values that lie within the product's last bits of a half as ``%.6f`` does."""
    for i in np.flatnonzero(off > _ALMOST_HALF):
        whole[i] = int(f"{size[i]:.6f}".replace(".", ""))


def format_rows(values: Array) -> bytes:
    """Write values (3 m,) as rows of three with six decimals, as ``%.6f`` would."""
    size = np.abs(values)
    if float(size.max()) >= _WIDE:
        return ("%.6f %.6f %.6f\n" * (len(values) // 3) % tuple(values)).encode("ascii")
    scaled = size * 1e6
    whole = np.rint(scaled)
    # The product is rounded, so within its last bits of a half it cannot say which way to go.
    _settle_halves(size, np.abs(np.subtract(scaled, whole, out=scaled), out=scaled), whole)
    micro = whole.astype(np.uint32)
    leading = micro // 10000
    trailing = micro - leading * 10000
    records = np.empty(len(values), dtype=_SIGNED)
    records["sign"] = np.where(np.signbit(values), ord("-"), 0)
    records["leading"] = _LEADING.take(leading)
    records["trailing"] = _TRAILING.take(trailing)
    records["end"] = ord(" ")
    records["end"][2::3] = ord("\n")
    return records.tobytes().translate(None, b"\0")


def check_domain(given: Array) -> Array:
    """Check a domain, (2, 3): inputs of the first and of the last nodes by channel.

    Raises
    ------
    InputError
        Where a channel has no extent, or reaches over half-precision numbers.
    """
    domain = np.array(given, dtype=np.float64)
    good = domain.shape == (2, 3) and bool((np.abs(domain) <= _LARGEST_INPUT).all())
    if not good or not (domain[1] > domain[0]).all():
        allowed = "a lower and a higher number for each channel, within 65504"
        raise InputError(f"the domain {domain.tolist()}", allowed)
    domain.flags.writeable = False
    return domain


def refuse_domain(domain: Array) -> None:
    """Refuse to write a domain other than 0 to 1: some readers take it for that one, silently."""
    if not np.array_equal(domain, UNIT_DOMAIN):
        raise InputError(f"the domain {domain.tolist()} to write", "0 to 1")


def place_in_domain(rgb: Array, domain: Array) -> Array:
    """Tell where inputs (..., 3) stand in a domain, 0 to 1; those outside are held at its edge."""
    low, high = domain
    is_whole = np.array_equal(domain, UNIT_DOMAIN)
    return np.asarray(np.clip(rgb if is_whole else (rgb - low) / (high - low), 0.0, 1.0))


def parse_table(text: str, size_word: SizeWord, place: Place) -> tuple[Array, int, str, Array]:
    """Read the rows of a `.cube`, strictly; faults as `table3d.parse_cube`.

    Parameters
    ----------
    size_word
        Which of the two kinds of table it has to be.

    Returns
    -------
    tuple
        The values in the order of the file (3 m,), the size, the title and the domain (2, 3).
    """
    where = place
    if text.startswith("\ufeff"):
        raise InputError("a byte-order mark", "plain text", replace(where, line=1))
    header = _Header(where, size_word)
    start, number = 0, 0
    while start < len(text):
        stop = text.find("\n", start)
        stop = len(text) if stop < 0 else stop
        line = _clean_line(text[start:stop], number + 1, where)
        if line and (line[0] in "+-." or line[0].isdigit()):
            break
        number += 1
        start = stop + 1
        if line and not line.startswith("#"):
            header.take(line, number)
    if header.size is None:
        raise InputError(
            f"no {size_word} before the first row" if text.strip() else "an empty file",
            f"a line {size_word} before the rows",
            replace(where, line=number + 1, field=size_word),
        )
    body = text[start:]
    count = header.size ** (3 if size_word == "LUT_3D_SIZE" else 1)
    values = _parse_fixed_rows(body, count)
    if values is None:
        values = _parse_rows(body, count, number, where).reshape(-1)
    return values, header.size, header.title, header.find_domain()


def _clean_line(line: str, number: int, where: Place) -> str:
    line = line.removesuffix("\r")
    if "\r" in line:
        place = replace(where, line=number)
        raise InputError("a carriage return inside a line", "lines ended by LF or CRLF", place)
    return line.strip(" \t")


class _Header:
    """The keyword lines met so far."""

    def __init__(self, place: Place, size_word: SizeWord) -> None:
        self._size_word = size_word
        self.title = ""
        self.size: int | None = None
        self._place = place
        self._seen: set[str] = set()
        self._edges: dict[str, list[float]] = {}
        self._range: list[float] = []
        self._domain_place = place

    def take(self, line: str, number: int) -> None:
        word, _, rest = line.replace("\t", " ").partition(" ")
        rest = rest.strip()
        place = replace(self._place, line=number, field=word[:40])
        if word in self._seen:
            raise InputError(f"a second {word}", f"{word} once", place)
        self._seen.add(word)
        if word == "TITLE":
            if len(rest) < 2 or rest[0] != '"' or rest[-1] != '"' or '"' in rest[1:-1]:
                raise InputError(rest or "nothing", "text in double quotes", place)
            self.title = rest[1:-1]
        elif word == self._size_word:
            low, high = _SIZES[word]
            number_like = rest.isascii() and rest.isdigit() and len(rest) < 6
            if not number_like or not low <= int(rest) <= high:
                allowed = f"a whole number from {low} to {high}"
                raise InputError(f"'{rest[:40]}'", allowed, place)
            self.size = int(rest)
        elif word in _INPUT_RANGES:
            ends = _read_numbers(rest)
            if word[4] != self._size_word[4] or ends is None or len(ends) != 2:
                allowed = f"LUT_{self._size_word[4:6]}_INPUT_RANGE and two numbers"
                raise InputError(f"'{line[:40]}'", allowed, place)
            self._range, self._domain_place = ends, place
        elif word in _EDGES:
            edge = _read_numbers(rest)
            if edge is None or len(edge) != 3:
                raise InputError(f"'{rest[:40]}'", "a number for each channel", place)
            self._edges[word], self._domain_place = edge, place
        else:
            known = f"TITLE, {self._size_word}, DOMAIN_MIN or DOMAIN_MAX in capitals"
            raise InputError(f"'{word[:40]}'", known, place)

    def find_domain(self) -> Array:
        """Find the domain (2, 3) that the lines say; refused where two say different ones."""
        place = self._domain_place
        stated = [[edge] * 3 for edge in self._range]
        domain = [self._edges.get(word, UNIT_DOMAIN[k].tolist()) for k, word in enumerate(_EDGES)]
        if stated and self._edges and stated != domain:
            raise InputError(f"the domain {domain} beside the range {self._range}", "one", place)
        try:
            return check_domain(np.array(stated or domain))
        except InputError as error:
            raise error.at(place) from None


def _read_numbers(line: str) -> list[float] | None:
    """Read plain decimal numbers, None when a word is not one; float() alone takes more."""
    if not set(line) <= set("0123456789+-.eE \t"):
        return None
    try:
        return [float(word) for word in line.split()]
    except ValueError:
        return None


def _parse_fixed_rows(body: str, count: int) -> Array | None:
    """Read rows laid out exactly as `format_cube` does, fast; None for any other layout.

    A whole number of millionths over 10^6 is correctly rounded, so it is what float() gives.
    """
    if not body.isascii():
        return None
    data = body.encode("ascii")
    bare = data.translate(None, b"-")
    if len(bare) != 27 * count:
        return None
    characters = np.frombuffer(bare, dtype=np.uint8).reshape(-1, 9)
    values = np.empty(3 * count)
    for start in range(0, len(values), _BLOCK):  # small enough for the processor's cache
        part = slice(start, start + _BLOCK)
        if not _read_block(characters[part], values[part]):
            return None
    signs = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("-"))
    token, offset = np.divmod(signs - np.arange(len(signs)), 9)
    if offset.any() or (np.diff(token) <= 0).any() or (token >= len(values)).any():
        return None
    values[token] *= -1.0
    return values


def _read_block(characters: NDArray[np.uint8], into: Array) -> bool:
    """Read tokens (m, 9) ``d.dddddd`` and a separator; False when they are anything else."""
    ends = characters[:, 8].reshape(-1, 3)
    if not ((characters[:, 1] == ord(".")).all() and (ends == (32, 32, 10)).all()):
        return False
    micro = np.zeros(len(characters), dtype=np.uint32)
    for column in (0, 2, 3, 4, 5, 6, 7):
        digit = characters[:, column] - np.uint8(48)  # anything but a digit wraps above nine
        if digit.max() > 9:
            return False
        micro *= np.uint32(10)
        micro += digit
    np.divide(micro, 1e6, out=into)
    return True


def _parse_rows(body: str, count: int, line_before: int, where: Place) -> Array:
    """Read rows line by line and name the first fault."""
    rows: list[list[float]] = []
    lines = body.split("\n")
    for number, raw in enumerate(lines, line_before + 1):
        line = _clean_line(raw, number, where)
        if not line or line.startswith("#"):
            continue
        row = _read_numbers(line)
        if row is None or len(row) != 3 or not all(map(math.isfinite, row)):
            raise _describe_bad_row(line, replace(where, line=number))
        if len(rows) == count:
            raise InputError("a further row", f"{count} rows", replace(where, line=number))
        rows.append(row)
    if len(rows) < count:
        end = replace(where, line=line_before + len(lines))
        raise InputError(f"{len(rows)} rows", f"{count} rows", end)
    return np.array(rows, dtype=np.float64)


def _describe_bad_row(line: str, place: Place) -> InputError:
    words = line.split()
    for word, channel in zip(words, _CHANNELS, strict=False):
        value = _read_numbers(word)
        if value is None or not math.isfinite(value[0]):
            allowed = "a finite number with a decimal point"
            return InputError(f"'{word[:40]}'", allowed, replace(place, field=channel))
    return InputError(f"{len(words)} values in a row", "3 values", place)
