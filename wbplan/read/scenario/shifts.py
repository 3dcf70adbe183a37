"""Shifts of colour in words; fields: `wbplan guide scenario`."""

from __future__ import annotations

from wbplan.read.yaml.fields import Fields


def read_shift(fields: Fields, name: str) -> tuple[float, float]:
    """Read a shift said in words: warm_mired or cool_mired, green_cc or magenta_cc.

    Returns
    -------
    tuple
        (mired, + warm; CC, + green).
    """
    shift = fields.mapping(name)
    return read_pair(shift, "warm_mired", "cool_mired"), read_pair(shift, "green_cc", "magenta_cc")


def read_pair(fields: Fields, plus: str, minus: str) -> float:
    """Read one of two fields that say the two directions of one figure."""
    if plus in fields and minus in fields:
        raise fields.refuse(minus, f"{plus} and {minus} together", "only one of them")
    return fields.number(plus, 0.0) - fields.number(minus, 0.0)
