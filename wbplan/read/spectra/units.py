"""What the values of a file are: spectral irradiance in a stated unit, or relative.

Only irradiance (power on a surface) gives lux. A unit is taken from where it is written, a column's
label or the lines above the numbers, and never guessed from the size of the values.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from typing import Final

SURFACE_QUANTITIES: Final = (
    *("transmittance", "reflectance", "absorptance", "r-factor", "t-factor"),
)
_PREFIX: Final = {"": 1.0, "k": 1e3, "m": 1e-3, "u": 1e-6, "μ": 1e-6, "n": 1e-9}
_FILL: Final = r"(?:[\s/·⋅*^.()\[\]]|per)*"
_UNIT: Final = re.compile(
    rf"(?<![a-zμ])([kmunμ]?)w{_FILL}(c?)m{_FILL}-?2{_FILL}nm{_FILL}(?:-1)?(?![a-z0-9])"
)


def find_unit_factors(text: str) -> set[float]:
    """Find the units of spectral irradiance in a text, as factors that bring them to W m-2 nm-1."""
    plain = unicodedata.normalize("NFKC", text).casefold().replace("\u2212", "-")
    found = set(_UNIT.findall(plain))
    return {_PREFIX[prefix] * (1e4 if centi else 1.0) for prefix, centi in found}


def find_irradiance_factors(labels: Sequence[str], above: Sequence[str]) -> tuple[float, ...]:
    """Find each column's factor to W m-2 nm-1.

    Parameters
    ----------
    labels
        Of the columns; one that states a unit has it for its own column.
    above
        The lines above the numbers: a unit stated there counts for every column without one, if
        it is the only one.

    Returns
    -------
    tuple
        A factor for each label, NaN for a relative one; empty if all are relative.
    """
    common = {factor for line in above for factor in find_unit_factors(line)}
    usual = common.pop() if len(common) == 1 else math.nan
    factors = []
    for label in labels:
        own = find_unit_factors(label)
        factors.append(own.pop() if len(own) == 1 else usual)
    return () if all(map(math.isnan, factors)) else tuple(factors)
