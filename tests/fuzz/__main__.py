r"""Run a fuzzer, on demand and not by pytest.

    python -m tests.fuzz profiles --count 200000 --seed 1

Every case is made of seed and number alone: `--first N --count 1` runs one again. A case that
breaks the promise (see `tests.fuzz.loop`) is kept in a file of the folder `--kept`, by default the
working directory.
"""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module
from pathlib import Path

TARGETS = (
    "spectra",
    "profiles",
    "lessons",
    "days",
    "records",
    "frames",
    "server",
    "formats",
    "rebuilt",
)


def main() -> None:
    """Run what is asked for; exit code 1 where a fault was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--kept", type=Path, default=Path())
    options = parser.parse_args()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy, as the command line has it
    sys.dont_write_bytecode = True
    loop = import_module("tests.fuzz.loop")
    target = import_module(f"tests.fuzz.{options.target}").TARGET
    run = loop.run_cases
    sys.exit(bool(run(target, options.count, options.seed, options.first, options.kept)))


if __name__ == "__main__":
    main()
