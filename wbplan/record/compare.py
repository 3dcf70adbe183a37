"""Two records compared in one call."""

from __future__ import annotations

import os

from wbplan.core.errors import InputError, Place
from wbplan.record.compare_days import compare_days
from wbplan.record.compare_plans import Comparison, compare_plans
from wbplan.record.day_view import read_day_setup
from wbplan.record.file import DAY_FORMAT, FORMAT, read_record
from wbplan.record.plan_view import read_plan_setup, read_recorded

_KINDS = {FORMAT: "a plan", DAY_FORMAT: "a day"}


def compare(first: str | os.PathLike[str], second: str | os.PathLike[str]) -> Comparison:
    """Compare two plans, or two days, by their records.

    Parameters
    ----------
    first, second
        A `plan.json` each, or a folder that holds one; of any version that writes format 1. Both
        of `wbplan plan`, or both of `wbplan day`.

    Returns
    -------
    Comparison
        Every difference, with whether it can be told; of days a `DayComparison`.

    Raises
    ------
    InputError
        For a file that is no such record, with the field at fault, and for a day beside a plan.
    """
    a, b = (read_record(each, (FORMAT, DAY_FORMAT)) for each in (first, second))
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
