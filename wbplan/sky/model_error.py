"""What the models of sun and sky are out by, as draws for the bands.

Idea
----
A band that spreads only the unknown air claims that the model of the air is exact. It is not, and
by how much was measured against what had no part in it (`tests.sky.oracles` names each, with what
set the sizes and what judged them). With a high sun they are the least with which bands of 90 %
still hold what set them: clear half hours at Helsinki, two radiative-transfer codes. Each draw of
the band takes one set of errors for a whole scene, since a model that is too blue is so on every
surface. Even spreads, from ``-1`` to ``1`` of what is listed here; towards the horizon and under it
they grow, as the measured spread does.

Weakness: four codes and one measured sky say what the colour of clear light is; what the air alone
spreads holds them nearly all. A tropical clear sky measured at 0.15 stop under this model lies
outside the band of level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.spread import spread_evenly
from wbplan.core.tables import Array

# By the sun's elevation [degrees]: half the spread of each error.
_ELEVATIONS = (-8.0, -4.0, -1.0, 2.0, 6.0, 10.0, 20.0)
_BEAM_STOPS = (0.5, 0.5, 0.5, 0.5, 0.3, 0.13, 0.09)
_BEAM_MIRED = (15.0, 15.0, 15.0, 15.0, 10.0, 1.5, 0.5)
_SKY_STOPS = (1.0, 0.65, 0.7, 0.8, 0.75, 0.29, 0.25)
_SKY_MIRED = (30.0, 30.0, 40.0, 40.0, 26.0, 4.0, 2.0)
_SHAPE = 1.2  # of the way from the pattern planned with to either end
COLUMNS = 5


@dataclass(frozen=True, eq=False)
class ModelError:
    """Errors at m draws and t instants: factors on beam and sky in stops, shifts of both in mired.

    ``shape`` (m,) is the mix of patterns from -1 to 1; the others are (m, t).
    """

    shape: Array
    beam_stops: Array
    beam_mired: Array
    sky_stops: Array
    sky_mired: Array


def spread_errors(count: int) -> Array:
    """Spread errors evenly between -1 and 1, (count, 5), without chance."""
    return 2.0 * spread_evenly(count, range(6, 6 + COLUMNS)) - 1.0


def scale_errors(places: Array, elevation_deg: Array) -> ModelError:
    """Scale errors (m, 5) from -1 to 1 to what they are with the sun at elevations (t,)."""

    def scale(column: int, sizes: tuple[float, ...]) -> Array:
        return places[:, column, None] * np.interp(elevation_deg, _ELEVATIONS, sizes)

    return ModelError(
        _SHAPE * places[:, 0],
        scale(1, _BEAM_STOPS),
        scale(2, _BEAM_MIRED),
        scale(3, _SKY_STOPS),
        scale(4, _SKY_MIRED),
    )


def say_errors() -> str:
    """Say what the bands hold of the model's own error, in words."""
    return (
        f"the model's own error: level of the sun to {_BEAM_STOPS[-1]:g} and of the sky to "
        f"{_SKY_STOPS[-1]:g} stop, colour to {_BEAM_MIRED[-1]:g} and {_SKY_MIRED[-1]:g} mired, "
        f"more under {_ELEVATIONS[-1]:g}°, and where on the dome the light is"
    )
