"""Where a plan begins: a `Scene` from a scenario file, from a plan's record, or from Python."""

from __future__ import annotations

import os
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from wbplan import __version__
from wbplan.camera.sensitivities import Camera
from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.core.ledger import Asked, Ledger, PlanInputs
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note, warn
from wbplan.core.output import finish_writes
from wbplan.front.memory import SCENE_NAME, format_camera, write_out
from wbplan.read.catalogue import find_scenario_file, name_given_camera
from wbplan.read.scenario.reader import Scene, read_scenario
from wbplan.read.yaml.tree import Parse, build_tree
from wbplan.record.file import RECORD_NAME, RecordFile, read_inputs, read_record

SceneLike = Scene | str | os.PathLike[str] | Mapping[str, Any]
"""A scene, or what `read_scene` makes one of."""
_RECORD_ENDING = ".json"


def read_scene(
    scenario: str | os.PathLike[str] | Mapping[str, Any],
    camera: str | Camera | None = None,
    for_day: bool = False,
    tried: Sequence[str] = (),
) -> Scene:
    """Read what is shot where: a scenario file, a mapping in its format, or a plan's record.

    Parameters
    ----------
    scenario
        Path of a scenario file; the name of a shipped one; a mapping with the fields of a scenario
        file, in which a `Spectrum` may stand for a source (or as its ``spectrum_file``), a
        `Camera` for a profile's name, and paths start from the working directory; or a
        `plan.json`, or the folder that holds one: the scenario, every file it names, the profiles
        and the options then come from the record, and nothing else is read.
    camera
        A profile, by value, name or path, that takes the place of every camera in it.
    for_day
        The scene is for `plan_day`, which moves it through a day: a light of the sky may then have
        a time at which there is none to plan by, since its date is all that counts.
    tried
        Values to try in place of the scenario's own, each "positions.Anna.lux.window=120"; every
        setup warns of them, and a record says them. With a record, those of the record.

    Returns
    -------
    Scene
        With the files that it came from, so that the record of its plan carries them. From a
        record with a note where another version wrote it, or its digest comes out another.

    Raises
    ------
    InputError
        For what cannot be used, with file, line and field (in a mapping with the field).

    Examples
    --------
    >>> import wbplan
    >>> tube = wbplan.find_light("FL11")
    >>> scene = wbplan.read_scene({
    ...     "title": "Kitchen",
    ...     "camera": "cfa-mid",
    ...     "sources": {"tube": tube, "window": {"daylight_kelvin": 6500}},
    ...     "setups": [{
    ...         "name": "At the sink",
    ...         "shooting": {"ei": 800, "fps": 24, "shutter_angle_deg": 180},
    ...         "positions": {"face": {"lux": {"tube": 300, "window": 40}}},
    ...     }],
    ... })
    >>> scene.setups[0].positions[0].lux
    array([300.,  40.])
    """
    if isinstance(scenario, Mapping):
        return _read_mapping(scenario, camera, for_day, tried)
    path = Path(scenario)
    if path.suffix.lower() == _RECORD_ENDING or (
        os.path.isdir(path) and os.path.exists(path / RECORD_NAME)
    ):
        if camera is not None:
            allowed = "a record by itself, since it states what it was made with"
            raise InputError("a camera beside a record", allowed, Place(field="camera"))
        if tried:
            allowed = "a record by itself, or the scenario with what is tried"
            raise InputError("values to try beside a record", allowed, Place(field="tried"))
        return read_record_scene(path)
    found = find_scenario_file(os.fspath(scenario))
    finish_writes(found.parent)
    return _read(Ledger(given=_give_camera(camera)), found, camera, for_day, tried)


