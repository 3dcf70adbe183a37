"""Light that flickers, and what an exposure makes of it.

Idea
----
A lamp on mains gives light at twice the mains frequency; a dimmed LED at its driver's. An exposure
averages the light over its time, so one that lasts a whole number of periods takes the same from
every start: a safe time. Any other time takes more or less, by the phase at which it starts, and
the range from the least to the most, in stops, is the ripple: what frames differ by, and what the
rows of a rolling shutter differ by within one frame.

The average is exact: each waveform has its running integral in closed form, and the starts at which
the average is greatest and least are known (the window stands centred on the crest or trough of a
curve, or begins or ends at an edge of a square), so nothing is sampled and nothing is missed.

Depth is the modulation (max - min) / (max + min), "percent flicker" on a meter. A tube with worn
electrodes gives more in one half wave of the mains than in the other: beside its flicker it has a
part at the mains frequency itself, which only whole periods of the mains even out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

Waveform = Literal["sine", "square", "rectified"]
WAVEFORMS: tuple[str, ...] = get_args(Waveform)
_WINDOW_SAMPLES = 720
_WHOLE = 1e-9  # how near to a whole number of periods a frame has to be to hold it
_MOST_PERIODS = 1e9  # of an exposure, past which one more or less is nothing


@dataclass(frozen=True)
class Flicker:
    """How a light's output goes up and down.

    Parameters
    ----------
    light_hz
        Of the light, which is twice that of the mains [Hz].
    depth
        (max - min) / (max + min), 0 to 1.
    waveform
        ``sine``; ``square``, on and off, as an LED is dimmed by pulses; ``rectified``, half waves
        of a sine, as a lamp without a smoothing driver follows the mains.
    duty
        The share of a square's period that it is on, 0 to 1.
    is_assumed
        Whether the depth was not stated but taken as the worst.
    mains_depth
        Depth of the part at half the light's frequency, a sine, 0 to 1: half waves that differ.
    trough_mired, trough_green_cc
        By how much the light is warmer and greener at its dimmest than at its brightest
        [mired, CC].
    """

    light_hz: float
    depth: float = 1.0
    waveform: Waveform = "sine"
    duty: float = 0.5
    is_assumed: bool = False
    mains_depth: float = 0.0
    trough_mired: float = 0.0
    trough_green_cc: float = 0.0

    def __post_init__(self) -> None:
        depths = 0 <= self.depth <= 1 and 0 <= self.mains_depth <= 1
        if not (self.light_hz > 0 and depths and 0 < self.duty < 1):
            raise ValueError("a frequency above 0 Hz, depths from 0 to 1, a duty between 0 and 1")

    @property
    def safe_hz(self) -> float:
        """The frequency whose whole periods even out all of it: the mains' where it has a part."""
        return self.light_hz / 2.0 if self.mains_depth else self.light_hz

    @property
    def has_colour(self) -> bool:
        """Whether its colour goes up and down too."""
        return bool(self.trough_mired or self.trough_green_cc)


def _integrate_shape(flicker: Flicker, cycles: Array) -> Array:
    """Integrate the waveform, scaled to 0 to 1, from 0 to a place counted in cycles."""
    whole = np.floor(cycles)
    part = cycles - whole
    if flicker.waveform == "sine":
        return np.asarray(cycles / 2 + (1 - np.cos(2 * np.pi * part)) / (4 * np.pi))
    if flicker.waveform == "square":
        return np.asarray(whole * flicker.duty + np.minimum(part, flicker.duty))
    return np.asarray(whole * 2 / np.pi + (1 - np.cos(np.pi * part)) / np.pi)


def find_exposed_level(flicker: Flicker, exposure_time_s: ArrayLike, start: ArrayLike) -> Array:
    """Average the light over an exposure, its part at the mains frequency aside.

    Parameters
    ----------
    exposure_time_s, start
        Broadcast together, (...,): how long [s], and the phase at which it begins [cycles].

    Returns
    -------
    ndarray
        (...,) relative to the light's mean over time, 1 for a safe time.
    """
    return _level(flicker.depth, *_average_shape(flicker, exposure_time_s, start))


def _average_shape(
    flicker: Flicker, exposure_time_s: ArrayLike, start: ArrayLike
) -> tuple[Array, float]:
    """Average the waveform, scaled to 0 to 1, over exposures (...,) and over all time."""
    begin = np.asarray(start, dtype=np.float64)
    cycles = flicker.light_hz * np.asarray(exposure_time_s, dtype=np.float64)
    # Whole periods are taken apart, so that rounding does not grow with their number.
    whole = np.floor(cycles + _WHOLE * (cycles > 0.5))
    part = np.maximum(cycles - whole, 0.0)
    mean = float(_integrate_shape(flicker, np.array(1.0)))
    phase = begin - np.floor(begin)
    taken = _integrate_shape(flicker, phase + part) - _integrate_shape(flicker, phase)
    return np.asarray((whole * mean + taken) / cycles), mean


def _level(depth: float | Array, average: Array, mean: float) -> Array:
    """Turn averages of the waveform into light over its mean, for depths that broadcast."""
    return np.asarray((1.0 - depth + 2.0 * depth * average) / (1.0 - depth + 2.0 * depth * mean))


def find_level_range(flicker: Flicker, exposure_time_s: ArrayLike) -> Array:
    """Find the least and the most that an exposure can take, over every start.

    Returns
    -------
    ndarray
        (..., 2) relative to the light's mean, for times (...,) [s].
    """
    average, mean = _find_extremes(flicker, exposure_time_s)
    reach = flicker.mains_depth * np.abs(
        np.sinc(flicker.light_hz / 2.0 * np.asarray(exposure_time_s, dtype=np.float64))
    )
    return np.asarray(
        _level(flicker.depth, average, mean) + reach[..., None] * np.array([-1.0, 1.0])
    )


