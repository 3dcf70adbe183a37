"""`wbplan check`: every mistake of a scenario, a profile or a lesson, and nothing planned."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from wbplan.core.errors import InputError, MistakesError, list_mistakes


def add_check_command(commands: Any) -> None:
    """Add the command to a parser's subparsers."""
    check = commands.add_parser(
        "check",
        help="say every mistake in a scenario, a profile or a lesson",
        description="Read scenarios, camera profiles or lessons with all that they name, and say "
        "every mistake: file, line, field, what was found, what is allowed. Plans nothing and "
        "writes nothing. Ends with 2 if there is one.",
    )
    check.add_argument(
        "files", metavar="FILE", nargs="+", help="a scenario, a profile, a lesson, or several"
    )
    check.set_defaults(run=_run_check)


def _run_check(options: argparse.Namespace) -> None:
    from wbplan.read.catalogue import find_scenario_file

    found: list[InputError] = []
    for name in options.files:
        try:
            print(_check(find_scenario_file(name)))
        except InputError as error:
            found += list_mistakes(error)
    if found:
        raise MistakesError(found, len(found)) if len(found) > 1 else found[0]


def _check(path: Path) -> str:
    """Read a file, and say in a line what is in it."""
    from wbplan.read.catalogue import find_camera
    from wbplan.read.lesson import read_lesson
    from wbplan.read.profiles import explain_menu
    from wbplan.read.scenario.reader import read_scenario
    from wbplan.read.yaml.fields import read_yaml

    keys = set(read_yaml(path).keys())
    if "wbplan_lesson" in keys:
        lesson = read_lesson(path)
        frames = len(lesson.frames) + len(lesson.balances)
        return f"{path}: no mistake: a lesson of {_count(frames, 'reading')}"
    if keys & {"sensitivities", "like"} and "setups" not in keys:
        camera = find_camera(path.name, path.parent)
        return f"{path}: no mistake: a camera, {explain_menu(camera.menu)}"
    scene = read_scenario(path)
    lights = {source.name for setup in scene.setups for source in setup.sources}
    places = sum(len(setup.positions) for setup in scene.setups)
    said = (
        f"{path}: no mistake: {_count(len(scene.setups), 'setup')}, "
        f"{_count(len(lights), 'light')}, {_count(places, 'position')}"
    )
    warnings = [
        f"\n  warning: {setup.name}: {note}"
        for setup in scene.setups
        for note in setup.notes
        if note.weight == "warning"
    ]
    return said + "".join(warnings)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")
