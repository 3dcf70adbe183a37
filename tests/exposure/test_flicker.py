"""Flicker against closed forms, numerical integration, and the shutters that crews use."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.exposure.flicker import (
    WAVEFORMS,
    Flicker,
    find_band_range,
    find_beat_hz,
    find_exposed_level,
    find_level_range,
    find_low_risk_percent,
    find_nearest_safe_s,
    find_ripple_stops,
    list_safe_times_s,
    measure_ripple,
)


def angles(mains_hz: float, fps: float) -> list[float]:
    return [round(360 * fps * t, 3) for t in list_safe_times_s(2 * mains_hz, fps)]


# Common practice: 50 Hz mains 24 fps 172.8, 25 fps 180, 30 fps 108 or 216; 60 Hz mains 24 fps 144,
# 25 fps 150, 30 fps 180. All of them: n x 360 x fps / (2 x mains), arithmetic.
@pytest.mark.parametrize(
    ("mains", "fps", "expected"),
    [
        (50, 24, [86.4, 172.8, 259.2, 345.6]),
        (50, 25, [90, 180, 270, 360]),
        (50, 30, [108, 216, 324]),
        (50, 29.97, [107.892, 215.784, 323.676]),
        (60, 24, [72, 144, 216, 288, 360]),
        (60, 25, [75, 150, 225, 300]),
        (60, 30, [90, 180, 270, 360]),
        (50, 120, []),
    ],
)
def test_safe_angles(mains: float, fps: float, expected: list[float]) -> None:
    assert angles(mains, fps) == expected


# For 180 degrees the common advice is 172.8 at 24 fps under 50 Hz; under 60 Hz, 144 at 24 fps is
# 0.32 stops away and 216 is 0.26.
@pytest.mark.parametrize(
    ("mains", "wanted", "expected"),
    [(50, 180, 172.8), (60, 180, 216), (60, 160, 144), (50, 20, 86.4)],
)
def test_nearest_safe_angle(mains: float, wanted: float, expected: float) -> None:
    found = find_nearest_safe_s(2 * mains, 24, wanted / 360 / 24)
    assert 360 * 24 * found == pytest.approx(expected)


def test_no_safe_time_is_no_number() -> None:
    assert np.isnan(find_nearest_safe_s(100, 120, 1 / 240))


@given(
    wave=st.sampled_from(WAVEFORMS),
    hertz=st.floats(1, 20_000),
    depth=st.floats(0, 1),
    duty=st.floats(0.02, 0.98),
    periods=st.integers(1, 400),
)
def test_whole_periods_are_safe(
    wave: str, hertz: float, depth: float, duty: float, periods: int
) -> None:
    flicker = Flicker(hertz, depth, wave, duty)  # type: ignore[arg-type]
    assert find_level_range(flicker, periods / hertz) == pytest.approx([1, 1], abs=1e-7)


# The average of 1 + m sin over T is 1 + m sinc(f T) sin(...): its range is 1 -+ m |sinc(f T)|, with
# sinc(x) = sin(pi x) / (pi x) (Fourier analysis of a moving average, any textbook).
@given(cycles=st.floats(0.01, 60), depth=st.floats(0, 1))
def test_sine_in_closed_form(cycles: float, depth: float) -> None:
    reach = depth * abs(np.sinc(cycles))
    found = find_level_range(Flicker(100.0, depth), cycles / 100)
    assert found == pytest.approx([1 - reach, 1 + reach], abs=1e-8)


# A square of half duty: the part r of a period that is left over takes at most min(r, 1 - r) of a
# period more or less than its share, so the range is 1 -+ m min(r, 1 - r) / (f T) (by geometry).
@given(cycles=st.floats(0.01, 60), depth=st.floats(0, 1))
def test_square_in_closed_form(cycles: float, depth: float) -> None:
    rest = cycles % 1
    reach = depth * min(rest, 1 - rest) / cycles
    found = find_level_range(Flicker(100.0, depth, "square"), cycles / 100)
    assert found == pytest.approx([1 - reach, 1 + reach], abs=1e-7)


# Pulses of duty d from dark: an exposure of r periods, r < 1, sees at most min(r, d) and at least
# max(0, r - (1 - d)) of them (by geometry).
@given(rest=st.floats(0.01, 0.99), duty=st.floats(0.05, 0.95))
def test_pulses_in_closed_form(rest: float, duty: float) -> None:
    found = find_level_range(Flicker(1000.0, 1.0, "square", duty), rest / 1000)
    expected = np.array([max(0.0, rest - (1 - duty)), min(rest, duty)]) / rest / duty
    assert found == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("wave", WAVEFORMS)
@pytest.mark.parametrize("cycles", [0.3, 1.37, 2.0833, 7.5])
def test_against_numerical_integration(wave: str, cycles: float) -> None:
    """The waveform itself, sampled finely and summed over many starts, knows no closed form."""
    depth, duty, samples = 0.6, 0.3, 20_000
    phase = (np.arange(samples) + 0.5) / samples
    shape = {
        "sine": 0.5 + 0.5 * np.sin(2 * np.pi * phase),
        "square": (phase < duty).astype(float),
        "rectified": np.abs(np.sin(np.pi * phase)),
    }[wave]
    light = 1 - depth + 2 * depth * shape
    light /= light.mean()
    count = round(cycles * samples)
    running = np.concatenate([[0], np.cumsum(np.tile(light, int(cycles) + 3))])
    starts = np.arange(0, samples, 7)
    averages = (running[starts + count] - running[starts]) / count
    flicker = Flicker(120.0, depth, wave, duty)  # type: ignore[arg-type]
    assert find_level_range(flicker, cycles / 120) == pytest.approx(
        [averages.min(), averages.max()], abs=3e-4
    )
    one = find_exposed_level(flicker, cycles / 120, starts[::40] / samples)
    assert one == pytest.approx(averages[::40], abs=3e-4)


def test_ripple_in_stops() -> None:
    # 24 fps, 180 degrees under 50 Hz: f T = 100/48; sinc(2.0833) = 0.0395; all of 100 % depth gives
    # log2(1.0395 / 0.9605) = 0.114 stops (arithmetic)
    assert find_ripple_stops(Flicker(100.0), 1 / 48) == pytest.approx(0.114, abs=5e-4)
    assert find_ripple_stops(Flicker(100.0), 1 / 50) == pytest.approx(0, abs=1e-12)
    assert find_ripple_stops(Flicker(50.0, 1.0, "square", 0.2), 0.001) == np.inf


def test_many_times_at_once() -> None:
    times = np.array([[1 / 48, 1 / 50], [1 / 96, 1 / 100]])
    found = find_level_range(Flicker(100.0, 0.4), times)
    assert found.shape == (2, 2, 2)
    assert found[1, 0] == pytest.approx(find_level_range(Flicker(100.0, 0.4), 1 / 96))


def test_bands_of_a_rolling_shutter() -> None:
    flicker = Flicker(100.0, 0.5)
    whole = find_level_range(flicker, 1 / 200)
    assert find_band_range(flicker, 1 / 200, 1 / 24) == pytest.approx(tuple(whole))
    global_shutter = find_band_range(flicker, 1 / 200, 0.0)
    assert measure_ripple(global_shutter) == pytest.approx(0, abs=1e-12)
    # A readout of half a period goes from trough to crest at worst: still the whole range
    half = find_band_range(flicker, 1 / 200, 0.005)
    assert measure_ripple(half) == pytest.approx(find_ripple_stops(flicker, 1 / 200), abs=1e-4)
    # A tenth of a period of 1 + a sin(x), a = m sinc(f T): the greatest ratio of its two ends
    level = 1 + 0.5 * np.sinc(0.5) * np.sin(np.arange(3600) * 2 * np.pi / 3600)
    ends = level / np.roll(level, 360)
    tenth = find_band_range(flicker, 1 / 200, 0.001)
    assert measure_ripple(tenth) == pytest.approx(np.log2(ends.max()), abs=1e-3)


@given(readout=st.floats(0, 0.05))
def test_a_longer_readout_never_bands_less(readout: float) -> None:
    flicker = Flicker(60.0, 0.8, "rectified")
    shorter = measure_ripple(find_band_range(flicker, 0.004, readout * 0.7))
    longer = measure_ripple(find_band_range(flicker, 0.004, readout))
    assert shorter <= longer + 1e-9 <= find_ripple_stops(flicker, 0.004) + 2e-9


def test_beat() -> None:
    assert find_beat_hz(100, 24) == pytest.approx(4)  # 100 - 4 x 24
    assert find_beat_hz(100, 25) == 0
    assert find_beat_hz(120, 23.976) == pytest.approx(0.12)


# IEEE Std 1789-2015, from memory, low risk: 8 % at 100 Hz, 9.6 % at 120 Hz, 0.025 f under 90 Hz
@pytest.mark.parametrize(
    ("hertz", "percent"),
    [
        (100, 8.0),
        (120, 9.6),
        (60, 1.5),
        (2000, 100),
        (89, 2.225),
        (91, 7.28),
        (1240, 99.2),
        (1260, 100),
    ],
)
def test_low_risk(hertz: float, percent: float) -> None:
    assert find_low_risk_percent(hertz) == pytest.approx(percent)


@pytest.mark.parametrize("wrong", [(0.0, 0.5, 0.5), (100, 1.1, 0.5), (100, -0.1, 0.5), (100, 1, 1)])
def test_impossible_flicker(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="above 0 Hz"):
        Flicker(wrong[0], wrong[1], "square", wrong[2])
