"""`wbplan lut` and `wbplan apply`: a LUT without a scenario, and a look at one on a still."""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import cast

import numpy as np

from wbplan import __version__
from wbplan.camera.sensitivities import CameraProfile
from wbplan.camera.setting import CameraView
from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.errors import InputError, Place, describe_choices
from wbplan.core.names import make_safe_name
from wbplan.core.output import check_file, write_file
from wbplan.core.tables import Array
from wbplan.front.still import Way, apply_lut, load_lut
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.light.spectrum import Spectrum
from wbplan.lut.correction import Shot
from wbplan.lut.file import LutFile, Recipe, make_lut_file
from wbplan.lut.match import find_light_setting
from wbplan.lut.recipes import (
    add_monitor,
    build_codes,
    make_correction,
    match_cameras,
    match_lights,
    reduce_to_gains,
    view_plainly,
)
from wbplan.planning.casts import name_setting
from wbplan.planning.luts import MONITOR_SIZE, LutJob
from wbplan.read.catalogue import find_camera, find_source
from wbplan.read.gather import find_scenario_light
from wbplan.read.pictures import encode_still, load_still
from wbplan.report.base.words import say_percent, say_significant
from wbplan.report.lut.words import list_readings
from wbplan.scene.cautions import say_sun_caution
from wbplan.scene.luts import CUBE_SIZES, FORMATS, LutFormat
from wbplan.scene.setup import Keep

_SETTING = re.compile(
    r"\s*(?P<kelvin>\d+(\.\d+)?)\s*K?(\s*,?\s*(?P<side>magenta|green)\s*(?P<cc>\d+(\.\d+)?)\s*"
    r"(CC)?)?\s*",
    re.IGNORECASE,
)
_MOST_CC = 200.0
_NOTHING = 1e-6  # codes or stops: rounding, not an error


def run_lut(options: argparse.Namespace, watch: Callable[[list[LutJob]], Iterable[LutJob]]) -> None:
    """Make the files that `wbplan lut` asks for."""
    camera = view_plainly(find_camera(options.camera, Path()))
    encoding = _choose_encoding(options, camera.profile)
    formats = _read_formats(options.format)
    size = options.size
    if size is not None and size not in CUBE_SIZES:
        allowed = ", ".join(str(each) for each in CUBE_SIZES)
        raise InputError(str(size), f"one of {allowed}", Place(field="--size"))
    if size is None and options.kind == "monitor":
        size = MONITOR_SIZE
    recipe, shot, lights, cautions = _make_recipe(options, camera, encoding)
    codes = build_codes(shot, lights)
    digest = _digest(camera.profile, recipe)
    folder = Path(options.out)
    stem = make_safe_name(camera.profile.name)
    jobs = [LutJob(recipe, each, size) for each in formats]
    made = [
        make_lut_file(
            recipe, job.format, job.size, codes, stem, digest, camera.profile.name, cautions
        )
        for job in watch(jobs)
    ]
    for each in made:
        check_file(folder / each.file_name, options.force)
    for each in made:
        write_file(folder / each.file_name, each.data, options.force)
        print(describe_lut(each, folder))
    for text in cautions:
        print(f"  caution: {text}")


def run_apply(options: argparse.Namespace) -> None:
    """Apply a LUT to a still, as `wbplan apply` asks."""
    target = Path(options.output)
    check_file(target, options.force)
    read = load_lut(Path(options.lut), cast(Way, options.read))
    pixels = load_still(Path(options.input))
    picture = apply_lut(pixels, read, beside=not options.after_only)
    data, held = encode_still(picture, target, sixteen_bits=pixels.dtype != np.uint8)
    write_file(target, data, options.force)
    shown = "after" if options.after_only else "before on the left, after on the right"
    print(f"Written to {target}: {shown}")
    if held:
        print(
            f"{say_percent(held)} of the pixels lay outside 0 to 1 and were held there",
            file=sys.stderr,
        )
    if target.suffix.lower() == ".png" and pixels.dtype != np.uint8:
        print("8 bits are kept in a PNG; a .tif keeps 16", file=sys.stderr)


