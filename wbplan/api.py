"""The whole way in one call: scenario file to plan, plan to files.

`wbplan.plan` and `wbplan.write_plan` are what the command line runs, for use from Python.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from wbplan import __version__
from wbplan.advising import advise_setup
from wbplan.agreement import compare_cameras
from wbplan.balance import check_band
from wbplan.camera import CameraProfile
from wbplan.catalogue import find_scenario_file
from wbplan.decisions import Plan, SetupPlan
from wbplan.output import write_folder
from wbplan.planluts import WatchLuts
from wbplan.planning import plan_setup
from wbplan.safenames import make_setup_stem
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
    check_band(band)
    described = read_scenario(find_scenario_file(str(scenario)), camera)
    views: dict[int, CameraView] = {}
    planned: list[SetupPlan] = []

    def view(profile: CameraProfile) -> CameraView:
        if id(profile) not in views:
            views[id(profile)] = view_camera(profile)
        return views[id(profile)]

    setups = [replace(each, band_share=band) for each in described.setups]
    for number, setup in enumerate(watch(setups), 1):
        stem = make_setup_stem(number, setup.name)
        seen = view(setup.camera)
        made = plan_setup(setup, seen, stem, described.digest, watch_luts)
        if setup.beside:
            others = [view(each) for each in setup.beside]
            made = replace(made, agreement=compare_cameras(made, seen, others))
        if advise:
            made = replace(made, advice=advise_setup(made, seen, tick))
        if plate:
            from wbplan.plateview import view_plate

            made = replace(made, plate=view_plate(made, seen))
        planned.append(made)
    return Plan(
        title=described.title,
        scenario_file=described.file,
        digest=described.digest,
        version=__version__,
        invented=described.invented,
        setups=tuple(planned),
        band_share=band,
        shooting_order=described.shooting_order,
    )


def make_files(plan: Plan) -> dict[str, bytes]:
    """Make the files of a plan, by name: report, record, LUTs, and plate notes where planned."""
    from wbplan.report.page import render_page
    from wbplan.report.record import build_record, format_record

    luts = {each.lut.file_name: each.lut.baked.data for each in plan.setups if each.lut}
    luts |= {lut.file_name: lut.data for each in plan.setups for lut in each.luts}
    record = build_record(plan)
    plates: dict[str, bytes] = {}
    if any(each.plate for each in plan.setups):
        from wbplan.report.platefiles import make_plate_files

        plates = make_plate_files(plan)
    record["files"] = [REPORT_NAME, RECORD_NAME, *luts, *plates]
    texts = {REPORT_NAME: render_page(plan), RECORD_NAME: format_record(record)}
    return {**{name: text.encode("utf-8") for name, text in texts.items()}, **luts, **plates}


def write_plan(plan: Plan, folder: str | Path, replace: bool = False) -> tuple[str, ...]:
    """Write a plan's files into a folder, all or none, and return their names.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, or cannot be written.
    """
    files = make_files(plan)
    write_folder(Path(folder), files, replace)
    return tuple(files)
