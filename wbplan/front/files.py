"""What a result is as files: the pages, records, tables and LUTs, in one call for every result."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from wbplan import __version__
from wbplan.core.output import RECORD_NAME, write_files, write_folder
from wbplan.front.memory import SCENE_NAME
from wbplan.planning.decisions import Plan

if TYPE_CHECKING:  # a plan is written without what other results are made of
    from wbplan.day.setups import DayPlan
    from wbplan.description.lights import LightSet
    from wbplan.front.cameras import LearnedCamera
    from wbplan.front.delivery import Delivery
    from wbplan.front.drafts import Draft
    from wbplan.front.luts import LutSet
    from wbplan.front.verify import Verification
    from wbplan.record.compare_plans import Comparison

    Result: TypeAlias = (
        Plan
        | DayPlan
        | LightSet
        | LearnedCamera
        | LutSet
        | Delivery
        | Verification
        | Draft
        | Comparison
    )

DAY_PAGE, DAY_SHEET = "day.html", "day_sheet.html"
LIGHT_PAGE, LIGHT_RECORD = "lights.html", "lights.json"
COMPARISON_PAGE, COMPARISON_RECORD = "compare.html", "compare.json"


def make_files(result: Result) -> dict[str, bytes]:
    """Make the files of a result, by name, without writing any.

    Parameters
    ----------
    result
        From `plan` (pages, record, flat tables, LUTs, plate notes and figures where asked),
        `plan_day` (page, call sheet, record, LUTs), `deliver` (the LUTs in folders), `describe`
        (page, record), `learn` (profile, its tables, page, record), `make_lut`, `verify` (a lesson
        with its lights), `draft_scenario`, or `compare` (page, record).

    Returns
    -------
    dict
        The same bytes for the same result, always.

    Examples
    --------
    >>> import wbplan
    >>> files = wbplan.make_files(wbplan.describe("LED-B3"))
    >>> list(files), files["lights.html"][:15]
    (['lights.html', 'lights.json'], b'<!DOCTYPE html>')
    """
    if isinstance(result, Plan):
        return _make_plan_files(result)
    from wbplan.day.setups import DayPlan
    from wbplan.description.lights import LightSet
    from wbplan.front.cameras import LearnedCamera
    from wbplan.front.verify import Verification
    from wbplan.record.compare_plans import Comparison

    if isinstance(result, DayPlan):
        return _make_day_files(result)
    if isinstance(result, LightSet):
        return _make_light_files(result)
    from wbplan.front.delivery import Delivery
    from wbplan.front.drafts import Draft

    if isinstance(result, Delivery | Draft):
        return dict(result.files)
    if isinstance(result, Comparison):
        return _make_comparison_files(result)
    if isinstance(result, LearnedCamera):
        from wbplan.report.camera.files import build_teaching_files

        return build_teaching_files(result.teaching)
    if isinstance(result, Verification):
        return dict(result.lesson)
    return {each.file_name: each.data for each in result.files}


def write(result: Result, folder: str | os.PathLike[str], replace: bool = False) -> tuple[str, ...]:
    """Write the files of a result into a folder, and return their names.

    Parameters
    ----------
    result
        What `make_files` takes.
    folder
        Made if it is not there. Of all but LUTs and drafts it holds nothing yet, or what an
        earlier call wrote of the same and nobody changed, or ``replace`` is given. LUTs and drafts
        go beside what is there. All are written or none.
    replace
        Leave to write over an earlier plan, or a LUT or scenario of the same name.

    Raises
    ------
    OutputError
        If something is in the way and ``replace`` is not given, or the system refuses.

    Examples
    --------
    >>> import tempfile
    >>> import wbplan
    >>> made = wbplan.make_lut("cfa-mid", 5600, 3200, size=17)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(wbplan.write(made, folder))
    1
    """
    files = make_files(result)
    if isinstance(result, Plan):
        write_folder(
            Path(folder), files, replace, say_plan(result.scenario_file, title=result.title)
        )
        return tuple(files)
    from wbplan.front.drafts import Draft
    from wbplan.front.luts import LutSet

    if isinstance(result, LutSet | Draft):
        new = {name: data for name, data in files.items() if not _is_there(folder, name, data)}
        if new:
            write_files(Path(folder), new, replace)
    else:
        write_folder(Path(folder), files, replace, _say_what(result))
    return tuple(files)


LIGHTS, CAMERA = "lights of", "camera of"
"""What `core.output.write_folder` calls described lights and a learned camera begin with."""


def say_comparison(first: str, second: str) -> str:
    """Say what `core.output.write_folder` calls two records compared, by their files."""
    return f"comparison of {first} and {second}"


def say_plan(scenario_file: str, kind: str = "plan", title: str = "") -> str:
    """Say what `core.output.write_folder` calls a plan or a day of a scenario.

    A scene that was given in Python goes by its title.
    """
    name = title if title and scenario_file in ("", SCENE_NAME) else scenario_file
    return f"{kind} of {name}"


def say_delivery(of: str) -> str:
    """Say what `core.output.write_folder` calls the delivery of a plan or a day."""
    return f"delivery of the {of}"


def _say_what(result: Result) -> str:
    from wbplan.day.setups import DayPlan
    from wbplan.description.lights import LightSet
    from wbplan.front.cameras import LearnedCamera
    from wbplan.record.compare_plans import Comparison

    if isinstance(result, Comparison):
        return say_comparison(result.first.file, result.second.file)
    if isinstance(result, DayPlan):
        return say_plan(result.scenario_file, "day", result.title)
    if isinstance(result, LightSet):
        names = dict.fromkeys(each.file or each.name for each in result.lights)
        return f"{LIGHTS} {', '.join(names)}"
    if isinstance(result, LearnedCamera):
        return f"{CAMERA} {result.camera.name}"
    from wbplan.front.delivery import Delivery

    return say_delivery(result.of) if isinstance(result, Delivery) else ""


def _is_there(folder: str | os.PathLike[str], name: str, data: bytes) -> bool:
    """Tell whether a file is there already, byte for byte."""
    path = Path(folder) / name
    return path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data


def make_light_record(lights: LightSet) -> str:
    """Write described lights as JSON text."""
    from wbplan.record.lights import build_light_record
    from wbplan.record.plan import format_record

    return format_record(build_light_record(lights, __version__))


def _make_plan_files(plan: Plan) -> dict[str, bytes]:
    from wbplan.record.delivery.manifest import LUTS_NAME, list_entries, make_lut_sheet
    from wbplan.record.plan import build_record, format_record
    from wbplan.record.sheets import make_sheets
    from wbplan.record.size import check_record_bytes
    from wbplan.report.plan.page import prepare_pages, render_figures, render_pages

    luts = {lut.file_name: lut.data for each in plan.setups for lut in each.lut_files}
    record = build_record(plan)
    sheets = make_sheets(record)
    entries = list_entries(plan)
    if entries:
        sheets[LUTS_NAME] = make_lut_sheet(entries)
    prepared = prepare_pages(plan)
    texts = render_pages(plan, prepared)
    if plan.inputs is not None and plan.inputs.asked.figures:
        texts |= render_figures(plan, prepared)
    plates: dict[str, bytes] = {}
    if any(each.plate for each in plan.setups):
        from wbplan.report.plate.files import make_plate_files

        plates = make_plate_files(plan)
    record["files"] = [*texts, RECORD_NAME, *sheets, *luts, *plates]
    texts[RECORD_NAME] = format_record(record)
    whole = {name: text.encode("utf-8") for name, text in texts.items()}
    check_record_bytes(whole[RECORD_NAME], RECORD_NAME)
    return {**whole, **sheets, **luts, **plates}


def _make_day_files(plan: DayPlan) -> dict[str, bytes]:
    from wbplan.record.day import build_day_record
    from wbplan.record.delivery.manifest import LUTS_NAME, list_entries, make_lut_sheet
    from wbplan.record.plan import format_record
    from wbplan.record.size import check_record_bytes
    from wbplan.report.day.page import render_day_page
    from wbplan.report.day.sheet import render_day_sheet

    luts = {lut.file_name: lut.data for each in plan.setups for lut in each.lut_files}
    record = build_day_record(plan)
    sheets = {LUTS_NAME: make_lut_sheet(list_entries(plan))} if luts else {}
    record["files"] = [DAY_PAGE, DAY_SHEET, RECORD_NAME, *sheets, *luts]
    texts = {
        DAY_PAGE: render_day_page(plan),
        DAY_SHEET: render_day_sheet(plan),
        RECORD_NAME: format_record(record),
    }
    whole = {name: text.encode("utf-8") for name, text in texts.items()}
    check_record_bytes(whole[RECORD_NAME], RECORD_NAME)
    return {**whole, **sheets, **luts}


def _make_light_files(lights: LightSet) -> dict[str, bytes]:
    from wbplan.report.light.page import render_light_page

    return {
        LIGHT_PAGE: render_light_page(lights, __version__).encode("utf-8"),
        LIGHT_RECORD: make_light_record(lights).encode("utf-8"),
    }


def _make_comparison_files(comparison: Comparison) -> dict[str, bytes]:
    from wbplan.record.plan import format_record
    from wbplan.report.compare.page import render_comparison_page
    from wbplan.report.compare.record import build_comparison

    return {
        COMPARISON_PAGE: render_comparison_page(comparison).encode("utf-8"),
        COMPARISON_RECORD: format_record(build_comparison(comparison)).encode("utf-8"),
    }
