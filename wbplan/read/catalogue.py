"""What can be named: tabulated sources, shipped camera profiles, shipped scenarios.

One way to look a thing up by name: case and the separators ``-``, ``_`` and space do not count,
and a near miss is answered with the nearest names.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable
from functools import partial
from importlib.resources import files
from pathlib import Path

from wbplan.camera.sensitivities import Camera
from wbplan.core.errors import (
    InputError,
    Place,
    SpectrumError,
    UnknownNameError,
    describe_choices,
    fold_name,
)
from wbplan.core.files import recall_files, show_value
from wbplan.core.ledger import find_ledger, join_path, name_beside, name_files
from wbplan.core.tables import SourceRecord, list_source_records, load_table
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import Spectrum, check_range, note_extension
from wbplan.read.profiles import read_profile
from wbplan.read.yaml.fields import blame_path

STAND_IN = "cfa-mid"  # for a camera that cannot be read, while further mistakes are looked for
_NO_SCENARIO = (".csv", ".tsv", ".txt", ".xml", ".spdx", ".xlsx", ".sp", ".cgats", ".ccss", ".ti3")
_SHIPPED_CAMERAS = "shipped-cameras"  # what a plan's record calls them


def find_shipped_folder(name: str) -> Path:
    """Find a data folder that ships with wbplan.

    A wheel carries it inside the package; in a checkout it stands beside the package.
    """
    package = Path(str(files("wbplan")))
    inside = package / name
    return inside if inside.is_dir() else package.parent / name


def list_shipped(name: str) -> dict[str, Path]:
    """List the YAML files of a shipped folder by their stems, in order."""
    return {path.stem: path for path in sorted(find_shipped_folder(name).glob("*.yaml"))}


def list_cameras() -> dict[str, Path]:
    """List the shipped camera profiles by name: the generic ones, then those measured."""
    measured = find_shipped_folder("camera_profiles") / "measured"
    return {
        **list_shipped("camera_profiles"),
        **{path.stem: path for path in sorted(measured.glob("*.yaml"))},
    }


def match_name(name: str, known: Iterable[str], kind: str) -> str:
    """Find the known name that is meant.

    Raises
    ------
    UnknownNameError
        If there is none, with the nearest ones.
    """
    names = list(known)
    for each in names:
        if fold_name(each) == fold_name(name):
            return each
    raise UnknownNameError(f"the {kind} {show_value(name)}", describe_choices(name, names))


def find_source(name: str) -> Spectrum:
    """Find a tabulated illuminant or measured lamp.

    Raises
    ------
    UnknownNameError
        If no source has that name.
    SpectrumError
        If the published table leaves out a part of 420-680 nm.
    """
    records = {each.name: each for each in list_source_records()}
    record = records[match_name(name, records, "source")]
    try:
        check_range(record.first_nm, record.last_nm)
    except SpectrumError as error:
        found = f"{record.name}, a table with {error.found}"
        raise SpectrumError(found, error.allowed) from None
    notes = note_extension(record.first_nm, record.last_nm)
    values = load_table("sources")[record.row]
    return Spectrum(values, record.name, record.dataset, is_model=False, notes=notes)


def list_usable_sources() -> tuple[SourceRecord, ...]:
    """List the records of the sources that `find_source` gives."""
    return tuple(each for each in list_source_records() if each.last_nm >= 680.0)


def find_camera(
    name: str, folder: Path, place: Place | None = None, within: tuple[Path, ...] = ()
) -> Camera:
    """Find a camera profile by its shipped name, or read it from a path.

    Parameters
    ----------
    name
        A shipped name, or a path that ends in ``.yaml`` or ``.yml``.
    folder
        What a relative path starts from.
    place
        Where the name stands in the user's files; told where a fault has no line of its own.
    within
        The profiles that are being read, each of them like the next.

    Raises
    ------
    UnknownNameError
        If it is neither.
    InputError
        If the file is at fault.
    """
    try:
        return _find_camera(name, folder, within)
    except InputError as error:
        if place is None or error.place.line:
            raise
        blamed = blame_path(error, name, place) if error.place.file else error.at(place)
        raise blamed from None


def find_given_camera(name: str) -> Camera:
    """Find the profile that a person gives beside a scenario; see `find_camera`.

    A relative path starts from the working directory.
    """
    path = Path(name)
    if not _is_profile_path(name):
        return find_camera(name, Path())
    with name_files("camera", path.parent):
        return find_camera(path.name, path.parent)


def name_given_camera(name: str) -> str:
    """Name what was given to `find_given_camera` without the folders it lies in."""
    return f"camera/{Path(name).name}" if _is_profile_path(name) else name


def _is_profile_path(name: str) -> bool:
    return name.lower().endswith((".yaml", ".yml"))


def _find_camera(name: str, folder: Path, within: tuple[Path, ...]) -> Camera:
    def read(path: Path) -> Camera:
        if path in within:
            raise InputError(f"{path.name}, which is like itself", "a profile with curves")
        find = partial(find_camera, within=(*within, path))
        return recall_files(("camera", path, within), lambda: read_profile(path, find))

    if _is_profile_path(name):
        path = join_path(folder, name)
        with name_beside(path):
            return read(path)
    ledger = find_ledger()
    stored = None if ledger is None else ledger.list_stored(_SHIPPED_CAMERAS)
    shipped = list_cameras() if stored is None else stored
    try:
        path = shipped[match_name(name, shipped, "camera")]
        with name_files(_SHIPPED_CAMERAS, path.parent):
            return read(path)
    except UnknownNameError as error:
        if str(error.place):
            raise
        allowed = f"{error.allowed}, or a path that ends in .yaml"
        raise UnknownNameError(error.found, allowed) from None


def find_scenario_file(name: str) -> Path:
    """Find a scenario: the file at a path, or a shipped one by its name."""
    path = Path(name)
    is_folder = os.path.isdir(path)
    if is_folder or path.suffix.lower() in _NO_SCENARIO:
        what = "a folder" if is_folder else "a file of readings"
        made = f"wbplan new {shlex.quote(name)} --out {shlex.quote(path.resolve().stem)}.yaml"
        raise InputError(f"{what}, {name}", f"a scenario; `{made}` begins one of it")
    if os.path.exists(path) or path.suffix.lower() in (".yaml", ".yml"):
        return path
    shipped = list_shipped("scenarios")
    try:
        return shipped[match_name(name, shipped, "scenario")]
    except UnknownNameError as error:
        allowed = f"a path to a YAML file, or a shipped scenario ({error.allowed})"
        raise UnknownNameError(error.found, allowed) from None


def read_data_ledger() -> tuple[dict[str, str], ...]:
    """Read what ships as data: each table's file, origin, terms, who is to be named, and so on."""
    import yaml

    text = (files("wbplan.data") / "ledger.yaml").read_text(encoding="utf-8")
    return tuple(yaml.safe_load(text))


def describe_sources(word: str = "") -> tuple[tuple[str, float, float, str], ...]:
    """Describe the usable sources whose names contain a word: name, CCT [K], Duv, dataset."""
    chosen = [each for each in list_usable_sources() if fold_name(word) in fold_name(each.name)]
    if not chosen:
        return ()
    figures = find_cct_duv(load_table("sources")[[each.row for each in chosen]])
    return tuple(
        (each.name, float(cct), float(duv), each.dataset)
        for each, (cct, duv) in zip(chosen, figures, strict=True)
    )
