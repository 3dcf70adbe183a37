"""Fixtures that can be tuned: which drives make this camera see the light that is wanted.

Idea
----
A fixture is a sum of channels, each with a spectrum and the lux it gives at full drive. The camera
sees that sum in its native RGB, so the wanted neutral is a direction in three dimensions that
drives of 0 or more have to reach: non-negative least squares. The residuals are weighed as casts
are, in mired and CC (`setting.find_distance`), and the step is repeated from where it
arrived, since a cast is a logarithm of RGB; so also a fixture that cannot reach the wanted light,
and one of two colours seldom can, is brought as near as its channels allow. Where more than three
channels leave a choice, the evenest drives are taken: they fill the spectrum best.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import (
    MIRED_PER_CC,
    LocusResponse,
    find_distance,
    find_setting_log2,
    solve_coordinates,
)
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, Sampling, add_samplings, freeze

REACHED_MIRED = 0.5  # a fixture this near to what is wanted is said to reach it
_STEPS = 30
_LEAST = 1e-9
_SLOPE = 1e-4  # of ln RGB
_LEVEL_WEIGHT = 10.0  # mired for each e-fold; the level is free, so any weight fixes it
_EVEN_WEIGHT = 0.01  # mired for a drive of 1: too little to move what the camera sees


@dataclass(frozen=True, eq=False)
class Fixture:
    """A light of several channels.

    ``power`` (n, 401) is each channel alone at full drive [W m-2 nm-1], all read at one place;
    ``drives`` (n,), 0 to 1, is how it burned when the positions were read. ``drive_steps`` counts
    the steps of a channel from nothing to all. Where it is set by a panel of its own
    ``kelvin_step`` and ``tint_step_cc`` are that panel's, and ``drive_steps`` those of its level.
    Each is 0 where it has none that anybody stated. ``samplings`` say what coarse steps leave open
    of each channel; empty where all are fine.
    """

    channels: tuple[str, ...]
    power: Array
    drives: Array
    drive_steps: int = 0
    kelvin_step: float = 0.0
    tint_step_cc: float = 0.0
    samplings: tuple[Sampling | None, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "power", freeze(self.power, (WAVELENGTHS_NM.size,)))
        object.__setattr__(self, "drives", freeze(self.drives, (len(self.channels),)))
        if ((self.drives < 0) | (self.drives > 1)).any() or self.drives.max() <= 0:
            raise ValueError("drives lie from 0 to 1, and one at least is above 0")

    @property
    def sampling(self) -> Sampling | None:
        """What coarse steps leave open of its light as it is driven."""
        return add_samplings(self.power, self.samplings, self.drives) if self.samplings else None

    @property
    def has_steps(self) -> bool:
        """Whether it can be set to some drives only."""
        return bool(self.drive_steps or self.kelvin_step)


@dataclass(frozen=True, eq=False)
class Tuning:
    """Drives (n,), the largest of them 1, and what they leave of what was wanted: mired and CC."""

    drives: Array
    off_mired: float
    off_green_cc: float

    @property
    def reached(self) -> bool:
        """Whether the camera sees what was wanted."""
        return bool(find_distance(self.off_mired, self.off_green_cc) <= REACHED_MIRED)


def _see(locus: LocusResponse, raw: Array) -> Array:
    """Find mired and CC as lengths of one kind, (..., 2) [mired], of raw values (..., 3)."""
    found = solve_coordinates(locus, find_log2_response(raw)[..., None, :])
    return np.stack([found.mired[..., 0], MIRED_PER_CC * found.tint_cc[..., 0]], axis=-1)


def _level(raw: Array) -> float:
    """Find the geometric mean of RGB, a blind channel floored."""
    return float(np.exp(np.log(np.maximum(raw, _LEAST * raw.max())).mean()))


def find_tuning_miss(
    channel_power: ArrayLike,
    sensitivities: ArrayLike,
    locus: LocusResponse,
    mired: float,
    tint_cc: float,
    drives: Array,
) -> Array:
    """Find what drives (..., n) leave of what is wanted, (..., 2), mired and CC as mired; the rest
    as for `solve_drives`.
    """
    seen = respond(channel_power, sensitivities)
    return np.asarray(_see(locus, drives @ seen) - np.array([mired, MIRED_PER_CC * tint_cc]))


def solve_drives(
    channel_power: ArrayLike,
    sensitivities: ArrayLike,
    locus: LocusResponse,
    mired: float,
    tint_cc: float,
) -> Tuning:
    """Solve the drives at which a camera sees a fixture as a neutral of given coordinates.

    Parameters
    ----------
    channel_power
        (n, 401) of each channel at full drive, behind whatever filter the fixture wears.
    sensitivities
        (401, 3) of the camera, and ``locus`` its own (k = 1).
    mired, tint_cc
        What a grey under the fixture alone shall want from the camera.

    Returns
    -------
    Tuning
        The least distance that drives of 0 or more can leave, and of all drives that leave it the
        evenest; at full output, since only their ratios count.
    """
    seen = respond(channel_power, sensitivities)
    seen = seen / _level(seen.sum(axis=0))
    aim = np.array([mired, MIRED_PER_CC * tint_cc])
    wanted = np.exp2(find_setting_log2(locus, np.array([mired]), np.array([tint_cc])))[0]
    count = seen.shape[0]
    best = (np.inf, np.ones(count))
    for start in (_fit_directly(seen, wanted), np.ones(count)):
        made = _refine(locus, seen, aim, start)
        if made[0] < best[0] - 1e-6:
            best = made
        if best[0] < (0.1 * REACHED_MIRED) ** 2:
            break
    drives = best[1] / best[1].max()
    off = _see(locus, drives @ seen) - aim
    return Tuning(freeze(drives), float(off[0]), float(off[1]) / MIRED_PER_CC)


def _fit_directly(seen: Array, wanted: Array) -> Array:
    """Fit RGB itself, each channel by its relative error: a start."""
    from scipy.optimize import nnls

    count = seen.shape[0]
    relative = (seen / wanted * _level(wanted)).T
    drives, _ = nnls(
        np.vstack([relative, 1e-4 * np.eye(count)]), np.append(np.ones(3), np.zeros(count))
    )
    return np.asarray(drives)


def _refine(locus: LocusResponse, seen: Array, aim: Array, start: Array) -> tuple[float, Array]:
    """Repeat weighted non-negative least squares from where the last step arrived.

    Returns the squared distance that is left [mired^2], and the drives.
    """
    from scipy.optimize import nnls

    count = seen.shape[0]
    none, even = np.zeros(count), _EVEN_WEIGHT * np.eye(count)

    def miss(drives: Array) -> float:
        return float(((_see(locus, drives @ seen) - aim) ** 2).sum())

    drives, left = start, miss(start)
    for _ in range(_STEPS):
        drives = drives / _level(drives @ seen)
        raw = np.maximum(drives @ seen, _LEAST)
        ends = raw * np.exp(_SLOPE * np.concatenate([np.eye(3), -np.eye(3)]))
        at = _see(locus, ends)
        slope = np.vstack([(at[:3] - at[3:]).T / (2 * _SLOPE), np.full(3, _LEVEL_WEIGHT / 3)])
        matrix = slope @ (seen / raw).T
        goal = matrix @ drives - np.append(_see(locus, raw) - aim, 0.0)
        step = nnls(np.vstack([matrix, even]), np.append(goal, none))[0] - drives
        share = 1.0
        while share > 1e-3 and miss(drives + share * step) > left + 1e-12:
            share /= 2
        moved = drives + share * step
        now = miss(moved)
        if now > left + 1e-12:
            break
        settled = left - now < 1e-9 and float(np.abs(share * step).max()) < 1e-5
        drives, left = moved, now
        if settled:
            break
    return left, drives
