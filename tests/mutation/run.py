"""A mutation run over the physics: does a test fail when a number, a sign or an operator changes?

On demand only; pytest does not collect it. From the root of the repo:

    python -m tests.mutation.run --share 0.1                  # a tenth of all mutants
    python -m tests.mutation.run --module light/cri           # every mutant of one module
    python -m tests.mutation.run --module sky --kind number --share 0.5 --seed 3
    python -m tests.mutation.run --again earlier.txt          # what survived an earlier run

One mutant at a time is written into a copy of the tree, never into the tree itself, and the tests
that matter to its module run against it, those of the mirrored path first, until one fails. A
mutant that no test sees is a survivor: it is printed as file:line, was -> is. `excused.txt` beside
this file lists changes that no result depends on, each with its reason. Exit 1 with survivors;
stopped by Ctrl-C or a time limit (`timeout 10m python -m ...`) it tells what is done by then.
"""

from __future__ import annotations

import argparse
import compileall
import gc
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from py_compile import PycInvalidationMode

from tests.mutation.mutate import Mutant, list_mutants

ROOT = Path(__file__).resolve().parents[2]
EXCUSES = Path(__file__).with_name("excused.txt")
PACKAGES = ("light", "exposure", "camera", "sky", "codes", "lut", "planning", "mixed")
LEFT_OUT = ("bench", "fuzz", "mutation", "front", "report")  # slow, or of words and pages
SLOW = ("tests/camera/learn/test_estimate.py", "tests/day/test_day.py")  # not for what they import
# Where few tests mirror a module's path or import it: what its results are seen through.
SEEN_THROUGH = {
    "camera/neutral_table": ["camera/test_setting.py"],
    "camera/tint_duv": ["camera/test_setting.py"],
    "camera/learn": ["camera/learn"],
    "planning": ["planning"],
    "mixed": ["mixed"],
    "sky": ["sky"],
    "codes": ["codes"],
    "lut": ["lut"],
}
MOST_FILES = 3  # that a module is seen through; what a survivor costs is all of them
MOST_TIMES_BASELINE, LEAST_LIMIT_S = 3.0, 20.0


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--module", action="append", help="package or package/module; repeats")
    parser.add_argument("--kind", action="append", help="number, sign, operator, ...; repeats")
    parser.add_argument("--share", type=float, default=1.0, help="of the mutants, 0 to 1")
    parser.add_argument("--seed", type=int, default=0, help="of the sample and of hypothesis")
    parser.add_argument("--again", type=Path, help="only the survivors that a run printed here")
    parser.add_argument("--workers", type=int, choices=(1, 2), default=2)
    parser.add_argument("--list", action="store_true", help="list the mutants, run nothing")
    wanted = parser.parse_args()

    mutants = choose_mutants(
        wanted.module or list(PACKAGES), wanted.kind, wanted.share, wanted.seed
    )
    if wanted.again:
        lines = re.findall(r"^(\S+):\d+: (.*)    in: (.*)$", wanted.again.read_text(), re.M)
        mutants = [each for each in mutants if (each.path, each.change, each.text) in set(lines)]
    if wanted.list:
        for each in mutants:
            print(f"{each.path}:{each.line}: {each.change}")
        print(len(mutants))
        return 0
    excuses = read_excuses(EXCUSES)
    excused = [each for each in mutants if is_excused(each, excuses)]
    rest = [each for each in mutants if not is_excused(each, excuses)]
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        fates = run_all(rest, Path(folder), wanted.workers, wanted.seed)
    return tell(rest, fates, len(excused))


def choose_mutants(
    modules: list[str], kinds: list[str] | None, share: float, seed: int
) -> list[Mutant]:
    """List the mutants of modules, a share of them at random; the same for the same seed."""
    found = []
    for package in modules:
        place = ROOT / "wbplan" / package
        files = sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
        for file in files:
            path = str(file.relative_to(ROOT))
            found += [
                each
                for each in list_mutants(path, file.read_text("utf-8"))
                if not kinds or each.kind in kinds
            ]
    chance = random.Random(seed)
    return [each for each in found if chance.random() < share]


