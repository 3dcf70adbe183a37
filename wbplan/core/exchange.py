"""One step from the old contents of a folder to the new: staging, lock, swap, and recovery.

The new folder is made whole in a hidden folder beside the old one, with a hard link to everything
in the old one that is to stay, and the two change places in one call of the system. Where that
cannot be (a mount point, the working directory, a parent that cannot be written, a disk without
hard links), the files move one by one out of a hidden folder inside the target, after a journal
that says what belongs where. A run that is killed leaves one of these hidden folders; the next
one that writes in the same place finishes or removes it.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

from wbplan.core.errors import OutputError

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

HIDDEN = ".wbplan-"
WAIT_S = 10.0  # for another run to end; a folder is written in far less
_NEW, _OLD, _JOURNAL, _LOCK = "new", "old", "journal.json", HIDDEN + "lock"
_MOST_CARRIED = 10_000  # entries that are linked into a new folder; of more, files move one by one


@contextlib.contextmanager
def lock_folder(folder: Path) -> Iterator[bool]:
    """Keep other runs from writing in a folder; they wait, then are told.

    Yields
    ------
    bool
        Whether the system gave the lock; some network disks have none.

    Raises
    ------
    OutputError
        If another run holds it for more than `WAIT_S`.
    """
    end = time.monotonic() + WAIT_S
    while True:
        held = _try_lock(folder)
        if held is not None:
            break
        if time.monotonic() > end:
            raise OutputError(
                f"{folder} is being written to by another run of wbplan; "
                "allowed: try again when it has ended"
            )
        time.sleep(0.02)
    try:
        yield held >= 0
    finally:
        if held >= 0:
            os.close(held)


def _try_lock(folder: Path) -> int | None:
    """Give an open handle that holds the lock, -1 where there are no locks, None while it waits."""
    if fcntl is None:
        delete_on_close = getattr(os, "O_TEMPORARY", 0)
        try:
            return os.open(folder / _LOCK, os.O_CREAT | os.O_EXCL | os.O_RDWR | delete_on_close)
        except FileExistsError:
            return None
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None
    except OSError:
        os.close(handle)
        return -1
    try:
        is_same = os.path.samestat(os.fstat(handle), os.stat(folder))
    except FileNotFoundError:
        is_same = False
    if not is_same:  # the folder itself was exchanged while we waited
        os.close(handle)
        return None
    return handle


@contextlib.contextmanager
def open_hidden(parent: Path) -> Iterator[Path]:
    """Make a hidden folder for what is not whole yet; it is gone afterwards."""
    hidden = Path(tempfile.mkdtemp(prefix=HIDDEN, dir=parent))
    try:
        yield hidden
    finally:
        with _uninterrupted():
            _remove_tree(hidden)


def recover(parent: Path) -> list[Path]:
    """Finish or remove what killed runs left in a folder, whose lock is held.

    Returns
    -------
    list of Path
        The folders whose exchange had begun and is finished now.
    """
    finished = []
    for hidden in sorted(parent.glob(HIDDEN + "*")):
        if hidden.is_symlink() or not hidden.is_dir():
            continue
        present = {each.name for each in hidden.iterdir()}
        if not present <= {_NEW, _OLD, _JOURNAL, "whole"}:
            continue  # not one of ours
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
            finished += _finish(hidden, parent)
        _remove_tree(hidden)
    return finished


def has_journal(folder: Path) -> bool:
    """Tell whether files of a folder are being moved into place, or were when a run was killed."""
    return any(os.path.exists(each / _JOURNAL) for each in folder.glob(HIDDEN + "*"))


def _finish(hidden: Path, parent: Path) -> list[Path]:
    """Finish an exchange that a journal shows to have begun: the folder that is whole, if any."""
    journal = json.loads((hidden / _JOURNAL).read_text(encoding="utf-8"))
    if "target" not in journal:
        _move_one_by_one(hidden, parent, journal["place"], journal["remove"])
        return [parent]
    target = parent / Path(str(journal["target"])).name
    if not os.path.lexists(target) and (hidden / _NEW).is_dir():
        (hidden / _NEW).rename(target)
    elif not target.is_dir() or target.stat().st_ino != journal["inode"]:
        return []  # nothing had been exchanged yet
    for old in (hidden / _NEW, hidden / _OLD):
        if old.is_dir():
            _carry_late(old, target, set(journal["ours"]))
    return [target]


def put_beside(folder: Path, files: Mapping[str, bytes], gone: set[str]) -> bool:
    """Exchange a folder for a new one that was made whole beside it.

    Parameters
    ----------
    folder
        The target, links resolved; it need not be there.
    files
        What it is to hold, by path in it.
    gone
        Paths in it that are not to stay. All others are kept.

    Returns
    -------
    bool
        False where it cannot be done so; nothing has changed then.
    """
    is_there = folder.is_dir()
    if is_there and (os.path.ismount(folder) or Path.cwd().is_relative_to(folder)):
        return False
    if not os.access(folder.parent, os.W_OK | os.X_OK):
        if not is_there:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(folder.parent))
        return False
    with open_hidden(folder.parent) as hidden:
        new = hidden / _NEW
        _write_all(new, files)
        if not is_there:
            new.chmod(0o777 & ~read_umask())
            with _uninterrupted():
                new.rename(folder)
                _sync(folder.parent)
            return True
        ours = {*files, *gone}
        try:
            _carry(folder, new, ours)
            shutil.copystat(folder, new)
        except OSError:
            return False
        if folder.stat().st_uid != new.stat().st_uid or folder.stat().st_gid != new.stat().st_gid:
            return False
        journal = {"target": folder.name, "inode": new.stat().st_ino, "ours": sorted(ours)}
        write_through(hidden / _JOURNAL, json.dumps(journal).encode())
        with _uninterrupted():
            old = _swap(new, folder, hidden / _OLD)
            if old is None:
                return False
            _sync(folder.parent)
            _carry_late(old, folder, ours)
    return True


def put_inside(folder: Path, files: Mapping[str, bytes], gone: set[str]) -> None:
    """Exchange files one by one out of a hidden folder inside the target; see `put_beside`."""
    with open_hidden(folder) as hidden:
        _write_all(hidden / _NEW, files)
        journal = {"place": list(files), "remove": sorted(gone - {*files})}
        write_through(hidden / "whole", json.dumps(journal).encode())
        with _uninterrupted():
            (hidden / "whole").rename(hidden / _JOURNAL)
            _move_one_by_one(hidden, folder, journal["place"], journal["remove"])
            _sync(folder)


def _move_one_by_one(hidden: Path, folder: Path, place: list[str], remove: list[str]) -> None:
    """Move what is staged into place and the rest aside; after a failure all is as it was."""
    done: list[tuple[Path, Path]] = []

    def move(one: Path, other: Path) -> None:
        other.parent.mkdir(parents=True, exist_ok=True)
        one.replace(other)
        done.append((one, other))

    try:
        for name in (*place, *remove):
            check_inside(name)
            if name in place and not os.path.lexists(hidden / _NEW / name):
                continue  # moved by the run that was stopped
            if os.path.lexists(folder / name):
                move(folder / name, hidden / _OLD / name)
            if name in place:
                move(hidden / _NEW / name, folder / name)
    except BaseException:
        for one, other in reversed(done):
            other.replace(one)
        (hidden / _JOURNAL).unlink(missing_ok=True)
        raise
    for name in remove:
        _remove_empty((folder / name).parent, folder)


def check_inside(name: str) -> None:
    """Refuse a path that is not plain and inside its folder."""
    parts = name.split("/")
    if any(part in ("", ".", "..") or Path(part).name != part for part in parts) or "\0" in name:
        raise OutputError(f"{name!r} is not a plain file name")


def _write_all(new: Path, files: Mapping[str, bytes]) -> None:
    new.mkdir()
    for name, content in files.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        write_through(new / name, content)


def write_through(path: Path, content: bytes) -> None:
    """Write a new file and wait until the disk has it."""
    with path.open("xb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _sync(folder: Path) -> None:
    """Wait until the disk has the names in a folder, where the system can be asked for it."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _swap(new: Path, folder: Path, aside: Path) -> Path | None:
    """Let two folders change places; where the old one lies then, or None if nothing changed."""
    if _exchange(new, folder):
        return new
    try:
        folder.rename(aside)
    except OSError:
        return None
    try:
        new.rename(folder)
    except BaseException:
        aside.rename(folder)
        raise
    return aside


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step (renameat2 of Linux, renamex_np of macOS)."""
    with contextlib.suppress(OSError, AttributeError):
        system = ctypes.CDLL(None)
        names = os.fsencode(one), os.fsencode(other)
        if sys.platform == "darwin":
            return bool(system.renamex_np(*names, 2) == 0)
        here = -100  # AT_FDCWD
        return bool(system.renameat2(here, names[0], here, names[1], 2) == 0)
    return False


def _carry(folder: Path, new: Path, ours: set[str]) -> None:
    """Link all that is not ours into the new folder; an OSError where that cannot be."""
    for count, (path, name) in enumerate(_list_others(folder, ours)):
        if count == _MOST_CARRIED:
            raise OSError("more than is carried")
        target = new / name
        if path.is_dir() and not path.is_symlink():
            target.mkdir(parents=True, exist_ok=True)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            os.link(path, target, follow_symlinks=False)
    for path in sorted(new.rglob("*"), reverse=True):
        old = folder / path.relative_to(new)
        if path.is_dir() and not path.is_symlink() and old.is_dir():
            shutil.copystat(old, path)


def _carry_late(old: Path, folder: Path, ours: set[str]) -> None:
    """Move into place what came into the old folder while the new one was made."""
    for path, name in _list_others(old, ours):
        if not os.path.lexists(folder / name):
            with contextlib.suppress(OSError):
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                path.rename(folder / name)


def _list_others(folder: Path, ours: set[str]) -> Iterator[tuple[Path, str]]:
    """Walk all that is not ours: files, links, and folders that hold nothing else."""
    waiting = [folder]
    while waiting:
        inside = waiting.pop()
        with os.scandir(inside) as entries:
            found = list(entries)
        if not found and inside != folder:
            yield inside, inside.relative_to(folder).as_posix()
        for entry in found:
            path = Path(entry.path)
            name = path.relative_to(folder).as_posix()
            if entry.is_dir(follow_symlinks=False):
                waiting.append(path)
            elif name not in ours:
                yield path, name


def _remove_tree(folder: Path) -> None:
    """Remove a folder, opening its folders for that; its files may have other names elsewhere."""
    for inside, folders, _ in os.walk(folder):
        for each in folders:
            path = Path(inside) / each
            if not path.is_symlink():
                with contextlib.suppress(OSError):
                    path.chmod(0o700)
    shutil.rmtree(folder, ignore_errors=True)


def _remove_empty(inside: Path, folder: Path) -> None:
    while inside != folder:
        try:
            inside.rmdir()
        except OSError:
            return
        inside = inside.parent


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """Let Ctrl-C wait for the end of a step that takes milliseconds, and then be without effect."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    handler = signal.getsignal(signal.SIGINT)
    if handler is None:
        yield
        return
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, handler)


def read_umask() -> int:
    """Read which rights new files do not get."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
