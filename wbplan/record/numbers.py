"""How every record writes numbers, intervals, settings and notes.

Nine significant digits, since the last bits differ between machines, six for spectra; null for
what is no number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
from wbplan.core.tables import Array

DIGITS, SPECTRUM_DIGITS = 9, 6


def make_number(value: float, digits: int = DIGITS) -> float | int | None:
    """Round to significant digits, whole numbers as such; None for NaN and infinity."""
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def make_numbers(values: Iterable[float] | Array, digits: int = DIGITS) -> list[float | int | None]:
    """Write a list of numbers."""
    return [make_number(float(each), digits) for each in values]


def make_spectrum(power: Array) -> list[float | int | None]:
    """Write a spectrum relative to its peak; one without light as it stands."""
    peak = float(power.max())
    return make_numbers(power / peak if peak > 0 else power, SPECTRUM_DIGITS)


def make_interval_keys(name: str, interval: Interval) -> dict[str, Any]:
    """Write an interval as three keys: the value and both ends."""
    return {
        name: make_number(interval.value),
        f"{name}_low": make_number(interval.low),
        f"{name}_high": make_number(interval.high),
    }


def make_setting(setting: Setting) -> dict[str, Any]:
    """Write a setting that can be dialled in."""
    return {
        "kelvin": make_number(setting.kelvin),
        "mired": make_number(setting.mired),
        "tint_cc": make_number(setting.tint_cc),
        "preset": setting.preset or None,
    }


def make_notes(notes: Iterable[Note]) -> list[dict[str, Any]]:
    """Write remarks and warnings."""
    return [
        {"code": each.code, "text": each.text, "about": each.about, "weight": each.weight}
        for each in notes
    ]
