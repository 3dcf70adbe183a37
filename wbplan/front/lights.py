"""Lights found, read and described in one call each."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import view_camera
from wbplan.core.band import BAND_SHARE, check_band
from wbplan.core.errors import InputError
from wbplan.core.progress import Progress, keep_rising, take_part
from wbplan.description.lights import LightSet, describe_lights
from wbplan.front.cameras import take_camera
from wbplan.light.filters import Filter, make_measured_filter, stack_filters
from wbplan.light.spectrum import Reading, Spectrum, normalise_peak
from wbplan.read import gather

LightLike = Spectrum | str | os.PathLike[str]
"""A spectrum, or what names one."""


def find_light(name: str | os.PathLike[str]) -> Spectrum:
    """Find one light by name.

    Parameters
    ----------
    name
        A tabulated source (``FL11``, ``LED-B3``; `list_known` lists them), a formula
        (``daylight-5600K``, ``black-body-3200K``), a file of one light, ``FILE:COLUMN``, or
        ``SCENARIO.yaml:SOURCE``.

    Returns
    -------
    Spectrum
        Relative power.

    Raises
    ------
    InputError
        For a name that is none of these, or a file that cannot be used.

    Examples
    --------
    >>> import wbplan
    >>> light = wbplan.find_light("daylight-5600K")
    >>> light.name, light.is_model, light.values.shape
    ('CIE daylight 5600 K', True, (401,))
    >>> wbplan.find_light("LED-B33")
    Traceback (most recent call last):
    wbplan.core.errors.UnknownNameError: found the light 'LED-B33'; allowed: a file or folder, \
SCENARIO.yaml:SOURCE, a source (did you mean 'LED-B3' or 'LED-B5' or 'LED-B4'?), daylight-5600K \
or black-body-3200K
    """
    return _name_spectrum(gather.find_light(os.fspath(name)))


def read_spectra(
    files: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
    column: str | int | None = None,
    progress: Progress | None = None,
) -> tuple[Spectrum, ...]:
    """Read the lights of files, folders and scenarios.

    Parameters
    ----------
    files
        Files of spectra of any layout or IES TM-27, folders of them, scenario files (their
        sources), or what `find_light` takes.
    column
        The curve to take of each file, by label or number; all of them if not given.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    tuple of Spectrum
        In order; relative power, with ``illuminance_lux`` where the file states it. Their values
        stack to what `solve_settings` takes.

    Raises
    ------
    InputError
        For a file that cannot be used, one in a folder too: nothing is passed over.

    Examples
    --------
    >>> import wbplan
    >>> [light.name for light in wbplan.read_spectra(["LED-B3", "black-body-3200K"])]
    ['LED-B3', 'black body 3200 K']
    """
    readings, refused = gather.gather_lights(_list_names(files), column, keep_rising(progress))
    if refused:
        file, reason = refused[0]
        raise InputError(f"{file}, which is refused ({reason})", "a folder of files of spectra")
    return tuple(_name_spectrum(each) for each in readings)


def describe(
    lights: LightLike | Iterable[LightLike],
    camera: str | Camera | None = None,
    against: LightLike | None = None,
    behind: Iterable[str | Spectrum] = (),
    column: str | int | None = None,
    band: float = BAND_SHARE,
    progress: Progress | None = None,
) -> LightSet:
    """Describe lights: colour, rendering, similarity, and what a camera makes of them.

    Parameters
    ----------
    lights
        Spectra, files of spectra, folders of them, scenario files (their sources), or what
        `find_light` takes; one or several.
    camera
        A profile, by value, name or path, for what that camera makes of each light.
    against
        A light that each is compared with.
    behind
        Filters to describe each light behind as well, one behind the other: spectra of
        transmittance, files of it, or ``warm:42``, ``cool:80``, ``green:15``, ``magenta:7.5``,
        ``nd:1``.
    column
        The curve to take of each file, by label or number; all of them if not given.
    band
        The share of plausible cameras that every interval is to hold, 0.5 to 0.99.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    LightSet
        Every figure unrounded; nothing is written.

    Raises
    ------
    InputError
        For anything that cannot be read, with its place, what was found and what is allowed.

    Examples
    --------
    >>> import wbplan
    >>> found = wbplan.describe(["FL2", "LED-B3"], camera="cfa-mid")
    >>> found.eye.cct_kelvin.round(), found.eye.cie.ra.round()
    (array([4223., 4103.]), array([64., 85.]))
    >>> round(found.lights[1].camera.wanted.kelvin.value, -1), found.lights[1].camera.trouble
    (4000.0, '')
    """
    check_band(band)
    view = None
    if camera is not None:
        view = replace(view_camera(take_camera(camera)), band_share=band)
    other = None if against is None else _take_light(against)
    filters = [_take_filter(each) for each in behind]
    pack = stack_filters(tuple(filters)) if filters else None
    readings, refused = _gather(lights, column, keep_rising(progress))
    try:
        return describe_lights(readings, view, other, pack, refused)
    except ValueError as error:
        raise InputError(str(error), "a filter that lets some light through") from None


def _gather(
    lights: LightLike | Iterable[LightLike], column: str | int | None, progress: Progress | None
) -> tuple[tuple[Reading, ...], tuple[tuple[str, str], ...]]:
    if isinstance(lights, Spectrum | str | os.PathLike):
        lights = [lights]
    each_light = list(lights)
    found: list[Reading] = []
    refused: list[tuple[str, str]] = []
    for row, light in enumerate(each_light):
        if isinstance(light, Spectrum):
            found.append(_take_light(light))
            continue
        part = take_part(progress, row / len(each_light), (row + 1) / len(each_light))
        readings, more = gather.gather_lights([os.fspath(light)], column, part)
        found += readings
        refused += more
        if len(found) > gather.MOST_LIGHTS:
            break
    if len(found) > gather.MOST_LIGHTS:
        most = gather.MOST_LIGHTS
        raise InputError(f"over {most} lights", f"at most {most} in one call")
    if not found:
        raise InputError("no light", "one or more")
    return tuple(found), tuple(refused)


def _list_names(files: str | os.PathLike[str] | Iterable[str | os.PathLike[str]]) -> list[str]:
    if isinstance(files, str | os.PathLike):
        files = [files]
    return [os.fspath(each) for each in files]


def _take_light(light: LightLike) -> Reading:
    if not isinstance(light, Spectrum):
        return gather.find_light(os.fspath(light))
    if light.values.max() <= 0:
        raise InputError(f"'{light.name}', a spectrum without light", "some light")
    relative = normalise_peak(light)
    name = light.name or "light"
    return Reading(name, relative, light.illuminance_lux, light.origin or "given in Python")


def _take_filter(given: str | Spectrum) -> Filter:
    if not isinstance(given, Spectrum):
        return gather.read_filter([os.fspath(given)])
    if given.values.max() > 1.0:
        found = f"a transmittance of up to {given.values.max():.3g}"
        raise InputError(found, "values from 0 to 1")
    return make_measured_filter(given)


def _name_spectrum(reading: Reading) -> Spectrum:
    return replace(reading.spectrum, name=reading.name, illuminance_lux=reading.illuminance_lux)


def name_light(name: str) -> str:
    """Name a light without the folders of the scenario that it comes from."""
    file, colon, source = name.rpartition(":")
    return f"{source.strip()} of {Path(file).stem}" if colon and Path(file).suffix else name
