"""File names made from what people wrote: short, ASCII, and safe on every system."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

_MOST = 60
# Names that one system or another keeps for devices, whatever their ending.
_TAKEN = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}


def make_safe_name(text: str, fallback: str = "unnamed") -> str:
    """Reduce a text to lower-case ASCII letters, digits and single hyphens, 60 at most.

    Accents are dropped, everything else becomes a hyphen; what leaves nothing, or a name that a
    system keeps for itself, gives ``fallback``.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    name = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:_MOST].strip("-")
    return fallback if not name or name in _TAKEN else name


def make_setup_stem(number: int, name: str) -> str:
    """Make what the names of a setup's files begin with, from its number, from 1, and its name."""
    return f"{number:02d}-{make_safe_name(name)}"


BIDI_CONTROLS = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
"""Characters that turn the direction of text, as a range for a regular expression."""

_NONCHARACTERS = "\ufdd0-\ufdef" + "".join(
    chr(plane << 16 | last) for plane in range(17) for last in (0xFFFE, 0xFFFF)
)

_NO_TEXT = re.compile(f"[{_NONCHARACTERS}]")

_FORMATS_OF_SCRIPTS = frozenset(
    "\u200c\u200d"  # the joiners, which choose how letters and emoji join (Unicode 23.2)
    "\u0600\u0601\u0602\u0603\u0604\u0605\u06dd\u070f\u0890\u0891\u08e2"  # signs that are seen
    "\U000110bd\U000110cd"
)


def clean_text(text: str) -> str:
    """Replace what must not reach a page or a terminal by U+FFFD, and line breaks by spaces.

    Control characters, lone surrogates and noncharacters (Unicode 23.7, which neither HTML nor XML
    take) break terminals and files, direction controls let a name rearrange the words around it,
    and other format characters (general category Cf) are not seen at all; the letters of every
    script stay, with the joiners and signs that belong to them.
    """
    if text.isascii() and text.isprintable():
        return text
    spaced = re.sub(r"[\t\r\n\x85\u2028\u2029]+", " ", text)
    return "".join("\ufffd" if _is_no_text(each) else each for each in spaced)


def _is_no_text(character: str) -> bool:
    kind = unicodedata.category(character)
    if kind == "Cf":
        return character not in _FORMATS_OF_SCRIPTS
    return kind in ("Cc", "Cs") or _NO_TEXT.match(character) is not None


def look_at(text: str) -> str:
    """Give what is seen of a name: accents composed (Unicode NFC), nothing that has no shape."""
    if text.isascii():
        return text
    shown = "".join(each for each in text if unicodedata.category(each) != "Cf")
    return unicodedata.normalize("NFC", shown)


def find_alike(names: Iterable[str]) -> tuple[str, str] | None:
    """Find two names that are not the same and look the same."""
    seen: dict[str, str] = {}
    for each in names:
        other = seen.setdefault(look_at(each), each)
        if other != each:
            return other, each
    return None


def say_few(names: Sequence[str], most: int = 8) -> str:
    """List names with commas: the first of them, and how many more there are."""
    more = len(names) - most
    return ", ".join(names) if more <= 0 else f"{', '.join(names[:most])} and {more} more"
