"""Flicker of waveforms whose figures are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.exposure.flicker import Flicker, find_ripple_stops
from wbplan.light.waveform import Waveform, find_flicker, find_frame_ripple

TIME = np.arange(0, 0.2, 1 / 20000)


def wave(shape: str, hz: float = 100.0) -> Waveform:
    turn = 2 * np.pi * hz * TIME
    return Waveform(
        TIME,
        {
            "sine": 1 + 0.4 * np.sin(turn),
            "rectified": np.abs(np.sin(turn / 2)),
            "square": np.where(TIME * hz % 1 < 0.25, 1.0, 0.0),
        }[shape],
    )


# IES Lighting Handbook, 10th ed., 3.2.4.4, by hand: a sine of depth d has the index d / pi; half
# waves 0.2105 (area above the mean of |sin|); a square that is on for the share s has 1 - s.
@pytest.mark.parametrize(
    ("shape", "depth", "index"),
    [("sine", 0.4, 0.4 / np.pi), ("rectified", 1.0, 0.2105), ("square", 1.0, 0.75)],
)
def test_closed_forms(shape: str, depth: float, index: float) -> None:
    found = find_flicker(wave(shape))
    assert found.light_hz == pytest.approx(100, abs=0.05)
    assert found.depth == pytest.approx(depth, abs=2e-3)
    assert found.flicker_index == pytest.approx(index, abs=5e-3)  # one of 200 samples a period


@pytest.mark.parametrize("hz", [83.3, 100.0, 119.7, 1234.5])
def test_frequency_between_the_bins(hz: float) -> None:
    assert find_flicker(wave("sine", hz)).light_hz == pytest.approx(hz, rel=2e-4)


def test_frames_against_the_closed_form_of_a_sine() -> None:
    """`exposure.flicker` has it exactly; a whole number of periods evens all out."""
    found = find_flicker(wave("sine"))
    times = np.array([1 / 48, 1 / 50, 1 / 60, 1 / 100, 1 / 500])
    theirs = [float(find_ripple_stops(Flicker(100.0, 0.4), each)) for each in times]
    np.testing.assert_allclose(find_frame_ripple(found, times), theirs, atol=3e-3)
    assert theirs[1] == pytest.approx(0, abs=1e-9)


def test_worn_electrodes_set_the_period_to_the_mains() -> None:
    turn = 2 * np.pi * 50 * TIME
    uneven = np.abs(np.sin(turn)) * (1 + 0.2 * np.sign(np.sin(turn)))
    assert find_flicker(Waveform(TIME, uneven)).light_hz == pytest.approx(50, abs=0.05)


def test_steady_short_and_thin() -> None:
    steady = find_flicker(Waveform(TIME, np.full(TIME.size, 3.0)))
    assert (steady.light_hz, steady.depth, steady.flicker_index) == (0, 0, 0)
    assert find_frame_ripple(steady, 1 / 48) == 0
    for part, why in ((slice(0, 400), "periods"), (slice(0, None, 50), "samples a period")):
        sine = wave("sine")
        with pytest.raises(ValueError, match=why):
            find_flicker(Waveform(TIME[part], sine.level[part]))
    with pytest.raises(ValueError, match="without light"):
        find_flicker(Waveform(TIME, np.zeros(TIME.size)))
