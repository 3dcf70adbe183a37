"""What an instrument's bandwidth smears, and the correction for it.

Idea
----
A spectrometer sums the light over a triangle of some width at half height and calls it the value at
the triangle's top: lines get wider and lower, valleys fill. Where the width is a step of the
samples or a whole number of them, the true curve is near the sample less 0.083 of its second
difference over that width (Stearns and Stearns 1988, "An example of a method for correcting
radiance data for bandpass error", Color Research and Application 13, 257-259; CIE 214:2014). It
halves the error of figures and does not end it; what lies closer than the samples is lost.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM

_SHARE = 0.083


def correct_bandwidth(values: ArrayLike, width_steps: int = 1) -> Array:
    """Correct evenly spaced samples for a triangular bandwidth.

    Parameters
    ----------
    values
        (n,) or (n, k), n samples in order.
    width_steps
        Width at half height, in steps of the samples.

    Returns
    -------
    ndarray
        The same shape. Beyond the ends the last sample is held; what dips under zero is set to 0.
    """
    y = np.asarray(values, dtype=np.float64)
    edge = [(width_steps, width_steps), *[(0, 0)] * (y.ndim - 1)]
    held = np.pad(y, edge, mode="edge")
    before, after = held[: -2 * width_steps], held[2 * width_steps :]
    return np.asarray(np.maximum(y - _SHARE * (before - 2.0 * y + after), 0.0))


@cache
def make_band_weights(step_nm: int) -> Array:
    """Make the weights (401, n) that bring the shared grid to samples some nanometres apart.

    Each is the mean over a triangle as wide at half height as the step, corrected for that width:
    a line between two samples keeps its energy, and a curve that came from such samples comes back
    to within 0.3 of an index.
    """
    offset = np.arange(1 - step_nm, step_nm)
    triangle = 1.0 - np.abs(offset) / step_nm
    size = WAVELENGTHS_NM.size
    centres = np.arange(0, size, step_nm)
    weights = np.zeros((size, centres.size))
    for column, centre in enumerate(centres):
        rows = np.clip(centre + offset, 0, size - 1)
        np.add.at(weights[:, column], rows, triangle / triangle.sum())
    before = weights[:, np.maximum(np.arange(centres.size) - 1, 0)]
    after = weights[:, np.minimum(np.arange(centres.size) + 1, centres.size - 1)]
    corrected = weights - _SHARE * (before - 2.0 * weights + after)
    corrected.flags.writeable = False
    return corrected
