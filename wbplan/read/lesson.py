"""A lesson: the file that says which frames a camera is to be learned from.

The fields are told by `wbplan guide lessons`. Patches that cannot be used are left out by
name; what is left becomes `estimate.Frame` and `estimate.Balance` values.
"""

from __future__ import annotations

import contextlib
import csv
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wbplan.camera.learn.estimate import Balance, Frame
from wbplan.camera.learn.frames import (
    COLUMNS,
    MOST_MISS,
    ROWS,
    TURNS,
    PatchReadings,
    find_misses,
    make_matrix_frame,
    pick_turn,
    place_patches,
    read_patches,
    turn_corners,
    turn_patches,
)
from wbplan.camera.learn.verdict import Chart, Lesson
from wbplan.camera.sensitivities import Camera
from wbplan.core.errors import InputError, Place, fold_name
from wbplan.core.files import read_bytes
from wbplan.core.ledger import join_path
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array, list_chart_patches, load_table
from wbplan.light.illuminants import radiate_locus
from wbplan.light.spectrum import Spectrum, resample
from wbplan.read.catalogue import STAND_IN, find_camera
from wbplan.read.charts import find_charts
from wbplan.read.mistakes import read_file
from wbplan.read.model.lesson import LESSON, LESSON_VERSION
from wbplan.read.pictures import check_pixels, find_full_scale, load_still
from wbplan.read.raws import RAW_ENDINGS, load_raw
from wbplan.read.scenario.lights import LightReader
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.spectra.upright import read_table
from wbplan.read.yaml.fields import Fields

MOST_BYTES = 1_000_000
MOST_ENTRIES = 100  # frames, neutrals or matrices
CLIP_SHARE = 0.98  # of the white level
_SAME_LEVEL = 0.9995  # of the highest value of a channel
_DARK_SHARE = 0.0005  # of the brightest patch
_LEAST_PATCHES = 6


def read_lesson(path: Path, pictures: Mapping[str, NDArray[Any]] | None = None) -> Lesson:
    """Read a lesson file and all that it names.

    Parameters
    ----------
    path
        The YAML file; relative paths inside it start from its folder.
    pictures
        Stills that are given as pixels, by the name that the file calls them.

    Raises
    ------
    InputError
        With file, line, column and field.
    """
    return read_file(path, LESSON, lambda fields: _read_lesson(fields, path, pictures or {}))


def _read_lesson(fields: Fields, path: Path, pictures: Mapping[str, NDArray[Any]]) -> Lesson:
    version = fields.whole("wbplan_lesson")
    if version != LESSON_VERSION:
        raise fields.refuse("wbplan_lesson", str(version), f"the lesson format {LESSON_VERSION}")
    start = fields.attempt(
        lambda: find_camera(fields.text("start"), path.parent, fields.place_of("start")), None
    ) or find_camera(STAND_IN, path.parent)
    reader = _Reader(path.parent, _read_chart(fields, path.parent), start, pictures)
    for name, take in (
        ("frames", reader.take_frame),
        ("neutrals", reader.take_neutral),
        ("matrices", reader.take_matrix),
    ):
        entries = fields.mappings(name, required=False)
        if len(entries) > MOST_ENTRIES:
            raise fields.refuse(name, f"a list of {len(entries)}", f"at most {MOST_ENTRIES}")
        for each in entries:
            fields.attempt(partial(take, each), None)
    title = fields.text("title")
    name = make_safe_name(fields.text("name", path.stem), "camera")
    date = fields.text("date")
    lights = fields.attempt(lambda: _read_scenario_lights(fields, path.parent), ())
    fields.finish()
    if not reader.frames and not reader.balances:
        allowed = "at least one of frames, neutrals, matrices"
        raise InputError("nothing to learn from", allowed, fields.place)
    return Lesson(
        title,
        name,
        date,
        start,
        reader.chart,
        tuple(reader.frames),
        tuple(reader.balances),
        tuple(reader.notes),
        lights,
        tuple(reader.read_under),
    )


