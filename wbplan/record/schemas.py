"""The JSON Schemas (draft 2020-12) of the records that wbplan writes, shipped beside their code.

A schema says what this version writes, all of it: no key that it does not declare, in the order in
which it declares them. The tests hold every record to it.
"""

from __future__ import annotations

SCHEMAS = ("plan", "lights", "plate", "day", "delivery")
FILES = ("scenario", "profile", "lesson")  # what people write; `read.schema` makes theirs


def read_schema_text(record: str) -> str:
    """Read the schema of a record (one of `SCHEMAS`), or of one of `FILES`, as JSON text."""
    if record in FILES:
        from wbplan.read.schema import format_schema

        return format_schema(record)
    from importlib.resources import files  # slow to load, and the command line asks for the names

    place = files("wbplan.record").joinpath(f"{record}.schema.json")
    return place.read_text(encoding="utf-8")
