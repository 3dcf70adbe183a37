"""The flat tables, `lights.csv` and `positions.csv`: the record's figures for a spreadsheet.

Idea
----
One row a light or a position, the setup's number and name first, so that rows of several plans can
stand under each other. Values are those of the record, rounded as it is, in plain decimal digits
with a point; what has no meaning is left empty. Comma and CRLF as RFC 4180 has them. UTF-8 with a
byte order mark: without one the commonest spreadsheet takes a file for its system's old code page
and garbles every accent; a program reads it as ``utf-8-sig``, or takes `plan.json`.

Names come from whoever wrote the scenario, and a spreadsheet runs a cell that begins like a
formula. `guard_cell` is the one place where that is seen to; every text goes through it.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from wbplan.core.names import clean_text
from wbplan.record.numbers import round_by_unit

LIGHTS_NAME, POSITIONS_NAME = "lights.csv", "positions.csv"
_BEGINS_A_FORMULA = "=+-@\u2212"
_WANTED = ("kelvin", "mired", "tint_cc")
_EYE = ("cct_kelvin", "duv", "x", "y")

Cell = str | float | int | bool | None


def guard_cell(text: str) -> str:
    """Make a text safe to stand in a cell: it stays readable, and is never run.

    Line ends and tabs become spaces. A text whose first visible character begins a formula, in its
    full-width or any other form too, gets an apostrophe before it, as spreadsheets mark text
    themselves; so does what follows a semicolon, which separates cells where the comma is the
    decimal sign.
    """
    return ";".join(
        f"'{part}" if _is_formula(part) else part for part in clean_text(text).split(";")
    )


def _is_formula(text: str) -> bool:
    for each in text:
        if (
            unicodedata.category(each)[0] in "ZCM"
        ):  # what a spreadsheet passes over, and does not show
            continue
        return unicodedata.normalize("NFKC", each)[0] in _BEGINS_A_FORMULA
    return False


def make_sheets(record: dict[str, Any]) -> dict[str, bytes]:
    """Make both tables, by file name, from a plan's record (`wbplan.record.plan`)."""
    lights: list[dict[str, Cell]] = []
    positions: list[dict[str, Cell]] = []
    for number, setup in enumerate(record["setups"], 1):
        start: dict[str, Cell] = {"setup_number": number, "setup": setup["name"]}
        lights += [
            start | _list_light(row, light, setup) for row, light in enumerate(setup["lights"], 1)
        ]
        positions += [start | _list_position(each, setup) for each in setup["positions"]]
    return {LIGHTS_NAME: write_sheet(lights), POSITIONS_NAME: write_sheet(positions)}


def _list_light(number: int, light: dict[str, Any], setup: dict[str, Any]) -> dict[str, Cell]:
    key = next(each for each in setup["positions"] if each["is_key"])
    share = next(each for each in key["shares"] if each["light"] == light["name"])
    return {
        "light_number": number,
        "light": light["name"],
        "camera": setup["camera"]["name"],
        "origin": light["origin"],
        "is_model": light["is_model"],
        "on": light["on"],
        "filter": light["filter"],
        "loss_stops": light["loss_stops"],
        **{name: light["eye"][name] for name in _EYE},
        **_prefix("wanted", light["wanted"], _WANTED),
        "share_at_key_percent": share["share_percent"],
        "trouble": light["trouble"],
    }


def _list_position(place: dict[str, Any], setup: dict[str, Any]) -> dict[str, Cell]:
    dialled = setup["dialled_setting"]
    return {
        "position_number": place["number"],
        "position": place["name"],
        "is_key": place["is_key"],
        "camera": setup["camera"]["name"],
        "dialled_kelvin": dialled["kelvin"],
        "dialled_tint_cc": dialled["tint_cc"],
        "intent": place["intent"],
        "weight_relative": place["weight_relative"],
        **_span(place, "illuminance_lux"),
        **{name: place["eye"][name] for name in _EYE},
        **_prefix("wanted", place["wanted"], _WANTED),
        **_prefix("cast", place["cast"], ("mired", "green_cc")),
        "cast_distance_mired": place["cast"]["distance_mired"],
        **_prefix("off_intent", place["off_intent"], ("mired", "green_cc")),
        "off_intent_distance_mired": place["off_intent"]["distance_mired"],
        **_span(place, "t_stop"),
        "nd_for_wanted_t_stop_stops": place["nd_for_wanted_t_stop_stops"],
        "from_key_stops": place["from_key_stops"],
        "trouble": place["trouble"],
        "predicted_lights": "; ".join(place["predicted_lights"]),
    }


def _span(values: dict[str, Any], name: str) -> dict[str, Cell]:
    return {key: values[key] for key in (name, f"{name}_low", f"{name}_high")}


def _prefix(start: str, values: dict[str, Any], names: Iterable[str]) -> dict[str, Cell]:
    return {f"{start}_{key}": each for name in names for key, each in _span(values, name).items()}


def write_sheet(rows: list[dict[str, Cell]]) -> bytes:
    """Write rows of the same cells, at least one, as CSV (RFC 4180)."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(rows[0])
    writer.writerows([_format(each) for each in row.values()] for row in round_by_unit(rows))
    return stream.getvalue().encode("utf-8-sig")


def _format(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return guard_cell(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{Decimal(repr(value)):f}"
