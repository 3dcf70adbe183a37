"""A LUT as a file: what it does, in which form, its bytes, and how far they are from exact.

A `Recipe` is an exact transform with what has to be said of it; a `LutDraft` is one for a scene and
a camera, and `make_lut_file` writes it in one format, in the cheapest form that is exact: curves of
one dimension where no channel looks at another, a chain of operations where the format has one, a
three-dimensional table otherwise.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property, partial
from typing import Any

from wbplan import __version__
from wbplan.codes.cube_text import make_plain
from wbplan.codes.encodings import Encoding, is_light
from wbplan.codes.table3d import Cube
from wbplan.core.digest import digest_bytes
from wbplan.core.errors import InputError
from wbplan.core.names import make_safe_name
from wbplan.core.tables import Array
from wbplan.lut.bake import (
    BakedLut,
    LinearCorrection,
    LutError,
    is_under,
    measure_readers,
    prepare_samples,
    scene_codes,
)
from wbplan.lut.fit import bake_at_size
from wbplan.lut.match import Differences, MatchScore
from wbplan.lut.trials import SceneColours, draw_trials, find_plain_rgb
from wbplan.scene.luts import CUBE_SIZES, KIND_WORDS, SCREENS, CdlOn, LutFormat, LutKind, Monitor
from wbplan.scene.setup import Keep

LIMIT_CODES = 1.0
CLF_CODES = 0.2
"""What readers are off by at most in operations alone: single precision, by OpenColorIO."""
TABLE = "3D table"
SIZES = (17, 33)
"""Nodes per axis that are tried where none is asked for; the last is fitted if it is not enough."""
_DIGITS = 10  # of a matrix in a header: more differ from machine to machine
_HOPELESS_CODES = 20.0  # colours at the gamut's edge are off: no size mends them
CODE_DIGITS = 8
RECIPE_WORD = "Recipe:"
"""What the line of a header begins with that says all that a LUT is made of."""
LEVEL_WORDS = {"green": "the green channel", "no_clip": "that no channel clips"}


@dataclass(frozen=True, eq=False)
class Recipe:
    """An exact transform of codes, and where it comes from.

    ``start`` and ``end`` say in words what it goes from and to. ``up_stops`` is how much brighter
    it was asked to make the picture, which its matrix holds. ``against_exact`` is what gains per
    channel cost against the full correction. ``monitor`` is what a view is for.
    """

    kind: LutKind
    start: str
    end: str
    correction: LinearCorrection
    keep: Keep
    cost_stops: float
    match: MatchScore | None = None
    against_exact: Differences | None = None
    up_stops: float = 0.0
    monitor: Monitor | None = None


def raise_exposure(recipe: Recipe, stops: float) -> Recipe:
    """Make the picture brighter as well, by stops over what was asked before; darker below 0."""
    if not stops:
        return recipe
    brighter = replace(recipe.correction, matrix=recipe.correction.matrix * 2.0**stops)
    return replace(recipe, correction=brighter, up_stops=recipe.up_stops + stops)


@dataclass(frozen=True, eq=False)
class LutDraft:
    """All that a file is made of, whatever its format and its size.

    Attributes
    ----------
    recipe
        The exact transform.
    colours
        What it is chosen and measured on, as from `recipes.build_colours`.
    stem
        What the file's name begins with; empty for nothing.
    camera_name
        The profile that it is for.
    remarks
        What else the header is to say.
    """

    recipe: Recipe
    colours: SceneColours
    stem: str
    camera_name: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class LutFile:
    """A LUT ready to be written, with its error as read back from these very bytes.

    ``form`` is what stands in the file: "3D table", "1D table", "operations", "operations with
    curves", "operations with a 3D table", "ten numbers" or "ten numbers on log codes". ``size`` is
    the points of a table per axis or curve, None for others; ``size_asked`` whether somebody asked
    for that size for this file. ``error`` is None for numbers on light, of which only the tenth
    digit is rounded. ``needed_size`` is the size at which a sampled table stays under one code,
    None where none of those tried does. ``cube`` is a "3D table" as read back.
    """

    file_name: str
    draft: LutDraft
    format: LutFormat
    form: str
    data: bytes
    size: int | None = None
    size_asked: bool = False
    error: LutError | None = None
    met: bool = True
    needed_size: int | None = None
    bounded_nodes: int = 0
    cube: Cube | None = None

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return digest_bytes(self.data)

    @property
    def recipe(self) -> Recipe:
        """What it does, exactly."""
        return self.draft.recipe

    @property
    def source(self) -> Encoding:
        """What the codes mean before."""
        return self.recipe.correction.encoding

    @property
    def target(self) -> Encoding:
        """What the codes mean after."""
        return self.recipe.correction.into

    @property
    def has_exact_form(self) -> bool:
        """Whether a `.clf` can hold it in operations alone, without a table's error."""
        return self.recipe.correction.bend is None

    @property
    def misses_coloured_light(self) -> bool:
        """Whether a table is off by a code or more where a `.clf` of the same would hold."""
        if self.error is None or self.form != TABLE or not self.has_exact_form:
            return False
        kinds = {each.kind: each.worst_codes for each in self.error.kinds}
        return kinds.get("coloured-light", 0.0) >= LIMIT_CODES

    @property
    def matrix(self) -> Array:
        """The matrix in scene-linear light."""
        return self.recipe.correction.matrix


