"""A scenario's day in one call: file to `DayPlan`, `DayPlan` to files."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from wbplan import __version__
from wbplan.camera.setting import view_camera
from wbplan.core.band import BAND_SHARE, check_band
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.core.ledger import Asked, Ledger, PlanInputs
from wbplan.core.names import make_safe_name
from wbplan.core.output import RECORD_NAME, write_folder
from wbplan.day.luts import Watch as WatchLuts
from wbplan.day.scene import Tick
from wbplan.day.setups import DayPlan, DaySetup, plan_day_setup
from wbplan.day.times import DayWish
from wbplan.read.catalogue import find_scenario_file, name_given_camera
from wbplan.read.scenario.reader import read_scenario
from wbplan.scene.setup import Setup
from wbplan.scene.sky_draws import has_sky

Watch = Callable[[list[Setup]], Iterable[Setup]]
PAGE_NAME = "day.html"


def plan_day(
    scenario: str | Path,
    camera: str | None = None,
    wish: Callable[[DayWish], DayWish] = lambda wish: wish,
    band: float = BAND_SHARE,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
) -> DayPlan:
    """Plan a day for every setup of a scenario that has a light of the sky.

    Parameters
    ----------
    scenario
        Path of a scenario file, or the name of a shipped one.
    camera
        Name or path of a profile that takes the place of every camera in the scenario.
    wish
        Changes what the scenario asks of the day; as it stands if not given.
    band
        The share of plausible cameras, airs and readings that every interval is to hold.
    tick, watch_luts
        Are told how far the times of a setup, and its LUTs, are.

    Raises
    ------
    InputError
        For a file that cannot be used, or a scenario without any light of the sky.
    """
    check_band(band)
    path, ledger = find_scenario_file(str(scenario)), Ledger(limit_bytes=math.inf)
    with ledger.scope("scenario", path.parent):
        described = read_scenario(path, camera)
    given = None if camera is None else name_given_camera(camera)
    inputs = PlanInputs(ledger.files[0].name, ledger.files, given, Asked(band))
    asked = wish(described.day or DayWish())
    setups = [replace(each, band_share=band) for each in described.setups]
    under = [each for each in setups if has_sky(each)]
    if not under:
        found = f"{described.file}, a scenario without a light of the sky at any position"
        raise InputError(found, "a source of kind sun, sky, overcast or shade that is read there")
    digest = digest_values(inputs.digest, asked)
    planned: list[DaySetup] = []
    for number, setup in enumerate(setups, 1):
        if setup in under:
            names = (f"{number:02d}-{make_safe_name(setup.name)}", digest)
            seen = view_camera(setup.camera)
            planned.append(plan_day_setup(setup, seen, asked, names, tick, watch_luts))
    return DayPlan(
        title=described.title,
        scenario_file=described.file,
        digest=digest,
        version=__version__,
        invented=described.invented,
        setups=tuple(planned),
        passed_over=tuple(each.name for each in setups if each not in under),
        band_share=band,
    )


def make_day_files(plan: DayPlan) -> dict[str, bytes]:
    """Make the files of a day, by name: the page, the record, the LUTs."""
    from wbplan.record.day import build_day_record
    from wbplan.record.plan import format_record
    from wbplan.report.day.page import render_day_page

    luts = {
        lut.plan.file_name: lut.plan.baked.data
        for each in plan.setups
        if each.luts is not None
        for lut in each.luts.luts
    }
    record = build_day_record(plan)
    record["files"] = [PAGE_NAME, RECORD_NAME, *luts]
    texts = {PAGE_NAME: render_day_page(plan), RECORD_NAME: format_record(record)}
    return {**{name: text.encode("utf-8") for name, text in texts.items()}, **luts}


def write_day(plan: DayPlan, folder: str | Path, replace: bool = False) -> tuple[str, ...]:
    """Write a day's files into a folder, all or none, and return their names.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, or cannot be written.
    """
    files = make_day_files(plan)
    write_folder(Path(folder), files, replace)
    return tuple(files)
