"""The terminal's lines on mixed light: limits, advice, fixtures, cameras beside."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wbplan.core.names import clean_text
from wbplan.planning.decisions import SetupPlan
from wbplan.report.base.columns import format_rows
from wbplan.report.base.words import say_lux, say_setting
from wbplan.report.mixed import words as mixed

if TYPE_CHECKING:
    from wbplan.planning.advice import Advice, Agreement, ChangePlan, TunedFixture

_INDENT = "   "


def format_mixed(plan: SetupPlan, width: int) -> list[str]:
    """Format what a plan says of limits, changes, fixtures and further cameras; may be empty."""
    lines: list[str] = []
    if plan.tradeoff is not None and plan.tradeoff.ranges:
        common = plan.tradeoff.common
        kept = "no setting keeps them all" if common is None else mixed.say_range(common)
        lines.append(f"{_INDENT}limits  kept at {kept}" if common else f"{_INDENT}limits  {kept}")
    if plan.agreement is not None:
        lines += ["", *_format_agreement(plan.agreement, width)]
    if plan.advice is not None:
        lines += ["", *_format_advice(plan, plan.advice, width)]
    elif plan.setup.wish is not None:
        lines.append(f"{_INDENT}advice  run with --advise to search what to change on the lights")
    return lines


def _format_advice(plan: SetupPlan, advice: Advice, width: int) -> list[str]:
    lines = []
    if advice.plans:
        lines.append(f"{_INDENT}advice  {mixed.say_proof(advice)}")
        rows = [["", "set", "stays", "worst", "costs at key", "change"]]
        for number, each in enumerate(advice.plans):
            rows += _list_plan(number, each, number == advice.suggested)
        lines += format_rows(rows, width=width)
        lines += ["", *_format_places(advice, width)]
        for change in advice.plans[advice.suggested].changes:
            if change.choices:
                said = f"{change.light}: {mixed.say_choices(change)}"
                lines.append(f"{_INDENT}drives  {clean_text(said)}")
        lines += [f"{_INDENT}levels  {each}" for each in _say_ratios(advice)]
    for fixture in advice.fixtures:
        where, lux = mixed.find_key_lux(plan, fixture)
        lines += [
            "",
            f"{_INDENT}tune    {clean_text(fixture.fixture)} to {clean_text(fixture.wanted)}: "
            f"{mixed.say_fixture_left(fixture)}",
            f"{_INDENT}        {clean_text(_say_begin(fixture))}",
            f"{_INDENT}        leaves {say_lux(lux)} at {clean_text(where)}, "
            f"{mixed.say_loss(fixture.loss_stops)} against all channels at full",
        ]
    notes = [f"{_INDENT}{_name(note.weight)}  {clean_text(str(note))}" for note in advice.notes]
    return [*lines, *(["", *notes] if notes else [])]


def _say_begin(fixture: TunedFixture) -> str:
    if fixture.panel:
        return mixed.say_dial(fixture)
    start = mixed.say_start(fixture.cct_kelvin, fixture.duv)
    return f"begin at {start}; {mixed.say_drives(fixture.drives, fixture.drive_steps)}"


def _name(weight: str) -> str:
    return "warning" if weight == "warning" else "note   "


def _list_plan(number: int, plan: ChangePlan, suggested: bool) -> list[list[str]]:
    changes = [
        f"{clean_text(each.light)}: {clean_text(mixed.say_change(each))}"
        + (" (generic)" if each.is_generic else "")
        for each in plan.changes
    ]
    limits = "" if plan.keeps_limits else ", past a limit"
    rows = [
        [
            f"{'>' if suggested else ' '}{number}",
            say_setting(plan.dial),
            mixed.say_size(plan.rms_mired),
            mixed.say_size(plan.worst_mired) + limits,
            mixed.say_loss(plan.key_loss_stops) if changes else "",
            changes[0] if changes else "as it is",
        ]
    ]
    more = [*changes[1:], *([f"({mixed.say_costs(plan)})"] if changes else [])]
    more += [f"({mixed.say_rounding(plan)})"] if plan.rounding_mired is not None else []
    return rows + [["", "", "", "", "", each] for each in more]


def _say_ratios(advice: Advice) -> list[str]:
    chosen = advice.plans[advice.suggested].ratios
    pairs = zip(advice.plans[0].ratios, chosen, strict=True)
    return [
        clean_text(mixed.say_ratio(after))
        + (f"; as it is {mixed.say_proportion(before.ratio)}" if advice.suggested else "")
        for before, after in pairs
    ]


def _format_places(advice: Advice, width: int) -> list[str]:
    first, chosen = advice.plans[0], advice.plans[advice.suggested]
    if first is chosen:
        return []
    rows = [["off from intent", "as it is", f"plan {advice.suggested}", "light there"]]
    for before, after in zip(first.places, chosen.places, strict=True):
        loss = mixed.say_loss(mixed.find_loss(before.lux, after.lux))
        name = clean_text(before.name) + ("" if before.judged else " (not judged)")
        rows.append([name, mixed.say_left(before), mixed.say_left(after), loss])
    return format_rows(rows, width=width)


def _format_agreement(agreement: Agreement, width: int) -> list[str]:
    rows = [["camera", "set", "apart from the first", "worst at"]]
    rows.append([agreement.first, say_setting(agreement.dial), "the first", ""])
    for each in agreement.cameras:
        rows.append(
            [
                clean_text(each.name),
                say_setting(each.dial),
                mixed.say_camera_left(each),
                clean_text(mixed.find_worst_place(each)),
            ]
        )
    return format_rows(rows, width=width)