def read_edited(
    path: Path,
    files: Mapping[str, bytes],
    memory: dict[Hashable, Any] | None = None,
    parse: Parse = build_tree,
) -> Scene:
    """Read a scenario of which some files are not as they lie on the disk.

    Parameters
    ----------
    path
        Of the scenario file, there or not.
    files
        Contents by name, from the scenario's folder; all others come from the disk.
    memory
        Keeps the spectra and cameras that were read, for the next time.
    parse
        Gives the tree of the scenario's text.

    Returns
    -------
    Scene
        Without the files that it came from.

    Raises
    ------
    InputError
        As `read_scene`.
    """
    given = {f"scenario/{name}": data for name, data in files.items()}
    ledger = Ledger(given=given, memory=memory)
    with ledger.scope("scenario", path.parent):
        return read_scenario(path, parse=parse)


def take_scene(scene: SceneLike, camera: str | Camera | None, for_day: bool = False) -> Scene:
    """Take a scene as it is, or read what is given in its place.

    Raises
    ------
    InputError
        For a camera beside a scene, which has its own.
    """
    if not isinstance(scene, Scene):
        return read_scene(scene, camera, for_day)
    if camera is not None:
        allowed = "read_scene(scenario, camera), which reads the scene with that camera"
        raise InputError("a camera beside a Scene", allowed, Place(field="camera"))
    return scene


def _read(
    ledger: Ledger,
    path: Path,
    camera: str | Camera | None,
    for_day: bool = False,
    tried: Sequence[str] = (),
) -> Scene:
    name = f"{_name(camera)}.yaml" if isinstance(camera, Camera) else camera
    with ledger.scope("scenario", path.parent):
        scene = read_scenario(path, name, for_day, tried)
    inputs = PlanInputs(
        scenario=ledger.files[0].name,
        files=ledger.files,
        camera=None if name is None else name_given_camera(name),
        asked=Asked(tried=tuple(tried)),
    )
    scene = replace(scene, inputs=inputs)
    return replace(scene, read_as=scene.identity)


def _name(camera: Camera) -> str:
    return make_safe_name(camera.name, "camera")


def _give_camera(camera: str | Camera | None) -> dict[str, bytes]:
    if not isinstance(camera, Camera):
        return {}
    files = format_camera(camera, _name(camera))
    return {f"camera/{name}": data for name, data in files.items()}


def _read_mapping(
    said: Mapping[str, Any], camera: str | Camera | None, for_day: bool, tried: Sequence[str]
) -> Scene:
    files, _ = write_out({"wbplan": 1, **said}, SCENE_NAME, "scenario")
    try:
        ledger = Ledger(given=files | _give_camera(camera))
        return _read(ledger, Path(SCENE_NAME), camera, for_day, tried)
    except InputError as error:
        if error.place.file != SCENE_NAME:
            raise
        raise error.move(lambda place: Place(field=place.field)) from None


def read_record_scene(path: Path) -> Scene:
    """Read the scene that a plan's record carries; see `read_scene`."""
    found = read_record(path)
    inputs = read_inputs(found)
    ledger = Ledger({each.name: each.data for each in inputs.files}, found.path)
    camera = inputs.camera
    if camera is not None and "/" in camera:
        camera = str(ledger.place_of(camera))
    try:
        scene = _read(ledger, ledger.place_of(inputs.scenario), camera, tried=inputs.asked.tried)
    except InputError as error:
        place = Place(str(found.path), field="inputs")
        raise error if error.place.file else error.at(place) from None
    assert scene.inputs is not None
    return replace(
        scene,
        inputs=replace(scene.inputs, asked=inputs.asked),
        notes=_find_differences(scene.find_digest(inputs.asked), found),
    )


def _find_differences(own: str, found: RecordFile) -> tuple[Note, ...]:
    about = show_value(found.path.name)
    if not found.is_current:
        text = (
            "made when a position without a weight pulled on the setting; now it is watched, so "
            "settings may differ: give weights to get them back"
        )
        return (warn("older-format", text, about),)
    if found.version != __version__:
        version = show_value(found.version)
        text = f"made by wbplan {version}, this is {__version__}: figures may differ"
        return (warn("other-version", text, about),)
    if found.digest != own:
        text = "the digest of the inputs does not come out as the record states it"
        return (warn("other-digest", text, about),)
    return ()
