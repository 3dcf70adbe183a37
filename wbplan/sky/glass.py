"""What clear window glass lets through of the sun's beam and of the sky.

Idea
----
Each face of a pane reflects as Fresnel's equations say (index 1.52, soda-lime glass), light goes to
and fro between the faces, and the body takes 1 % at normal incidence; panes are combined the same
way. One pane lets 0.91 through straight on, 0.61 at 75 degrees and 0.45 at 80, so a beam that rakes
a window loses a stop that nobody sees. Skylight is the mean over the half space in
front. Dirt, coatings and tint are not in it: coated and tinted glass is read, or given as a filter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

INDEX = 1.52
MOST_PANES = 3
_BODY = 0.99  # of a 4 mm pane of clear glass at normal incidence (from memory)


def find_glass_transmittance(cosine: ArrayLike, panes: int) -> Array:
    """Find what a window lets through of light that meets it at an angle.

    Parameters
    ----------
    cosine
        (...,) of the angle of incidence, 0 to 1.
    panes
        How many, 0 to `MOST_PANES`; 0 is an opening.

    Returns
    -------
    ndarray
        (...,) 0 to 1, unpolarised.
    """
    cosine = np.asarray(cosine, dtype=np.float64)
    inside = np.sqrt(1.0 - (1.0 - cosine**2) / INDEX**2)
    body = _BODY ** (1.0 / inside)
    total = np.zeros_like(cosine)
    for first, second in ((cosine, inside), (inside, cosine)):
        face = ((first - INDEX * second) / (first + INDEX * second)) ** 2
        within = 1.0 - (face * body) ** 2
        through = (1.0 - face) ** 2 * body / within
        back = face + (1.0 - face) ** 2 * face * body**2 / within
        passed, sent = np.ones_like(cosine), np.zeros_like(cosine)
        for _ in range(panes):
            between = 1.0 - sent * back
            passed, sent = (
                passed * through / between,
                back + through**2 * sent / between,
            )
        total = total + passed / 2.0
    return np.asarray(total)


def find_sky_transmittance(panes: int) -> float:
    """Find what a window lets through of even light from the half space before it."""
    node, share = np.polynomial.legendre.leggauss(32)
    cosine = (node + 1.0) / 2.0
    return float((share * cosine) @ find_glass_transmittance(cosine, panes))
