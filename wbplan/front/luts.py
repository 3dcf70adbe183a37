"""A LUT without a scene, and a LUT tried on a still, in one call each.

A preview says what a file does, not how a grade looks: pixels are codes and go through the LUT as
they are, in the way of reading that is asked for. Integers are read as codes from 0 to 1;
floating-point pixels are taken as they are.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView
from wbplan.codes.encodings import Encoding, find_encoding, note_ei
from wbplan.codes.table3d import parse_cube, read_tetrahedral, read_trilinear
from wbplan.core.errors import InputError, Place, describe_choices
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note
from wbplan.core.progress import Progress, follow, keep_rising
from wbplan.core.tables import Array
from wbplan.front.cameras import take_camera
from wbplan.front.lights import find_light, name_light
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.light.spectrum import Spectrum
from wbplan.lut.clf import check_installed, make_clf_reader
from wbplan.lut.correction import Shot
from wbplan.lut.file import LutDraft, LutFile, Recipe, make_lut_file, raise_exposure
from wbplan.lut.match import find_light_setting
from wbplan.lut.recipes import (
    add_monitor,
    build_colours,
    make_correction,
    match_cameras,
    match_lights,
    rebuild_colours,
    reduce_to_gains,
    view_plainly,
    write_into,
)
from wbplan.lut.remake import check_rows, read_recipe
from wbplan.lut.table1d import parse_curves, read_curves
from wbplan.planning.casts import name_setting
from wbplan.read.pictures import check_pixels, find_full_scale, load_still, read_whole
from wbplan.scene.cautions import say_sun_caution
from wbplan.scene.luts import (
    CDL_ON,
    FORMATS,
    INTO_KINDS,
    MATCH_MAPS,
    CdlOn,
    LutFormat,
    MatchMap,
    Monitor,
    check_size,
    check_up_stops,
)
from wbplan.scene.setup import Keep

Kind = Literal["correct", "gains", "monitor", "light-match", "camera-match"]
Way = Literal["tetrahedral", "trilinear"]
SettingLike = str | float | tuple[float, float]
"""5600, (4350, 2) for magenta 2 CC, or the same in words: '4350 magenta 2'."""

KINDS: tuple[Kind, ...] = ("correct", "gains", "monitor", "light-match", "camera-match")
WAYS: tuple[Way, ...] = ("tetrahedral", "trilinear")
LUT_ENDINGS = (".cube", ".clf", ".cc", ".ccc", ".cdl")
_SETTING = re.compile(
    r"\s*(?P<kelvin>\d+(\.\d+)?)\s*K?(\s*,?\s*(?P<side>magenta|green)\s*(?P<cc>\d+(\.\d+)?)\s*"
    r"(CC)?)?\s*",
    re.IGNORECASE,
)
_KELVIN = re.compile(r"\s*\d+(\.\d+)?\s*K?\s*", re.IGNORECASE)
_MOST_CC = 200.0
_ROWS_AT_ONCE = 1 << 18  # pixels
_DIVIDER = 4  # columns of grey between before and after


@dataclass(frozen=True, eq=False)
class LutSet:
    """One correction as files, one for each format, and what has to be heeded with them."""

    files: tuple[LutFile, ...]
    cautions: tuple[str, ...] = ()


def make_lut(
    camera: str | os.PathLike[str] | Camera,
    start: SettingLike | Spectrum,
    end: SettingLike | Spectrum | None = None,
    kind: Kind = "correct",
    like: str | os.PathLike[str] | Camera | None = None,
    shot_at: SettingLike | None = None,
    encoding: str | None = None,
    gamut: str | None = None,
    levels: str = "full",
    ei: float | None = None,
    into: Encoding | None = None,
    size: int | None = None,
    keep: Keep = "green",
    formats: Iterable[LutFormat] = ("cube",),
    up_stops: float = 0.0,
    progress: Progress | None = None,
    map: MatchMap = "best",
    cdl_on: CdlOn = "linear",
    monitor: Monitor | None = None,
) -> LutSet:
    """Make one LUT, and measure how far it is from exact.

    Parameters
    ----------
    camera
        A profile, by value, name or path.
    start, end
        Settings from and to: 5600, (4350, 2) for magenta 2 CC, or '4350 magenta 2'. Of a match
        the lights: spectra, what `find_light` takes, or a Kelvin; a camera match has no ``end``.
    kind
        ``correct``; ``gains`` per channel, for a 1D table or a CDL; ``monitor``, corrected and
        shown on a screen; ``light-match``; ``camera-match``.
    like
        For a camera match: the camera whose picture is wanted.
    shot_at
        For a match: the setting shot at; the first light's own if not given.
    encoding, gamut, levels
        Of the files: log curve and gamut, the profile's if not given, and ``full``, ``legal`` or
        ``legal-expanded``.
    ei
        Of the recording, for a curve that is published by EI; the camera's base EI if not given.
    into
        What the picture is written in after, as from `find_encoding`: of kinds ``correct`` and the
        matches. As before if not given, of a camera match as the other camera writes.
    size
        Points of a 3D table: 17, 33, 65, 97 or 129; as many as it needs if not given.
    keep
        The level of ``green``, or ``no_clip``, that no channel clips.
    formats
        Of ``cube``, ``clf``, ``cc``, ``ccc``, ``cdl``.
    up_stops
        How much brighter the picture is made as well [stops], darker below 0.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.
    map
        For a match: the ``best`` map, a polynomial in a table, or the best ``matrix``.
    cdl_on
        What the numbers of a CDL are for: ``linear`` light, or the ``log`` codes of the file.
    monitor
        For kind ``monitor``: the screen, its range and white; a BT.1886 one if not given.

    Returns
    -------
    LutSet
        A file for each format, with its bytes and its measured error; nothing is written.

    Raises
    ------
    InputError
        For what cannot be used, or a format that cannot hold the correction, with its field.

    Examples
    --------
    >>> import wbplan
    >>> made = wbplan.make_lut("cfa-mid", 5600, (3200, 3.0), size=33)
    >>> made.files[0].file_name.rsplit("_", 1)[0]  # what follows is of the bytes' digest
    'cfa-mid_correct_5600K_3200K-magenta3CC_acescct_33'
    >>> [each.kind for each in made.files[0].error.kinds if each.worst_codes > 20]
    ['coloured-light', 'coded-negatives']
    """
    if kind not in KINDS:
        raise InputError(f"'{kind}'", describe_choices(kind, KINDS), Place(field="kind"))
    if cdl_on not in CDL_ON:
        raise InputError(f"'{cdl_on}'", describe_choices(cdl_on, CDL_ON), Place(field="cdl_on"))
    if map not in MATCH_MAPS:
        raise InputError(f"'{map}'", describe_choices(map, MATCH_MAPS), Place(field="map"))
    if monitor is not None and kind != "monitor":
        raise InputError(f"a '{kind}' LUT for a screen", "kind monitor", Place(field="monitor"))
    view = view_plainly(take_camera(camera))
    codes_of, said = _choose_encoding(view.profile, encoding, gamut, levels, ei)
    chosen = _check_formats(formats)
    check_size(size)
    check_up_stops(up_stops)
    if kind in ("light-match", "camera-match"):
        made = _make_match(kind, view, (start, end), like, shot_at, codes_of, keep, map)
    else:
        made = _make_change(kind, view, (start, end), codes_of, keep, monitor or Monitor())
    recipe, shot, lights, cautions = made
    if into is not None:
        if kind not in INTO_KINDS:
            allowed = "kinds " + ", ".join(each for each in INTO_KINDS if each in KINDS)
            raise InputError(f"a '{kind}' LUT into another encoding", allowed, Place(field="into"))
        recipe = write_into(recipe, into)
    cautions = (*(each.text for each in said), *cautions)
    name = view.profile.name
    draft = LutDraft(
        raise_exposure(recipe, up_stops),
        build_colours(shot, lights),
        make_safe_name(name),
        name,
        cautions,
    )
    files = [
        make_lut_file(draft, each, size, cdl_on)
        for each in follow(chosen, keep_rising(progress), "LUTs")
    ]
    return LutSet(tuple(files), cautions)


def remake_lut(
    path: str | os.PathLike[str],
    size: int | None = None,
    formats: Iterable[LutFormat] | None = None,
    up_stops: float = 0.0,
    progress: Progress | None = None,
) -> LutSet:
    """Make a LUT again from the header of one that was written here.

    Parameters
    ----------
    path
        A .cube or .clf. The rows of a .cube are made again and compared.
    size, formats
        As of `make_lut`; the size and format of the file if none is given.
    up_stops
        How much brighter than the file [stops].
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    LutSet
        Of the same correction. Errors are measured on surfaces as the eye sees them under the
        lights that the header names, since the camera is not at hand.

    Raises
    ------
    InputError
        For a file that says nothing of itself, or whose rows were changed.
    """
    given = Path(path)
    place, data = Place(str(given)), read_whole(given)
    ending = given.suffix.lower()
    if ending not in (".cube", ".clf"):
        raise InputError(f"'{given.suffix}'", "a .cube or a .clf", place)
    check_size(size)
    check_up_stops(up_stops)
    stated = read_recipe(data, place)
    if ending == ".cube":
        own = check_rows(data, stated, place)
        size = size or own
    chosen = _check_formats((cast(LutFormat, ending[1:]),) if formats is None else formats)
    source = stated.recipe.correction.encoding
    colours = rebuild_colours(source, stated.whites)
    remark = f"Made again from {given.name}; errors are on surfaces as the eye sees them."
    recipe = raise_exposure(stated.recipe, up_stops)
    draft = LutDraft(recipe, colours, stated.stem, stated.camera_name, (remark,))
    files = [
        make_lut_file(draft, each, size) for each in follow(chosen, keep_rising(progress), "LUTs")
    ]
    return LutSet(tuple(files))


def read_setting(given: SettingLike | Spectrum, field: str) -> tuple[float, float]:
    """Read 5600, (4350, 2), '5600K' or '4350 magenta 2' as (mired, tint CC)."""
    if isinstance(given, str):
        hit = _SETTING.fullmatch(given)
        kelvin = float(hit["kelvin"]) if hit else 0.0
        size = float(hit["cc"] or 0.0) if hit else 0.0
        cc = -size if hit and (hit["side"] or "").lower() == "green" else size
    elif isinstance(given, tuple) and len(given) == 2:
        kelvin, cc = float(given[0]), float(given[1])
    else:
        kelvin, cc = (0.0, 0.0) if isinstance(given, Spectrum | tuple) else (float(given), 0.0)
    low, high = LOCUS_RANGE_KELVIN
    if not low <= kelvin <= high or not abs(cc) <= _MOST_CC:
        said = f"'{given.name if isinstance(given, Spectrum) else given}'"
        allowed = f"a setting such as 5600 or '4350 magenta 2', from {low:.0f} to {high:.0f} K"
        raise InputError(said, allowed, Place(field=field))
    return 1e6 / kelvin, cc


_Made = tuple[Recipe, Shot, Array, tuple[str, ...]]


def _make_match(
    kind: Kind,
    camera: CameraView,
    ends: tuple[SettingLike | Spectrum, SettingLike | Spectrum | None],
    like: str | os.PathLike[str] | Camera | None,
    shot_at: SettingLike | None,
    encoding: Encoding,
    keep: Keep,
    by: MatchMap,
) -> _Made:
    """Make a match: the recipe, the picture it is for, the lights it is tried on, and cautions."""
    start, end = ends
    light = _take_light(start, "start")
    bare = light.values
    setting = (
        find_light_setting(camera, bare) if shot_at is None else read_setting(shot_at, "shot_at")
    )
    shot = Shot(camera, encoding, setting, keep)
    if kind == "camera-match":
        if like is None:
            raise InputError("no camera to match", "a camera profile", Place(field="like"))
        other = view_plainly(take_camera(like))
        recipe = match_cameras(shot, other, bare, by)
        return recipe, shot, bare[None], say_sun_caution([light])
    if end is None:
        raise InputError("no light to match", "a light, by name or Kelvin", Place(field="end"))
    wanted = _take_light(end, "end")
    names = (_name_end(start), _name_end(end))
    recipe = match_lights(shot, (bare, wanted.values), names, by)
    return recipe, shot, bare[None], say_sun_caution([light, wanted])


def _make_change(
    kind: Kind,
    camera: CameraView,
    ends: tuple[SettingLike | Spectrum, SettingLike | Spectrum | None],
    encoding: Encoding,
    keep: Keep,
    monitor: Monitor,
) -> _Made:
    """Make a change of setting, likewise."""
    start, end = ends
    if end is None:
        raise InputError("no setting to go to", "the wanted setting", Place(field="end"))
    shot_at, wanted_at = read_setting(start, "start"), read_setting(end, "end")
    before, after = (name_setting(1e6 / mired, tint) for mired, tint in (shot_at, wanted_at))
    lights = radiate_locus(np.array([1e6 / shot_at[0], 1e6 / wanted_at[0]]))
    shot = Shot(camera, encoding, shot_at, keep)
    correction, cost = make_correction(shot, wanted_at)
    if kind == "gains":
        recipe = reduce_to_gains(shot, correction, lights, (before, after))
    elif kind == "monitor":
        recipe = add_monitor(correction, (before, after), keep, cost, monitor)
    else:
        recipe = Recipe("correct", before, after, correction, keep, cost)
    return recipe, shot, lights, ()


def _take_light(given: SettingLike | Spectrum, field: str) -> Spectrum:
    """Take a light: a spectrum, a Kelvin on the reference locus, or what `find_light` takes."""
    if isinstance(given, Spectrum):
        return given
    if not isinstance(given, str) or _KELVIN.fullmatch(given):
        power = radiate_locus(np.array(1e6 / read_setting(given, field)[0]))
        return Spectrum(power, str(given), "reference locus", is_model=True)
    try:
        return find_light(given)
    except InputError as error:
        raise error if error.place.file else error.at(Place(field=field)) from None


def _name_end(given: SettingLike | Spectrum) -> str:
    if isinstance(given, Spectrum):
        return given.name or "light"
    return name_light(given) if isinstance(given, str) else f"{given:g}"


def _choose_encoding(
    profile: Camera, curve: str | None, gamut: str | None, levels: str, ei: float | None
) -> tuple[Encoding, tuple[Note, ...]]:
    own = find_encoding(profile.curve, profile.gamut)
    shot = profile.base_ei if ei is None else ei
    named = find_encoding(curve or profile.curve, gamut or profile.gamut, levels, shot)
    if gamut is None and named.curve != own.curve:
        raise InputError(
            f"the curve {named.curve} alone",
            f"a gamut beside it: which colours its channels are ({profile.name} has "
            f"{own.curve}, {own.gamut})",
            Place(field="gamut"),
        )
    return named, note_ei(named, shot)


def _check_formats(formats: Iterable[LutFormat]) -> tuple[LutFormat, ...]:
    names = (formats,) if isinstance(formats, str) else tuple(dict.fromkeys(formats))
    for name in names or ("nothing",):
        if name not in FORMATS:
            raise InputError(f"'{name}'", describe_choices(name, FORMATS), Place(field="formats"))
    return cast(tuple[LutFormat, ...], names)


def apply_lut(
    lut: LutFile | str | os.PathLike[str],
    picture: NDArray[Any] | str | os.PathLike[str],
    way: Way = "tetrahedral",
    beside: bool = False,
    progress: Progress | None = None,
) -> Array:
    """Apply a LUT to a picture.

    Parameters
    ----------
    lut
        A .cube, .clf, .cc, .ccc or .cdl file, or one that `make_lut` or a plan holds.
    picture
        A PNG, TIFF, EXR or DPX, or pixels (rows, columns), (rows, columns, 3 or 4): integers of 8
        or 16 bits, codes from 0 to 1 as they are counted, or floating point, codes as they are.
    way
        Between the points of a 3D table: ``tetrahedral`` or ``trilinear``.
    beside
        Put the picture as it was beside it, on the left.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    ndarray
        (rows, columns, 3 or 4) codes, 1 for the largest integer; not bounded.

    Raises
    ------
    InputError
        For a file that cannot be read or is not a LUT, with its place.

    Examples
    --------
    >>> import numpy as np
    >>> import wbplan
    >>> made = wbplan.make_lut("cfa-mid", 5600, (3200, 3.0), size=33)
    >>> grey = np.full((1, 1, 3), 0.5)
    >>> wbplan.apply_lut(made.files[0], grey).round(2)
    array([[[0.46, 0.49, 0.55]]])
    """
    if way not in WAYS:
        raise InputError(f"'{way}'", describe_choices(way, WAYS), Place(field="way"))
    read = _load_lut(lut, way)
    is_file = isinstance(picture, str | os.PathLike)
    pixels = load_still(Path(picture)).pixels if is_file else check_pixels(picture)  # type: ignore[arg-type]
    before = pixels.astype(np.float64) / find_full_scale(pixels)
    flat = before[..., :3].reshape(-1, 3)
    starts = range(0, len(flat), _ROWS_AT_ONCE)
    parts = [
        read(np.ascontiguousarray(flat[start : start + _ROWS_AT_ONCE]))
        for start in follow(starts, keep_rising(progress), "parts of the picture")
    ]
    after = before.copy()
    after[..., :3] = np.concatenate(parts).reshape(before[..., :3].shape)
    if not beside:
        return after
    middle = np.full((before.shape[0], _DIVIDER, before.shape[2]), 0.5)
    middle[..., 3:] = 1.0
    return np.concatenate([before, middle, after], axis=1)


def _load_lut(lut: LutFile | str | os.PathLike[str], way: Way) -> Callable[[Array], Array]:
    """Load a LUT as a function of pixels (m, 3)."""
    path = Path(lut.file_name if isinstance(lut, LutFile) else lut)
    ending = path.suffix.lower()
    place = Place(str(path))
    if ending not in LUT_ENDINGS:
        raise InputError(f"'{path.suffix}'", "a file ending in " + ", ".join(LUT_ENDINGS), place)
    data = lut.data if isinstance(lut, LutFile) else read_whole(path)
    if ending != ".cube":
        check_installed()
        try:
            return make_clf_reader(data, ending)
        except Exception as error:  # the library's own class, which is not imported here
            said = str(error).strip().splitlines()[0][:200]
            raise InputError(f"a file that OpenColorIO refuses ({said})", "a LUT", place) from None
    try:
        text = data.decode("utf-8")  # other writers' comments; rows are plain
    except UnicodeDecodeError:
        raise InputError("bytes that are not UTF-8", "a .cube of plain text", place) from None
    if any(line.startswith("LUT_1D_SIZE") for line in text[:20000].splitlines()):
        curves = parse_curves(text, place)
        return lambda rgb: read_curves(curves, rgb)
    cube = parse_cube(text, place)
    read = read_tetrahedral if way == "tetrahedral" else read_trilinear
    return lambda rgb: read(cube, rgb)
