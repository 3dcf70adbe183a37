"""What went into a plan: the files that were read for it, and how it was asked for.

A record that carries these can make its plan again, on another machine and years later, without
the files. So a file is kept whole, byte for byte, under a name that says nothing of the machine it
was read on (`wbplan.core.ledger` gives it).
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path, PurePath
from typing import Any, NamedTuple, TypeVar, cast

from wbplan import __version__
from wbplan.core.band import BAND_SHARE
from wbplan.core.digest import digest_bytes, digest_values
from wbplan.core.errors import InputError, Place, fold_name

MOST_INPUT_BYTES = 64_000_000
"""The most that the files of one plan may hold together [bytes], since its record carries them."""


@dataclass(frozen=True)
class InputFile:
    """One file: its name in the record, with ``/`` between folders, and its bytes."""

    name: str
    data: bytes

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return digest_bytes(self.data)


@dataclass(frozen=True)
class Asked:
    """What was asked for.

    Parameters
    ----------
    band_share
        The share that every interval is to hold.
    advise
        Whether changes are searched for.
    plate
        Whether plate notes are worked out and written.
    figures
        Whether every figure is written as a file of its own.
    lut_size
        Points of every table in place of what the scenario says; None for that.
    tried
        Values in place of those of the scenario, "positions.Anna.lux.window=120".
    """

    band_share: float = BAND_SHARE
    advise: bool = False
    plate: bool = False
    figures: bool = False
    lut_size: int | None = None
    tried: tuple[str, ...] = ()


def digest_asked(asked: Asked, *what: object) -> str:
    """Find the SHA-256 of all that decides a result: wbplan's version, what is asked, and of what.

    Plate notes and figures do not count: they add files and change no figure of a plan.

    Parameters
    ----------
    what
        What a plan is made of: the files of a scenario, or values; see `core.digest`.
    """
    tried = [asked.tried] if asked.tried else []  # else it counts as before there was such a thing
    return digest_values(__version__, asked.band_share, asked.advise, asked.lut_size, *tried, *what)


@dataclass(frozen=True)
class PlanInputs:
    """All that a plan was made from.

    Parameters
    ----------
    scenario
        Name of the scenario among ``files``.
    files
        Every file, in the order in which they were read.
    camera
        What took the place of every camera of the scenario: the name of a shipped profile, or of
        one of ``files``; None where nothing did.
    asked
        What was asked for.
    """

    scenario: str
    files: tuple[InputFile, ...]
    camera: str | None = None
    asked: Asked = Asked()

    @property
    def digest(self) -> str:
        """What `digest_asked` makes of the bytes of every file, and of the camera put in place.

        A file's bytes count, not its name or where it lies: what a scenario calls the files that it
        names stands in its own bytes. The camera that was given beside it goes by the file's name,
        which is the profile's.
        """
        camera = self.camera
        if camera is not None and "/" not in camera:
            camera = fold_name(camera)
        return digest_asked(self.asked, camera, [each.sha256 for each in self.files])


class ReadFile(NamedTuple):
    """A file that was read: how its folder is written, the folder, its path, and its bytes."""

    label: str
    folder: Path
    path: Path
    data: bytes


_T = TypeVar("_T")
_ELSEWHERE = "elsewhere"
_UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\\\\/\ud800-\udfff]")
_OPEN: ContextVar[Ledger | None] = ContextVar("wbplan_ledger", default=None)


class Ledger:
    """The files of one plan.

    Parameters
    ----------
    stored
        The files of a record by name; nothing is then read from the disk. None to read from there.
    root
        Where the stored files are said to be: the record's own path, for messages.
    given
        Files by name that stand before those of the disk: what was given in Python, or is edited.
    memory
        What `recall` keeps, where several ledgers share it; else each keeps its own.
    """

    def __init__(
        self,
        stored: Mapping[str, bytes] | None = None,
        root: Path | None = None,
        given: Mapping[str, bytes] | None = None,
        memory: dict[Hashable, Any] | None = None,
    ) -> None:
        self.memory = {} if memory is None else memory
        self._stored = stored
        self._given = given or {}
        self._root = root or Path()
        self._scopes: list[tuple[str, Path]] = []  # how a folder is written, and the folder
        self._written: dict[tuple[str, Path], str] = {}  # by scope and path
        self._elsewhere: dict[tuple[str, str], str] = {}  # folder as written, absolute path
        self._names: dict[str, str] = {}  # by how a file is written, from the top
        self._read: dict[str, bytes] = {}
        self.watched: list[list[ReadFile]] = []  # what is read while somebody watches

    @property
    def files(self) -> tuple[InputFile, ...]:
        """What has been read, each file once, in the order of the first time."""
        return tuple(InputFile(name, self._hide(name, raw)) for name, raw in self._read.items())

    def place_of(self, name: str) -> Path:
        """Say where a stored file is to be asked for."""
        return self._root / name

    @contextmanager
    def scope(self, label: str, folder: Path) -> Iterator[None]:
        """Name the files below a folder after a label while the body runs."""
        self._scopes.append((label, folder))
        token = _OPEN.set(self)
        try:
            yield
        finally:
            _OPEN.reset(token)
            self._scopes.pop()

    def spell(self, path: Path) -> str:
        """Say how a path is written, from the top of the ledger."""
        label, folder = self._scopes[-1]
        if (label, path) in self._written:
            return self._written[label, path]
        if not path.is_relative_to(folder):
            return f"{label}/{self._move_elsewhere(label, str(path))}"
        below = path.relative_to(folder).as_posix()
        return label if below == "." else f"{label}/{below}"

    def join(self, folder: Path, written: str) -> Path:
        """Join a path to a folder, and remember how it was written."""
        start = self.spell(folder)
        if os.path.isabs(written):
            below = self._move_elsewhere(start, written)
        else:
            below = PurePath(written).as_posix()
        path = folder / written
        self._written[self._scopes[-1][0], path] = f"{start}/{below}"
        return path

    def list_stored(self, label: str) -> dict[str, Path] | None:
        """List the stored YAML files right below a label by their stems; None reads the disk."""
        if self._stored is None:
            return None
        names = [each for each in self._stored if each.endswith(".yaml")]
        found = [each for each in names if each.rpartition("/")[0] == label]
        return {Path(each).stem: self.place_of(each) for each in sorted(found)}

    def find(self, path: Path, refusal: type[InputError]) -> bytes | None:
        """Give what a path holds if that is known already; None if the disk has to be asked.

        Raises
        ------
        InputError
            If only stored files may be read, and it is none of them.
        """
        name = self._find_name(path)
        if self._stored is None:
            return self._given.get(name, self._read.get(name))
        if name not in self._stored:
            raise refusal(f"no file {name!r}", "a record that carries it", Place(str(path)))
        return self._stored[name]

    def keep(self, path: Path, raw: bytes, refusal: type[InputError]) -> None:
        """Keep what a path holds."""
        self._read.setdefault(self._find_name(path), raw)
        for seen in self.watched:
            seen.append(ReadFile(*self._scopes[-1], path, raw))
        if sum(map(len, self._read.values())) > MOST_INPUT_BYTES:
            found = f"over {MOST_INPUT_BYTES / 1e6:g} MB with the files read before it"
            allowed = "less in all the files of a plan, since its record carries them"
            raise refusal(found, allowed, Place(str(path)))

    def _find_name(self, path: Path) -> str:
        written = self.spell(path)
        if written not in self._names:
            start, _, last = _make_name(written).rpartition("/")
            taken = set(self._names.values())
            self._names[written] = next(
                name for name in _number_names(start, last) if name not in taken
            )
        return self._names[written]

    def _move_elsewhere(self, folder: str, path: str) -> str:
        """Give an absolute path a relative one that nothing read so far writes."""
        key = (folder, path)
        if key not in self._elsewhere:
            last = make_safe_part(PurePath(path).name)
            taken = {moved for (start, _), moved in self._elsewhere.items() if start == folder}
            self._elsewhere[key] = next(
                name
                for name in _number_names(_ELSEWHERE, last)
                if name not in taken
                and not any(name.encode() in raw for raw in self._read.values())
            )
        return self._elsewhere[key]

    def _hide(self, name: str, raw: bytes) -> bytes:
        """Put what stands for an absolute path in its place, in a file that writes it."""
        moved = {
            path: other
            for (folder, path), other in self._elsewhere.items()
            if _make_name(f"{folder}/_").rpartition("/")[0] == name.rpartition("/")[0]
        }
        for path in sorted(moved, key=len, reverse=True):
            # As it is, or as a double-quoted text has it.
            for written in {path, path.replace("\\", "\\\\")}:
                whole = (
                    rb"(?<![\w./\\-])"
                    + re.escape(written.encode("utf-8", "surrogateescape"))
                    + rb"(?![\w./\\-])"
                )
                raw = re.sub(whole, moved[path].encode(), raw)
        return raw


def make_safe_part(part: str) -> str:
    """Replace what a part of a stored name may not hold."""
    return _UNSAFE.sub("_", part) or "_"


def _number_names(start: str, last: str) -> Iterator[str]:
    yield f"{start}/{last}"
    number = 2
    while True:
        yield f"{start}/{number}/{last}"
        number += 1


def _make_name(written: str) -> str:
    """Make a name of a path as it is written: no step up, no character that may not stay."""
    label, *below = written.split("/")
    parts: list[str] = []
    above = 0
    for part in below:
        if part != "..":
            parts.append(make_safe_part(part))
        elif parts:
            parts.pop()
        else:
            above += 1
    return "/".join([f"{label}-above-{above}" if above else label, *(parts or ["_"])])


def find_ledger() -> Ledger | None:
    """Find the ledger that is open here."""
    return _OPEN.get()


def recall(key: Hashable, make: Callable[[], _T]) -> _T:
    """Give what was made of the same bytes before, as far as the open ledger remembers.

    Parameters
    ----------
    key
        What the value depends on, bytes of files whole.
    make
        Makes the value, which nobody may change.
    """
    ledger = _OPEN.get()
    if ledger is None:
        return make()
    if key not in ledger.memory:
        ledger.memory[key] = make()
    return cast(_T, ledger.memory[key])


@contextmanager
def name_files(label: str, folder: Path) -> Iterator[None]:
    """Name the files below a folder after a label in the open ledger, if there is one."""
    ledger = _OPEN.get()
    if ledger is None:
        yield
    else:
        with ledger.scope(label, folder):
            yield


@contextmanager
def name_beside(path: Path) -> Iterator[None]:
    """Name the files beside a file as that one is named, in the open ledger, if there is one."""
    ledger = _OPEN.get()
    if ledger is None:
        yield
    else:
        with ledger.scope(ledger.spell(path).rpartition("/")[0], path.parent):
            yield


def join_path(folder: Path, written: str) -> Path:
    """Join a path that a file writes to that file's folder.

    Readers use it in place of ``folder / written``, so that an open ledger can tell an absolute
    path from a relative one.
    """
    ledger = _OPEN.get()
    return folder / written if ledger is None else ledger.join(folder, written)
