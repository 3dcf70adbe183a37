"""One missing term of an exposure from the rest of them.

A crew knows all but one of stop, exposure index, shutter, frame rate, ND, light and flash. Here the
known ones are taken as they are said (a shutter by its time or its angle and frame rate, a light
by illuminance or luminance), the missing one is told, or named, and solved with `equation`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from wbplan.core.band import BAND_SHARE
from wbplan.core.errors import InputError, describe_choices
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.exposure.equation import (
    FLAT_RECEPTOR_C,
    find_exposure_time_s,
    find_needed_lux_s,
    solve_ei,
    solve_exposure_time_s,
    solve_flash_lux_s,
    solve_fps,
    solve_illuminance_lux,
    solve_nd_stops,
    solve_t_stop,
)
from wbplan.exposure.plausible import doubt_exposure, doubt_lux, doubt_t_stop

_LEAST_INCIDENT_C = 240.0  # ISO 2720:1974; constants of reflected meters end at 14
_FIELDS = {
    "t-stop": "t_stop",
    "ei": "ei",
    "shutter": "exposure_time_s",
    "fps": "fps",
    "nd": "nd_stops",
    "light": "light",
    "flash": "flash_lux_s",
}
TERMS = tuple(_FIELDS)
# Each with the parameter that it solves, the one that it does not take.
_SOLVERS: dict[str, tuple[Callable[..., Array], str]] = {
    "t-stop": (solve_t_stop, "t_stop"),
    "ei": (solve_ei, "ei"),
    "shutter": (solve_exposure_time_s, "exposure_time_s"),
    "nd": (solve_nd_stops, "nd_stops"),
    "light": (solve_illuminance_lux, "illuminance_lux"),
    "flash": (solve_flash_lux_s, "flash_lux_s"),
}


@dataclass(frozen=True)
class ExposureTerms:
    """What is known of an exposure; None is not known.

    ``light`` is illuminance [lux] with ``calibration`` C, or luminance [cd/m2] with K;
    ``flash_lux_s`` counts within the exposure. ``meter_percent`` is the meter's error, one standard
    deviation, on light and flash together [%].
    """

    t_stop: float | None = None
    ei: float | None = None
    exposure_time_s: float | None = None
    shutter_angle_deg: float | None = None
    fps: float | None = None
    nd_stops: float | None = None
    light: float | None = None
    flash_lux_s: float | None = None
    calibration: float = FLAT_RECEPTOR_C
    meter_percent: float = 0.0


@dataclass(frozen=True)
class ExposureAnswer:
    """The missing term with its 90 % interval, and all terms complete.

    ``term`` is one of `TERMS`, or ``level`` where nothing was missing: then ``value`` is by how
    many stops the exposure lies over middle grey. A shutter's value is its time [s].
    ``notes`` doubt figures that nobody would mean.
    """

    term: str
    value: Interval
    terms: ExposureTerms
    notes: tuple[Note, ...] = ()


def find_missing_term(terms: ExposureTerms) -> str:
    """Tell which term is missing; ``nd`` where it alone is, ``level`` where none is.

    Raises
    ------
    InputError
        If more than one is, with their names.
    """
    known = _know_time(terms)
    missing = [
        name for name, value in (("t-stop", known.t_stop), ("ei", known.ei)) if value is None
    ]
    if known.light is None and known.flash_lux_s is None:
        missing.append("light")
    if known.exposure_time_s is None and not (known.light is None and known.flash_lux_s):
        missing.append("fps" if known.shutter_angle_deg is not None else "shutter")
    if len(missing) > 1:
        found = f"{', '.join(missing[:-1])} and {missing[-1]} missing"
        raise InputError(found, "one missing term, so that the others give it")
    if missing:
        return missing[0]
    return "nd" if known.nd_stops is None else "level"


def _know_time(terms: ExposureTerms) -> ExposureTerms:
    """Work out the exposure time from angle and frame rate where both are known."""
    angle, fps, time = terms.shutter_angle_deg, terms.fps, terms.exposure_time_s
    if time is not None and angle is not None:
        raise InputError("a shutter by time and by angle", "one of them, the angle with a rate")
    if time is not None and fps is not None and time > (1 + 1e-9) / fps:
        found = f"an exposure of {time:g} s"
        raise InputError(found, f"at most one frame, {1 / fps:.6g} s at {fps:g} fps")
    if angle is not None and fps is not None:
        return replace(terms, exposure_time_s=float(find_exposure_time_s(angle, fps)))
    return terms


def solve_term(terms: ExposureTerms, wanted: str | None = None) -> ExposureAnswer:
    """Solve the missing term.

    Parameters
    ----------
    terms
        The known ones; ND that is not known counts as none unless it is the one to solve.
    wanted
        One of `TERMS`, to name the term; by default the one that is missing.

    Returns
    -------
    ExposureAnswer
        With the interval that the meter's error leaves.

    Raises
    ------
    InputError
        If too little or too much is known, or no value of the term gives the exposure.
    """
    known = _know_time(terms)
    if wanted is not None and wanted not in TERMS:
        raise InputError(f"the term '{wanted}'", describe_choices(wanted, TERMS))
    term = wanted or find_missing_term(terms)
    if term not in ("nd", "level") and known.nd_stops is None:
        known = replace(known, nd_stops=0.0)
    known = _check_known(term, known)
    spread = NormalDist().inv_cdf((1 + BAND_SHARE) / 2) * known.meter_percent / 100.0
    figures = []
    for factor in (1.0, max(1.0 - spread, 1e-3), 1.0 + spread):
        light = None if known.light is None else known.light * factor
        flash = None if known.flash_lux_s is None else known.flash_lux_s * factor
        figures.append(_solve(term, replace(known, light=light, flash_lux_s=flash)))
    value = figures[0]
    if not np.isfinite(value):
        raise InputError(*_explain_impossible(term, known))
    ends = [each if np.isfinite(each) else value for each in figures]
    done = known if term == "level" else replace(known, **{_FIELDS[term]: value})
    done = _know_time(done) if term == "fps" else done
    return ExposureAnswer(term, Interval(value, min(ends), max(ends)), done, _doubt(done))


def _doubt(terms: ExposureTerms) -> tuple[Note, ...]:
    notes = doubt_exposure(terms.ei, terms.fps, terms.exposure_time_s)
    if terms.t_stop is not None:
        notes += doubt_t_stop(terms.t_stop, "stop")
    is_incident = terms.calibration >= _LEAST_INCIDENT_C
    return notes + (doubt_lux(terms.light, "light") if terms.light and is_incident else ())


def _check_known(term: str, known: ExposureTerms) -> ExposureTerms:
    """Refuse what is needed and not known, or is asked for and known."""
    if term in _FIELDS and getattr(known, _FIELDS[term]) is not None:
        raise InputError(f"{term} both given and asked for", "one of the two")
    if term == "shutter" and known.shutter_angle_deg is not None:
        raise InputError("shutter both given and asked for", "one of the two")
    needs = {"t-stop": known.t_stop, "ei": known.ei}
    if term == "fps":
        needs["a shutter angle"] = known.shutter_angle_deg
    elif term != "shutter" and not (known.light is None and known.flash_lux_s is not None):
        needs["shutter"] = known.exposure_time_s
    if term != "light":
        needs["light"] = known.light if term == "flash" else _sum_light(known)
        if term == "flash" and known.light is None:
            needs["light"] = 0.0
            known = replace(known, light=0.0)
    if term in ("shutter", "fps"):
        needs["light"] = known.light
    if term == "light":
        needs["shutter"] = known.exposure_time_s
    absent = [name for name, value in needs.items() if value is None and name != term]
    if absent:
        raise InputError(f"no {' and no '.join(absent)}", f"all that gives {term}")
    return known


def _sum_light(known: ExposureTerms) -> float | None:
    if known.light is None and known.flash_lux_s is None:
        return None
    return (known.light or 0.0) + (known.flash_lux_s or 0.0)


def _solve(term: str, known: ExposureTerms) -> float:
    """Solve one term; what does not count, and is not known, is 0."""
    if term == "fps":
        return float(solve_fps(known.shutter_angle_deg or 0.0, _solve("shutter", known)))
    if term == "level":
        return _solve("nd", known) - (known.nd_stops or 0.0)
    given = {
        "illuminance_lux": known.light or 0.0,
        "ei": known.ei or 0.0,
        "exposure_time_s": known.exposure_time_s or 0.0,
        "t_stop": known.t_stop or 0.0,
        "nd_stops": known.nd_stops or 0.0,
        "flash_lux_s": known.flash_lux_s or 0.0,
    }
    solve, own = _SOLVERS[term]
    del given[own]
    value = float(solve(**given, calibration_c=known.calibration))
    return np.nan if value == 0 and term in ("t-stop", "shutter") else value


def _explain_impossible(term: str, known: ExposureTerms) -> tuple[str, str]:
    needed = float(
        find_needed_lux_s(
            known.ei or 1.0, known.t_stop or 1.0, known.nd_stops or 0.0, known.calibration
        )
    )
    if term in ("light", "shutter", "fps") and (known.flash_lux_s or 0.0) >= needed > 0:
        over = np.log2((known.flash_lux_s or 0.0) / needed)
        return (f"a flash that alone lies {over:.1f} stops over", f"at most {needed:.4g} lux s")
    if term == "flash":
        steady = (known.light or 0.0) * (known.exposure_time_s or 0.0)
        over = np.log2(steady / needed)
        return (f"steady light that alone lies {over:.1f} stops over", "a smaller stop, or ND")
    return "no light", "some light, from which the rest can follow"
