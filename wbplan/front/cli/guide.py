"""`wbplan guide`: the pages for users that ship in `wbplan/guide/`, one Markdown file a topic."""

from __future__ import annotations

import argparse
from typing import Any

TOPICS = (
    *("start", "open", "scenario", "lights", "profiles", "lessons", "filters"),
    *("exposure", "luts", "day", "records", "numbers"),
)  # in the order in which somebody new would read them
_MODELS = {"scenario": "scenario", "profiles": "profile", "lessons": "lesson"}


def add_guide_command(commands: Any) -> None:
    """Add the parser of the command that prints a topic of the guide."""
    guide = commands.add_parser(
        "guide",
        help="print the guide: how to begin, and every file format",
        description="Print one topic of the guide, or without TOPIC the list of topics.",
    )
    guide.add_argument("topic", metavar="TOPIC", nargs="?", help=f"one of {', '.join(TOPICS)}")
    guide.set_defaults(run=_run_guide)


def read_topic(name: str) -> str:
    """Read one topic's text; its first line is ``# name: what it tells``.

    Lists of fields are those of the models by which the files are read.
    """
    text = _read_file(name)
    if name not in _MODELS:
        return text
    from wbplan.read.model.listing import fill_lists
    from wbplan.read.schema import find_model

    return fill_lists(text, find_model(_MODELS[name]))


def _read_file(name: str) -> str:
    from importlib.resources import files  # slow to load, and --help asks for no topic

    return files("wbplan").joinpath("guide", f"{name}.md").read_text(encoding="utf-8")


def _run_guide(options: argparse.Namespace) -> None:
    if options.topic is None:
        print("Topics; read one with: wbplan guide TOPIC\n")
        for name in TOPICS:
            told = _read_file(name).splitlines()[0].removeprefix(f"# {name}: ")
            print(f"  {name:<10}{told}")
        return
    from wbplan.read.catalogue import match_name

    print(read_topic(match_name(options.topic, TOPICS, "topic")), end="")