def find_spectral_range(
    flicker: Flicker, exposure_time_s: float, trough_over_crest: ArrayLike
) -> Array:
    """Find the least and the most exposure of a light whose colour flickers, by wavelength.

    Parameters
    ----------
    trough_over_crest
        (w,) the light at its dimmest over that at its brightest.

    Returns
    -------
    ndarray
        (2, w) relative to the light's mean at each wavelength; its part at the mains frequency is
        of one colour and left out.
    """
    ratio = np.asarray(trough_over_crest, dtype=np.float64)
    average, mean = _find_extremes(flicker, exposure_time_s)
    return _level((1.0 - ratio) / (1.0 + ratio), average[:, None], mean)


def _find_extremes(flicker: Flicker, exposure_time_s: ArrayLike) -> tuple[Array, float]:
    """Find the least and most average of the waveform, (..., 2), over every start, and its mean."""
    time = np.asarray(exposure_time_s, dtype=np.float64)[..., None]
    cycles = flicker.light_hz * time
    centres = np.array([0.0, 0.25, 0.5, 0.75]) - cycles / 2
    edges = np.array([0.0, flicker.duty])
    starts = np.concatenate(
        [centres, np.broadcast_to(edges, (*time.shape[:-1], 2)), edges - cycles], axis=-1
    )
    average, mean = _average_shape(flicker, time, starts)
    return np.stack([average.min(-1), average.max(-1)], axis=-1), mean


def find_ripple_stops(flicker: Flicker, exposure_time_s: ArrayLike) -> Array:
    """Find how far two exposures can lie apart, (...,) [stops]; infinite where one gets nothing."""
    return measure_ripple(find_level_range(flicker, exposure_time_s))


def measure_ripple(level_range: ArrayLike) -> Array:
    """Turn least and most, (..., 2), into stops between them, (...,)."""
    ends = np.maximum(np.asarray(level_range, dtype=np.float64), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.log2(ends[..., 1] / ends[..., 0]))


def find_band_range(
    flicker: Flicker, exposure_time_s: float, readout_s: float
) -> tuple[float, float]:
    """Find the least and the most that the rows of one frame take under a rolling shutter.

    Each row begins a little later than the one before, so the frame holds
    ``light_hz * readout_s`` bands; with less than one, it holds a part of the range, and the
    worst such part is given (from 720 starts a period, that of the mains frequency apart).

    Returns
    -------
    tuple
        Least and most, relative to the light's mean.
    """
    whole = find_level_range(flicker, exposure_time_s)
    rows = flicker.light_hz * readout_s
    if rows >= 1.0:
        return float(whole[0]), float(whole[1])
    uneven = flicker.mains_depth * abs(float(np.sinc(flicker.light_hz / 2.0 * exposure_time_s)))
    uneven *= float(np.sin(np.pi * rows / 2.0))
    starts = np.arange(_WINDOW_SAMPLES) / _WINDOW_SAMPLES
    level = find_exposed_level(flicker, exposure_time_s, starts)
    reach = int(np.ceil(rows * _WINDOW_SAMPLES))
    turned = np.concatenate([level, level[:reach]])
    windows = np.lib.stride_tricks.sliding_window_view(turned, reach + 1)
    least, most = windows.min(-1), windows.max(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        worst = int(np.argmax(np.nan_to_num(most / least, nan=1.0, posinf=np.inf)))
    return float(least[worst]) - uneven, float(most[worst]) + uneven


def list_safe_times_s(
    light_hz: float, fps: float, near_s: float | None = None, most: int = 100_000
) -> Array:
    """List the exposure times that hold whole periods and fit a frame, (n,) [s], ascending.

    Times are k / light_hz, the angles 360 fps of that; none where a frame is shorter than a period.
    At most ``most`` of them are given, those around ``near_s`` or else the shortest. Where
    ``near_s`` holds a thousand million periods it is as safe as any, and is given alone.
    """
    if near_s is not None and near_s * light_hz > _MOST_PERIODS:
        return np.array([near_s])
    last = int(min(np.floor(light_hz / fps + _WHOLE), 2.0 * _MOST_PERIODS))
    first = 1
    if near_s is not None:
        first = max(min(round(light_hz * near_s) - most // 2, last - most + 1), 1)
    return np.asarray(np.arange(first, min(last, first + most - 1) + 1) / light_hz)


def find_nearest_safe_s(light_hz: float, fps: float, exposure_time_s: float) -> float:
    """Find the safe time that is fewest stops from a wanted one [s]; NaN where there is none."""
    safe = list_safe_times_s(light_hz, fps, exposure_time_s, 8)
    if not safe.size:
        return float("nan")
    return float(safe[np.argmin(np.abs(np.log2(safe / exposure_time_s)))])


def find_beat_hz(light_hz: float, fps: float) -> float:
    """Find how fast the ripple is seen to breathe from frame to frame [Hz]; 0 stands still."""
    beat = abs(light_hz - round(light_hz / fps) * fps)
    return 0.0 if beat < _WHOLE * light_hz else beat


def find_low_risk_percent(light_hz: float) -> float:
    """Find the depth up to which flicker is of low risk to people's health [% modulation].

    0.025 f under 90 Hz, 0.08 f up to 1250 Hz, all of it above: 8 % at 100 Hz, 9.6 % at 120 Hz, as
    IEEE Std 1789-2015 has it (from memory: the standard itself was not at hand, and what is written
    about it differs, so no warning quotes the figure).
    """
    if light_hz > 1250.0:
        return 100.0
    return (0.025 if light_hz < 90.0 else 0.08) * light_hz
