"""Cameras found, learned and asked for their settings in one call each."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.learn.verdict import Teaching, teach
from wbplan.camera.neutralisable import find_trouble
from wbplan.camera.sensitivities import Camera, find_log2_response, respond
from wbplan.camera.setting import solve_coordinates, view_camera
from wbplan.core.band import check_band
from wbplan.core.errors import InputError, Place
from wbplan.core.ledger import Ledger
from wbplan.core.progress import Progress, keep_rising, tell
from wbplan.core.tables import Array
from wbplan.front.memory import write_out
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum
from wbplan.lut.recipes import view_plainly
from wbplan.read import catalogue
from wbplan.read.lesson import read_lesson
from wbplan.report.camera.files import build_profile_files

LESSON_NAME = "lesson.yaml"
_AT_ONCE = 256  # lights, times the family's members: what stays in a processor's memory


def find_camera(name: str | os.PathLike[str]) -> Camera:
    """Find a camera profile by its shipped name, or read it from a file.

    Parameters
    ----------
    name
        A name that `list_known` lists, or a path that ends in ``.yaml``.

    Raises
    ------
    InputError
        For a name that is neither, or a file that cannot be used.

    Examples
    --------
    >>> import wbplan
    >>> camera = wbplan.find_camera("cfa-mid")
    >>> camera.sensitivities.shape, camera.base_ei, camera.menu.kelvin[:3]
    ((401, 3), 800.0, (1800.0, 1850.0, 1900.0))
    """
    return catalogue.find_camera(os.fspath(name), Path())


def take_camera(camera: str | os.PathLike[str] | Camera) -> Camera:
    """Take a camera as it is, or find the one that is named."""
    return camera if isinstance(camera, Camera) else find_camera(camera)


@dataclass(frozen=True, eq=False)
class LearnedCamera:
    """A camera that was learned: the profile as it is written, and all that is to be said of it."""

    camera: Camera
    teaching: Teaching


def learn(
    lesson: str | os.PathLike[str] | Mapping[str, Any], progress: Progress | None = None
) -> LearnedCamera:
    """Learn a camera's curves from chart frames, grey readings, settings or published matrices.

    Parameters
    ----------
    lesson
        Path of a lesson file, or a mapping with its fields, in which a `Spectrum` may stand for a
        light, a `Camera` for ``start``, an array (n, 3) of raw values for ``patches`` (a row a
        patch, in the chart's order) and an array of pixels for ``still``.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    LearnedCamera
        Its ``camera`` is what every other call takes; `write` writes it as a profile.

    Raises
    ------
    InputError
        For a lesson that cannot be used, with its place.

    Examples
    --------
    Grey as a known camera gives it under three lights. The mean widths of the 90 % band under
    discharge and LED light, before and after [mired], say how much three greys teach:

    >>> import wbplan
    >>> truth = wbplan.find_camera("nikon-d5100")
    >>> greys = []
    >>> for name in ("A", "D55", "FL11"):
    ...     light = wbplan.find_light(name)
    ...     greys.append({"light": light, "raw": light.values @ truth.sensitivities})
    >>> learned = wbplan.learn({"title": "Mine", "start": "cfa-mid", "neutrals": greys})
    >>> learned.camera.name, learned.camera.members.shape
    ('lesson', (256, 401, 3))
    >>> round(learned.teaching.width_before[0]), round(learned.teaching.width_after[0])
    (25, 19)
    """
    rising = keep_rising(progress)
    tell(rising, 0.0, "the lesson's frames")
    if isinstance(lesson, Mapping):
        files, pictures = write_out({"wbplan_lesson": 1, **lesson}, LESSON_NAME, "lesson")
        with Ledger(given=files).scope("lesson", Path()):
            try:
                read = read_lesson(Path(LESSON_NAME), pictures)
            except InputError as error:
                if error.place.file != LESSON_NAME:
                    raise
                raise error.at(Place(field=error.place.field)) from None
    else:
        read = read_lesson(Path(lesson))
    tell(rising, 0.1, "the camera's curves")
    teaching = teach(read)
    tell(rising, 0.9, "the profile")
    files = {f"learned/{name}": data for name, data in build_profile_files(teaching).items()}
    with Ledger(given=files).scope("learned", Path()):
        try:
            camera = catalogue.find_camera(f"{read.name}.yaml", Path())
        except InputError as error:
            found = f"frames from which this was learned: {error.found}"
            raise InputError(
                found, "frames that tell more, of a chart or of other lights"
            ) from None
    tell(rising, 1.0, "the profile")
    return LearnedCamera(camera, teaching)


@dataclass(frozen=True, eq=False)
class Settings:
    """What a camera wants under n lights, exact, before its menu rounds it.

    ``kelvin`` and ``tint_cc`` (+ adds magenta) are (n,), the ends of their intervals likewise, None
    without a band. Where no setting neutralises a light all of them are NaN, and ``trouble`` says
    why; it is an empty text elsewhere.
    """

    kelvin: Array
    tint_cc: Array
    trouble: tuple[str, ...]
    kelvin_low: Array | None = None
    kelvin_high: Array | None = None
    tint_cc_low: Array | None = None
    tint_cc_high: Array | None = None


def solve_settings(
    camera: str | os.PathLike[str] | Camera,
    spectra: ArrayLike | Spectrum | Iterable[Spectrum],
    band: float | None = None,
    progress: Progress | None = None,
) -> Settings:
    """Solve the Kelvin and tint that a camera wants under each of many lights, all in one go.

    Parameters
    ----------
    camera
        A profile, by value, name or path.
    spectra
        (n, 401) relative power from 380 to 780 nm in steps of 1 nm, one such row, or `Spectrum`
        values; any scale.
    band
        The share of plausible cameras that the intervals are to hold, 0.5 to 0.99. Without it only
        the profile's own curves are asked, which is some hundred times the work less.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    Settings
        NaN where no setting neutralises a light (nothing there, almost a single line, a channel
        more than 6 stops short, or past 1000 to 25 000 K), never the nearest end of the scale; the
        reason stands in ``trouble``. An interval counts a plausible camera for which a light lies
        past the scale with the scale's end.

    Raises
    ------
    InputError
        For an array of another shape, or one that holds a negative value, NaN or infinity.

    Examples
    --------
    >>> import wbplan
    >>> lights = wbplan.read_spectra(["FL2", "LED-B3", "sodium-low-pressure-1700k"])
    >>> found = wbplan.solve_settings("cfa-mid", lights, band=0.9)
    >>> found.kelvin.round(-1), found.tint_cc.round(1)
    (array([4130., 4000.,   nan]), array([2.4, 1. , nan]))
    >>> found.kelvin_low.round(-1), found.kelvin_high.round(-1)
    (array([3850., 3780.,   nan]), array([4350., 4140.,   nan]))
    >>> found.trouble[2]
    'almost a single line (7 nm wide): greys may be balanced, colours cannot be seen'
    """
    power = _stack(spectra)
    if band is not None:
        check_band(band)
    known = take_camera(camera)
    view = view_plainly(known) if band is None else view_camera(known)
    rising = keep_rising(progress)
    raw = find_log2_response(respond(power, view.profile.sensitivities[None]))
    own = solve_coordinates(view.locus, raw)
    trouble = tuple(find_trouble(power, raw[:, 0], own, view.locus))
    fine = np.array([not each for each in trouble], dtype=bool)
    mired = np.where(fine, own.mired[:, 0], np.nan)
    tint = np.where(fine, own.tint_cc[:, 0], np.nan)
    if band is None:
        tell(rising, 1.0, f"{len(power)} lights")
        return Settings(_lock(1e6 / mired), _lock(tint), trouble)
    low, high = np.stack([mired, tint]), np.stack([mired, tint])
    for start in range(0, len(power) if view.member_locus is not None else 0, _AT_ONCE):
        rows = slice(start, start + _AT_ONCE)
        assert view.member_locus is not None
        drawn = solve_coordinates(
            view.member_locus, find_log2_response(respond(power[rows], view.members))
        )
        shares = [(1 - band) / 2, (1 + band) / 2]
        for row, draws in enumerate((drawn.mired, drawn.tint_cc)):
            ends = np.quantile(draws, shares, axis=1)
            low[row, rows] = np.minimum(low[row, rows], ends[0])
            high[row, rows] = np.maximum(high[row, rows], ends[1])
        done = min(start + _AT_ONCE, len(power))
        tell(rising, done / len(power), f"{done} of {len(power)} lights")
    return Settings(
        kelvin=_lock(1e6 / mired),
        tint_cc=_lock(tint),
        trouble=trouble,
        kelvin_low=_lock(1e6 / high[0]),
        kelvin_high=_lock(1e6 / low[0]),
        tint_cc_low=_lock(low[1]),
        tint_cc_high=_lock(high[1]),
    )


def _stack(spectra: ArrayLike | Spectrum | Iterable[Spectrum]) -> Array:
    if isinstance(spectra, Spectrum):
        spectra = [spectra]
    if not isinstance(spectra, np.ndarray):
        rows = list(spectra)  # type: ignore[arg-type]
        spectra = np.array([row.values if isinstance(row, Spectrum) else row for row in rows])
    power = np.atleast_2d(np.asarray(spectra, dtype=np.float64))
    if power.ndim != 2 or power.shape[1] != WAVELENGTHS_NM.size or not len(power):
        found = f"an array of shape {power.shape}"
        allowed = f"(n, {WAVELENGTHS_NM.size}): 380 to 780 nm in steps of 1 nm"
        raise InputError(found, allowed, Place(field="spectra"))
    odd = ~np.isfinite(power).all(axis=1) | (power < 0).any(axis=1)
    if odd.any():
        found = f"a negative value, NaN or infinity in row {int(odd.argmax())}"
        raise InputError(found, "power of 0 or more", Place(field="spectra"))
    return power


def _lock(values: Array) -> Array:

    values.flags.writeable = False
    return values
