"""Whether every file of every output has the same bytes however the numbers were worked out.

``python -m tests.bench.same_bytes [PYTHON ...]`` plans the shipped scenarios, goes through a day
and describes lights: with one and with two threads of the matrix library, along the code of an
older processor, and with each other interpreter that is named (of another numpy, say; without what
models the sky it makes the outputs that need none). It lists the files that differ, where they do
first, and ends with 1 if there are any.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from wbplan.read.catalogue import list_shipped

SKY = ("mill_yard",)  # scenarios that need what models the sky
RUNS = (
    *(("plan", name, "--advise") for name in list_shipped("scenarios")),
    ("day", "mill_yard"),
    ("describe", "A", "FL2", "LED-B3", "D65", "--camera", "cfa-mid"),
)
SMALL = (("plan", "reading_room"), RUNS[-1])
OLD_PROCESSOR = {  # of before 2013; OpenBLAS and numpy each choose their code when they start
    "OPENBLAS_CORETYPE": "Sandybridge",
    "NPY_DISABLE_CPU_FEATURES": "AVX2 FMA3 AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL "
    "AVX512_ICL",
}


def make_outputs(
    runs: tuple[tuple[str, ...], ...], python: str, settings: dict[str, str]
) -> dict[str, bytes]:
    """Make every output anew; the bytes of each file by its path."""
    probe = subprocess.run([python, "-c", "import pvlib"], check=False, capture_output=True)
    with tempfile.TemporaryDirectory() as made:
        for number, words in enumerate(runs):
            if probe.returncode and words[1] in SKY:
                continue
            subprocess.run(
                [python, "-m", "wbplan", *words, "--out", f"{number}-{words[1]}"],
                cwd=made,
                env={**os.environ, "PYTHONPATH": str(Path.cwd()), **settings},
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        return {
            path.relative_to(made).as_posix(): path.read_bytes()
            for path in sorted(Path(made).rglob("*"))
            if path.is_file()
        }


def find_first(one: bytes | None, two: bytes | None) -> str:
    """Show where two files differ for the first time."""
    if one is None or two is None:
        return "only one of them has it"
    pairs = enumerate(zip(one, two, strict=False))
    at = next((n for n, (x, y) in pairs if x != y), min(len(one), len(two)))
    return " | ".join(repr(each[max(at - 60, 0) : at + 20]) for each in (one, two))


def main(words: list[str]) -> int:
    """Compare, and say what differs."""
    others = [each for each in words if each != "--small"]
    ways = [
        ("one thread", sys.executable, {"OPENBLAS_NUM_THREADS": "1"}),
        ("two threads", sys.executable, {"OPENBLAS_NUM_THREADS": "2"}),
        ("an older processor", sys.executable, OLD_PROCESSOR),
        *((each, each, {"OPENBLAS_NUM_THREADS": "1"}) for each in others),
    ]
    runs = RUNS if others == words else SMALL
    with ThreadPoolExecutor(2) as pool:
        made = list(pool.map(lambda way: make_outputs(runs, *way[1:]), ways))
    first, is_same = made[0], True
    for (name, *_), other in zip(ways[1:], made[1:], strict=True):
        done = {each.split("/")[0] for each in other}
        asked = {each for each in first if each.split("/")[0] in done}
        differ = sorted(each for each in {*asked, *other} if first.get(each) != other.get(each))
        said = [f"{each}: {find_first(first.get(each), other.get(each))}" for each in differ]
        print(f"{name}: {len(differ)} of {len(asked)} files differ", *said, sep="\n  ")
        is_same = is_same and not differ
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
