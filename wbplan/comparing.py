"""Two records compared in one call."""

from __future__ import annotations

import os

from wbplan.comparison import Comparison, compare_plans
from wbplan.recordview import read_recorded_plan


def compare(first: str | os.PathLike[str], second: str | os.PathLike[str]) -> Comparison:
    """Compare two plans by their records.

    Parameters
    ----------
    first, second
        A `plan.json` each, or a folder that holds one; of any version that writes format 1.

    Returns
    -------
    Comparison
        Every difference, with whether it can be told.

    Raises
    ------
    InputError
        For a file that is no such record, with the field at fault.
    """
    return compare_plans(read_recorded_plan(first), read_recorded_plan(second))
