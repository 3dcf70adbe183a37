r"""Coverage-guided fuzzing of everything that reads a spectrum file; run on demand, not by pytest.

    pip install ".[fuzz]"
    python -m tests.fuzz.by_coverage -max_total_time=300 -timeout=10 \
        -dict=tests/fuzz/spectra.dict FOLDER

FOLDER collects inputs that reached new code; it is begun with a few small files if it is empty. The
target: whatever the bytes are, they become lights with finite values of 0 or more on the shared
grid, or they are refused with one printable line. Anything else is a crash, which the fuzzer keeps
in a file of the working directory.
"""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["wbplan"]):
    from tests.fuzz.spectra import make_seeds, read_or_refuse


def main() -> None:
    """Begin the corpus, then fuzz until stopped."""
    for word in sys.argv[1:]:
        folder = Path(word)
        if not word.startswith("-"):
            folder.mkdir(parents=True, exist_ok=True)
            if not any(folder.iterdir()):
                for name, data in make_seeds().items():
                    (folder / name).write_bytes(data)
    atheris.Setup(sys.argv, read_or_refuse)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
