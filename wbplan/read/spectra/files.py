"""Any spectrum file that a crew has, to spectra on the shared grid.

The kind of file is found from what it holds, not from its name, by the registry `FORMATS`: each
format is one module that says how it is recognised and how it is read. What none of them recognises
is a text table: one with a line of wavelengths lies on its side, any other stands. Whatever was
understood can be told in one line (`explain_curve`).
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from wbplan.core.errors import Place, SpectrumError, UnknownNameError
from wbplan.core.files import read_bytes
from wbplan.core.ledger import recall
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.bandpass import correct_bandwidth
from wbplan.light.spectrum import (
    COARSE_NM,
    WAVELENGTHS_NM,
    Reading,
    Sampling,
    Spectrum,
    find_illuminance_lux,
    normalise_peak,
    resample,
)
from wbplan.light.waveform import Waveform
from wbplan.read.spectra.cgats import is_cgats, parse_cgats
from wbplan.read.spectra.json_tables import is_json, parse_json
from wbplan.read.spectra.quantities import (
    DENSITY,
    INCOMPLETE,
    PERCENT,
    PHOTONS,
    SURFACE_QUANTITIES,
    USELESS,
    WAVELENGTHS,
)
from wbplan.read.spectra.rows import split_lines
from wbplan.read.spectra.stated import find_bandwidth_nm, find_texts, find_title
from wbplan.read.spectra.tm27 import is_xml, parse_tm27
from wbplan.read.spectra.upright import (
    MAX_TABLE_BYTES,
    MOST_VALUE,
    Table,
    decode_text,
    parse_side_by_side,
    parse_table,
)
from wbplan.read.spectra.waveforms import add_waveform, cut_waveform
from wbplan.read.spectra.wide import parse_wide
from wbplan.read.spectra.workbook import is_workbook, read_sheets

SPECTRUM_SUFFIXES: Final = (
    *(".csv", ".tsv", ".txt", ".dat", ".asc", ".spdx", ".xml", ".json", ".xlsx"),
    *(".sp", ".ccss", ".ti3", ".cgats"),
)
MOST_LUX: Final = 1e7  # the sun gives 1.3e5, a concentrated beam 1e6: common practice, no source
# W m-2 nm-1 at 1 nm of 1 mol m-2 s-1 nm-1: N_A h c (SI Brochure, 9th ed., 2.2), nm for m
_MOLE_ENERGY: Final = 6.02214076e23 * 6.62607015e-34 * 299792458.0 * 1e9


class Format(NamedTuple):
    """One format of file: its name, how it is known by its bytes, how it is read.

    ``parse`` takes the bytes and the name to give in errors.
    """

    name: str
    recognise: Callable[[bytes], bool]
    parse: Callable[[bytes, str], tuple[Table, ...]]


def _parse_workbook(raw: bytes, file: str) -> tuple[Table, ...]:
    """Parse the sheets of a workbook as text tables: those that are spectra, if any is."""
    found: list[Table] = []
    refused: list[SpectrumError] = []
    waveforms: list[Waveform] = []
    for name, sheet in read_sheets(raw, file):
        text, waveform = cut_waveform(sheet)
        if waveform is not None:
            waveforms.append(waveform)
        if not text.strip():
            continue
        try:
            tables = _parse_text(text, file, None)
        except SpectrumError as error:
            refused.append(error)
            continue
        about = f"sheet '{name}' of a workbook"
        found += (replace(each, notes=(about, *each.notes)) for each in tables)
    if not found:
        raise refused[0] if refused else SpectrumError("a workbook without a filled sheet", "one")
    return add_waveform(tuple(found), waveforms[0] if waveforms else None)


FORMATS: Final = (
    Format("workbook", is_workbook, _parse_workbook),
    Format("IES TM-27 XML", is_xml, parse_tm27),
    Format("JSON", is_json, parse_json),
    Format("CGATS text", is_cgats, parse_cgats),
)


def read_tables(path: str | os.PathLike[str], columns: int | None = None) -> tuple[Table, ...]:
    """Read the curves of a file, whatever its kind.

    Parameters
    ----------
    columns
        For an upright table, how many columns it must have; see `upright.parse_table`.

    Returns
    -------
    tuple
        One table, or as many as a TM-27 file has spectral distributions.

    Raises
    ------
    SpectrumError
        With file, line and column.
    """
    raw, file = read_bytes(path, MAX_TABLE_BYTES, SpectrumError), os.fspath(path)
    return recall(("tables", raw, file, columns), lambda: parse_tables(raw, file, columns))


def parse_tables(raw: bytes, file: str, columns: int | None = None) -> tuple[Table, ...]:
    """Parse the bytes of a file; see `read_tables`. ``file`` is the name to give in errors."""
    for each in FORMATS:
        if each.recognise(raw):
            return each.parse(raw, file)
    text, decoded = decode_text(raw, file)
    text, waveform = cut_waveform(text.removeprefix("\ufeff"))
    if waveform is not None and not text.strip():
        raise SpectrumError("a waveform without a spectrum", "a spectrum beside it", Place(file))
    tables = _parse_text(text, file, columns)
    told = tuple(replace(each, notes=(*decoded, *each.notes)) for each in tables)
    return add_waveform(told, waveform)


def _parse_text(text: str, file: str, columns: int | None) -> tuple[Table, ...]:
    lying = parse_wide(split_lines(text, file), file)
    if lying is not None:
        return (lying,)
    if columns is not None:
        return (parse_table(text, file, columns),)
    return parse_side_by_side(text, file)


def pick_curve(tables: tuple[Table, ...], column: str | int | None) -> tuple[Table, int]:
    """Pick one curve of a file by its label or number: its table, and its place in ``labels``.

    Raises
    ------
    SpectrumError
        If there are several and none is picked.
    UnknownNameError
        If the pick is not there.
    """
    count = sum(len(table.labels) for table in tables)
    place = Place(tables[0].source)
    if column is None:
        if count > 1:
            listed = ", ".join(label for table in tables for label in table.labels[:4])
            more = ", ..." if count > 4 else ""
            found = f"{count} spectra ({listed[:100]}{more})"
            raise SpectrumError(found, "one, or a column that says which", place)
        return tables[0], 0
    if len(tables) == 1:
        return tables[0], tables[0].find_column(column)
    if isinstance(column, int):
        if not 1 <= column <= len(tables):
            found = f"distribution {column}"
            raise UnknownNameError(found, f"a distribution from 1 to {len(tables)}", place)
        return tables[column - 1], 0
    for table in tables:
        if column in table.labels:
            return table, 0
    merged = replace(
        tables[0],
        values=np.ones((tables[0].wavelength_nm.size, len(tables))),
        labels=tuple(table.labels[0] for table in tables),
        quantities=(),
    )
    return tables[merged.find_column(column)], 0


def check_quantity(table: Table, index: int, use: str) -> None:
    """Refuse a curve whose file says that it is not what it is used as.

    Parameters
    ----------
    index
        Of the curve, in ``labels``.
    use
        ``transmittance_file`` for a filter, ``reflectance_file`` for a surface; anything else is a
        light.

    Raises
    ------
    SpectrumError
        A light's quantity for a filter, or a surface's for a light; a logarithm, counts, a
        saturated or uncalibrated reading for either.
    """
    name = table.find_quantity(index).name
    if not _fits(name, use):
        where = f"{table.counted_as} {index + table.first_number}"
        allowed = _ALLOWED.get(use, "the spectrum of a light, linear and calibrated")
        raise SpectrumError(f"values of {name}", allowed, Place(table.source, 0, 0, where))


_FITTING = {
    "transmittance_file": ("transmittance", "t-factor", PERCENT, DENSITY, ""),
    "reflectance_file": ("reflectance", "r-factor", PERCENT, ""),
}
_ALLOWED = {
    "transmittance_file": "a transmittance, or an optical density",
    "reflectance_file": "a reflectance",
}


def _fits(name: str, use: str) -> bool:
    if use in _FITTING:
        return name in _FITTING[use]
    return name not in (*SURFACE_QUANTITIES, *USELESS, DENSITY)


def explain_curve(table: Table, index: int) -> str:
    """Say how one curve was read: range, interval, which, delimiter, unit, what was mended."""
    x = table.wavelength_nm
    steps = np.diff(x)
    low, high = float(steps.min()), float(steps.max())
    even = high - low < 1e-6 * high
    step = f"every {low:g} nm" if even else f"in steps of {low:.3g} to {high:.3g} nm"
    quantity = table.find_quantity(index)
    number = index + table.first_number
    which = f"{table.counted_as} {number} '{table.labels[index]}'"
    parts = [f"{x[0]:g} to {x[-1]:g} nm {step}", which]
    parts += [_explain_values(quantity.name, quantity.factor), *table.notes]
    return "; ".join(parts)


def _explain_values(name: str, factor: float) -> str:
    if name == "irradiance" and math.isfinite(factor):
        return f"irradiance, {factor:g} W/m2/nm a unit"
    if name == f"{PHOTONS} irradiance":
        return f"photons, {factor:g} mol/m2/s/nm a unit, converted to energy"
    if name.startswith(PHOTONS):
        return "relative numbers of photons, converted to energy"
    return f"relative values ({name})" if name not in ("", "relative") else "relative values"


def make_readings(table: Table, indices: list[int], alone: bool) -> list[Reading]:
    """Bring curves of one table to the shared grid, all at once.

    Parameters
    ----------
    alone
        Whether there is but one in its file, which then names it.

    Raises
    ------
    SpectrumError
        For a curve that is not a light, or has no visible light, or more lux than there can be.
    """
    path = Path(table.source)
    for index in indices:
        check_quantity(table, index, "spectrum_file")
    energy, step, remarks = _correct_bandwidth(table, _take_energy(table, indices))
    values, extended = resample(table.wavelength_nm, energy)
    others = _find_alternatives(table.wavelength_nm, energy, step)
    first = _find_first_nm(table)
    lux = find_illuminance_lux(values.T)
    notes = (*_note_table(table, path.name), *remarks, *extended)
    result = []
    for column, index in enumerate(indices):
        curve: Array = values[:, column]
        where = Place(table.source, 0, 0, f"{table.counted_as} {index + table.first_number}")
        if lux[column] <= 0:
            raise SpectrumError("a spectrum without any visible light", "some light", where)
        level = float(lux[column]) * _find_factor(table, index)
        if level > MOST_LUX:
            unit = "lux: is the unit what the file says?"
            raise SpectrumError(f"{level:.3g} {unit}", f"at most {MOST_LUX:g} lux", where)
        name = path.stem if alone else f"{path.stem}: {table.labels[index]}"
        stated = table.stated[index] if table.stated else ()
        own = next((each.value for each in stated if each.name == "illuminance"), 0.0)
        about = notes
        if math.isnan(level) and 0 < own <= MOST_LUX:
            level = own
            stated = tuple(each for each in stated if each.name != "illuminance")
            text = f"{own:g} lux as the file states it, for its values are relative"
            about = (*notes, Note("stated-lux", text))
        sampling = Sampling(step, others[:, :, column], first) if step else None
        read = Spectrum(curve, name, f"read from {path.name}", notes=about, sampling=sampling)
        spectrum = normalise_peak(read)
        said = "; ".join([explain_curve(table, index), *find_texts(table.said)])
        waveform = table.waveform if alone else None
        result.append(Reading(name, spectrum, level, said, path.name, stated, waveform))
    return result


def _correct_bandwidth(table: Table, energy: Array) -> tuple[Array, float, tuple[Note, ...]]:
    """Correct curves (n, k) for the bandwidth that their file states.

    Returns
    -------
    tuple
        The curves, remarks, and between them the step [nm] of curves that may be smeared by a
        bandwidth nobody stated; 0 for others.
    """
    steps = np.diff(table.wavelength_nm)
    step = float(steps.mean())
    if np.ptp(steps) > 1e-6 * step or step < 1.0:
        return energy, 0.0, ()
    about = Path(table.source).name
    width = find_bandwidth_nm(table.said)
    if width == 0:
        text = "its bandwidth is corrected, as the file says"
        return energy, 0.0, (Note("bandwidth", text, about),)
    count = 0 if width is None else round(width / step)
    if width is not None and count in (1, 2) and abs(width - count * step) <= 0.1 * step:
        text = f"corrected for a bandwidth of {width:g} nm (Stearns and Stearns 1988)"
        return correct_bandwidth(energy, count), 0.0, (Note("bandwidth", text, about),)
    return energy, step if step >= COARSE_NM else 0.0, ()


def _find_alternatives(wavelength_nm: Array, energy: Array, step: float) -> Array:
    """Find what curves (n, k) would be if a bandwidth of one or two steps had smeared them.

    (2, 401, k); empty for a step of 0.
    """
    if not step:
        return np.empty((0, 0, 0))
    pair = [resample(wavelength_nm, correct_bandwidth(energy, count))[0] for count in (1, 2)]
    return np.stack(pair)


def _find_first_nm(table: Table) -> float:
    read = table.wavelength_nm
    return float(read[read >= WAVELENGTHS_NM[0]][0])


def _take_energy(table: Table, indices: list[int]) -> Array:
    """Give curves as energy per nm: one that counts photons is divided by its wavelengths.

    Raises
    ------
    SpectrumError
        For values that no instrument writes.
    """
    values = table.values[:, indices].copy()
    if values.max(initial=0.0) > MOST_VALUE:
        found = f"a value of {values.max():.3g}"
        raise SpectrumError(found, f"at most {MOST_VALUE:g}", Place(table.source))
    for column, index in enumerate(indices):
        if table.find_quantity(index).name.startswith(PHOTONS):
            values[:, column] /= table.wavelength_nm
    return values


def _find_factor(table: Table, index: int) -> float:
    """Find what brings the values of `_take_energy` to W m-2 nm-1; NaN for relative ones."""
    name, factor = table.find_quantity(index)
    if name == "irradiance":
        return factor
    return factor * _MOLE_ENERGY if name == f"{PHOTONS} irradiance" else math.nan


def _note_table(table: Table, about: str) -> tuple[Note, ...]:
    return tuple(Note("table", text, about) for text in table.notes)


def read_curve(
    path: Path, use: str, column: str | int | None = None, columns: int | None = None
) -> Spectrum:
    """Read one curve of a file as it stands, brought to the shared grid.

    Parameters
    ----------
    use
        What it is for, see `check_quantity`.
    column
        Its label or number; the only one if not given.
    columns
        See `read_tables`.

    Raises
    ------
    SpectrumError, UnknownNameError
        For a file that cannot be used so, or a column that is not there.
    """
    table, index = pick_curve(read_tables(path, columns), column)
    check_quantity(table, index, use)
    curves, step = _take_energy(table, [index]), 0.0
    notes = _note_table(table, path.name)
    if use == "spectrum_file":
        curves, step, remarks = _correct_bandwidth(table, curves)
        notes = (*notes, *remarks)
    curve = curves[:, 0]
    if use == "transmittance_file" and table.find_quantity(index).name == DENSITY:
        curve = 10.0**-curve  # ISO 5-1: density is minus the decimal logarithm of transmittance
        notes = (*notes, Note("density", "optical density converted to transmittance", path.name))
    values, extended = resample(table.wavelength_nm, curve)
    notes = (*notes, *extended)
    others = _find_alternatives(table.wavelength_nm, curve, step)
    sampling = Sampling(step, others, _find_first_nm(table)) if step else None
    return Spectrum(values, path.name, f"read from {path.name}", notes=notes, sampling=sampling)


def read_lights(path: str | os.PathLike[str], column: str | int | None = None) -> list[Reading]:
    """Read every light of a file, or the one that a column's name or number picks.

    Raises
    ------
    SpectrumError
        For a file that cannot be used, with its place.
    """
    tables = read_tables(path)
    if column is not None:
        alone = sum(len(each.labels) for each in tables) == 1
        table, index = pick_curve(tables, column)
        return make_readings(table, [index], alone)
    return [
        each
        for table, indices, alone in _find_lights(tables)
        for each in make_readings(table, indices, alone)
    ]


class NamedReading(NamedTuple):
    """A light of a file: its reading, what `read_curve` picks it by, and its name.

    ``column`` is None where it is the only curve. ``name`` is the title that the file states, else
    the file's own name; of one of several lights its label.
    """

    reading: Reading
    column: str | int | None
    name: str


def name_lights(path: str | os.PathLike[str]) -> list[NamedReading]:
    """Read every light of a file, each with what picks it there; raises as `read_lights`."""
    tables = read_tables(path)
    count = sum(len(each.labels) for each in tables)
    found = []
    for number, table in enumerate(tables):
        for lit, indices, alone in _find_lights((table,)):
            title = find_title(table.said) if alone else ""
            for index, reading in zip(indices, make_readings(lit, indices, alone), strict=True):
                column: str | int | None = None
                name = title or Path(table.source).stem
                if len(tables) == 1 and count > 1:
                    column = index + table.first_number
                elif count > 1:
                    column = table.labels[index] if index else number + 1
                if not alone or len(tables) > 1:
                    label = table.labels[index]
                    name = label if re.search(r"[^\W\d]", label) else f"{name} {label}"
                found.append(NamedReading(reading, column, name))
    return found


def _find_lights(tables: tuple[Table, ...]) -> list[tuple[Table, list[int], bool]]:
    """Find the curves that are lights, where some are not; all of them where none is."""
    lights = [
        [i for i in range(len(table.labels)) if _fits(table.find_quantity(i).name, "")]
        for table in tables
    ]
    alone = sum(len(each.labels) for each in tables) == 1
    if not any(lights):
        return [(table, list(range(len(table.labels))), alone) for table in tables]
    alone = sum(map(len, lights)) == 1
    result = []
    for table, indices in zip(tables, lights, strict=True):
        passed = [
            f"'{label}' ({table.find_quantity(i).name})"
            for i, label in enumerate(table.labels)
            if i not in indices and table.find_quantity(i).name not in (INCOMPLETE, WAVELENGTHS)
        ]
        if indices and passed:
            more = ", ..." if len(passed) > 6 else ""
            note = f"passed over, for it is no light: {', '.join(passed[:6])}{more}"
            table = replace(table, notes=(*table.notes, note))
        if indices:
            result.append((table, indices, alone))
    return result
