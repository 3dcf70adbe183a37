"""The command line: what to run, what to print, and how to end.

Exit codes: 0 done, 1 an error inside wbplan, 2 an input or an output that cannot be used. Only the
standard library is imported before a command is known, so that ``--help`` and a mistyped option
answer at once.
"""

from __future__ import annotations

import argparse
import gc
import io
import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from wbplan import __version__
from wbplan.core.band import BAND_SHARE
from wbplan.core.errors import InputError, WbplanError, escape_unprintable
from wbplan.front.cli.cameras import (
    add_cameras_command,
    add_learn_command,
    add_verify_command,
)
from wbplan.front.cli.check import add_check_command
from wbplan.front.cli.completion import add_completion_command
from wbplan.front.cli.day import add_day_command
from wbplan.front.cli.exposure import add_exposure_commands
from wbplan.front.cli.guide import add_guide_command
from wbplan.front.cli.new import add_new_command
from wbplan.front.cli.next_step import tell_next
from wbplan.front.cli.open import add_open_command
from wbplan.front.cli.options import (
    add_delivery,
    add_detail,
    add_lut_size,
    add_tried,
    check_delivery,
    find_plan_folder,
)
from wbplan.front.cli.parser import Parser
from wbplan.front.cli.plain_letters import PLAIN_LETTERS
from wbplan.front.cli.records import add_record_commands


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors in ("strict", "backslashreplace"):
            stream.reconfigure(errors=PLAIN_LETTERS)
    for each in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ.setdefault(each, "1")  # matrices are small here: threads would only wait
    gc.set_threshold(100_000, 50, 50)  # nearly all that a run makes, it keeps
    given = sys.argv[1:] if arguments is None else arguments
    parser = make_parser(given[0] if given else "")
    if not given:
        print(tell_next(), end="")
        return 0
    options = parser.parse_command(given)
    try:
        options.run(options)
        sys.stdout.flush()
    except WbplanError as error:
        for line in str(error).split("\n"):
            print(f"wbplan: {escape_unprintable(line)}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of our output left, as `head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:  # what no reader or writer has put into words of its own
        about = "" if error.filename is None else f"{error.filename}: "
        said = f"{about}{error.strerror or error}"
        print(f"wbplan: {escape_unprintable(said)}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("wbplan: stopped; nothing is half written", file=sys.stderr)
        return 1
    return 0


def run_process() -> int:
    """Run the command of this process and end it, with its exit code.

    All goes at once with the process, so nothing is freed piece by piece before, which takes a
    twentieth of a plan. Where threads still work, or the output cannot be written, Python ends as
    it always does.
    """
    code = main()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:
        return code
    if threading.active_count() == 1:
        os._exit(code)
    return code


def make_parser(command: str = "") -> Parser:
    """Make the parser of a command, or of all where none is called so."""
    parser = Parser(
        prog="wbplan",
        description="Plan camera colour and exposure from measured light.",
        epilog="Each command has its own --help.",
    )
    parser.add_argument("-V", "--version", action="version", version=f"wbplan {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    for names, add in _COMMANDS.items():
        if command in names or not any(command in each for each in _COMMANDS):
            add(commands)
    return parser


def _add_plan_command(commands: argparse._SubParsersAction[Parser]) -> None:
    plan = commands.add_parser(
        "plan",
        help="decide the setting, casts, exposure and LUT of each setup in a scenario",
        description="Decide the setting, the casts that stay, the exposure and the LUT of each "
        "setup in a scenario, and write a report, a record and the LUTs into one folder.",
    )
    plan.add_argument(
        "scenario", metavar="SCENARIO", nargs="?", help="a scenario file, or a shipped scenario"
    )
    plan.add_argument(
        "--from",
        dest="record",
        metavar="RECORD",
        help="make a plan again from its plan.json, or from the folder that holds one",
    )
    plan.add_argument(
        "--out", metavar="DIR", help="folder to write to (default: SCENARIO's name with -plan)"
    )
    plan.add_argument(
        "--camera", metavar="PROFILE", help="use this profile for every setup: a name or a path"
    )
    plan.add_argument(
        "--force",
        action="store_true",
        help="replace what is in the folder even if it is another plan, or changed since",
    )
    _add_band(plan)
    plan.add_argument(
        "--advise",
        action="store_true",
        help="also search what to change on which light: filters, tunable fixtures, the setting",
    )
    plan.add_argument(
        "--figures", action="store_true", help="also write every figure as an SVG file of its own"
    )
    plan.add_argument(
        "--plate",
        action="store_true",
        help="also write plate notes for visual effects: a page, a record, each light's spectrum",
    )
    add_lut_size(plan)
    add_tried(plan)
    plan.add_argument(
        "--watch",
        action="store_true",
        help="plan again whenever a file in the scenario's folder changes, until Ctrl-C",
    )
    add_delivery(plan)
    add_detail(
        plan,
        "only what to set in each setup: setting, stop, ND, how the key will look",
        "every table too: light and stop by place, landings, gains, packs, flicker, file names",
    )
    plan.set_defaults(run=_run_plan, band=None)


def _add_describe_command(commands: argparse._SubParsersAction[Parser]) -> None:
    light = commands.add_parser(
        "describe",
        help="say everything about the lights in spectrum files",
        description="Describe lights: colour, rendering, similarity, and with a camera what it "
        "makes of them. Reads tables of any layout, IES TM-27 files, folders of either, scenario "
        "files (their sources), and names that `wbplan sources` lists.",
    )
    light.add_argument("files", metavar="FILE", nargs="+", help="a file, folder or source")
    light.add_argument("--camera", metavar="PROFILE", help="add what this camera makes of them")
    light.add_argument(
        "--against",
        metavar="SOURCE",
        help="compare each with this light: a file, a source, daylight-5600K, black-body-3200K",
    )
    light.add_argument(
        "--filter",
        metavar="FILTER",
        action="append",
        default=[],
        help="describe each behind this as well: a file of transmittance, warm:42, cool:80, "
        "green:15, magenta:7.5, nd:1; several stand one behind the other",
    )
    light.add_argument("--column", metavar="COLUMN", help="which curve of a file: label or number")
    light.add_argument("--json", action="store_true", help="print the record instead of tables")
    light.add_argument("--out", metavar="DIR", help="write a page and the record into this folder")
    light.add_argument(
        "--force", action="store_true", help="replace what describe wrote there before"
    )
    _add_band(light)
    light.set_defaults(run=_run_describe)


def _add_listings(commands: argparse._SubParsersAction[Parser]) -> None:
    for name, what in (
        ("sources", "the lights that a scenario can name"),
        ("scenarios", "the scenarios that ship with wbplan"),
        ("filters", "the generic correction filters that a scenario can name"),
        ("encodings", "the curves and gamuts of picture files, and short names that do too"),
    ):
        listing = commands.add_parser(name, help=f"list {what}", description=f"List {what}.")
        listing.add_argument("word", nargs="?", default="", help="only names that contain this")
        listing.set_defaults(run=_run_list, kind=name)
    data = commands.add_parser(
        "data", help="list the tables that ship with wbplan", description="List origin and terms."
    )
    data.add_argument("word", nargs="?", default="", help="only names that contain this")
    data.set_defaults(run=_run_data)


def _add_lut_commands(commands: argparse._SubParsersAction[Parser]) -> None:
    lut = commands.add_parser(
        "lut",
        help="make one LUT without a scenario",
        description="Make one LUT without a scenario, and say how far it is from exact.",
        epilog="A setting is a Kelvin and a tint: 5600, or '4350 magenta 2'. A light is a name "
        "that 'wbplan sources' lists, or a Kelvin.",
    )
    lut.add_argument("--camera", metavar="PROFILE", help="a name or a path")
    lut.add_argument(
        "--kind",
        default="correct",
        choices=("correct", "gains", "monitor", "light-match", "camera-match"),
        help="correct (the default): from one setting to another; gains: the same as gains per "
        "channel, for a 1D table or a CDL; monitor: corrected and shown on a screen; light-match: "
        "from one light to another; camera-match: this camera to another",
    )
    lut.add_argument(
        "--from",
        required=True,
        dest="start",
        metavar="X",
        help="setting, or light of a match; or a .cube or .clf made here, to make it again",
    )
    lut.add_argument("--to", dest="end", metavar="X", help="setting, or light of a light match")
    lut.add_argument("--like", metavar="PROFILE", help="camera match: whose picture is wanted")
    lut.add_argument(
        "--shot-at", metavar="SETTING", help="matches: the setting shot at (default: the light's)"
    )
    lut.add_argument(
        "--map",
        default="best",
        choices=("best", "matrix"),
        help="matches: the best map there is (the default), or the best matrix, which a .clf holds "
        "exactly",
    )
    lut.add_argument("--encoding", metavar="CURVE", help="of the files (default: the profile's)")
    lut.add_argument("--gamut", metavar="GAMUT", help="of the files (default: the profile's)")
    lut.add_argument(
        "--range", default="full", metavar="RANGE", help="full (default), legal or legal-expanded"
    )
    add_lut_size(lut)
    lut.add_argument(
        "--up", type=float, default=0.0, metavar="STOPS", help="also make it brighter: 0.7; -1"
    )
    lut.add_argument(
        "--ei", type=float, metavar="EI", help="of a curve published by EI (default: the camera's)"
    )
    lut.add_argument(
        "--into",
        metavar="CURVE,GAMUT[,RANGE[,EI]]",
        help="what the picture is written in after (default: as before, or as the other camera's)",
    )
    lut.add_argument(
        "--monitor",
        metavar="SCREEN[,RANGE[,WHITE]]",
        help="kind monitor, for bt-1886 (its default), p3-d65, p3-dci, pq or hlg; range full or "
        "legal; pq and hlg: cd/m2 of white (default 203)",
    )
    lut.add_argument(
        "--keep",
        default="green",
        choices=("green", "no_clip"),
        help="the level of green, or that no channel clips",
    )
    lut.add_argument(
        "--cdl-on",
        default="linear",
        choices=("linear", "log"),
        help="a CDL for linear light (the default, exact) or for log codes (its error is said)",
    )
    lut.add_argument("--format", metavar="LIST", help="cube, clf, cc, ccc, cdl; with commas")
    lut.add_argument("--out", default=".", metavar="DIR", help="folder to write to (default: here)")
    lut.add_argument("--force", action="store_true", help="replace a file of the same name")
    lut.set_defaults(run=_run_lut)

    apply = commands.add_parser(
        "apply",
        help="show what a LUT does to a still, before and after side by side",
        description="Apply a LUT to a still and write before and after side by side.",
    )
    apply.add_argument("lut", metavar="LUT", help="a .cube, .clf, .cc, .ccc or .cdl file")
    apply.add_argument("input", metavar="IN", help="PNG, TIFF, EXR or DPX of codes")
    apply.add_argument("output", metavar="OUT", help="PNG, TIFF, EXR or DPX; bits as of IN")
    apply.add_argument(
        "--read",
        default="tetrahedral",
        choices=("tetrahedral", "trilinear"),
        help="between the points of a 3D table (default: tetrahedral)",
    )
    apply.add_argument("--after-only", action="store_true", help="write the corrected still alone")
    apply.add_argument("--force", action="store_true", help="replace OUT if it exists")
    apply.set_defaults(run=_run_apply)


def _run_lut(options: argparse.Namespace) -> None:
    from wbplan.front.cli.lut import run_lut

    run_lut(options)


def _run_apply(options: argparse.Namespace) -> None:
    from wbplan.front.cli.lut import run_apply

    run_apply(options)


def _add_band(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--band",
        metavar="SHARE",
        type=float,
        default=BAND_SHARE,
        help="share of plausible cameras that each band is to hold, 0.5 to 0.99 (default 0.9)",
    )


def _run_plan(options: argparse.Namespace) -> None:
    if options.record is not None:
        from wbplan.front.cli.records import run_rebuild

        run_rebuild(options)
        return
    if options.scenario is None:
        raise InputError("neither SCENARIO nor --from", "a scenario, or --from a record")
    from wbplan.front.cli.watch import watch_plan

    if options.watch:
        watch_plan(options, run_once)
    else:
        run_once(options)


def run_once(options: argparse.Namespace) -> None:
    """Plan a scenario and write what comes of it."""
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_bar
    from wbplan.front.cli.records import print_plan
    from wbplan.front.files import say_plan, write
    from wbplan.front.plans import plan
    from wbplan.front.scenes import read_scene
    from wbplan.read.catalogue import find_scenario_file
    from wbplan.record.size import say_size

    path = find_scenario_file(options.scenario)
    folder = find_plan_folder(options, path)
    of = say_plan(path.name)
    check_folder(folder, options.force, of)
    check_delivery(options, folder, of)
    scene = read_scene(path, options.camera, tried=options.tried)
    size = say_size(scene.setups, scene.inputs)
    if size:
        print(f"wbplan: {size}", file=sys.stderr)
    decided = plan(
        scene,
        None,
        options.band,
        options.advise,
        options.plate,
        options.figures,
        options.lut_size,
        make_bar(),
    )
    names = write(decided, folder, options.force)
    print_plan(decided, names, folder, options)


def _run_describe(options: argparse.Namespace) -> None:
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_bar
    from wbplan.front.cli.options import find_width
    from wbplan.front.files import LIGHTS, make_light_record, write
    from wbplan.front.lights import describe
    from wbplan.report.light.terminal import format_lights

    if options.out:
        check_folder(Path(options.out), options.force, LIGHTS)
    column = options.column
    lights = describe(
        options.files,
        options.camera,
        options.against,
        options.filter,
        int(column) if column and column.isdigit() else column,
        options.band,
        make_bar(),
    )
    names = write(lights, options.out, options.force) if options.out else ()
    if options.json:
        print(make_light_record(lights), end="")
        return
    print(format_lights(lights, find_width()))
    if names:
        print(f"\nWritten to {options.out}: {', '.join(names)}")


def _run_list(options: argparse.Namespace) -> None:
    from wbplan.front.catalogue import COLUMNS, list_known
    from wbplan.front.cli.options import print_table

    print_table([COLUMNS[options.kind], *list_known(options.kind, options.word)], options.word)


def _run_data(options: argparse.Namespace) -> None:
    from importlib.resources import files
    from textwrap import fill

    from wbplan.read.catalogue import read_data_ledger

    word = options.word.lower()
    entries = [
        each for each in read_data_ledger() if word in f"{each['file']} {each['table']}".lower()
    ]
    if not entries:
        raise WbplanError(f"no table's name contains '{options.word}'; allowed: a part of one")
    for each in entries:
        print(f"{each['file']}: {each['table']}")
        for name, label in (("what", ""), ("from", "from "), ("by", "by way of "),
                            ("terms", "terms: "), ("named", "to be named: ")):  # fmt: skip
            print(fill(label + each[name], 78, initial_indent="  ", subsequent_indent="    "))
    print(f"\nNotices that travel with them: {files('wbplan.data') / 'notices'}")
    print("wbplan's own licence is its owner's to choose; nothing here chooses it.")


_COMMANDS: dict[tuple[str, ...], Callable[[argparse._SubParsersAction[Parser]], None]] = {
    ("new",): add_new_command,
    ("open",): add_open_command,
    ("plan",): _add_plan_command,
    ("check",): add_check_command,
    ("day",): add_day_command,
    ("describe",): _add_describe_command,
    ("learn",): add_learn_command,
    ("verify",): add_verify_command,
    ("expose", "flicker", "pack"): add_exposure_commands,
    ("lut", "apply"): _add_lut_commands,
    ("compare", "schema"): add_record_commands,
    ("guide",): add_guide_command,
    ("cameras",): add_cameras_command,
    ("sources", "scenarios", "filters", "encodings", "data"): _add_listings,
    ("completion",): add_completion_command,
}
"""What adds the parsers of which commands, in the order of ``--help``."""
