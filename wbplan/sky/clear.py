"""Sunlight and skylight under a clear sky, as spectra on a surface.

Idea
----
Bird and Riordan (1984, SERI/TR-215-2436; J. Climate Appl. Meteor. 25, 87-97, 1986) give direct and
scattered spectral irradiance from the sun's height and five figures of the air; pvlib carries the
model (`pvlib.spectrum.spectrl2`). On a surface the beam falls from where the sun stands. The
scattered light keeps the model's total on a flat surface, wavelength by wavelength, and lies over
the dome as `sky.pattern` says. What the surface sees of it is integrated above its horizon, and the
ground sends back its albedo of what falls on it.

Colour by direction. The model knows two kinds of scattered light: by air, blue, and by haze, warm
and thrown forward. The aureole of the pattern takes the colour of the haze's part and the rest that
of the air's, as far as `colour_by_direction` says: 0 gives the whole dome one colour, 1 the paper's
own division. Nothing of it moves a flat surface. Spectral skies of others lie between the two away
from the sun and at the second towards it.

The low sun
-----------
From 5 degrees down the plane atmosphere of the model is left, and at 1 degree and under it the
scattered light has the colour of the measured one of `sky.twilight`, and of its level what the
beam leaves over. In between the two are mixed in the logarithm. The beam stays the model's down to
the horizon (air mass of Kasten and Young 1989, refraction, the share of the sun's disc that is up).
Flat ground turns bluer as the sun sinks and a face towards it warmer: both are so.
`LOWEST_SUN_DEG` is the end.

At the conditions of ASTM G173 the beam has 1 % more lux than the standard's and the same colour,
sun and sky on a tilted plane some 5 % more and 6 mired bluer. A clear sky measured at Singapore,
the sun at 56 degrees, had 5811 K and 87 klx with the sun (Balakrishnan 2019); here it is 5839 K and
97 klx. What it is out by elsewhere is in `sky.model_error`. It is a cloudless model.

The air
-------
`spread_air` spreads what is not known of the air evenly over what is usual, and
`sky.model_error` what the model is out by, which together give every figure its band.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import numpy as np

from wbplan.core.spread import spread_evenly
from wbplan.core.tables import Array, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze, freeze_fields, resample
from wbplan.sky import twilight
from wbplan.sky.dome import (
    FLAT,
    FREE_VIEW,
    Facing,
    Horizon,
    find_horizon_deg,
    find_incidence_cosine,
    find_sky_view,
)
from wbplan.sky.model_error import COLUMNS, scale_errors
from wbplan.sky.pattern import find_pattern_shares, mix_patterns
from wbplan.sky.sun_position import SunPosition, load_pvlib, remove_refraction
from wbplan.sky.twilight import light_by_twilight

LOWEST_SUN_DEG = twilight.LOWEST_SUN_DEG
AIR_DRAWS = 128  # of so many, bands of 90 % hold 82 to 95 % of what is thrown at random
SUN_RADIUS_DEG = 0.2666
_BAND_NM = (350.0, 830.0)  # what of the model's 122 wavelengths the visible grid needs
_LOW_DEG, _PLANE_DEG = 1.0, 5.0  # the measured light up to the one, the model from the other
_LEAST_DEG = 0.1  # the model's own formulas end at the horizon
_LEAST_SHARE = 0.5  # of the measured light that is the sky's under a low sun
_DIVIDED_DEG = 10.0
_LEAST_COLOUR = 0.05  # of a wavelength's mean that a direction keeps
_SHADE_WARMTH = 0.2  # open shade may see more of the aureole, or less: half of what faces differ by
_TILT_NM = 14.388  # second radiation constant [1e6 nm / mired]
_GREEN_NM = 555.0


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
    colour_by_direction
        How far the aureole is warm and the rest of the sky blue: 0 not at all, 1 as the paper
        divides the scattered light.
    """

    aerosol_depth: float = 0.1
    angstrom_exponent: float = 1.14
    ozone_atm_cm: float = 0.344
    water_cm: float = 1.42
    ground_albedo: float = 0.2
    colour_by_direction: float = 0.75


