"""The plan of a kept scenario, written beside it as `wbplan plan` writes it, and read back."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wbplan.core.errors import InputError, OutputError
from wbplan.core.output import check_folder

if TYPE_CHECKING:
    from wbplan.front.open.session import Session

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".json": "application/json; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".svg": "image/svg+xml",
}


class Delivered:
    """The files that were last written for a session."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._lock = threading.Lock()
        self._names: frozenset[str] = frozenset()

    @property
    def folder(self) -> Path:
        """Where a plan goes: beside the scenario, by its name, as `wbplan plan` has it."""
        path = self._session.path
        return path.with_name(f"{path.stem}-plan")

    def make(self, version: int, over: bool) -> dict[str, Any]:
        """Plan what is kept, and write pages, record, tables and LUTs.

        Where the folder holds something else than an earlier plan of the same that nobody changed,
        and ``over`` is not given, that is said in place of the files.

        Raises
        ------
        InputError
            Where something is not kept yet.
        OutputError
            If the system refuses.
        """
        from wbplan.front.files import say_plan, write
        from wbplan.front.plans import plan

        with self._lock:
            state = self._session.show()
            if state["version"] != version or not state["kept"]:
                raise InputError("changes that are not kept", "a plan of what is kept: save first")
            if not over:
                try:
                    check_folder(self.folder, what=say_plan(self._session.path.name))
                except OutputError:
                    return {"folder": self.folder.name, "is_there": True}
            names = write(plan(self._session.path), self.folder, over)
            self._names = frozenset(names)
            return {"folder": self.folder.name, "files": list(names)}

    def read(self, name: str) -> tuple[bytes, str]:
        """Read a file that was written, with its kind; no other."""
        if name not in self._names:
            raise InputError(f"the file {name!r}", "one of the plan that was written")
        kind = _KINDS.get(Path(name).suffix, "application/octet-stream")
        return (self.folder / name).read_bytes(), kind
