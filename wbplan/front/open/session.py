"""A scenario in work: what it was, what it is, what of it is kept, and what is decided.

Every change gives a new version. Whoever asks for a change says which version he saw, and is
refused where another change came in between, so that two people never lose each other's. What is
kept lies on the disk; all else is a what-if.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path, PurePath
from typing import Any, Final

from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError, Place
from wbplan.core.files import read_bytes, show_value
from wbplan.core.ledger import Ledger
from wbplan.core.names import clean_text
from wbplan.core.output import finish_writes, write_files
from wbplan.front.drafts import NamedLight, name_readings
from wbplan.front.open.documents import (
    Document,
    find_sheet,
    leaves_folder,
    list_cells,
    list_lights,
)
from wbplan.front.open.edits import apply_edit, say_what_goes
from wbplan.front.open.shown import show_document, show_plan
from wbplan.front.plans import CameraViews, decide_one
from wbplan.front.scenes import read_edited
from wbplan.read.scenario.sheet import MOST_SHEET_BYTES
from wbplan.read.spectra.files import SPECTRUM_SUFFIXES, name_lights
from wbplan.read.yaml.tree import MAX_YAML_BYTES
from wbplan.scene.setup import Setup

MOST_UNDO: Final = 200
MOST_DROPPED: Final = 100
MOST_DECIDED: Final = 100
_MOST_NAME: Final = 100


class ConflictError(Exception):
    """A change that was asked for on the ground of a version that is no longer the newest."""


@dataclass(frozen=True)
class _Step:
    document: Document
    said: str
    group: str


class Session:
    """One scenario in work; every call may come from any thread.

    Parameters
    ----------
    document
        What to begin with.
    is_kept
        Whether it lies on the disk like that; else it is new, and nothing does.
    remarks
        What is to be said at the beginning.
    memory
        What was read on the way here; see `core.ledger.Ledger`.

    Raises
    ------
    InputError
        For a scenario that cannot be planned.
    """

    def __init__(
        self,
        document: Document,
        is_kept: bool = True,
        remarks: Sequence[str] = (),
        memory: dict[Hashable, Any] | None = None,
    ) -> None:
        self._remarks = list(remarks)
        self._lock = threading.RLock()
        self._memory: dict[Hashable, Any] = {} if memory is None else memory
        self._views = CameraViews()
        self._decided: dict[str, dict[str, Any]] = {}
        self._path = document.path
        self.version = 1
        self._begin(document, is_kept)

    def _begin(self, document: Document, is_kept: bool) -> None:
        self._answer = self._decide(document)
        self._kept = document  # what is no what-if
        self._disk = dict(document.files) if is_kept else {}  # what lies there, as far as known
        self._steps = [_Step(document, "", "")]
        self._at = 0

    @property
    def document(self) -> Document:
        """What is worked on now."""
        return self._steps[self._at].document

    @property
    def path(self) -> Path:
        """Of the scenario file."""
        return self._path

    def show(self) -> dict[str, Any]:
        """Say what is there and what is decided of it."""
        with self._lock:
            return {
                "version": self.version,
                "remarks": self._remarks if self.version == 1 else [],
                "kept": self.document.files == self._disk,
                "undo": self._steps[self._at].said if self._at else "",
                "redo": self._steps[self._at + 1].said if self._at + 1 < len(self._steps) else "",
                **show_document(self.document, self._kept),
                "decided": self._answer,
            }

    def tell_what_goes(self, setup: int, kind: str, name: str) -> list[str]:
        """Tell what goes with a light or a position when it is taken out; see `edits`."""
        with self._lock:
            return say_what_goes(self.document, {"setup": setup, kind: name})

    def edit(self, version: int, said: Mapping[str, Any], group: str = "") -> None:
        """Make a change.

        Parameters
        ----------
        version
            What the change was made on.
        said
            See `edits.apply_edit`.
        group
            Changes of one group that follow each other are one step of `undo`, and each is made on
            what was before the first of them.

        Raises
        ------
        ConflictError
            Where another change came in between.
        InputError
            For a change that cannot be made, or after which nothing can be decided; nothing is
            changed then.
        """
        with self._lock:
            self._check(version)
            last = self._steps[self._at]
            goes_on = bool(group) and last.group == group and self._at > 0
            base = self._steps[self._at - 1].document if goes_on else last.document
            made = apply_edit(base, said)
            if made == last.document:  # nothing is changed, and nobody has to hear of it
                return
            self._take(made, str(said.get("do")), group, goes_on)

    def _take(self, made: Document, said: str, group: str = "", goes_on: bool = False) -> None:
        answer = self._decide(made)
        kept = self._steps[: self._at + (0 if goes_on else 1)]
        self._steps = [*kept, _Step(made, said, group)][-MOST_UNDO:]
        self._at = len(self._steps) - 1
        self._answer = answer
        self.version += 1

    def move(self, version: int, by: int) -> None:
        """Undo (-1) or redo (+1) a step; nothing where there is none."""
        with self._lock:
            self._check(version)
            at = min(max(self._at + by, 0), len(self._steps) - 1)
            if at != self._at:
                self._answer = self._decide(self._steps[at].document)
                self._at = at
                self.version += 1

    def drop(self, version: int, name: str, data: bytes, setup: int, place: str) -> list[str]:
        """Take in a file of spectra, as new lights.

        Parameters
        ----------
        place
            The position where lux that the file states were read; the key's if empty and its name
            does not say ("window at Anna").

        Returns
        -------
        list of str
            A remark on each light.
        """
        with self._lock:
            self._check(version)
            base = self.document
            known = [each for each in base.files if each not in self._kept.files]
            if len(known) >= MOST_DROPPED:
                raise InputError(f"over {MOST_DROPPED} files", "fewer at a time")
            file = self._choose_name(name, data)
            ledger = Ledger(given={f"scenario/{file}": data})
            path = self._path.parent / file
            with ledger.scope("scenario", path.parent):
                found = name_readings([(path, each) for each in name_lights(path)])
            made, remarks = base.add(file, data), []
            for light in found:
                made, remark = _add_dropped(made, light, file, setup, place)
                remarks.append(remark)
            self._take(made, "file")
            return remarks

    def _choose_name(self, name: str, data: bytes) -> str:
        """Choose what a dropped file is called in the scenario's folder."""
        last = clean_text(PurePath(name.replace("\\", "/")).name).strip(" .")[-_MOST_NAME:]
        stem, suffix = os.path.splitext(last)
        if suffix.lower() not in SPECTRUM_SUFFIXES:
            allowed = f"a file of spectra ({', '.join(SPECTRUM_SUFFIXES)})"
            raise InputError(show_value(name), allowed)
        for number in range(1, 1000):
            chosen = f"{stem or 'reading'}{'' if number == 1 else f'-{number}'}{suffix}"
            there = self.document.files.get(chosen)
            path = self._path.parent / chosen
            if there is None and path.exists():
                there = (
                    path.read_bytes()
                    if path.is_file() and path.stat().st_size == len(data)
                    else b""
                )
            if there is None or there == data:
                return chosen
        raise InputError(show_value(name), "a name that is not taken")

    def keep(self, version: int, over: bool = False) -> None:
        """Write the scenario, and what was dropped or changed beside it, to the disk.

        Parameters
        ----------
        over
            Leave to write over what another program wrote there meanwhile.

        Raises
        ------
        ConflictError
            Where another change came in between, or the file on the disk was changed.
        OutputError
            If the system refuses.
        """
        with self._lock:
            self._check(version)
            if not over and self.is_stale():
                raise ConflictError(f"{self._path.name} was changed on the disk by another program")
            document = self.document
            known = document.files.items()
            changed = {name: data for name, data in known if self._disk.get(name) != data}
            if changed:
                write_files(self._path.parent, changed, replace=True)
            self._disk = dict(document.files)
            self._kept = document
            self.version += 1

    def is_stale(self) -> bool:
        """Tell whether what lies on the disk is not what was read from there or kept."""
        names = {*self._disk, self._path.name}
        return any(_look(self._path.parent / name) != self._disk.get(name) for name in names)

    def reload(self, version: int) -> None:
        """Take what lies on the disk, in place of all that was not kept."""
        with self._lock:
            self._check(version)
            there = _look(self._path) is not None
            self._begin(read_document(self._path) if there else self._steps[0].document, there)
            self.version += 1

    def _check(self, version: int) -> None:
        if version != self.version:
            raise ConflictError("somebody else changed it meanwhile")

    def _decide(self, document: Document) -> list[dict[str, Any]]:
        """Decide each setup, unless it was decided lately."""
        scene = read_edited(document.path, document.files, self._memory, document.trees.build)
        answers = []
        for number, setup in enumerate(scene.setups):
            digest = self._digest_setup(number, setup)
            if digest in self._decided:
                answer = self._decided.pop(digest)
            else:
                answer = show_plan(decide_one(scene, number, self._views))
            self._decided[digest] = answer  # now the newest
            answers.append(answer)
        while len(self._decided) > MOST_DECIDED:
            del self._decided[next(iter(self._decided))]
        return answers

    def _digest_setup(self, number: int, setup: Setup) -> str:
        """Find what tells a setup from another: all of its values, its cameras' found once."""
        cameras = [self._views.find_digest(each) for each in (setup.camera, *setup.beside)]
        names = [each.name for each in fields(setup) if each.name not in ("camera", "beside")]
        return digest_values(number, cameras, [(each, getattr(setup, each)) for each in names])


