"""The whole way in one call: scenario file to plan, plan to files.

`wbplan.plan` and `wbplan.write_plan` are what the command line runs, for use from Python.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from wbplan import __version__
from wbplan.agreement import compare_cameras
from wbplan.balance import check_band
from wbplan.camera import CameraProfile
from wbplan.catalogue import find_scenario_file, name_given_camera
from wbplan.decisions import Plan, SetupPlan
from wbplan.inputs import PlanInputs
from wbplan.ledger import Ledger
from wbplan.output import write_folder
from wbplan.planluts import WatchLuts
from wbplan.planning import plan_setup
from wbplan.safenames import make_safe_name
from wbplan.scenario import read_scenario
from wbplan.search import Tick
from wbplan.setup import Setup
from wbplan.whitebalance import CameraView, view_camera

Watch = Callable[[list[Setup]], Iterable[Setup]]
REPORT_NAME, RECORD_NAME = "report.html", "plan.json"


def plan(
    scenario: str | Path,
    camera: str | None = None,
    watch: Watch = list,
    band: float = 0.90,
    advise: bool = False,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
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
    return plan_file(path, Ledger(), camera, watch, band, advise, tick, watch_luts)


def plan_file(
    path: Path,
    ledger: Ledger,
    camera: str | None = None,
    watch: Watch = list,
    band: float = 0.90,
    advise: bool = False,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
) -> Plan:
    """Plan a scenario file that a ledger reads, and carry what it read; see `plan`."""
    if advise:
        from wbplan.advising import advise_setup

    check_band(band)
    with ledger.scope("scenario", path.parent):
        described = read_scenario(path, camera)
    inputs = PlanInputs(
        scenario=ledger.files[0].name,
        files=ledger.files,
        camera=None if camera is None else name_given_camera(camera),
        band_share=band,
        advise=advise,
    )
    views: dict[int, CameraView] = {}
    planned: list[SetupPlan] = []

    def view(profile: CameraProfile) -> CameraView:
        if id(profile) not in views:
            views[id(profile)] = view_camera(profile)
        return views[id(profile)]

    setups = [replace(each, band_share=band) for each in described.setups]
    for number, setup in enumerate(watch(setups), 1):
        stem = f"{number:02d}-{make_safe_name(setup.name)}"
        seen = view(setup.camera)
        made = plan_setup(setup, seen, stem, described.digest, watch_luts)
        if setup.beside:
            others = [view(each) for each in setup.beside]
            made = replace(made, agreement=compare_cameras(made, seen, others))
        if advise:
            made = replace(made, advice=advise_setup(made, seen, tick))
        planned.append(made)
    return Plan(
        title=described.title,
        scenario_file=inputs.scenario.rpartition("/")[2],
        digest=described.digest,
        version=__version__,
        invented=described.invented,
        setups=tuple(planned),
        band_share=band,
        shooting_order=described.shooting_order,
        inputs=inputs,
    )


def make_files(plan: Plan, figures: bool = False) -> dict[str, bytes]:
    """Make the files of a plan, by name: the pages, record, flat tables, and each setup's LUTs.

    With ``figures`` also every figure of the pages as a file of its own.
    """
    from wbplan.report.page import render_figures, render_pages
    from wbplan.report.record import build_record, format_record
    from wbplan.report.sheets import make_sheets

    luts = {each.lut.file_name: each.lut.baked.data for each in plan.setups if each.lut}
    luts |= {lut.file_name: lut.data for each in plan.setups for lut in each.luts}
    record = build_record(plan)
    sheets = make_sheets(record)
    texts = render_pages(plan) | (render_figures(plan) if figures else {})
    record["files"] = [*texts, RECORD_NAME, *sheets, *luts]
    texts[RECORD_NAME] = format_record(record)
    return {**{name: text.encode("utf-8") for name, text in texts.items()}, **sheets, **luts}


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
