"""Two records compared in one call, and the old LUT tried under the new light."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from wbplan.camera.setting import Setting
from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import parse_cube
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError, Place, WbplanError
from wbplan.core.files import read_bytes
from wbplan.day.setups import DayPlan
from wbplan.front.plans import CameraViews
from wbplan.front.scenes import read_record_scene
from wbplan.planning.decisions import Plan
from wbplan.planning.looks import LutTable
from wbplan.planning.lut_trial import LutTrial, Side, try_lut
from wbplan.planning.positions import plan_positions
from wbplan.planning.response import respond_to_scene
from wbplan.read.json_fields import parse_json
from wbplan.record.compare_days import compare_days
from wbplan.record.compare_plans import Comparison, SetupChanges, compare_plans
from wbplan.record.day import build_day_record
from wbplan.record.day_view import read_day_setup
from wbplan.record.file import DAY_FORMAT, FORMAT, RecordFile, open_record, read_record
from wbplan.record.plan import build_record, format_record
from wbplan.record.plan_view import read_plan_setup, read_recorded
from wbplan.record.values import RecordedLut, RecordedSetup
from wbplan.scene.setup import Setup

_KINDS = {FORMAT: "a plan", DAY_FORMAT: "a day"}
_MOST_LUT_BYTES = 100_000_000

Comparable = Plan | DayPlan | str | os.PathLike[str]
"""A plan or a day, or the record of one."""


class _UntriedError(WbplanError):
    """Why a LUT was not tried."""


def compare(first: Comparable, second: Comparable) -> Comparison:
    """Compare two plans, or two days, by their records.

    Of each setup of two plans the first one's main LUT is tried under the second one's light, where
    both LUT files lie beside their records and the second record carries what it was made from.

    Parameters
    ----------
    first, second
        A `Plan` each, or what `plan_day` gives; or a `plan.json`, or a folder that holds one, of
        any version that writes format 1 or 2. Both plans, or both days.

    Returns
    -------
    Comparison
        Every difference, with whether it can be told; of days a `DayComparison`.

    Raises
    ------
    InputError
        For a file that is no such record, with the field at fault, and for a day beside a plan.

    Examples
    --------
    >>> import wbplan
    >>> first = wbplan.plan("harbour_noon", camera="cfa-mid")
    >>> second = wbplan.plan("harbour_noon", camera="nikon-d5100")
    >>> found = wbplan.compare(first, second)
    >>> found.is_same
    False
    >>> found.setups[0].untried
    'the old LUT is for another camera'
    >>> wbplan.compare(first, first).is_same
    True
    """
    a, b = (_take_record(each, name) for each, name in ((first, "first"), (second, "second")))
    if a.format != b.format:
        kinds = [_KINDS[each.format] for each in (b, a)]
        found = f"the record of {kinds[0]}, beside {a.path}, that of {kinds[1]}"
        allowed = "two plans or two days; a plan is of one moment, a day of many"
        raise InputError(found, allowed, Place(str(b.path), field="format"))
    if a.format == DAY_FORMAT:
        days = (read_recorded(each, read_day_setup) for each in (a, b))
        return compare_days(*days)
    plans = [read_recorded(each, read_plan_setup) for each in (a, b)]
    compared = compare_plans(*plans)
    readers = [_make_reader(each, record.path) for each, record in ((first, a), (second, b))]
    find_setup = _make_finder(second, b)
    views = CameraViews()

    def add_trial(each: SetupChanges) -> SetupChanges:
        before, after = each.before, each.after
        if before is None or after is None or before.main_lut is None or _is_kept(before, after):
            return each
        try:
            return replace(each, trial=_try_lut(before, after, readers, find_setup, views))
        except WbplanError as error:
            return replace(each, untried=str(error))

    return replace(compared, setups=tuple(map(add_trial, compared.setups)))


def _take_record(given: Comparable, name: str) -> RecordFile:
    """Take a plan or a day by what its record says, or read the record."""
    if isinstance(given, Plan | DayPlan):
        made = build_record(given) if isinstance(given, Plan) else build_day_record(given)
        return open_record(parse_json(format_record(made).encode("utf-8"), name), Path(name))
    return read_record(given, (FORMAT, DAY_FORMAT))


def _is_kept(before: RecordedSetup, after: RecordedSetup) -> bool:
    """Tell whether setting and LUT are the very same, so that there is nothing to choose."""
    old, new = before.main_lut, after.main_lut
    is_same = old is not None and new is not None and old.sha256 == new.sha256
    return is_same and before.dial == after.dial


_Reader = Callable[[RecordedLut], bytes]


def _make_reader(given: Comparable, record: Path) -> _Reader:
    """Make what reads the LUT files of a plan, or those beside a record."""
    if isinstance(given, Plan):
        files = {lut.file_name: lut.data for each in given.setups for lut in each.lut_files}
        return lambda lut: files[lut.file_name]

    def read(lut: RecordedLut) -> bytes:
        name = lut.file_name
        path = record.parent / name
        if Path(name).name != name or not path.is_file():
            raise _UntriedError(f"{name} is not beside {record}")
        data = read_bytes(path, _MOST_LUT_BYTES)
        if digest_bytes(data) != lut.sha256:
            raise _UntriedError(f"{path} is not as it was written")
        return data

    return read


def _make_finder(given: Comparable, record: RecordFile) -> Callable[[str], Setup]:
    """Make what finds the setups of a plan by name, read once from what its record carries."""

    @cache
    def find_all() -> dict[str, Setup]:
        if isinstance(given, Plan):
            return {each.name: each.setup for each in given.setups}
        scene = read_record_scene(record.path)
        if scene.notes:
            raise _UntriedError(str(scene.notes[0]))
        return {each.name: each for each in scene.setups}

    return lambda name: find_all()[name]


def _try_lut(
    before: RecordedSetup,
    after: RecordedSetup,
    readers: list[_Reader],
    find_setup: Callable[[str], Setup],
    views: CameraViews,
) -> LutTrial:
    old, new = before.main_lut, after.main_lut
    assert old is not None
    if before.camera != after.camera:
        raise _UntriedError("the old LUT is for another camera")
    if before.encoding != after.encoding:
        raise _UntriedError("the old LUT is for another encoding")
    if new is None:
        raise _UntriedError("there is no new LUT to hold it against")
    tables = [_read_table(lut, read) for lut, read in zip((old, new), readers, strict=True)]
    setup = find_setup(after.name)
    scene = respond_to_scene(setup, views.find(setup.camera))
    first, second = (
        Side(
            Setting(1e6 / each.dial.mired, each.dial.cc, each.preset),
            (each.exact.mired, each.exact.cc),
            table,
        )
        for each, table in zip((before, after), tables, strict=True)
    )
    trial = try_lut(scene, plan_positions(scene, second.dial), first, second)
    if trial is None:
        raise _UntriedError("nothing is said of how any place in the light is meant to look")
    return trial


def _read_table(lut: RecordedLut, read: _Reader) -> LutTable:
    cube = parse_cube(read(lut).decode("ascii"))
    encoding = find_encoding(*lut.coding)
    return LutTable(cube, encoding, encoding, lut.cost_stops)
