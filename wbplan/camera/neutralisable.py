"""Whether any setting can neutralise a light for a camera, and in words why none can."""

from __future__ import annotations

from wbplan.camera.setting import Coordinates, LocusResponse, find_locus_log2
from wbplan.core.tables import Array
from wbplan.light.illuminants import RATED_UNDER_KELVIN
from wbplan.light.spectrum import find_effective_width_nm

NO_LIGHT = "no light here"
MOST_GAIN_STOPS = 6.0  # between channels, against daylight: 64 times the noise of the weakest
NARROW_NM = 30.0  # effective width below which greys may balance but no colour is left


def find_trouble(
    power: Array, log2_neutral: Array, coordinates: Coordinates, locus: LocusResponse
) -> tuple[str, ...]:
    """Say for each light (n, 401) why no setting can neutralise it; an empty text where one can.

    Parameters
    ----------
    log2_neutral
        (n, 3) the camera's response [stops].
    coordinates
        Of the same lights, (n, 1).
    locus
        The camera's own; gains are counted against its response to the reference light of 5500 K.
    """
    relative = log2_neutral - find_locus_log2(locus, [1e6 / RATED_UNDER_KELVIN])[0]
    spread = relative.max(-1) - relative.min(-1)
    weakest = relative.argmin(-1)
    width = find_effective_width_nm(power)
    result = []
    for row in range(power.shape[0]):
        if power[row].sum() <= 0:
            result.append(NO_LIGHT)
        elif width[row] < NARROW_NM:
            result.append(
                f"almost a single line ({width[row]:.0f} nm wide): greys may be balanced, "
                "colours cannot be seen"
            )
        elif spread[row] > MOST_GAIN_STOPS:
            channel = ("red", "green", "blue")[weakest[row]]
            result.append(
                f"the {channel} channel is {min(spread[row], 40.0):.1f} stops short of what "
                "daylight gives it: no setting neutralises this light"
            )
        elif coordinates.beyond[row, 0]:
            side = "redder" if coordinates.shortfall_stops[row, 0] > 0 else "bluer"
            result.append(
                f"{side} than any light from 1000 to 25 000 K, by "
                f"{abs(coordinates.shortfall_stops[row, 0]):.1f} stops: no setting neutralises it"
            )
        else:
            result.append("")
    return tuple(result)
