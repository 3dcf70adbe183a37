"""Exposure as a meter and a lens count it (ISO 2720:1974, ISO 12232:2019).

Idea
----
One equation, N^2 2^ND = (E t + H) S / C: T-stop, ND, illuminance, exposure time, lux seconds of a
flash, exposure index and the calibration constant of an incident meter. Any one of them follows
from the rest. T-stops stand for N, since it is the light that counts. A reflected meter obeys the
same equation with luminance [cd/m2] for E and K for C, so every function here takes either pair.

An incident reading, by this calibration, puts an 18 % grey on the middle grey of the file: the
convention of the trade, which ISO 12232's 10/S lux seconds on the sensor meets within a tenth of a
stop for a clean lens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.rounding import settle
from wbplan.core.tables import Array

FLAT_RECEPTOR_C = 250.0  # ISO 2720:1974, incident light, flat receptor: 240 to 400 is allowed
HEMISPHERICAL_RECEPTOR_C = 340.0  # the same, half a sphere: 320 to 540; 340 common, no source
REFLECTED_K = 12.5  # ISO 2720:1974, reflected light: 10.6 to 13.4; 14 is in use too (from memory)
GREY_TO_CLIP_STOPS = float(np.log2(78.0 / 10.0))  # ISO 12232:2019: H_sat 78/S, middle grey 10/S
MIDDLE_GREY, WHITE = 0.18, 0.90  # a usual chart's white (common practice, no source)
Parts = Literal[1, 3, 10]
# The engraved figures, from 2 stops under T1.
_WHOLE_STOPS = (
    *("0.5", "0.7", "1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45", "64"),
    *("90", "128"),
)
_FIRST_WHOLE_STOP = -2
# Exposure indices in thirds of a stop as cameras carry them, from 3 stops under 100 up.
_EI_FIGURES = (
    *(12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800),
    *(1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000),
    *(25600, 32000, 40000, 51200, 64000, 80000, 102400),
)


@dataclass(frozen=True)
class Shooting:
    """How the camera is run.

    ``ei`` exposure index; ``fps`` [1/s]; ``exposure_time_s`` [s]; ``nd_stops`` in front of the
    lens or in the camera [stops]; ``t_stop`` the stop that is wanted, None if free;
    ``calibration_c`` the meter's constant C; ``readout_s`` how long a rolling shutter takes from
    the first row to the last [s], 0 for a global one, None if unknown.
    """

    ei: float
    fps: float
    exposure_time_s: float
    nd_stops: float = 0.0
    t_stop: float | None = None
    calibration_c: float = FLAT_RECEPTOR_C
    readout_s: float | None = None

    @property
    def shutter_angle_deg(self) -> float:
        """The angle of the same exposure time, 360 x fps x t [degrees]."""
        return 360.0 * self.fps * self.exposure_time_s

    def solve_t_stop(self, illuminance_lux: ArrayLike) -> Array:
        """Solve the T-stop that a light asks for at the planned ND, (...,); see `solve_t_stop`."""
        rest = (self.ei, self.exposure_time_s, self.nd_stops, self.calibration_c)
        return solve_t_stop(illuminance_lux, *rest)

    def solve_nd_stops(self, illuminance_lux: ArrayLike, t_stop: float) -> Array:
        """Solve the ND that brings a light to a T-stop, (...,) [stops]; see `solve_nd_stops`."""
        rest = (self.ei, self.exposure_time_s, t_stop, self.calibration_c)
        return solve_nd_stops(illuminance_lux, *rest)


def find_exposure_time_s(shutter_angle_deg: ArrayLike, fps: ArrayLike) -> Array:
    """Convert a shutter angle [degrees] at a frame rate [1/s] to a time: angle / (360 fps) [s]."""
    return np.asarray(np.asarray(shutter_angle_deg) / (360.0 * np.asarray(fps)))


def solve_t_stop(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
    flash_lux_s: ArrayLike = 0.0,
) -> Array:
    """Solve the T-stop that exposes middle grey right.

    Parameters
    ----------
    illuminance_lux, ei, exposure_time_s, nd_stops
        Broadcast together, (...,) [lux], [ISO], [s], [stops].
    calibration_c
        C of the incident meter [lx s].
    flash_lux_s
        What a flash gives within the exposure, (...,) [lux s].

    Returns
    -------
    ndarray
        (...,) T-number, sqrt((E t + H) S / C / 2^ND) (ISO 2720:1974); 0 where there is no light.
    """
    dose = np.asarray(illuminance_lux) * np.asarray(exposure_time_s) + np.asarray(flash_lux_s)
    product = dose * np.asarray(ei)
    return np.asarray(np.sqrt(product / calibration_c / np.exp2(np.asarray(nd_stops))))


def solve_nd_stops(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    t_stop: ArrayLike,
    calibration_c: float = FLAT_RECEPTOR_C,
    flash_lux_s: ArrayLike = 0.0,
) -> Array:
    """Solve the ND that brings a wanted T-stop, (...,) [stops]; negative means light is missing.

    Minus infinity where there is no light at all. The same equation as `solve_t_stop`.
    """
    open_stop = solve_t_stop(illuminance_lux, ei, exposure_time_s, 0.0, calibration_c, flash_lux_s)
    with np.errstate(divide="ignore"):
        return np.asarray(2.0 * np.log2(open_stop / np.asarray(t_stop)))


def find_needed_lux_s(
    ei: ArrayLike,
    t_stop: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
) -> Array:
    """Find the dose at the subject that puts a grey in the middle, N^2 C 2^ND / S, (...,) [lux s].

    ISO 2720:1974; a steady light gives it as illuminance times exposure time, a flash at once.
    """
    lens = np.asarray(t_stop, dtype=np.float64) ** 2 * np.exp2(np.asarray(nd_stops))
    return np.asarray(lens * calibration_c / np.asarray(ei))


def solve_illuminance_lux(
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    t_stop: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
    flash_lux_s: ArrayLike = 0.0,
) -> Array:
    """Solve the steady light that is needed, (...,) [lux]; NaN where the flash alone is too much.

    The equation of `solve_t_stop`; with K for C it is the luminance [cd/m2].
    """
    rest = find_needed_lux_s(ei, t_stop, nd_stops, calibration_c) - np.asarray(flash_lux_s)
    return np.asarray(np.where(rest >= 0, rest, np.nan) / np.asarray(exposure_time_s))


def solve_flash_lux_s(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    exposure_time_s: ArrayLike,
    t_stop: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
) -> Array:
    """Solve what a flash has to add, (...,) [lux s]; NaN where the steady light is too much."""
    steady = np.asarray(illuminance_lux) * np.asarray(exposure_time_s)
    rest = find_needed_lux_s(ei, t_stop, nd_stops, calibration_c) - steady
    return np.asarray(np.where(rest >= 0, rest, np.nan))


def solve_exposure_time_s(
    illuminance_lux: ArrayLike,
    ei: ArrayLike,
    t_stop: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
    flash_lux_s: ArrayLike = 0.0,
) -> Array:
    """Solve the exposure time, (...,) [s]; NaN where the flash alone is too much.

    Infinite without steady light. Nothing is said here of whether a frame is that long.
    """
    rest = find_needed_lux_s(ei, t_stop, nd_stops, calibration_c) - np.asarray(flash_lux_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(rest >= 0, rest, np.nan) / np.asarray(illuminance_lux))


def solve_ei(
    illuminance_lux: ArrayLike,
    exposure_time_s: ArrayLike,
    t_stop: ArrayLike,
    nd_stops: ArrayLike = 0.0,
    calibration_c: float = FLAT_RECEPTOR_C,
    flash_lux_s: ArrayLike = 0.0,
) -> Array:
    """Solve the exposure index, (...,) [ISO]; infinite where there is no light."""
    dose = np.asarray(illuminance_lux) * np.asarray(exposure_time_s) + np.asarray(flash_lux_s)
    with np.errstate(divide="ignore"):
        return np.asarray(find_needed_lux_s(1.0, t_stop, nd_stops, calibration_c) / dose)


def solve_fps(shutter_angle_deg: ArrayLike, exposure_time_s: ArrayLike) -> Array:
    """Solve the frame rate at which an angle [degrees] gives a time [s], (...,) [1/s]."""
    return np.asarray(np.asarray(shutter_angle_deg) / (360.0 * np.asarray(exposure_time_s)))


def find_exposure_value(t_stop: ArrayLike, exposure_time_s: ArrayLike) -> Array:
    """Find EV, log2(N^2 / t), (...,); that of the setting, whatever the exposure index."""
    return np.asarray(
        2.0 * np.log2(np.asarray(t_stop, dtype=np.float64)) - np.log2(np.asarray(exposure_time_s))
    )


def find_ratio_stops(light: ArrayLike, other: ArrayLike) -> Array:
    """Find how far one light lies over another, (...,) [stops]; infinite where one is dark.

    NaN where both are. As n:1 it is 2 to that power.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(
            np.log2(np.asarray(light, dtype=np.float64)) - np.log2(np.asarray(other, np.float64))
        )


