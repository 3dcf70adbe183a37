"""A LUT made again from what its own header says: the same rows, or another size or form."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from html import unescape
from typing import Any

import numpy as np

from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError, Place
from wbplan.core.tables import Array
from wbplan.lut.bake import LinearCorrection, bake_lut, scene_codes
from wbplan.lut.bend import ROOTS, Bend, read_root_bend
from wbplan.lut.file import RECIPE_WORD, Recipe
from wbplan.lut.fit import FITTED, fit_table
from wbplan.lut.gamut import GAMUT, read_gamut_bend
from wbplan.lut.monitor import make_monitor_encoding
from wbplan.lut.table1d import bake_curves
from wbplan.lut.trials import find_plain_rgb
from wbplan.scene.luts import KIND_WORDS, Monitor

_ROWS = re.compile(r"Rows SHA-256 ([0-9a-f]{64})\.")
_SIZE = re.compile(rb"^LUT_(?P<kind>[13])D_SIZE (?P<size>\d+)\r?$", re.MULTILINE)
_ROUNDED = 1e-6  # of a file's six decimals, half on each side


@dataclass(frozen=True, eq=False)
class Stated:
    """What a header says of its LUT: the exact transform, for which camera, and its scene's whites.

    ``whites`` (p, 3) are those of `trials.SceneColours`.
    """

    recipe: Recipe
    stem: str
    camera_name: str
    whites: Array


def read_recipe(data: bytes, place: Place) -> Stated:
    """Read what a `.cube` or `.clf` that was written here says of itself.

    Raises
    ------
    InputError
        Where it says nothing, or not what a LUT can be made of.
    """
    text = _join_comments(data)
    at = text.find(RECIPE_WORD)
    if at < 0:
        raise InputError("a LUT without a recipe in its header", "one that wbplan made", place)
    try:
        said, _ = json.JSONDecoder().raw_decode(text[at + len(RECIPE_WORD) :].lstrip())
        return _take(said)
    except InputError:
        raise
    except (ValueError, KeyError, TypeError) as error:
        allowed = "the recipe as wbplan wrote it"
        raise InputError(f"a recipe that cannot be read ({error})", allowed, place) from None


def check_rows(data: bytes, stated: Stated, place: Place) -> int | None:
    """Make the rows of a `.cube` again, refuse a file that holds others, and give a 3D one's size.

    Raises
    ------
    InputError
        Where the rows are not those that its header names, or not what its recipe gives.
    """
    size_line = _SIZE.search(data)
    digest = _ROWS.search(_join_comments(data))
    if size_line is None or digest is None:
        raise InputError("no size or no digest of the rows", "a .cube as it was written", place)
    rows = data[size_line.end() + 1 :]
    if digest_bytes(rows) != digest[1]:
        raise InputError("rows that were changed", f"those of SHA-256 {digest[1]}", place)
    correction, size = stated.recipe.correction, int(size_line["size"])
    if size_line["kind"] == b"1":
        again = bake_curves(correction, size)
        held = np.array(rows.split(), dtype=np.float64).reshape(-1, 3)
    else:
        again = bake_lut(correction, size).table
        if FITTED in _join_comments(data):
            source = correction.encoding
            again = fit_table(
                correction, scene_codes(source, find_plain_rgb(source, stated.whites)), size
            )
        again = again.transpose(2, 1, 0, 3).reshape(-1, 3)
        held = np.array(rows.split(), dtype=np.float64).reshape(-1, 3)
    if held.shape != again.shape or np.abs(held - again).max() > _ROUNDED:
        raise InputError("rows that its recipe does not give", "a .cube as it was written", place)
    return None if size_line["kind"] == b"1" else size


def _join_comments(data: bytes) -> str:
    """Join what is said in a header into one line."""
    head = data[: 1 << 16].decode("ascii", "replace")
    lines = [line[1:].strip() for line in head.splitlines() if line.startswith("#")]
    return " ".join(lines) if lines else unescape(" ".join(head.split()))


def _take_bend(said: dict[str, Any]) -> Bend:
    if said["what"] == ROOTS:
        return read_root_bend(said)
    if said["what"] == GAMUT:
        return read_gamut_bend(said)
    raise ValueError(f"bend {said['what']!r}")


def _take(said: dict[str, Any]) -> Stated:
    source = find_encoding(*said["in"])
    kind = said["kind"]
    if kind not in KIND_WORDS:
        raise ValueError(f"kind {kind!r}")
    target: Encoding | None = None
    monitor = None if said["monitor"] is None else Monitor(**said["monitor"])
    if (kind == "monitor") != (monitor is not None):
        raise ValueError(f"a {kind} for the monitor {monitor}")
    if monitor is not None:
        target = make_monitor_encoding(source, monitor)
    elif said["out"] is not None:
        target = find_encoding(*said["out"])
    if said["keep"] not in ("green", "no_clip"):
        raise ValueError(f"keep {said['keep']!r}")
    matrix = np.array(said["matrix"], dtype=np.float64).reshape(3, 3)
    bend = None if said["bend"] is None else _take_bend(said["bend"])
    correction = LinearCorrection(source, matrix, target, bend)
    ends = (str(said["from"]), str(said["to"]))
    recipe = Recipe(
        kind,
        *ends,
        correction,
        said["keep"],
        float(said["cost_stops"]),
        up_stops=float(said["up_stops"]),
        monitor=monitor,
    )
    whites = np.array(said["whites"], dtype=np.float64).reshape(-1, 3)
    return Stated(recipe, str(said["stem"]), str(said["camera"]), whites)
