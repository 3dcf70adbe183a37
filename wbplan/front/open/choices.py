"""What can be chosen by name in the browser: cameras, filters, lamps."""

from __future__ import annotations

from wbplan.light.generic_filters import GENERIC_NAMES
from wbplan.read.catalogue import list_cameras, list_usable_sources


def list_choices() -> dict[str, list[str]]:
    """List the names that ship: cameras, generic filters, tabulated lamps."""
    return {
        "cameras": list(list_cameras()),
        "filters": list(GENERIC_NAMES),
        "lamps": [each.name for each in list_usable_sources()],
    }
