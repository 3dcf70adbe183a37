"""Flicker of a measured waveform: how fast, how deep, and what a shutter makes of it.

Depth and index are those of the IES Lighting Handbook (10th ed., 3.2.4.4): the depth, "percent
flicker", from the highest and lowest level, the index from the area above the mean. A camera asks
another question, answered from the mean period: by how much do two frames differ that begin at the
worst two phases.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.spectrum import freeze_fields

LEAST_SAMPLES = 20
_LEAST_PERIODS, _LEAST_A_PERIOD = 3.0, 8.0
_COUNTED = 0.05  # of the strongest wave: a slower one beside it sets the period from here on
_STEADY = 1e-3  # of the mean; less is noise
_POINTS = 720  # of the mean period
_MOST_SAMPLED = 2**16
_FINER = 8  # than the bins of a Fourier transform


@dataclass(frozen=True, eq=False)
class Waveform:
    """Light over time: ``time_s`` (n,) rising [s], ``level`` (n,) relative, not negative."""

    time_s: Array
    level: Array

    def __post_init__(self) -> None:
        freeze_fields(self, "time_s", "level")


class FlickerFigures(NamedTuple):
    """What a waveform is: ``light_hz`` [Hz], 0 where it is steady; ``depth`` and
    ``flicker_index`` 0 to 1.

    ``period`` (720,) is its mean period from any phase, relative to the mean over time.
    """

    light_hz: float
    depth: float
    flicker_index: float
    period: Array


def find_flicker(waveform: Waveform) -> FlickerFigures:
    """Find the flicker of a waveform.

    Raises
    ------
    ValueError
        For a waveform without light, one that is too short, or sampled too thinly for its
        frequency: three periods of eight samples are needed.
    """
    time, level = waveform.time_s, waveform.level
    span = float(time[-1] - time[0])
    count = int(min(_MOST_SAMPLED, time.size))
    even = np.interp(np.linspace(time[0], time[-1], count), time, level)
    mean = float(even.mean())
    if mean <= 0 or span <= 0:
        raise ValueError("a waveform without light")
    if float(np.abs(even - mean).max()) < _STEADY * mean:
        return FlickerFigures(0.0, 0.0, 0.0, np.ones(_POINTS))
    hz = _find_frequency(even - mean, span / (count - 1))
    periods = span * hz
    if periods < _LEAST_PERIODS:
        raise ValueError(f"a waveform of {periods:.1f} periods: three are needed")
    if count / periods < _LEAST_A_PERIOD:
        raise ValueError(f"{count / periods:.1f} samples a period: eight are needed")
    whole = np.floor(periods)
    phase = np.arange(int(whole) * _POINTS) / _POINTS
    held = np.interp(time[0] + phase / hz, time, level)
    share = float(np.maximum(held - held.mean(), 0.0).sum() / held.sum())
    inside = level[time <= time[0] + whole / hz]
    low, high = float(inside.min()), float(inside.max())
    shape = held.reshape(int(whole), _POINTS).mean(axis=0)
    return FlickerFigures(hz, (high - low) / (high + low), share, shape / shape.mean())


def _find_frequency(wave: Array, step_s: float) -> float:
    """Find the slowest wave that counts, between the bins of a Fourier transform [Hz]."""
    size = _FINER * wave.size
    strength = np.abs(np.fft.rfft(wave * np.hanning(wave.size), size))
    strength[0] = 0.0
    inner = strength[1:-1]
    is_peak = (inner >= strength[:-2]) & (inner > strength[2:])
    is_peak &= inner >= _COUNTED * strength.max()
    places = np.flatnonzero(is_peak) + 1
    at = int(places[0]) if places.size else int(strength.argmax())
    if not 0 < at < strength.size - 1:
        return at / (size * step_s)
    left, middle, right = np.log(np.maximum(strength[at - 1 : at + 2], 1e-300))
    bend = left - 2.0 * middle + right
    between = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float((at + between) / (size * step_s))


def find_frame_ripple(flicker: FlickerFigures, exposure_time_s: ArrayLike) -> Array:
    """Find by how much frames of an exposure time differ at most, (...,) [stops].

    Parameters
    ----------
    exposure_time_s
        (...,) above 0 [s].
    """
    times = np.asarray(exposure_time_s, dtype=np.float64)
    if flicker.light_hz <= 0:
        return np.zeros(times.shape)
    cycles = times * flicker.light_hz
    whole = np.floor(cycles + 1e-9)
    part = np.maximum(cycles - whole, 0.0)[..., None]
    running = np.concatenate([[0.0], np.cumsum(np.tile(flicker.period, 2))]) / _POINTS
    start = np.arange(_POINTS) / _POINTS
    grid = np.arange(running.size) / _POINTS
    taken = np.interp(start + part, grid, running) - running[:_POINTS]
    level = np.maximum(taken + whole[..., None], 1e-9) / cycles[..., None]
    return np.asarray(np.log2(level.max(-1) / level.min(-1)))
