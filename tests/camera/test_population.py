"""The generic camera and its band, judged by measured cameras that had no part in making them.

Each of the cameras below is left out, and in a second run all of its maker's, before the middle and
the statistics are made. The whole of it, every camera and every kind of light, is
``tests/bench/test_population_study.py``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.camera.left_out import CURVES, MAKERS, NAMES, check_joint, find_settings, leave_out
from wbplan.camera.population import MODEL, POPULATION, draw_cameras, level_channels
from wbplan.camera.sensitivities import draw_ensemble
from wbplan.core.tables import load_population_table
from wbplan.data.make_population import find_statistics, gather_logs
from wbplan.light.colorimetry import find_cct_duv
from wbplan.read.catalogue import find_camera, find_source, list_usable_sources

LAMPS = [
    each.name
    for each in list_usable_sources()
    if each.name.startswith(("FL", "HP", "LED-")) and each.dataset.startswith("CIE")
]
LIGHTS = np.stack([find_source(name).values for name in LAMPS])
TRIED = range(0, 52, 5)


@pytest.fixture(scope="module", params=["camera", "maker"])
def judged(request: pytest.FixtureRequest) -> tuple[str, np.ndarray, np.ndarray, np.ndarray]:
    errors, held, joint = [], [], []
    for row in TRIED:
        left = np.arange(52) == row if request.param == "camera" else MAKERS[row] == MAKERS
        truth = find_settings(CURVES[[row]], LIGHTS)[:, 0]
        with leave_out(left) as middle:
            guess = find_settings(middle.sensitivities[None], LIGHTS)[:, 0]
            draws = find_settings(draw_ensemble(middle), LIGHTS)
        low, high = np.quantile(draws, [0.05, 0.95], axis=1)
        errors.append(guess - truth)
        held.append((truth >= low) & (truth <= high))
        joint.append(check_joint(truth, draws, 0.9))
    return request.param, np.stack(errors), np.stack(held), np.stack(joint)


def test_generic_camera_beats_the_meter(
    judged: tuple[str, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    left, errors, _, _ = judged
    mired, cc = np.sqrt((errors**2).mean(axis=(0, 1)))
    meter = 1e6 / find_cct_duv(LIGHTS)[:, 0]
    truth = find_settings(CURVES[list(TRIED)], LIGHTS)[..., 0]
    by_meter = np.sqrt(((meter[:, None] - truth) ** 2).mean())
    print(f"\n{left} left out: {mired:.1f} mired, {cc:.2f} CC rms; the meter alone {by_meter:.1f}")
    # Goals set for this work, 7.6 mired and 1.15 CC; 0.2 CC for eleven cameras instead of all.
    assert mired < 7.6
    assert cc < 1.35
    assert mired < 0.6 * by_meter


def test_band_holds_as_often_as_it_says(
    judged: tuple[str, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    left, _, held, joint = judged
    mired, cc = held.mean(axis=(0, 1))
    print(f"\n{left} left out, 90 % band: {mired:.2f} mired, {cc:.2f} CC, {joint.mean():.2f} both")
    for share in (mired, cc, joint.mean()):
        assert 0.80 < share < 0.99


def test_what_ships_is_what_the_measured_cameras_say() -> None:
    found = find_statistics(gather_logs(CURVES))
    for name in ("patterns", "remainder"):
        assert np.abs(load_population_table(name)) == pytest.approx(np.abs(found[name]), abs=2e-5)
    middle = find_camera("cfa-mid", Path()).sensitivities
    assert level_channels(middle) == pytest.approx(level_channels(CURVES).mean(axis=0), abs=2e-4)


@pytest.mark.parametrize("spread", [POPULATION, MODEL])
def test_draws_are_cameras(spread: object) -> None:
    curves = CURVES[NAMES.index("sony-ilce-7sm3")]
    drawn = draw_cameras(curves, spread, 64, 3)  # type: ignore[arg-type]
    assert (drawn >= 0).all()
    assert np.array_equal(drawn, draw_cameras(curves, spread, 64, 3))  # type: ignore[arg-type]
    # the scale of a profile changes nothing but the scale of its draws
    twice = draw_cameras(curves * [2.0, 3.0, 4.0], spread, 64, 3)  # type: ignore[arg-type]
    assert twice == pytest.approx(drawn * [2.0, 3.0, 4.0], rel=1e-9, abs=1e-12)


def test_a_models_band_is_as_wide_as_two_laboratories_differ() -> None:
    # Five models measured by two laboratories differ, in mired and CC rms over LED, fluorescent and
    # discharge light: 2.6/0.44, 2.9/0.48, 4.7/1.38, 4.5/0.85, 2.3/0.76 (ours against Jiang, Liu, Gu
    # and Suesstrunk 2013, whose curves are not kept here).
    published = np.array([[2.6, 0.44], [2.9, 0.48], [4.7, 1.38], [4.5, 0.85], [2.3, 0.76]])
    real = np.sqrt((published**2).mean(axis=0))
    names = ("canon-eos-5d-mark-ii", "canon-eos-600d", "nikon-d200", "nikon-d5100", "nikon-d700")
    spread = []
    for name in names:
        profile = find_camera(name, Path())
        draws = find_settings(draw_ensemble(profile), LIGHTS)
        own = find_settings(profile.sensitivities[None], LIGHTS)
        spread.append(((draws - own) ** 2).mean(axis=(0, 1)))
    found = np.sqrt(np.mean(spread, axis=0))
    print(
        f"\nmodel band {found[0]:.1f} mired, {found[1]:.2f} CC; real {real[0]:.1f}, {real[1]:.2f}"
    )
    assert (found > 0.9 * real).all()
    assert (found < 1.4 * real).all()
