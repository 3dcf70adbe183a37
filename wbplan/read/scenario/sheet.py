"""Lux in a sheet of their own, as a crew writes them by hand: lights across, positions down.

A setup names the sheet (`readings`) in place of the `lux` of its positions. Each row then becomes
a position's readings, as fields that know their cell, so that everything which reads lux from a
scenario reads them from a sheet as well, and names the sheet's row and column.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

from wbplan.core.errors import InputError, Place, describe_choices
from wbplan.core.files import read_bytes, show_value
from wbplan.read.spectra.upright import decode_text
from wbplan.read.yaml.fields import Fields
from wbplan.read.yaml.tree import CONTROL, Node, check_alike
from wbplan.scene.setup import Source

MOST_SHEET_BYTES: Final = 1_000_000
SHEET_NAME: Final = "readings.csv"
_MOST_NAME, _MOST_ROWS, _MOST_COLUMNS = 80, 2000, 200
_DECIMAL_COMMA: Final = re.compile(r"\d+,\d+")
_THOUSANDS: Final = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+")
_OTHER_UNIT: Final = re.compile(r"\b(?:fc|foot[- ]?candles?|ftcd|ev)\b", re.I)


class Cell(NamedTuple):
    """One cell: what it says, and where its text begins and ends in the sheet."""

    text: str
    start: int
    end: int


@dataclass(frozen=True)
class ReadingsSheet:
    """A sheet as it was understood: the lights of its columns, and a row of cells a position.

    ``head_line`` and ``lines`` are line numbers, ``heads`` are the lights' cells, ``names`` those
    of the positions, ``separator`` stands between cells.
    """

    file: str
    lights: tuple[str, ...]
    rows: Mapping[str, tuple[Cell, ...]]
    head_line: int
    lines: Mapping[str, int]
    heads: tuple[Cell, ...]
    names: Mapping[str, Cell]
    separator: str

    def find_text(self, position: str, column: int) -> str:
        """Give a reading as plain digits, where the sheet writes a decimal comma too."""
        text = self.rows[position][column].text
        if self.separator == "," or not _DECIMAL_COMMA.fullmatch(text):
            return text
        if _THOUSANDS.fullmatch(text) and not text.startswith("0"):
            place = Place(self.file, self.lines[position], column + 2, position)
            raise InputError(
                f"{text}, which is {text.replace(',', '')} or {text.replace(',', '.')}",
                "digits with a point",
                place,
            )
        return text.replace(",", ".")


def read_sheet(path: Path) -> ReadingsSheet:
    """Read a sheet of lux; see `parse_sheet`."""
    return parse_sheet(decode_text(read_bytes(path, MOST_SHEET_BYTES), str(path))[0], str(path))


def parse_sheet(text: str, file: str) -> ReadingsSheet:
    """Parse a sheet of lux: the lights in its first line, then a position and its lux in each.

    Cells stand between commas, semicolons or tabs, in quotes where they hold one (RFC 4180); an
    empty one is a light that does not reach the position. Blank lines and lines that begin with
    ``#`` are passed over.

    Raises
    ------
    InputError
        With file, row and column: no light or position, a name twice, a cell beyond the lights, a
        figure without a light or a position, another unit.
    """
    separator = _find_separator(text.removeprefix("\ufeff"))
    rows = list(_split(text, separator))
    if not rows:
        raise InputError(
            "an empty sheet", "a line of lights, then a line a position", Place(file, 1)
        )
    (line, head), *rest = rows
    if _OTHER_UNIT.search(head[0].text):
        found = f"{show_value(head[0].text)} above the positions"
        raise InputError(found, "readings in lux", Place(file, line, 1))
    while len(head) > 1 and not head[-1].text:
        head.pop()
    lights = tuple(each.text for each in head[1:])
    if not lights or not rest:
        found = "no light beside the first cell" if not lights else "no position under the lights"
        raise InputError(found, "lights across, positions down", Place(file, line))
    _check_names(lights, file, "light", [(line, column) for column in range(2, len(lights) + 2)])
    names = tuple(cells[0].text for _, cells in rest)
    _check_names(names, file, "position", [(at, 1) for at, _ in rest])
    made = {}
    for at, cells in rest:
        for column, cell in enumerate(cells[len(head) :], len(head) + 1):
            if cell.text:
                found = f"{show_value(cell.text)} in a column without a light"
                raise InputError(found, "the light's name above it", Place(file, at, column))
        made[cells[0].text] = tuple(cells[1 : len(head)])
    lines = {cells[0].text: at for at, cells in rest}
    named = {cells[0].text: cells[0] for _, cells in rest}
    return ReadingsSheet(file, lights, made, line, lines, tuple(head[1:]), named, separator)


def _check_names(names: Iterable[str], file: str, kind: str, at: list[tuple[int, int]]) -> None:
    seen: dict[str, Place] = {}
    for name, (line, column) in zip(names, at, strict=True):
        place = Place(file, line, column)
        if not name or len(name) > _MOST_NAME or CONTROL.search(name):
            found = f"the name {show_value(name)}" if name else "no name"
            raise InputError(found, f"a {kind}'s name, up to {_MOST_NAME} characters", place)
        if name in seen:
            found = f"the {kind} {show_value(name)} twice, first at {seen[name]}"
            raise InputError(found, "each once", place)
        seen[name] = place
    check_alike(seen, seen.__getitem__)


def _find_separator(text: str) -> str:
    """Find what stands between cells: what the first line has most of, outside quotes."""
    first = next((line for line in text.splitlines() if line.strip() and line[0] != "#"), "")
    bare = re.sub(r'"[^"]*"', "", first)
    return max(("\t", ";", ","), key=bare.count)


def _split(text: str, separator: str) -> Iterable[tuple[int, list[Cell]]]:
    """Cut a sheet into rows of cells that are not blank, each with its line."""
    cell = re.compile(
        rf'[ ]*(?:"(?P<quoted>(?:[^"]|"")*)"|(?P<bare>[^{separator}\r\n]*))[^{separator}\r\n]*'
    )
    at, line, count = 1 if text.startswith("\ufeff") else 0, 1, 0
    while at < len(text):
        begun, cells = line, []
        is_remark = text.startswith("#", at)
        while True:
            match = cell.match(text, at)
            assert match is not None  # it takes nothing, too
            group = "bare" if match["quoted"] is None else "quoted"
            said = match[group].replace('""', '"') if group == "quoted" else match[group]
            cells.append(Cell(said.strip(), match.start(), match.end()))
            line += text.count("\n", at, match.end())
            at = match.end()
            if len(cells) > _MOST_COLUMNS + 1 or not text.startswith(separator, at):
                break
            at += 1
        while at < len(text) and text[at] in "\r\n":
            line += text[at] == "\n" or not text.startswith("\n", at + 1)
            at += 1
        if not is_remark and any(each.text for each in cells):
            count += 1
            if count > _MOST_ROWS:
                return
            yield begun, cells


def set_cell(text: str, file: str, position: str, light: str, said: str) -> str:
    """Write a reading into its cell, in a new column or row where its light or position is new.

    Parameters
    ----------
    text
        A sheet; all but the cell stays as it is.
    said
        Plain digits, or nothing for a light that does not reach the position.

    Raises
    ------
    InputError
        For a sheet that `parse_sheet` refuses, before or after.
    """
    sheet = parse_sheet(text, file)
    mark = sheet.separator
    said = said if mark == "," else said.replace(".", ",")
    if light not in sheet.lights:
        at = sheet.heads[-1].end
        text = f"{text[:at]}{mark}{_quote(light, mark)}{text[at:]}"
        return set_cell(text, file, position, light, said)
    if position not in sheet.rows:
        new = "\r\n" if "\r\n" in text else "\n"
        cells = ["" if each != light else said for each in sheet.lights]
        row = mark.join([_quote(position, mark), *cells])
        ended = text if text.endswith(("\n", "\r")) else text + new
        made = ended + row + new
    else:
        column, cells_now = sheet.lights.index(light), sheet.rows[position]
        if column < len(cells_now):
            cell = cells_now[column]
            made = text[: cell.start] + said + text[cell.end :]
        else:
            at = cells_now[-1].end if cells_now else sheet.names[position].end
            made = text[:at] + mark * (column - len(cells_now) + 1) + said + text[at:]
    parse_sheet(made, file)
    return made


def rename_in_sheet(text: str, file: str, name: str, new: str, is_light: bool) -> str:
    """Give a light or a position of a sheet another name; raises as `set_cell`."""
    sheet = parse_sheet(text, file)
    known = dict(zip(sheet.lights, sheet.heads, strict=True)) if is_light else sheet.names
    cell = known[name]
    made = text[: cell.start] + _quote(new, sheet.separator) + text[cell.end :]
    parse_sheet(made, file)
    return made


def remove_from_sheet(text: str, file: str, name: str, is_light: bool) -> str:
    """Take a light's column or a position's row out of a sheet; raises as `set_cell`."""
    sheet = parse_sheet(text, file)
    if is_light:
        column = sheet.lights.index(name)
        rows = [each[column] for each in sheet.rows.values() if column < len(each)]
        for cell in sorted([sheet.heads[column], *rows], key=lambda each: each.start, reverse=True):
            text = text[: cell.start - len(sheet.separator)] + text[cell.end :]
    else:
        start = sheet.names[name].start
        end = (sheet.rows[name] or (sheet.names[name],))[-1].end
        ending = re.compile(r"[^\r\n]*(?:\r\n|\n|\r)?").match(text, end)
        assert ending is not None  # it takes nothing, too
        text = text[:start] + text[ending.end() :]
    parse_sheet(text, file)
    return text


def _quote(name: str, separator: str) -> str:
    if any(each in name for each in (separator, '"', "#")) or name != name.strip():
        return '"' + name.replace('"', '""') + '"'
    return name


def open_positions(fields: Fields, known: Mapping[str, Source], folder: Path) -> dict[str, Fields]:
    """Open a setup's positions, with the lux of its sheet where it names one.

    Raises
    ------
    InputError
        For a light of the sheet that is not there, and lux both in the sheet and in the scenario.
    """
    if "readings" not in fields:
        return fields.named_mappings("positions")
    path = fields.path("readings", folder)
    try:
        sheet = read_sheet(path)
    except InputError as error:
        raise fields.blame("readings", error) from None
    for column, light in enumerate(sheet.lights, 2):
        if light not in known:
            place = Place(sheet.file, sheet.head_line, column)
            raise InputError(
                f"the light {show_value(light)}", describe_choices(light, known), place
            )
    said = fields.named_mappings("positions", required=False)
    for name, each in said.items():
        for field in ("lux", "flash_lux_s"):
            if name in sheet.rows and field in each:
                found = f"{field} beside the row of '{name}' in {path.name}"
                raise each.refuse(field, found, "the reading in one place")
        if name not in sheet.rows and "lux" not in each and "flash_lux_s" not in each:
            found = f"'{name}', which has no row in {path.name}"
            raise InputError(found, describe_choices(name, sheet.rows), each.place)
    rows = {name: said.get(name) or fields.make_inner("positions", name) for name in sheet.rows}
    for name, each in rows.items():
        _lay_row(sheet, name, each, known)
    return rows | said


def _lay_row(sheet: ReadingsSheet, name: str, fields: Fields, known: Mapping[str, Source]) -> None:
    line = sheet.lines[name]
    parts: dict[str, dict[str, tuple[Node, Node]]] = {"lux": {}, "flash_lux_s": {}}
    for column, (light, cell) in enumerate(zip(sheet.lights, sheet.rows[name], strict=False)):
        if not cell.text:
            continue
        key = Node("scalar", sheet.head_line, column + 2, light)
        value = Node("scalar", line, column + 2, sheet.find_text(name, column), plain=True)
        parts["flash_lux_s" if known[light].flash else "lux"][light] = (key, value)
    if not any(parts.values()):
        found, allowed = "no reading", "lux under one light at least; 0 is a reading"
        raise InputError(found, allowed, Place(sheet.file, line, 0, name))
    for field, entries in parts.items():
        if entries:
            node = Node("mapping", line, 1, entries=entries)
            fields.lay_in(field, node, sheet.file, name)
