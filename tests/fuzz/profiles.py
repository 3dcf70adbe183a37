"""Mutated camera profiles, with the tables and the profiles that they name."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any, Final

import numpy as np

from tests.fuzz.loop import Patch, Target, keep_results, open_files
from tests.fuzz.mutation import Words, mutate_bytes, mutate_tree, write_yaml
from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import round_setting
from wbplan.core.names import clean_text
from wbplan.read import profiles
from wbplan.read.catalogue import find_camera
from wbplan.read.model.profile import PROFILE
from wbplan.read.profiles import check_on_menu, explain_menu

ENCODING: Final = {"curve": "ACEScct", "gamut": "AP1"}
WHOLE: Final[dict[str, Any]] = {
    "title": "One",
    "provenance": "invented",
    "sensitivities": {"table": "one.csv", "per": "energy"},
    "menu": {
        "kelvin": {"low": 2500, "high": 10000, "step": 100},
        "tint": {"lowest_step": -10, "highest_step": 10, "cc_per_step": 2.5, "axis": "green"},
        "presets": {"tungsten": {"kelvin": 3200}, "tube": {"kelvin": 4200, "magenta_cc": 10}},
    },
    "base_ei": 800,
    "headroom_stops": 5.5,
    "encoding": ENCODING,
    "band": "population",
}
LIKE: Final[dict[str, Any]] = {
    "title": "Two",
    "like": "other.yaml",
    "menu": {"kelvin": [3200, 4300, 5600]},
    "base_ei": 400,
}
LEARNED: Final[dict[str, Any]] = {**WHOLE, "band": {"cameras": "band.csv"}, "judged": "poor"}
WORDS: Final = Words(PROFILE, more=("p.yaml", "other.yaml", "one.csv", "band.csv", "cfa-mid", "."))


def write_tables() -> dict[str, bytes]:
    """Write curves of one camera, three bells, and of 64 about it, at 20 nm."""
    grid = np.arange(380.0, 741.0, 20.0)
    bells = np.exp(-0.5 * ((grid[:, None] - [597.0, 531.0, 470.0]) / [46.0, 40.0, 34.0]) ** 2)
    many = np.hstack([bells * (1 + number / 999) for number in range(64)])
    one = ["wavelength_nm,red,green,blue"]
    band = ["wavelength_nm," + ",".join(f"c{number}" for number in range(192))]
    for nm, row, wide in zip(grid, bells, many, strict=True):
        one.append(f"{nm:g}," + ",".join(f"{each:.4f}" for each in row))
        band.append(f"{nm:g}," + ",".join(f"{each:.3f}" for each in wide))
    return {"one.csv": "\n".join(one).encode(), "band.csv": "\n".join(band).encode()}


TABLES: Final = write_tables()


def make_profile(draw: random.Random) -> dict[str, bytes]:
    """Make the files of a profile, of which one or more are changed."""
    seed = LEARNED if draw.random() < 0.03 else draw.choice((WHOLE, WHOLE, LIKE))
    files = {"one.csv": TABLES["one.csv"]}
    if seed is LEARNED:
        files["band.csv"] = TABLES["band.csv"]
    other = {**WHOLE, "title": "Other"}
    if draw.random() < 0.2:
        other = mutate_tree(draw, {**LIKE, "like": draw.choice(("p.yaml", "other.yaml"))}, WORDS)
    files["other.yaml"] = write_yaml(draw, other)
    kind = draw.random()
    tree = mutate_tree(draw, seed, WORDS) if kind < 0.7 else seed
    files["p.yaml"] = write_yaml(draw, tree)
    if 0.7 <= kind < 0.85 or kind < 0.05:
        files["p.yaml"] = mutate_bytes(draw, files["p.yaml"])
    if kind >= 0.85:
        table = draw.choice(sorted(set(files) - {"p.yaml", "other.yaml"}))
        files[table] = mutate_bytes(draw, files[table])
    return files


def read_profile(files: dict[str, bytes], folder: Path) -> bool:
    """Read a profile, and hold what is read: curves, a menu that can be dialled."""
    with open_files(files, folder):
        camera = find_camera("p.yaml", folder)
    assert camera.sensitivities.shape == (401, 3)
    assert np.isfinite(camera.sensitivities).all()
    assert (camera.sensitivities >= 0).all()
    assert camera.members is None or np.isfinite(camera.members).all()
    said = explain_menu(camera.menu)
    assert clean_text(said) == said
    for mired, cc in ((180.0, 0.0), (400.0, 60.0), (40.0, -300.0)):
        dial = round_setting(camera.menu, mired, cc)
        assert check_on_menu(camera.menu, dial.kelvin, dial.tint_cc), dial
    return True


def begin(folder: Path, patch: Patch) -> None:
    """Work the locus of the same curves out once."""

    def say(camera: Camera) -> tuple[bytes, str]:
        return camera.sensitivities.tobytes(), camera.menu.tint_axis

    keep_results(patch, profiles, "find_own_locus", say)


TARGET: Final = Target("profiles", make_profile, read_profile, begin)
