"""Print what share of outside figures the bands of sun and sky hold, by kind and by who says so.

Run with ``python -m tests.bench.band_table``; `tests/sky/test_bands.py` holds a sample of it.
"""

from __future__ import annotations

import numpy as np

from tests.sky.oracles import find_held, judge_faces, list_cases


def main() -> None:
    """Print the shares held by kind, level and colour, fitted and judged, and by who says so."""
    cases = list_cases()
    rows = [
        (each.kind, "colour" if each.unit == "mired" else "level", each.source, each.fitted, int(n))
        for each, n in zip(cases, find_held(cases), strict=True)
    ]
    rows += [("away", "share", *each) for each in judge_faces()]
    table: dict[tuple[str, ...], list[int]] = {}
    for kind, what, who, fitted, where in rows:
        part = "fitted" if fitted else "judged"
        for name in ("all", part, f"  {part}: {who}"):
            table.setdefault((kind, what, name), []).append(where)
    for key, places in sorted(table.items()):
        seen = np.array(places)
        share = [(seen == each).mean() * 100 for each in (0, -1, 1)]
        said = "held {:3.0f} %, under {:3.0f} %, over {:3.0f} %".format(*share)
        print(f"{key[0]:8} {key[1]:7} {key[2]:36} {seen.size:4}  {said}")


if __name__ == "__main__":
    main()
