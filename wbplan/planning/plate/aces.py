"""Scene-linear ACES AP0 (ACES2065-1), as cameras and as a standard observer give it.

A camera's picture gets there as any encoding's gamut is reached (`lut.correction`): gains, then
the matrix of the Kelvin that is set, so a balanced neutral has three equal values, as the input
transforms of ACES are made (Academy P-2013-001, from memory). An observer's XYZ has no setting;
it is adapted from the white that the Kelvin stands for to that of ACES (Bradford, as the gamut
conversions of ACES use it), which puts it on the same footing as a picture balanced for that
Kelvin.
"""

from __future__ import annotations

from wbplan.codes.encodings import Encoding, find_encoding


def find_ap0() -> Encoding:
    """Look up linear ACES2065-1: primaries AP0, white at 0.32168, 0.33767."""
    return find_encoding("Linear", "ACES2065-1")
