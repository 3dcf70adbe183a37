"""What `wbplan open` begins with: a scenario, a folder that holds one, readings, or nothing."""

from __future__ import annotations

import os
from collections.abc import Hashable
from pathlib import Path
from typing import Any

from wbplan.core.errors import InputError, WbplanError
from wbplan.core.ledger import Ledger
from wbplan.core.progress import Progress
from wbplan.front.drafts import USUAL_NAME, draft_scenario, gather_readings, say_no_places
from wbplan.front.open.documents import Document
from wbplan.front.open.session import Session, read_document
from wbplan.read.catalogue import find_scenario_file
from wbplan.read.scenario.reader import read_scenario

_MOST_LISTED = 8


def begin_session(what: str | None, progress: Progress | None = None) -> Session:
    """Begin with what was named.

    Parameters
    ----------
    what
        A scenario file; the name of a shipped one, which is copied into the working directory when
        it is kept; a folder: the one scenario in it, else a new one of its readings; nothing for
        the working directory. What is new is written only when it is kept.
    progress
        Is told how far it is through the files of a folder.

    Raises
    ------
    InputError
        For what is none of these, several scenarios in a folder, and one that cannot be planned.
    """
    path = Path(what or ".")
    if not path.is_dir():
        found = find_scenario_file(os.fspath(path))
        if found == path:
            return Session(read_document(found))
        return _begin_copy(found)
    known = [each for each in sorted(path.glob("*.y*ml")) if _is_scenario(each)]
    if len(known) == 1:
        return Session(read_document(known[0]))
    if known:
        names = ", ".join(each.name for each in known[:_MOST_LISTED])
        raise InputError(f"{len(known)} scenarios in {path} ({names})", "one of them by its name")
    target = path / USUAL_NAME
    readings = gather_readings([path], progress, may_lack=True)
    made = draft_scenario(readings, target)
    document = Document(target, made.files)
    if readings.sheet is not None and readings.sheet[0].parent == path:
        document = document.add(readings.sheet[0].name, readings.sheet[0].read_bytes())
    remarks = [f"{name} was passed over: {why}" for name, why in made.refused]
    hint = say_no_places(made)
    remarks += [f"{hint}."] if hint else []
    return Session(document, is_kept=False, remarks=remarks)


def _is_scenario(path: Path) -> bool:
    try:
        return "setups" in read_document(path).tree.entries
    except WbplanError:
        return False


def _begin_copy(path: Path) -> Session:
    """Begin with a copy of a shipped scenario, and of the files that it names, to be kept here."""
    memory: dict[Hashable, Any] = {}
    ledger = Ledger(memory=memory)
    with ledger.scope("scenario", path.parent):
        read_scenario(path)
    files = {
        each.name.removeprefix("scenario/"): each.data
        for each in ledger.files
        if each.name.startswith("scenario/")
    }
    return Session(Document(Path(path.name), files), is_kept=False, memory=memory)
