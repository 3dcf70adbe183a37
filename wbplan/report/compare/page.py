"""The page of two plans or two days compared: what to do first, then every difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wbplan import __version__
from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.light.surfaces import GREY_ROW, SKIN_ROWS
from wbplan.planning.looks import Look
from wbplan.planning.lut_trial import TriedPlace
from wbplan.record.compare_days import DayComparison, DaySetupChanges
from wbplan.record.compare_plans import Change, Comparison, SetupChanges
from wbplan.record.values import RecordedLut, RecordedSetup
from wbplan.report.base.templates import load_template
from wbplan.report.base.words import say_nd
from wbplan.report.compare import day_words, rows, trial_words, words
from wbplan.report.plan.swatches import write_colour
from wbplan.scene.cautions import SUN

Cells = list[list[str]]


@dataclass(frozen=True)
class ToLoad:
    """What to set and load: a setting as `trial_words.say_dialled` says it, the stop, a LUT and
    whose it is, and how the other record had it set.
    """

    dial: tuple[str, str, str]
    stop: str
    lut: str
    whose: str
    other: str


@dataclass(frozen=True)
class ChipRow:
    """The first place's grey and skins by one way: what it is, and hexadecimal colours."""

    title: str
    colours: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class ComparedSetup:
    """One setup with what the template cannot work out.

    ``rows`` and ``small`` have the columns of `rows.HEADS`, as ``apart``; ``new`` and ``gone`` are
    warnings and cautions; ``places`` and ``chips`` are of the LUT's trial.
    """

    anchor: str
    name: str
    presence: str
    choice: str
    why: str
    load: ToLoad | None
    chips: tuple[ChipRow, ...]
    places: tuple[tuple[str, list[tuple[str, tuple[str, str], str]]], ...]
    rows: Cells
    apart: Cells
    small: Cells
    new: list[str]
    gone: list[str]
    windows: list[tuple[str, str]]
    clock: list[str]
    courses: Cells


def render_comparison_page(comparison: Comparison) -> str:
    """Render a comparison to one HTML page, the same for the same comparison."""
    first, second = comparison.first, comparison.second
    is_day = isinstance(comparison, DayComparison)
    return load_template("compare/compare.html.j2").render(
        title=second.title,
        sides=(("Old", rows.say_record(first)), ("New", rows.say_record(second))),
        notes=rows.list_head_notes(first, second),
        same=rows.say_same(first, second) if comparison.is_same else "",
        setups=[
            _prepare(each, f"setup-{number}") for number, each in enumerate(comparison.setups, 1)
        ],
        invented=first.invented or second.invented,
        is_day=is_day,
        heads=rows.HEADS,
        course_heads=rows.COURSE_HEADS,
        limits=words.LIMITS_SAID,
        figures=trial_words.FIGURES,
        sun=SUN.text if is_day else "",
        version=__version__,
        digests=(first.digest, second.digest),
    )


def _prepare(setup: SetupChanges, anchor: str) -> ComparedSetup:
    say = rows.choose_words(setup)
    told = [each for each in setup.changes if each.can_be_told]
    small = [each for each in setup.changes if not each.can_be_told]
    apart = rows.list_apart(told)
    sided = [each for each in apart if each.what in ("warning", "caution")]
    both = [each for each in apart if each.what not in ("warning", "caution")]
    trial = setup.trial
    day = setup if isinstance(setup, DaySetupChanges) else None
    return ComparedSetup(
        anchor=anchor,
        name=clean_text(setup.name),
        presence=rows.say_presence(setup),
        choice=trial_words.say_choice(setup),
        why=f"{trial_words.say_why(trial)} (CIEDE2000)." if trial else "",
        load=_choose_load(setup),
        chips=_list_chips(trial.places[0]) if trial else (),
        places=tuple(_list_place(each) for each in trial.places) if trial else (),
        rows=[
            *rows.list_rows(told, say),
            *([day_words.say_touch(each) for each in day.touches] if day else []),
        ],
        apart=[rows.list_cells(each, say) for each in both],
        small=[rows.list_cells(each, say) for each in small],
        new=[_say_one(each) for each in sided if each.before is None],
        gone=[_say_one(each) for each in sided if each.after is None],
        windows=_list_windows(day) if day else [],
        clock=rows.list_clock(day) if day else [],
        courses=rows.list_courses(day, True) if day else [],
    )


def _say_one(change: Change) -> str:
    value = change.before if change.after is None else change.after
    return words.say_value(change, value)


def _choose_load(setup: SetupChanges) -> ToLoad | None:
    """Choose what is set and loaded; the new setting and LUT where nothing was tried."""
    before, after = setup.before, setup.after
    if before is None or after is None:
        return None
    choice = "take" if setup.trial is None else setup.trial.choice
    keeps_lut = choice in ("keep", "set")
    shown, other = (before, after) if choice == "keep" else (after, before)
    lut: RecordedLut | None = before.main_lut if keeps_lut else after.main_lut
    is_same = (before.dial, before.preset) == (after.dial, after.preset)
    preset, *dial = trial_words.say_dialled(other)
    said = f"{preset} ({', '.join(dial)})" if preset else ", ".join(dial)
    return ToLoad(
        dial=trial_words.say_dialled(shown),
        stop=_say_stop(before, after),
        lut="" if lut is None else clean_text(lut.file_name),
        whose="old" if keeps_lut else "new",
        other="" if is_same else f"{'New' if choice == 'keep' else 'Old'} setting: {said}",
    )


def _say_stop(before: RecordedSetup, after: RecordedSetup) -> str:
    was, now = (
        f"{name_t_stop(each.t_stop)}, {say_nd(each.nd_stops)}" if each.t_stop > 0 else "unknown"
        for each in (before, after)
    )
    return now if was == now else f"{now} (was {was})"


def _list_chips(place: TriedPlace) -> tuple[ChipRow, ...]:
    ways = [("As meant", place.meant)]
    ways += [(way[0].upper() + way[1:], look) for way, look, _ in trial_words.list_ways(place)]
    return tuple(ChipRow(title, _write_colours(look)) for title, look in ways)


def _write_colours(look: Look) -> tuple[str, ...]:
    return tuple(write_colour(look, row) for row in (GREY_ROW, *SKIN_ROWS))


def _list_place(place: TriedPlace) -> tuple[str, list[tuple[str, tuple[str, str], str]]]:
    ways = [
        (way, trial_words.say_misses(look), off) for way, look, off in trial_words.list_ways(place)
    ]
    return clean_text(place.name), ways


def _list_windows(day: DaySetupChanges) -> list[tuple[str, str]]:
    found = day.windows
    if found is None:
        return []
    lines: Sequence[tuple[str, str]] = (
        ("Was", day_words.say_windows(found.before)),
        ("Is", day_words.say_windows(found.after)),
        ("Moved", day_words.say_moved(found)),
    )
    return [(name, said) for name, said in lines if said]