def _read_scenario_lights(fields: Fields, folder: Path) -> tuple[tuple[str, Array], ...]:
    """Read the lights of the scenario that the camera is wanted for, behind their filters."""
    if "scenario" not in fields:
        return ()
    scenario = read_scenario(join_path(folder, fields.text("scenario")))
    lights = {
        each.name: each.spectrum.values * each.filter.transmittance
        for setup in scenario.setups
        for each in setup.sources
    }
    return tuple((name, power) for name, power in lights.items() if power.any())


def _read_chart(fields: Fields, folder: Path) -> Chart:
    if "chart_file" not in fields:
        fields.choice("chart")
        return Chart(load_table("chart"), list_chart_patches(), "ISO 17321-1 reflectances")
    file = fields.text("chart_file")
    table = read_table(folder / file, columns=None)
    values, _ = resample(table.wavelength_nm, table.values)
    if values.max() > 1.5:
        raise fields.refuse(
            "chart_file",
            f"a reflectance of up to {values.max():.3g}",
            "ratios, or percent marked %",
        )
    return Chart(values.T, table.labels, f"reflectances from {Path(file).name}")


class _Reader:
    """Collects frames, readings and what has to be said of them."""

    def __init__(
        self,
        folder: Path,
        chart: Chart,
        start: Camera,
        pictures: Mapping[str, NDArray[Any]],
    ) -> None:
        self.chart = chart
        self._pictures = pictures
        self._start = start
        self.frames: list[Frame] = []
        self.balances: list[Balance] = []
        self.notes: list[Note] = []
        self.read_under: list[Spectrum] = []
        self._folder = folder
        self._lights = LightReader(folder)

    def _read_light(self, fields: Fields) -> tuple[str, Array]:
        spectrum = self._lights.read("light", fields.mapping("light"))
        self.notes += spectrum.notes
        alike = (each.values for each in self.read_under if each.name == spectrum.name)
        if not any(np.array_equal(each, spectrum.values) for each in alike):
            self.read_under.append(spectrum)
        return spectrum.name, spectrum.values

    def take_frame(self, fields: Fields) -> None:
        name, light = self._read_light(fields)
        kind = fields.kind(("patches", "still"))
        file = fields.text(kind)
        white = fields.number("white", None)
        black = fields.number("black")
        if white is not None and white <= black:
            raise fields.refuse("white", f"{white:g}", f"more than black, {black:g}")
        if kind == "still":
            self._take_still(fields, (f"{name} ({Path(file).name})", light), black, white)
            return
        read = read_patch_table(self._folder / file, self.chart.patches)
        raw = np.array([read.get(each, np.full(3, np.nan)) for each in self.chart.patches]) - black
        if len(raw) == ROWS * COLUMNS:
            ways = [turn_patches(raw, turn) for turn in range(len(TURNS))]
            raw = ways[self._pick_turn(ways, (name, light))]
        faults = _find_faults(raw, None if white is None else white - black)
        self._add_frame(fields, "patches", (f"{name} ({file})", light), raw, faults)

    def _take_still(
        self, fields: Fields, light: tuple[str, Array], black: float, white: float | None
    ) -> None:
        """Read the chart in a linear still or a camera raw."""
        if len(self.chart.patches) != ROWS * COLUMNS:
            allowed = f"a chart of {ROWS * COLUMNS} patches, {ROWS} rows of {COLUMNS}"
            raise fields.refuse("still", f"a chart of {len(self.chart.patches)} patches", allowed)
        file = fields.text("still")
        given = self._pictures.get(file)
        cell = 1
        if given is None and Path(file).suffix.lower() in RAW_ENDINGS:
            if "black" in fields or "white" in fields:
                said = "black or white of a raw file, which states them itself"
                raise fields.refuse("still", said, "no black and no white")
            raw = load_raw(self._folder / file)
            image, cell = raw.pixels, raw.cell
        else:
            pixels = (
                load_still(self._folder / file).pixels if given is None else check_pixels(given)
            )
            top = white or find_full_scale(pixels)
            image = (np.asarray(pixels[..., :3], dtype=np.float64) - black) / (top - black)
        if "corners" not in fields:
            found = self._find_chart(fields, image, light)
        else:
            corners = (np.array(fields.numbers("corners", 8)).reshape(4, 2) + 0.5) / cell - 0.5
            try:
                ways = [read_patches(image, turn_corners(corners, k)) for k in range(len(TURNS))]
            except ValueError as error:
                allowed = (
                    "x, y of top left, top right, bottom right, bottom left of the patch field"
                )
                raise fields.refuse("corners", str(error), allowed) from None
            found = ways[self._pick_turn([each.mean for each in ways], light)]
        self._add_frame(fields, "still", light, found.mean, list(found.faults))

    def _find_chart(self, fields: Fields, image: Array, light: tuple[str, Array]) -> PatchReadings:
        """Find the chart in a picture: what lies like one and has its colours under the light."""
        try:
            charts = find_charts(image)
        except InputError as error:
            raise fields.refuse("still", error.found, error.allowed) from None
        allowed = "one 24-patch chart, flat on and large in the picture, or its four corners"
        readings = []
        for corners in charts:
            with contextlib.suppress(ValueError):  # a field that leaves the picture
                ways = [turn_corners(corners, turn) for turn in range(len(TURNS))]
                readings += [read_patches(image, each) for each in ways]
        if not readings:
            raise fields.refuse("still", "a picture in which no chart is found", allowed)
        misses = find_misses([each.mean for each in readings], self._predict(light))
        if misses.min() > MOST_MISS:
            said = "six by four squares without the colours of the chart under this light"
            raise fields.refuse("still", said, allowed)
        return readings[int(np.argmin(misses))]

    def _predict(self, light: tuple[str, Array]) -> Array:
        return (light[1] * self.chart.reflectances) @ self._start.sensitivities

    def _pick_turn(self, ways: list[Array], light: tuple[str, Array]) -> int:
        """Pick how the chart lies, and say so where that is not as stated."""
        turn = pick_turn(ways, self._predict(light))
        if turn:
            text = f"the patches fit only if the chart is taken as {TURNS[turn]}: it was read so"
            self.notes.append(warn("chart-turned", text, light[0]))
        return turn

    def _add_frame(
        self,
        fields: Fields,
        field: str,
        light: tuple[str, Array],
        raw: Array,
        faults: list[str],
    ) -> None:
        name, power = light
        for patch, fault in zip(self.chart.patches, faults, strict=True):
            if fault:
                self.notes.append(warn("patch-left-out", f"patch '{patch}' {fault}", name))
        used = np.array([not fault for fault in faults])
        if used.sum() < _LEAST_PATCHES:
            raise fields.refuse(
                field, f"{used.sum()} usable patches", f"at least {_LEAST_PATCHES} usable patches"
            )
        surfaces = tuple(each for each, use in zip(self.chart.patches, used, strict=True) if use)
        frame = Frame(
            name,
            power * self.chart.reflectances[used],
            np.maximum(raw[used], 0),
            surfaces,
            places=place_patches()[used] if used.size == ROWS * COLUMNS else None,
        )
        self._keep(frame)

    def _keep(self, frame: Frame) -> None:
        self.frames.append(frame)

    def take_neutral(self, fields: Fields) -> None:
        name, light = self._read_light(fields)
        if fields.kind(("raw", "reported")) == "raw":
            raw = np.array(fields.numbers("raw", 3))[None]
            self._keep(Frame(f"grey, {name}", light[None], raw, ("grey",)))
            return
        reported = fields.mapping("reported")
        kelvin = reported.number("kelvin")
        tint = reported.number("magenta_cc")
        self.balances.append(Balance(name, light, radiate_locus(kelvin), 10.0 ** (0.01 * tint)))

    def take_matrix(self, fields: Fields) -> None:
        name, light = self._read_light(fields)
        matrix = np.array(fields.numbers("xyz_to_camera", 9)).reshape(3, 3)
        chart = self.chart
        try:
            frame = make_matrix_frame(
                f"matrix, {name}", light, matrix, chart.reflectances, chart.patches
            )
        except ValueError as error:
            allowed = "nine numbers, row by row, from XYZ to camera RGB"
            raise fields.refuse("xyz_to_camera", str(error), allowed) from None
        self._keep(frame)


