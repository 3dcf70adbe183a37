"""What the commands share: how an option is named in a refusal, and how a figure is read."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from wbplan.core.errors import InputError, Place


def add_lut_size(command: argparse.ArgumentParser) -> None:
    """Add the option that gives every table one size."""
    command.add_argument(
        "--lut-size",
        type=int,
        metavar="N",
        help="points of 3D tables: 17, 33, 65, 97, 129 (default: as few as do, 33 at most)",
    )


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
