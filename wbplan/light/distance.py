"""How illuminance goes with the distance from a light of some size, and off a surface.

Idea
----
A uniform surface that emits by Lambert's cosine law and fills a part F of what a grey on its axis
sees gives it pi L F. Of a rectangle that part is known in closed form (P. Moon, The Scientific
Basis of Illuminating Engineering, 1936; from memory); far away it becomes area / (pi d^2), the
inverse square law. So a lamp of known size is moved by the ratio of two such parts, and a surface
that throws light back, once, gives its own illuminance times its reflectance times its part.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array

Size = tuple[float, float]


def find_seen_part(size_m: Size, distance_m: ArrayLike) -> Array:
    """Find the part of what a grey sees, by cosine, that a rectangle fills that faces it.

    Parameters
    ----------
    size_m
        Width and height [m], above 0.
    distance_m
        (...,) from its middle, along its axis [m], above 0.

    Returns
    -------
    ndarray
        (...,) the form factor, 0 to 1.
    """
    distance = np.asarray(distance_m, dtype=np.float64)
    x, y = (side / (2.0 * distance) for side in size_m)
    along, across = np.hypot(1.0, x), np.hypot(1.0, y)
    turned = x / along * np.arctan(y / along) + y / across * np.arctan(x / across)
    return np.asarray(turned * 2.0 / np.pi)


def find_moved_level(size_m: Size | None, before_m: ArrayLike, after_m: ArrayLike) -> Array:
    """Find what is left of the illuminance, (...,), when a light goes from one distance to another.

    ``before_m`` and ``after_m`` (...,) [m]; without a size the inverse square law alone.
    """
    before, after = (np.asarray(each, dtype=np.float64) for each in (before_m, after_m))
    if size_m is None:
        return np.asarray((before / after) ** 2)
    return find_seen_part(size_m, after) / find_seen_part(size_m, before)
