"""What the commands share: how an option is named in a refusal, and how a figure is read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from wbplan.core.errors import InputError, Place


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
