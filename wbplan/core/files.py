"""The first look at a file that someone else wrote, and how a piece of its text is shown.

Size and kind are looked at before a byte is read, so that neither a directory, a device nor a
file far too large to be meant costs more than its refusal. Text from a file reaches a message
only through `show_value`: no control character of it may reach a terminal.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import TypeVar, cast

from wbplan.core.errors import InputError, Place, find_near
from wbplan.core.ledger import MOST_INPUT_BYTES, ReadFile, find_ledger, name_files

_T = TypeVar("_T")


def show_value(text: str) -> str:
    """Quote text for a message: one line, control characters escaped, 60 characters at most."""
    shown = repr(text[:61])
    return shown if len(shown) <= 60 else shown[:56] + "..." + shown[0]


def find_near_file(path: Path) -> str:
    """Find what was meant by a path that is not there: the nearest name beside it.

    Where its folder is missing that is looked for first. Empty where nothing is near.
    """
    try:
        folder = path.parent
        if not os.path.isdir(folder):
            near = find_near_file(folder)
            folder = Path(near)
            if not near or not os.path.isdir(folder):
                return ""
        names = [each.name for each in folder.iterdir()]
    except (OSError, ValueError):
        return ""
    hits = find_near(path.name, names)
    return str(folder / hits[0]) if hits else ""


def read_bytes(
    path: str | os.PathLike[str], limit_bytes: int, refusal: type[InputError] = InputError
) -> bytes:
    """Read a regular file whole, having looked at its size first.

    The one door for files: while a `core.ledger.Ledger` is open it notes what is read here, and
    gives it out from a record instead where a plan is made again.

    Raises
    ------
    InputError
        Of the class ``refusal``: the file is missing, unreadable, a directory or a device, or
        larger than ``limit_bytes``.
    """
    ledger = find_ledger()
    if ledger is None:
        return _read_from_disk(path, limit_bytes, refusal)
    asked = Path(path)
    raw = ledger.find(asked, refusal)
    if raw is None:
        raw = _read_from_disk(path, limit_bytes, refusal)
    if len(raw) > limit_bytes:
        found, allowed = f"a file of {len(raw) / 1e6:.1f} MB", f"at most {limit_bytes / 1e6:g} MB"
        raise refusal(found, allowed, Place(os.fspath(path)))
    ledger.keep(asked, raw, refusal)
    return raw


def recall_files(key: Hashable, make: Callable[[], _T]) -> _T:
    """Give what was made before, as far as the open ledger remembers and no file was changed.

    Parameters
    ----------
    key
        What the value depends on besides the files that are read on the way.
    make
        Makes the value, which nobody may change.
    """
    ledger = find_ledger()
    if ledger is None:
        return make()
    if key in ledger.memory:
        known, files = ledger.memory[key]
        if all(map(_is_the_same, files)):
            return cast(_T, known)
    seen: list[ReadFile] = []
    ledger.watched.append(seen)
    try:
        value = make()
    finally:
        ledger.watched.pop()
    ledger.memory[key] = value, seen
    return value


def _is_the_same(seen: ReadFile) -> bool:
    with name_files(seen.label, seen.folder):
        try:
            return read_bytes(seen.path, MOST_INPUT_BYTES) == seen.data
        except InputError:
            return False


def _read_from_disk(
    path: str | os.PathLike[str], limit_bytes: int, refusal: type[InputError]
) -> bytes:
    place = Place(os.fspath(path))
    size_allowed = f"at most {limit_bytes / 1e6:g} MB"
    try:
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise refusal("a directory", "a file", place)
        if not stat.S_ISREG(status.st_mode):
            raise refusal("a device or a pipe", "a regular file", place)
        if status.st_size > limit_bytes:
            raise refusal(f"a file of {status.st_size / 1e6:.1f} MB", size_allowed, place)
        with open(path, "rb") as stream:
            raw = stream.read(limit_bytes + 1)
    except FileNotFoundError:
        near = find_near_file(Path(path))
        allowed = f"did you mean {show_value(near)}?" if near else "a file that exists"
        raise refusal("no such file", allowed, place) from None
    except OSError as error:
        cause = (error.strerror or "an error").lower()
        raise refusal(f"a file that cannot be read ({cause})", "a readable file", place) from None
    except InputError:
        raise
    except ValueError:  # a NUL or a lone surrogate inside the path
        shown = Place(show_value(os.fspath(path)))
        raise refusal("a path no file can have", "the path of a file", shown) from None
    if len(raw) > limit_bytes:
        raise refusal("a file that grows while it is read", size_allowed, place)
    return raw