def _look(path: Path) -> bytes | None:
    try:
        return path.read_bytes() if path.is_file() else None
    except OSError:
        return None


def read_document(path: Path) -> Document:
    """Read a scenario, and the sheets that it names in its folder."""
    finish_writes(path.parent)
    raw = read_bytes(path, MAX_YAML_BYTES)
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        raise InputError("text that is not UTF-8", "UTF-8", Place(str(path))) from None
    document = Document(path, {path.name: raw})
    tree = document.whole
    setups = tree.entries.get("setups")
    for number in range(len(setups[1].items) if setups else 0):
        sheet = find_sheet(tree, number)
        if sheet is not None and not leaves_folder(sheet):
            document = document.add(sheet, read_bytes(path.parent / sheet, MOST_SHEET_BYTES))
    return document


def _add_dropped(
    document: Document, light: NamedLight, file: str, setup: int, place: str
) -> tuple[Document, str]:
    """Add a light that was dropped, with the lux that its file states."""
    names = list_lights(document.whole, setup)
    name, number = light.name, 2
    while name in names:
        name, number = f"{light.name} {number}", number + 1
    said: dict[str, object] = {"spectrum_file": file}
    if light.found.column is not None:
        said["column"] = light.found.column
    made = document.set(("sources", name), said)
    remark = f"{name}: {light.found.reading.understood}"
    if not light.has_lux:
        return made, f"{remark}. It states no lux: enter what you read."
    cells = list_cells(document, setup)
    at = light.place if light.place in cells else place
    if at not in cells:
        return made, f"{remark}. It states {light.lux:.4g} lux: enter them where they were read."
    wish = {"do": "lux", "setup": setup, "position": at, "light": name}
    made = apply_edit(made, {**wish, "lux": float(f"{light.lux:.4g}")})
    return made, f"{remark}. Its {light.lux:.4g} lux stand at {at}."
