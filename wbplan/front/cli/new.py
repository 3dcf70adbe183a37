"""`wbplan new`: a first scenario from a folder of readings, or from nothing."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wbplan.core.errors import InputError

if TYPE_CHECKING:
    from wbplan.front.drafts import Readings


def add_new_command(commands: Any) -> None:
    """Add the parser of the command that begins a scenario."""
    new = commands.add_parser(
        "new",
        help="begin a scenario from a folder of readings, or from nothing",
        description="Begin a scenario from the spectra in a folder: lux from their own level or "
        "header, names from headers or files ('window at Anna.csv' is the window as read at Anna), "
        "and a remark at each line. What nobody said stands in, marked CHECK, and the plan warns "
        "of it. On a terminal it asks for camera and key.",
        epilog="wbplan new readings --out loc.yaml && wbplan plan loc.yaml",
    )
    new.add_argument(
        "readings", metavar="READINGS", nargs="*", help="a folder of spectra, or files of them"
    )
    new.add_argument(
        "--out", metavar="FILE", help="scenario to write (default: READINGS' name with .yaml)"
    )
    new.add_argument("--camera", metavar="PROFILE", help="a name or a path (`wbplan cameras`)")
    new.add_argument("--key", metavar="POSITION", help="the position that exposure is set for")
    new.add_argument(
        "--sheet",
        action="store_true",
        help="put the lux into readings.csv beside it, for a spreadsheet",
    )
    new.add_argument("--force", action="store_true", help="replace files of the same names")
    new.set_defaults(run=_run_new)


def _run_new(options: argparse.Namespace) -> None:
    from wbplan.core.output import check_file
    from wbplan.core.progress import make_bar
    from wbplan.front.cli.options import find_width, name_options
    from wbplan.front.drafts import (
        USUAL_NAME,
        draft_scenario,
        gather_readings,
        say_no_places,
    )
    from wbplan.front.files import write
    from wbplan.report.base.columns import fit_text, wrap_text

    usual = f"{Path(options.readings[0]).resolve().stem}.yaml" if options.readings else USUAL_NAME
    target = Path(options.out or usual)
    if target.suffix.lower() not in (".yaml", ".yml"):
        raise InputError(f"--out {target}", "a file that ends in .yaml")
    check_file(target, options.force)
    readings = gather_readings(options.readings, make_bar())
    camera, key = options.camera, options.key
    if sys.stdin.isatty() and sys.stderr.isatty():
        camera, key = _ask(readings, camera, key)
    with name_options({"out": "--out"}):
        made = draft_scenario(readings, target, camera, key, options.sheet)
    names = write(made, target.parent, options.force)
    width = find_width()
    for name, place, understood in made.lights:
        print("\n".join(wrap_text(f"  {name}, {place}: {understood}", width, " " * 6)))
    for name, why in made.refused:
        print(f"wbplan: warning: passed over {name}: {why}", file=sys.stderr)
    stand = {
        "camera": f"camera {made.camera} (generic)",
        "key": f"key '{made.key}'",
        "shooting": "24 fps, 180°, the camera's base EI",
        "lux": "100 lux where a reading states none" if made.lights else "lights and their lux",
    }
    said = [f"Stands in until you say otherwise: {'; '.join(stand[e] for e in made.assumed)}."]
    hint = say_no_places(made)
    said += [f"{hint}, in the browser or in the file."] if hint else []
    said += [f"Written to {target.parent}: {', '.join(names)}. The lines to look at say CHECK."]
    path = shlex.quote(str(target))
    print(f"\n{fit_text(chr(10).join(said), width)}")
    print(f"Next: wbplan plan {path}\nor    wbplan open {path}   to change it in the browser")


def _ask(readings: Readings, camera: str | None, key: str | None) -> tuple[str | None, str | None]:
    """Ask a person for the camera and the key; an empty answer leaves what stands in."""
    from wbplan.front.drafts import USUAL_CAMERA
    from wbplan.read.catalogue import list_cameras, match_name

    def match_camera(said: str) -> str:
        is_path = said.lower().endswith((".yaml", ".yml"))
        return said if is_path else match_name(said, list_cameras(), "camera")

    if camera is None:
        said = f"Camera, by a name of `wbplan cameras` or a path [{USUAL_CAMERA}, generic]: "
        camera = _prompt(said, match_camera)
    if key is None and len(readings.places) > 1:
        print(f"Positions: {', '.join(readings.places)}", file=sys.stderr)
        said = f"Key, the one that exposure is set for [{readings.first}]: "
        key = _prompt(said, lambda text: match_name(text, readings.places, "position"))
    return camera, key


def _prompt(question: str, take: Callable[[str], str]) -> str | None:
    while True:
        print(question, end="", file=sys.stderr, flush=True)
        said = sys.stdin.readline().strip()
        if not said:
            return None
        try:
            return take(said)
        except InputError as error:
            print(error, file=sys.stderr)
