"""The LUTs of a setup: which corrections, on which colours they are tried, in which files."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from wbplan.camera.neutralisable import NO_LIGHT
from wbplan.camera.setting import CameraView, Setting
from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note, Weight, warn
from wbplan.core.progress import Progress, follow
from wbplan.core.tables import Array
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.correction import Shot
from wbplan.lut.file import (
    TABLE,
    LutDraft,
    LutFile,
    Recipe,
    check_cube_holds,
    make_lut_file,
    make_table_file,
    raise_exposure,
    say_megabytes,
)
from wbplan.lut.recipes import (
    add_monitor,
    build_colours,
    make_correction,
    match_cameras,
    match_lights,
    reduce_to_gains,
    view_plainly,
    write_into,
)
from wbplan.planning.best_setting import solve_exact
from wbplan.planning.casts import WantedSetting, name_setting
from wbplan.planning.response import SceneResponse, respond_to_scene
from wbplan.scene.cautions import say_sun_caution
from wbplan.scene.luts import CdlOn, LutFormat, LutRequest
from wbplan.scene.setup import Setup


@dataclass(frozen=True, eq=False)
class LutPlan:
    """The LUT of a setup: the settings that it goes from and to, and its file."""

    shot_at: Setting
    wanted: WantedSetting
    file: LutFile

    @property
    def file_name(self) -> str:
        """The file's name."""
        return self.file.file_name


def plan_lut(
    scene: SceneResponse,
    exact: WantedSetting,
    dial: Setting,
    stem: str,
    remarks: tuple[str, ...] = (),
    least_size: int = 0,
) -> tuple[LutPlan | None, tuple[Note, ...]]:
    """Make the LUT from the dialled setting to the exact neutral of the intent.

    Parameters
    ----------
    stem
        What the file's name begins with.
    remarks
        What else its header is to say.
    least_size
        Points of its table at the least, where the setup asks for no size.

    Returns
    -------
    tuple
        The LUT, or None with a warning where every judged position is in trouble.
    """
    setup = scene.setup
    trouble = find_lut_trouble(scene)
    if trouble:
        return None, (warn("no-lut", f"no LUT is made: {trouble}", "LUT"),)
    correction, cost = make_correction(_take_shot(scene, dial), exact.point)
    before, after = name_setting(dial.kelvin, dial.tint_cc), exact.words
    recipe = Recipe("correct", before, after, correction, setup.keep, cost)
    draft = _draft(scene, dial, stem, remarks)(raise_exposure(recipe, setup.lut_up_stops))
    made = make_table_file(draft, setup.lut_size, least_size)
    notes = () if made.met else (warn("lut-error", say_unmet(made), "LUT"),)
    return LutPlan(dial, exact, made), notes


def find_lut_trouble(scene: SceneResponse) -> str:
    """Find why no LUT can be made of a setup; empty where one can."""
    setup = scene.setup
    judged = [
        said
        for said, position in zip(scene.position_trouble, setup.positions, strict=True)
        if position.intent.weight > 0
    ]
    if all(judged):
        return next((each for each in judged if each != NO_LIGHT), NO_LIGHT)
    try:
        check_cube_holds(LinearCorrection(setup.encoding, np.eye(3)))
    except InputError as error:
        return str(error)
    return ""


def _draft(
    scene: SceneResponse, dial: Setting, stem: str, remarks: tuple[str, ...] = ()
) -> Callable[[Recipe], LutDraft]:
    """Prepare what the drafts of a setup share."""
    setup = scene.setup
    colours = build_colours(_take_shot(scene, dial), scene.lit_power)
    cautions = say_sun_caution(each.spectrum for each in setup.sources)
    return partial(
        LutDraft,
        colours=colours,
        stem=stem,
        camera_name=setup.camera.name,
        remarks=(*remarks, *cautions),
    )


def _take_shot(scene: SceneResponse, dial: Setting) -> Shot:
    setup = scene.setup
    return Shot(scene.camera, setup.encoding, (dial.mired, dial.tint_cc), setup.keep)


@dataclass(frozen=True, eq=False)
class LutJob:
    """One file to be made."""

    recipe: Recipe
    format: LutFormat
    size: int | None
    cdl_on: CdlOn = "linear"