def make_lut_file(
    draft: LutDraft, format: LutFormat, size: int | None = None, cdl_on: CdlOn = "linear"
) -> LutFile:
    """Write a draft in one format and measure what was written.

    Parameters
    ----------
    size
        Nodes per axis of a three-dimensional table; None for the smallest that is good enough.
    cdl_on
        What the numbers of a CDL are for: ``linear`` light, or the encoding's ``log`` codes.

    Raises
    ------
    InputError
        Where the format cannot hold the correction, or cannot be written here.
    """
    from wbplan.lut.cdl import CDL_FORMS, fit_log_numbers, format_cdl
    from wbplan.lut.clf import TABLE_SIZE, bake_clf
    from wbplan.lut.table1d import choose_curves, find_channel_gains

    recipe, colours = draft.recipe, draft.colours
    correction = recipe.correction
    if format == "cube":
        check_cube_holds(correction)
        if find_channel_gains(correction) is None:
            return make_table_file(draft, size)
    title, comments = write_title(recipe, draft.stem), describe_draft(draft)
    name = partial(name_lut_file, recipe, draft.stem)
    done = partial(LutFile, draft=draft, format=format)
    if format in CDL_FORMS and cdl_on == "linear":
        data = format_cdl(correction, format, title, comments)
        return done(file_name=name("linear", format, data), form="ten numbers", data=data)
    if format in CDL_FORMS:
        numbers = fit_log_numbers(correction)
        data = format_cdl(correction, format, title, comments, numbers)
        error = measure_readers((numbers.apply, numbers.apply), correction, colours.codes)
        return done(
            file_name=name("log", format, data),
            form="ten numbers on log codes",
            data=data,
            error=error,
            met=error.worst_codes < LIMIT_CODES,
        )
    trials = draw_trials(correction, colours.linear)
    labels: dict[str, Any] = {"title": title, "comments": comments, "trials": trials}
    if format == "clf":
        chain = bake_clf(correction, colours.codes, LIMIT_CODES, size=size or TABLE_SIZE, **labels)
        form = "operations" if chain.analytic else "operations with curves"
        return done(
            file_name=name(str(chain.size or "exact"), format, chain.data),
            form="operations with a 3D table" if chain.size else form,
            data=chain.data,
            size=chain.size,
            error=chain.error,
            met=chain.met,
        )
    curves = choose_curves(correction, colours.codes, LIMIT_CODES, **labels)
    return done(
        file_name=name(f"1d{curves.size}", format, curves.data),
        form="1D table",
        data=curves.data,
        size=curves.size,
        error=curves.error,
        met=curves.met,
        needed_size=curves.size if curves.met else None,
        bounded_nodes=curves.bounded_nodes,
    )


