"""A filter from two readings of one light, without it and behind it.

Idea
----
What a filter passes is the ratio of the two readings only where the light is strong: under a lamp
that gives next to nothing at 400 or at 720 nm the ratio there is the meter's noise over the meter's
noise. A dyed filter is smooth, so each place is held to its neighbours as far as the readings are
weak: the curve is the one that minimises the misfit, each reading weighted by its noise, plus a
multiple of its squared second differences (a smoothing of Whittaker's kind). The multiple and the
noise's size are those under which the readings are most probable (restricted maximum likelihood),
so a sharp filter read in strong light stays sharp.

Readings are compared by sums over `_BIN_NM`: meters give every 5 or 10 nm at most that many
independent values, whatever grid they were brought to.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.filters import Filter
from wbplan.light.spectrum import WAVELENGTHS_NM

_BIN_NM = 5
_FLOOR = 1e-3  # noise of a reading over its peak, before its size is found
_STRONG = 3.0  # times that noise, from which a bin counts as light
_FEWEST_BINS = 5
_MOST_RATIO = 1.03
_SURE_SD = 3.0
_SEEN = (WAVELENGTHS_NM >= 430.0) & (WAVELENGTHS_NM <= 670.0)
_LEAST_PASSED = 1e-4  # under which a share of it says nothing
_OPEN, _WIDE_OPEN = 0.01, 0.05  # of the transmittance, from which noise is told and warned of
_BAND_SD = 1.645  # 90 % of a normal distribution
_MULTIPLES = 10.0 ** np.arange(-6.0, 9.0, 0.5)


def divide_readings(name: str, without: ArrayLike, behind: ArrayLike) -> Filter:
    """Make a filter from two readings of one light, without it and behind it.

    Parameters
    ----------
    name
        What the filter is called.
    without, behind
        (401,) spectra on one scale, so that their ratio is the transmittance.

    Returns
    -------
    Filter
        Measured, so no model. Where the light is under three times the noise its neighbours are
        joined, or held to the ends, and a note says so, a warning where more than a tenth of
        430-670 nm is concerned. A note tells what noise leaves open, from 1 % on. What exceeds 1
        by less than 3 % is noise of the meter and taken as 1.

    Raises
    ------
    ValueError
        If more than 103 % would pass somewhere in 430-670 nm and noise cannot be why, or nothing
        passes.
    """
    bare, less = np.asarray(without, dtype=np.float64), np.asarray(behind, dtype=np.float64)
    if less.max() <= 0:
        raise ValueError("no light at all behind the filter")
    places = np.minimum(np.arange(bare.size) // _BIN_NM, bare.size // _BIN_NM - 1)
    count = np.bincount(places)
    before: Array = np.bincount(places, bare).astype(np.float64)
    after: Array = np.bincount(places, less).astype(np.float64)
    floor, floor_behind = _FLOOR * bare.max(), _FLOOR * less.max()
    strong = before >= _STRONG * np.sqrt(count) * floor
    ratio = np.clip(after / np.where(strong, before, np.inf), 0.0, 1.0)
    variance = count * (floor_behind**2 + (ratio * floor) ** 2) + (_FLOOR * after) ** 2
    weight = np.where(strong, 1.0 / variance, 0.0)
    if strong.sum() < _FEWEST_BINS:
        passed = np.full(bare.size, after[strong].sum() / before[strong].sum())
        deviation = np.zeros(bare.size)
    else:
        passed, deviation = _smooth(bare, after, weight, places)
    measured = np.flatnonzero(strong[places])
    held = np.clip(np.arange(bare.size), measured[0], measured[-1])
    passed, deviation = passed[held], deviation[held]
    excess = np.where(strong[places] & _SEEN, passed - _SURE_SD * deviation, 0.0)
    if excess.max() > _MOST_RATIO:
        worst = int(np.argmax(excess))
        raise ValueError(
            f"more light behind the filter than without it, {passed[worst]:.3g} times at "
            f"{WAVELENGTHS_NM[worst]:g} nm"
        )
    passed = np.clip(passed, 0.0, 1.0)
    if passed.max() <= 0:
        raise ValueError("no light at all behind the filter")
    return Filter(name, passed, notes=_note_reading(name, strong[places], passed, deviation))


def _smooth(
    bare: Array, after: Array, weight: Array, places: NDArray[np.intp]
) -> tuple[Array, Array]:
    """Find the most probable transmittance (401,) and its standard deviation (401,).

    ``after`` and ``weight`` are sums behind the filter and inverse variances of the bins (b,) that
    ``places`` (401,) assigns; weights need to be right up to one factor only.
    """
    from scipy.linalg import cho_solve_banded, cholesky_banded

    size = bare.size
    curvature = np.diff(np.eye(size), 2, axis=0)
    stiffness = curvature.T @ curvature
    normal = np.zeros((places.size - np.searchsorted(places, places[-1]), size))
    stiff = np.zeros_like(normal)
    for offset in range(len(normal)):
        length = size - offset
        shared = places[offset:] == places[:length]
        product = bare[offset:] * bare[:length] * weight[places[:length]]
        normal[offset, :length] = np.where(shared, product, 0.0)
        stiff[offset, :length] = np.diag(stiffness, offset)
    wanted = bare * (weight * after)[places]
    used, full = int((weight > 0).sum()), float((weight * after**2).sum())
    best, least = (np.zeros(size), stiff, 0.0), np.inf
    for multiple in normal[0].max() * _MULTIPLES:
        factor = cholesky_banded(normal + multiple * stiff, lower=True)
        passed = cho_solve_banded((factor, True), wanted)
        misfit = weight @ (after - np.bincount(places, bare * passed)) ** 2
        total = misfit + multiple * (np.diff(passed, 2) ** 2).sum() + 1e-12 * full
        logs = 2.0 * np.log(factor[0]).sum() - (size - 2) * np.log(multiple)
        improbable = (used - 2) * np.log(total) + logs
        if improbable < least:
            least, best = improbable, (passed, factor, total / (used - 2))
    passed, factor, scale = best
    inverse = cho_solve_banded((factor, True), np.eye(size))
    return passed, np.sqrt(scale * np.diag(inverse))


def _note_reading(
    name: str, strong: NDArray[np.bool_], passed: Array, deviation: Array
) -> tuple[Note, ...]:
    notes = []
    weak = ~strong
    if weak.any():
        text = (
            f"at {int(weak.sum())} of {weak.size} wavelengths the light was too weak to tell what "
            "the filter passes; neighbours were joined there"
        )
        much = weak[_SEEN].mean() > 0.1
        notes.append(warn("weak-reading", text, name) if much else Note("weak-reading", text, name))
    told = strong & _SEEN
    share = (
        _BAND_SD * float(np.median(deviation[told] / np.maximum(passed[told], _LEAST_PASSED)))
        if told.any()
        else 0.0
    )
    if share >= _OPEN:
        text = f"noise leaves what the filter passes open by {share:.1%} of itself"
        if share >= _WIDE_OPEN:
            notes.append(warn("noisy-reading", f"{text}: read it again in stronger light", name))
        else:
            notes.append(Note("noisy-reading", text, name))
    return tuple(notes)