def plan_luts(
    scene: SceneResponse,
    exact: WantedSetting,
    dial: Setting,
    stem: str,
    taken: str,
    progress: Progress | None = None,
) -> tuple[tuple[LutFile, ...], tuple[Note, ...]]:
    """Make the LUTs that a setup asks for besides the main correction.

    Parameters
    ----------
    stem
        What the files' names begin with.
    taken
        The main correction's file name: what is asked for again is not made twice.
    progress
        Is told after each file how far it is.

    Returns
    -------
    tuple
        The files, and warnings about those that cannot be made or miss by more than one code.
    """
    setup = scene.setup
    if not setup.luts:
        return (), ()
    jobs: list[LutJob] = []
    notes: list[Note] = []
    for request in setup.luts:
        size = request.size or setup.lut_size
        stops = setup.lut_up_stops if request.up_stops is None else request.up_stops
        try:
            for exactly in _list_recipes(scene, exact, dial, request, notes):
                recipe = raise_exposure(write_into(exactly, request.into), stops)
                jobs += [LutJob(recipe, each, size, request.cdl_on) for each in request.formats]
        except InputError as error:
            notes.append(warn("no-lut", f"no {request.kind} LUT is made: {error}", "LUT"))
    draft = _draft(scene, dial, stem)
    used = {taken}
    files: list[LutFile] = []
    for job in follow(jobs, progress, "LUTs"):
        about = f"{job.recipe.kind} LUT to {job.recipe.end}"
        try:
            made = make_lut_file(draft(job.recipe), job.format, job.size, job.cdl_on)
        except InputError as error:
            notes.append(warn("no-lut", f"no .{job.format} is made: {error}", about))
            continue
        if made.file_name in used:
            # The name ends in a digest of the bytes, so this is the same file.
            notes.append(Note("lut-twice", f"asked for twice: {made.file_name}", about, "remark"))
            continue
        used.add(made.file_name)
        files.append(made)
        if not made.met:
            # A view is looked at, not graded on: what it misses is said, but is no alarm.
            weight: Weight = "remark" if job.recipe.kind == "monitor" else "warning"
            notes.append(Note("lut-error", say_unmet(made), about, weight))
    return tuple(files), tuple(notes)


def plan_luts_beside(
    setup: Setup, camera: CameraView, dial: Setting, stem: str
) -> tuple[tuple[LutFile, ...], tuple[Note, ...]]:
    """Make the LUTs of a further camera on a setup: its main correction, and what is asked for.

    Parameters
    ----------
    camera, dial
        The further camera, its files in its profile's own encoding, and what is dialled on it.
    stem
        What the setup's file names begin with; the camera's name follows.
    """
    profile = camera.profile
    requests = tuple(
        each for each in setup.luts if each.like is None or each.like.name != profile.name
    )
    own = replace(
        setup,
        camera=profile,
        encoding=find_encoding(profile.curve, profile.gamut),
        shot_at=None,
        luts=requests,
    )
    scene = respond_to_scene(own, camera)
    exact = solve_exact(scene)[0]
    own_stem = f"{stem}-{make_safe_name(profile.name)}"
    main, notes = plan_lut(scene, exact, dial, own_stem)
    files, more = plan_luts(scene, exact, dial, own_stem, main.file_name if main else "")
    said = (replace(each, about=f"{profile.name}, {each.about}") for each in (*notes, *more))
    return (*([main.file] if main else []), *files), tuple(said)


def say_unmet(made: LutFile) -> str:
    """Say that a file misses by more than one code, and what would not."""
    error = made.error
    assert error is not None
    share = max(error.trilinear.over_one_percent, error.tetrahedral.over_one_percent)
    need = "a finer form would not help"
    if made.form == TABLE:
        size = made.needed_size
        if size:
            need = f"{size} points stay under one, {say_megabytes(size)} a file"
        elif made.has_exact_form:
            need = "a .clf file has no such error"
    return (
        f"at {made.size} points it errs by up to {error.worst_codes:.1f} ten-bit codes, by more "
        f"than one on {share:.2g} % of the colours; {need}"
    )


def _list_recipes(
    scene: SceneResponse,
    exact: WantedSetting,
    dial: Setting,
    request: LutRequest,
    notes: list[Note],
) -> Iterator[Recipe]:
    setup, shot = scene.setup, _take_shot(scene, dial)
    before, after = name_setting(dial.kelvin, dial.tint_cc), exact.words
    if request.kind == "positions":
        own, trouble = scene.position, scene.position_trouble
        for row, position in enumerate(setup.positions):
            if request.position and position.name != request.position:
                continue
            if trouble[row]:
                text = f"no LUT to it is made: {trouble[row]}"
                notes.append(warn("no-lut", text, position.name))
                continue
            wanted = (float(own.mired[row, 0]), float(own.tint_cc[row, 0]))
            made, cost = make_correction(shot, wanted)
            end = f"{position.name}, {name_setting(1e6 / wanted[0], wanted[1])}"
            yield Recipe("positions", before, end, made, setup.keep, cost)
        return
    if request.kind == "light-match":
        names = (request.start, request.end)
        lights = (_find_light(scene, names[0]), _find_light(scene, names[1]))
        yield match_lights(shot, lights, names, request.map)
        return
    if request.kind == "camera-match":
        assert request.like is not None
        light = _find_light(scene, request.position or setup.key)
        yield match_cameras(shot, view_plainly(request.like), light, request.map)
        return
    correction, cost = make_correction(shot, exact.point)
    if request.kind == "gains":
        yield reduce_to_gains(shot, correction, scene.lit_power, (before, after))
    elif request.kind == "monitor":
        yield add_monitor(correction, (before, after), setup.keep, cost, request.monitor)
    else:
        yield Recipe("correct", before, after, correction, setup.keep, cost)


def _find_light(scene: SceneResponse, name: str) -> Array:
    """Find the light at a position, or of a source, by name; a position comes first."""
    setup = scene.setup
    lights = {each.name: power for each, power in zip(setup.sources, scene.power, strict=True)}
    places = zip(setup.positions, scene.position_power, strict=True)
    light: Array = (lights | {each.name: power for each, power in places})[name]
    if light.sum() <= 0:
        raise InputError(f"no light at '{name}'", "a position or source that has light")
    return light
