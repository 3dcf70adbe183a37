"""The commands on cameras: listed, learned from frames, and a plan verified by frames."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from wbplan.core.errors import InputError, Place

_LESSON_ENDINGS = (".yaml", ".yml")
_MEASURED_NAMES = (
    "Names say what was measured (Academy Software Foundation, rawtoaces-data, Apache-2.0); nobody "
    "named has anything to do with wbplan. Menus were not measured: a plain one stands in. Put "
    "your camera's in its place with a file of your own: `like: NAME`, then `menu:`."
)
_CHOOSE_CAMERA = (
    "your own model if it is here; else a profile of your own camera, learned from one chart "
    "(wbplan learn); else cfa-mid, whose band is about twice as wide"
)


def add_learn_command(commands: Any) -> None:
    """Add the parser of `wbplan learn`."""
    learn = commands.add_parser(
        "learn",
        help="learn a camera's curves from chart frames or readings",
        description="Learn a camera's curves, and write a profile for every other command: from "
        "frames of the 24-patch reference chart (ISO 17321-1), each under one light that was "
        "read, or from a lesson file, which also takes tables of patches, grey readings, reported "
        "settings and published matrices.",
        epilog="wbplan learn chart.dng --light reading.csv",
    )
    learn.add_argument(
        "frames",
        metavar="FRAME",
        nargs="+",
        help="a camera raw, DNG or linear TIFF of the chart; or one lesson file (.yaml), see "
        "'wbplan guide lessons'",
    )
    learn.add_argument(
        "--light",
        metavar="LIGHT",
        action="append",
        default=[],
        help="the light of a frame, one for each in their order: a file, or a name of 'wbplan "
        "sources'",
    )
    learn.add_argument(
        "--start",
        metavar="PROFILE",
        help="a profile of the same kind, whose menu carries over (default: cfa-mid)",
    )
    learn.add_argument(
        "--corners",
        metavar="X,Y,...",
        help="the four corners of the field of patches in pixels: from the first patch along its "
        "row, and round (default: looked for)",
    )
    learn.add_argument("--black", metavar="CODE", type=float, help="black level of a TIFF")
    learn.add_argument("--white", metavar="CODE", type=float, help="white level of a TIFF")
    learn.add_argument(
        "--out", metavar="DIR", help="folder to write to (default: the camera's name with -profile)"
    )
    learn.add_argument("--force", action="store_true", help="replace files of the same names")
    learn.set_defaults(run=_run_learn)


def _run_learn(options: argparse.Namespace) -> None:
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_bar
    from wbplan.front.cameras import learn
    from wbplan.front.cli.options import find_width
    from wbplan.front.files import CAMERA, write
    from wbplan.report.camera.learned import format_teaching

    if options.out:
        check_folder(Path(options.out), options.force, CAMERA)
    frames = options.frames
    if any(each.lower().endswith(_LESSON_ENDINGS) for each in frames):
        _refuse_beside_lesson(options)
        learned = learn(frames[0], make_bar())
    else:
        lesson = _make_lesson(options)
        with name_frames(frames):
            learned = learn(lesson, make_bar())
    name = learned.camera.name
    folder = Path(options.out or f"{name}-profile")
    names = write(learned, folder, options.force)
    print(format_teaching(learned.teaching, find_width()))
    print(f"\nWritten to {folder}: {', '.join(names)}")
    print(f"Use it with: wbplan plan SCENARIO --camera {folder / name}.yaml")


def _refuse_beside_lesson(options: argparse.Namespace) -> None:
    if len(options.frames) > 1:
        allowed = "a lesson file by itself, or frames"
        raise InputError(f"a lesson file among {len(options.frames)} files", allowed)
    given = {
        "--light": options.light or None,
        "--start": options.start,
        "--corners": options.corners,
        "--black": options.black,
        "--white": options.white,
    }
    for name, value in given.items():
        if value is not None:
            allowed = "a lesson file by itself, since it says all of that"
            raise InputError(f"a lesson file with {name}", allowed, Place(field=name))


def _make_lesson(options: argparse.Namespace) -> dict[str, Any]:
    """Make what a lesson file would say of frames given on the command line."""
    count = len(options.frames)
    if len(options.light) != count:
        found = f"{len(options.light)} lights for {count} frame{'s' if count > 1 else ''}"
        raise InputError(found, "the light of each frame, in their order", Place(field="--light"))
    more: dict[str, Any] = {}
    if options.corners is not None:
        more["corners"] = read_figures(options.corners, 8, "--corners")
    for name in ("black", "white"):
        if getattr(options, name) is not None:
            more[name] = getattr(options, name)
    stem = Path(options.frames[0]).stem
    return {
        "title": f"Learned from {', '.join(Path(each).name for each in options.frames)}"[:200],
        "name": stem,
        "start": options.start or "cfa-mid",
        "frames": [
            {"light": _name_light(light), "still": frame, **more}
            for frame, light in zip(options.frames, options.light, strict=True)
        ],
    }


def _name_light(name: str) -> object:
    """Name a light as a lesson file would."""
    from wbplan.core.errors import UnknownNameError
    from wbplan.front.lights import find_light
    from wbplan.read.catalogue import find_source

    if os.path.isfile(name):
        return {"spectrum_file": name}
    try:
        return {"lamp": find_source(name).name}
    except UnknownNameError:
        return find_light(name)


def read_figures(text: str, count: int, option: str) -> list[float]:
    """Read so many numbers with commas between them."""
    place = Place(field=option)
    try:
        figures = [float(each) for each in text.split(",")]
    except ValueError:
        raise InputError(f"'{text}'", f"{count} numbers with commas between", place) from None
    if len(figures) != count:
        raise InputError(f"{len(figures)} numbers", f"{count} with commas between", place)
    return figures


@contextmanager
def name_frames(frames: Sequence[str]) -> Iterator[None]:
    """Name the frame where what was made of the command line is refused at ``frames[n]``."""
    try:
        yield
    except InputError as error:
        for number, frame in enumerate(frames):
            if not error.place.file and error.place.field.startswith(f"frames[{number}]"):
                field = error.place.field.rpartition(".")[2]
                option = f"--{field}" if field in ("corners", "black", "white") else ""
                raise error.at(Place(frame, field=option)) from None
        raise


_OPTIONS = {
    **{name: f"--{name}" for name in ("setup", "at", "grey", "corners")},
    "plan": "PLAN",
}


def add_verify_command(commands: Any) -> None:
    """Add the parser of `wbplan verify`."""
    verify = commands.add_parser(
        "verify",
        help="say what came out on a frame of a grey or chart against its plan",
        description="Say what came out on frames of a grey card, or of the 24-patch chart, that "
        "were shot at the planned setting: cast, setting and stop, inside the plan's band or not. "
        "Camera raw and DNG are read with the gains that they state; a PNG, TIFF or EXR holds the "
        "plan's encoding, before any LUT. Exit code 0 says that it was read, not that it is as "
        "planned.",
        epilog="wbplan verify my-plan face.dng --at face --out face-lesson",
    )
    verify.add_argument("plan", metavar="PLAN", help="a plan.json, or the folder that holds one")
    verify.add_argument("frames", metavar="FRAME", nargs="+", help="a raw, DNG, PNG, TIFF or EXR")
    verify.add_argument("--setup", metavar="NAME", help="the setup, where the plan has several")
    verify.add_argument(
        "--at",
        metavar="POSITION",
        action="append",
        help="where the grey stood, one for all frames or one for each (default: the key position)",
    )
    verify.add_argument(
        "--grey", metavar="X,Y,W,H", help="where the grey lies in pixels (default: the middle)"
    )
    verify.add_argument(
        "--reflectance",
        metavar="PERCENT",
        type=float,
        default=18.0,
        help="of the grey (default: 18)",
    )
    verify.add_argument(
        "--chart", action="store_true", help="read the greys of the chart, which is looked for"
    )
    verify.add_argument(
        "--corners",
        metavar="X,Y,...",
        help="read the greys of the chart between these four corners of its field of patches",
    )
    verify.add_argument(
        "--linear",
        action="store_true",
        help="stills hold scene-linear light of the plan's gamut in place of its codes",
    )
    verify.add_argument("--json", action="store_true", help="print JSON instead of words")
    verify.add_argument(
        "--out", metavar="DIR", help="write a lesson by these frames for 'wbplan learn' there"
    )
    verify.add_argument("--force", action="store_true", help="replace files of the same names")
    verify.set_defaults(run=_run_verify)


def _run_verify(options: argparse.Namespace) -> None:
    import sys

    from wbplan.core.names import clean_text
    from wbplan.core.output import check_folder
    from wbplan.core.progress import make_bar
    from wbplan.front.cli.options import name_options
    from wbplan.front.files import write
    from wbplan.front.verify import verify
    from wbplan.record.plan import format_record
    from wbplan.report.camera.verified import build_outcomes, format_outcomes

    if options.out:
        check_folder(Path(options.out), options.force)
    numbers = {
        name: None if given is None else read_figures(given, count, f"--{name}")
        for name, given, count in (("grey", options.grey, 4), ("corners", options.corners, 8))
    }
    if not 1 <= options.reflectance <= 100:
        place = Place(field="--reflectance")
        raise InputError(f"{options.reflectance:g} %", "1 to 100 %", place)
    with name_options(_OPTIONS):
        found = verify(
            options.plan,
            options.frames,
            options.setup,
            options.at,
            numbers["grey"],
            options.reflectance / 100.0,
            options.chart,
            numbers["corners"],
            options.linear,
            make_bar(),
        )
    for note in found.notes:
        print(f"wbplan: warning: {clean_text(str(note))}", file=sys.stderr)
    said = (found.title, found.frames, found.outcomes)
    lesson = Path(options.out or "lesson") / "lesson.yaml"
    names = write(found, options.out, options.force) if options.out and found.lesson else ()
    if options.json:
        print(format_record(build_outcomes(*said)), end="")
        return
    print(format_outcomes(*said))
    if names:
        print(f"\nWritten to {options.out}: {', '.join(names)}")
        print(f"Sharpen the profile with: wbplan learn {lesson}")
    elif found.lesson:
        print("\nWith --out DIR these frames become a lesson for 'wbplan learn'.")
    elif options.out:
        print("\nNothing written: none of these frames can teach.")


def add_cameras_command(commands: Any) -> None:
    """Add the parser of `wbplan cameras`."""
    what = "list the camera profiles that ship with wbplan"
    listing = commands.add_parser("cameras", help=what, description=f"{what.capitalize()}.")
    listing.add_argument("word", nargs="?", default="", help="only names that contain this")
    listing.set_defaults(run=_run_cameras)


def _run_cameras(options: argparse.Namespace) -> None:
    from itertools import groupby
    from textwrap import wrap

    from wbplan.core.errors import fold_name
    from wbplan.front.catalogue import COLUMNS, describe_camera
    from wbplan.front.cli.options import print_table
    from wbplan.read.catalogue import list_cameras, list_shipped

    generic = list_shipped("camera_profiles")
    chosen = [each for each in list_cameras() if fold_name(options.word) in fold_name(each)]
    measured = [each for each in chosen if each not in generic]
    rows = [describe_camera(each) for each in chosen if each in generic]
    if rows or not measured:
        print_table([COLUMNS["cameras"], *rows], options.word)
        print()
    if measured:
        print("measured, one body of each model")
        for _, names in groupby(measured, lambda each: each.partition("-")[0]):
            print("\n".join(wrap("  ".join(names), 78, break_on_hyphens=False)))
        print("\n" + "\n".join(wrap(_MEASURED_NAMES, 78)) + "\n")
    print("choose  " + "\n        ".join(wrap(_CHOOSE_CAMERA, 70)))
