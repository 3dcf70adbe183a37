"""A modelled sky by direction: the radiance that its illuminances are sums of.

A few spectra, and how much of each comes from where, so that half a million directions cost no
half a million spectra. The clear sky has three: its scattered light, the same weighed by how warm a
wavelength is, and the ground; a closed one has two. Above the ground and under the site's horizon
it is dark, as everywhere in `sky`. The sun's disc is not in it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from wbplan.core.tables import Array
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import scale_to_lux
from wbplan.sky.clear import (
    ClearSky,
    light_by_scattered,
    light_by_sky,
    light_by_sun,
)
from wbplan.sky.dome import FLAT, FREE_VIEW, Horizon, find_horizon_deg, find_sky_view
from wbplan.sky.overcast import find_overcast_lux
from wbplan.sky.pattern import find_pattern_directions, mix_patterns


class SkyByDirection(NamedTuple):
    """Spectra (k, 401) [W m-2 sr-1 nm-1] and how much of each comes from directions, (n, k)."""

    spectra: Array
    shares: Array


def see_clear_sky(
    sky: ClearSky, elevation_deg: Array, azimuth_deg: Array, horizon: Horizon = FREE_VIEW
) -> SkyByDirection:
    """See a clear sky and the ground under it from directions (n,).

    Parameters
    ----------
    sky
        Of one air or more and one instant or more; the first of each counts.
    """
    sun = sky.sun
    found = find_pattern_directions(
        float(sun.elevation_deg[0]), float(sun.azimuth_deg[0]), elevation_deg, azimuth_deg
    )
    level, warmth = (mix_patterns(each, sky.shape[:1])[0] for each in found)
    scattered, warm = light_by_scattered(sky)
    ground = light_by_sun(sky, FLAT, horizon) + light_by_sky(sky, FLAT, horizon)
    spectra = np.stack([scattered[0, 0], warm[0, 0], sky.albedo[0] * ground[0, 0]]) / np.pi
    up = elevation_deg > find_horizon_deg(horizon, azimuth_deg)
    shares = [up * level, up * warmth, elevation_deg <= 0]
    return SkyByDirection(spectra, np.stack(shares, axis=1))


def see_overcast(
    sun_elevation_deg: float,
    kelvin: float,
    ground_albedo: float,
    elevation_deg: Array,
    azimuth_deg: Array,
    horizon: Horizon = FREE_VIEW,
) -> SkyByDirection:
    """See a closed sky, as bright as usual, and the ground under it from directions (n,).

    Moon and Spencer's distribution (`sky.dome`): (1 + 2 sin h) / 3 of the zenith, which is 9 / 7
    of the mean.
    """
    lux = float(find_overcast_lux(sun_elevation_deg))
    power = scale_to_lux(radiate_daylight(np.array([kelvin])), lux)[0] / np.pi
    on_ground = ground_albedo * find_sky_view(FLAT, horizon).overcast
    up = elevation_deg > find_horizon_deg(horizon, azimuth_deg)
    level = up * (1.0 + 2.0 * np.sin(np.radians(np.maximum(elevation_deg, 0.0)))) / 3.0 * 9.0 / 7.0
    shares = np.stack([level, on_ground * (elevation_deg <= 0)], axis=1)
    return SkyByDirection(np.stack([power, power]), shares)
