"""The whole way in one call: scenario file to plan, plan to files.

`wbplan.plan` and `wbplan.write_plan` are what the command line runs, for use from Python.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from pathlib import Path

from wbplan import __version__
from wbplan.camera.sensitivities import CameraProfile
from wbplan.camera.setting import CameraView, view_camera
from wbplan.core.band import BAND_SHARE, check_band
from wbplan.core.ledger import Asked, Ledger, PlanInputs
from wbplan.core.names import make_setup_stem
from wbplan.core.output import write_folder
from wbplan.mixed.cameras import compare_cameras
from wbplan.mixed.search import Tick
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.luts import WatchLuts
from wbplan.planning.setups import plan_setup
from wbplan.read.catalogue import find_scenario_file, name_given_camera
from wbplan.read.scenario.reader import read_scenario
from wbplan.scene.setup import Setup

Watch = Callable[[list[Setup]], Iterable[Setup]]
RECORD_NAME = "plan.json"


def plan(
    scenario: str | Path,
    camera: str | None = None,
    watch: Watch = list,
    band: float = BAND_SHARE,
    advise: bool = False,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
    plate: bool = False,
) -> Plan:
    """Plan every setup of a scenario.

    Parameters
    ----------
    scenario
        Path of a scenario file, or the name of a shipped one.
    camera
        Name or path of a profile that takes the place of every camera in the scenario.
    watch
        Wraps the setups while they are worked through, to show progress.
    band
        The share of plausible cameras and readings that every interval is to hold, 0.5 to 0.99.
    advise
        Also search for what to change on which light, and tune fixtures, as far as the scenario
        allows it.
    tick
        Is told how far each search is, 0 to 1.
    watch_luts
        Wraps the further LUTs of a setup likewise.
    plate
        Also work out what is kept with a plate for visual effects.

    Returns
    -------
    Plan
        Everything decided, with bands and warnings; nothing is written.

    Raises
    ------
    InputError
        For a file that cannot be used, with file, line, column, field, found and allowed.
    """
    path = find_scenario_file(str(scenario))
    asked = Asked(band, advise, plate)
    return plan_file(path, Ledger(), camera, asked, watch, tick, watch_luts)


def plan_file(
    path: Path,
    ledger: Ledger,
    camera: str | None = None,
    asked: Asked | None = None,
    watch: Watch = list,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
) -> Plan:
    """Plan a scenario file that a ledger reads, and carry what it read; see `plan`."""
    asked = asked or Asked()
    if asked.advise:
        from wbplan.mixed.advising import advise_setup
    if asked.plate:
        from wbplan.planning.plate.view import view_plate

    check_band(asked.band_share)
    with ledger.scope("scenario", path.parent):
        described = read_scenario(path, camera)
    inputs = PlanInputs(
        scenario=ledger.files[0].name,
        files=ledger.files,
        camera=None if camera is None else name_given_camera(camera),
        asked=asked,
    )
    digest = inputs.digest
    views: dict[int, CameraView] = {}
    planned: list[SetupPlan] = []

    def view(profile: CameraProfile) -> CameraView:
        if id(profile) not in views:
            views[id(profile)] = view_camera(profile)
        return views[id(profile)]

    setups = [dataclasses.replace(each, band_share=asked.band_share) for each in described.setups]
    for number, setup in enumerate(watch(setups), 1):
        stem = make_setup_stem(number, setup.name)
        seen = view(setup.camera)
        made = plan_setup(setup, seen, stem, digest, watch_luts)
        if setup.beside:
            others = [view(each) for each in setup.beside]
            made = dataclasses.replace(made, agreement=compare_cameras(made, seen, others))
        if asked.advise:
            made = dataclasses.replace(made, advice=advise_setup(made, seen, tick))
        if asked.plate:
            made = dataclasses.replace(made, plate=view_plate(made, seen))
        planned.append(made)
    return Plan(
        title=described.title,
        scenario_file=inputs.scenario.rpartition("/")[2],
        digest=digest,
        version=__version__,
        invented=described.invented,
        setups=tuple(planned),
        band_share=asked.band_share,
        shooting_order=described.shooting_order,
        inputs=inputs,
    )


def make_files(plan: Plan, figures: bool = False) -> dict[str, bytes]:
    """Make the files of a plan, by name: pages, record, flat tables, LUTs, plate notes where asked.

    With ``figures``, or for a plan made again from a record that had them, also every figure of
    the pages as a file of its own.
    """
    from wbplan.record.plan import build_record, format_record
    from wbplan.record.sheets import make_sheets
    from wbplan.report.plan.page import prepare_pages, render_figures, render_pages

    if plan.inputs is not None:
        figures = figures or plan.inputs.asked.figures
        asked = dataclasses.replace(plan.inputs.asked, figures=figures)
        plan = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, asked=asked))
    luts = {each.lut.file_name: each.lut.baked.data for each in plan.setups if each.lut}
    luts |= {lut.file_name: lut.data for each in plan.setups for lut in each.luts}
    record = build_record(plan)
    sheets = make_sheets(record)
    prepared = prepare_pages(plan)
    texts = render_pages(plan, prepared) | (render_figures(plan, prepared) if figures else {})
    plates: dict[str, bytes] = {}
    if any(each.plate for each in plan.setups):
        from wbplan.report.plate.files import make_plate_files

        plates = make_plate_files(plan)
    record["files"] = [*texts, RECORD_NAME, *sheets, *luts, *plates]
    texts[RECORD_NAME] = format_record(record)
    whole = {name: text.encode("utf-8") for name, text in texts.items()}
    return {**whole, **sheets, **luts, **plates}


def write_plan(
    plan: Plan, folder: str | Path, replace: bool = False, figures: bool = False
) -> tuple[str, ...]:
    """Write a plan's files into a folder, all or none, and return their names.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, or cannot be written.
    """
    files = make_files(plan, figures)
    write_folder(Path(folder), files, replace)
    return tuple(files)
