"""A first scenario, made of the readings that lie in a folder, or of nothing.

What a reading says is taken: its spectrum, the lux of its own level or header, its name, and, of a
name such as "window at Anna", the place. What nobody said stands in, and the scenario says so
(`assumed`), so that the plan made of it warns until somebody has looked. The text carries a comment
at each line, for whoever has never seen one.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from wbplan.core.errors import InputError, Place
from wbplan.core.ledger import Ledger
from wbplan.core.names import clean_text
from wbplan.core.progress import Progress, follow
from wbplan.light.colorimetry import find_cct_duv
from wbplan.read.catalogue import match_name
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.scenario.sheet import SHEET_NAME, ReadingsSheet, read_sheet
from wbplan.read.schema import format_schema, modeline, name_schema_file
from wbplan.read.spectra.files import SPECTRUM_SUFFIXES, NamedReading, name_lights
from wbplan.read.yaml.edit import write_scalar
from wbplan.report.base.words import say_kelvin, say_lux, say_significant

USUAL_CAMERA = "cfa-mid"
USUAL_NAME = "location.yaml"
STAND_IN_LUX = 100.0
_MOST_LIGHTS, _MOST_NAME = 200, 80
_AT = re.compile(r"(\S.*?)[\s_]+(?:at|@)[\s_]+(\S.*)", re.I)


class NamedLight(NamedTuple):
    """A light by its name, and the place and lux of one reading of it; the first gives its colour.

    ``lux`` is NaN where no reading states it.
    """

    name: str
    place: str
    lux: float
    found: NamedReading
    path: Path
    is_first: bool

    @property
    def has_lux(self) -> bool:
        """Whether a reading states its lux."""
        return not math.isnan(self.lux)


@dataclass(frozen=True)
class Draft:
    """A scenario that was begun.

    Parameters
    ----------
    file
        Name of the scenario file.
    files
        Contents by name, beside each other: the scenario, its sheet where it has one, and the
        schema that editors complete it by, unless that is there.
    places
        The positions in it.
    key, camera
        What the plan is made for.
    assumed
        What nobody said: some of camera, key, shooting, lux.
    refused
        Files that are no spectrum, each with the reason.
    lights
        What was read: name, place, what was understood.
    """

    file: str
    files: dict[str, bytes]
    places: tuple[str, ...]
    key: str
    camera: str
    assumed: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
    lights: tuple[tuple[str, str, str], ...]


class Readings(NamedTuple):
    """The lights of some files before a scenario is made of them."""

    lights: tuple[NamedLight, ...]
    refused: tuple[tuple[str, str], ...]
    sheet: tuple[Path, ReadingsSheet] | None
    title: str

    @property
    def places(self) -> tuple[str, ...]:
        """The places that were read, in order."""
        if self.sheet is not None:
            return tuple(self.sheet[1].rows)
        return tuple(dict.fromkeys(each.place for each in self.lights)) or ("face",)

    @property
    def first(self) -> str:
        """The first light's place, which stands in as the key."""
        place = self.lights[0].place if self.lights else ""
        return place if place in self.places else self.places[0]


