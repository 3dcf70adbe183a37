"""The day of all setups on one printed A4 sheet, to be pinned up.

Columns are the hours, blocks the setups. The type is as large as the sheet allows: `_fit` counts
the lines that a setup takes and shares out the height. With so many setups that it would fall
under `_LEAST_PT`, the sheet is continued on a second one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wbplan.camera.setting import Setting
from wbplan.day.setups import DayPlan, DaySetup
from wbplan.day.times import say_span
from wbplan.exposure.equation import name_t_stop
from wbplan.report.base.templates import load_template
from wbplan.report.base.words import say_setting, say_shooting, say_significant
from wbplan.report.day import words as say
from wbplan.scene.cautions import SUN
from wbplan.sky.sun_times import BLUE, GOLDEN

_HEIGHT_PT, _WIDTH_PT = 480.0, 780.0  # of A4 across inside its margins, less head and foot
_LINE, _LETTER = 1.42, 0.5  # of the type's size
_MOST_PT, _LEAST_PT = 9.5, 5.2
_MOST_COLUMNS = 24


@dataclass(frozen=True)
class Row:
    """A line of a block: what it is, and a cell for each column."""

    name: str
    cells: tuple[str, ...]
    is_main: bool = False


@dataclass(frozen=True)
class Block:
    """A setup: its head, its rows, and what stands under them: a word, then items of a mark and a
    text each.
    """

    head: str
    about: str
    rows: tuple[Row, ...]
    under: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


@dataclass(frozen=True)
class Sheet:
    """The setups of one date: the sun's lines, its rows and the blocks."""

    title: str
    sun: tuple[str, ...]
    hours: tuple[str, ...]
    kinds: tuple[str, ...]
    rows: tuple[Row, ...]
    blocks: tuple[Block, ...]


def render_day_strip(plan: DayPlan) -> str:
    """Render the strip to one HTML page, the same for the same day."""
    dates: dict[str, list[tuple[int, DaySetup]]] = {}
    for number, day in enumerate(plan.setups, 1):
        dates.setdefault(say.say_date(day), []).append((number, day))
    sheets = [_make_sheet(title, each) for title, each in dates.items()]
    return load_template("day/strip.html.j2").render(
        plan=plan, sheets=sheets, size=f"{_fit(sheets):.2f}", sun=SUN.text
    )


def _fit(sheets: Sequence[Sheet]) -> float:
    """Find the size of type [pt] at which all lines stand on one sheet."""
    size = _MOST_PT
    while size > _LEAST_PT and _count_lines(sheets, size) * size * _LINE > _HEIGHT_PT:
        size -= 0.1
    return size


def _count_lines(sheets: Sequence[Sheet], size: float) -> float:
    lines = 0.0
    across = _WIDTH_PT / (size * _LETTER)
    for sheet in sheets:
        cell = across * 0.88 / max(len(sheet.hours), 1) - 1.5
        rows = [*sheet.rows, *(row for block in sheet.blocks for row in block.rows)]
        for row in rows:
            lines += max((_wrap(each, cell) for each in row.cells), default=1) + 0.25
        texts = [
            *("; ".join(sheet.sun),),
            *(f"{each.head} {each.about}" for each in sheet.blocks),
            *(
                "; ".join(f"{mark} {text}" for mark, text in items)
                for block in sheet.blocks
                for _, items in block.under
            ),
        ]
        lines += sum(math.ceil(len(each) / (across * 0.85)) + 0.25 for each in texts) + 2.5
    return lines


def _wrap(text: str, width: float) -> int:
    """Count the lines that a cell's words take."""
    lines, used = 1, 0
    for word in text.split():
        if used and used + 1 + len(word) > width:
            lines, used = lines + 1, len(word)
        else:
            used += len(word) + (1 if used else 0)
    return lines


def _make_sheet(title: str, setups: Sequence[tuple[int, DaySetup]]) -> Sheet:
    first = setups[0][1]
    columns = sorted({row for _, day in setups for row in day.hours})
    stride = max(math.ceil(len(columns) / _MOST_COLUMNS), 1)
    columns = columns[::stride]
    scene = first.scene
    return Sheet(
        title=title,
        sun=tuple(say.say_sun_times(first)),
        hours=tuple(say.say_time(first, row) for row in columns),
        kinds=tuple(_find_kind(first, row) for row in columns),
        rows=(
            Row("sun", tuple(say.say_height(float(scene.elevation_deg[row])) for row in columns)),
            Row("azimuth", tuple(say.say_bearing(first, row) for row in columns)),
        ),
        blocks=tuple(_make_block(number, day, columns) for number, day in setups),
    )


def _find_kind(day: DaySetup, row: int) -> str:
    second = day.moments[row].timestamp()
    spans = [each for each in day.sun.spans if each.first <= second <= each.last]
    names = {each.name for each in spans}
    return "golden" if GOLDEN in names else "blue" if BLUE in names else ""


