"""Mutated lessons, with the tables, spectra, stills and profiles that they name."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from tests.fuzz.loop import MOST_SECONDS, Patch, Target, keep_shipped_cameras, open_files
from tests.fuzz.mutation import Words, mutate_bytes, mutate_tree, write_yaml
from wbplan.core.tables import list_chart_patches, load_table
from wbplan.light.illuminants import radiate_black_body
from wbplan.read import lesson
from wbplan.read.catalogue import find_camera
from wbplan.read.charts import find_charts
from wbplan.read.lesson import read_lesson
from wbplan.read.model.lesson import LESSON
from wbplan.read.pictures import Still, encode_still

WHOLE: Final[dict[str, Any]] = {
    "wbplan_lesson": 1,
    "title": "B camera",
    "start": "cfa-mid",
    "date": "spring",
    "frames": [{"light": {"spectrum_file": "light.csv"}, "patches": "patches.csv", "white": 16383}],
    "neutrals": [
        {"light": {"black_body_kelvin": 3000}, "raw": [0.5, 1.0, 0.7]},
        {"light": {"lamp": "LED-B3"}, "reported": {"kelvin": 3990, "magenta_cc": 1}},
    ],
    "matrices": [
        {
            "light": {"daylight_kelvin": 6500},
            "xyz_to_camera": [0.65, -0.2, -0.06, -0.48, 1.26, 0.24, -0.12, 0.23, 0.54],
        }
    ],
}
STILL: Final[dict[str, Any]] = {
    "wbplan_lesson": 1,
    "title": "C camera",
    "start": "cfa-mid",
    "chart": "iso-17321",
    "frames": [
        {
            "light": {"black_body_kelvin": 3000},
            "still": "chart.tif",
            "corners": [2, 2, 45, 2, 45, 29, 2, 29],
            "black": 0,
        }
    ],
}
OWN: Final[dict[str, Any]] = {
    **WHOLE,
    "chart_file": "chart.csv",
    "scenario": "s.yaml",
    "frames": [{"light": {"black_body_kelvin": 3000}, "patches": "own.csv"}],
}
STILL_SHARE: Final = 0.02
MOST_STILLS: Final = 2
SEARCH_SECONDS: Final = 3.0
"""What a still of this size takes whose corners are not given: a chart is looked for twice."""
SCENARIO: Final = b"""wbplan: 1
title: S
camera: cfa-mid
sources: {a: {black_body_kelvin: 3000}}
setups: [{name: n, positions: {p: {lux: {a: 100}}}, shooting: {ei: 800, fps: 24}}]
"""
WORDS: Final = Words(
    LESSON,
    more=("patches.csv", "light.csv", "chart.tif", "chart.csv", "s.yaml", "l.yaml", "own.csv"),
)


@cache
def write_beside() -> dict[str, bytes]:
    """Write what lies beside the lessons: readings of the chart as tables and as a picture."""
    light, patches = radiate_black_body(3000.0), list_chart_patches()
    raw = (light * load_table("chart")) @ find_camera("cfa-mid", Path()).sensitivities
    raw *= 9000 / raw.max()
    rows = [
        f'"{patch}",' + ",".join(f"{each:.1f}" for each in row)
        for patch, row in zip(patches, raw, strict=True)
    ]
    picture = np.kron(raw.reshape(4, 6, 3), np.ones((8, 8, 1))).astype(np.uint16)
    still, _ = encode_still(picture / 65535, Path("chart.tif"), Still(picture, kind="uint16"))
    grid = range(400, 701, 20)
    names = [f"p{number}" for number in range(7)]
    chart = ["nm," + ",".join(names)]
    chart += [f"{nm}," + ",".join(f"0.{n + 1}{nm // 100}" for n in range(7)) for nm in grid]
    own = ["patch,red,green,blue", *(f"{each},{each[1:]}1,{each[1:]}2,9" for each in names)]
    return {
        "patches.csv": "\n".join(["patch,red,green,blue", *rows]).encode(),
        "light.csv": "\n".join(["nm,power", *(f"{nm},{nm - 300}" for nm in grid)]).encode(),
        "chart.tif": still,
        "chart.csv": "\n".join(chart).encode(),
        "own.csv": "\n".join(own).encode(),
        "s.yaml": SCENARIO,
    }


def make_lesson(draw: random.Random) -> dict[str, bytes]:
    """Make the files of a lesson, of which one or more are changed."""
    seed = STILL if draw.random() < STILL_SHARE else draw.choice((WHOLE, WHOLE, OWN))
    files = dict(write_beside())
    if seed is not STILL:  # which the disk alone can give
        del files["chart.tif"]
    kind = draw.random()
    tree = mutate_tree(draw, seed, WORDS) if kind < 0.7 else seed
    if seed is STILL and isinstance(tree.get("frames"), list):
        tree["frames"] = tree["frames"][:MOST_STILLS]
    files["l.yaml"] = write_yaml(draw, tree)
    if 0.7 <= kind < 0.85:
        files["l.yaml"] = mutate_bytes(draw, files["l.yaml"])
    elif kind >= 0.85:
        names = {id(STILL): ("chart.tif",), id(OWN): ("chart.csv", "own.csv", "s.yaml")}
        name = draw.choice(names.get(id(seed), ("patches.csv", "light.csv")))
        files[name] = mutate_bytes(draw, files[name])
    return files


def learn_of(files: dict[str, bytes], folder: Path) -> bool:
    """Read a lesson, and hold what is read: finite values of 0 or more to learn from."""
    with open_files(files, folder):
        taught = read_lesson(folder / "l.yaml")
    assert taught.frames or taught.balances
    for frame in taught.frames:
        assert np.isfinite(frame.raw).all()
        assert (frame.raw >= 0).all()
        assert np.isfinite(frame.power).all()
    for balance in taught.balances:
        assert np.isfinite(balance.power).all()
    return True


def begin(folder: Path, patch: Patch) -> None:
    """Read shipped cameras once."""
    keep_shipped_cameras(patch, lesson)


def warm() -> None:
    """Import what looks for charts."""
    find_charts(np.zeros((48, 72, 3)))


TARGET: Final = Target(
    "lessons", make_lesson, learn_of, begin, warm, MOST_SECONDS + MOST_STILLS * SEARCH_SECONDS
)
