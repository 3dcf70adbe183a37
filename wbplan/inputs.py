"""What went into a plan: the files that were read for it, and how it was asked for.

A record that carries these can make its plan again, on another machine and years later, without
the files. So a file is kept whole, byte for byte, under a name that says nothing of the machine it
was read on (`wbplan.ledger` gives it).
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

MOST_INPUT_BYTES = 64_000_000
"""The most that the files of one plan may hold together [bytes], since its record carries them."""


@dataclass(frozen=True)
class InputFile:
    """One file: its name in the record, with ``/`` between folders, and its bytes."""

    name: str
    data: bytes

    @property
    def sha256(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class Asked:
    """What was asked for.

    Parameters
    ----------
    band_share
        The share that every interval is to hold.
    advise
        Whether changes are searched for.
    plate
        Whether plate notes are worked out and written.
    figures
        Whether every figure is written as a file of its own.
    """

    band_share: float = 0.90
    advise: bool = False
    plate: bool = False
    figures: bool = False


@dataclass(frozen=True)
class PlanInputs:
    """All that a plan was made from.

    Parameters
    ----------
    scenario
        Name of the scenario among ``files``.
    files
        Every file, in the order in which they were read.
    camera
        What took the place of every camera of the scenario: the name of a shipped profile, or of
        one of ``files``; None where nothing did.
    asked
        What was asked for.
    """

    scenario: str
    files: tuple[InputFile, ...]
    camera: str | None = None
    asked: Asked = Asked()
