"""The loop that every fuzzer shares: its cases by seed and number, its limits, what it promises.

A target makes a case of a `random.Random`, and holds what is done with it against the promise; the
loop adds what is promised of all of them: nothing but a refusal is raised, no warning is given, a
case takes at most 2 s of the process's own time unless its target says more, the process never
holds over 1 GiB, and no file is made, changed or taken away outside the folder of the case, nor
anything started or connected.

A case is made of `Random(f"{seed}-{number}")` alone, so that one of a million can be run by itself.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from wbplan.core.errors import InputError, list_mistakes
from wbplan.core.ledger import Ledger

MOST_SECONDS: Final = 2.0
MOST_BYTES: Final = 2**30
_LONGEST_MESSAGE: Final = 3000
_MOST_TABLES: Final = 200
_TABLES: dict[Hashable, Any] = {}
_SWITCHES: Final = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES: Final = {  # which arguments are paths, and of which folder each is spoken, if any
    **dict.fromkeys(("os.remove", "os.rmdir"), ((0, 1),)),
    **dict.fromkeys(("os.rename", "os.link"), ((0, 2), (1, 3))),
    "os.mkdir": ((0, 2),),
    "os.symlink": ((1, 2),),
    "os.chmod": ((0, 2),),
    "os.chown": ((0, 3),),
    **dict.fromkeys(("os.truncate", "os.utime", "os.setxattr"), ((0, None),)),
}
_FORBIDDEN: Final = ("subprocess.Popen", "os.system", "os.exec", "os.fork", "socket.connect")
Patch = Callable[[Any, str, Any], None]


@dataclass(frozen=True)
class Target:
    """What is fuzzed.

    ``make`` makes a case; ``hold`` does with it what a user would, in the folder given, lets an
    `InputError` through, and raises anything else where a promise is broken; it returns whether the
    case was taken. ``begin`` is called once before, with the folder in which all cases are run, and
    with what changes a module as `setattr` does; ``warm`` before any case's time counts.
    """

    name: str
    make: Callable[[random.Random], Any]
    hold: Callable[[Any, Path], bool]
    begin: Callable[[Path, Patch], None] = lambda folder, patch: None
    warm: Callable[[], object] = lambda: None
    seconds: float = MOST_SECONDS


def _find_path(args: tuple[Any, ...], at: int, folder_at: int | None) -> str:
    path = args[at]
    if isinstance(path, int):
        return os.readlink(f"/proc/self/fd/{path}")
    folder = -1 if folder_at is None else args[folder_at]
    text = os.fsdecode(path)
    return text if folder == -1 else os.path.join(os.readlink(f"/proc/self/fd/{folder}"), text)


class _Watch:
    """Notices whatever touches the disk outside one folder; audit hooks cannot be taken away."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self.seen: list[str] = []
        sys.addaudithook(self._hear)

    def _hear(self, event: str, args: tuple[Any, ...]) -> None:
        folder = self.folder
        if folder is None:
            return
        if event == "open":
            path, mode, flags = args
            writes = bool((flags or 0) & _SWITCHES) or (mode and set(mode) & set("wax+"))
            paths = (path,) if writes and not isinstance(path, int) else ()
        elif event in _CHANGES:
            paths = tuple(_find_path(args, *each) for each in _CHANGES[event])
        elif event in _FORBIDDEN:
            self.seen.append(f"{event} {args!r:.200}")
            return
        else:
            return
        for path in paths:
            text = os.fsdecode(path)
            inside = Path(os.path.realpath(text)).is_relative_to(folder)
            if not inside and not text.endswith(".pyc"):
                self.seen.append(f"{event} {text!r:.200}")


_WATCH: list[_Watch] = []


@contextmanager
def watch_disk(folder: Path) -> Iterator[None]:
    """Refuse every change of the disk outside a folder while the body runs."""
    if not _WATCH:
        _WATCH.append(_Watch())
    watch = _WATCH[0]
    watch.folder, watch.seen = folder.resolve(), []
    before = tempfile.tempdir
    tempfile.tempdir = str(folder)
    try:
        yield
    finally:
        watch.folder = None
        tempfile.tempdir = before
    assert not watch.seen, watch.seen


def lay_out(files: Mapping[str, bytes], folder: Path) -> None:
    """Lay files into a folder, which holds nothing else then."""
    for each in folder.iterdir():
        if each.is_dir():
            shutil.rmtree(each)
        elif each.name not in files:
            each.unlink()
    for name, data in files.items():
        (folder / name).write_bytes(data)


@contextmanager
def open_files(files: Mapping[str, bytes], folder: Path) -> Iterator[None]:
    """Let readers find files in a folder: pictures, and one case of eight, on the disk.

    Else they are in memory, and tables that were read before are not read again, as while a
    scenario is edited.
    """
    if sum(map(len, files.values())) % 8 == 0 or any(each.endswith(".tif") for each in files):
        lay_out(files, folder)
        yield
        return
    if len(_TABLES) > _MOST_TABLES:
        _TABLES.clear()
    given = {f"scenario/{name}": data for name, data in files.items()}
    ledger = Ledger(given=given, memory=_TABLES)
    with ledger.scope("scenario", folder):
        yield


