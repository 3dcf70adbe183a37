"""The LUTs of a plan or a day as one delivery, in one call."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from wbplan import __version__
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError
from wbplan.core.names import make_safe_name
from wbplan.core.output import MANIFEST_NAME
from wbplan.core.progress import Progress, follow, keep_rising
from wbplan.day.setups import DayPlan
from wbplan.front.files import say_plan
from wbplan.lut.bake import scene_codes
from wbplan.lut.clf import check_installed
from wbplan.lut.correction import find_gamut_change
from wbplan.lut.file import LutDraft, make_lut_file
from wbplan.lut.recipes import move_to_linear, reduce_recipe
from wbplan.lut.trials import SceneColours
from wbplan.planning.decisions import Plan
from wbplan.record.delivery.amf import format_amf, name_amf
from wbplan.record.delivery.color_config import find_reference, make_color_config
from wbplan.record.delivery.hash_list import make_hash_lists, name_hash_lists
from wbplan.record.delivery.manifest import (
    LutEntry,
    list_entries,
    list_rows,
    make_lut_sheet,
    place_entries,
)
from wbplan.record.plan import format_record

SHEET_NAME = "manifest.csv"
_FORMAT_VERSION = 1


@dataclass(frozen=True, eq=False)
class Delivery:
    """Every LUT of a plan or a day, and what goes with them.

    Attributes
    ----------
    entries
        The LUTs, each with its folder.
    files
        Everything by its path, with ``/`` between folders.
    refused
        What could not be made, in words.
    of
        What it delivers: "plan of wide.yaml".
    """

    entries: tuple[LutEntry, ...]
    files: dict[str, bytes]
    refused: tuple[str, ...] = ()
    of: str = ""


def deliver(
    result: Plan | DayPlan, written: datetime | None = None, progress: Progress | None = None
) -> Delivery:
    """Make the delivery of a plan or a day; `wbplan.write` writes it.

    Parameters
    ----------
    result
        From `plan` or `plan_day`.
    written
        When it is written, with its time zone; if not given, the time that the environment's
        ``SOURCE_DATE_EPOCH`` says, else now. The same time gives the same bytes.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    Delivery
        In folders by day, camera and setup: the LUTs of the plan, and each main correction also as
        a CLF, as a CLF in ACES2065-1, as gains in a CDL where they can be had, with an ACES
        Metadata File. Beside them a manifest (CSV, JSON), an OpenColorIO config and a hash list.

    Raises
    ------
    InputError
        When OpenColorIO is not installed, or there is no LUT.

    Examples
    --------
    >>> import wbplan
    >>> made = wbplan.deliver(wbplan.plan("harbour_noon", camera="cfa-presets"))
    >>> sorted({name.rpartition(".")[2] for name in made.files})
    ['amf', 'cdl', 'clf', 'csv', 'cube', 'json', 'mhl', 'ocio', 'xml']
    """
    check_installed()
    if written is None:
        epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
        written = datetime.fromtimestamp(int(epoch), UTC) if epoch.isdigit() else datetime.now(UTC)
    planned = place_entries(list_entries(result))
    if not planned:
        raise InputError("a plan without a LUT", "one that has LUTs to deliver")
    entries: list[LutEntry] = []
    looks: dict[str, str] = {}
    refused: list[str] = []
    for each in follow(planned, keep_rising(progress), "LUTs"):
        entries.append(each)
        if not each.is_main:
            continue
        made, said = _make_forms(each)
        entries += made
        refused += said
        looks[each.path] = made[-1].path
    # What a plan was asked for may be one of the forms: a path stands once.
    once = tuple({each.path: each for each in reversed(entries)}.values())[::-1]
    files = {each.path: each.file.data for each in once}
    files |= make_color_config(result.title, once)
    digests = {path: digest_bytes(data) for path, data in files.items()}
    for each in planned:
        if each.is_main:
            files[name_amf(each)] = format_amf(
                each, looks[each.path], digests, result.digest, written
            )
    files[SHEET_NAME] = make_lut_sheet(once)
    title = make_safe_name(result.title)
    names = [*files, MANIFEST_NAME, *name_hash_lists(title, written)]
    files[MANIFEST_NAME] = _make_manifest(result, once, names, refused, written)
    files |= make_hash_lists(files, title, written)
    kind = "day" if isinstance(result, DayPlan) else "plan"
    of = say_plan(result.scenario_file, kind, result.title)
    return Delivery(once, files, tuple(refused), of)


def _make_forms(entry: LutEntry) -> tuple[list[LutEntry], list[str]]:
    """Make the other forms of a main correction, the one in ACES2065-1 last."""
    draft = entry.file.draft
    recipe, colours = draft.recipe, draft.colours
    made, refused = [make_lut_file(draft, "clf")], []
    try:
        gains = reduce_recipe(recipe, colours.linear)
        made.append(make_lut_file(replace(draft, recipe=gains), "cdl"))
    except InputError as error:
        refused.append(f"{entry.path}: no CDL is made: {error}")
    made.append(make_lut_file(_move_draft(draft), "clf"))
    return [replace(entry, file=each, is_main=False) for each in made], refused


def _move_draft(draft: LutDraft) -> LutDraft:
    """Move a draft into linear ACES2065-1, colours and all."""
    reference = find_reference()
    recipe = move_to_linear(draft.recipe, reference.gamut)
    ahead = find_gamut_change(draft.recipe.correction.encoding, reference).T
    linear = draft.colours.linear @ ahead
    colours = SceneColours(linear, draft.colours.whites @ ahead, scene_codes(reference, linear))
    return replace(draft, recipe=recipe, colours=colours)


def _make_manifest(
    result: Plan | DayPlan,
    entries: Iterable[LutEntry],
    names: list[str],
    refused: list[str],
    written: datetime,
) -> bytes:
    record = {
        "format": "wbplan delivery",
        "format_version": _FORMAT_VERSION,
        "wbplan_version": __version__,
        "digest_sha256": result.digest,
        "title": result.title,
        "scenario": result.scenario_file,
        "invented": result.invented,
        "written": f"{written.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
        "luts": list_rows(entries),
        "refused": refused,
        "files": names,
    }
    return format_record(record).encode("utf-8")