def describe_lut(made: LutFile, folder: Path) -> str:
    """Say what was written and how far it is from exact."""
    lines = [f"{folder / made.file_name}", f"  {made.recipe.start} to {made.recipe.end}"]
    lines[-1] += f", {made.form}" + (f" of {made.size} points" if made.size else "")
    level = "level of green kept" if made.recipe.keep == "green" else "no channel of a grey raised"
    codes = made.source.words if made.error else f"scene-linear values, {made.source.gamut}"
    lines.append(f"  in: {codes}; {level}, {made.recipe.cost_stops:.2f} stops darker")
    if made.recipe.correction.target is not None:
        lines.append(f"  out: {made.target.words}")
    if made.error is not None:
        for name, error in list_readings(made.error, made.form):
            lines.append(
                f"  {name + ':':34s}worst {_say(error.worst_codes)} ten-bit codes "
                f"({_say(error.worst_stops)} stops), mean {_say(error.mean_codes)}, "
                f"over one code {say_percent(error.over_one_percent)}"
            )
        lines.append(
            f"  of the scene-like colours {say_percent(made.error.scene_clipped_percent)} end over "
            f"code 1; {say_percent(made.error.scene_out_of_gamut_percent)} lie outside the gamut, "
            "where no table is right, and are not in the errors"
        )
    else:
        lines.append("  for scene-linear values only: on log codes it is wrong")
    if not made.met:
        size = made.needed_size
        better = f"{size} points stay under it" if size else "a .clf has no such error"
        lines.append(f"  more than one code: {better}")
    match = made.recipe.match
    if match is not None:
        before, after = match.before, match.after
        lines.append(
            f"  CIEDE2000 on {match.n_surfaces} surfaces it was not fitted on (mean, 95 %, worst): "
            f"before {before.mean:.1f}, {before.high:.1f}, {before.worst:.1f}; "
            f"after {after.mean:.1f}, {after.high:.1f}, {after.worst:.1f}"
        )
        if match.lost:
            names = ", ".join(f"{each.name} ({each.after:.1f})" for each in match.lost)
            lines.append(f"  no LUT can bring back: {names}")
    against = made.recipe.against_exact
    if against is not None:
        lines.append(
            f"  colours against the full correction, CIEDE2000 (mean, 95 %, worst): "
            f"{against.mean:.1f}, {against.high:.1f}, {against.worst:.1f}"
        )
    return "\n".join(lines)


def _say(value: float) -> str:
    return say_significant(value if value > _NOTHING else 0.0, 2)


def read_setting(text: str, field: str) -> tuple[float, float]:
    """Read '5600', '5600K' or '4350 magenta 2' as (mired, tint CC)."""
    hit = _SETTING.fullmatch(text)
    kelvin = float(hit["kelvin"]) if hit else 0.0
    cc = float(hit["cc"] or 0.0) if hit else 0.0
    low, high = LOCUS_RANGE_KELVIN
    if hit is None or not low <= kelvin <= high or cc > _MOST_CC:
        allowed = f"a setting such as 5600 or '4350 magenta 2', from {low:.0f} to {high:.0f} K"
        raise InputError(f"'{text}'", allowed, Place(field=field))
    return 1e6 / kelvin, cc if (hit["side"] or "").lower() != "green" else -cc