USUAL_AIR = Air()
# What is usual, from clean to hazy, dry to moist; our choice of ends around the figures that
# Bird and Riordan's examples and ASTM G173 use. True marks what is spread by ratio.
AIR_RANGES: dict[str, tuple[float, float, bool]] = {
    "aerosol_depth": (0.05, 0.30, True),
    "angstrom_exponent": (0.8, 1.6, False),
    "ozone_atm_cm": (0.25, 0.42, False),
    "water_cm": (0.5, 4.0, True),
    "ground_albedo": (0.1, 0.3, False),
    "colour_by_direction": (0.3, 1.2, False),
}
AIR_FIGURES = tuple(each.name for each in fields(Air))
NO_ERROR = freeze(np.zeros((1, COLUMNS)))


def list_air(air: Air) -> Array:
    """List the figures of one air as (1, 6)."""
    return np.array([astuple(air)])


def spread_air(air: Air, stated: frozenset[str] = frozenset(), count: int = AIR_DRAWS) -> Array:
    """Spread the figures of the air that nobody stated over what is usual.

    Returns
    -------
    ndarray
        (count, 6), in the order of `AIR_FIGURES`, without chance; what is ``stated`` stays as it
        is in each.
    """
    places = spread_evenly(count, range(len(AIR_FIGURES)))
    table = np.tile(astuple(air), (count, 1)).astype(np.float64)
    for column, (name, (low, high, by_ratio)) in enumerate(AIR_RANGES.items()):
        if name in stated:
            continue
        place = places[:, column]
        table[:, column] = low * (high / low) ** place if by_ratio else low + (high - low) * place
    return table


@dataclass(frozen=True, eq=False)
class ClearSky:
    """A modelled sky at its own wavelengths (w,) [nm], for m airs and t instants.

    ``beam`` (m, t, w) is on a surface that faces a sun that is wholly up, ``scattered`` on a flat
    one under a free dome [W m-2 nm-1]. ``warmth`` (m, t, w) is how much more of a wavelength lies
    in the aureole than of the lux, as far as the air lets colour follow it: the factor on
    ``scattered`` is 1 + ``warmth`` times the surface's share. ``shape`` (m,) mixes the patterns;
    ``albedo`` (m,).
    """

    wavelength_nm: Array
    beam: Array
    scattered: Array
    warmth: Array
    shape: Array
    albedo: Array
    sun: SunPosition

    def __post_init__(self) -> None:
        freeze_fields(self, "wavelength_nm", "beam", "scattered", "warmth", "shape", "albedo")


def model_clear_sky(
    sun: SunPosition, air: Array, pressure_pa: float, errors: Array = NO_ERROR
) -> ClearSky:
    """Model a clear sky.

    Parameters
    ----------
    sun
        (t,) where it stands, at `LOWEST_SUN_DEG` or above.
    air
        (m, 6) from `list_air` or `spread_air`.
    pressure_pa
        At the place [Pa].
    errors
        (m, 5) or (1, 5) from `spread_errors`: what the model is out by, -1 to 1.

    Returns
    -------
    ClearSky
        Rayleigh scattering, haze, water, ozone and mixed gases at the air mass of Kasten and Young
        (1989), the earth's distance by the day of the year.

    Raises
    ------
    ValueError
        If the sun stands lower.
    """
    if (sun.elevation_deg < LOWEST_SUN_DEG).any():
        raise ValueError(f"the clear sky is modelled with the sun at {LOWEST_SUN_DEG:g}° or more")
    pvlib = load_pvlib()
    count, times = air.shape[0], sun.elevation_deg.size
    zenith = np.tile(90.0 - np.maximum(sun.elevation_deg, _LEAST_DEG), count)
    haze, exponent, ozone, water, albedo = (np.repeat(each, times) for each in air.T[:5])
    mass = pvlib.atmosphere.get_relative_airmass(zenith, model="kastenyoung1989")
    found = pvlib.spectrum.spectrl2(
        zenith,
        zenith,
        0.0,
        albedo,
        pressure_pa,
        mass,
        water,
        ozone,
        haze,
        dayofyear=np.tile(sun.day_of_year, count),
        alpha=exponent,
    )
    nm = np.asarray(found["wavelength"], dtype=np.float64).ravel()
    seen = (nm >= _BAND_NM[0]) & (nm <= _BAND_NM[1])
    nm = nm[seen]

    def take(name: str) -> Array:
        table = np.asarray(found[name])[seen]
        return np.moveaxis(table.reshape(-1, count, times), 0, -1)

    beam, scattered = take("dni"), take("dhi")
    sight = np.interp(nm, WAVELENGTHS_NM, load_table("photopic")) * np.gradient(nm)
    scattered = _lower_sun(sun, nm, sight, beam, scattered)
    by_haze = _divide(nm, 90.0 - zenith, pressure_pa, haze, exponent)
    by_haze = by_haze.reshape(count, times, -1)
    mean = ((by_haze * scattered) @ sight / (scattered @ sight))[..., None]
    warmth = (by_haze - mean) / np.maximum(mean * (1.0 - mean), 0.05)
    error = scale_errors(np.broadcast_to(errors, (count, COLUMNS)), sun.elevation_deg)
    return ClearSky(
        nm,
        _shift(beam, error.beam_stops, error.beam_mired, nm, sight),
        _shift(scattered, error.sky_stops, error.sky_mired, nm, sight),
        air[:, 5, None, None] * warmth,
        error.shape,
        air[:, 4],
        sun,
    )


