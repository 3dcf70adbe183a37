"""How LUTs and their errors are listed on a page: by what was read, and how."""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.lut.bake import LutError, ReadingError
from wbplan.lut.kinds import TRIAL_WORDS, KindReading
from wbplan.planning.decisions import SetupPlan
from wbplan.report.base.words import say_error
from wbplan.scene.luts import KIND_WORDS

_SOLID = "3D table"


@dataclass(frozen=True)
class LutRow:
    """One LUT in the table of LUTs."""

    name: str
    does: str
    form: str
    trilinear: str
    tetrahedral: str
    sha256: str


def list_readings(error: LutError, form: str = _SOLID) -> list[tuple[str, ReadingError]]:
    """List errors with what they are of; a form that is read in one way gives one line for each."""
    ways = ("trilinear", "tetrahedral")
    listed = []
    for what, readings in (
        ("scene-like colours", error.scene_like),
        ("grey ramp", error.grey_ramp),
    ):
        if readings is not None and form == _SOLID:
            pairs = zip(ways, readings, strict=True)
            listed += [(f"{what}, {way}", each) for way, each in pairs]
        elif readings is not None:
            listed.append((what, readings[0]))
    return listed


def list_kinds(error: LutError, form: str = _SOLID) -> list[tuple[str, KindReading]]:
    """List errors by kinds of colours, with what they are of, as `list_readings`."""
    listed = []
    for each in error.kinds:
        what = TRIAL_WORDS[each.kind]
        if form == _SOLID:
            listed.append((f"{what}, trilinear", each.trilinear))
            listed.append((f"{what}, tetrahedral", each.tetrahedral))
        else:
            listed.append((what, each.trilinear))
    return listed


def say_met(error: LutError, form: str = _SOLID, has_exact_form: bool = True) -> str:
    """Say for which colours a file stays under one code, for which not, and what would."""
    met = error.list_met()
    under = [TRIAL_WORDS[each.kind] for each in error.kinds if each.kind in met]
    over = [
        f"{TRIAL_WORDS[each.kind]} (up to {say_error(each.worst_codes)})"
        for each in error.kinds
        if each.kind not in met
    ]
    said = [f"Under one code: {', '.join(under)}."] if under else []
    if over:
        said.append(f"Not: {', '.join(over)}.")
    at_edge = {"coloured-light", "coded-negatives"} & {each.kind for each in error.kinds}
    if form == _SOLID and has_exact_form and not at_edge <= set(met):
        said.append("No size of table mends that at the gamut's edge: use a .clf there.")
    return " ".join(said)


def list_luts(plan: SetupPlan) -> tuple[LutRow, ...]:
    """List the LUTs of a setup, the main correction first, with their worst reading errors."""
    rows = []
    if plan.lut is not None:
        baked = plan.lut.baked
        form = f"{_SOLID}, {baked.size} points"
        does = KIND_WORDS["correct"]
        rows.append(_describe(plan.lut.file_name, does, form, baked.error, baked.sha256))
    for file in plan.luts:
        form = f"{file.form}, {file.size} points" if file.size else file.form
        does = KIND_WORDS[file.recipe.kind]
        rows.append(_describe(file.file_name, does, form, file.error, file.sha256))
    return tuple(rows)


def _describe(name: str, does: str, form: str, error: LutError | None, sha256: str) -> LutRow:
    said = ["exact", "exact"]
    if error is not None and error.scene_like is None:
        said = ["no colours in gamut"] * 2
    elif error is not None and error.scene_like is not None:
        said = [say_error(each.worst_codes) for each in error.scene_like]
    if error is not None and not form.startswith("3D"):
        said[1] = "read one way"
    return LutRow(name, does, form, said[0], said[1], sha256)
