"""The surfaces that pages show and judge by: greys a stop apart, skin from dark to light, hues.

Idea
----
A picture says more than a cast, and it should hold what people look at: skin first, a grey beside
it, and colours all the way round. The set is this project's own, from published reflectances:

- five flat greys, 18 % and one and two stops under and over it;
- five of the hundred people of the National Institute of Standards and Technology's reference set
  of human skin (`core.tables.load_scored_surfaces`), at even steps of lightness from the darkest to
  the lightest;
- twelve of the 99 colour samples of CIE 224:2017, one for every 30 degrees of hue: the most
  colourful of those within 7.5 degrees of it. Hue and chroma are CIELAB under D65.

`tests/light/test_surfaces.py` chooses them again by these rules with another library.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from wbplan.core.tables import Array, load_scored_surfaces, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze

_GREYS = {
    "grey, 2 stops under": 0.045,
    "grey, 1 stop under": 0.09,
    "grey 18 %": 0.18,
    "grey, 1 stop over": 0.36,
    "grey, 2 stops over": 0.72,
}
_SKINS = ("skin, darkest", "skin, dark", "skin, medium", "skin, light", "skin, lightest")
_HUE_SAMPLES = (2, 10, 20, 32, 43, 52, 57, 64, 70, 76, 81, 90)  # of the 99, counted from 1
_HUE_STEP_DEG = 360 // len(_HUE_SAMPLES)

GREY_ROWS = range(len(_GREYS))
SKIN_ROWS = range(GREY_ROWS.stop, GREY_ROWS.stop + len(_SKINS))
HUE_ROWS = range(SKIN_ROWS.stop, SKIN_ROWS.stop + len(_HUE_SAMPLES))
GREY_ROW = 2
"""The grey of 18 %."""


class Surfaces(NamedTuple):
    """Names, and reflectances (m, 401) from 0 to 1."""

    names: tuple[str, ...]
    reflectances: Array


@cache
def list_surfaces() -> Surfaces:
    """List the 22 surfaces: `GREY_ROWS`, then `SKIN_ROWS` from dark to light, then `HUE_ROWS`."""
    names, scored = load_scored_surfaces()
    reflectances = np.concatenate(
        [
            np.outer([*_GREYS.values()], np.ones(WAVELENGTHS_NM.size)),
            scored[[names.index(each) for each in _SKINS]],
            load_table("samples")[np.array(_HUE_SAMPLES) - 1],
        ]
    )
    hues = (f"hue {_HUE_STEP_DEG * step}°" for step in range(len(_HUE_SAMPLES)))
    return Surfaces((*_GREYS, *_SKINS, *hues), freeze(reflectances))
