"""How a LUT's errors are listed on the page: by what was read, and how."""

from __future__ import annotations

from wbplan.lut.bake import LutError, ReadingError


def list_readings(error: LutError, form: str = "3D table") -> list[tuple[str, ReadingError]]:
    """List errors with what they are of; a form that is read in one way gives one line for each."""
    both = form == "3D table"
    listed = []
    for what, readings in (
        ("scene-like colours", error.scene_like),
        ("grey ramp", error.grey_ramp),
    ):
        if readings is None:
            continue
        if both:
            listed.append((f"{what}, trilinear", readings[0]))
            listed.append((f"{what}, tetrahedral", readings[1]))
        else:
            listed.append((what, readings[0]))
    return listed
