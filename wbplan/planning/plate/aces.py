"""Scene-linear ACES, AP0 (ACES2065-1) and AP1 (ACEScg), as cameras and an observer give it.

A camera's picture gets there as any encoding's gamut is reached (`lut.correction`): gains, then
the matrix of the Kelvin that is set, so a balanced neutral has three equal values, as the input
transforms of ACES are made (Academy P-2013-001, from memory). An observer's XYZ has no setting;
it is adapted from the white that the Kelvin stands for to that of ACES (Bradford, as the gamut
conversions of ACES use it), which puts it on the same footing as a picture balanced for that
Kelvin.
"""

from __future__ import annotations

import numpy as np

from wbplan.codes.encodings import Encoding, find_encoding


def find_ap0() -> Encoding:
    """Look up linear ACES2065-1: primaries AP0, white at 0.32168, 0.33767."""
    return find_encoding("Linear", "ACES2065-1")


def find_ap1() -> Encoding:
    """Look up linear ACEScg: primaries AP1, the same white."""
    return find_encoding("Linear", "ACEScg")


AP0_TO_AP1 = np.linalg.inv(find_ap1().rgb_to_xyz) @ find_ap0().rgb_to_xyz
AP1_LUMINANCE = find_ap1().rgb_to_xyz[1]
"""What red, green and blue of ACEScg each add to its luminance (S-2014-004, section 4)."""
