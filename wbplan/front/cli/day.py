"""`wbplan day`: the light at a place through a day, before anyone is there."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from wbplan.core.band import BAND_SHARE
from wbplan.front.cli.options import (
    add_delivery,
    add_detail,
    add_lut_size,
    add_tried,
    check_delivery,
    find_width,
    name_options,
    print_result,
    write_delivery,
)

_OPTIONS = {
    "date": "--date",
    "begin": "--from",
    "end": "--to",
    "step_minutes": "--step",
    "tolerance": "--tolerance",
    "lut_size": "--lut-size",
}


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
        help="share of plausible cameras and airs that each band is to hold (default 0.9)",
    )
    add_lut_size(day)
    add_tried(day)
    add_delivery(day)
    add_detail(
        day,
        "only what to set in each setup and when it serves",
        "every hour too, and the names of all files",
    )
    day.set_defaults(run=run_day)


def run_day(options: argparse.Namespace) -> None:
    """Run the command."""
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_bar
    from wbplan.day.times import DayWish
    from wbplan.front.days import change_wish, plan_day
    from wbplan.front.files import say_plan, write
    from wbplan.front.scenes import read_scene
    from wbplan.read.catalogue import find_scenario_file
    from wbplan.record.size import say_day_size
    from wbplan.report.day.terminal import format_day_decisions, format_day_plan
    from wbplan.report.plan.terminal import list_written
    from wbplan.scene.sky_draws import has_sky

    path = find_scenario_file(options.scenario)
    folder = Path(options.out or f"{path.stem}-day{'-tried' if options.tried else ''}")
    of = say_plan(path.name, "day")
    check_folder(folder, options.force, of)
    check_delivery(options, folder, of)
    scene = read_scene(path, options.camera, for_day=True, tried=options.tried)
    asked = (
        options.date,
        options.begin,
        options.end,
        options.step,
        dict(word.partition(":")[::2] for word in options.tolerance),
    )
    with name_options(_OPTIONS):
        wish = change_wish(scene.day or DayWish(), *asked)
        size = say_day_size([each for each in scene.setups if has_sky(each)], wish, scene.inputs)
        if size:
            print(f"wbplan: {size}", file=sys.stderr)
        planned = plan_day(scene, None, *asked, options.band, options.lut_size, make_bar())
    names = write(planned, folder, options.force)
    detail, width = options.detail, find_width()
    written = f"Written to {folder}: {list_written(names, detail == 'full')}"
    said = format_day_plan(planned, detail, width)
    if detail != "brief":
        print_result(said, written, detail)
        said = format_day_decisions(planned, width)
    write_delivery(planned, options)
    print(said)
