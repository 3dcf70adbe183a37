"""Figures of an exposure that nobody would mean: said, never refused.

The ranges are those of what is on sale and of nature, widely drawn (common practice, no source). A
figure outside one is more often a slip of a decimal, a unit or an hour than a record.
"""

from __future__ import annotations

import math

from wbplan.core.notes import Note, warn
from wbplan.exposure.equation import name_t_stop

LENS_T_STOPS = (0.95, 64.0)  # lenses of large formats close to T64, others to T22 or T32
_OPEN_T_STOP, _CLOSED_T_STOP = 1.4, 22.63
_EI = (10.0, 409_600.0)
_FPS = (1.0, 10_000.0)
_TIME_S = (1e-5, 30.0)
MOST_LUX = 150_000.0  # the sun high up in clear air gives about 130 000
LEAST_LUX = 1e-5  # a moonless overcast night gives about 0.0001 (from memory)
SUN_LUX = 20_000.0  # of the sun or of a strong lamp near by
_STEEP_M = (-10.0, 30.0)


def doubt_exposure(
    ei: float | None = None, fps: float | None = None, exposure_time_s: float | None = None
) -> tuple[Note, ...]:
    """Doubt an exposure index, a frame rate [1/s] and an exposure time [s]; None is not asked."""
    asked = (
        (ei, _EI, "EI {:.12g}", "cameras go from about 25 to 409 600"),
        (fps, _FPS, "{:g} fps", "cameras run from 1 fps, a time lapse, to some thousands"),
        (exposure_time_s, _TIME_S, "an exposure of {:g} s", "shutters go from 1/100 000 to 30 s"),
    )
    return tuple(
        warn("implausible", f"{said.format(value)} is unusual: {usual}", "shooting")
        for value, (low, high), said, usual in asked
        if value is not None and not low <= value <= high
    )


def doubt_t_stop(t_stop: float, about: str) -> tuple[Note, ...]:
    """Doubt a T-stop that no lens has, and say what brings one that a lens has."""
    low, high = LENS_T_STOPS
    if low <= t_stop <= high or not t_stop > 0 or not math.isfinite(t_stop):
        return ()
    if t_stop < low:
        missing = 2.0 * math.log2(_OPEN_T_STOP / t_stop)
        text = (
            f"{name_t_stop(t_stop)} is wider than lenses open: {missing:.1f} stops of light are "
            "missing for T1.4"
        )
    else:
        over = 2.0 * math.log2(t_stop / _CLOSED_T_STOP)
        text = f"{name_t_stop(t_stop)} is smaller than lenses close: ND {over:.1f} stops brings T22"
    return (warn("implausible", text, about),)


def doubt_lux(
    illuminance_lux: float, about: str, sun_elevation_deg: float | None = None
) -> tuple[Note, ...]:
    """Doubt an illuminance [lux], beside how high the sun stands [degrees] where that is known."""
    if illuminance_lux > MOST_LUX:
        text = f"{illuminance_lux:.6g} lux is more than the sun gives (about 130 000)"
        return (warn("implausible", f"{text}: are lux meant, and not another unit?", about),)
    if 0 < illuminance_lux < LEAST_LUX:
        text = f"{illuminance_lux:.3g} lux is darker than the darkest night (about 0.0001)"
        return (warn("implausible", f"{text}: are lux meant, and not another unit?", about),)
    if illuminance_lux >= SUN_LUX and sun_elevation_deg is not None and sun_elevation_deg < 0:
        text = (
            f"{illuminance_lux:.6g} lux is sunlight, and the sun stands {-sun_elevation_deg:.0f}° "
            "under the horizon: is it the reading, or the hour, of another setup?"
        )
        return (warn("implausible", text, about),)
    return ()


def doubt_height(height_m: float, about: str) -> tuple[Note, ...]:
    """Doubt a height above the floor [m]."""
    if _STEEP_M[0] <= height_m <= _STEEP_M[1]:
        return ()
    text = f"{height_m:g} m above the floor is unusual: are metres meant, and not centimetres?"
    return (warn("implausible", text, about),)
