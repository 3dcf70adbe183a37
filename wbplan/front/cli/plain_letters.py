"""Letters for a console that lacks some: a minus stays a minus.

A console of code page 1252 has no U+2212, and a sign that turns into a question mark turns a figure
around. Registered as an error handler of `codecs`, so that only what cannot be written changes.
"""

from __future__ import annotations

import codecs
import unicodedata

PLAIN_LETTERS = "wbplan-plain"
"""Name of the error handler."""
_PLAIN = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "°": " deg", "×": "x", "·": "*", "±": "+/-",
    "µ": "u", "μ": "u", "Δ": "d", "λ": "lambda", "≤": "<=", "≥": ">=", "≈": "~", "→": "->",
    "…": "...", "‘": "'", "’": "'", "“": '"', "”": '"', "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae",
    "Æ": "AE", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L", "đ": "d",
}  # fmt: skip


def write_plainly(error: UnicodeError) -> tuple[str, int]:
    """Write what an encoding lacks as near as it can, a letter without its accent, or '?'."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    plain = []
    for letter in error.object[error.start : error.end]:
        said = _PLAIN.get(letter)
        if said is None:
            folded = unicodedata.normalize("NFKD", letter)
            said = "".join(each for each in folded if each.isascii()) or "?"
        plain.append(said)
    return "".join(plain), error.end


codecs.register_error(PLAIN_LETTERS, write_plainly)
