"""Cautions and remarks that travel on results.

A number that is uncertain, extended, rounded or impossible carries a `Note`, from where it arose
to the terminal, the report and the record. Nothing is said by a log line that a reader can miss.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Weight = Literal["remark", "warning"]


@dataclass(frozen=True)
class Note:
    """One remark or warning: a code for machines, a sentence for people, the thing it is about."""

    code: str
    text: str
    about: str = ""
    weight: Weight = "remark"

    def __str__(self) -> str:
        return f"{self.about}: {self.text}" if self.about else self.text


def warn(code: str, text: str, about: str = "") -> Note:
    """Make a note that the reader has to see before acting on the result."""
    return Note(code, text, about, "warning")
