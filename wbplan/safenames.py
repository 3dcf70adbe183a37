"""File names made from what people wrote: short, ASCII, and safe on every system."""

from __future__ import annotations

import re
import unicodedata

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
