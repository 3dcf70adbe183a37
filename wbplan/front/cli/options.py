"""What the commands share: how an option is named in a refusal, and how a table is printed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from wbplan.core.errors import InputError, Place, WbplanError

if TYPE_CHECKING:
    from wbplan.day.setups import DayPlan
    from wbplan.planning.decisions import Plan
    from wbplan.report.base.columns import Detail

_LEAST_WIDTH = 40


def add_lut_size(command: argparse.ArgumentParser) -> None:
    """Add the option that gives every table one size."""
    command.add_argument(
        "--lut-size",
        type=int,
        metavar="N",
        help="points of 3D tables: 17, 33, 65, 97, 129 (default: as few as do, 33 at most)",
    )


def add_tried(command: argparse.ArgumentParser) -> None:
    """Add the option that tries a value."""
    command.add_argument(
        "--set",
        dest="tried",
        action="append",
        default=[],
        metavar="PATH=VALUE",
        help="try a value in place of the scenario's, which stays as it is; several times: "
        "positions.Anna.lux.window=120 in every setup that has it, setups.Wide.shooting.ei=400 "
        "in one",
    )


def add_delivery(command: argparse.ArgumentParser) -> None:
    """Add the option that delivers the LUTs as well."""
    command.add_argument(
        "--deliver",
        metavar="DIR",
        help="also write the LUTs into this folder, by day, camera and setup, with a manifest, an "
        "OpenColorIO config, ACES metadata and a hash list",
    )


def add_detail(command: argparse.ArgumentParser, brief: str, full: str) -> None:
    """Add the two options of how much is printed."""
    either = command.add_mutually_exclusive_group()
    for flag, detail, what in (("quiet", "brief", brief), ("verbose", "full", full)):
        either.add_argument(
            f"-{flag[0]}", f"--{flag}", dest="detail", action="store_const", const=detail,
            default="usual", help=f"print {what}",
        )  # fmt: skip


def find_width() -> int:
    """Find how many columns the terminal has; 80 where output goes elsewhere."""
    from shutil import get_terminal_size

    from wbplan.report.base.columns import PLAIN_WIDTH

    if not sys.stdout.isatty():
        return PLAIN_WIDTH
    return max(get_terminal_size((PLAIN_WIDTH, 24)).columns, _LEAST_WIDTH)


def print_result(text: str, written: str, detail: Detail) -> None:
    """Print a result and what was written; nothing if it is to be brief."""
    from wbplan.report.base.columns import fit_text

    if detail != "brief":
        print(*([text, ""] if text else []), fit_text(written, find_width()), "", sep="\n")


def find_plan_folder(options: argparse.Namespace, scenario: Path) -> Path:
    """Find where a plan is to be written; one of tried values takes no other's place."""
    return Path(options.out or f"{scenario.stem}-{'tried' if options.tried else 'plan'}")


def check_delivery(options: argparse.Namespace, folder: Path, of: str) -> None:
    """Refuse a delivery of something that cannot be written, before any work is done."""
    if options.deliver is None:
        return
    from wbplan.core.output import check_folder
    from wbplan.front.files import say_delivery
    from wbplan.lut.clf import check_installed

    check_installed()
    target = Path(options.deliver)
    check_folder(target, options.force, say_delivery(of))
    one, other = target.resolve(), folder.resolve()
    if one == other or one in other.parents or other in one.parents:
        found = f"{target}, which holds the plan's folder or lies in it"
        raise InputError(found, "a folder of its own", Place(field="--deliver"))


def write_delivery(result: Plan | DayPlan, options: argparse.Namespace) -> None:
    """Write the delivery that is asked for, and say what it is."""
    if options.deliver is None:
        return
    from wbplan.core.progress import make_bar
    from wbplan.front.delivery import deliver
    from wbplan.front.files import write

    made = deliver(result, progress=make_bar())
    write(made, options.deliver, options.force)
    cameras = len({each.file.draft.camera_name for each in made.entries})
    said = (
        f"Delivered to {options.deliver}: {len(made.entries)} LUTs, {cameras} "
        f"{'camera' if cameras == 1 else 'cameras'}, with manifest.csv, manifest.json, "
        "config.ocio, AMF files and a hash list (ascmhl)"
    )
    print_result("", said, options.detail)
    for each in made.refused:
        print(f"wbplan: warning: {each}", file=sys.stderr)


@contextmanager
def name_options(options: Mapping[str, str]) -> Iterator[None]:
    """Name the option where a call refuses a parameter of its own.

    Parameters
    ----------
    options
        What the command line calls each parameter.
    """
    try:
        yield
    except InputError as error:
        place = error.place
        if place.file or place.field not in options:
            raise
        raise error.at(Place(field=options[place.field])) from None


def print_table(rows: Sequence[tuple[str, ...]], word: str) -> None:
    """Print rows under their head, those of names that contain a word.

    Raises
    ------
    WbplanError
        If there is only the head.
    """
    if len(rows) == 1:
        raise WbplanError(
            f"no name contains '{word}'; allowed: a part of a name, or no word at all"
        )
    from wbplan.report.base.columns import ANY_WIDTH, format_rows

    width = find_width() if sys.stdout.isatty() else ANY_WIDTH  # a line a name, for grep
    print("\n".join(format_rows([list(each) for each in rows], "", width)))