def find_sunlit_share(sun: SunPosition, horizon: Horizon) -> Array:
    """Find how much of the sun's disc clears the horizon, (t,) from 0 to 1.

    The horizon is taken to be level over the half degree that the disc is wide.
    """
    over = sun.elevation_deg - find_horizon_deg(horizon, sun.azimuth_deg)
    part = np.clip(over / SUN_RADIUS_DEG, -1.0, 1.0)
    return np.asarray((np.pi / 2 + np.arcsin(part) + part * np.sqrt(1.0 - part**2)) / np.pi)


def light_by_sun(sky: ClearSky, facing: Facing, horizon: Horizon = FREE_VIEW) -> Array:
    """Find what the sun's beam gives a surface, (m, t, 401) [W m-2 nm-1].

    0 while the sun stands behind the surface or behind the horizon.
    """
    sun = sky.sun
    cosine = find_incidence_cosine(facing, sun.elevation_deg, sun.azimuth_deg)
    return _bring_to_grid(sky, sky.beam * (cosine * find_sunlit_share(sun, horizon))[:, None])


def light_by_sky(sky: ClearSky, facing: Facing, horizon: Horizon = FREE_VIEW) -> Array:
    """Find what sky and ground give a surface, all but the beam, (m, t, 401) [W m-2 nm-1].

    The ground lies under the same horizon as the surface, in the sun while that clears it.
    """
    light = _scatter(sky, facing, horizon)
    back = sky.albedo[:, None, None] * find_sky_view(facing, horizon).ground
    if facing.tilt_deg > 0:
        sun = sky.sun
        height = find_incidence_cosine(FLAT, sun.elevation_deg, sun.azimuth_deg)
        on_ground = sky.beam * (height * find_sunlit_share(sun, horizon))[:, None]
        light = light + back * (on_ground + _scatter(sky, FLAT, horizon))
    return _bring_to_grid(sky, light)


def light_by_shade(sky: ClearSky, share_of_sky: float) -> Array:
    """Find what open shade gives a surface: so much of the sky, and ground in shade as well.

    Parameters
    ----------
    share_of_sky
        Of a free dome's light on a flat surface, 0 to 1; which part of the dome it comes from
        is not asked, so its colour is the mean of all, and a draw's may be warmer or bluer. The
        rest of the view is ground and walls that lie in the same shade and send back the albedo
        of it.

    Returns
    -------
    ndarray
        (m, t, 401) [W m-2 nm-1].
    """
    back = sky.albedo[:, None, None] * (1.0 - share_of_sky)
    colour = np.maximum(1.0 + _SHADE_WARMTH * sky.shape[:, None, None] * sky.warmth, _LEAST_COLOUR)
    return _bring_to_grid(sky, sky.scattered * colour * share_of_sky * (1.0 + back))


def show_beam(sky: ClearSky) -> Array:
    """Show the sun's beam on a surface that faces it, whatever hides it, (m, t, 401)."""
    return _bring_to_grid(sky, sky.beam)


def light_by_scattered(sky: ClearSky) -> tuple[Array, Array]:
    """Find the scattered light on a flat surface, and the same times its warmth, (m, t, 401)."""
    flat = _bring_to_grid(sky, sky.scattered)
    rise = max(0.0, -float(sky.warmth.min()))  # what is brought to the grid is light
    return flat, _bring_to_grid(sky, sky.scattered * (sky.warmth + rise)) - rise * flat