def find_engraved_stop(figure: float) -> float:
    """Find the T-number that a figure on a lens stands for: T11 is sqrt(2)^7, 11.31.

    Whole stops are powers of sqrt(2) (ISO 517), of which the ring carries two digits; any other
    figure stands for itself.
    """
    for index, engraved in enumerate(_WHOLE_STOPS):
        if float(engraved) == figure:
            return float(2.0 ** ((index + _FIRST_WHOLE_STOP) / 2.0))
    return figure


def name_t_stop(t_stop: float, parts: Parts = 3) -> str:
    """Write a T-number as it is said on set, to the nearest third: 'T2.8', 'T2.8 and 1/3'.

    ``parts`` 10 writes tenths, as meters read, and 1 the nearest whole stop. Whole stops are
    powers of sqrt(2) under their engraved figures. Under T0.5, where no lens goes,
    and over T128 the number is given as it is.
    """
    if t_stop <= 0:
        return "no light"
    if not np.isfinite(t_stop):
        return "no stop"
    steps = round(settle(2.0 * parts * float(np.log2(t_stop))))
    whole, part = divmod(steps, parts)
    index = whole - _FIRST_WHOLE_STOP
    if not 0 <= index < len(_WHOLE_STOPS):
        return f"T{float(f'{t_stop:.2g}'):g}"
    return f"T{_WHOLE_STOPS[index]}" + (f" and {part}/{parts}" if part else "")


