"""The parser of arguments, which names the nearest command or option where one is misspelt."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import NoReturn


class Parser(argparse.ArgumentParser):
    """A parser that asks whether something near was meant; Python does so itself from 3.14 on."""

    def parse_command(self, arguments: Sequence[str]) -> argparse.Namespace:
        """Parse a whole command line; ends the process with 2 where it cannot be."""
        commands = self.find_commands()
        first = arguments[0] if arguments else ""
        if first and not first.startswith("-") and first not in commands:
            near = _find_near(first, list(commands))
            self.error(f"no command '{first}'; {near or 'wbplan --help lists them'}")
        options, unknown = self.parse_known_args(arguments)
        if unknown:
            parser = commands.get(first, self)
            flags = [flag for each in parser.list_actions() for flag in each.option_strings]
            near = _find_near(unknown[0].partition("=")[0], flags)
            where = f"{parser.prog} --help lists what is"
            parser.error(f"'{unknown[0]}' is not known here; {near or where}")
        return options

    def find_commands(self) -> dict[str, Parser]:
        """Find the parsers of the commands by their names."""
        for each in self.list_actions():
            if each.nargs == argparse.PARSER:
                return dict(each.choices or {})
        return {}

    def list_actions(self) -> list[argparse.Action]:
        """List the options and arguments."""
        return list(self._actions)

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and how the command is used, and end with 2."""
        self.print_usage(sys.stderr)
        self.exit(2, f"{self.prog}: {message}\n")


def _find_near(word: str, known: list[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word, known, 2, 0.6)
    return "did you mean " + " or ".join(f"'{each}'" for each in near) + "?" if near else ""
