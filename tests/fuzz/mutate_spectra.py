r"""Mutated spectrum files by the hundred thousand in one process; run on demand, not by pytest.

    python tests/fuzz/mutate_spectra.py SECONDS SEED

Needs nothing but numpy, and no more than 1 GiB: that much address space is all it gives itself. A
file that takes over 2 s, a warning, or anything raised but InputError ends the run with the file
in `mutated.bin` of the working directory.
"""

from __future__ import annotations

import random
import resource
import signal
import sys
import time
import warnings
from pathlib import Path

from target import make_seeds, read_or_refuse

PIECES = [
    *(b",", b";", b"\t", b" ", b"\n", b"\r", b'"', b"%", b".", b"-", b"1e999", b"nan", b"\0", b"0"),
    *(b"380", b"780", b"nm", b"W/m2/nm", b"umol/m2/s/nm", b"/sr", b"log10(", b"counts", b"lux"),
    *(b"<", b">", b"{", b"}", b"[", b"]", b"BEGIN_DATA", b"END_DATA_FORMAT", b"\xff\xfe", b"\xe2"),
    *("µ".encode(), "−".encode(), b"encoding=", b"12,345", b"Saturated: yes", b"transmittance"),
    *(b"time (ms),level", b"Bandwidth: 10 nm", b"bandwidth corrected", b"\nnm,y,nm,y\n", b"1e308"),
]


def mutate(data: bytes, chance: random.Random) -> bytes:
    """Change a file in one to eight places: cut, repeat, swap or put something in."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 8)):
        size = len(made)
        at = chance.randrange(size + 1)
        kind = chance.randrange(6)
        if kind == 0 and size:
            made[at % size] = chance.randrange(256)
        elif kind == 1:
            made[at:at] = chance.choice(PIECES)
        elif kind == 2:
            del made[at : at + chance.randint(1, 30)]
        elif kind == 3:
            made[at:at] = made[at : at + chance.randint(1, 60)] * chance.choice((1, 1, 1, 40))
        elif kind == 4:
            end = at + chance.randint(1, 8)
            made[at:end] = chance.choice(PIECES)
        else:
            lines = bytes(made).split(b"\n")
            chance.shuffle(lines) if chance.random() < 0.1 else lines.insert(
                chance.randrange(len(lines) + 1), chance.choice(lines)
            )
            made = bytearray(b"\n".join(lines))
    return bytes(made[:200_000])


def main() -> None:
    """Mutate and read until the time is up, then say how many files that were."""
    seconds, seed = float(sys.argv[1]), int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_AS, (2**30, 2**30))
    warnings.simplefilter("error")
    chance = random.Random(seed)
    seeds = list(make_seeds().values())
    count, slowest, begun = 0, 0.0, time.process_time()
    while time.process_time() - begun < seconds:
        data = mutate(chance.choice(seeds), chance)
        signal.alarm(10)
        start = time.process_time()
        try:
            read_or_refuse(data)
            slowest = max(slowest, time.process_time() - start)
            assert slowest < 2.0, "over 2 s"
        except BaseException:
            Path("mutated.bin").write_bytes(data)
            print(f"file {count} of seed {seed} is kept in mutated.bin", file=sys.stderr)
            raise
        count += 1
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{count} files, slowest {slowest:.2f} s, {peak:.0f} MiB at most")


if __name__ == "__main__":
    main()
