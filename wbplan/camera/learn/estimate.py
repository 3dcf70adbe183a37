"""Learning a camera's curves from what it recorded.

Idea
----
A raw value is linear in the channel's sensitivity, so with a Gaussian prior over curves the
estimate is linear algebra: prior mean and covariance from the cameras that the profile one starts
from stands for, data from surfaces of known reflectance under known light, and the posterior
covariance is the learned camera's own band. Nobody knows a frame's exposure or a channel's gain,
so both are solved along with the curves, and what is left unsure of them widens the result. So do
veil (light that the lens spreads over the frame), a black level that is not quite right, and light
that falls off over the chart: each adds to the covariance of a frame's errors what it would do to
all of its patches together, and what the frame says of it can be read off afterwards.

For a generic profile those are cameras as 52 measured ones differ, all three channels jointly:
what the chart shows of one channel's dye says something of the others. Curves are solved on a 5 nm
grid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wbplan.camera.population import GRID_NM, LESSON, MODEL, TENTS, draw_cameras
from wbplan.camera.sensitivities import Camera
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze

_PRIOR_DRAWS, _PRIOR_SEED = 1500, 30125
# What a frame may suffer, one standard deviation: veil and an error of black as shares of the
# brightest patch, and log of light across the field and from its middle to its corners.
_VEIL_SD, _BLACK_SD, _SLOPE_SD, _CORNER_SD = 0.005, 0.001, 0.05, 0.05
_FREE_SD = 0.1  # what an exposure or a gain may still be out after it was solved
_FIRST_NOISE = 0.02
NOISE_STEPS = (0.002, 0.003, 0.005, 0.008, 0.012, 0.02, 0.03, 0.05)
_DARK_SHARE = 0.1  # noise of the dark, as a share of the relative noise, of the frame's brightest

Group = Literal["raw", "matrix"]


@dataclass(frozen=True, eq=False)
class Frame:
    """What a camera recorded of known surfaces under one light.

    Parameters
    ----------
    name
        What it is called in messages.
    power
        (m, 401) the light times each surface's reflectance, any unit.
    raw
        (m, 3) linear values, black subtracted, any scale.
    surfaces
        m names.
    group
        Frames of one group share their channel gains: ``raw`` values of the camera, or those a
        published ``matrix`` predicts.
    extra_noise
        Relative error on top of the common noise, as a matrix's fit has [ratio].
    places
        (m, 2) where each surface lies on the chart, 0 to 1 from left to right and top to bottom;
        None where that is not known, and light is then taken as even.
    """

    name: str
    power: Array
    raw: Array
    surfaces: tuple[str, ...]
    group: Group = "raw"
    extra_noise: float = 0.0
    places: Array | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "power", freeze(self.power, (WAVELENGTHS_NM.size,)))
        object.__setattr__(self, "raw", freeze(self.raw, (3,)))
        if self.places is not None:
            object.__setattr__(self, "places", freeze(self.places, (2,)))
        if not len(self.power) == len(self.raw) == len(self.surfaces):
            raise ValueError(f"frame '{self.name}': as many surfaces as raw values are needed")
        if (self.raw < 0).any() or (self.raw.max(axis=0) <= 0).any():
            raise ValueError(f"frame '{self.name}': raw values are 0 or more, and not all 0")


@dataclass(frozen=True, eq=False)
class Balance:
    """A setting that the camera itself reported after balancing on a grey under one light.

    ``power`` (401,) is the light, ``locus`` (401,) the reference light of the reported Kelvin, and
    ``green_ratio`` by how much green stands above the locus, 10^(0.01 CC).
    """

    name: str
    power: Array
    locus: Array
    green_ratio: float


@dataclass(frozen=True, eq=False)
class Prior:
    """Gaussian over curves on the 5 nm grid: mean (81, 3) and covariance (243, 243)."""

    mean: Array
    covariance: Array


@dataclass(frozen=True)
class Fault:
    """What one frame suffered, by what the others and the prior say, with one standard deviation.

    ``veil`` is a share of the brightest patch, added to every patch. ``across_stops`` and
    ``down_stops`` are how much brighter the light gets from left to right and top to bottom.
    """

    veil: float
    veil_sd: float
    across_stops: float
    down_stops: float


@dataclass(frozen=True, eq=False)
class Learned:
    """Curves learned, and how well.

    ``sensitivities`` (401, 3) non-negative. ``posterior`` the Gaussian left over. ``noise`` the
    relative noise that the evidence prefers. ``residuals`` for each frame (m, 3) the log of
    measured over predicted, exposure, gains and ``faults`` taken out.
    """

    sensitivities: Array
    posterior: Prior
    noise: float
    residuals: tuple[Array, ...]
    faults: tuple[Fault, ...] = ()


def make_prior(profile: Camera) -> Prior:
    """Make the prior of cameras like a profile: the mean and covariance of those it stands for.

    A profile taken as exact is believed no more than a generic one here, since whoever shoots a
    chart doubts it. Draws are brought to the mean's level, since a channel's overall scale is
    solved apart.
    """
    if profile.members is not None:
        curves = profile.members
    else:
        spread = MODEL if profile.family == "model" else LESSON
        curves = draw_cameras(profile.sensitivities, spread, _PRIOR_DRAWS, _PRIOR_SEED)
    curves = curves[:, :: round(GRID_NM[1] - GRID_NM[0])]
    mean = curves.mean(axis=0)
    levelled = curves * (mean.sum(axis=0) / curves.sum(axis=1))[:, None, :]
    spread_out = (levelled - levelled.mean(axis=0)).reshape(len(curves), -1)
    covariance = spread_out.T @ spread_out / len(curves)
    covariance += _spread_scales(mean) + 1e-7 * mean.max() ** 2 * np.eye(mean.size)
    return Prior(mean, covariance)


def _spread_scales(mean: Array) -> Array:
    """Covariance of three unknown channel scales, each ``_FREE_SD`` relative."""
    scales = np.zeros((3, *mean.shape))
    for channel in range(3):
        scales[channel, :, channel] = _FREE_SD * mean[:, channel]
    flat = scales.reshape(3, -1)
    return flat.T @ flat


def _make_rows(functional: Array) -> Array:
    """Lay (m, 81, 3) functionals out as rows (m * 3, 243), one channel each."""
    count = len(functional)
    rows = np.zeros((count, 3, GRID_NM.size, 3))
    for channel in range(3):
        rows[:, channel, :, channel] = functional[:, :, channel]
    return rows.reshape(count * 3, GRID_NM.size * 3)


@dataclass
class _System:
    """The linear system of one estimate: rows, values, and the covariance of their errors.

    ``suffered`` holds, for each frame, its rows, the (rows, 6) effects of what it may suffer, and
    their standard deviations; they are part of ``errors`` already.
    """

    rows: Array
    values: Array
    errors: Array
    suffered: list[tuple[slice, Array, Array]]

    def update(self, prior: Prior) -> Prior:
        spread = prior.covariance @ self.rows.T
        gain = np.linalg.solve(self.rows @ spread + self.errors, spread.T).T
        mean = prior.mean.reshape(-1)
        new = mean + gain @ (self.values - self.rows @ mean)
        left = prior.covariance - gain @ spread.T
        return Prior(new.reshape(prior.mean.shape), (left + left.T) / 2)

    def find_evidence(self, prior: Prior) -> float:
        """Log of the probability of the values, but for a constant."""
        cover = self.rows @ prior.covariance @ self.rows.T + self.errors
        root = np.linalg.cholesky(cover)
        miss = np.linalg.solve(root, self.values - self.rows @ prior.mean.reshape(-1))
        return float(-0.5 * miss @ miss - np.log(np.diag(root)).sum())


def _list_effects(frame: Frame, level: Array) -> tuple[Array, Array]:
    """List what a frame may suffer: effects (rows, 7) on its values, and standard deviations."""
    top = level.max(axis=0)
    effects = [np.broadcast_to(top, level.shape)]
    effects += [np.where(np.arange(3) == channel, top, 0.0) + 0 * level for channel in range(3)]
    sds = [_VEIL_SD, *[_BLACK_SD] * 3]
    if frame.places is not None:
        across, down = frame.places.T - 0.5
        corner = across**2 + down**2
        effects += [level * each[:, None] for each in (across, down, corner)]
        sds += [_SLOPE_SD, _SLOPE_SD, _CORNER_SD]
    return np.stack([each.reshape(-1) for each in effects], axis=1), np.array(sds)


@dataclass
class _Scales:
    exposures: Array
    gains: dict[str, Array]


def _solve_scales(frames: tuple[Frame, ...], predicted: list[Array], old: _Scales) -> _Scales:
    """Solve each frame's exposure and each group's channel gains by alternate least squares."""
    exposures, gains = old.exposures.copy(), dict(old.gains)
    for _ in range(20):
        for group in gains:
            above, below = np.zeros(3), np.zeros(3)
            for number, frame in enumerate(frames):
                if frame.group == group:
                    part = predicted[number] * exposures[number]
                    above += (frame.raw * part).sum(axis=0)
                    below += (part**2).sum(axis=0)
            gains[group] = above / below
        for number, frame in enumerate(frames):
            part = predicted[number] * gains[frame.group]
            exposures[number] = (frame.raw * part).sum() / (part**2).sum()
    return _Scales(exposures, gains)


def _build_system(
    frames: tuple[Frame, ...],
    balances: tuple[Balance, ...],
    functionals: list[Array],
    curves: Array,
    scales: _Scales,
    noise: float,
) -> _System:
    rows, values, variances, free, suffered = [], [], [], [], []
    for number, frame in enumerate(frames):
        level = frame.raw / scales.gains[frame.group] / scales.exposures[number]
        relative = np.hypot(noise, frame.extra_noise)
        error = relative * level + _DARK_SHARE * relative * level.max(axis=0)
        rows.append(_make_rows(functionals[number]))
        values.append(level.reshape(-1))
        variances.append(error.reshape(-1) ** 2)
        start = sum(map(len, values[:-1]))
        free.append((start, rows[-1] @ curves.reshape(-1)))
        if frame.group == "raw" and len(level) > 1:
            part = slice(start, start + level.size)
            suffered.append((part, *_list_effects(frame, level)))
        else:
            suffered.append((slice(start, start), np.empty((0, 0)), np.empty(0)))
    for balance in balances:
        light, locus = balance.power @ TENTS, balance.locus @ TENTS
        ratio = np.array([1.0, balance.green_ratio, 1.0])
        level = light @ curves
        share = float(np.mean(level / (locus @ curves) / ratio))
        functional = light[:, None] - share * locus[:, None] * ratio
        rows.append(_make_rows(functional[None]))
        values.append(np.zeros(3))
        variances.append((noise * level) ** 2)
        free.append((sum(map(len, values[:-1])), level))
    errors = np.diag(np.concatenate(variances))
    for start, level in free:
        part = slice(start, start + len(level))
        errors[part, part] += _FREE_SD**2 * np.outer(level, level)
    for part, effects, sds in suffered:
        if sds.size:
            errors[part, part] += (effects * sds**2) @ effects.T
    return _System(np.concatenate(rows), np.concatenate(values), errors, suffered)


def _find_suffered(system: _System, curves: Array) -> list[tuple[Array, Array]]:
    """Find what each frame suffered, given the curves: coefficients and standard deviations."""
    miss = system.values - system.rows @ curves.reshape(-1)
    found = []
    for part, effects, sds in system.suffered:
        if not sds.size:
            found.append((np.zeros(0), np.zeros(0)))
            continue
        gain = np.linalg.solve(system.errors[part, part], effects * sds**2)
        left = sds**2 - np.einsum("rq,rq->q", gain, effects * sds**2)
        found.append((gain.T @ miss[part], np.sqrt(np.maximum(left, 0.0))))
    return found


def _name_fault(coefficients: Array, sds: Array) -> Fault:
    slopes = coefficients[4:6] / np.log(2.0) if coefficients.size > 4 else np.zeros(2)
    veil, sd = (coefficients[0], sds[0]) if coefficients.size else (0.0, 0.0)
    return Fault(float(veil), float(sd), float(slopes[0]), float(slopes[1]))


def learn_sensitivities(
    profile: Camera,
    frames: tuple[Frame, ...],
    balances: tuple[Balance, ...] = (),
    prior: Prior | None = None,
) -> Learned:
    """Estimate a camera's curves from frames, starting from a profile of its kind.

    Parameters
    ----------
    profile
        Its curves are the middle of the prior, if none is given.
    frames, balances
        At least one of either.

    Returns
    -------
    Learned
        The non-negative maximum of the posterior, at the noise that the evidence (the marginal
        likelihood over `NOISE_STEPS`) prefers. Noise under 0.2 % is not believed, since no
        chart's reflectances are known better.

    Raises
    ------
    ValueError
        If there is nothing to learn from.
    """
    if not frames and not balances:
        raise ValueError("at least one frame or reading is needed")
    start = prior or make_prior(profile)
    functionals = [np.repeat((each.power @ TENTS)[:, :, None], 3, axis=2) for each in frames]
    groups = dict.fromkeys(each.group for each in frames)
    scales = _Scales(np.ones(len(frames)), {group: np.ones(3) for group in groups})

    def refine(curves: Array, scales: _Scales, noise: float, rounds: int) -> tuple[Prior, _Scales]:
        for _ in range(rounds):
            predicted = [np.einsum("mgc,gc->mc", each, curves) for each in functionals]
            scales = _solve_scales(frames, predicted, scales)
            system = _build_system(frames, balances, functionals, curves, scales, noise)
            posterior = system.update(start)
            curves = np.maximum(posterior.mean, 0.0)
        return posterior, scales

    first, scales = refine(start.mean, scales, _FIRST_NOISE, 8)
    curves = np.maximum(first.mean, 0.0)
    evidence = [
        _build_system(frames, balances, functionals, curves, scales, step).find_evidence(start)
        for step in NOISE_STEPS
    ]
    noise = NOISE_STEPS[int(np.argmax(evidence))]
    posterior, scales = refine(curves, scales, noise, 8)
    system = _build_system(
        frames, balances, functionals, np.maximum(posterior.mean, 0.0), scales, noise
    )
    best = _solve_non_negative(system, start)
    suffered = _find_suffered(system, best)
    residuals = []
    for number, frame in enumerate(frames):
        _, effects, sds = system.suffered[number]
        level = frame.raw / scales.gains[frame.group] / scales.exposures[number]
        if sds.size:
            level = level - (effects @ suffered[number][0]).reshape(level.shape)
        predicted = np.einsum("mgc,gc->mc", functionals[number], best)
        residuals.append(np.log(np.maximum(level, 1e-12) / np.maximum(predicted, 1e-12)))
    faults = tuple(_name_fault(*each) for each in suffered)
    return Learned(TENTS @ best, replace(posterior, mean=best), noise, tuple(residuals), faults)


def _solve_non_negative(system: _System, prior: Prior) -> Array:
    """Solve the maximum of the posterior under non-negativity, (81, 3), by an active set."""
    from scipy.optimize import lsq_linear

    prior_root = np.linalg.inv(np.linalg.cholesky(prior.covariance))
    data_root = np.linalg.inv(np.linalg.cholesky(system.errors))
    rows = np.concatenate([prior_root, data_root @ system.rows])
    values = np.concatenate([prior_root @ prior.mean.reshape(-1), data_root @ system.values])
    factor, triangle = np.linalg.qr(rows)
    solved = lsq_linear(triangle, factor.T @ values, (0.0, np.inf), method="bvls", max_iter=2000)
    return np.asarray(np.maximum(solved.x, 0.0)).reshape(prior.mean.shape)


def predict_posterior(posterior: Prior, power: Array, noise: float) -> Prior:
    """Foresee what a chart frame under a light would leave unsure; the mean stays.

    Parameters
    ----------
    posterior
        What is known now.
    power
        (m, 401) the light times each surface's reflectance.
    noise
        Relative noise to expect [ratio].
    """
    functional = np.repeat((power @ TENTS)[:, :, None], 3, axis=2)
    level = np.einsum("mgc,gc->mc", functional, posterior.mean)
    frame = Frame("foreseen", power, level, ("",) * len(power))
    scales = _Scales(np.ones(1), {"raw": np.ones(3)})
    system = _build_system((frame,), (), [functional], posterior.mean, scales, noise)
    return replace(posterior, covariance=system.update(posterior).covariance)


def draw_learned(learned: Learned, count: int, seed: int) -> Array:
    """Draw plausible cameras from what was learned, (count, 81, 3) on `GRID_NM`, non-negative.

    Through the covariance's symmetric root, which unlike its modes has no signs that a machine may
    choose.
    """
    posterior = learned.posterior
    levels, modes = np.linalg.eigh(posterior.covariance)
    root = (modes * np.sqrt(np.maximum(levels, 0.0))) @ modes.T
    moved = np.random.default_rng(seed).normal(size=(count, levels.size)) @ root
    return np.asarray(np.maximum(posterior.mean + moved.reshape(count, GRID_NM.size, 3), 0.0))
