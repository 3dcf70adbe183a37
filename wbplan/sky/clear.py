"""Sunlight and skylight under a clear sky, as spectra on a surface.

Idea
----
Bird and Riordan (1984, SERI/TR-215-2436; J. Climate Appl. Meteor. 25, 87-97, 1986) give direct and
scattered spectral irradiance from the sun's height and five figures of the air; pvlib carries the
model (`pvlib.spectrum.spectrl2`). On a surface the beam falls from where the sun stands. The
scattered light is divided as Hay and Davies do: an aureole that comes from the sun's direction, and
a rest that is even over the dome. The ground sends back its albedo of what falls on it. A blocked
horizon hides beam and aureole while the sun stands behind it, and takes its share of the even part
and of the ground's light.

The paper divides wavelength by wavelength (equation 3-18). That puts nearly all that is warm in
skylight around the sun, and leaves to the rest of the sky a blue beyond any light of the
reference locus, where shade under a blue sky is met at 12 000 to 20 000 K (common practice, no
source). So the aureole's share is by default the same at every wavelength, what it is of the lux:
the rest then has the colour of the whole dome, 10 500 to 12 000 K. The truth lies between, and the
band spreads half way to the paper.

Where it stops
--------------
Under about 10 degrees of the sun's elevation the model goes wrong: sun and sky together turn bluer
as the sun sinks (5690 K at 10 degrees, 6290 K at 6, 7330 K at 4), where they should turn warm; the
scattered light is computed for a plane atmosphere. At the conditions of ASTM G173 its beam has 1 %
more lux than the standard's and the same colour, sun and sky on a tilted plane 5 % more and 7.5
mired bluer (6 with the paper's division). `LOWEST_SUN_DEG` is therefore the end. It is a
cloudless model: there is none here for broken cloud. A clear sky measured at Singapore, the sun at
56 degrees, had 5811 K and 87 klx with the sun (Balakrishnan 2019); here it is 5839 K and 97 klx.

The air
-------
What is not known of the air is most of the uncertainty. `spread_air` spreads it evenly over what is
usual, which gives every figure made of it a band.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import numpy as np

from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze_fields, resample
from wbplan.sky.dome import (
    FLAT,
    FREE_VIEW,
    Facing,
    Horizon,
    find_horizon_deg,
    find_incidence_cosine,
    find_sky_view,
)
from wbplan.sky.sun_position import SunPosition, load_pvlib

LOWEST_SUN_DEG = 10.0
AIR_DRAWS = 128  # of so many, bands of 90 % hold 85 to 93 % of random airs; of 32, 80 to 92
_BAND_NM = (350.0, 830.0)  # what of the model's 122 wavelengths the visible grid needs
_LEAST_COSINE = 0.01745  # of the zenith angle, in the aureole's projection (Hay and Davies)
# Powers of this root spread points evenly in six dimensions, as the golden ratio's do in one.
_ROOT = 1.1127756842787055  # x^7 = x + 1


@dataclass(frozen=True)
class Air:
    """What the model asks of the air and the ground.

    Parameters
    ----------
    aerosol_depth
        Optical depth of haze at 500 nm. 0.1: the paper's own examples.
    angstrom_exponent
        How it falls with wavelength. 1.14: rural haze, the paper's section 2.2.
    ozone_atm_cm, water_cm
        0.344 atm-cm and 1.42 cm: the U.S. Standard Atmosphere 1976 as ASTM G173-03 takes it.
    ground_albedo
        Share of light that the ground sends back, the same at every wavelength. 0.2: usual in
        solar engineering for mixed ground (Liu and Jordan 1963). Grass, brick and sand are
        coloured, which is left out.
    aureole_by_wavelength
        How far the aureole's share follows wavelength: 0 not at all, 1 as in the paper.
    """

    aerosol_depth: float = 0.1
    angstrom_exponent: float = 1.14
    ozone_atm_cm: float = 0.344
    water_cm: float = 1.42
    ground_albedo: float = 0.2
    aureole_by_wavelength: float = 0.0


USUAL_AIR = Air()
# What is usual, from clean to hazy, dry to moist; our choice of ends around the figures that
# Bird and Riordan's examples and ASTM G173 use. True marks what is spread by ratio.
AIR_RANGES: dict[str, tuple[float, float, bool]] = {
    "aerosol_depth": (0.05, 0.30, True),
    "angstrom_exponent": (0.8, 1.6, False),
    "ozone_atm_cm": (0.25, 0.42, False),
    "water_cm": (0.5, 4.0, True),
    "ground_albedo": (0.1, 0.3, False),
    "aureole_by_wavelength": (0.0, 0.5, False),
}
AIR_FIGURES = tuple(each.name for each in fields(Air))


def list_air(air: Air) -> Array:
    """List the figures of one air as (1, 6)."""
    return np.array([astuple(air)])


def spread_air(air: Air, stated: frozenset[str] = frozenset(), count: int = AIR_DRAWS) -> Array:
    """Spread the figures of the air that nobody stated over what is usual.

    Returns
    -------
    ndarray
        (count, 6), in the order of `AIR_FIGURES`: an additive recurrence, so without chance; what
        is ``stated`` stays as it is in each.
    """
    number = np.arange(1, count + 1)
    table = np.tile(astuple(air), (count, 1)).astype(np.float64)
    for column, (name, (low, high, by_ratio)) in enumerate(AIR_RANGES.items()):
        if name in stated:
            continue
        place = (0.5 + number * _ROOT ** -(column + 1.0)) % 1.0
        table[:, column] = low * (high / low) ** place if by_ratio else low + (high - low) * place
    return table


@dataclass(frozen=True, eq=False)
class ClearSky:
    """A modelled sky at its own wavelengths (w,) [nm], for m airs and t instants.

    ``beam`` (m, t, w) is on a surface that faces the sun, ``scattered`` on a flat one under a free
    dome [W m-2 nm-1]; ``aureole`` (m, t, w) is the share of ``scattered`` from around the sun;
    ``albedo`` (m,).
    """

    wavelength_nm: Array
    beam: Array
    scattered: Array
    aureole: Array
    albedo: Array
    sun: SunPosition

    def __post_init__(self) -> None:
        freeze_fields(self, "wavelength_nm", "beam", "scattered", "aureole", "albedo")


def model_clear_sky(sun: SunPosition, air: Array, pressure_pa: float) -> ClearSky:
    """Model a clear sky.

    Parameters
    ----------
    sun
        (t,) where it stands, above the horizon; trust ends at `LOWEST_SUN_DEG`.
    air
        (m, 6) from `list_air` or `spread_air`.
    pressure_pa
        At the place [Pa].

    Returns
    -------
    ClearSky
        Rayleigh scattering, haze, water, ozone and mixed gases at the air mass of Kasten and Young
        (1989), the earth's distance by the day of the year.

    Raises
    ------
    ValueError
        If the sun does not stand above the horizon.
    """
    if (sun.elevation_deg <= 0).any():
        raise ValueError("the clear sky is modelled only while the sun is up")
    pvlib = load_pvlib()
    count, times = air.shape[0], sun.elevation_deg.size
    zenith = np.tile(90.0 - sun.elevation_deg, count)
    haze, exponent, ozone, water, albedo = (np.repeat(each, times) for each in air.T[:5])
    found = pvlib.spectrum.spectrl2(
        zenith,
        zenith,
        0.0,
        albedo,
        pressure_pa,
        pvlib.atmosphere.get_relative_airmass(zenith, model="kastenyoung1989"),
        water,
        ozone,
        haze,
        dayofyear=np.tile(sun.day_of_year, count),
        alpha=exponent,
    )
    nm = np.asarray(found["wavelength"], dtype=np.float64).ravel()
    seen = (nm >= _BAND_NM[0]) & (nm <= _BAND_NM[1])

    def take(name: str) -> Array:
        table = np.asarray(found[name])[seen]
        return np.moveaxis(table.reshape(-1, count, times), 0, -1)

    beam, scattered = take("dni"), take("dhi")
    by_nm = beam / np.broadcast_to(take("dni_extra"), beam.shape)
    sight = np.interp(nm[seen], WAVELENGTHS_NM, load_table("photopic")) * np.gradient(nm[seen])
    of_lux = (by_nm * scattered @ sight) / (scattered @ sight)
    follow = air[:, 5, None, None]
    aureole = follow * by_nm + (1.0 - follow) * of_lux[..., None]
    return ClearSky(nm[seen], beam, scattered, aureole, air[:, 4], sun)


def find_sunlit(sun: SunPosition, horizon: Horizon) -> np.ndarray:
    """Tell whether the sun clears the horizon, (t,) of bool."""
    return np.asarray(sun.elevation_deg > find_horizon_deg(horizon, sun.azimuth_deg))


def light_by_sun(sky: ClearSky, facing: Facing, horizon: Horizon = FREE_VIEW) -> Array:
    """Find what the sun's beam gives a surface, (m, t, 401) [W m-2 nm-1].

    0 while the sun stands behind the surface or behind the horizon.
    """
    sun = sky.sun
    cosine = find_incidence_cosine(facing, sun.elevation_deg, sun.azimuth_deg)
    return _bring_to_grid(sky, sky.beam * (cosine * find_sunlit(sun, horizon))[:, None])


def light_by_sky(sky: ClearSky, facing: Facing, horizon: Horizon = FREE_VIEW) -> Array:
    """Find what sky and ground give a surface, all but the beam, (m, t, 401) [W m-2 nm-1].

    The ground lies under the same horizon as the surface, in the sun while that clears it.
    """
    view = find_sky_view(facing, horizon)
    on_ground = sky.beam * (_find_height(sky) * find_sunlit(sky.sun, horizon))[:, None]
    on_ground = on_ground + _scatter(sky, FLAT, horizon)
    back = sky.albedo[:, None, None] * on_ground * view.ground
    return _bring_to_grid(sky, _scatter(sky, facing, horizon) + back)


def light_by_shade(sky: ClearSky, share_of_sky: float) -> Array:
    """Find what open shade gives a surface: so much of the sky, and ground in shade as well.

    Parameters
    ----------
    share_of_sky
        Of a free dome's light on a flat surface, 0 to 1; which part of the dome it comes from
        is not asked, so its colour is the mean of all. The rest of the view is ground and walls
        that lie in the same shade and send back the albedo of it.

    Returns
    -------
    ndarray
        (m, t, 401) [W m-2 nm-1].
    """
    back = sky.albedo[:, None, None] * (1.0 - share_of_sky)
    return _bring_to_grid(sky, sky.scattered * share_of_sky * (1.0 + back))


def show_beam(sky: ClearSky) -> Array:
    """Show the sun's beam on a surface that faces it, whatever hides it, (m, t, 401)."""
    return _bring_to_grid(sky, sky.beam)


def _find_height(sky: ClearSky) -> Array:
    return np.asarray(np.maximum(np.sin(np.radians(sky.sun.elevation_deg)), _LEAST_COSINE))


def _scatter(sky: ClearSky, facing: Facing, horizon: Horizon) -> Array:
    """Find the scattered light on a surface, (m, t, w): aureole by direction, the rest even."""
    sun = sky.sun
    cosine = find_incidence_cosine(facing, sun.elevation_deg, sun.azimuth_deg)
    around = (cosine * find_sunlit(sun, horizon) / _find_height(sky))[:, None]
    even = find_sky_view(facing, horizon).even
    return np.asarray(sky.scattered * (sky.aureole * around + (1.0 - sky.aureole) * even))


def _bring_to_grid(sky: ClearSky, power: Array) -> Array:
    flat = power.reshape(-1, sky.wavelength_nm.size).T
    return resample(sky.wavelength_nm, flat)[0].T.reshape(*power.shape[:2], -1)
