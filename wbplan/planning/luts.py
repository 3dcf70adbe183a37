"""The LUT of a setup: which correction, on which colours it is tried, and under which name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wbplan import __version__
from wbplan.camera.setting import CameraView, Setting
from wbplan.core.errors import InputError
from wbplan.core.notes import Note, Weight, warn
from wbplan.core.progress import Progress, follow
from wbplan.core.tables import Array, load_table
from wbplan.lut.bake import LinearCorrection, choose_lut, scene_codes
from wbplan.lut.correction import find_correction_matrix, find_surface_rgb
from wbplan.lut.file import LEVEL_WORDS, LutFile, Recipe, make_lut_file, name_encoding
from wbplan.lut.recipes import (
    add_monitor,
    build_codes,
    make_correction,
    match_cameras,
    match_lights,
    reduce_to_gains,
    view_plainly,
)
from wbplan.planning.decisions import LutPlan, WantedSetting, name_setting
from wbplan.planning.judging import NO_LIGHT
from wbplan.scene.cautions import say_sun_caution
from wbplan.scene.luts import LutFormat, LutRequest
from wbplan.scene.setup import Setup


def plan_lut(
    setup: Setup,
    camera: CameraView,
    exact: WantedSetting,
    dial: Setting,
    at_positions: Array,
    trouble: list[str],
    names: tuple[str, str],
    remarks: tuple[str, ...] = (),
) -> tuple[LutPlan | None, tuple[Note, ...]]:
    """Make the LUT from the dialled setting to the exact neutral of the intent.

    Parameters
    ----------
    at_positions
        (p, 401) the light at each position, on whose colours the LUT is measured.
    trouble
        For each position why no setting neutralises its light, or an empty text.
    names
        What the file's name begins with, and the digest of the plan's inputs.
    remarks
        What else its header is to say.

    Returns
    -------
    tuple
        The LUT, or None with a warning where every judged position is in trouble.
    """
    stem, digest = names
    judged = [
        said
        for said, position in zip(trouble, setup.positions, strict=True)
        if position.intent.weight > 0
    ]
    if all(judged):
        said = next((each for each in judged if each != NO_LIGHT), NO_LIGHT)
        return None, (warn("no-lut", f"no LUT is made: {said}", "LUT"),)
    shot_at = (dial.mired, dial.tint_cc)
    wanted = (exact.mired.value, exact.tint_cc.value)
    matrix, cost = find_correction_matrix(camera, setup.encoding, shot_at, wanted, setup.keep)
    correction = LinearCorrection(setup.encoding, matrix)
    lit = at_positions[at_positions.sum(-1) > 0]
    surfaces = np.concatenate([load_table("chart"), load_table("samples")])
    samples = find_surface_rgb(camera, setup.encoding, shot_at, lit, surfaces)
    codes = scene_codes(setup.encoding, samples.reshape(-1, 3))
    before = name_setting(dial.kelvin, dial.tint_cc)
    after = name_setting(exact.kelvin.value, exact.tint_cc.value)
    baked = choose_lut(
        correction,
        codes,
        title=f"{stem} {before} to {after}",
        comments=(
            f"White balance correction made by wbplan {__version__}.",
            f"From a picture shot at {before} to {after}, camera profile {camera.profile.name}.",
            f"Level kept: {LEVEL_WORDS[setup.keep]}, {cost:.2f} stops darker.",
            f"Plan inputs SHA-256 {digest or 'not stated'}.",
            *remarks,
            *say_sun_caution(each.spectrum for each in setup.sources),
        ),
    )
    parts = (stem, "correct", before, after, name_encoding(setup.encoding), baked.size)
    file_name = "_".join(str(part).replace(" ", "-") for part in parts) + ".cube"
    notes = []
    if not baked.met:
        notes.append(
            warn(
                "lut-error",
                f"the LUT's worst reading error stays above one ten-bit code even at "
                f"{baked.size} points",
                "LUT",
            )
        )
    return LutPlan(file_name, dial, exact, matrix, setup.keep, cost, baked), tuple(notes)


MONITOR_SIZE = 33
"""Nodes per axis of a monitoring LUT that nobody gave a size: what monitors take (common practice,
no source)."""


@dataclass(frozen=True, eq=False)
class LutJob:
    """One file to be made."""

    recipe: Recipe
    format: LutFormat
    size: int | None


@dataclass(frozen=True, eq=False)
class SetupScene:
    """What is known of a setup when its LUTs are made.

    ``lights`` (n, 401) are those of the sources behind their filters, ``at_positions`` (p, 401)
    those at the positions, ``wanted`` the setting that each position wants and ``trouble`` why
    none neutralises it, or an empty text.
    """

    setup: Setup
    camera: CameraView
    exact: WantedSetting
    dial: Setting
    lights: Array
    at_positions: Array
    wanted: tuple[WantedSetting, ...]
    trouble: tuple[str, ...]


def plan_luts(
    scene: SetupScene, stem: str, digest: str, taken: str, progress: Progress | None = None
) -> tuple[tuple[LutFile, ...], tuple[Note, ...]]:
    """Make the LUTs that a setup asks for.

    Parameters
    ----------
    stem, digest
        What the files' names begin with, and the digest of the plan's inputs.
    taken
        The main correction's file name, which no other file may have.
    progress
        Is told after each file how far it is.

    Returns
    -------
    tuple
        The files, and warnings about those that cannot be made or miss by more than one code.
    """
    if not scene.setup.luts:
        return (), ()
    jobs: list[LutJob] = []
    notes: list[Note] = []
    for request in scene.setup.luts:
        try:
            for recipe in _list_recipes(scene, request, notes):
                jobs += [LutJob(recipe, each, _choose_size(request)) for each in request.formats]
        except InputError as error:
            notes.append(warn("no-lut", f"no {request.kind} LUT is made: {error}", "LUT"))
    codes = _find_codes(scene)
    names = {taken}
    files: list[LutFile] = []
    for job in follow(jobs, progress, "LUTs"):
        try:
            made = make_lut_file(
                job.recipe,
                job.format,
                job.size,
                codes,
                stem,
                digest,
                scene.camera.profile.name,
                say_sun_caution(each.spectrum for each in scene.setup.sources),
            )
        except InputError as error:
            notes.append(warn("no-lut", f"no .{job.format} is made: {error}", _name(job.recipe)))
            continue
        if made.file_name in names:
            continue
        names.add(made.file_name)
        files.append(made)
        if not made.met:
            # A view is looked at, not graded on: what it misses is said, but is no alarm.
            weight: Weight = "remark" if job.recipe.kind == "monitor" else "warning"
            notes.append(Note("lut-error", say_unmet(made), _name(job.recipe), weight))
    return tuple(files), tuple(notes)


def say_unmet(made: LutFile) -> str:
    """Say that a file misses by more than one code, and what would not."""
    error = made.error
    assert error is not None
    share = max(error.trilinear.over_one_percent, error.tetrahedral.over_one_percent)
    need = "a finer form would not help"
    if made.form == "3D table":
        size = made.needed_size
        need = f"{size} points stay under one" if size else "a .clf file has no such error"
    return (
        f"at {made.size} points it errs by up to {error.worst_codes:.1f} ten-bit codes, by more "
        f"than one on {share:.2g} % of the colours; {need}"
    )


def _name(recipe: Recipe) -> str:
    return f"{recipe.kind} LUT to {recipe.end}"


def _choose_size(request: LutRequest) -> int | None:
    return MONITOR_SIZE if request.kind == "monitor" and not request.size else request.size


def _find_codes(scene: SetupScene) -> Array:
    lit = scene.at_positions[scene.at_positions.sum(-1) > 0]
    shot_at = (scene.dial.mired, scene.dial.tint_cc)
    return build_codes(scene.camera, scene.setup.encoding, shot_at, lit)


def _list_recipes(scene: SetupScene, request: LutRequest, notes: list[Note]) -> Iterator[Recipe]:
    setup, dial = scene.setup, scene.dial
    shot_at = (dial.mired, dial.tint_cc)
    before = name_setting(dial.kelvin, dial.tint_cc)
    if request.kind == "positions":
        for position, wanted, trouble in zip(
            setup.positions, scene.wanted, scene.trouble, strict=True
        ):
            if request.position and position.name != request.position:
                continue
            if trouble:
                notes.append(warn("no-lut", f"no LUT to it is made: {trouble}", position.name))
                continue
            exact = _point(wanted)
            made, cost = make_correction(scene.camera, setup.encoding, shot_at, exact, setup.keep)
            end = f"{position.name}, {name_setting(1e6 / exact[0], exact[1])}"
            yield Recipe("positions", before, end, made, setup.keep, cost)
        return
    exact = _point(scene.exact)
    after = name_setting(1e6 / exact[0], exact[1])
    if request.kind == "light-match":
        names = (request.start, request.end)
        lights = (_find_light(scene, names[0]), _find_light(scene, names[1]))
        yield match_lights(scene.camera, lights, names, setup.encoding, shot_at, setup.keep)
        return
    if request.kind == "camera-match":
        assert request.like is not None
        name = request.position or setup.key
        yield match_cameras(
            scene.camera,
            view_plainly(request.like),
            _find_light(scene, name),
            setup.encoding,
            shot_at,
            setup.keep,
        )
        return
    correction, cost = make_correction(scene.camera, setup.encoding, shot_at, exact, setup.keep)
    if request.kind == "gains":
        lit = scene.at_positions[scene.at_positions.sum(-1) > 0]
        yield reduce_to_gains(scene.camera, correction, shot_at, lit, (before, after), setup.keep)
    elif request.kind == "monitor":
        yield add_monitor(correction, (before, after), setup.keep, cost)
    else:
        yield Recipe("correct", before, after, correction, setup.keep, cost)


def _point(wanted: WantedSetting) -> tuple[float, float]:
    return wanted.mired.value, wanted.tint_cc.value


def _find_light(scene: SetupScene, name: str) -> Array:
    """Find the light at a position, or of a source, by name; a position comes first."""
    places = {each.name: row for row, each in enumerate(scene.setup.positions)}
    sources = {each.name: row for row, each in enumerate(scene.setup.sources)}
    light: Array = (
        scene.at_positions[places[name]] if name in places else scene.lights[sources[name]]
    )
    if light.sum() <= 0:
        raise InputError(f"no light at '{name}'", "a position or source that has light")
    return light
