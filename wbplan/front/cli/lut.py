"""`wbplan lut` and `wbplan apply`: a LUT without a scenario, and a look at one on a still."""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path
from textwrap import wrap
from typing import cast

from wbplan.codes.encodings import Encoding, Levels, find_encoding
from wbplan.core.errors import InputError, Place
from wbplan.core.output import check_file, write_file
from wbplan.core.progress import make_bar
from wbplan.front.cli.options import name_options
from wbplan.front.files import write
from wbplan.front.luts import LutSet, apply_lut, make_lut, remake_lut
from wbplan.lut.cdl import CDL_FORMS, FOR_CODES, FOR_LIGHT
from wbplan.lut.file import LutFile, say_megabytes, say_offset
from wbplan.read.pictures import (
    Attributes,
    Still,
    encode_still,
    list_colour_attributes,
    load_still,
    read_whole,
)
from wbplan.report.base.words import say_percent, say_significant
from wbplan.report.lut.words import list_kinds, list_readings, say_met
from wbplan.scene.luts import Monitor, Screen

REMADE_ENDINGS = (".cube", ".clf")
_NOTHING = 1e-6  # codes or stops: rounding, not an error
_OPTIONS = {
    "start": "--from",
    "end": "--to",
    "like": "--like",
    "shot_at": "--shot-at",
    "gamut": "--gamut",
    "size": "--lut-size",
    "up_stops": "--up",
    "formats": "--format",
}


def run_lut(options: argparse.Namespace) -> None:
    """Make the files that `wbplan lut` asks for."""
    asked = options.format
    formats = None if asked is None else [each.strip() for each in asked.split(",") if each.strip()]
    if Path(options.start).suffix.lower() in REMADE_ENDINGS:
        _refuse_with_file(options)
        with name_options(_OPTIONS):
            made = remake_lut(options.start, options.lut_size, formats, options.up, make_bar())
        _hand_over(made, options)
        return
    if options.camera is None:
        raise InputError("no camera", "a profile's name or path", Place(field="--camera"))
    with name_options(_OPTIONS):
        made = make_lut(
            options.camera,
            options.start,
            options.end,
            "monitor" if options.monitor and options.kind == "correct" else options.kind,
            options.like,
            options.shot_at,
            options.encoding,
            options.gamut,
            options.range,
            options.ei,
            _read_into(options.into),
            options.lut_size,
            options.keep,
            ["cube"] if formats is None else formats,
            options.up,
            make_bar(),
            options.map,
            options.cdl_on,
            _read_monitor(options.monitor),
        )
    _hand_over(made, options)


def _read_into(given: str | None) -> Encoding | None:
    """Read 'LogC3, AWG3, legal, 400' as an encoding."""
    if given is None:
        return None
    place = Place(field="--into")
    words = [each.strip() for each in given.split(",")]
    try:
        ei = float(words[3]) if len(words) == 4 else None
        if not 2 <= len(words) <= 4 or not (ei is None or 0.0 < ei < math.inf):
            raise ValueError
    except ValueError:
        raise InputError(f"'{given}'", "a curve, a gamut, a range and an EI", place) from None
    try:
        return find_encoding(words[0], words[1], words[2] if len(words) > 2 else "full", ei)
    except InputError as error:
        raise error.at(place) from None


def _read_monitor(given: str | None) -> Monitor | None:
    """Read 'pq, legal, 300' as what a view is for."""
    if given is None:
        return None
    place = Place(field="--monitor")
    words = [each.strip() for each in given.split(",")]
    try:
        white = float(words[2]) if len(words) == 3 else None
        if len(words) > 3:
            raise ValueError
    except ValueError:
        raise InputError(f"'{given}'", "a screen, a range and a white in cd/m2", place) from None
    levels = words[1] if len(words) > 1 else "full"
    try:
        return Monitor(cast(Screen, words[0].lower()), cast(Levels, levels.lower()), white)
    except InputError as error:
        raise error.at(place) from None


def _refuse_with_file(options: argparse.Namespace) -> None:
    """Refuse options that say something else than the file that is made again."""
    given = {
        "--camera": options.camera,
        "--to": options.end,
        "--like": options.like,
        "--shot-at": options.shot_at,
        "--encoding": options.encoding,
        "--gamut": options.gamut,
        "--ei": options.ei,
        "--into": options.into,
        "--monitor": options.monitor,
    }
    for name, value in given.items():
        if value is not None:
            allowed = "only --lut-size, --up and --format: the file says the rest"
            raise InputError(f"{name} beside a LUT file", allowed, Place(field=name))


def _hand_over(made: LutSet, options: argparse.Namespace) -> None:
    """Write files and say what they are."""
    folder = Path(options.out)
    write(made, folder, options.force)
    for each in made.files:
        print(describe_lut(each, folder))
    for text in made.cautions:
        print(f"  caution: {text}")


