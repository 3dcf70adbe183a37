"""What can go wrong, and how it is said.

Every refusal names where it arose (file, line, column, field), what was found and what is
allowed, so that a person in a hurry can mend the file without reading code. The command line
prints ``str(error)`` and ends with exit code 2; nothing here is ever shown as a traceback.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from wbplan.core.names import look_at

_LONGEST_CHOICE = 100  # of a name that is offered: a heading of thousands of letters helps nobody


class WbplanError(ValueError):
    """Base of every refusal that a user can mend."""


@dataclass(frozen=True)
class Place:
    """Where in the user's files something stands; line and column count from 1, 0 is unknown."""

    file: str = ""
    line: int = 0
    column: int = 0
    field: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.line:
            where += f":{self.line}"
            if self.column:
                where += f":{self.column}"
        return ": ".join(part for part in (where, self.field) if part)


class InputError(WbplanError):
    """A file or an argument that cannot be used as it stands.

    Parameters
    ----------
    found
        What stands there, in words ("'warm'", "-3", "a list").
    allowed
        What may stand there, in words ("a number above 0").
    place
        Where it stands.

    What a person wrote may stand in all three: no control character of it reaches the message.
    """

    def __init__(self, found: str, allowed: str, place: Place | None = None) -> None:
        self.found = escape_unprintable(found)
        self.allowed = escape_unprintable(allowed)
        self.place = place or Place()
        text = f"found {self.found}; allowed: {self.allowed}"
        where = escape_unprintable(str(self.place))
        super().__init__(f"{where}: {text}" if where else text)

    def at(self, place: Place) -> InputError:
        """Give the same refusal with a (better) place."""
        return type(self)(self.found, self.allowed, place)

    def move(self, change: Callable[[Place], Place]) -> InputError:
        """Give the same refusal with the place that ``change`` makes of its own."""
        return self.at(change(self.place))


class MistakesError(InputError):
    """Every mistake of one file, in its order; as an `InputError` it is the first.

    Parameters
    ----------
    mistakes
        Those that are told, one a line.
    count
        How many there are; the rest is counted only.
    """

    def __init__(self, mistakes: Sequence[InputError], count: int) -> None:
        first = mistakes[0]
        super().__init__(first.found, first.allowed, first.place)
        self.mistakes = tuple(mistakes)
        self.count = count

    def move(self, change: Callable[[Place], Place]) -> InputError:
        """Give the same refusals with other places."""
        return MistakesError([each.move(change) for each in self.mistakes], self.count)

    def at(self, place: Place) -> InputError:
        """Give the first refusal with a (better) place."""
        return self.mistakes[0].at(place)

    def __str__(self) -> str:
        more = self.count - len(self.mistakes)
        lines = [*map(str, self.mistakes), *([f"and {more} more"] if more else [])]
        return "\n".join(lines)


def list_mistakes(error: InputError) -> tuple[InputError, ...]:
    """List the mistakes of a refusal, each by itself."""
    return error.mistakes if isinstance(error, MistakesError) else (error,)


class SpectrumError(InputError):
    """Spectral data that is not a spectrum: unsorted, negative, too short a range."""


class UnknownNameError(InputError):
    """A name that the catalogue does not carry."""


class OutputError(WbplanError):
    """An output that may not or cannot be written."""


def find_near(name: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Find the known names that look like a name, the nearest first.

    Case and the separators ``-``, ``_`` and space do not count.
    """
    from difflib import get_close_matches  # here and elsewhere: most runs need none of it

    folded = {fold_name(each): each for each in known}
    return [folded[hit] for hit in get_close_matches(fold_name(name), list(folded), most, 0.6)]


def describe_choices(name: str, known: Iterable[str], most: int = 8) -> str:
    """Say in words which names are allowed, the nearest known ones first.

    With no near miss, up to ``most`` names are listed, then the number of the rest.
    """
    names = list(known)
    if not names:
        return "nothing, since none is known here"
    near = find_near(name, names, 3)
    if near and look_at(near[0]) == look_at(name):
        said = "which looks the same and is of other characters: copy it from there"
        return f"'{_cut(near[0])}', {said}"
    if near:
        return "did you mean " + " or ".join(f"'{_cut(each)}'" for each in near) + "?"
    listed = ", ".join(map(_cut, names[:most]))
    rest = len(names) - most
    return f"one of {listed}" + (f" and {rest} more" if rest > 0 else "")


def _cut(name: str) -> str:
    return name if len(name) <= _LONGEST_CHOICE else f"{name[:_LONGEST_CHOICE]}..."


def fold_name(name: str) -> str:
    """Reduce a name to what counts when names are compared: case and separators do not."""
    return "".join(ch for ch in look_at(name).casefold() if ch not in "-_ ")


def escape_unprintable(text: str) -> str:
    """Write what a terminal must not get, controls of writing direction too, as an escape."""
    return "".join(
        each if each.isprintable() else each.encode("unicode_escape").decode("ascii")
        for each in text
    )
