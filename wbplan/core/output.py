"""Files written whole or not at all, and only where they were asked for.

A plan's files are first written into a hidden folder beside the target. A new target then appears
by one rename. Into an existing folder, only with leave to replace, each file moves by one rename
too, and of an earlier plan just the files that its own record names are taken away.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from wbplan.core.errors import OutputError

RECORD_NAME, MANIFEST_NAME = "plan.json", "manifest.json"
_LISTS_FILES = ("wbplan plan", "wbplan day", "wbplan delivery")


def write_folder(folder: Path, files: Mapping[str, bytes], replace: bool = False) -> None:
    """Write files into a folder, all or none.

    Parameters
    ----------
    folder
        The target; made if it is not there, with its parents.
    files
        Names and their contents, with ``/`` between folders; ``plan.json`` or ``manifest.json``
        lists what was written.
    replace
        Leave to write into a folder that holds something.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, if a name leads out of it, or if
        the system refuses.
    """
    for name in files:
        parts = name.split("/")
        if any(Path(part).name != part or part in ("", "..") or "\x00" in part for part in parts):
            raise OutputError(f"{name!r} is not a name of a file inside a folder")
        if any((folder / above).is_symlink() for above in list(Path(name).parents)[:-1]):
            raise OutputError(f"{folder / name} lies behind a link; allowed: folders of its own")
        if (folder / name).is_dir():
            raise OutputError(f"{folder / name} is a folder; allowed: no such name, or a file")
    check_folder(folder, replace)
    try:
        _write_whole(folder, files)
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror or error}") from None


def write_file(path: Path, content: bytes, replace: bool = False) -> None:
    """Write one file whole or not at all; its folder is made if it is not there.

    Raises
    ------
    OutputError
        If the file exists and ``replace`` is not given, or if the system refuses.
    """
    check_file(path, replace)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with _open_hidden(path.parent) as staged:
            _write_through(staged / "whole", content)
            (staged / "whole").chmod(0o666 & ~_read_umask())
            (staged / "whole").replace(path)
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None


def check_file(path: Path, replace: bool = False) -> None:
    """Refuse a file that may not be written, before any work is done."""
    if path.is_dir():
        raise OutputError(f"{path} is a folder; allowed: a file name")
    if path.exists() and not replace:
        raise OutputError(f"{path} exists already; allowed: a new name, or --force to replace it")


def _write_whole(folder: Path, files: Mapping[str, bytes]) -> None:
    made = [each for each in (folder, *folder.parents) if not each.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with _open_hidden(folder.parent) as staged:
            for name, content in files.items():
                _make_parents(staged, name)
                _write_through(staged / name, content)
            for each in (each for each in staged.rglob("*") if each.is_dir()):
                each.chmod(0o777 & ~_read_umask())
            if folder.is_dir():
                _exchange_files(staged, folder, files)
            else:
                staged.chmod(0o777 & ~_read_umask())
                staged.rename(folder)
    except BaseException:
        for each in made:
            with contextlib.suppress(OSError):
                each.rmdir()
        raise


def _make_parents(folder: Path, name: str) -> None:
    (folder / name).parent.mkdir(parents=True, exist_ok=True)


def _write_through(path: Path, content: bytes) -> None:
    """Write a new file and wait until the disk has it."""
    with path.open("xb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


@contextlib.contextmanager
def _open_hidden(parent: Path) -> Iterator[Path]:
    hidden = Path(tempfile.mkdtemp(prefix=".wbplan-", dir=parent))
    try:
        yield hidden
    finally:
        shutil.rmtree(hidden, ignore_errors=True)


def check_folder(folder: Path, replace: bool = False) -> bool:
    """Refuse a target that may not be written to, before any work is done.

    Returns
    -------
    bool
        Whether the folder holds something.

    Raises
    ------
    OutputError
        If it is a file, or holds something and ``replace`` is not given.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder} is a file; allowed: a folder, new or empty")
    holds_something = folder.is_dir() and any(folder.iterdir())
    if holds_something and not replace:
        raise OutputError(
            f"{folder} holds files already; allowed: a new or empty folder, or --force to replace "
            "the plan in it"
        )
    return holds_something


def _exchange_files(staged: Path, folder: Path, files: Mapping[str, bytes]) -> None:
    """Move new files in and an earlier plan's out; after a failure everything is as it was."""
    with _open_hidden(folder.parent) as aside:
        moved: list[str] = []
        placed: list[str] = []
        try:
            for name in sorted(_list_earlier(folder) | {*files}):
                if (folder / name).is_file() or (folder / name).is_symlink():
                    _make_parents(aside, name)
                    (folder / name).replace(aside / name)
                    moved.append(name)
            for name in files:
                _make_parents(folder, name)
                (staged / name).replace(folder / name)
                placed.append(name)
            _remove_empty(folder, moved)
        except BaseException:
            for name in placed:
                (folder / name).unlink(missing_ok=True)
            for name in moved:
                _make_parents(folder, name)
                (aside / name).replace(folder / name)
            _remove_empty(folder, files)
            raise


def _remove_empty(folder: Path, names: Iterable[str]) -> None:
    """Remove the folders inside a folder that nothing is left in."""
    parents = {above for name in names for above in (folder / name).parents}
    inside = (each for each in parents if folder in each.parents)
    for each in sorted(inside, key=lambda path: len(path.parts), reverse=True):
        with contextlib.suppress(OSError):
            each.rmdir()


def _list_earlier(folder: Path) -> set[str]:
    """List the files that the plan in a folder says it wrote; nothing if it has no readable one."""
    for listing in (RECORD_NAME, MANIFEST_NAME):
        try:
            record = json.loads((folder / listing).read_text(encoding="utf-8"))
            names = record["files"] if record["format"] in _LISTS_FILES else []
            present = {
                each.relative_to(folder).as_posix()
                for each in folder.rglob("*")
                if not each.is_dir() and not any(up.is_symlink() for up in each.parents)
            }
            return {name for name in names if isinstance(name, str) and name in present}
        except (OSError, ValueError, KeyError, TypeError):
            continue
    return set()


def _read_umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
