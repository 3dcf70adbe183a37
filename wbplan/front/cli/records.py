"""The commands on records: a plan made again, two compared, the schemas."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wbplan.core.errors import InputError, Place
from wbplan.front.cli.options import check_delivery, find_width, print_result, write_delivery
from wbplan.record.schemas import FILES, SCHEMAS

if TYPE_CHECKING:
    from wbplan.planning.decisions import Plan


def add_record_commands(commands: Any) -> None:
    """Add the parsers of the commands on records."""
    compare = commands.add_parser(
        "compare",
        help="say what changed between two plans, or two days",
        description="Say what changed from the first plan to the second: settings, stops, LUTs, "
        "lights and positions, setup by setup, matched by their names, or by what they hold where "
        "one was renamed; and whether the first one's LUT still does under the second one's light, "
        "by what both LUT files make of grey and skin there. Two records of 'wbplan day' are "
        "compared by the clock: windows, filters due, LUTs, and of settings, stops and light "
        "the largest difference with its time and the spans in which one can be told.",
    )
    for name, which in (("first", "FIRST"), ("second", "SECOND")):
        compare.add_argument(
            name,
            metavar=which,
            help="a plan.json of a plan or of a day, or the folder that holds one",
        )
    compare.add_argument(
        "--all",
        action="store_true",
        help="list differences that are too small to be told too, and those of each hour of a day",
    )
    compare.add_argument("--json", action="store_true", help="print JSON instead of tables")
    compare.add_argument("--out", metavar="DIR", help="also write a page and the JSON there")
    compare.add_argument("--force", action="store_true", help="replace what is there already")
    compare.set_defaults(run=_run_compare)
    schema = commands.add_parser(
        "schema",
        help="print the JSON Schema of what is written, or of a scenario, profile or lesson",
        description="Print the JSON Schema (draft 2020-12) of what this version writes, "
        "or of what it reads: scenario, profile and lesson, for editors that complete and check. "
        "An editor finds one by the first line of a file: "
        "# yaml-language-server: $schema=wbplan-scenario.schema.json",
    )
    schema.add_argument(
        "record",
        nargs="?",
        default="plan",
        choices=(*SCHEMAS, *FILES),
        help=f"one of {', '.join((*SCHEMAS, *FILES))}",
    )
    schema.set_defaults(run=_run_schema)


def _run_compare(options: argparse.Namespace) -> None:
    from wbplan.front.comparisons import compare
    from wbplan.front.files import write
    from wbplan.record.plan import format_record
    from wbplan.report.base.columns import fit_text
    from wbplan.report.compare.record import build_comparison
    from wbplan.report.compare.terminal import format_choices, format_comparison

    found = compare(options.first, options.second)
    names: tuple[str, ...] = ()
    if options.out:
        names = write(found, options.out, options.force)
    if options.json:
        print(format_record(build_comparison(found)), end="")
        return
    width = find_width()
    said = [format_comparison(found, options.all, width), format_choices(found, width)]
    if names:
        said.insert(1, fit_text(f"Written to {options.out}: {', '.join(names)}", width))
    print("\n\n".join(each for each in said if each))


def _run_schema(options: argparse.Namespace) -> None:
    from wbplan.record.schemas import read_schema_text

    print(read_schema_text(options.record), end="")


def run_rebuild(options: argparse.Namespace) -> None:
    """Make a plan again from its record, and say whether it came out the same."""
    from wbplan.core.files import read_bytes
    from wbplan.core.names import clean_text
    from wbplan.core.output import RECORD_NAME, check_folder, write_folder
    from wbplan.core.progress import make_bar
    from wbplan.front.files import make_files, say_plan
    from wbplan.front.plans import plan
    from wbplan.front.scenes import read_record_scene
    from wbplan.read.json_fields import MOST_RECORD_BYTES
    from wbplan.record.file import find_record_file

    _refuse_beside_record(options)
    path = find_record_file(options.record)
    scene = read_record_scene(path)
    folder = Path(options.out or f"{Path(scene.file).stem}-plan")
    of = say_plan(scene.file)
    check_folder(folder, options.force, of)
    check_delivery(options, folder, of)
    decided = plan(scene, progress=make_bar())
    files = make_files(decided)
    is_same = read_bytes(path, MOST_RECORD_BYTES) == files[RECORD_NAME]
    write_folder(folder, files, options.force, of)
    for note in scene.notes:
        print(f"wbplan: warning: {clean_text(str(note))}", file=sys.stderr)
    if is_same and options.detail != "brief":
        print("Made again from its record, which comes out the same to the last byte.\n")
    elif not scene.notes:
        text = f"{RECORD_NAME} does not come out the same; 'wbplan compare' says what differs"
        print(f"wbplan: warning: {text}", file=sys.stderr)
    print_plan(decided, files, folder, options)


def print_plan(
    decided: Plan, names: Iterable[str], folder: Path, options: argparse.Namespace
) -> None:
    """Print a plan that was written, deliver its LUTs if asked, and end with what to set."""
    from wbplan.report.plan.terminal import format_decisions, format_plan, list_written

    detail, width = options.detail, find_width()
    said = format_plan(decided, detail, width)
    if detail != "brief":
        print_result(said, f"Written to {folder}: {list_written(names, detail == 'full')}", detail)
        said = format_decisions(decided, width)
    write_delivery(decided, options)
    print(said)


def _refuse_beside_record(options: argparse.Namespace) -> None:
    given = {
        "SCENARIO": options.scenario,
        "--camera": options.camera,
        "--band": options.band,
        "--advise": options.advise or None,
        "--plate": options.plate or None,
        "--figures": options.figures or None,
        "--lut-size": options.lut_size,
        "--set": options.tried or None,
        "--watch": options.watch or None,
    }
    for name, value in given.items():
        if value is not None:
            allowed = "--from by itself, since the record states what it was made with"
            raise InputError(f"--from with {name}", allowed, Place(field=name))