def read_excuses(file: Path) -> list[tuple[str, str, str]]:
    """Read (path, line's text, change) triples; '*' stands for any change of that line."""
    rows = []
    for line in file.read_text("utf-8").splitlines() if file.exists() else []:
        if line.strip() and not line.startswith("#"):
            path, text, change, _ = (part.strip() for part in line.split(" :: "))
            rows.append((path, text, change))
    return rows


def is_excused(mutant: Mutant, excuses: list[tuple[str, str, str]]) -> bool:
    return any(
        mutant.path == path and text in mutant.text and change in ("*", mutant.change)
        for path, text, change in excuses
    )


def choose_tests(path: str) -> list[str]:
    """Choose the tests of a module: of the mirrored path, those that import it, or its package's.

    ``path`` from the root of the tree; so are the results.
    """
    module = path.removeprefix("wbplan/").removesuffix(".py")
    package, _, name = module.rpartition("/")
    mirrored = f"tests/{package}/test_{name}.py"
    dotted = f"wbplan.{module.replace('/', '.')}"
    parent = dotted.rpartition(".")[0]
    imported = re.compile(
        rf"(from|import) {re.escape(dotted)}\b|from {re.escape(parent)} import .*\b{name}\b"
    )
    chosen = [mirrored] if (ROOT / mirrored).exists() else []
    near = ROOT / "tests" / package
    for file in sorted((ROOT / "tests").rglob("test_*.py"), key=lambda each: each.parent != near):
        test = str(file.relative_to(ROOT))
        if test.split("/")[1] in LEFT_OUT or test in (*chosen, *SLOW):
            continue
        if len(chosen) < MOST_FILES and imported.search(file.read_text("utf-8")):
            chosen.append(test)
    for start, places in SEEN_THROUGH.items():
        if module.startswith(start) and len(chosen) < MOST_FILES:
            for place in places:
                files = [ROOT / "tests" / place]
                if files[0].is_dir():
                    files = sorted(files[0].rglob("test_*.py"))
                chosen += [str(each.relative_to(ROOT)) for each in files]
    return list(dict.fromkeys(chosen))


@dataclass
class Running:
    """A mutant at work in a copy of the tree."""

    number: int
    mutant: Mutant
    began: float
    limit_s: float


def run_all(mutants: list[Mutant], folder: Path, workers: int, seed: int) -> list[str]:
    """Run the tests against every mutant; 'killed', 'timeout' or 'survived' for each."""
    trees = [folder / str(number) for number in range(workers)]
    for tree in trees:
        copy_tree(tree)
    preload()
    limits: dict[str, float] = {}
    for path in sorted({each.path for each in mutants}):
        tests = choose_tests(path)
        if not tests:
            raise SystemExit(f"{path}: no tests; add them to SEEN_THROUGH")
        key = " ".join(tests)
        if key not in limits:
            began = time.monotonic()
            if wait(start(trees[0], tests, seed), 600.0):
                print((trees[0] / "log.txt").read_text()[-2000:], file=sys.stderr)
                raise SystemExit(f"{path}: its tests fail without a change: {key}")
            took = time.monotonic() - began
            limits[key] = max(LEAST_LIMIT_S, MOST_TIMES_BASELINE * took)
            print(f"{path}: {took:.1f} s for {len(tests)} files", file=sys.stderr, flush=True)

    fates = [""] * len(mutants)
    originals: dict[str, str] = {}
    todo = list(enumerate(mutants))[::-1]
    stopped: list[int] = []
    signal.signal(signal.SIGTERM, lambda number, _: stopped.append(number))
    signal.signal(signal.SIGINT, lambda number, _: stopped.append(number))
    free, active = list(trees), {}
    done = 0
    while todo or active:
        if stopped:  # what is done by then is told
            for pid in active:
                os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
            break
        while todo and free:
            number, mutant = todo.pop()
            tree = free.pop()
            originals.setdefault(mutant.path, (tree / mutant.path).read_text("utf-8"))
            (tree / mutant.path).write_text(mutant.source, "utf-8")
            tests = choose_tests(mutant.path)
            began = time.monotonic()
            running = Running(number, mutant, began, limits[" ".join(tests)])
            active[start(tree, tests, seed)] = (tree, running)
        time.sleep(0.02)
        for pid, (tree, run) in list(active.items()):
            ended, status = os.waitpid(pid, os.WNOHANG)
            late = time.monotonic() - run.began > run.limit_s
            if not ended and not late:
                continue
            if not ended:
                os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
            fate = "timeout" if not ended else "killed" if status else "survived"
            fates[run.number] = fate
            done += 1
            if fate != "killed":
                each = run.mutant
                print(
                    f"{fate}: {each.path}:{each.line}: {each.change}", file=sys.stderr, flush=True
                )
            if done % 50 == 0:
                print(f"{done}/{len(mutants)}", file=sys.stderr, flush=True)
            (tree / run.mutant.path).write_text(originals[run.mutant.path], "utf-8")
            free.append(tree)
            del active[pid]
    return fates


