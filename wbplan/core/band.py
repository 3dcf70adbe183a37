"""The share that every interval is to hold, and which shares can be asked for.

Apart from `core.intervals` so that the command line can state its default without loading numpy.
"""

from __future__ import annotations

from wbplan.core.errors import InputError, Place

BAND_SHARE = 0.90
"""What an interval holds of plausible cameras and readings where nothing else is asked."""


def check_band(share: float) -> None:
    """Refuse a share that an interval cannot sensibly hold.

    Raises
    ------
    InputError
        Outside 0.5 to 0.99.
    """
    if not 0.5 <= share <= 0.99:
        raise InputError(f"a band of {share:g}", "a share from 0.5 to 0.99", Place(field="band"))
