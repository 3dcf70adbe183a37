"""Negative values: the noise of a real instrument, which is set to zero, and what is more.

A meter that takes its dark reading away leaves noise on both sides of zero. Down to
`NOISE_FRACTION` of a curve's maximum that is set to zero with a remark. Down to `MOST_NOISE` too,
provided that what is set to zero adds up to no more than `MOST_SHARE` of the curve. Anything else
is refused, for then the dark reading, or the file, is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.tables import Array

NOISE_FRACTION: Final = 0.005
MOST_NOISE: Final = 0.05
MOST_SHARE: Final = 0.01


def clear_noise(
    values: Array, notes: list[str], locate: Callable[[int, int], Place], curve: str
) -> Array:
    """Set negative noise to zero.

    Parameters
    ----------
    values
        (n, k), k curves.
    notes
        Gets a remark where something was set to zero.
    locate
        Gives the place of a row and a column in the file; a row of -1 is the whole curve.
    curve
        What a curve is called in messages: "column", "reading".

    Raises
    ------
    SpectrumError
        Negative values beyond noise, or a curve of nothing but zeros.
    """
    top = np.maximum(values.max(axis=0), 0.0)
    worst = np.argmin(values, axis=0)
    depth = -values.min(axis=0)
    whole = np.maximum(values, 0.0).sum(axis=0)
    below = -np.minimum(values, 0.0).sum(axis=0)
    share = np.where(whole > 0, below / np.where(whole > 0, whole, 1.0), 0.0)
    beyond = (depth > MOST_NOISE * top) | ((depth > NOISE_FRACTION * top) & (share > MOST_SHARE))
    beyond &= depth > 0
    if beyond.any():
        index = int(np.argmax(beyond))
        row = int(worst[index])
        allowed = (
            f"no value below -{MOST_NOISE:.1%} of the {curve}'s maximum, "
            f"and below -{NOISE_FRACTION:.1%} at most {MOST_SHARE:.0%} of the whole"
        )
        raise SpectrumError(f"{values[row, index]:g}", allowed, locate(row, index))
    if not top.all():
        place = locate(-1, int(np.argmin(top)))
        raise SpectrumError("nothing but zeros", "a value above 0", place)
    negative = values < 0.0
    if negative.any():
        deepest = float((depth / top).max())
        notes.append(
            f"negative values within noise set to zero: {negative.sum()}, "
            f"down to -{deepest:.2%} of the maximum"
        )
    return np.maximum(values, 0.0)
