"""A camera learned from charts: accuracy on cameras it never saw, honest bands, laws.

The truth cameras are measured ones, each left out of the population before the prior is made
(`tests.camera.left_out`). ``tests/bench/test_population_study.py`` does it for every camera.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.camera.left_out import CURVES, NAMES, leave_out
from tests.shared import find_centroid_width
from wbplan.camera.learn.estimate import (
    Balance,
    Frame,
    Learned,
    Prior,
    draw_learned,
    learn_sensitivities,
    make_prior,
    predict_posterior,
)
from wbplan.camera.learn.frames import make_matrix_frame
from wbplan.camera.learn.next_light import find_band_widths, find_slopes, rank_lights
from wbplan.camera.population import spread_to_grid
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import find_locus_response, solve_coordinates
from wbplan.core.tables import list_chart_patches, load_table
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.illuminants import radiate_locus
from wbplan.read.catalogue import find_camera, find_source, list_usable_sources

CHART = load_table("chart")  # ISO 17321-1
PATCHES = list_chart_patches()
LAMPS = [
    each.name
    for each in list_usable_sources()
    if each.name.startswith(("FL", "HP", "LED-")) and each.dataset.startswith("CIE")
]
TARGETS = np.stack([find_source(name).values for name in LAMPS])
GENERIC = find_camera("cfa-mid", Path())
NPL = find_camera("nikon-d5100", Path()).sensitivities
ONE, TWO, FOUR = ("D55",), ("A", "D55"), ("A", "D55", "FL11", "LED-B5")


UNSEEN = ("nikon-d5100", "sony-ilce-7sm3", "canon-eos-5d", "fujifilm-x-t3", "hasselblad-l2d-20c",
          "panasonic-dc-gx9")  # fmt: skip


@pytest.fixture(scope="module")
def prior() -> Prior:
    return make_prior(GENERIC)


def shoot(
    camera: np.ndarray, lights: tuple[str, ...], noise: float = 0.005, seed: int = 0
) -> tuple[Frame, ...]:
    generator = np.random.default_rng(seed)
    frames = []
    for number, name in enumerate(lights):
        power = find_source(name).values * CHART
        raw = power @ camera * (0.2, 1.7, 0.6, 3.0)[number] * np.array([0.5, 1.0, 0.7])
        raw *= 1 + generator.normal(0, noise, raw.shape)
        frames.append(Frame(name, power, raw, PATCHES))
    return tuple(frames)


def find_settings(camera: np.ndarray) -> np.ndarray:
    curves = camera if camera.ndim == 3 else camera[None]
    found = solve_coordinates(
        find_locus_response(curves), find_log2_response(respond(TARGETS, curves))
    )
    return np.stack([found.mired, found.tint_cc], axis=-1)


def find_error(camera: np.ndarray, guess: np.ndarray) -> np.ndarray:
    miss = find_settings(camera) - find_settings(guess)
    return np.sqrt((miss[:, 0] ** 2).mean(axis=0))


@pytest.fixture(scope="module")
def lessons() -> dict[tuple[str, ...], list[tuple[np.ndarray, Learned]]]:
    found: dict[tuple[str, ...], list[tuple[np.ndarray, Learned]]] = {}
    for seed, name in enumerate(UNSEEN):
        camera = CURVES[NAMES.index(name)]
        with leave_out(np.array(NAMES) == name) as middle:
            prior = make_prior(middle)
        for lights in (ONE, TWO, FOUR):
            learned = learn_sensitivities(GENERIC, shoot(camera, lights, 0.01, seed), prior=prior)
            found.setdefault(lights, []).append((camera, learned))
    return found


Lessons = dict[tuple[str, ...], list[tuple[np.ndarray, Learned]]]


@pytest.mark.parametrize(
    # At 1 % noise of a patch mean: the goal set for this work, 4.5, 3.5 and 1.8 mired rms after
    # one, two and four lights, over all discharge and LED sources.
    ("lights", "mired", "cc"),
    [(ONE, 4.5, 0.9), (TWO, 3.5, 0.7), (FOUR, 1.8, 0.4)],
)
def test_setting_error_on_cameras_never_seen(
    lessons: Lessons, lights: tuple[str, ...], mired: float, cc: float
) -> None:
    errors = np.array(
        [find_error(camera, learned.sensitivities) for camera, learned in lessons[lights]]
    )
    found = np.sqrt((errors**2).mean(axis=0))
    meter = 1e6 / find_cct_duv(TARGETS)[:, 0] - find_settings(NPL)[:, 0, 0]
    print(f"\n{len(lights)} lights: {found[0]:.2f} mired, {found[1]:.2f} CC rms; the meter alone "
          f"misses the NPL camera by {np.sqrt((meter**2).mean()):.1f} mired")  # fmt: skip
    assert found[0] < mired
    assert found[1] < cc


def test_a_layered_start_is_overruled() -> None:
    start = find_camera("layered-measured", Path())
    prior = make_prior(start)
    errors = [
        find_error(NPL, learn_sensitivities(start, shoot(NPL, each), prior=prior).sensitivities)[0]
        for each in (ONE, TWO, FOUR)
    ]
    print("\nfrom a layered sensor: " + ", ".join(f"{each:.2f}" for each in errors) + " mired")
    assert errors[2] < errors[1]
    assert errors[2] < 0.5 * find_error(NPL, start.sensitivities)[0]


@pytest.mark.parametrize("lights", [ONE, TWO, FOUR])
def test_learned_band_holds_as_often_as_it_says(lessons: Lessons, lights: tuple[str, ...]) -> None:
    held = []
    for camera, learned in lessons[lights]:
        draws = find_settings(spread_to_grid(draw_learned(learned, 256, 1)))
        low, high = np.quantile(draws, [0.05, 0.95], axis=1)
        truth = find_settings(camera)[:, 0]
        held.append(((truth >= low) & (truth <= high)).mean())
    print(f"\n{len(lights)} lights: a 90 % band holds {np.mean(held):.2f}")
    assert 0.85 <= np.mean(held) <= 0.99  # over all lamps of six cameras


def test_less_noise_and_more_lights_never_hurt(prior: Prior) -> None:
    quiet = learn_sensitivities(GENERIC, shoot(NPL, FOUR, 0.001), prior=prior)
    loud = learn_sensitivities(GENERIC, shoot(NPL, FOUR, 0.03), prior=prior)
    assert quiet.noise < 0.005 < loud.noise
    assert find_error(NPL, quiet.sensitivities)[0] < find_error(NPL, loud.sensitivities)[0]


def test_exposure_and_channel_gains_do_not_count(prior: Prior) -> None:
    frames = shoot(NPL, TWO)
    scaled = tuple(
        replace(each, raw=each.raw * factor * np.array([9.0, 1.0, 0.2]))
        for each, factor in zip(frames, (0.01, 40.0), strict=True)
    )
    one = find_settings(learn_sensitivities(GENERIC, frames, prior=prior).sensitivities)
    two = find_settings(learn_sensitivities(GENERIC, scaled, prior=prior).sensitivities)
    assert two == pytest.approx(one, abs=0.3)


def test_result_is_non_negative_and_residuals_show_a_bad_patch(prior: Prior) -> None:
    frames = shoot(NPL, TWO, 0.002)
    spoiled = np.array(frames[0].raw)
    spoiled[4] *= 1.4
    bad = (replace(frames[0], raw=spoiled), frames[1])
    learned = learn_sensitivities(GENERIC, bad, prior=prior)
    assert (learned.sensitivities >= 0).all()
    assert int(np.abs(learned.residuals[0]).mean(axis=1).argmax()) == 4


def test_grey_readings_alone_fix_the_lights_they_were_taken_under(prior: Prior) -> None:
    # Channel gains are unknown, so a grey under one light says nothing; greys under reference
    # lights and a lamp say how the lamp differs from them.
    names = ("A", "D55", "FL2", "LED-B3", "FL12")
    frames = []
    for name in names:
        power = find_source(name).values[None] * 0.18
        frames.append(Frame(name, power, power @ NPL, ("grey",)))
    learned = learn_sensitivities(GENERIC, tuple(frames), prior=prior)
    rows = [LAMPS.index(name) for name in names[2:]]
    truth = find_settings(NPL)[rows, 0]
    before = find_settings(GENERIC.sensitivities)[rows, 0] - truth
    after = find_settings(learned.sensitivities)[rows, 0] - truth
    assert np.abs(after[:, 0]).max() < 0.6 * np.abs(before[:, 0]).max()
    assert np.abs(after[:, 1]).max() < 0.6 * np.abs(before[:, 1]).max()


def test_reported_settings_are_learned(prior: Prior) -> None:
    names = ("FL2", "LED-B3", "FL12", "HP1")
    rows = [LAMPS.index(name) for name in names]
    truth = find_settings(NPL)[rows, 0]
    balances = tuple(
        Balance(name, find_source(name).values, radiate_locus(1e6 / mired), 10 ** (0.01 * cc))
        for name, (mired, cc) in zip(names, truth, strict=True)
    )
    learned = learn_sensitivities(GENERIC, (), balances, prior=prior)
    before = np.abs(find_settings(GENERIC.sensitivities)[rows, 0] - truth)
    after = np.abs(find_settings(learned.sensitivities)[rows, 0] - truth)
    assert after[:, 0].max() < 1.5
    assert after[:, 1].max() < 0.2
    assert before[:, 0].max() > 5


def test_matrices_narrow_the_guess(prior: Prior) -> None:
    # Matrices fitted to the NPL camera, as a raw converter's would be, for A and D65.
    observer = load_table("observer")
    frames = []
    for name in ("A", "D65"):
        power = find_source(name).values * load_table("samples")
        xyz, raw = power @ observer, power @ NPL
        matrix = np.linalg.lstsq(xyz, raw, rcond=None)[0].T
        frames.append(make_matrix_frame(name, find_source(name).values, matrix, CHART, PATCHES))
    learned = learn_sensitivities(GENERIC, tuple(frames), prior=prior)
    slopes = find_slopes(prior.mean, TARGETS)
    narrower = find_band_widths(learned.posterior, find_slopes(learned.posterior.mean, TARGETS))
    assert narrower[:, 0].mean() < 0.8 * find_band_widths(prior, slopes)[:, 0].mean()
    assert find_error(NPL, learned.sensitivities)[0] < 10


def test_slopes_agree_with_the_solve(prior: Prior) -> None:
    slopes = find_slopes(prior.mean, TARGETS)
    step = 1e-5 * prior.mean.max() * np.random.default_rng(3).normal(size=prior.mean.shape)
    before, after = (
        find_settings(spread_to_grid(each))[:, 0] for each in (prior.mean, prior.mean + step)
    )
    assert slopes @ step.reshape(-1) == pytest.approx(after - before, abs=2e-4)


def test_a_foreseen_frame_narrows_as_much_as_a_shot_one(prior: Prior) -> None:
    learned = learn_sensitivities(GENERIC, shoot(NPL, ONE, 0.005), prior=prior)
    foreseen = predict_posterior(learned.posterior, find_source("FL11").values * CHART, 0.005)
    shot = learn_sensitivities(GENERIC, shoot(NPL, ("D55", "FL11"), 0.005), prior=prior)
    slopes = find_slopes(learned.posterior.mean, TARGETS)
    ratio = find_band_widths(foreseen, slopes).mean(0) / find_band_widths(
        shot.posterior, slopes
    ).mean(0)
    assert ratio == pytest.approx(np.ones(2), rel=0.5)


def test_line_spectra_teach_more_than_another_daylight(prior: Prior) -> None:
    learned = learn_sensitivities(GENERIC, shoot(NPL, ONE), prior=prior)
    names = ("D65", "A", "FL11", "LED-B3")
    lights = np.stack([find_source(name).values for name in names])
    ranked = rank_lights(learned, names, lights, TARGETS, CHART)
    assert ranked[0].light == "FL11"
    assert ranked[-1].light == "D65"


def test_prior_is_like_the_profile_but_wider(prior: Prior) -> None:
    centre = find_centroid_width(spread_to_grid(prior.mean))
    own = find_centroid_width(GENERIC.sensitivities)
    assert centre[:, 0] == pytest.approx(own[:, 0], abs=10.0)
    assert np.linalg.eigvalsh(prior.covariance).min() > 0


def test_nothing_to_learn_from_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        learn_sensitivities(GENERIC, ())
    with pytest.raises(ValueError, match="as many surfaces"):
        Frame("x", CHART, np.ones((3, 3)), PATCHES)
    with pytest.raises(ValueError, match="0 or more"):
        Frame("x", CHART, -np.ones((24, 3)), PATCHES)
    with pytest.raises(ValueError, match="negative"):
        make_matrix_frame("x", CHART[0] + 1, -np.eye(3), CHART, PATCHES)


def test_a_matrix_of_any_size_says_the_same() -> None:
    """Found by a fuzzer: a scale that does not count must not overflow either."""
    light = find_source("D65").values
    seen = [make_matrix_frame("x", light, size * np.eye(3), CHART, PATCHES).raw
            for size in (1.0, 1e-320, 1e300)]  # fmt: skip
    np.testing.assert_allclose(seen[1], seen[0], rtol=1e-3)
    np.testing.assert_allclose(seen[2], seen[0], rtol=1e-12)


def test_residuals_are_noise_once_a_veil_is_taken_out(prior: Prior) -> None:
    """A veil of 2 % doubles what the darkest patches give; what is left is the noise of 0.5 %."""
    clean = shoot(NPL, FOUR)
    veiled = tuple(replace(each, raw=each.raw + 0.02 * each.raw.max(axis=0)) for each in clean)
    learned = learn_sensitivities(GENERIC, veiled, prior=prior)
    for residual, fault in zip(learned.residuals, learned.faults, strict=True):
        assert fault.veil == pytest.approx(0.02, rel=0.2)
        assert np.abs(np.median(residual, axis=1)).max() < 0.05
