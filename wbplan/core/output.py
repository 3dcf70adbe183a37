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
from collections.abc import Iterator, Mapping
from pathlib import Path

from wbplan.core.errors import OutputError

RECORD_NAME = "plan.json"


def write_folder(folder: Path, files: Mapping[str, bytes], replace: bool = False) -> None:
    """Write files into a folder, all or none.

    Parameters
    ----------
    folder
        The target; made if it is not there, with its parents.
    files
        Plain file names and their contents; ``plan.json`` lists what a plan wrote.
    replace
        Leave to write into a folder that holds something.

    Raises
    ------
    OutputError
        If the folder holds something and ``replace`` is not given, if a name is not a plain file
        name, or if the system refuses.
    """
    for name in files:
        if Path(name).name != name or name in ("", "..") or "\x00" in name:
            raise OutputError(f"{name!r} is not a plain file name")
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
                _write_through(staged / name, content)
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
                    (folder / name).replace(aside / name)
                    moved.append(name)
            for name in files:
                (staged / name).replace(folder / name)
                placed.append(name)
        except BaseException:
            for name in placed:
                (folder / name).unlink(missing_ok=True)
            for name in moved:
                (aside / name).replace(folder / name)
            raise


def _list_earlier(folder: Path) -> set[str]:
    """List the files that the plan in a folder says it wrote; nothing if it has no readable one."""
    try:
        record = json.loads((folder / RECORD_NAME).read_text(encoding="utf-8"))
        ours = record["format"] in ("wbplan plan", "wbplan day")
        names = record["files"] if ours else []
        present = {each.name for each in folder.iterdir() if not each.is_dir()}
        return {name for name in names if isinstance(name, str) and name in present}
    except (OSError, ValueError, KeyError, TypeError):
        return set()


def _read_umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