def gather_readings(
    files: Iterable[str | os.PathLike[str]],
    progress: Progress | None = None,
    may_lack: bool = False,
) -> Readings:
    """Read spectra for a scenario: files, or folders of them, where bad ones are passed over.

    A sheet of lux called ``readings.csv`` in a folder gives the lux in place of the spectra.

    Parameters
    ----------
    may_lack
        Whether there may be no reading at all.

    Raises
    ------
    InputError
        For a file that was named and cannot be used, and where nothing was read.
    """
    given = [Path(each) for each in files]
    paths, sheet, refused = [], None, []
    for path in given:
        if not os.path.isdir(path):
            paths.append(path)
            continue
        for each in sorted(path.iterdir()):
            if each.name.startswith(".") or each.suffix.lower() not in SPECTRUM_SUFFIXES:
                continue
            if each.name.lower() == SHEET_NAME and sheet is None:
                sheet = (each, read_sheet(each))
            else:
                paths.append(each)
    found: list[tuple[Path, NamedReading]] = []
    for path in follow(paths, progress, "files"):
        try:
            found += [(path, each) for each in name_lights(path)]
        except InputError as error:
            if path in given:
                raise
            refused.append((path.name, str(error.at(Place()))))
    if given and not found and not may_lack:
        why = f"; {len(refused)} refused, the first: {refused[0][1]}" if refused else ""
        listed = ", ".join(SPECTRUM_SUFFIXES)
        allowed = f"files of spectra ({listed}); `wbplan new` alone begins with invented light"
        raise InputError(f"no reading in {given[0]}{why}", allowed)
    if len(found) > _MOST_LIGHTS:
        raise InputError(f"{len(found)} lights", f"at most {_MOST_LIGHTS} in a scenario")
    title = given[0].resolve().stem if given else "My location"
    return Readings(name_readings(found), tuple(refused), sheet, clean_text(title)[:_MOST_NAME])


def name_readings(found: list[tuple[Path, NamedReading]]) -> tuple[NamedLight, ...]:
    """Name lights and places: "window at Anna" is the window as it was read at Anna."""
    titles = [each.name for _, each in found]
    lights: list[NamedLight] = []
    taken: dict[str, int] = {}
    for path, each in found:
        said = each.name if titles.count(each.name) == 1 else path.stem
        said = " ".join(clean_text(said.replace("_", " ")).split())[: _MOST_NAME - 4] or "light"
        match = _AT.fullmatch(said)
        name, place = (match[1], match[2]) if match else (said, "")
        is_first = name not in taken
        if not match and not is_first:
            taken[name] += 1
            name, is_first = f"{name} {taken[name]}", True
        taken.setdefault(name, 1)
        lux = each.reading.illuminance_lux
        lights.append(NamedLight(name, place or _own_place(name), lux, each, path, is_first))
    return tuple(lights)


def draft_scenario(
    readings: Readings | str | os.PathLike[str] | Iterable[str | os.PathLike[str]] = (),
    out: str | os.PathLike[str] | None = None,
    camera: str | None = None,
    key: str | None = None,
    sheet: bool = False,
) -> Draft:
    """Begin a scenario from readings, or from nothing.

    Parameters
    ----------
    readings
        A folder of spectra, or files of them; nothing gives a scenario of invented light to put
        readings into.
    out
        Where the scenario will stand, from which its paths to the spectra start; in the working
        directory if not given.
    camera
        A profile's name or path; the generic one stands in if not given.
    key
        The position that the exposure and the setting are for; the first stands in if not given.
    sheet
        Whether lux stand in a sheet of their own, beside it.

    Returns
    -------
    Draft
        Its text was read back; nothing is written yet (`write`).

    Raises
    ------
    InputError
        For what cannot be read, and for a key that is no position.

    Examples
    --------
    >>> import wbplan
    >>> made = wbplan.draft_scenario()
    >>> made.file, made.places, made.assumed
    ('location.yaml', ('face',), ('camera', 'key', 'shooting', 'lux'))
    """
    if isinstance(readings, str | os.PathLike):
        readings = [readings]
    known = readings if isinstance(readings, Readings) else gather_readings(readings)
    target = Path(out) if out is not None else Path(USUAL_NAME)
    if not os.path.isdir(target.parent):
        raise InputError(f"the folder {target.parent}", "one that is there", Place(field="out"))
    places = known.places
    if key is not None:
        key = match_name(key, places, "position")
    chosen = key or known.first
    assumed = ["camera"] * (camera is None) + ["key"] * (key is None) + ["shooting"]
    if known.sheet is None and not (known.lights and all(each.has_lux for each in known.lights)):
        assumed.append("lux")
    text, files = _write_text(known, target, camera or USUAL_CAMERA, chosen, tuple(assumed), sheet)
    schema = name_schema_file("scenario")
    if not (target.parent / schema).exists():  # an editor that knows YAML completes by it
        files[schema] = format_schema("scenario").encode()
    draft = Draft(
        file=target.name,
        files={target.name: text.encode(), **files},
        places=places,
        key=chosen,
        camera=camera or USUAL_CAMERA,
        assumed=tuple(assumed),
        refused=known.refused,
        lights=tuple(
            (each.name, each.place, each.found.reading.understood) for each in known.lights
        ),
    )
    _read_back(draft, target)
    return draft