def make_table_file(draft: LutDraft, size: int | None = None, least: int = 0) -> LutFile:
    """Write a draft as a three-dimensional table; see `make_lut_file`.

    Parameters
    ----------
    least
        Points that it has at the least where no size is asked for; another of its set needs them.
    """
    recipe, colours = draft.recipe, draft.colours
    correction, title = recipe.correction, write_title(recipe, draft.stem)
    check_cube_holds(correction)
    baked = bake_table(correction, colours, size, title, describe_draft(draft), least)
    needed = baked.size if baked.met else _find_needed_size(correction, colours.codes, baked)
    return LutFile(
        file_name=name_lut_file(recipe, draft.stem, str(baked.size), "cube", baked.data),
        draft=draft,
        format="cube",
        form=TABLE,
        data=baked.data,
        size=baked.size,
        size_asked=size is not None,
        error=baked.error,
        met=baked.met,
        needed_size=needed,
        bounded_nodes=baked.bounded_nodes,
        cube=baked.cube,
    )


def even_sizes(files: Sequence[LutFile]) -> dict[str, LutFile]:
    """Give the tables of a set one size: the largest that one of them needs.

    Tables whose size somebody asked for keep theirs.

    Returns
    -------
    dict
        What takes the place of a file, by that one's name; nothing where all are of one size.
    """
    size = find_even_size(files)
    smaller = [each for each in _list_free_tables(files) if each.size != size]
    return {
        each.file_name: replace(make_table_file(each.draft, size), size_asked=False)
        for each in smaller
    }


def find_even_size(files: Sequence[LutFile]) -> int:
    """Find the points of the largest table of a set that nobody asked a size of; 0 for none."""
    return max((each.size or 0 for each in _list_free_tables(files)), default=0)


def _list_free_tables(files: Sequence[LutFile]) -> list[LutFile]:
    return [each for each in files if each.form == TABLE and not each.size_asked]


def check_cube_holds(correction: LinearCorrection) -> None:
    """Refuse a `.cube` of what its domain, 0 to 1, does not hold.

    Raises
    ------
    InputError
        For scene light, which goes on over 1.
    """
    if is_light(correction.encoding):
        raise InputError(
            "scene-linear light, which a .cube would cut at 1.0",
            "the format clf, which takes all light, or files in a log encoding",
        )


def bake_table(
    correction: LinearCorrection,
    colours: SceneColours,
    size: int | None,
    title: str,
    comments: Sequence[str],
    least: int = 0,
) -> BakedLut:
    """Bake a 3D table of a size, or of the smallest that is good enough, and measure it whole."""
    samples = prepare_samples(correction, colours.codes)
    labels: dict[str, Any] = {
        "title": title,
        "comments": comments,
        "trials": draw_trials(correction, colours.linear),
    }
    if size is None:
        smaller = (n for n in SIZES[:-1] if n >= least)
        size = next(
            (n for n in smaller if is_under(correction, samples, n, LIMIT_CODES)), SIZES[-1]
        )
    source = correction.encoding
    fit_on = scene_codes(source, find_plain_rgb(source, colours.whites))
    return bake_at_size(correction, samples, size, LIMIT_CODES, fit_on=fit_on, **labels)


def write_title(recipe: Recipe, stem: str) -> str:
    """Write what a LUT is on one line."""
    source, target = recipe.correction.encoding, recipe.correction.target
    offset = say_offset(recipe.up_stops) if recipe.up_stops else ""
    said = (stem, recipe.kind, recipe.start, "to", recipe.end, offset, source.curve, source.gamut)
    after = () if target is None else ("into", target.curve, target.gamut)
    return " ".join(part for part in (*said, *after) if part)


