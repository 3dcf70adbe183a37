"""Exposure as a meter and a lens count it (ISO 2720:1974, ISO 12232:2019).

N^2 / t = E S / C: T-stop, exposure time, illuminance, exposure index and the calibration constant
of an incident meter with a flat receptor. T-stops stand for N, since it is the light that counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.tables import Array

FLAT_RECEPTOR_C = 250.0  # ISO 2720:1974, incident light, flat receptor: 240 to 400 is allowed
_WHOLE_STOPS = [
    "0.5",
    "0.7",
    "1",
    "1.4",
    "2",
    "2.8",
    "4",
    "5.6",
    "8",
    "11",
    "16",
    "22",
    "32",
    "45",
    "64",
    "90",
    "128",
]  # the engraved figures, from 2 stops under T1
_FIRST_WHOLE_STOP = -2


@dataclass(frozen=True)
class Shooting:
    """How the camera is run.

    ``ei`` exposure index; ``fps`` [1/s]; ``exposure_time_s`` [s]; ``nd_stops`` in front of the
    lens or in the camera [stops]; ``t_stop`` the stop that is wanted, None if free;
    ``calibration_c`` the meter's constant C.
    """

    ei: float
    fps: float
    exposure_time_s: float
    nd_stops: float = 0.0
    t_stop: float | None = None
    calibration_c: float = FLAT_RECEPTOR_C

    @property
    def shutter_angle_deg(self) -> float:
        """The angle of the same exposure time, 360 x fps x t [degrees]."""
        return 360.0 * self.fps * self.exposure_time_s


def find_exposure_time_s(shutter_angle_deg: ArrayLike, fps: ArrayLike) -> Array:
    """Convert a shutter angle [degrees] at a frame rate [1/s] to a time: angle / (360 fps) [s]."""
    return np.asarray(np.asarray(shutter_angle_deg) / (360.0 * np.asarray(fps)))


def solve_t_stop(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
) -> Array:
    """Solve the T-stop that exposes middle grey right.

    Parameters
    ----------
    illuminance_lux, ei, exposure_time_s, nd_stops
        Broadcast together, (...,) [lux], [ISO], [s], [stops].
    calibration_c
        C of the incident meter [lx s].

    Returns
    -------
    ndarray
        (...,) T-number, sqrt(E S t / C / 2^ND) (ISO 2720:1974); 0 where there is no light.
    """
    product = np.asarray(illuminance_lux) * np.asarray(ei) * np.asarray(exposure_time_s)
    return np.asarray(np.sqrt(product / calibration_c / np.exp2(np.asarray(nd_stops))))


def solve_nd_stops(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    t_stop: ArrayLike,
    calibration_c: float = FLAT_RECEPTOR_C,
) -> Array:
    """Solve the ND that brings a wanted T-stop, (...,) [stops]; negative means light is missing.

    Minus infinity where there is no light at all. The same equation as `solve_t_stop`.
    """
    open_stop = solve_t_stop(illuminance_lux, ei, exposure_time_s, 0.0, calibration_c)
    with np.errstate(divide="ignore"):
        return np.asarray(2.0 * np.log2(open_stop / np.asarray(t_stop)))


def name_t_stop(t_stop: float) -> str:
    """Write a T-number as it is said on set, to the nearest third: 'T2.8', 'T2.8 and 1/3'.

    Whole stops are powers of sqrt(2) under their engraved figures. Under T0.5, where no lens goes,
    and over T128 the number is given as it is.
    """
    if t_stop <= 0:
        return "no light"
    thirds = round(6.0 * float(np.log2(t_stop)))
    whole, part = divmod(thirds, 3)
    index = whole - _FIRST_WHOLE_STOP
    if not 0 <= index < len(_WHOLE_STOPS):
        return f"T{float(f'{t_stop:.2g}'):g}"
    return f"T{_WHOLE_STOPS[index]}" + (f" and {part}/3" if part else "")