def say_no_places(draft: Draft) -> str:
    """Say what to do where no name says where a light was read; empty where one does."""
    placed = any(place != _own_place(name) for name, place, _ in draft.lights)
    if placed or len(draft.lights) < 2 or len(draft.places) < len(draft.lights):
        return ""
    return (
        "No name says where a light was read, so each stands at a place of its own. Files named "
        "as 'window at Anna.csv' say it; or rename and remove places, and enter what else was "
        "read there"
    )


def _own_place(name: str) -> str:
    """Name the place of a light of which nobody said where it was read."""
    return f"at {name}"


def _read_back(draft: Draft, target: Path) -> None:
    """Read what was made as any scenario is read, so that nothing is handed out that is not one."""
    ledger = Ledger(given={f"scenario/{name}": data for name, data in draft.files.items()})
    with ledger.scope("scenario", target.parent):
        read_scenario(target)


def _write_text(
    readings: Readings,
    target: Path,
    camera: str,
    key: str,
    assumed: tuple[str, ...],
    sheet: bool,
) -> tuple[str, dict[str, bytes]]:
    files: dict[str, bytes] = {}
    lines = _write_head(readings, camera, assumed)
    lines += _write_sources(readings, target)
    lines += ["", "setups:", "  - name: First setup"]
    mark = "   # CHECK: the first light's place stands in" if "key" in assumed else ""
    lines += _remark("The position that the exposure is for, and the setting: usually a face.", 4)
    lines += [f"    key: {write_scalar(key)}{mark}"]
    lines += _remark(
        "CHECK: put your own here. ei: 800 is the exposure index (the camera's base if left out); "
        "t_stop: 2.8 asks which ND reaches that stop; shutter_time_s: 0.02 may stand for the "
        "angle. When this is yours, take `shooting` out of `assumed` above.", 4,
    )  # fmt: skip
    lines += ["    shooting: {fps: 24, shutter_angle_deg: 180}"]
    if readings.sheet is not None or sheet:
        name = SHEET_NAME
        if readings.sheet is not None:
            name = _relate(readings.sheet[0], target)
        else:
            files[SHEET_NAME] = _write_sheet(readings)
        lines += _remark(
            "Lux of each light alone (columns) at each position (rows), in a spreadsheet. An empty "
            "cell is 0 lux.", 4,
        )  # fmt: skip
        lines += [f"    readings: {write_scalar(name)}"]
        lines += _remark("What a position is to look like can be said here, by name:", 4)
        lines += ["    # positions:", f"    #   {key}: {{intent: {{warm_mired: 30}}, weight: 1}}"]
    else:
        lines += _write_positions(readings)
    lines += [""]
    return "\n".join(lines), files


def _remark(text: str, indent: int) -> list[str]:
    start = " " * indent + "# "
    return textwrap.wrap(
        text, 96, initial_indent=start, subsequent_indent=start, break_on_hyphens=False
    )


def _write_head(readings: Readings, camera: str, assumed: tuple[str, ...]) -> list[str]:
    lines = [modeline()]
    lines += _remark(
        "A scenario for wbplan: which lights there are, and what each gives at each position. "
        "Words after # are remarks. `wbplan guide scenario` tells every field; `wbplan plan FILE` "
        "decides.", 0,
    )  # fmt: skip
    lines += ["wbplan: 1   # the format", f"title: {write_scalar(readings.title)}"]
    if not readings.lights:
        lines += ["invented: true   # CHECK: nothing was read yet; take this line out when it was"]
    lines += _remark(
        "CHECK: what nobody said yet stands in, and the plan warns of it. Take a word out when you "
        "have set it; take the line out when none is left.", 0,
    )  # fmt: skip
    lines += [f"assumed: [{', '.join(assumed)}]"]
    generic = "   # CHECK: generic; `wbplan cameras` lists yours" if "camera" in assumed else ""
    lines += [f"camera: {write_scalar(camera)}{generic}"]
    lines += _remark("One standard deviation of your meter; take the # away and put yours:", 0)
    lines += ["# meter: {illuminance_percent: 4, chromaticity_xy: 0.0015}"]
    lines += ["# mains_hz: 50   # 50 or 60: also says which shutters are safe from flicker"]
    return lines