def _make_block(number: int, day: DaySetup, columns: Sequence[int]) -> Block:
    shown = set(day.hours)
    wanted = day.setup.shooting.t_stop

    def fill(name: str, cell: object, main: bool = False) -> Row:
        assert callable(cell)
        cells = tuple(
            str(cell(row)) if row in shown and day.scene.usable[row] else say.NONE
            for row in columns
        )
        return Row(name, cells, main)

    hung = bool(day.changes and day.changes.changes)
    rows = [
        fill("set (filters on)" if hung else "set", lambda row: _say_dial(day, row, hung), True),
        fill(f"lux at {day.setup.key}", lambda row: _say_lux(day.scene.lux.value[row, day.key])),
        fill("stop" if wanted is None else f"ND for {name_t_stop(wanted)}",
             lambda row: _say_exposure(day, row), True),
    ]  # fmt: skip
    if np.isfinite(day.sun_over_shade_stops).any() or np.isinf(day.sun_over_shade_stops).any():
        rows.append(
            fill("sun over shade", lambda row: _say_sun(day.sun_over_shade_stops[row, day.key]))
        )
    rows.append(fill("take holds to", lambda row: say.say_take_end(day, day.takes[row])))
    if day.luts is not None and day.luts.luts:
        rows.append(fill("LUT", lambda row: _find_lut(day, row), True))
    return Block(
        head=f"{number} {day.setup.name}",
        about="; ".join(_list_about(day)),
        rows=tuple(rows),
        under=tuple(_list_under(day)),
    )


def _list_under(day: DaySetup) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    under: list[tuple[str, tuple[tuple[str, str], ...]]] = []
    if day.changes is not None and day.changes.changes:
        due: dict[int, list[str]] = {}
        for each in day.changes.changes:
            due.setdefault(each.at, []).append(say.say_change(each))
        told = tuple((say.say_time(day, at), ", ".join(what)) for at, what in due.items())
        under.append(("filters due", told))
    if day.luts is not None and day.luts.luts:
        name = day.luts.luts[0].plan.file_name
        kind = f"-{'cast' if day.luts.by == 'cast' else 'at'}-"
        files = ("files:", f"{name.partition(kind)[0]}{kind}…")
        luts = [(f"{number}:", each.label) for number, each in enumerate(day.luts.luts, 1)]
        under.append(("LUTs", (*luts, files)))
    refused = say.list_refused(day)
    if refused:
        under.append(("not planned", (("", "; ".join(refused)),)))
    return under


def _list_about(day: DaySetup) -> list[str]:
    about = [f"{day.setup.camera.name}, {say_shooting(day.setup.shooting)}"]
    if day.whole is not None:
        about.append(f"all day {say_setting(day.whole.setting)} {_say_served(day)}")
    count = sum(note.weight == "warning" for note in dict.fromkeys(day.notes))
    if count:
        about.append(f"{count} warning{'' if count == 1 else 's'} in day.html")
    return about


def _say_served(day: DaySetup) -> str:
    if day.whole is None or not day.whole.windows:
        return "serves at none of these times"
    spans = (say_span(day.moments, each.first, each.last) for each in day.whole.windows)
    return f"serves {', '.join(spans)}"


def _say_sun(stops: float) -> str:
    return f"{stops:.1f}" if math.isfinite(stops) else say.say_ratio(stops)


def _say_dial(day: DaySetup, row: int, hung: bool) -> str:
    setting: Setting | None = day.dials[row]
    plan = day.changes
    if hung and plan is not None:
        known = [number for number, at in enumerate(plan.at) if at <= row]
        setting = plan.settings[known[-1]] if known else setting
    if setting is None:
        return say.NONE
    if setting.preset:
        return setting.preset
    cc = round(setting.tint_cc, 1)
    tint = f" {'mag' if cc > 0 else 'grn'} {abs(cc):g}" if cc else ""
    return f"{setting.kelvin:.0f}K{tint}"


def _say_lux(lux: float) -> str:
    return f"{say_significant(lux / 1000.0, 2)}k" if lux >= 1000 else say_significant(lux, 2)


def _say_exposure(day: DaySetup, row: int) -> str:
    if day.nd_stops is None:
        return name_t_stop(float(day.t_stop.value[row, day.key])).replace(" and ", " ")
    nd = float(day.nd_stops.value[row, day.key])
    if not math.isfinite(nd):
        return "no light"
    said = f"{abs(round(nd, 1)):g}"
    return said if round(nd, 1) >= 0 else f"{said} dark"


def _find_lut(day: DaySetup, row: int) -> str:
    luts = () if day.luts is None else day.luts.luts
    return next((str(n) for n, each in enumerate(luts, 1) if row in each.times), say.NONE)
