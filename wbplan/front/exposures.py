"""The short questions on exposure, in one call each: no scene needed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from wbplan.core.errors import InputError, Place, describe_choices
from wbplan.exposure.equation import (
    FLAT_RECEPTOR_C,
    REFLECTED_K,
    find_engraved_stop,
    find_exposure_time_s,
)
from wbplan.exposure.flicker import Flicker, Waveform
from wbplan.exposure.missing_term import ExposureAnswer, ExposureTerms, solve_term
from wbplan.exposure.nd_kit import MOST_PIECES_IN_KIT, Kit, Pack, Piece, find_packs
from wbplan.planning.ripple import FlickerAnswer, answer_flicker
from wbplan.read.scenario.exposure import STOPS_PER_DENSITY

WAVEFORMS: tuple[Waveform, ...] = ("sine", "square", "rectified")
_MOST_FLICKER_HZ = 1e6


def solve_exposure(
    t_stop: float | None = None,
    ei: float | None = None,
    fps: float | None = None,
    shutter_angle_deg: float | None = None,
    exposure_time_s: float | None = None,
    nd_stops: float | None = None,
    lux: float | None = None,
    luminance_cd_m2: float | None = None,
    flash_lux_s: float | None = None,
    incident_c: float | None = None,
    reflected_k: float | None = None,
    meter_percent: float = 0.0,
    find: str | None = None,
) -> ExposureAnswer:
    """Solve the one term of an exposure that is missing (ISO 2720).

    Parameters
    ----------
    t_stop, ei, fps, nd_stops
        T-number, exposure index, frames a second, ND [stops]; ND counts as none unless it alone is
        missing or asked for.
    shutter_angle_deg, exposure_time_s
        The shutter, one way or the other.
    lux, luminance_cd_m2
        The light by an incident meter, or by a reflected one.
    flash_lux_s
        A flash within the exposure [lux s].
    incident_c, reflected_k
        The meter's constant: C, 240 to 540, 250 if not given; K, 10.6 to 14, 12.5 if not given. K
        alone says that a luminance is meant where the light is what is missing.
    meter_percent
        The meter's error, one standard deviation; it gives the answer a 90 % band.
    find
        ``t-stop``, ``ei``, ``shutter``, ``fps``, ``nd``, ``light`` or ``flash``, where it is not
        plain which is missing.

    Returns
    -------
    ExposureAnswer
        Which ``term`` it is, its ``value`` with its interval, and all terms complete.

    Raises
    ------
    InputError
        If too little or too much is known, or no value of the term gives the exposure.

    Examples
    --------
    >>> import wbplan
    >>> answer = wbplan.solve_exposure(ei=800, fps=24, shutter_angle_deg=180, lux=147)
    >>> answer.term, round(answer.value.value, 2)
    ('t-stop', 3.13)
    """
    _check(shutter_angle_deg, 0.0, 360.0, "shutter_angle_deg")
    _check(nd_stops, 0.0, 30.0, "nd_stops")
    _check(meter_percent, 0.0, 50.0, "meter_percent")
    _check(incident_c, 240.0, 540.0, "incident_c")
    _check(reflected_k, 10.6, 14.0, "reflected_k")
    light, constant = lux, incident_c or FLAT_RECEPTOR_C
    if luminance_cd_m2 is not None or reflected_k is not None:
        if lux is not None or incident_c is not None:
            raise InputError("a reflected and an incident reading", "lux with C, or cd/m2 with K")
        if flash_lux_s is not None:
            found = "a reflected reading with a flash"
            raise InputError(found, "lux and lux seconds, both incident")
        light, constant = luminance_cd_m2, reflected_k or REFLECTED_K
    terms = ExposureTerms(
        t_stop=None if t_stop is None else find_engraved_stop(t_stop),
        ei=ei,
        exposure_time_s=exposure_time_s,
        shutter_angle_deg=shutter_angle_deg,
        fps=fps,
        nd_stops=nd_stops,
        light=light,
        flash_lux_s=flash_lux_s,
        calibration=constant,
        meter_percent=meter_percent,
    )
    return solve_term(terms, find)


def find_safe_shutters(
    fps: float,
    light_hz: float,
    shutter_angle_deg: float | None = None,
    exposure_time_s: float | None = None,
    depth_percent: float | None = None,
    waveform: Waveform = "sine",
    duty_percent: float | None = None,
    readout_s: float | None = None,
) -> FlickerAnswer:
    """Find shutters that a flickering light does not show in, and what the wanted one leaves.

    Parameters
    ----------
    fps, light_hz
        Frames a second, and the light's own frequency [Hz]: twice that of the mains.
    shutter_angle_deg, exposure_time_s
        The wanted shutter, one way or the other.
    depth_percent
        (max - min) / (max + min) [%]; taken as 100 if not given.
    waveform, duty_percent
        ``sine``, ``square`` or ``rectified``, and how much of a period a square is on [%].
    readout_s
        First row to last of a rolling shutter; the frame time if not given, 0 for a global one.

    Raises
    ------
    InputError
        For a figure outside what a camera or a lamp can have, with its name.

    Examples
    --------
    >>> import wbplan
    >>> answer = wbplan.find_safe_shutters(fps=24, light_hz=100, shutter_angle_deg=180)
    >>> round(1 / answer.safe_time_s), round(answer.ripple_stops, 2)
    (50, 0.11)
    """
    _check(shutter_angle_deg, 0.0, 360.0, "shutter_angle_deg")
    _check(depth_percent, 0.0, 100.0, "depth_percent")
    _check(light_hz, 1.0, _MOST_FLICKER_HZ, "light_hz")
    _check(duty_percent, 0.1, 99.9, "duty_percent")
    if waveform not in WAVEFORMS:
        found = f"'{waveform}'"
        raise InputError(found, describe_choices(waveform, WAVEFORMS), Place(field="waveform"))
    if duty_percent is not None and waveform != "square":
        found = f"a duty with waveform {waveform}"
        raise InputError(found, "a duty with waveform square", Place(field="duty_percent"))
    if shutter_angle_deg is None and exposure_time_s is None:
        raise InputError("no shutter", "its angle or its time", Place(field="shutter_angle_deg"))
    _check(exposure_time_s, 0.0, (1 + 1e-9) / fps, "exposure_time_s")
    time = exposure_time_s or float(find_exposure_time_s(shutter_angle_deg or 0.0, fps))
    flicker = Flicker(
        light_hz,
        1.0 if depth_percent is None else depth_percent / 100.0,
        waveform,
        (duty_percent or 50.0) / 100.0,
        is_assumed=depth_percent is None,
    )
    readout = 1 / fps if readout_s is None else readout_s
    return answer_flicker("light", flicker, fps, time, readout)


def find_nd_packs(
    stops: float,
    glass: Iterable[float] = (),
    camera_nd: Iterable[float] = (),
    most: int = 3,
) -> tuple[Pack, ...]:
    """Find the packs of ND in a kit that come within a sixth of a stop, fewest pieces first.

    Parameters
    ----------
    stops
        The wanted loss [stops].
    glass
        Densities of the pieces, each as often as it is there.
    camera_nd
        Steps of the camera's own ND [stops].
    most
        Pieces at once.

    Examples
    --------
    >>> import wbplan
    >>> packs = wbplan.find_nd_packs(5, glass=[0.3, 0.6, 0.9, 1.2])
    >>> packs[0].glass, round(packs[0].miss_stops, 2)
    (('ND 0.6', 'ND 0.9'), -0.02)
    """
    densities, steps = tuple(glass), tuple(camera_nd)
    if not densities and not steps:
        raise InputError(
            "an empty kit", "glass, the camera's own ND, or both", Place(field="glass")
        )
    kinds = Counter(densities)
    for figures, name in ((kinds, "glass"), (set(steps), "camera_nd")):
        if len(figures) > MOST_PIECES_IN_KIT:
            found = f"{len(figures)} kinds"
            raise InputError(found, f"at most {MOST_PIECES_IN_KIT}", Place(field=name))
    pieces = tuple(
        Piece(f"ND {density:g}", density * STOPS_PER_DENSITY, count)
        for density, count in kinds.items()
    )
    return find_packs(Kit(pieces, steps, most), stops)


def _check(value: float | None, low: float, high: float, field: str) -> None:
    if value is not None and not (low <= value <= high and math.isfinite(value)):
        raise InputError(f"{value:g}", f"a number from {low:g} to {high:g}", Place(field=field))
