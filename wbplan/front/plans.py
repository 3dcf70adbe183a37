"""A scene's plan in one call."""

from __future__ import annotations

import dataclasses

from wbplan import __version__
from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView, view_camera
from wbplan.core.band import check_band
from wbplan.core.digest import digest_values
from wbplan.core.ledger import Asked, PlanInputs
from wbplan.core.names import make_setup_stem
from wbplan.core.progress import Progress, keep_rising, take_part, tell
from wbplan.front.scenes import SceneLike, take_scene
from wbplan.lut.file import LutFile, even_sizes, find_even_size
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.luts import plan_luts_beside
from wbplan.planning.setups import decide_setup, plan_setup
from wbplan.read.scenario.reader import Scene
from wbplan.scene.luts import check_size
from wbplan.scene.setup import change_asked


def plan(
    scene: SceneLike,
    camera: str | Camera | None = None,
    band: float | None = None,
    advise: bool | None = None,
    plate: bool | None = None,
    figures: bool | None = None,
    lut_size: int | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Plan every setup of a scene.

    Parameters
    ----------
    scene
        A `Scene`, or what `read_scene` makes one of: a scenario file, the name of a shipped one, a
        mapping, or the record of a plan, which is then made again. The same version of wbplan
        makes the same plan of a record, and `write` the same bytes; on another kind of machine
        the last bits of a sum may differ.
    camera
        A profile, by value, name or path, that takes the place of every camera in it.
    band
        The share of plausible cameras and readings that every interval is to hold, 0.5 to 0.99.
        This and the next four are, if not given, those of the record, else 0.90 and no.
    advise
        Also search for what to change on which light, and tune fixtures, as far as the scene
        allows it.
    plate
        Also work out what is kept with a plate for visual effects.
    figures
        Also have every figure written as a file of its own.
    lut_size
        Points of every 3D table, 17, 33, 65, 97 or 129, in place of what the scene says.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    Plan
        Everything decided, with bands and warnings; nothing is written.

    Raises
    ------
    InputError
        For a file that cannot be used, with file, line, column, field, found and allowed.

    Examples
    --------
    >>> import wbplan
    >>> decided = wbplan.plan("dusk_workshop")
    >>> for setup in decided.setups:
    ...     stop = round(setup.key.t_stop.value, 1)
    ...     print(setup.name, setup.dial.kelvin, setup.dial.tint_cc, stop)
    Wide of the room 4400.0 2.0 5.4
    Close on the wheel 3300.0 0.0 4.7
    >>> decided.setups[0].key.cast.words
    '5.1 mired cool, 0.6 CC green'
    """
    known = take_scene(scene, camera)
    inputs = None if known.inputs is None or known.read_as != known.identity else known.inputs
    recorded = Asked() if inputs is None else inputs.asked
    given = {
        "band_share": band,
        "advise": advise,
        "plate": plate,
        "figures": figures,
        "lut_size": lut_size,
    }
    chosen = {name: value for name, value in given.items() if value is not None}
    asked = dataclasses.replace(recorded, **chosen)  # type: ignore[arg-type]
    check_band(asked.band_share)
    check_size(asked.lut_size, "lut_size")
    setups = _plan_setups(known, asked, keep_rising(progress))
    return Plan(
        title=known.title,
        scenario_file=known.file if inputs is None else inputs.scenario.rpartition("/")[2],
        digest=known.find_digest(asked),
        version=__version__,
        invented=known.invented,
        setups=setups,
        band_share=asked.band_share,
        shooting_order=known.shooting_order,
        inputs=dataclasses.replace(inputs or PlanInputs("", ()), asked=asked),
    )


class CameraViews:
    """The views of cameras, each worked out when it is first asked for."""

    def __init__(self) -> None:
        self._views: dict[str, CameraView] = {}
        self._digests: dict[int, tuple[Camera, str]] = {}  # by id, of those that are held here

    def find(self, profile: Camera) -> CameraView:
        """Give the view of a profile."""
        digest = self.find_digest(profile)
        if digest not in self._views:
            self._views[digest] = view_camera(profile)
        return self._views[digest]

    def find_digest(self, profile: Camera) -> str:
        """Find the SHA-256 of a profile's values, once for each profile."""
        if id(profile) not in self._digests:
            self._digests[id(profile)] = profile, digest_values(profile)
        return self._digests[id(profile)][1]


def decide_one(scene: Scene, number: int, views: CameraViews) -> SetupPlan:
    """Decide a setup of a scene, by its number from 0, as `plan` does, without its LUTs.

    Parameters
    ----------
    views
        Of cameras that were seen before; those of the setup are added.
    """
    setup = scene.setups[number]
    seen = views.find(setup.camera)
    made = decide_setup(setup, seen, make_setup_stem(number + 1, setup.name))
    return _compare_beside(made, seen, [views.find(each) for each in setup.beside])


def _compare_beside(made: SetupPlan, seen: CameraView, others: list[CameraView]) -> SetupPlan:
    """Add to a plan how further cameras agree with its own, if there are any."""
    if not others:
        return made
    from wbplan.mixed.cameras import compare_cameras

    return dataclasses.replace(made, agreement=compare_cameras(made, seen, others))


def _plan_setups(scene: Scene, asked: Asked, progress: Progress | None) -> tuple[SetupPlan, ...]:
    if asked.advise:
        from wbplan.mixed.advising import advise_setup
    if asked.plate:
        from wbplan.planning.plate.view import view_plate

    views = CameraViews()
    planned: list[SetupPlan] = []
    setups = [change_asked(each, asked.band_share, asked.lut_size) for each in scene.setups]
    for number, setup in enumerate(setups):
        own = take_part(progress, number / len(setups), (number + 1) / len(setups))
        seen = views.find(setup.camera)
        stem = make_setup_stem(number + 1, setup.name)
        making = take_part(own, 0.0, 0.4 if asked.advise else 1.0)
        made = plan_setup(setup, seen, stem, making, find_even_size(_list_luts(planned)))
        others = [views.find(each) for each in setup.beside]
        made = _compare_beside(made, seen, others)
        beside = () if made.agreement is None else made.agreement.cameras
        for other, judged in zip(others, beside, strict=True):
            luts, notes = plan_luts_beside(setup, other, judged.dial, stem)
            made = dataclasses.replace(made, luts=(*made.luts, *luts), notes=(*made.notes, *notes))
        if asked.advise:
            advice = advise_setup(made, seen, take_part(own, 0.4, 1.0))
            made = dataclasses.replace(made, advice=advice)
        if asked.plate:
            made = dataclasses.replace(made, plate=view_plate(made, seen))
        planned.append(made)
        tell(own, 1.0, f"{number + 1} of {len(setups)} setups")
    evened = even_sizes(_list_luts(planned))
    return tuple(each.exchange_luts(evened) for each in planned)


def _list_luts(planned: list[SetupPlan]) -> list[LutFile]:
    return [file for each in planned for file in each.lut_files]
