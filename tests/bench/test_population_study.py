"""The generic camera, its band and `learn` judged by every measured camera; prints the tables.

Run with ``pytest tests/bench/test_population_study.py --benchmark-only -s -o addopts=""``.
Each of the 52 cameras is left out, then each maker, before the middle and the statistics are made;
``tests/camera/test_population.py`` is the short form.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.camera.learn.test_estimate import FOUR, GENERIC, ONE, TWO, shoot
from tests.camera.left_out import CURVES, MAKERS, NAMES, check_joint, find_settings, leave_out
from wbplan.camera.learn.estimate import draw_learned, learn_sensitivities, make_prior
from wbplan.camera.population import spread_to_grid
from wbplan.camera.sensitivities import draw_ensemble
from wbplan.light.models import find_xy_of, mix_channels, shape_led
from wbplan.read.catalogue import find_source, list_usable_sources

# Five-channel lights of this file's own invention: peaks and widths [nm].
FIVE = (
    ((450, 20), (500, 28), (525, 33), (593, 16), (632, 18)),
    ((448, 20), (475, 22), (525, 35), (594, 15), (660, 20)),
)


def name_kind(name: str) -> str:
    for kind, starts in (
        ("phosphor LED", ("led-phosphor", "LED-B")),
        ("violet-pumped LED", ("LED-V",)),
        ("RGB LED", ("LED-RGB", "led-three", "led-four")),
        ("tri-phosphor", ("fluorescent-triphosphor", "FL10", "FL11", "FL12")),
        ("discharge", ("HP", "mercury", "metal", "sodium-high", "sodium-white")),
        ("other fluorescent", ("FL", "fluorescent")),
    ):
        if name.startswith(starts):
            return kind
    return ""


def gather_lights() -> tuple[np.ndarray, np.ndarray]:
    kinds, lights = [], []
    for record in list_usable_sources():
        if name_kind(record.name):
            kinds.append(name_kind(record.name))
            lights.append(find_source(record.name).values)
    for channels in FIVE:
        peaks, widths = zip(*channels, strict=True)
        for kelvin in (2700.0, 3200.0, 4000.0, 5000.0, 6500.0):
            kinds.append("five-channel LED")
            lights.append(mix_channels(shape_led(peaks, widths), find_xy_of(kelvin)).power)
    return np.array(kinds), np.stack(lights)


KINDS, LIGHTS = gather_lights()


def format_row(name: str, errors: np.ndarray, held: np.ndarray, widths: np.ndarray) -> str:
    rms = np.sqrt((errors**2).mean(axis=(0, 1)))
    ratio = widths.mean(axis=(0, 1)) / (2 * 1.6449 * rms)
    shares = "  ".join(f"{100 * each:3.0f}" for each in held.mean(axis=(0, 1)).reshape(-1))
    return f"{name:<18} {rms[0]:5.1f} {rms[1]:5.2f}   {shares}   {ratio[0]:.2f} {ratio[1]:.2f}"


@pytest.mark.parametrize("left", ["camera", "maker"])
def test_print_generic(left: str, benchmark: Callable[..., None]) -> None:
    def work() -> tuple[np.ndarray, ...]:
        errors, held, widths = [], [], []
        for row in range(len(NAMES)):
            out = np.arange(len(NAMES)) == row if left == "camera" else MAKERS[row] == MAKERS
            truth = find_settings(CURVES[[row]], LIGHTS)[:, 0]
            with leave_out(out) as middle:
                guess = find_settings(middle.sensitivities[None], LIGHTS)[:, 0]
                draws = find_settings(draw_ensemble(middle), LIGHTS)
            shares = []
            for share in (0.5, 0.9, 0.95):
                low, high = np.quantile(draws, [(1 - share) / 2, (1 + share) / 2], axis=1)
                inside = (truth >= low) & (truth <= high)
                shares.append(np.column_stack([inside, check_joint(truth, draws, share)]))
                if share == 0.9:
                    widths.append(high - low)
            errors.append(guess - truth)
            held.append(np.stack(shares, axis=-1))
        return np.stack(errors), np.stack(held), np.stack(widths)

    errors, held, widths = benchmark.pedantic(work, rounds=1, iterations=1)  # type: ignore[attr-defined]
    print(f"\n{left} left out: rms mired, CC; held of 50, 90, 95 % by mired, CC, both; width/real")
    print(format_row("all", errors, held, widths))
    for kind in sorted(set(KINDS)):
        rows = kind == KINDS
        print(format_row(kind, errors[:, rows], held[:, rows], widths[:, rows]))


def test_print_least_that_one_answer_leaves(benchmark: Callable[..., None]) -> None:
    """The rms about the mean setting of the other cameras: no one set of curves can do better."""

    def work() -> np.ndarray:
        found = find_settings(CURVES, LIGHTS)
        left = (found - found.mean(axis=1, keepdims=True)) * len(NAMES) / (len(NAMES) - 1)
        return np.asarray(np.sqrt((left**2).mean(axis=(0, 1))))

    rms = benchmark.pedantic(work, rounds=1, iterations=1)  # type: ignore[attr-defined]
    print(f"\nleast that one answer leaves: {rms[0]:.2f} mired {rms[1]:.2f} CC")


def test_print_learned(benchmark: Callable[..., None]) -> None:
    def work() -> dict[tuple[str, ...], list[tuple[np.ndarray, np.ndarray]]]:
        found: dict[tuple[str, ...], list[tuple[np.ndarray, np.ndarray]]] = {}
        for row in range(len(NAMES)):
            with leave_out(np.arange(len(NAMES)) == row) as middle:
                prior = make_prior(middle)
            truth = find_settings(CURVES[[row]], LIGHTS)[:, 0]
            for lights in (ONE, TWO, FOUR):
                frames = shoot(CURVES[row], lights, 0.01, row)
                learned = learn_sensitivities(GENERIC, frames, prior=prior)
                miss = find_settings(learned.sensitivities[None], LIGHTS)[:, 0] - truth
                draws = find_settings(spread_to_grid(draw_learned(learned, 256, 1)), LIGHTS)
                low, high = np.quantile(draws, [0.05, 0.95], axis=1)
                found.setdefault(lights, []).append((miss, (truth >= low) & (truth <= high)))
        return found

    found = benchmark.pedantic(work, rounds=1, iterations=1)  # type: ignore[attr-defined]
    for lights, rows in found.items():
        errors, held = (np.stack(each) for each in zip(*rows, strict=True))
        rms = np.sqrt((errors**2).mean(axis=(0, 1)))
        shares = 100 * held.mean(axis=(0, 1))
        print(f"\n{'+'.join(lights)}: {rms[0]:.2f} mired {rms[1]:.2f} CC; "
              f"a 90 % band holds {shares[0]:.0f}, {shares[1]:.0f} %")  # fmt: skip
