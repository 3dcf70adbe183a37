"""Mutated frames, and what `verify` is asked of them, against one plan."""

from __future__ import annotations

import random
import tempfile
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np

import wbplan
from tests.fuzz.loop import Patch, Target, keep_results, lay_out
from tests.fuzz.mutation import ODD, mutate_bytes
from tests.fuzz.records import SCENE
from tests.read.raw_files import write_dng
from wbplan.core.digest import digest_values
from wbplan.front import verify
from wbplan.planning.decisions import Plan
from wbplan.read import greys
from wbplan.read.pictures import Still, encode_still

CHART: Final = [2.0, 2.0, 45.0, 2.0, 45.0, 29.0, 2.0, 29.0]
NUMBERS: Final = (0.0, -1.0, 1.0, 10.0, 47.0, 1e9, -1e308, 1e308, 1e-320, np.nan, np.inf, 0.18)


@cache
def decide() -> Plan:
    """Decide the plan that every frame is held against."""
    return wbplan.plan(SCENE)


@cache
def write_frames() -> dict[str, bytes]:
    """Write an even grey of 48 by 32 pixels in every format."""
    setup = decide().setups[0].setup
    code = float(setup.encoding.encode(np.array(0.18)))
    grey = np.full((32, 48, 3), code) * [1.0, 1.01, 0.99]
    found = {}
    for name, kind in (("f.tif", "uint16"), ("g.tif", "float"), ("f.png", "uint8"),
                       ("f.exr", "half"), ("f.dpx", "uint16")):  # fmt: skip
        found[name] = encode_still(grey, Path(name), Still(grey, kind=kind))[0]
    with tempfile.TemporaryDirectory() as folder:
        found["f.dng"] = write_dng(Path(folder) / "f.dng", np.full((32, 48, 3), 0.18)).read_bytes()
    return found


def make_frame(draw: random.Random) -> tuple[str, bytes, dict[str, Any]]:
    """Make a frame and what is asked of it, one or both of them changed."""
    frames = write_frames()
    name = draw.choice(sorted(frames))
    raw, asked = frames[name], {}
    kind = draw.random()
    if kind < 0.7:
        raw = mutate_bytes(draw, raw)
        if draw.random() < 0.1:
            name = draw.choice(("f.TIF", "f.jpg", "f", "f.exr", "f.png", "f.cr2", "é.tif", "f.dng"))
    if kind > 0.6:
        texts = [each for each in ODD if isinstance(each, str)]
        asked = {
            "setup": draw.choice((None, "At the sink", draw.choice(texts))),
            "at": draw.choice((None, "face", "WALL", [], ["face", "wall"], draw.choice(texts))),
            "grey": draw.choice((None, [10, 10, 12, 12], _draw_numbers(draw, 4))),
            "reflectance": draw.choice((0.18, 0.18, draw.choice(NUMBERS))),
            "linear": draw.random() < 0.2,
        }
        if draw.random() < 0.4:
            asked["corners"] = draw.choice((CHART, _draw_numbers(draw, 8)))
    return name, raw, asked


def _draw_numbers(draw: random.Random, count: int) -> list[float]:
    size = draw.choice((count, count, count, 0, count - 1, 300))
    return [draw.choice((*NUMBERS, draw.uniform(0, 48))) for _ in range(size)]


def verify_frame(case: tuple[str, bytes, dict[str, Any]], folder: Path) -> bool:
    """Verify a frame, and hold what comes of it: finite, and a lesson that is files."""
    name, raw, asked = case
    lay_out({name: raw}, folder)
    found = verify.verify(decide(), folder / name, **asked)
    for each in found.outcomes:
        off = (each.cast.mired.value, each.cast.green_cc.value)
        assert np.isfinite(off).all() or each.past_scale
    assert all(isinstance(each, bytes) for each in found.lesson.values())
    return True


def begin(folder: Path, patch: Patch) -> None:
    """Decide the plan, and work out once what no frame changes."""
    keep_results(patch, verify, "view_camera", lambda camera: camera.name)
    keep_results(
        patch, greys, "find_camera_matrix", lambda *given: digest_values(given[0], given[2])
    )
    write_frames()


TARGET: Final = Target("frames", make_frame, verify_frame, begin)