def name_stops(stops: float, parts: Parts = 3) -> str:
    """Write a size in stops as it is said on set: '1 and 2/3 stops', '1/3 stop', '0 stops'.

    The sign is dropped; ``parts`` as in `name_t_stop`.
    """
    if not np.isfinite(stops):
        return "no end of stops"
    whole, part = divmod(round(settle(parts * abs(stops))), parts)
    fraction = f"{part}/{parts}" if part else ""
    said = " and ".join([str(whole)] * (whole > 0 or not part) + [fraction] * (part > 0))
    return f"{said} stop" + ("" if said == "1" or (not whole and part) else "s")


def name_ei(ei: float) -> str:
    """Write an exposure index as the nearest third that cameras carry, '800', '1250'.

    Outside 12 to 102 400 the number is given to two digits.
    """
    index = round(settle(3.0 * float(np.log2(ei / 100.0)))) + _EI_FIGURES.index(100)
    if not 0 <= index < len(_EI_FIGURES):
        return f"{float(f'{ei:.2g}'):.12g}"
    return str(_EI_FIGURES[index])


def name_ratio(stops: float) -> str:
    """Write a contrast ratio as it is said on set: '4:1', '1:2.8', 'no light' on one side."""
    if not np.isfinite(stops):
        return "no ratio"
    ratio = settle(float(np.exp2(abs(stops))))
    figure = f"{ratio:.0f}" if ratio >= 9.95 else f"{round(ratio, 1):g}"
    return f"{figure}:1" if stops >= 0 or figure == "1" else f"1:{figure}"