def _find_faults(raw: Array, white: float | None) -> list[str]:
    brightest = np.nanmax(raw) if np.isfinite(raw).any() else 1.0
    faults = []
    # Without a white level: two patches at one and the same top of a channel were cut there.
    top = np.nanmax(raw, axis=0) if np.isfinite(raw).any() else np.ones(3)
    at_top = raw >= _SAME_LEVEL * top
    cut = (at_top & (np.nansum(at_top, axis=0) > 1)).any(axis=1)
    for values, is_cut in zip(raw, cut, strict=True):
        if np.isnan(values).any():
            faults.append("is not in the table")
        elif white is not None and values.max() >= CLIP_SHARE * white:
            faults.append("clips")
        elif white is None and is_cut:
            faults.append(
                "shares the top of a channel with another patch, as if cut there: state `white:`"
            )
        elif values.min() < _DARK_SHARE * brightest:
            faults.append("is nearly black in a channel")
        else:
            faults.append("")
    return faults


def read_patch_table(path: Path, patches: tuple[str, ...]) -> dict[str, Array]:
    """Read mean raw values of chart patches, one row a patch.

    Parameters
    ----------
    path
        CSV with a header that names red, green and blue, and optionally patch.
    patches
        The chart's patches in order; without a patch column the rows are taken in that order.

    Returns
    -------
    dict
        (3,) raw values by patch, of the patches that the table has.
    """
    text = read_bytes(path, MOST_BYTES).decode("utf-8-sig", errors="replace")
    numbered = enumerate(text.splitlines(), 1)
    lines = [(at, line) for at, line in numbered if line.strip() and not line.startswith("#")]
    separator = ";" if lines and ";" in lines[0][1] else ","
    reader = csv.reader([line for _, line in lines], delimiter=separator)
    rows = [(lines[reader.line_num - 1][0], row) for row in reader]
    at, head = rows[0] if rows else (1, [])
    place = Place(str(path), at)
    header = [fold_name(cell) for cell in head]
    if not {"red", "green", "blue"} <= set(header):
        found = f"the header {', '.join(header)[:60] or 'nothing'}"
        raise InputError(found, "a header with red, green, blue and optionally patch", place)
    if len(rows) < 2:
        raise InputError("no row below the header", "a row for each patch", place)
    if "patch" not in header and len(rows) - 1 != len(patches):
        found = f"{len(rows) - 1} rows without a patch column"
        raise InputError(found, f"{len(patches)} rows in the chart's order", place)
    known = {fold_name(each): each for each in patches}
    result: dict[str, Array] = {}
    for number, (at, row) in enumerate(rows[1:]):
        here = Place(str(path), at)
        if len(row) != len(header):
            raise InputError(f"{len(row)} cells", f"{len(header)} cells as in the header", here)
        cells = dict(zip(header, row, strict=True))
        patch = patches[number] if "patch" not in cells else known.get(fold_name(cells["patch"]))
        if patch is None or patch in result:
            found = f"the patch '{cells.get('patch', '')[:40]}'"
            allowed = f"each patch of the chart once, '{patches[0]}' to '{patches[-1]}'"
            raise InputError(found, allowed, here)
        try:
            said = [cells[each] for each in ("red", "green", "blue")]
            if separator == ";":  # as spreadsheets write where the comma is the decimal sign
                said = [each.replace(",", ".") for each in said]
            values = np.array([float(each) for each in said])
        except ValueError:
            values = np.full(3, np.nan)
        if not np.isfinite(values).all():
            raise InputError(f"{','.join(row)[:60]}", "finite numbers for red, green, blue", here)
        result[patch] = values
    return result