def describe_draft(draft: LutDraft) -> tuple[str, ...]:
    """Say for a header what a LUT is, in words and so that `lut.remake` can make it again."""
    recipe, camera_name = draft.recipe, draft.camera_name
    correction = recipe.correction
    source, target = correction.encoding, correction.target
    stated = {
        "kind": recipe.kind,
        "from": make_plain(recipe.start),
        "to": make_plain(recipe.end),
        "camera": make_plain(camera_name),
        "stem": draft.stem,
        "in": [source.curve, source.gamut, source.levels, source.ei],
        "out": None if target is None else [target.curve, target.gamut, target.levels, target.ei],
        "keep": recipe.keep,
        "cost_stops": round(recipe.cost_stops, 6),
        "up_stops": round(recipe.up_stops, 6),
        "matrix": [float(f"{each:.{_DIGITS}g}") for each in correction.matrix.ravel()],
        "monitor": None if recipe.monitor is None else asdict(recipe.monitor),
        "bend": None if correction.bend is None else correction.bend.state(),
        "whites": draft.colours.whites.tolist(),
    }
    return (
        f"{KIND_WORDS[recipe.kind]}, made by wbplan {__version__}.",
        f"From {recipe.start} to {recipe.end}, camera profile {camera_name}.",
        f"Level kept: {LEVEL_WORDS[recipe.keep]}, {recipe.cost_stops:.2f} stops darker.",
        *([f"Exposure: {say_offset(recipe.up_stops)}."] if recipe.up_stops else []),
        *draft.remarks,
        f"{RECIPE_WORD} {json.dumps(stated)}",
    )


def say_offset(stops: float) -> str:
    """Say an exposure offset: 'up 0.7 stop'."""
    unit = "stop" if abs(stops) <= 1 else "stops"
    return f"{'up' if stops > 0 else 'down'} {abs(stops):g} {unit}"


def say_megabytes(size: int) -> str:
    """Say how large a table's file is: 27 bytes for each node [MB]."""
    return f"{27 * size**3 / 1e6:.2g} MB"


def _find_needed_size(correction: LinearCorrection, codes: Array, baked: BakedLut) -> int | None:
    """Find the next size that is good enough, if any is; far from it, none is tried."""
    if baked.error.worst_codes > _HOPELESS_CODES:
        return None
    samples = prepare_samples(correction, codes)
    larger = (size for size in CUBE_SIZES if size > baked.size)
    return next((n for n in larger if is_under(correction, samples, n, LIMIT_CODES)), None)


def name_lut_file(recipe: Recipe, stem: str, size: str, ending: str, data: bytes) -> str:
    """Name a file after its setup, kind, from, to, encoding, size and contents.

    The last part is the beginning of the SHA-256 of its bytes: two LUTs that differ in anything
    (camera, gamut, position, level kept, the setting shot at) have two names.
    """
    source, target = recipe.correction.encoding, recipe.correction.target
    encoding = name_encoding(source)
    if recipe.monitor is not None:
        encoding += f"-to-{name_monitor(recipe.monitor)}"
    elif (
        target is not None
        and name_encoding(target) + target.gamut != name_encoding(source) + source.gamut
    ):
        encoding += f"-to-{name_encoding(target)}"
    ends: tuple[str, ...] = (_name_end(recipe.start), _name_end(recipe.end))
    if recipe.up_stops:
        ends = (*ends, say_offset(recipe.up_stops).rpartition(" ")[0].replace(" ", ""))
    parts = [stem, recipe.kind, *ends, encoding, size, digest_bytes(data)[:CODE_DIGITS]]
    return "_".join(part for part in parts if part) + f".{ending}"


def name_monitor(monitor: Monitor) -> str:
    """Name what a view is for: its screen, its white if not the usual, its levels if not full."""
    white = monitor.luminance
    other = "" if white == SCREENS[monitor.screen] else f"-{white:g}cd"
    levels = "" if monitor.levels == "full" else f"-{monitor.levels}"
    return monitor.screen + other + levels


def _name_end(words: str) -> str:
    place, _, setting = words.rpartition(", ")
    if place:
        return f"{make_safe_name(place)}-{_name_end(setting)}"
    # A setting such as 4350K-magenta2.5CC keeps its capitals and its point, as other files have it.
    plain = all(ch.isascii() and (ch.isalnum() or ch in " .") for ch in words)
    return words.replace(" ", "-") if plain and len(words) < 40 else make_safe_name(words)


def name_encoding(encoding: Encoding) -> str:
    """Name an encoding for a file: its curve, its EI, and its levels if they are not full range."""
    levels = "" if encoding.levels == "full" else f"-{encoding.levels}"
    ei = "" if encoding.ei is None else f"-ei{encoding.ei}"
    return make_safe_name(encoding.curve) + ei + levels
