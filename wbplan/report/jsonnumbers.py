"""How a record rounds a number, since the last bits differ between machines."""

from __future__ import annotations

import math

DIGITS = 9


def round_number(value: float, digits: int = DIGITS) -> float | int | None:
    """Round to significant digits; whole numbers as such, null for what is not finite."""
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded
