"""Fixtures driven by the search against another method, on many random scenes.

Run with ``python -m tests.bench.drive_trial [scenes [first]]``. The other method has its own
formulation: raw values by spectra and the camera's curves, coordinates by the full solve, and
scipy's SLSQP from the best of 400 random drives for the settings of the menu around each of its
minima. It
prints how much worse the search is at most; 0.05 mired is allowed.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from tests.mixed.test_search import make_problem, see
from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import solve_coordinates
from wbplan.light.spectrum import WAVELENGTHS_NM, scale_to_lux
from wbplan.mixed.drives import fit_outputs
from wbplan.mixed.gel_packs import DriveRange, Problem
from wbplan.mixed.search import FoundPack, search_packs

_STARTS = 2
_TRIED = 400


@dataclass(frozen=True, eq=False)
class Scene:
    """A problem, and the same fixtures as what they give each position: (n, q, 401) each."""

    problem: Problem
    power: list[np.ndarray]


def make_channels(generator: np.random.Generator, count: int) -> np.ndarray:
    """Make invented channels: two whites, or bell curves and a white."""
    grid = WAVELENGTHS_NM

    def bell(peak: float, width: float) -> np.ndarray:
        return np.exp(-0.5 * ((grid - peak) / width) ** 2)

    def white(blue: float) -> np.ndarray:
        return blue * bell(450, 9) + bell(generator.uniform(560, 600), 50)

    if count == 2:
        return np.stack([white(0.3), white(1.3)])
    peaks = np.linspace(440, 650, count - 1) + generator.uniform(-12, 12, count - 1)
    bells = [bell(peak, generator.uniform(8, 20)) for peak in peaks]
    return np.stack([*bells, white(generator.uniform(0.4, 1.2))])


def make_scene(seed: int, sizes: tuple[int, ...], places: int = 4) -> Scene:
    """Make a random scene: daylight everywhere and fixtures of so many channels."""
    generator = np.random.default_rng(seed + 5000)
    problem = make_problem(seed, 0, 1, places)
    view, _ = see("cfa-mid")
    fixtures, powers = [], []
    for size in sizes:
        share = generator.uniform(0.3, 1, size)
        drives = generator.uniform(0.1, 0.9, size)
        output = share / (share @ drives)
        bare = scale_to_lux(make_channels(generator, size), 1.0) * output[:, None]
        lux = generator.lognormal(4, 1, places) * (generator.random(places) < 0.7)
        lux[0] = max(lux[0], 20.0)
        power = lux[:, None] * bare[:, None, :]
        response = respond(power, view.profile.sensitivities)
        levels = (lux[0] * output)[:, None]
        fixtures.append(DriveRange(response, levels, output, drives, 2.0**-2, 2.0**0.5))
        powers.append(power)
    return Scene(replace(problem, fixtures=tuple(fixtures)), powers)


def solve_otherwise(scene: Scene, seed: int) -> float:
    """Find what all fixtures together leave at best, [mired]."""
    problem, (view, _) = scene.problem, see("cfa-mid")
    generator = np.random.default_rng(seed)
    menu = view.profile.menu
    scales = np.sort(1e6 / np.array(menu.kelvin)), np.array(menu.tint_cc)
    sizes = [each.shape[0] for each in scene.power]
    ends = np.concatenate([[0], np.cumsum(sizes)])
    curves = view.profile.sensitivities
    seen = np.concatenate([respond(each, curves) for each in scene.power])

    def look(drives: np.ndarray) -> np.ndarray:
        raw = problem.fixed + np.tensordot(np.clip(drives, 0, 1), seen, (-1, 0))
        found = solve_coordinates(view.locus, np.log2(raw)[..., None, :])
        off_m = found.mired[..., 0] - problem.want_mired
        return np.stack([off_m, 7 * (found.tint_cc[..., 0] - problem.want_cc)], axis=-1)

    def left(drives: np.ndarray, setting: np.ndarray | None) -> np.ndarray:
        off = look(drives)
        middle = np.einsum("...qa,q->...a", off, problem.weight)
        low = np.array([scales[0][0], 7 * scales[1][0]])
        high = np.array([scales[0][-1], 7 * scales[1][-1]])
        at = np.clip(middle, low, high) if setting is None else setting
        return np.einsum("...qa,q->...", (off - at[..., None, :]) ** 2, problem.weight)

    def descend(start: np.ndarray, setting: np.ndarray | None) -> np.ndarray:
        def weigh(drives: np.ndarray) -> tuple[float, np.ndarray]:
            step = 1e-6
            tried = np.vstack([drives, drives + np.where(drives < 0.5, step, -step) * eye])
            found = left(tried, setting)
            slope = (found[1:] - found[0]) / np.where(drives < 0.5, step, -step)
            return float(found[0]) / 100, slope / 100

        eye = np.eye(start.size)
        rows = np.zeros((len(sizes), start.size))
        for row, fixture in enumerate(problem.fixtures):
            rows[row, ends[row] : ends[row + 1]] = fixture.output
        rooms = {
            "type": "ineq",
            "fun": lambda x: np.concatenate([2**0.5 - rows @ x, rows @ x - 0.25]),
            "jac": lambda x: np.vstack([-rows, rows]),
        }
        options = {"maxiter": 80, "ftol": 1e-9}
        found = minimize(
            weigh, start, jac=True, method="SLSQP", bounds=[(0, 1)] * start.size,
            constraints=[rooms], options=options,
        )  # fmt: skip
        return np.clip(found.x, 0, 1) if (rooms["fun"](found.x) > -1e-7).all() else start * np.nan

    best = np.inf
    tried = fit_outputs(problem.fixtures, generator.uniform(0, 1, (_TRIED, ends[-1])) ** 2)
    for start in tried[np.argsort(left(tried, None))[:_STARTS]]:
        free = descend(start, None)
        if np.isnan(free).any() or float(left(free, None)) > best:
            continue
        middle = np.einsum("qa,q->a", look(free), problem.weight)
        near = [np.argsort(np.abs(s - m))[:2] for s, m in zip(scales, middle / [1, 7], strict=True)]
        for a in near[0]:
            for b in near[1]:
                setting = np.array([scales[0][a], 7 * scales[1][b]])
                made = descend(free, setting)
                if not np.isnan(made).any():
                    best = min(best, float(left(made, setting)))
    return best**0.5


def find_driven(scene: Scene) -> FoundPack:
    """Find the search's best pack with every fixture driven, or fewer."""
    return min(search_packs(scene.problem).found, key=lambda each: each.left)


def main(scenes: int, first: int) -> None:
    """Compare so many scenes of two or three places and print the worst."""
    gaps = []
    for seed in range(first, first + scenes):
        size = (4, 5, 6)[seed % 3]
        scene = make_scene(seed, (size,), 2 + seed // 3 % 2)
        mine, other = find_driven(scene).left ** 0.5, solve_otherwise(scene, seed)
        gaps.append(mine - other)
        if gaps[-1] > 0.02 or gaps[-1] < -0.5:
            print(seed, size, round(mine, 3), round(other, 3), flush=True)
    worse = np.array(gaps)
    print(f"{scenes} scenes: worst {worse.max():+.4f} mired, median {np.median(worse):+.4f}; ")
    print(f"worse by over 0.05 mired in {(worse > 0.05).sum()}, better in {(worse < -0.05).sum()}")


if __name__ == "__main__":
    main(*(int(given) for given in (*sys.argv[1:], *("200", "0")[len(sys.argv) - 1 :])))
