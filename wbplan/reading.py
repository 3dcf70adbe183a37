"""A light that somebody read: its spectrum, its level if that is known, and how it was read."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wbplan.spectrum import Spectrum


@dataclass(frozen=True, eq=False)
class Reading:
    """One light as a file, a dataset or a model gives it.

    ``illuminance_lux`` is NaN where the values are relative; ``understood`` says how a file was
    read, in a line; ``file`` is empty for a light that is not from one.
    """

    name: str
    spectrum: Spectrum
    illuminance_lux: float = math.nan
    understood: str = ""
    file: str = ""