def run_apply(options: argparse.Namespace) -> None:
    """Apply a LUT to a still, as `wbplan apply` asks."""
    target = Path(options.output)
    check_file(target, options.force)
    still = load_still(Path(options.input))
    picture = apply_lut(options.lut, still.pixels, options.read, not options.after_only, make_bar())
    attributes = _list_attributes(Path(options.lut)) if target.suffix.lower() == ".exr" else {}
    data, held = encode_still(picture, target, still, attributes)
    write_file(target, data, options.force)
    shown = "after" if options.after_only else "before on the left, after on the right"
    print(f"Written to {target}: {shown}")
    if held:
        print(
            f"{say_percent(held)} of the pixels lay outside 0 to 1 and were held there",
            file=sys.stderr,
        )
    said = _warn_of_numbers(Path(options.lut), still)
    if said:
        print("\n".join(wrap(f"warning: {said}", 79)), file=sys.stderr)


def _list_attributes(lut: Path) -> Attributes:
    """List what a LUT of ours says of the pixels that it makes, where they are linear."""
    from wbplan.lut.remake import read_recipe

    try:
        correction = read_recipe(read_whole(lut), Place(str(lut))).recipe.correction
    except InputError:  # another writer's
        return {}
    made = correction.target or correction.encoding
    return list_colour_attributes(made) if made.curve == "Linear" else {}


def _warn_of_numbers(lut: Path, still: Still) -> str:
    """Warn where a CDL's numbers are for light and pixels look like codes, or the other way."""
    if lut.suffix.lower().lstrip(".") not in CDL_FORMS:
        return ""
    said = read_whole(lut).decode("utf-8", "replace")
    is_light = still.ending == ".exr"
    if FOR_CODES in said:
        return "these numbers are for log codes, and an EXR mostly holds light" if is_light else ""
    if is_light:
        return ""
    whose = "are for scene-linear light" if FOR_LIGHT in said else "do not say what they are for"
    return (
        f"the numbers of this CDL {whose}, and this picture holds codes, most likely of a log or "
        "display curve: on those a gain for light is wrong (wbplan lut --cdl-on log makes one)"
    )


def describe_lut(made: LutFile, folder: Path) -> str:
    """Say what was written and how far it is from exact."""
    lines = [f"{folder / made.file_name}", f"  {made.recipe.start} to {made.recipe.end}"]
    lines[-1] += f", {made.form}" + (f" of {made.size} points" if made.size else "")
    level = "level of green kept" if made.recipe.keep == "green" else "no channel of a grey raised"
    codes = made.source.words if made.error else f"scene-linear values, {made.source.gamut}"
    offset = f", {say_offset(made.recipe.up_stops)}" if made.recipe.up_stops else ""
    lines.append(f"  in: {codes}; {level}, {made.recipe.cost_stops:.2f} stops darker{offset}")
    if made.recipe.correction.target is not None:
        lines.append(f"  out: {made.target.words}")
    if made.error is not None:
        for name, error in list_readings(made.error, made.form):
            lines.append(
                f"  {name + ':':38s}worst {_say(error.worst_codes)} ten-bit codes "
                f"({_say(error.worst_stops)} stops), mean {_say(error.mean_codes)}, "
                f"over one code {say_percent(error.over_one_percent)}"
            )
        for name, kind in list_kinds(made.error, made.form):
            lines.append(
                f"  {name + ':':38s}worst {_say(kind.worst_codes)} codes, 99.9 % under "
                f"{_say(kind.high_codes)}, mean {_say(kind.mean_codes)}"
            )
        lines += [
            f"  {line}" for line in wrap(say_met(made.error, made.form, made.has_exact_form), 76)
        ]
        lines.append(
            f"  of the scene-like colours {say_percent(made.error.scene_clipped_percent)} end over "
            f"code 1; {say_percent(made.error.scene_out_of_gamut_percent)} lie outside the gamut, "
            "where no table is right, and are not in the errors"
        )
    else:
        lines.append("  for scene-linear values only: on log codes it is wrong")
    if not made.met:
        size = made.needed_size
        better = say_way_out(made)
        if size:
            better = f"{size} points stay under it, {say_megabytes(size)} a file"
        lines.append(f"  more than one code on surfaces in this light: {better}")
    match = made.recipe.match
    if match is not None:
        before, alone, after = match.before, match.matrix, match.after
        bend = made.recipe.correction.bend
        how = "matrix" if bend is None else bend.words
        lines.append(
            f"  CIEDE2000 on {match.n_surfaces} surfaces it was not fitted on (mean, 95 %, worst): "
            f"before {before.mean:.1f}, {before.high:.1f}, {before.worst:.1f}; "
            f"best matrix {alone.mean:.1f}, {alone.high:.1f}, {alone.worst:.1f}; "
            f"this {how} {after.mean:.1f}, {after.high:.1f}, {after.worst:.1f}"
        )
        if match.lost:
            names = ", ".join(f"{each.name} ({each.after:.1f})" for each in match.lost)
            lines.append(
                f"  no LUT can bring back both these and others that look the same before: {names}"
            )
    against = made.recipe.against_exact
    if against is not None:
        lines.append(
            f"  colours against the full correction, CIEDE2000 (mean, 95 %, worst): "
            f"{against.mean:.1f}, {against.high:.1f}, {against.worst:.1f}"
        )
    return "\n".join(lines)


def say_way_out(made: LutFile) -> str:
    """Say what has less error than a table that misses."""
    return "a .clf has no such error" if made.has_exact_form else "no form has less"


def _say(value: float) -> str:
    return say_significant(value if value > _NOTHING else 0.0, 2)
