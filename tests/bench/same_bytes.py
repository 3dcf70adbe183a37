"""Whether every file of every output has the same bytes however the numbers were worked out.

``python -m tests.bench.same_bytes [PYTHON ...]`` plans the shipped scenarios, goes through a day
and describes lights: with one and with two threads of the matrix library, along the code of an
older processor, and with each other interpreter that is named (of another numpy, say). It lists the
files that differ and ends with 1 if there are any.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from wbplan.read.catalogue import list_shipped

RUNS = (
    *(("plan", name, "--advise") for name in list_shipped("scenarios")),
    ("day", "harbour_noon"),
    ("describe", "A", "FL2", "LED-B3", "D65", "--camera", "cfa-mid"),
)
OLD_PROCESSOR = {  # of before 2013; OpenBLAS and numpy each choose their code when they start
    "OPENBLAS_CORETYPE": "Sandybridge",
    "NPY_DISABLE_CPU_FEATURES": "AVX2 FMA3 AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL "
    "AVX512_ICL",
}


def list_digests(python: str, settings: dict[str, str]) -> dict[str, str]:
    """Make every output anew; the digest of each file by its path."""
    with tempfile.TemporaryDirectory() as made:
        for number, words in enumerate(RUNS):
            subprocess.run(
                [python, "-m", "wbplan", *words, "--out", f"{number}-{words[1]}"],
                cwd=made,
                env={**os.environ, "PYTHONPATH": str(Path.cwd()), **settings},
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        return {
            path.relative_to(made).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(Path(made).rglob("*"))
            if path.is_file()
        }


def main(others: list[str]) -> int:
    """Compare, and say what differs."""
    first = list_digests(sys.executable, {"OPENBLAS_NUM_THREADS": "1"})
    ways = [
        ("two threads", sys.executable, {"OPENBLAS_NUM_THREADS": "2"}),
        ("an older processor", sys.executable, OLD_PROCESSOR),
        *((each, each, {"OPENBLAS_NUM_THREADS": "1"}) for each in others),
    ]
    is_same = True
    for name, python, settings in ways:
        other = list_digests(python, settings)
        differ = sorted(each for each in {*first, *other} if first.get(each) != other.get(each))
        print(f"{name}: {len(differ)} of {len(first)} files differ", *differ, sep="\n  ")
        is_same = is_same and not differ
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
