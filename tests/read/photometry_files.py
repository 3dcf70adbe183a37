"""Photometry files made from a grid, for tests: written here, by nothing of wbplan."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def write_lm63(
    c: Sequence[float],
    gamma: Sequence[float],
    candela: np.ndarray,
    edition: str = "IESNA:LM-63-2002",
    tilt: str = "NONE",
    lamps: str = "1 -1 1",
    kind: int = 1,
    units: str = "2 0 0 0",
    ballast: str = "1 1 100",
) -> str:
    """Write LM-63 as ANSI/IESNA LM-63-2002 lays it out, long rows over several lines."""

    def row(values: Sequence[float] | np.ndarray) -> str:
        words = [f"{each:.10g}" for each in values]
        return "\n".join(" ".join(words[n : n + 12]) for n in range(0, len(words), 12))

    head = [edition, "[TEST] invented", "[MANUFAC] nobody", f"TILT={tilt}"]
    sizes = f"{lamps} {len(gamma)} {len(c)} {kind} {units}"
    rows = [row(gamma), row(c), *(row(each) for each in candela)]
    return "\n".join([*head, sizes, ballast, *rows]) + "\n"


def write_eulumdat(
    symmetry: int,
    c: Sequence[float],
    gamma: Sequence[float],
    per_klm: np.ndarray,
    lumens: Sequence[float] = (1000.0,),
    factor: str = "1",
    lamps: int = 1,
    size_mm: float = 0.0,
) -> list[str]:
    """Write EULUMDAT's lines: ``c`` are all planes, ``per_klm`` those that are stored."""
    step = c[1] - c[0] if len(c) > 1 else 0.0
    lines = ["nobody", "1", str(symmetry), str(len(c)), f"{step:g}", str(len(gamma)), "5"]
    lines += ["report", "invented", "no. 1", "invented.ldt", "2026"]
    lines += [f"{size_mm:g}"] * 3 + [f"{size_mm:g}"] * 6 + ["100", "100", factor, "0"]
    lines += [str(len(lumens))]
    for each in lumens:
        lines += [str(lamps), "lamp", f"{each:g}", "5600", "80", "50"]
    lines += ["0.5"] * 10
    lines += [f"{each:g}" for each in (*c, *gamma)]
    return lines + [f"{each:.10g}" for each in np.ravel(per_klm)]