def copy_tree(tree: Path) -> None:
    """Copy what the tests need, compiled so that only a changed source is compiled again."""
    skip = shutil.ignore_patterns("__pycache__", ".git")
    for name in ("wbplan", "tests", "camera_profiles", "scenarios"):
        shutil.copytree(ROOT / name, tree / name, ignore=skip)
    shutil.copyfile(ROOT / "pyproject.toml", tree / "pyproject.toml")
    for name in ("README.md", "DEVELOPERS.md"):
        shutil.copyfile(ROOT / name, tree / name)
    compileall.compile_dir(
        tree / "wbplan", quiet=1, invalidation_mode=PycInvalidationMode.CHECKED_HASH
    )


def preload() -> None:
    """Import what every test needs and no mutant changes, once, before the forks."""
    import warnings

    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import yaml  # noqa: F401
    gc.freeze()


def start(tree: Path, tests: list[str], seed: int) -> int:
    """Fork a process that runs tests in a tree; returns its id. It exits 0 if they pass."""
    pid = os.fork()
    if pid:
        return pid
    os.setsid()
    log = os.open(tree / "log.txt", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(log, 1)
    os.dup2(log, 2)
    code = 3
    try:
        os.chdir(tree)
        for name in [name for name in sys.modules if name.partition(".")[0] in ("wbplan", "tests")]:
            del sys.modules[name]
        sys.path[:] = [str(tree), *(each for each in sys.path if Path(each or ".") != ROOT)]
        os.environ["PYTHONPATH"] = str(tree)
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
        sys.dont_write_bytecode = False  # the rewritten tests are kept in the tree
        import pytest

        options = ["-x", "-q", "-p", "no:cacheprovider", f"--hypothesis-seed={seed}"]
        options += [
            "-o",
            "addopts=",
            "-p",
            "_hypothesis_pytestplugin",
            "-p",
            "no:unraisableexception",
        ]
        options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # of what is preloaded
        code = int(pytest.main([*options, *tests], [Plain()]))
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


class Plain:
    """Hypothesis without shrinking or a database: a failure is enough."""

    def pytest_configure(self) -> None:
        from hypothesis import Phase, settings

        phases = (Phase.explicit, Phase.generate)
        settings.register_profile("mutants", deadline=None, phases=phases, database=None)
        settings.load_profile("mutants")


def wait(pid: int, limit_s: float) -> int:
    began = time.monotonic()
    while time.monotonic() - began < limit_s:
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended:
            return status
        time.sleep(0.02)
    os.killpg(pid, signal.SIGKILL)
    return os.waitpid(pid, 0)[1]


def tell(mutants: list[Mutant], fates: list[str], excused: int) -> int:
    """Print the score by package and the survivors."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    done = [(mutant, fate) for mutant, fate in zip(mutants, fates, strict=True) if fate]
    for mutant, fate in done:
        package = mutant.path.split("/")[1]
        counts[package][0] += fate != "survived"
        counts[package][1] += 1
    for package, (killed, total) in counts.items():
        print(f"{package:10} {killed:5} of {total:5} seen  {100 * killed / total:5.1f} %")
    survivors = [each for each, fate in done if fate == "survived"]
    print(f"{len(done) - len(survivors)} of {len(done)} seen, {excused} excused")
    if len(done) < len(mutants):
        print(f"stopped before {len(mutants) - len(done)} more were tried")
    for each in survivors:
        print(f"{each.path}:{each.line}: {each.change}    in: {each.text}")
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
