"""The error of a table by kinds of colours, each on colours that the table was not made on.

Published surfaces under the lights of a scene are kind to a table: none is near the edge of a
gamut. Three other kinds of colours are in every picture and are not. `lut.trials` draws them;
here they are measured. The largest miss is looked for: points are strewn around the worst of those
drawn, in the same kind, and strewn again, since a maximum over random colours alone says less than
a picture of two million can show.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wbplan.core.intervals import find_quantile
from wbplan.core.tables import Array, fold_channels

TrialKind = Literal["surfaces", "coloured-light", "near-black", "coded-negatives"]
TRIAL_WORDS: dict[TrialKind, str] = {
    "surfaces": "surfaces in this light",
    "coloured-light": "coloured light",
    "near-black": "noisy blacks",
    "coded-negatives": "just outside the gamut",
}
"""Every kind of trial colours, and what they are in words."""

_SEED = 18
_WORST, _AROUND = 48, 64
_ROUNDS = (0.5, 0.2, 0.05)
_STEP = 1.0 / 32.0  # between nodes at 33
_CODES = 1023.0
_HIGH_SHARE = 99.9 / 100.0


Admit = Callable[[Array], tuple[NDArray[np.bool_], Array]]


@dataclass(frozen=True, eq=False)
class Trial:
    """Colours of one kind: (n, 3) codes, and (n, 3) what the exact transform makes of them.

    ``admit`` tells of other codes which belong to the kind (n,), and what becomes of them (n, 3).
    ``reach`` is how far around the worst of them a worse one is looked for, in steps between the
    nodes of 33.
    """

    kind: TrialKind
    codes: Array
    wanted: Array
    admit: Admit
    reach: float = 1.0


@dataclass(frozen=True)
class KindReading:
    """Mean, 99.9th percentile and worst of a colour's largest miss in a channel [code of 1023]."""

    mean_codes: float
    high_codes: float
    worst_codes: float


@dataclass(frozen=True)
class KindError:
    """The error on one kind of colours, read in the two common ways, and how many were drawn."""

    kind: TrialKind
    trilinear: KindReading
    tetrahedral: KindReading
    n_colours: int

    @property
    def worst_codes(self) -> float:
        """Largest error of either way of reading [code of 1023]."""
        return max(self.trilinear.worst_codes, self.tetrahedral.worst_codes)


def measure_kind(
    trial: Trial, readers: tuple[Callable[[Array], Array], Callable[[Array], Array]]
) -> KindError:
    """Measure two ways of reading on the colours of a kind.

    Parameters
    ----------
    readers
        From codes (n, 3) to codes (n, 3): trilinear, tetrahedral. The same reader twice for a file
        that is read in one way only.
    """

    def measure(read: Callable[[Array], Array]) -> KindReading:
        def miss(codes: Array, wanted: Array) -> Array:
            return fold_channels(np.maximum, np.abs(read(codes) - wanted)) * _CODES

        drawn = miss(trial.codes, trial.wanted)
        return KindReading(
            float(drawn.mean()),
            float(find_quantile(drawn, _HIGH_SHARE)),
            seek_worst(trial, miss, drawn),
        )

    first = measure(readers[0])
    second = first if readers[1] is readers[0] else measure(readers[1])
    return KindError(trial.kind, first, second, len(trial.codes))


def seek_worst(trial: Trial, miss: Callable[[Array, Array], Array], drawn: Array) -> float:
    """Look for the largest miss of a kind, from the worst of those drawn.

    Parameters
    ----------
    miss
        From codes (n, 3), and what becomes of them, to the largest difference in any channel (n,)
        [code of 1023].
    drawn
        (n,) what it is for the trial's own codes.
    """
    generator = np.random.default_rng(_SEED)
    codes, found = trial.codes, drawn
    for part in _ROUNDS:
        order = _list_largest(found)
        worst = codes[order]
        spread = generator.uniform(-1.0, 1.0, (len(worst), _AROUND, 3)) * part * trial.reach * _STEP
        near = np.clip(worst[:, None] + spread, 0.0, 1.0).reshape(-1, 3)
        held, wanted = trial.admit(near)
        if not held.any():
            break
        near = near[held]
        codes = np.concatenate([worst, near])
        found = np.concatenate([found[order], miss(near, wanted[held])])
    return float(found.max())


def _list_largest(found: Array) -> NDArray[np.intp]:
    """Number the largest, largest first; of equal ones the earlier first."""
    most = min(_WORST, len(found))
    at = np.flatnonzero(found >= np.partition(found, -most)[-most])
    return np.asarray(at[np.argsort(-found[at], kind="stable")][:most])
