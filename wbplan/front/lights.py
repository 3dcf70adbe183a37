"""Describing lights in one call: names to a `LightSet`, and a `LightSet` to files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from wbplan import __version__
from wbplan.camera.setting import view_camera
from wbplan.core.band import BAND_SHARE, check_band
from wbplan.core.errors import InputError
from wbplan.core.output import write_folder
from wbplan.description.lights import LightSet, describe_lights
from wbplan.read.catalogue import find_camera
from wbplan.read.gather import Watch, find_light, gather_lights, read_filter

PAGE_NAME, RECORD_NAME = "lights.html", "lights.json"


def describe(
    files: str | Path | Iterable[str | Path],
    camera: str | None = None,
    against: str | None = None,
    behind: Iterable[str] = (),
    column: str | int | None = None,
    watch: Watch = list,
    band: float = BAND_SHARE,
) -> LightSet:
    """Describe the lights of files, folders and names.

    Parameters
    ----------
    files
        Files of spectra, folders of them, scenario files (their sources), names of tabulated
        sources, or formulas such as ``daylight-5600K``.
    camera
        Name or path of a profile, for what that camera makes of each light.
    against
        A light that each is compared with, named like the files.
    behind
        Filters to describe each light behind as well: files of transmittance, or ``warm:42``,
        ``cool:80``, ``green:15``, ``magenta:7.5``, ``nd:1``.
    column
        The curve to take of each file, by label or number; all of them if not given.
    watch
        Wraps the files of a folder while they are read, to show progress.
    band
        The share of plausible cameras that every interval is to hold, 0.5 to 0.99.

    Returns
    -------
    LightSet
        Every figure unrounded; nothing is written.

    Raises
    ------
    InputError
        For anything that cannot be read, with its place, what was found and what is allowed.
    """
    names = [files] if isinstance(files, str | Path) else list(files)
    check_band(band)
    view = None
    if camera is not None:
        view = replace(view_camera(find_camera(camera, Path())), band_share=band)
    other = None if against is None else find_light(against)
    words = list(behind)
    pack = read_filter(words) if words else None
    readings, refused = gather_lights([str(each) for each in names], column, watch)
    try:
        return describe_lights(readings, view, other, pack, refused)
    except ValueError as error:
        raise InputError(str(error), "a filter that lets some light through") from None


def make_light_record(lights: LightSet) -> str:
    """Write described lights as JSON text."""
    from wbplan.record.lights import build_light_record
    from wbplan.record.plan import format_record

    return format_record(build_light_record(lights, __version__))


def write_lights(lights: LightSet, folder: str | Path, replace: bool = False) -> tuple[str, ...]:
    """Write the page and the record of described lights, both or none, and return their names.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, or cannot be written.
    """
    from wbplan.report.light.page import render_light_page

    files = {
        PAGE_NAME: render_light_page(lights, __version__).encode("utf-8"),
        RECORD_NAME: make_light_record(lights).encode("utf-8"),
    }
    write_folder(Path(folder), files, replace)
    return tuple(files)
