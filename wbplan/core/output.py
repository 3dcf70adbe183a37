"""Files written whole or not at all, and only where they were asked for.

A folder that was written holds `SHA256SUMS`, in the form that `sha256sum --check` reads: it tells
a later run what an earlier one left there and whether it is still as it was. Only such files are
ever taken away. How the new contents take the place of the old is in `core.exchange`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import stat
from collections.abc import Mapping
from pathlib import Path

from wbplan.core.errors import OutputError
from wbplan.core.exchange import (
    HIDDEN,
    check_inside,
    has_journal,
    lock_folder,
    open_hidden,
    put_beside,
    put_inside,
    read_umask,
    recover,
    write_through,
)
from wbplan.core.files import show_value
from wbplan.core.names import clean_text

RECORD_NAME, MANIFEST_NAME = "plan.json", "manifest.json"
SUMS_NAME = "SHA256SUMS"
_SUMS_HEAD = "# Written by wbplan; sha256sum --check SHA256SUMS tells whether anything changed.\n"
_MOST_SUMS_BYTES = 10_000_000
_SUM = re.compile(r"([0-9a-f]{64})  (.+)")


def write_folder(
    folder: Path, files: Mapping[str, bytes], replace: bool = False, what: str = ""
) -> None:
    """Write files into a folder, all or none, and beside them `SHA256SUMS`.

    What an earlier run wrote there and nobody changed goes; all else stays. A file of another's
    that has the name of a new one is replaced. Of what a killed run left, and of files that were
    changed and therefore kept, a warning tells (logger ``wbplan``).

    Parameters
    ----------
    folder
        The target; made if it is not there, with its parents.
    files
        Plain names, or paths inside the folder with ``/``, and their contents.
    replace
        Leave to write into a folder that holds something.
    what
        What the files are ("plan of wide.yaml"). What an earlier run wrote under the same words
        makes way without leave, if it is all that the folder holds and nobody changed it. Words
        that end in "of" stand for all that begin so.

    Raises
    ------
    OutputError
        If the folder holds something else and ``replace`` is not given, if a name is not plain, if
        another run is writing there, or if the system refuses.
    """
    for name in (*files, SUMS_NAME):
        check_inside(name)
        if os.path.isdir(folder / name):
            raise OutputError(f"{folder / name} is a folder; allowed: no such name, or a file")
        for outer in list(Path(name).parents)[:-1]:
            if os.path.islink(folder / outer):
                raise OutputError(f"{folder / outer} is a link; allowed: a folder, or none")
            if os.path.isfile(folder / outer):
                raise OutputError(f"{folder / outer} is a file; allowed: a folder, or none")
    check_folder(folder, replace, what)
    whole = {**files, SUMS_NAME: _format_sums(files, what)}
    try:
        _write_whole(folder, whole, replace, what)
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror or error}") from None


def write_file(path: Path, content: bytes, replace: bool = False) -> None:
    """Write one file whole or not at all; its folder is made if it is not there.

    Raises
    ------
    OutputError
        If the file exists and ``replace`` is not given, if another run is writing in its folder,
        or if the system refuses.
    """
    check_file(path, replace)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with lock_folder(path.parent) as is_alone:
            _recover(path.parent, is_alone)
            check_file(path, replace)
            with open_hidden(path.parent) as staged:
                write_through(staged / "whole", content)
                (staged / "whole").chmod(0o666 & ~read_umask())
                (staged / "whole").replace(path)
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None


def write_files(folder: Path, files: Mapping[str, bytes], replace: bool = False) -> None:
    """Write files into a folder beside what is there, all or none; it is made if it is not there.

    Of several, one that is stopped midway leaves a journal, by which `finish_writes` and the next
    write in the folder bring it to its end.

    Raises
    ------
    OutputError
        As `write_file`, and if a name is not a plain one.
    """
    for name in files:
        check_inside(name)
        check_file(folder / name, replace)
    if len(files) == 1:
        for name, content in files.items():
            write_file(folder / name, content, replace)
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with lock_folder(folder) as is_alone:
            _recover(folder, is_alone)
            for name in files:
                check_file(folder / name, replace)
            put_inside(folder, files, set())
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror or error}") from None


def finish_writes(folder: Path) -> None:
    """Bring to its end what a stopped run was writing into a folder; a warning tells of it.

    Raises
    ------
    OutputError
        If another run is writing there, and goes on for long.
    """
    if has_journal(folder):
        with contextlib.suppress(OSError), lock_folder(folder) as is_alone:
            _recover(folder, is_alone)


def check_file(path: Path, replace: bool = False) -> None:
    """Refuse a file that may not be written, before any work is done."""
    there = _look(path)
    if there is not None and stat.S_ISDIR(there.st_mode):
        raise OutputError(f"{path} is a folder; allowed: a file name")
    if there is not None and not replace:
        raise OutputError(f"{path} exists already; allowed: a new name, or --force to replace it")


def check_folder(folder: Path, replace: bool = False, what: str = "") -> bool:
    """Refuse a target that may not be written to, before any work is done; see `write_folder`.

    Returns
    -------
    bool
        Whether the folder holds something.

    Raises
    ------
    OutputError
        If it is a file, or holds something else and ``replace`` is not given.
    """
    there = _look(folder)
    if there is not None and not stat.S_ISDIR(there.st_mode):
        raise OutputError(f"{folder} is a file; allowed: a folder, new or empty")
    try:
        holds_something = there is not None and any(folder.iterdir())
    except OSError as error:
        raise OutputError(f"{folder} cannot be read: {error.strerror or error}") from None
    if holds_something and not replace:
        other = _find_other(folder, what)
        if other:
            raise OutputError(
                f"{folder} holds files already ({other}); allowed: a new or empty folder, or "
                "--force to replace what an earlier run wrote there"
            )
    return holds_something


def _look(path: Path) -> os.stat_result | None:
    """Look at what may be written; None where nothing is. A path that cannot be is refused."""
    try:
        return path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None
    except ValueError:  # a NUL inside
        raise OutputError(f"{show_value(str(path))} is a path that nothing can have") from None


def _find_other(folder: Path, what: str) -> str:
    """Say what a folder holds besides what an earlier run wrote under the same words, or ""."""
    sums = _read_lines(folder / SUMS_NAME)
    if not sums:
        return "not written by wbplan"
    said = sums[1] if sums[1].startswith("# ") else ""
    is_same = said.startswith(f"{what} ", 2) if what.endswith(" of") else said == _format_what(what)
    if not said or not what or not is_same:
        return clean_text(said.removeprefix("# ")) or "another result"
    unchanged, _ = _split_earlier(folder)
    try:
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder).as_posix()
            if path.is_dir() and not path.is_symlink():
                continue
            if name not in unchanged and name != SUMS_NAME and not name.startswith(HIDDEN):
                return f"{clean_text(name)} is not as it was written, or another's"
    except OSError as error:
        return str(error.strerror)
    return ""


def _write_whole(folder: Path, files: Mapping[str, bytes], replace: bool, what: str) -> None:
    made = [each for each in (folder, *folder.parents) if not each.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        real = folder.resolve()
        can_lock = os.access(real.parent, os.R_OK | os.X_OK)
        with lock_folder(real.parent if can_lock else real) as is_alone:
            _recover(real.parent, is_alone and os.access(real.parent, os.W_OK))
            _recover(real, is_alone and real.is_dir())
            check_folder(folder, replace, what)
            gone, changed = _split_earlier(real)
            gone -= {*files}
            if not put_beside(real, files, gone):
                put_inside(real, files, gone)
            for name in sorted(changed - {*files}):
                _warn(f"{folder / name} was kept: it was changed after it was written")
    except BaseException:
        for each in made:
            with contextlib.suppress(OSError):
                each.rmdir()
        raise


def _recover(folder: Path, is_alone: bool) -> None:
    if is_alone:
        for each in recover(folder):
            _warn(
                f"{each}: an earlier run was stopped while it wrote there; its files are whole now"
            )


def _warn(text: str) -> None:
    import logging

    logging.getLogger("wbplan").warning("wbplan: warning: %s", text)


def _format_sums(files: Mapping[str, bytes], what: str) -> bytes:
    said = f"{_format_what(what)}\n" if what else ""
    lines = (f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in files.items())
    return (_SUMS_HEAD + said + "".join(lines)).encode("utf-8")


def _format_what(what: str) -> str:
    return f"# {clean_text(what)}"


def _split_earlier(folder: Path) -> tuple[set[str], set[str]]:
    """Find what an earlier output of wbplan left in a folder: unchanged files, and changed ones."""
    unchanged: set[str] = set()
    changed: set[str] = set()
    for name, digest in _read_sums(folder / SUMS_NAME).items():
        path = folder / name
        try:
            check_inside(name)
            if path.is_symlink() or not path.is_file():
                continue
            with path.open("rb") as stream:
                is_same = hashlib.file_digest(stream, "sha256").hexdigest() == digest
            (unchanged if is_same else changed).add(name)
        except (OSError, ValueError):
            continue
    return unchanged, changed


def _read_lines(path: Path) -> list[str]:
    """Read the lines of an earlier run's `SHA256SUMS`; none where there is none of ours."""
    try:
        if path.is_symlink() or not path.is_file() or path.stat().st_size > _MOST_SUMS_BYTES:
            return []
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return []
    return text.split("\n") if text.startswith(_SUMS_HEAD) else []


def _read_sums(path: Path) -> dict[str, str]:
    found = (_SUM.fullmatch(line) for line in _read_lines(path))
    return {each[2]: each[1] for each in found if each}
