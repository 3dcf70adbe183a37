"""Any spectrum file that a crew has, to spectra on the shared grid.

The kind of file is found from what it holds, not from its name: XML is IES TM-27; text with a line
of wavelengths is a table on its side; other text is an upright table. Whatever was understood can
be told in one line (`explain_curve`).
"""

from __future__ import annotations

import codecs
import math
import os
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from wbplan.core.errors import Place, SpectrumError, UnknownNameError
from wbplan.core.files import read_bytes
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.spectrum import Reading, Spectrum, find_illuminance_lux, resample
from wbplan.read.spectra.rows import split_lines
from wbplan.read.spectra.units import SURFACE_QUANTITIES
from wbplan.read.spectra.upright import MAX_TABLE_BYTES, Table, decode_text, parse_table
from wbplan.read.spectra.wide import parse_wide

SPECTRUM_SUFFIXES: Final = (".csv", ".tsv", ".txt", ".dat", ".asc", ".spdx", ".xml")
_BYTE_ORDER_MARKS: Final = (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


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
    return parse_tables(read_bytes(path, MAX_TABLE_BYTES, SpectrumError), os.fspath(path), columns)


def parse_tables(raw: bytes, file: str, columns: int | None = None) -> tuple[Table, ...]:
    """Parse the bytes of a file; see `read_tables`. ``file`` is the name to give in errors."""
    if _is_xml(raw):
        from wbplan.read.spectra.tm27 import parse_tm27  # seldom needed, and XML is slow to load

        return parse_tm27(raw, file)
    text, decoded = decode_text(raw, file)
    lines = split_lines(text.removeprefix("\ufeff"), file)
    table = parse_wide(lines, file) or parse_table(text, file, columns)
    return (replace(table, notes=(*decoded, *table.notes)),)


def _is_xml(raw: bytes) -> bool:
    """Tell XML by its first character, past a byte order mark and spaces, in UTF-8 or UTF-16."""
    start = raw[:400]
    for mark in _BYTE_ORDER_MARKS:
        start = start.removeprefix(mark)
    return start.replace(b"\0", b"").lstrip().startswith(b"<")


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
        irradiance_factor=(),
    )
    return tables[merged.find_column(column)], 0


def check_quantity(table: Table, use: str) -> None:
    """Refuse a curve whose file says that it is not what it is used as.

    Parameters
    ----------
    use
        ``transmittance_file`` for a filter; anything else is a light.

    Raises
    ------
    SpectrumError
        A light's quantity for a filter, or a surface's for a light.
    """
    is_filter = use == "transmittance_file"
    surfaces = set(SURFACE_QUANTITIES)
    fits = {"transmittance", ""} if is_filter else {table.quantity} - surfaces
    if table.quantity not in fits:
        allowed = "a transmittance" if is_filter else "the spectrum of a light"
        raise SpectrumError(f"values of {table.quantity}", allowed, Place(table.source))


def explain_curve(table: Table, index: int) -> str:
    """Say how one curve was read: range, interval, which, delimiter, unit, what was mended."""
    x = table.wavelength_nm
    steps = np.diff(x)
    low, high = float(steps.min()), float(steps.max())
    even = high - low < 1e-6 * high
    step = f"every {low:g} nm" if even else f"in steps of {low:.3g} to {high:.3g} nm"
    factor = table.irradiance_factor[index] if table.irradiance_factor else math.nan
    values = "relative values" if math.isnan(factor) else f"irradiance, {factor:g} W/m2/nm a unit"
    number = index + table.first_number
    which = f"{table.counted_as} {number} '{table.labels[index]}'"
    parts = [f"{x[0]:g} to {x[-1]:g} nm {step}", which, values, *table.notes]
    return "; ".join(parts)


def make_readings(table: Table, indices: list[int], alone: bool) -> list[Reading]:
    """Bring curves of one table to the shared grid, all at once.

    Parameters
    ----------
    alone
        Whether there is but one in its file, which then names it.

    Raises
    ------
    SpectrumError
        For a curve that is not a light, or has no visible light.
    """
    path = Path(table.source)
    check_quantity(table, "spectrum_file")
    values, extended = resample(table.wavelength_nm, table.values[:, indices])
    lux = find_illuminance_lux(values.T)
    notes = (*_note_table(table, path.name), *extended)
    result = []
    for column, index in enumerate(indices):
        curve: Array = values[:, column]
        where = Place(table.source, 0, 0, f"{table.counted_as} {index + table.first_number}")
        if lux[column] <= 0:
            raise SpectrumError("a spectrum without any visible light", "some light", where)
        factor = table.irradiance_factor[index] if table.irradiance_factor else math.nan
        name = path.stem if alone else f"{path.stem}: {table.labels[index]}"
        spectrum = Spectrum(curve / curve.max(), name, f"read from {path.name}", notes=notes)
        said = explain_curve(table, index)
        result.append(Reading(name, spectrum, float(lux[column]) * factor, said, path.name))
    return result


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
    check_quantity(table, use)
    values, extended = resample(table.wavelength_nm, table.values[:, index])
    notes = (*_note_table(table, path.name), *extended)
    return Spectrum(values, path.name, f"read from {path.name}", notes=notes)


def read_lights(path: str | os.PathLike[str], column: str | int | None = None) -> list[Reading]:
    """Read every light of a file, or the one that a column's name or number picks.

    Raises
    ------
    SpectrumError
        For a file that cannot be used, with its place.
    """
    tables = read_tables(path)
    alone = sum(len(each.labels) for each in tables) == 1
    if column is not None:
        table, index = pick_curve(tables, column)
        return make_readings(table, [index], alone)
    return [
        each
        for table in tables
        for each in make_readings(table, list(range(len(table.labels))), alone)
    ]
