"""What the commands share: how an option is named in a refusal, and how a table is printed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from wbplan.core.errors import InputError, Place, WbplanError


@contextmanager
def name_options(options: Mapping[str, str]) -> Iterator[None]:
    """Name the option where a call refuses a parameter of its own.

    Parameters
    ----------
    options
        What the command line calls each parameter.
    """
    try:
        yield
    except InputError as error:
        place = error.place
        if place.file or place.field not in options:
            raise
        raise error.at(Place(field=options[place.field])) from None


def print_table(rows: Sequence[tuple[str, ...]], word: str) -> None:
    """Print rows under their head, those of names that contain a word.

    Raises
    ------
    WbplanError
        If there is only the head.
    """
    if len(rows) == 1:
        raise WbplanError(
            f"no name contains '{word}'; allowed: a part of a name, or no word at all"
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        print("  ".join(cells).rstrip())