def _write_sources(readings: Readings, target: Path) -> list[str]:
    lines = [""]
    lines += _remark(
        "The lights, each once, by a name of your own. What stands before one is said by "
        "`filter: {generic: half orange}` (`wbplan filters`); `on: false` puts it out.", 0,
    )  # fmt: skip
    lines += ["sources:"]
    if not readings.lights:
        return [
            *lines,
            "  window: {daylight_kelvin: 6000}      # daylight of 6000 K",
            "  lamp: {black_body_kelvin: 2850}      # a bulb",
            "  # panel: {spectrum_file: panel.csv}  # a file that your meter exports",
        ]
    for each in readings.lights:
        if not each.is_first:
            continue
        said: dict[str, object] = {"spectrum_file": _relate(each.path, target)}
        if each.found.column is not None:
            said["column"] = each.found.column
        lines += [f"  {write_scalar(each.name)}: {write_scalar(said)}   # {_explain(each)}"]
    return lines


def _explain(light: NamedLight) -> str:
    reading = light.found.reading
    cct = float(find_cct_duv(reading.spectrum.values)[0])
    told = say_lux(light.lux) if math.isfinite(light.lux) else "states no lux"
    return f"{say_kelvin(cct)} to the eye; {told}"


def _relate(path: Path, target: Path) -> str:
    """Write a path from the folder of the scenario."""
    try:
        return Path(os.path.relpath(path, target.parent)).as_posix()
    except ValueError:  # on another drive, to which no path leads from here
        return path.resolve().as_posix()


def _list_lux(readings: Readings) -> dict[str, dict[str, float]]:
    """List the lux of each place by light; NaN where a reading states none."""
    if not readings.lights:
        return {"face": {"window": math.nan, "lamp": math.nan}}
    lux: dict[str, dict[str, float]] = {place: {} for place in readings.places}
    for each in readings.lights:
        lux[each.place].setdefault(each.name, each.lux)
    return lux


def _write_positions(readings: Readings) -> list[str]:
    lines = _remark(
        "Positions: places in the frame, each with the lux of each light ALONE there, the others "
        "off or flagged. A light that is not named gives 0. `intent: {warm_mired: 30}` says what a "
        "place is to look like, `weight: 1` lets it pull on the setting.", 4,
    )  # fmt: skip
    lines += ["    positions:"]
    for place, lux in _list_lux(readings).items():
        missing = any(math.isnan(each) for each in lux.values())
        cells = ", ".join(f"{write_scalar(name)}: {_write_lux(each)}" for name, each in lux.items())
        mark = f"   # CHECK: {STAND_IN_LUX:g} lux stand in, read yours" if missing else ""
        lines += [f"      {write_scalar(place)}: {{lux: {{{cells}}}}}{mark}"]
    return lines


def _write_sheet(readings: Readings) -> bytes:
    table = _list_lux(readings)
    lights = list(dict.fromkeys(name for row in table.values() for name in row))
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["lux", *lights])
    for place, lux in table.items():
        writer.writerow([place, *(_write_lux(lux[each]) if each in lux else "" for each in lights)])
    return stream.getvalue().encode()


def _write_lux(lux: float) -> str:
    """Write a reading in four digits, or what stands in for one that is not stated."""
    return write_scalar(STAND_IN_LUX if math.isnan(lux) else float(say_significant(lux, 4)))
