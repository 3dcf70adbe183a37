"""A plan made again from its record, without the files that it was first made from."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from wbplan import __version__
from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.core.ledger import Ledger
from wbplan.core.notes import Note, warn
from wbplan.front.plans import Watch, plan_file
from wbplan.mixed.search import Tick
from wbplan.planning.decisions import Plan
from wbplan.planning.luts import WatchLuts
from wbplan.record.file import read_inputs, read_record


@dataclass(frozen=True, eq=False)
class Rebuilt:
    """A plan made again, and what may be different about it."""

    plan: Plan
    notes: tuple[Note, ...]


def rebuild_plan(
    record: str | os.PathLike[str],
    watch: Watch = list,
    tick: Tick | None = None,
    watch_luts: WatchLuts = list,
) -> Rebuilt:
    """Make a plan again from its record.

    The scenario, every file it names, the profiles and the options come from the record; nothing
    else is read. The same version of wbplan gives the same plan, and `write_plan` the same bytes;
    on another kind of machine the last bits of a sum may differ.

    Parameters
    ----------
    record
        A `plan.json`, or the folder that holds one.
    watch, tick, watch_luts
        As `wbplan.plan` has them.

    Returns
    -------
    Rebuilt
        The plan, and a warning where another version made the record or the digest of the inputs
        does not come out as the record states it.

    Raises
    ------
    InputError
        For a record that cannot be used, with its file and field.
    """
    found = read_record(record)
    inputs = read_inputs(found)
    ledger = Ledger({each.name: each.data for each in inputs.files}, found.path)
    camera = inputs.camera
    if camera is not None and "/" in camera:
        camera = str(ledger.place_of(camera))
    try:
        plan = plan_file(
            ledger.place_of(inputs.scenario),
            ledger,
            camera,
            inputs.asked,
            watch,
            tick,
            watch_luts,
        )
    except InputError as error:
        place = Place(str(found.path), field="inputs")
        raise error if error.place.file else error.at(place) from None
    return Rebuilt(plan, _find_differences(plan, found.version, found.digest, found.path))


def _find_differences(plan: Plan, version: str, digest: str, path: Path) -> tuple[Note, ...]:
    about = show_value(path.name)
    if version != __version__:
        text = f"made by wbplan {show_value(version)}, this is {__version__}: figures may differ"
        return (warn("other-version", text, about),)
    if digest != plan.digest:
        text = "the digest of the inputs does not come out as the record states it"
        return (warn("other-digest", text, about),)
    return ()