def keep_results(patch: Patch, module: ModuleType, name: str, say: Callable[..., Hashable]) -> None:
    """Let a module's function answer from memory what it was asked before.

    ``say`` gives of the arguments what the answer depends on; None for what is not to be kept.
    """
    known: dict[Hashable, Any] = {}
    work = getattr(module, name)

    def answer(*given: Any) -> Any:
        key = say(*given)
        if key is None:
            return work(*given)
        if key not in known:
            if len(known) > _MOST_TABLES:
                known.clear()
            known[key] = work(*given)
        return known[key]

    patch(module, name, answer)


def keep_shipped_cameras(patch: Patch, module: ModuleType) -> None:
    """Read a shipped profile once."""
    keep_results(patch, module, "find_camera", lambda name, *_: None if "." in name else name)


def check_refusal(error: InputError) -> None:
    """Hold a refusal: printable, of a sane length, and it says where."""
    for each in list_mistakes(error):
        message = str(each)
        assert message.isprintable(), f"not printable: {message!r}"
        assert len(message) <= _LONGEST_MESSAGE, f"{len(message)} characters: {message[:300]!r}"
        assert str(each.place), f"names no place: {message!r}"


def run_case(target: Target, seed: str, folder: Path) -> bool:
    """Run one case, and tell whether it was taken or refused."""
    return hold_case(target, target.make(random.Random(seed)), folder)


def hold_case(target: Target, case: Any, folder: Path) -> bool:
    """Hold a case that was made; see `run_case`."""
    with watch_disk(folder), warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return target.hold(case, folder)
        except InputError as error:
            check_refusal(error)
            return False


class OverTimeError(BaseException):
    """A case that takes too long; nothing that catches errors catches this."""


def _stop(number: int, frame: object) -> None:
    raise OverTimeError("over its own time")


def run_cases(target: Target, count: int, seed: int, first: int = 0, kept: Path = Path()) -> int:
    """Run cases, say what came of them, and give how many faults were found.

    A fault is told once for each place in the code where it arises; its case is kept in a file.
    """
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGPROF, _stop)
    faults: dict[str, int] = {}
    taken, slowest, slowest_at, last = 0, 0.0, 0, -1
    with tempfile.TemporaryDirectory(prefix=f"fuzz-{target.name}-") as name:
        whole = Path(name).resolve()
        folder = whole / "case"
        folder.mkdir()
        target.begin(folder, setattr)
        target.warm()
        for number in range(first, first + count):
            case = target.make(random.Random(f"{seed}-{number}"))
            start = time.process_time()
            signal.setitimer(signal.ITIMER_PROF, target.seconds)
            try:
                taken += hold_case(target, case, folder)
            except (KeyboardInterrupt, SystemExit):
                raise
            except BaseException as error:
                signal.setitimer(signal.ITIMER_PROF, 0)
                where = _find_place(error)
                faults[where] = faults.get(where, 0) + 1
                last = number
                if faults[where] == 1:
                    _tell(f"{target.name}-{seed}-{number}", case, where, error, kept)
            signal.setitimer(signal.ITIMER_PROF, 0)
            took = time.process_time() - start
            if took > slowest:
                slowest, slowest_at = took, number
            if number % 1000 == 0:
                assert [each.name for each in whole.iterdir()] == ["case"]
                assert _find_peak() < MOST_BYTES, "over 1 GiB"
    peak = _find_peak() / 2**20
    print(
        f"{target.name}: {count} cases of seed {seed} from {first}, {taken} taken, "
        f"slowest {slowest:.2f} s (case {slowest_at}), {peak:.0f} MiB at most, "
        f"{len(faults)} faults in {sum(faults.values())} cases, "
        f"{first + count - 1 - last if faults else count} since the last"
    )
    for where, times in sorted(faults.items(), key=lambda pair: -pair[1]):
        print(f"  {times} x {where}")
    return len(faults)


def _find_peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _find_place(error: BaseException) -> str:
    """Find where an error arose: the last line of wbplan, or of a fuzzer, that led to it."""
    lines = traceback.extract_tb(error.__traceback__)
    own = [each for each in lines if "/wbplan/" in each.filename] or lines
    place = own[-1]
    said = f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}"
    return f"{said} {str(error)[:60]!r}" if isinstance(error, AssertionError) else said


def _tell(name: str, case: Any, where: str, error: BaseException, kept: Path) -> None:
    said = "".join(traceback.format_exception(error))
    path = kept / f"{name}.txt"
    path.write_text(f"{said}\n{case!r}\n", encoding="utf-8", errors="backslashreplace")
    print(f"{name}: {where}: {error!s:.300}", file=sys.stderr, flush=True)