def _make_recipe(
    options: argparse.Namespace, camera: CameraView, encoding: Encoding
) -> tuple[Recipe, Shot, Array, tuple[str, ...]]:
    """Work the recipe out: it, the picture it is for, the lights it is tried on, and cautions."""
    keep = cast(Keep, options.keep)
    if options.kind in ("light-match", "camera-match"):
        light = _find_light(options.start, "--from")
        known = [light]
        given = options.shot_at
        bare = light.values
        setting = read_setting(given, "--shot-at") if given else find_light_setting(camera, bare)
        shot = Shot(camera, encoding, setting, keep)
        if options.kind == "light-match":
            if options.end is None:
                raise InputError("no --to", "a light, by name or Kelvin", Place(field="--to"))
            wanted = _find_light(options.end, "--to")
            known.append(wanted)
            names = (_name_light(options.start), _name_light(options.end))
            recipe = match_lights(shot, (bare, wanted.values), names)
        else:
            if options.like is None:
                raise InputError("no --like", "a camera profile", Place(field="--like"))
            like = view_plainly(find_camera(options.like, Path()))
            recipe = match_cameras(shot, like, bare)
        return recipe, shot, bare[None], say_sun_caution(known)
    if options.end is None:
        raise InputError("no --to", "the wanted setting", Place(field="--to"))
    shot_at = read_setting(options.start, "--from")
    wanted_at = read_setting(options.end, "--to")
    shot = Shot(camera, encoding, shot_at, keep)
    start, end = (name_setting(1e6 / mired, tint) for mired, tint in (shot_at, wanted_at))
    lights = radiate_locus(np.array([1e6 / shot_at[0], 1e6 / wanted_at[0]]))
    correction, cost = make_correction(shot, wanted_at)
    if options.kind == "gains":
        recipe = reduce_to_gains(shot, correction, lights, (start, end))
    elif options.kind == "monitor":
        recipe = add_monitor(correction, (start, end), keep, cost)
    else:
        recipe = Recipe("correct", start, end, correction, keep, cost)
    return recipe, shot, lights, ()


def _name_light(name: str) -> str:
    """Name a light without the folders of the scenario that it comes from."""
    file, colon, source = name.rpartition(":")
    return f"{source.strip()} of {Path(file).stem}" if colon and Path(file).suffix else name


def _find_light(name: str, field: str) -> Spectrum:
    """Find a light by a source's name, a Kelvin on the locus, or SCENARIO.yaml:SOURCE."""
    if re.fullmatch(r"\s*\d+(\.\d+)?\s*K?\s*", name, re.IGNORECASE):
        power = radiate_locus(np.array(1e6 / read_setting(name, field)[0]))
        return Spectrum(power, name, "reference locus", is_model=True)
    file, _, source = name.rpartition(":")
    if Path(file).suffix.lower() in (".yaml", ".yml"):
        return find_scenario_light(file, source).spectrum
    try:
        return find_source(name)
    except InputError as error:
        raise error.at(Place(field=field)) from None


def _choose_encoding(options: argparse.Namespace, profile: CameraProfile) -> Encoding:
    curve = options.encoding or profile.curve
    gamut = options.gamut or profile.gamut
    own = find_encoding(profile.curve, profile.gamut)
    named = find_encoding(curve, gamut, options.range)
    if options.gamut is None and named.curve != own.curve:
        raise InputError(
            f"--encoding {named.curve} alone",
            f"--gamut beside it: which colours its channels are ({profile.name} has "
            f"{own.curve}, {own.gamut})",
            Place(field="--gamut"),
        )
    return named


def _read_formats(text: str) -> tuple[LutFormat, ...]:
    names = [each.strip() for each in text.split(",") if each.strip()]
    for name in names or [text]:
        if name not in FORMATS:
            raise InputError(f"'{name}'", describe_choices(name, FORMATS), Place(field="--format"))
    return tuple(dict.fromkeys(cast(LutFormat, name) for name in names))


def _digest(profile: CameraProfile, recipe: Recipe) -> str:
    correction = recipe.correction
    said = (
        *(__version__, profile.name, recipe.kind, recipe.start, recipe.end, recipe.keep),
        *(correction.encoding.words, correction.into.words),
    )
    state = hashlib.sha256(repr(said).encode())
    state.update(profile.sensitivities.astype("<f4").tobytes())
    state.update(correction.matrix.astype("<f4").tobytes())
    return state.hexdigest()
