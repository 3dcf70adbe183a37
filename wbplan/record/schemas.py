"""The JSON Schemas (draft 2020-12) of the records that wbplan writes, shipped beside their code.

A schema says what this version writes, all of it: no key that it does not declare, in the order in
which it declares them. The tests hold every record to it.
"""

from __future__ import annotations

SCHEMAS = ("plan", "lights", "plate", "day", "delivery")


def read_schema_text(record: str) -> str:
    """Read the schema of a record (one of `SCHEMAS`) as JSON text."""
    from importlib.resources import files  # slow to load, and the command line asks for the names

    place = files("wbplan.record").joinpath(f"{record}.schema.json")
    return place.read_text(encoding="utf-8")
