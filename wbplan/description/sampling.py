"""How far coarse steps leave a light's figures open.

An instrument that samples every 5 or 10 nm smears the light over a bandwidth that its file seldom
states. The figures are computed as read and as if one step or two steps of bandwidth were to be
undone; what they span, and as much again on either side, is the interval. Over 168 lights smeared
by one or two steps it held the figure by 1 nm in 77 to 100 of 100
(`tests/bench/sampling_trial.py`; the least for the SSI by 10 nm and a bandwidth of 20);
a narrow line that an instrument fell short of altogether is in no interval.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from wbplan.core.intervals import Interval
from wbplan.core.tables import Array
from wbplan.description.eye import EyeFigures, see_fully
from wbplan.light.illuminants import find_mired
from wbplan.light.spectrum import Reading

MOST_OPEN = 24  # lights, for each is described three times
_MOST_INDEX = 100.0


class SamplingBand(NamedTuple):
    """Intervals of figures of a light read every ``step_nm``; NaN where a figure has no meaning."""

    step_nm: float
    cct_kelvin: Interval
    duv: Interval
    ra: Interval
    r9: Interval
    rf: Interval
    tlci: Interval
    ssi: Interval


def find_sampling_bands(readings: tuple[Reading, ...]) -> list[SamplingBand | None]:
    """Find how open the figures of readings are; None for fine ones, and past 24 coarse ones."""
    rows = [row for row, each in enumerate(readings) if each.spectrum.sampling is not None]
    result: list[SamplingBand | None] = [None] * len(readings)
    if not 0 < len(rows) <= MOST_OPEN:
        return result
    power = [
        np.stack([readings[row].spectrum.values, *sampling.alternatives])
        for row in rows
        if (sampling := readings[row].spectrum.sampling) is not None
    ]
    figures = _list_figures(see_fully(np.concatenate(power))).reshape(len(rows), 3, -1)
    spread = figures.max(1) - figures.min(1)
    low, high = figures.min(1) - spread, figures.max(1) + spread
    low[:, 0], high[:, 0] = find_mired(high[:, 0]), find_mired(np.maximum(low[:, 0], 1e-3))
    middle = figures[:, 0].copy()
    middle[:, 0] = find_mired(middle[:, 0])
    high[:, 2:] = np.minimum(high[:, 2:], _MOST_INDEX)
    for place, row in enumerate(rows):
        sampling = readings[row].spectrum.sampling
        assert sampling is not None
        ends = zip(middle[place].tolist(), low[place].tolist(), high[place].tolist(), strict=True)
        result[row] = SamplingBand(sampling.step_nm, *(Interval(*each) for each in ends))
    return result


def _list_figures(eye: EyeFigures) -> Array:
    """List mired, Duv, Ra, R9, Rf, TLCI and SSI of lights, (n, 7)."""
    return np.stack(
        [
            find_mired(eye.cct_kelvin),
            eye.duv,
            eye.cie.ra,
            eye.cie.special[:, 8],
            eye.fidelity.rf,
            eye.tlci,
            eye.ssi,
        ],
        axis=-1,
    )