def _scatter(sky: ClearSky, facing: Facing, horizon: Horizon) -> Array:
    """Find the scattered light on a surface, (m, t, w)."""
    shares = find_pattern_shares(sky.sun.elevation_deg, sky.sun.azimuth_deg, facing, horizon)
    level = mix_patterns(shares.level, sky.shape)[..., None]
    warm = mix_patterns(shares.warmth, sky.shape)[..., None]
    return np.asarray(sky.scattered * np.maximum(level + sky.warmth * warm, _LEAST_COLOUR * level))


def _lower_sun(sun: SunPosition, nm: Array, sight: Array, beam: Array, scattered: Array) -> Array:
    """Lead the scattered light over to the measured one as the sun goes down, (m, t, w)."""
    low = sun.elevation_deg < _PLANE_DEG
    if not low.any():
        return scattered
    under = SunPosition(sun.elevation_deg[low], sun.azimuth_deg[low], sun.day_of_year[low])
    true = remove_refraction(under.elevation_deg)
    fine = light_by_twilight(true)
    whole = np.stack([np.interp(nm, WAVELENGTHS_NM, each) for each in fine])
    height = find_incidence_cosine(FLAT, under.elevation_deg, under.azimuth_deg)
    direct = beam[:, low] @ sight * height * find_sunlit_share(under, FREE_VIEW)
    rest = np.maximum(1.0 - direct / (whole @ sight), _LEAST_SHARE)
    measured = whole * rest[..., None]
    part = np.clip((_PLANE_DEG - under.elevation_deg) / (_PLANE_DEG - _LOW_DEG), 0.0, 1.0)
    part = (part**2 * (3.0 - 2.0 * part))[:, None]
    result = scattered.copy()
    result[:, low] = np.exp((1 - part) * np.log(scattered[:, low]) + part * np.log(measured))
    return result


def _divide(nm: Array, elevation: Array, pressure_pa: float, haze: Array, exponent: Array) -> Array:
    """Find which share of the scattered light is the haze's, (n, w): equations 3-5 and 3-6.

    The paper's single-scattering albedo of rural haze and its asymmetry of 0.65. A sun under 10
    degrees counts as at 10: what lights the dome then has passed above the thick of the air.
    """
    elevation = np.maximum(elevation, _DIVIDED_DEG)
    mass = load_pvlib().atmosphere.get_relative_airmass(90.0 - elevation, "kastenyoung1989")
    pressed = mass * pressure_pa / 101325.0
    um = nm / 1000.0
    rayleigh = np.exp(-pressed[:, None] / (um**4 * (115.6406 - 1.335 / um**2)))
    depth = haze[:, None] * (um / 0.5) ** -exponent[:, None]
    albedo = 0.945 * np.exp(-0.095 * np.log(um / 0.4) ** 2)
    log = np.log(1.0 - 0.65)
    first = log * (1.459 + log * (0.1595 + log * 0.4129))
    second = log * (0.0783 + log * (-0.3824 - log * 0.5874))
    up = np.sin(np.radians(elevation))[:, None]
    forward = 1.0 - 0.5 * np.exp((first + second * up) * up)
    by_haze = rayleigh**1.5 * (1.0 - np.exp(-albedo * depth * mass[:, None])) * forward
    by_air = 0.5 * (1.0 - rayleigh**0.95)
    return np.asarray(by_haze / (by_haze + by_air))


def _shift(power: Array, stops: Array, mired: Array, nm: Array, sight: Array) -> Array:
    """Shift light (m, t, w) by stops and by mired (m, t), as Wien's law shifts a black body."""
    turned = power * np.exp(-_TILT_NM * mired[..., None] * (1.0 / nm - 1.0 / _GREEN_NM))
    level = 2.0**stops * (power @ sight) / (turned @ sight)
    return np.asarray(turned * level[..., None])


def _bring_to_grid(sky: ClearSky, power: Array) -> Array:
    flat = power.reshape(-1, sky.wavelength_nm.size).T
    return resample(sky.wavelength_nm, flat)[0].T.reshape(*power.shape[:2], -1)
