"""`wbplan day`: the light at a place through a day, before anyone is there."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wbplan.core.band import BAND_SHARE

if TYPE_CHECKING:
    from wbplan.day.times import DayWish


def add_day_command(commands: Any) -> None:
    """Add the command to a parser's subparsers."""
    day = commands.add_parser(
        "day",
        help="plan setups under sun and sky through a day, hour by hour",
        description="Plan the setups of a scenario that stand under sun or sky through a day: what "
        "to set at each time, how long a setting serves, when a running take stops matching, when "
        "which filter is due. Never look into the sun through a lens or a finder.",
    )
    day.add_argument("scenario", metavar="SCENARIO", help="a scenario file, or a shipped scenario")
    day.add_argument("--date", metavar="DATE", help="2026-06-21 (default: as in the scenario)")
    day.add_argument("--from", dest="begin", metavar="TIME", help="by the clock there, 06:00")
    day.add_argument("--to", dest="end", metavar="TIME", help="by the clock there, 21:00")
    day.add_argument("--step", metavar="MINUTES", type=int, help="1 to 120 (default: 10)")
    day.add_argument(
        "--tolerance",
        metavar="LIMIT",
        nargs="+",
        default=[],
        help="what still matches: mired:10 cc:2 stops:0.5 (these are the defaults)",
    )
    day.add_argument("--out", metavar="DIR", help="folder (default: SCENARIO's name with -day)")
    day.add_argument("--camera", metavar="PROFILE", help="use this profile for every setup")
    day.add_argument("--force", action="store_true", help="replace the plan that is there already")
    day.add_argument(
        "--band",
        metavar="SHARE",
        type=float,
        default=BAND_SHARE,
        help="share of plausible cameras and airs that each interval is to hold (default 0.9)",
    )
    day.set_defaults(run=run_day)


def run_day(options: argparse.Namespace) -> None:
    """Run the command."""
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_ticker, show_progress
    from wbplan.front.days import plan_day, write_day
    from wbplan.read.catalogue import find_scenario_file
    from wbplan.report.day.terminal import format_day_plan

    path = find_scenario_file(options.scenario)
    folder = Path(options.out or f"{path.stem}-day")
    check_folder(folder, options.force)
    planned = plan_day(
        path,
        options.camera,
        lambda wish: _change(wish, options),
        options.band,
        make_ticker("of the day"),
        lambda jobs: show_progress(jobs, "LUTs"),
    )
    names = write_day(planned, folder, options.force)
    print(format_day_plan(planned))
    print(f"\nWritten to {folder}: {', '.join(names)}")


def _change(wish: DayWish, options: argparse.Namespace) -> DayWish:
    """Let the command line's words take the place of the scenario's."""
    from dataclasses import replace

    from wbplan.core.errors import InputError, Place
    from wbplan.read.scenario.day import check_day, parse_clock, parse_date, parse_tolerance

    if options.date is not None:
        wish = replace(wish, date=parse_date(options.date, Place(field="--date")))
    if options.begin is not None:
        wish = replace(wish, begin=parse_clock(options.begin, Place(field="--from")))
    if options.end is not None:
        wish = replace(wish, end=parse_clock(options.end, Place(field="--to")))
    if options.step is not None:
        if not 1 <= options.step <= 120:
            raise InputError(str(options.step), "1 to 120 minutes", Place(field="--step"))
        wish = replace(wish, step_minutes=options.step)
    wish = replace(wish, within=parse_tolerance(options.tolerance, wish.within))
    return check_day(wish, Place(field="--to"))
