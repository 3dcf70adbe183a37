"""Two records compared in one call."""

from __future__ import annotations

import os
from pathlib import Path

from wbplan.core.errors import InputError, Place
from wbplan.day.setups import DayPlan
from wbplan.planning.decisions import Plan
from wbplan.read.json_fields import parse_json
from wbplan.record.compare_days import compare_days
from wbplan.record.compare_plans import Comparison, compare_plans
from wbplan.record.day import build_day_record
from wbplan.record.day_view import read_day_setup
from wbplan.record.file import DAY_FORMAT, FORMAT, RecordFile, open_record, read_record
from wbplan.record.plan import build_record, format_record
from wbplan.record.plan_view import read_plan_setup, read_recorded

_KINDS = {FORMAT: "a plan", DAY_FORMAT: "a day"}


Comparable = Plan | DayPlan | str | os.PathLike[str]
"""A plan or a day, or the record of one."""


def compare(first: Comparable, second: Comparable) -> Comparison:
    """Compare two plans, or two days, by their records.

    Parameters
    ----------
    first, second
        A `Plan` each, or what `plan_day` gives; or a `plan.json`, or a folder that holds one, of
        any version that writes format 1. Both plans, or both days.

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
    plans = (read_recorded(each, read_plan_setup) for each in (a, b))
    return compare_plans(*plans)


def _take_record(given: Comparable, name: str) -> RecordFile:
    """Take a plan or a day by what its record says, or read the record."""
    if isinstance(given, Plan | DayPlan):
        made = build_record(given) if isinstance(given, Plan) else build_day_record(given)
        return open_record(parse_json(format_record(made).encode("utf-8"), name), Path(name))
    return read_record(given, (FORMAT, DAY_FORMAT))
