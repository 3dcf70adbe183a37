"""Light under broken or thin cloud: the sun out, or hidden, and never their mean.

Idea
----
Such a sky has two levels, and hardly anything lies between them, so a source is one state or the
other. Both are told from the clear sky of `sky.clear` at that time:

- sun out: the beam times 0.48 to 1.15 (thin cloud before the sun at the one end), the clear sky's
  scattered light, and cloud that is lit beside the sun, which adds up to 1.8 times that;
- sun hidden: no beam; of all that a clear sky gives flat ground 0.13 to 0.68 is left.

The figures are those of minutes measured at Helsinki on the odd of 17 days of 2015 (photosynthetic
photons, whole and diffuse, in the data of photobiologySun, by hours in which both states came).
Judged with the even days, with four days of 2023, and with 14 skies at Singapore
(tests/sky/test_broken.py).

Colour: cloud beside the sun sends back sun and sky as they fall on flat ground; hidden, it is CIE
daylight from 6000 to 7500 K as under a closed sky. Direction: between the closed sky's and the
clear one's, since Perez' bins of such skies lie there (an upright face with the sun at 45 degrees
gets 0.84 to 0.90 of the flat light towards it and 0.28 to 0.32 away).

Weakness: where on the dome the clouds stand nobody knows; a face turned from the sun may see a lit
one, or a dark one, and what the band spreads for that is judged by no measurement.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wbplan.core.spread import spread_evenly
from wbplan.core.tables import Array
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import find_illuminance_lux, scale_to_lux
from wbplan.sky.clear import ClearSky, light_by_sky, light_by_sun
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing, Horizon, find_sky_view
from wbplan.sky.overcast import OVERCAST_KELVIN, OVERCAST_RANGE_KELVIN
from wbplan.sky.pattern import find_pattern_shares, mix_patterns

OUT, HIDDEN = "out", "hidden"
LOWEST_SUN_DEG = 5.0
# Least, usual and most: of the clear beam, of the scattered light that is added, of all light.
BEAM_SHARES = (0.48, 0.88, 1.15)
ADDED_SHARES = (0.0, 0.6, 1.8)
HIDDEN_SHARES = (0.13, 0.36, 0.68)
CHANGE_SHARES = ((1, 14, 3), (5, 36, 15))
"""Within so many minutes, of 100 so many moved by over half a stop, and by over one stop."""
_COLUMNS = 5


def spread_clouds(count: int) -> Array:
    """Spread places between 0 and 1 for what cloud does, (count, 5), without chance."""
    return spread_evenly(count, range(6, 6 + _COLUMNS))


def light_by_broken_cloud(
    sky: ClearSky,
    clouds: Array,
    sun: str,
    kelvin: float | None,
    facing: Facing,
    horizon: Horizon = FREE_VIEW,
) -> Array:
    """Find what sun, sky, cloud and ground give a surface.

    Parameters
    ----------
    sky
        The clear sky of that time, for m airs.
    clouds
        (m, 5) from `spread_clouds`; 0.5 is what is usual.
    sun
        `OUT` or `HIDDEN`.
    kelvin
        Of the light while the sun is hidden, None to spread it.
    facing, horizon
        The surface, and what blocks its view.

    Returns
    -------
    ndarray
        (m, t, 401) [W m-2 nm-1].
    """
    open_sky = light_by_sky(sky, FLAT)
    whole = light_by_sun(sky, FLAT) + open_sky
    reach = _find_reach(sky, clouds, facing, horizon)
    if sun == HIDDEN:
        level = find_illuminance_lux(whole) * _place(clouds[:, 0], HIDDEN_SHARES)[:, None]
        warm, cool = (1e6 / each for each in OVERCAST_RANGE_KELVIN)
        usual = 1e6 / (kelvin or OVERCAST_KELVIN)
        ends = (cool, usual, warm) if kelvin is None else (usual, usual, usual)
        power = radiate_daylight(1e6 / _interpolate(clouds[:, 1], ends))
        power = np.repeat(power[:, None, :], level.shape[1], axis=1)
        return scale_to_lux(power, level) * reach[..., None]
    lit = replace(sky, beam=sky.beam * _interpolate(clouds[:, 0], BEAM_SHARES)[:, None, None])
    added = find_illuminance_lux(open_sky)
    added = added * _interpolate(clouds[:, 1], ADDED_SHARES)[:, None]
    bright = light_by_sun(lit, facing, horizon) + light_by_sky(lit, facing, horizon)
    return np.asarray(bright + scale_to_lux(whole, added) * reach[..., None])


def _find_reach(sky: ClearSky, clouds: Array, facing: Facing, horizon: Horizon) -> Array:
    """Find what a surface gets of the cloud's light on flat ground, with the ground's, (m, t)."""
    sun = sky.sun
    shape, part = 2.0 * clouds[:, 2] - 1.0, clouds[:, 3, None]

    def find(facing: Facing) -> Array:
        shares = find_pattern_shares(sun.elevation_deg, sun.azimuth_deg, facing, horizon)
        clear = mix_patterns(shares.level, shape)
        return np.asarray(part * clear + (1.0 - part) * find_sky_view(facing, horizon).overcast)

    back = sky.albedo[:, None] * find_sky_view(facing, horizon).ground
    return np.asarray(find(facing) + back * find(FLAT))


def _interpolate(place: Array, ends: tuple[float, float, float]) -> Array:
    return np.asarray(np.interp(place, (0.0, 0.5, 1.0), ends))


def _place(place: Array, ends: tuple[float, float, float]) -> Array:
    """Place levels between their ends in the logarithm."""
    low, usual, high = np.log(ends)
    return np.asarray(np.exp(_interpolate(place, (low, usual, high))))


def say_broken(sun: str, kelvin: float | None) -> str:
    """Say what the band of a state spreads, in words."""
    low, high = OVERCAST_RANGE_KELVIN
    if sun == HIDDEN:
        colour = "" if kelvin is not None else f"{low:g} to {high:g} K and "
        least, _, most = HIDDEN_SHARES
        return f"the band spreads {colour}{least:g} to {most:g} of a clear sky's light"
    least, _, most = BEAM_SHARES
    return (
        f"the band spreads {least:g} to {most:g} of a clear sky's beam, lit cloud to "
        f"{ADDED_SHARES[2]:g} of its scattered light, and the usual air"
    )


def say_changes() -> str:
    """Say how fast light moved under such skies where it was measured."""
    told = (
        f"within {minutes} minute{'' if minutes == 1 else 's'} {half} of 100 readings moved by "
        f"over half a stop and {whole} by over one"
        for minutes, half, whole in CHANGE_SHARES
    )
    return f"{', '.join(told)} (one-minute means at Helsinki)"
