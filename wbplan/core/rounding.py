"""Rounding that comes out the same on every machine."""

from __future__ import annotations


def settle(value: float, digits: int = 9) -> float:
    """Round to significant digits, far more than anybody is shown.

    The last bits of a result differ between processors, and what is meant as an exact half (330 lux
    against 200, to a tenth) would be shown up on one and down on another. Whatever is rounded for
    people is settled first. NaN and infinity stay.
    """
    return float(f"{value:.{digits}g}")


def rank(value: float) -> float:
    """Round what things are put in order by, to a billionth: those that tie stay as they came."""
    return round(value, 9)
