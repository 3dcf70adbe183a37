"""The noise of figures where a file holds the same light several times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from wbplan.core.tables import Array
from wbplan.description.eye import EyeFigures
from wbplan.light.illuminants import find_mired
from wbplan.light.spectrum import Reading

LEAST_REPEATED = 3


class Spread(NamedTuple):
    """Mean and standard deviation (n - 1) of a figure over readings."""

    mean: float
    deviation: float


class Repeat(NamedTuple):
    """Readings of one name in one file, by their places; ``mired`` is that of the CCT."""

    name: str
    rows: tuple[int, ...]
    illuminance_lux: Spread
    mired: Spread
    duv: Spread
    ra: Spread
    r9: Spread


def find_repeats(readings: Sequence[Reading], rows: Sequence[int], eye: EyeFigures) -> list[Repeat]:
    """Find readings that bear one name in one file, three or more, and how far they scatter.

    Parameters
    ----------
    readings
        Bare, each at its place of ``rows`` in the arrays of ``eye``.
    """
    places: dict[tuple[str, str], list[int]] = {}
    for place, each in enumerate(readings):
        if each.file:
            places.setdefault((each.file, each.name), []).append(place)
    result = []
    for (_, name), found in places.items():
        if len(found) < LEAST_REPEATED:
            continue
        here = np.array([rows[place] for place in found])
        lux = np.array([readings[place].illuminance_lux for place in found])
        result.append(
            Repeat(
                name,
                tuple(here.tolist()),
                _measure(lux),
                _measure(find_mired(eye.cct_kelvin[here])),
                _measure(eye.duv[here]),
                _measure(eye.cie.ra[here]),
                _measure(eye.cie.special[here, 8]),
            )
        )
    return result


def _measure(values: Array) -> Spread:
    if not np.isfinite(values).all():
        return Spread(math.nan, math.nan)
    return Spread(float(values.mean()), float(values.std(ddof=1)))
