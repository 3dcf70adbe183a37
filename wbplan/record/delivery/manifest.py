"""Every LUT of a plan or a day, a row each: for which setup and camera, which file, how exact."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from wbplan.core.names import make_safe_name
from wbplan.lut.file import CLF_CODES, TABLE, LutFile
from wbplan.lut.kinds import TRIAL_WORDS
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.record.luts import record_encoding
from wbplan.record.numbers import make_number
from wbplan.record.sheets import Cell, write_sheet
from wbplan.scene.plate import Slate

if TYPE_CHECKING:  # a plan is written without what a day is made of
    from wbplan.day.setups import DayPlan

LUTS_NAME = "luts.csv"
UNDATED = "undated"


@dataclass(frozen=True, eq=False)
class LutEntry:
    """A LUT and what it belongs to.

    Attributes
    ----------
    stem, number, setup
        The setup: what its files' names begin with, its number from 1, its name.
    slate
        What its slate says; None where nothing is stated.
    when
        Its time, or the time that one of a day's LUTs begins to serve; None where not stated.
    serves
        The cast or the hour that one of a day's LUTs is for.
    file
        The LUT.
    is_main
        Whether it is a main correction, of the setup's camera or of one beside it.
    folder
        Where it lies in a delivery, with a ``/`` at the end; empty for a plan's own folder.
    """

    stem: str
    number: int
    setup: str
    slate: Slate | None
    when: datetime | None
    serves: str
    file: LutFile
    is_main: bool
    folder: str = ""

    @property
    def path(self) -> str:
        """The file's name, below its folder."""
        return self.folder + self.file.file_name


def list_entries(result: Plan | DayPlan) -> tuple[LutEntry, ...]:
    """List the LUTs of a plan or a day, in its order."""
    if isinstance(result, Plan):
        return tuple(
            entry
            for number, each in enumerate(result.setups, 1)
            for entry in _list_setup(number, each)
        )
    return tuple(
        LutEntry(
            each.stem,
            number,
            each.setup.name,
            each.setup.slate,
            each.moments[lut.times[0]],
            lut.label,
            lut.plan.file,
            True,
        )
        for number, each in enumerate(result.setups, 1)
        if each.luts is not None
        for lut in each.luts.luts
    )


def _is_plain(file: LutFile) -> bool:
    recipe = file.recipe
    return recipe.kind == "correct" and file.form == TABLE and recipe.correction.target is None


def _list_setup(number: int, plan: SetupPlan) -> Iterator[LutEntry]:
    setup = plan.setup
    seen: set[str] = set()  # the first correction of a camera is its main one
    for file in plan.lut_files:
        camera = file.draft.camera_name
        main = _is_plain(file) and camera not in seen
        seen |= {camera} if main else set()
        yield LutEntry(plan.stem, number, setup.name, setup.slate, setup.when, "", file, main)


def place_entries(entries: Iterable[LutEntry]) -> tuple[LutEntry, ...]:
    """Give each LUT its folder of a delivery: its day, its camera, its setup."""
    return tuple(
        replace(
            each,
            folder="/".join(
                (
                    f"{each.when:%Y-%m-%d}" if each.when else UNDATED,
                    make_safe_name(each.file.draft.camera_name),
                    each.stem,
                    "",
                )
            ),
        )
        for each in entries
    )


def list_rows(entries: Iterable[LutEntry]) -> list[dict[str, Cell]]:
    """List LUTs for a table: a row each, the worst error on each kind of colours in codes."""
    rows: list[dict[str, Cell]] = []
    for each in entries:
        file, recipe, slate = each.file, each.file.recipe, each.slate or Slate()
        source, target = record_encoding(file.source), record_encoding(file.target)
        kinds = {} if file.error is None else {kind.kind: kind for kind in file.error.kinds}
        errors: dict[str, Any] = {
            f"worst_{name.replace('-', '_')}_ten_bit_codes": (
                make_number(kinds[name].worst_codes) if name in kinds else None
            )
            for name in TRIAL_WORDS
        }
        rows.append(
            {
                "setup_number": each.number,
                "setup": each.setup,
                "slate": slate.slate,
                "scene": slate.scene,
                "take": slate.take,
                "clip": slate.clip,
                "when": each.when.isoformat() if each.when else None,
                "serves": each.serves,
                "camera": file.draft.camera_name,
                "file": each.path,
                "sha256": file.sha256,
                "kind": recipe.kind,
                "is_main": each.is_main,
                "from": recipe.start,
                "to": recipe.end,
                "up_stops": make_number(recipe.up_stops),
                "cost_stops": make_number(recipe.cost_stops),
                "format": file.format,
                "form": file.form,
                "size_points": file.size,
                **{f"in_{name}": value for name, value in source.items()},
                **{f"out_{name}": value for name, value in target.items()},
                **errors,
                "load_for_coloured_light": "clf" if file.misses_coloured_light else None,
                "its_worst_ten_bit_codes": CLF_CODES if file.misses_coloured_light else None,
            }
        )
    return rows


def make_lut_sheet(entries: Sequence[LutEntry]) -> bytes:
    """Write the list as a table for a spreadsheet; see `record.sheets`."""
    return write_sheet(list_rows(entries))
