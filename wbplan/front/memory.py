"""What is given in Python in place of files: a mapping in a file's format, with values inside.

A scenario and a lesson have one format each, and a mapping of Python takes the place of the text:
the same names, the same checks, the same refusals by field. Where the text names a file or a
profile, a mapping may hold the thing itself: a `Spectrum`, a `Camera`, an array. All of it is
written out as the files that it would have been, so that the record of a plan carries them and
makes the plan again, and no reader has a second way in.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from datetime import date, time
from typing import Any

import numpy as np

from wbplan.camera.sensitivities import CHANNELS, Camera
from wbplan.core.errors import InputError, Place
from wbplan.core.names import clean_text, make_safe_name
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum, find_data_range_nm
from wbplan.record.profile import describe_menu

SCENE_NAME = "scene.yaml"
"""What a scene that is given as a mapping is called."""
_FOLDER = "given"
_LONGEST_ORIGIN = 200
_FILE_FIELDS = ("spectrum_file", "transmittance_file")
_PLAIN = "two_readings"  # of a filter, whose readings have no more than the file


def write_out(
    said: Mapping[str, Any], name: str, label: str
) -> tuple[dict[str, bytes], dict[str, Array]]:
    """Write a mapping out as files.

    Parameters
    ----------
    name, label
        What the file of the mapping itself is called, and the label that its names begin with.

    Returns
    -------
    tuple
        Bytes by name, and pictures by what the mapping's text calls them.

    Raises
    ------
    InputError
        For a value that no file can hold, with its field.
    """
    import yaml

    writer = _Writer(label)
    plain = writer.write_mapping(said, "")
    text = yaml.safe_dump(plain, sort_keys=False, allow_unicode=True, width=100)
    files = {f"{label}/{name}": text.encode("utf-8", "surrogatepass"), **writer.files}
    return files, writer.pictures


def format_camera(camera: Camera, stem: str) -> dict[str, bytes]:
    """Write a camera as a profile and its tables, by name, to the last bit of its curves."""
    import yaml

    text: dict[str, Any] = {
        "title": clean_text(camera.title) or camera.name,
        "provenance": clean_text(camera.provenance)[:2000] or "given in Python",
        "sensitivities": {"table": f"{stem}.csv", "per": "energy"},
        "menu": describe_menu(camera.menu),
        "base_ei": float(camera.base_ei),
        "encoding": {"curve": camera.curve, "gamut": camera.gamut},
    }
    if camera.headroom_stops is not None:
        text["headroom_stops"] = float(camera.headroom_stops)
    if camera.matrix_kelvin:
        text["matrix_kelvin"] = [float(each) for each in camera.matrix_kelvin]
    seen = np.flatnonzero(camera.sensitivities.any(axis=1))
    rows = slice(max(int(seen[0]) - 1, 0), int(seen[-1]) + 2)
    files = {f"{stem}.csv": _format_table(camera.sensitivities[rows], CHANNELS, rows)}
    if camera.members is not None:
        count = len(camera.members)
        columns = np.moveaxis(camera.members, 0, 1).reshape(WAVELENGTHS_NM.size, 3 * count)
        labels = tuple(f"{channel}_{number}" for number in range(count) for channel in CHANNELS)
        files[f"{stem}-band.csv"] = _format_table(columns, labels, slice(None))
        text["band"] = {"cameras": f"{stem}-band.csv"}
    else:
        text["band"] = camera.family
    profile = yaml.safe_dump(text, sort_keys=False, allow_unicode=True, width=100)
    return {f"{stem}.yaml": profile.encode("utf-8"), **files}


class _Writer:
    """Turns values into what a file says, and keeps the files that go beside it."""

    def __init__(self, label: str) -> None:
        self.files: dict[str, bytes] = {}
        self.pictures: dict[str, Array] = {}
        self._label = label
        self._written: dict[int, str] = {}  # by the value's id; the caller's mapping keeps it
        self._stems: set[str] = set()

    def write_mapping(self, said: Mapping[Any, Any], path: str) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for key, value in said.items():
            name = str(key)
            field = f"{path}.{name}" if path else name
            if isinstance(value, Spectrum) and name in _FILE_FIELDS:
                made.update(self._name_spectrum(value, name, _PLAIN in field))
            elif name in ("patches", "still") and isinstance(value, np.ndarray):
                made[name] = self._name_array(value, name)
            else:
                made[name] = self.write(value, field)
        return made

    def write(self, value: Any, field: str) -> Any:
        if isinstance(value, Spectrum):
            return self._name_spectrum(value, "spectrum_file", _PLAIN in field)
        if isinstance(value, Camera):
            return self._name_camera(value)
        if isinstance(value, Mapping):
            return self.write_mapping(value, field)
        if isinstance(value, np.ndarray):
            return self.write(value.tolist(), field)
        if isinstance(value, np.generic):
            return self.write(value.item(), field)
        if isinstance(value, bool | str):
            return value
        if isinstance(value, int | float):
            return "infinity" if value == np.inf else value
        if isinstance(value, time):
            return f"{value:%H:%M}"
        if isinstance(value, date):  # a datetime too
            return value.isoformat()
        if isinstance(value, os.PathLike):
            return os.fspath(value)
        if isinstance(value, Sequence):
            return [self.write(each, f"{field}[{row}]") for row, each in enumerate(value)]
        allowed = "numbers, texts, lists, mappings, a Spectrum, a Camera"
        raise InputError(f"a value of type {type(value).__name__}", allowed, Place(field=field))

    def _name_spectrum(self, spectrum: Spectrum, field: str, plain: bool) -> dict[str, Any]:
        if id(spectrum) not in self._written:
            low, high = find_data_range_nm(spectrum.notes)
            inside = np.flatnonzero((low <= WAVELENGTHS_NM) & (high >= WAVELENGTHS_NM))
            rows = slice(int(inside[0]), int(inside[-1]) + 1)
            read = spectrum.sampling
            if read is not None and read.step_nm % 1 == read.first_nm % 1 == 0:  # as it was read
                first = int(read.first_nm - WAVELENGTHS_NM[0])
                rows = slice(first, rows.stop, int(read.step_nm))
            stem = self._choose_stem(spectrum.name, "light")
            table = _format_table(spectrum.values[rows, None], ("value",), rows)
            self._keep(f"{stem}.csv", table)
            self._written[id(spectrum)] = f"{_FOLDER}/{stem}.csv"
        said: dict[str, Any] = {field: self._written[id(spectrum)]}
        if field == "spectrum_file" and not plain:
            origin = clean_text(spectrum.origin)[:_LONGEST_ORIGIN]
            said |= {"model": True} if spectrum.is_model else {}
            said |= {"origin": origin} if origin.strip() else {}
        return said

    def _name_camera(self, camera: Camera) -> str:
        if id(camera) not in self._written:
            stem = self._choose_stem(camera.name, "camera")
            for name, data in format_camera(camera, stem).items():
                self._keep(name, data)
            self._written[id(camera)] = f"{_FOLDER}/{stem}.yaml"
        return self._written[id(camera)]

    def _name_array(self, values: Array, kind: str) -> str:
        stem = self._choose_stem(kind, kind)
        if kind == "still":
            self.pictures[f"{_FOLDER}/{stem}.tif"] = values
            return f"{_FOLDER}/{stem}.tif"
        if values.ndim != 2 or values.shape[1] != 3:
            found = f"an array of shape {values.shape}"
            raise InputError(found, "(n, 3) raw values, a row a patch", Place(field=kind))
        rows = [",".join(repr(float(each)) for each in row) for row in values]
        self._keep(f"{stem}.csv", "\n".join(["red,green,blue", *rows, ""]).encode("ascii"))
        return f"{_FOLDER}/{stem}.csv"

    def _keep(self, name: str, data: bytes) -> None:
        self.files[f"{self._label}/{_FOLDER}/{name}"] = data

    def _choose_stem(self, name: str, kind: str) -> str:
        stem, number = make_safe_name(name, kind), 1
        while stem in self._stems:
            number += 1
            stem = f"{make_safe_name(name, kind)}-{number}"
        self._stems.add(stem)
        return stem


def _format_table(columns: Array, labels: Sequence[str], rows: slice) -> bytes:
    lines = [",".join(["wavelength_nm", *labels])]
    for wavelength, row in zip(WAVELENGTHS_NM[rows].tolist(), columns.tolist(), strict=True):
        lines.append(",".join([f"{wavelength:g}", *(repr(each) for each in row)]))
    return "\n".join([*lines, ""]).encode("ascii")
