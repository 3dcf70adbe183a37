"""`wbplan completion`: what a shell needs to complete commands, options and files."""

from __future__ import annotations

import argparse
from typing import Any

SHELLS = ("bash", "zsh", "fish")
_EPILOG = (
    "bash: wbplan completion bash > ~/.local/share/bash-completion/completions/wbplan; "
    "zsh: wbplan completion zsh > a folder of $fpath, as _wbplan; "
    "fish: wbplan completion fish > ~/.config/fish/completions/wbplan.fish"
)
_FILES = ("SCENARIO", "FILE", "RECORD", "LUT", "IN", "OUT", "FRAME", "FIRST", "SECOND", "PLAN")
_FOLDERS = ("DIR", "FOLDER")


def add_completion_command(commands: Any) -> None:
    """Add the command to a parser's subparsers."""
    completion = commands.add_parser(
        "completion",
        help="print what a shell completes commands and options with",
        description="Print a script with which a shell completes commands, options and files.",
        epilog=_EPILOG,
    )
    completion.add_argument("shell", choices=SHELLS, help="the shell")
    completion.set_defaults(run=_run_completion)


def _run_completion(options: argparse.Namespace) -> None:
    print(make_completion(options.shell))


def make_completion(shell: str) -> str:
    """Make the script of a shell from the parser itself.

    Raises
    ------
    WbplanError
        If shtab is not installed.
    """
    from wbplan.core.errors import WbplanError
    from wbplan.front.cli.main import make_parser

    try:
        import shtab
    except ImportError:
        text = "found no shtab, which writes it; allowed: after pip install '.[completion]'"
        raise WbplanError(text) from None

    parser = make_parser()
    for command in (parser, *parser.find_commands().values()):
        for action in command.list_actions():
            if action.metavar in _FILES:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
            elif action.metavar in _FOLDERS:
                action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
    return str(shtab.complete(parser, shell))
