"""The correction for bandwidth, against the library and against lights whose truth is known."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from wbplan.light.bandpass import correct_bandwidth, make_band_weights
from wbplan.light.colorimetry import find_uv_prime, find_xy
from wbplan.light.spectrum import resample
from wbplan.read.catalogue import find_source


def smear(power: np.ndarray, width_nm: int) -> np.ndarray:
    """Sum over a triangle, as an instrument does."""
    triangle = 1 - np.abs(np.arange(1 - width_nm, width_nm)) / width_nm
    held = np.pad(power, width_nm - 1, mode="edge")
    return np.convolve(held, triangle / triangle.sum(), "valid")


def test_against_the_library(colour: ModuleType) -> None:
    """`bandpass_correction_Stearns1988` of colour-science 0.4.7.

    It corrects in place, so that each value sees its forerunner already corrected; the paper has
    measured values throughout. The difference is known exactly, where nothing dips under zero.
    """
    power = find_source("FL8").values[::5].copy()
    sd = colour.SpectralDistribution(dict(zip(range(380, 781, 5), power, strict=True)))
    theirs = np.array(colour.bandpass_correction(sd, method="Stearns 1988").values)
    ours = correct_bandwidth(power)
    assert theirs[0] == pytest.approx(ours[0], abs=1e-12)
    in_place = ours[1:-2] - 0.083 * (theirs[:-3] - power[:-3])  # the last was corrected first
    np.testing.assert_allclose(in_place, theirs[1:-2], atol=1e-12)


@pytest.mark.parametrize("name", ["FL4", "FL11", "LED-B3", "LED-RGB1", "HP3"])
@pytest.mark.parametrize("width_steps", [1, 2])
def test_it_undoes_most_of_a_smear(name: str, width_steps: int) -> None:
    """By what the eye sees: the distance from the unsmeared light in u', v'."""
    power = find_source(name).values
    smeared = smear(power, 5 * width_steps)[::5]

    def place(samples: np.ndarray) -> np.ndarray:
        return find_uv_prime(find_xy(resample(np.arange(380.0, 781.0, 5.0), samples)[0]))

    truth = find_uv_prime(find_xy(power))
    before = np.linalg.norm(place(smeared) - truth)
    after = np.linalg.norm(place(correct_bandwidth(smeared, width_steps)) - truth)
    assert after < max(0.5 * before, 5e-5)


def test_shapes_and_what_stays() -> None:
    straight = np.linspace(1.0, 3.0, 41)
    np.testing.assert_allclose(correct_bandwidth(straight)[1:-1], straight[1:-1])
    two = np.stack([straight, 2 * straight], axis=-1)
    np.testing.assert_allclose(correct_bandwidth(two, 2), 1.0 * np.stack(
        [correct_bandwidth(straight, 2), 2 * correct_bandwidth(straight, 2)], axis=-1
    ))  # fmt: skip
    line = np.zeros(41)
    line[20] = 1.0
    assert correct_bandwidth(line).min() == 0


def test_bands_keep_energy_and_give_samples_back() -> None:
    weights = make_band_weights(5)
    assert weights.shape == (401, 81)
    np.testing.assert_allclose(weights.sum(0), 1)
    inside = weights[20:-20].sum(1)
    np.testing.assert_allclose(inside, inside.mean(), rtol=0.01)  # wherever a line falls
    power = find_source("LED-B3").values
    np.testing.assert_allclose((power @ weights), power[::5], atol=0.01)
