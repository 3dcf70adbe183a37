"""Numbers as the record writes them: so many significant digits, null for what does not exist."""

from __future__ import annotations

import math
from typing import Any

from wbplan.balance import Interval

DIGITS = 9


def number(value: float, digits: int = DIGITS) -> float | int | None:
    """Round to significant digits; whole where it is, null where it is not finite."""
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def interval(name: str, span: Interval) -> dict[str, Any]:
    """Write a value and the ends of its interval under three keys."""
    return {
        name: number(span.value),
        f"{name}_low": number(span.low),
        f"{name}_high": number(span.high),
    }
