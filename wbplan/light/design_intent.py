"""The priority levels of ANSI/IES TM-30-20, Annex E: what a light's rendering is good for.

Preference (P) asks for colours that people like, vividness (V) for more of them, fidelity (F) for
those of the reference. Level 1 is the strictest. The red bin decides more than any other, for skin
and food stand in it. Annex E speaks of the eye, indoors at 200 to 700 lux, not of a camera.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Level 1 to 3. From memory, but for P1, which LEED v5 repeats (Rf 78, Rg 95, -1 to 15 %).
_PREFERENCE = ((78.0, 95.0, -0.01, 0.15), (75.0, 92.0, -0.07, 0.19), (70.0, 89.0, -0.12, 0.23))
_VIVIDNESS = ((118.0, 0.15), (110.0, 0.06), (100.0, 0.0))
_FIDELITY = ((95.0, 0.0), (90.0, 90.0), (85.0, 85.0))


class DesignIntent(NamedTuple):
    """Levels of preference, vividness and fidelity, (...,) each: 1 to 3, or 0 for none."""

    preference: NDArray[np.intp]
    vividness: NDArray[np.intp]
    fidelity: NDArray[np.intp]


def find_design_intent(
    rf: ArrayLike, rg: ArrayLike, red_rf: ArrayLike, red_chroma_shift: ArrayLike
) -> DesignIntent:
    """Find the levels that TM-30 figures reach (ANSI/IES TM-30-20, table E-2).

    Parameters
    ----------
    rf, rg
        (...,) fidelity and gamut.
    red_rf, red_chroma_shift
        (...,) local fidelity, and local chroma shift [ratio], of hue bin 1. NaN reaches no level.
    """
    rf, rg, local, chroma = np.broadcast_arrays(
        *(np.asarray(each, dtype=np.float64) for each in (rf, rg, red_rf, red_chroma_shift))
    )
    return DesignIntent(
        _pick(
            (rf >= f) & (rg >= g) & (chroma >= low) & (chroma <= high)
            for f, g, low, high in _PREFERENCE
        ),
        _pick((rg >= g) & (chroma >= low) for g, low in _VIVIDNESS),
        _pick((rf >= f) & (local >= red) for f, red in _FIDELITY),
    )


def _pick(reached: Iterable[NDArray[np.bool_]]) -> NDArray[np.intp]:
    """Pick the strictest level that is reached, 0 for none."""
    levels = np.stack([*reached])
    return np.where(levels.any(0), levels.argmax(0) + 1, 0)
