"""What `wbplan` says by itself: what to do next, in this folder."""

from __future__ import annotations

from pathlib import Path

_MOST_BYTES = 4096  # of a file that is looked at
_MOST_FILES = 200
_STEPS = (
    ("wbplan plan dusk_workshop", "see what it does: plan a scenario that ships with it"),
    ("wbplan open FOLDER", "open readings or a scenario in the browser, and change them"),
    ("wbplan new FOLDER", "begin a scenario from the readings in a folder"),
    ("wbplan guide start", "the first steps, from readings to a setting"),
    ("wbplan describe FILE", "what a reading says about a light"),
    ("wbplan cameras", "the cameras that can be named"),
    ("wbplan --help", "every command; each has its own --help"),
)


def tell_next() -> str:
    """Tell what to type next; a scenario or a plan that lies in this folder comes first."""
    steps = [*_find_here(Path()), *_STEPS]
    wide = max(len(command) for command, _ in steps)
    lines = [f"  {command:<{wide}}  {what}" for command, what in steps]
    head = "wbplan plans camera colour and exposure from measured light. Next:"
    return "\n".join([head, "", *lines]) + "\n"


def _find_here(folder: Path) -> list[tuple[str, str]]:
    steps = []
    for number, path in enumerate(sorted(folder.glob("*.y*ml"))):
        if number == _MOST_FILES:
            break
        try:
            with path.open("rb") as stream:
                is_scenario = b"\nsetups:" in stream.read(_MOST_BYTES)
        except OSError:
            continue
        if is_scenario:
            steps.append((f"wbplan plan {_quote(path.name)}", "plan the scenario that lies here"))
    return steps[:3]


def _quote(name: str) -> str:
    from wbplan.core.errors import escape_unprintable

    said = escape_unprintable(name)
    return f'"{said}"' if " " in said else said
