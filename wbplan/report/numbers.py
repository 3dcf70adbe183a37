"""How the record writes numbers: nine significant digits, null for what is no number."""

from __future__ import annotations

import math
from typing import Any

from wbplan.balance import Interval

DIGITS = 9


def make_number(value: float, digits: int = DIGITS) -> float | int | None:
    """Round to significant digits, whole numbers as such; None for NaN and infinity."""
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def make_interval_keys(name: str, interval: Interval) -> dict[str, Any]:
    """Write an interval as three keys: the value and both ends."""
    return {
        name: make_number(interval.value),
        f"{name}_low": make_number(interval.low),
        f"{name}_high": make_number(interval.high),
    }
