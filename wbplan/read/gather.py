"""From what a person names on the command line to lights: files, folders, datasets, formulas.

A name is tried in this order: a folder (every reading in it), a scenario's YAML file (its sources),
a file, a formula such as ``daylight-5600K`` or ``black-body-3200K``, a tabulated source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from wbplan.core.errors import InputError, UnknownNameError, describe_choices
from wbplan.core.files import show_value
from wbplan.core.notes import warn
from wbplan.core.progress import Progress, follow
from wbplan.light.filters import (
    Filter,
    make_ideal_filter,
    make_measured_filter,
    make_neutral_density,
)
from wbplan.light.filters import stack_filters as stack
from wbplan.light.illuminants import (
    DAYLIGHT_RANGE_KELVIN,
    LOCUS_RANGE_KELVIN,
    radiate_black_body,
    radiate_daylight,
)
from wbplan.light.spectrum import Reading, Spectrum
from wbplan.read.catalogue import find_source, list_usable_sources, match_name
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.spectra.files import SPECTRUM_SUFFIXES, read_curve, read_lights

MOST_LIGHTS: Final = 5000
_FORMULA: Final = re.compile(r"(black[-_ ]?body|daylight)[-_ ]?([0-9]+(?:\.[0-9]+)?)\s*k", re.I)
_SHIFTS: Final = ("warm", "cool", "green", "magenta", "nd")
_YAML: Final = (".yaml", ".yml")


def gather_lights(
    names: Iterable[str], column: str | int | None = None, progress: Progress | None = None
) -> tuple[tuple[Reading, ...], tuple[tuple[str, str], ...]]:
    """Gather the lights that names stand for.

    Parameters
    ----------
    column
        Picks one curve of each file by its label or number.
    progress
        Is told how far it is through the files of a folder.

    Returns
    -------
    tuple
        The lights, and the files of folders that were refused, each with the reason. A file that
        was named by itself is never passed over.

    Raises
    ------
    InputError
        A name that is nothing, a file that is refused, a folder with no reading in it.
    """
    found: list[Reading] = []
    refused: list[tuple[str, str]] = []
    for name in names:
        path = Path(name)
        if not name:
            found.append(find_light(name))
        elif _is(path, Path.is_dir):
            found += _read_folder(path, column, progress, refused)
        elif path.suffix.lower() in _YAML:
            found += _read_scenario_sources(path)
        elif _is(path, Path.exists) or path.suffix.lower() in SPECTRUM_SUFFIXES:
            found += read_lights(path, column)
        else:
            found.append(find_light(name))
        if len(found) > MOST_LIGHTS:
            raise InputError(f"over {MOST_LIGHTS} lights", f"at most {MOST_LIGHTS} in one call")
    return tuple(found), tuple(refused)


def _is(path: Path, test: Callable[[Path], bool]) -> bool:
    try:
        return test(path)
    except (OSError, ValueError):  # a name that no file can have
        return False


def _read_folder(
    folder: Path,
    column: str | int | None,
    progress: Progress | None,
    refused: list[tuple[str, str]],
) -> list[Reading]:
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        said = f"the folder {folder}, which cannot be read ({error.strerror})"
        raise InputError(said, "a folder that can be read") from None
    files = [
        each
        for each in entries
        if each.suffix.lower() in SPECTRUM_SUFFIXES and not each.name.startswith(".")
    ]
    found: list[Reading] = []
    for path in follow(files, progress, "files"):
        try:
            found += read_lights(path, column)
        except InputError as error:
            refused.append((path.name, str(error)))
    if not found:
        why = f"; {len(refused)} refused, the first: {refused[0][1]}" if refused else ""
        listed = ", ".join(SPECTRUM_SUFFIXES)
        raise InputError(f"no reading in the folder {folder}{why}", f"files of spectra ({listed})")
    return found


def _read_scenario_sources(path: Path) -> list[Reading]:
    result: dict[str, Reading] = {}
    scenario = read_scenario(path)
    for setup in scenario.setups:
        for source in setup.sources:
            several = source.name in result and (
                result[source.name].spectrum.values.tobytes() != source.spectrum.values.tobytes()
            )
            name = f"{source.name} ({setup.name})" if several else source.name
            spectrum = source.spectrum
            if scenario.invented:
                note = warn("invented", "invented demonstration data: nobody measured this light")
                spectrum = replace(spectrum, notes=(*spectrum.notes, note))
            result[name] = Reading(name, spectrum, understood=spectrum.origin, file=path.name)
    return list(result.values())


def find_scenario_light(file: str, name: str) -> Reading:
    """Find one source of a scenario file by its name, as it is at its setup's time.

    Raises
    ------
    InputError
        For a file that is refused, or a name that none of its sources has.
    """
    known = {each.name: each for each in _read_scenario_sources(Path(file))}
    return known[match_name(name.strip(), known, f"source in {Path(file).name},")]


def find_light(name: str) -> Reading:
    """Find one light by a formula or a tabulated source's name, or read a file with one curve.

    Raises
    ------
    InputError
        A name that is none of these, a Kelvin outside the formula, a file with several lights.
    """
    path = Path(name)
    if _is(path, Path.is_file) or path.suffix.lower() in SPECTRUM_SUFFIXES:
        lights = read_lights(path)
        if len(lights) > 1:
            found = f"{name} with {len(lights)} lights"
            raise InputError(found, "a file with one light, or FILE:COLUMN")
        return lights[0]
    stem, _, column = name.rpartition(":")
    if Path(stem).suffix.lower() in _YAML:
        return find_scenario_light(stem, column)
    if stem and _is(Path(stem), Path.is_file):
        return read_lights(stem, int(column) if column.isdigit() else column)[0]
    formula = _FORMULA.fullmatch(name.strip())
    if formula:
        return _make_formula(formula[1], float(formula[2]))
    try:
        source = find_source(name)
    except UnknownNameError:
        known = [each.name for each in list_usable_sources()]
        allowed = (
            f"a file or folder, SCENARIO.yaml:SOURCE, a source ({describe_choices(name, known)}), "
            "daylight-5600K or black-body-3200K"
        )
        raise UnknownNameError(f"the light {show_value(name)}", allowed) from None
    return Reading(source.name, source, understood=f"tabulated: {source.origin}")


def _make_formula(kind: str, kelvin: float) -> Reading:
    is_day = kind.casefold() == "daylight"
    low, high = DAYLIGHT_RANGE_KELVIN if is_day else LOCUS_RANGE_KELVIN
    if not low <= kelvin <= high:
        what = "daylight" if is_day else "black body"
        raise InputError(f"{what} of {kelvin:g} K", f"{low:g} to {high:g} K")
    power = radiate_daylight(kelvin) if is_day else radiate_black_body(kelvin)
    said = f"{'CIE daylight' if is_day else 'black body'} {kelvin:g} K"
    origin = "CIE 15:2018 daylight" if is_day else "Planck's law"
    return Reading(said, Spectrum(power, said, origin, is_model=True), understood=origin)


def read_filter(words: Iterable[str]) -> Filter:
    """Read a pack of filters: ``warm:42``, ``cool:80``, ``green:15``, ``magenta:7.5``, ``nd:1``,
    or files of transmittance, one behind the other.

    Raises
    ------
    InputError
        For a word that is neither, or values that are no transmittance.
    """
    return stack(tuple(_read_one_filter(word) for word in words))


def _read_one_filter(word: str) -> Filter:
    kind, colon, size = word.partition(":")
    if colon and kind in _SHIFTS:
        try:
            number = float(size)
        except ValueError:
            number = np.nan
        most = {"warm": 500.0, "cool": 500.0, "nd": 20.0}.get(kind, 200.0)
        if not 0 <= number <= most:
            raise InputError(f"the filter {show_value(word)}", f"{kind}: and a number to {most:g}")
        if kind == "nd":
            return make_neutral_density(number)
        mired = number if kind == "warm" else -number if kind == "cool" else 0.0
        green = number if kind == "green" else -number if kind == "magenta" else 0.0
        return make_ideal_filter(mired, green)
    if not _is(Path(word), Path.exists) and Path(word).suffix.lower() not in SPECTRUM_SUFFIXES:
        allowed = "a file of transmittance, or warm:, cool:, green:, magenta: or nd: and a number"
        raise InputError(f"the filter {show_value(word)}", allowed)
    curve = read_curve(Path(word), "transmittance_file")
    if curve.values.max() > 1.0:
        found = f"{word}: a transmittance of up to {curve.values.max():.3g}"
        raise InputError(found, "values from 0 to 1, or percent marked %")
    return make_measured_filter(curve)
