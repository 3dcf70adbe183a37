"""How LUTs and their errors are listed on a page: by what was read, and how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wbplan.lut.bake import LutError, ReadingError
from wbplan.lut.file import CLF_CODES, LIMIT_CODES, TABLE, LutFile, say_megabytes, say_offset
from wbplan.lut.kinds import TRIAL_WORDS, KindReading, TrialKind
from wbplan.report.base.words import say_error
from wbplan.scene.luts import KIND_WORDS

KINDS = tuple(TRIAL_WORDS)


@dataclass(frozen=True)
class LutRow:
    """One LUT in the table of LUTs."""

    name: str
    does: str
    form: str
    trilinear: str
    tetrahedral: str
    sha256: str


def list_readings(error: LutError, form: str = TABLE) -> list[tuple[str, ReadingError]]:
    """List errors with what they are of; a form that is read in one way gives one line for each."""
    ways = ("trilinear", "tetrahedral")
    listed = []
    for what, readings in (
        ("scene-like colours", error.scene_like),
        ("grey ramp", error.grey_ramp),
    ):
        if readings is not None and form == TABLE:
            pairs = zip(ways, readings, strict=True)
            listed += [(f"{what}, {way}", each) for way, each in pairs]
        elif readings is not None:
            listed.append((what, readings[0]))
    return listed


def list_kinds(error: LutError, form: str = TABLE) -> list[tuple[str, KindReading]]:
    """List errors by kinds of colours, with what they are of, as `list_readings`."""
    listed = []
    for each in error.kinds:
        what = TRIAL_WORDS[each.kind]
        if form == TABLE:
            listed.append((f"{what}, trilinear", each.trilinear))
            listed.append((f"{what}, tetrahedral", each.tetrahedral))
        else:
            listed.append((what, each.trilinear))
    return listed


def list_worst(file: LutFile) -> list[str]:
    """List the worst error on each kind of colours, in their order, of either way of reading."""
    kinds = {} if file.error is None else {each.kind: each for each in file.error.kinds}
    return [f"{say_error(kinds[each].worst_codes)}" if each in kinds else "none" for each in KINDS]


def say_met(error: LutError, form: str = TABLE, has_exact_form: bool = True) -> str:
    """Say for which colours a file stays under one code, for which not, and what would."""
    return _say_met([(error, form, has_exact_form)])


def say_met_by_all(files: Sequence[LutFile]) -> str:
    """Say the same of all files of a set together."""
    return _say_met(
        [(each.error, each.form, each.has_exact_form) for each in files if each.error is not None]
    )


def _say_met(errors: Sequence[tuple[LutError, str, bool]]) -> str:
    worst: dict[TrialKind, float] = {}
    for error, _, _ in errors:
        for each in error.kinds:
            worst[each.kind] = max(worst.get(each.kind, 0.0), each.worst_codes)
    under = [TRIAL_WORDS[kind] for kind, codes in worst.items() if codes < LIMIT_CODES]
    over = {kind: codes for kind, codes in worst.items() if codes >= LIMIT_CODES}
    said = [f"Under one code: {', '.join(under)}."] if under else []
    if over:
        each_one = (f"{TRIAL_WORDS[kind]} (up to {say_error(each)})" for kind, each in over.items())
        said.append(f"Not: {', '.join(each_one)}.")
    mended = any(form == TABLE and has_exact_form for _, form, has_exact_form in errors)
    if mended and "coloured-light" in over:
        said.append(
            "For coloured light load the .clf, not the table: it is off by "
            f"{CLF_CODES:g} codes at most, the table by up to {say_error(over['coloured-light'])}, "
            "and no size of table mends that at the gamut's edge."
        )
    elif mended and "coded-negatives" in over:
        said.append("No size of table mends that at the gamut's edge: use a .clf there.")
    return " ".join(said)


def list_luts(files: Sequence[LutFile]) -> tuple[LutRow, ...]:
    """List LUTs with their worst reading errors on colours of the scene."""
    rows = []
    for file in files:
        recipe, error = file.recipe, file.error
        does = KIND_WORDS[recipe.kind]
        if file.draft.camera_name != files[0].draft.camera_name:
            does += f", for {file.draft.camera_name}"
        if recipe.up_stops:
            does += f", {say_offset(recipe.up_stops)}"
        said = ["exact", "exact"]
        if error is not None and error.scene_like is None:
            said = ["no colours in gamut"] * 2
        elif error is not None and error.scene_like is not None:
            said = [say_error(each.worst_codes) for each in error.scene_like]
        if error is not None and file.form != TABLE:
            said[1] = "read one way"
        form = f"{file.form}, {file.size} points" if file.size else file.form
        rows.append(LutRow(file.file_name, does, form, said[0], said[1], file.sha256))
    return tuple(rows)


def say_size(files: Sequence[LutFile]) -> str:
    """Say the size of the tables of a set, why it is that, and what it and another cost."""
    tables = [each for each in files if each.form == TABLE]
    sizes = sorted({each.size for each in tables if each.size})
    if not sizes:
        return ""
    total = sum(len(each.data) for each in tables) / 1e6
    many = f"{len(tables)} tables" if len(tables) > 1 else "one table"
    each_one = ", ".join(f"{size} points ({say_megabytes(size)} a file)" for size in sizes)
    said = [f"{each_one}, {many}, {total:.2g} MB in all."]
    over = [each for each in tables if not each.met]
    needed = [each.needed_size for each in over]
    if not over:
        said.append("Under one code on surfaces in this light.")
    elif all(needed):
        most = max(filter(None, needed))
        said.append(
            f"Under one code on surfaces in this light takes {most} points, {say_megabytes(most)} "
            f"a file: --lut-size {most}."
        )
    else:
        said.append("No size keeps every one under one code on surfaces in this light.")
    return " ".join(said)
