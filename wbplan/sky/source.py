"""A light of the sky as a scene names it: which part of it, on which surface, through which air.

`shine` turns one into spectra and lux at instants, with plausible neighbours for the band. An
instant at which the model is not to be trusted gives no light but a reason; nothing is guessed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.spread import spread_evenly
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import find_illuminance_lux, freeze_fields, scale_to_lux
from wbplan.sky import broken, overcast
from wbplan.sky import clear as clearsky
from wbplan.sky.broken import (
    BEAM_SHARES,
    HIDDEN,
    OUT,
    light_by_broken_cloud,
    say_broken,
    spread_clouds,
)
from wbplan.sky.clear import (
    AIR_DRAWS,
    AIR_RANGES,
    NO_ERROR,
    USUAL_AIR,
    Air,
    ClearSky,
    find_sunlit_share,
    light_by_shade,
    light_by_sky,
    light_by_sun,
    list_air,
    model_clear_sky,
    spread_air,
)
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing, Horizon, find_incidence_cosine
from wbplan.sky.glass import find_glass_transmittance, find_sky_transmittance
from wbplan.sky.model_error import say_errors, spread_errors
from wbplan.sky.overcast import (
    LEVEL_FACTOR,
    OVERCAST_KELVIN,
    OVERCAST_RANGE_KELVIN,
    light_by_overcast,
    spread_overcast,
)
from wbplan.sky.site import Site
from wbplan.sky.sun_position import SunPosition, find_pressure_pa, find_sun

SKY_KINDS = ("sun", "sky", "overcast", "shade", "broken_cloud", "bounce")
SKY_ORIGIN = "model of the sky"  # what the origin of every such spectrum begins with
_KIND_WORDS = {
    "sun": "clear sun",
    "sky": "clear sky",
    "overcast": "overcast sky",
    "shade": "open shade",
    "broken_cloud": "broken cloud",
    "bounce": "bounce under clear sky",
}
_AIR_WORDS = {
    "aerosol_depth": "aerosol depth {}",
    "angstrom_exponent": "its exponent {}",
    "ozone_atm_cm": "ozone {} atm-cm",
    "water_cm": "water {} cm",
    "ground_albedo": "ground albedo {}",
    "colour_by_direction": "colour by direction {}",
}
BOUNCE_FACTORS = (0.75, 1.33)  # albedos are guessed by eye (common practice, no source)
_BOUNCE_COLUMN = 11
_BIRD = "Bird and Riordan 1984"


@dataclass(frozen=True)
class SkyLight:
    """A light of the sky.

    Parameters
    ----------
    kind
        One of `SKY_KINDS`: the sun's beam; the rest of a clear sky with the ground; a closed
        cloud; open shade; all light under broken cloud; what a wall or ground opposite sends
        back.
    facing
        The surface it falls on; of bounce the wall itself.
    air
        With the names of the figures that were ``stated``; the others are spread for the band.
    horizon
        What blocks the view.
    share_of_sky
        Of open shade: how much of the dome is seen.
    with_sky
        Of the sun: whether the sky's light on the surface is counted in.
    kelvin
        Of a sky of cloud, None where it is not stated.
    albedo, share_of_view
        Of bounce: what the wall sends back, and how much of all light from before the surface it
        would give if it were as bright as a white one in its place: 1 fills the view.
    panes
        Of glass before the surface, which lies in its plane: `glass.find_glass_transmittance`.
    sun
        Of broken cloud: `broken.OUT` or `broken.HIDDEN`.
    when
        Its own time, None for that of the setup.
    """

    kind: str
    facing: Facing = FLAT
    air: Air = USUAL_AIR
    stated: frozenset[str] = frozenset()
    horizon: Horizon = FREE_VIEW
    share_of_sky: float = 0.5
    with_sky: bool = False
    kelvin: float | None = None
    sun: str = ""
    albedo: float = 0.0
    share_of_view: float = 0.0
    panes: int = 0
    when: datetime | None = None

    @property
    def lowest_sun_deg(self) -> float:
        """The elevation of the sun under which it is not to be trusted."""
        lowest = {"overcast": overcast.LOWEST_SUN_DEG, "broken_cloud": broken.LOWEST_SUN_DEG}
        return lowest.get(self.kind, clearsky.LOWEST_SUN_DEG)

    @property
    def words(self) -> str:
        """The light in words: 'clear sun and sky on a surface facing 200°'."""
        said = _KIND_WORDS[self.kind]
        if self.kind == "shade":
            return f"{said}, {self.share_of_sky:g} of the sky"
        if self.with_sky:
            said += " and sky"
        if self.sun:
            said += f", the sun {self.sun},"
        if self.kind == "bounce":
            said += f", albedo {self.albedo:g}, {self.share_of_view:g} of the view, from"
            if self.facing.tilt_deg == 0:
                return f"{said} the ground"
            return f"{said} a wall facing {self.facing.azimuth_deg:g}°"
        if self.panes:
            said += f" through {self.panes} pane{'' if self.panes == 1 else 's'}"
        tilt = self.facing.tilt_deg
        if tilt == 0:
            return f"{said} on a flat surface"
        stands = "an upright surface" if tilt == 90 else f"a surface tilted {tilt:g}°"
        return f"{said} on {stands} facing {self.facing.azimuth_deg:g}°"

    @property
    def origin(self) -> str:
        """Where its numbers come from."""
        if self.kind == "overcast":
            kelvin = self.kelvin or OVERCAST_KELVIN
            how = (
                f"CIE daylight of {kelvin:g} K at the mean level of an overcast sky (IES 1984), "
                "Moon and Spencer's distribution"
            )
        elif self.kind == "broken_cloud":
            how = (
                f"broken or thin cloud, the sun {self.sun}, by minutes measured at Helsinki in "
                f"2015, against the clear sky of {_BIRD}, ground albedo {self.air.ground_albedo:g}"
            )
        else:
            air = self.air
            how = (
                f"{_BIRD}, aerosol depth {air.aerosol_depth:g} at 500 nm (exponent "
                f"{air.angstrom_exponent:g}), ozone {air.ozone_atm_cm:g} atm-cm, water "
                f"{air.water_cm:g} cm, ground albedo {air.ground_albedo:g}, over the dome as CIE S "
                "011 type 12; under 5° led over to measured twilight (Spitschan and others 2016)"
            )
        return f"{SKY_ORIGIN}: {how}"

    @property
    def spread_words(self) -> str:
        """What the band spreads, in words."""
        if self.kind == "overcast":
            factor = LEVEL_FACTOR
            low, high = OVERCAST_RANGE_KELVIN
            colour = "" if self.kelvin is not None else f"{low:g} to {high:g} K and "
            return f"the band spreads {colour}{1 / factor:g} to {factor:g} times the mean level"
        if self.kind == "broken_cloud":
            return say_broken(self.sun, self.kelvin)
        parts = [
            _AIR_WORDS[name].format(f"{low:g} to {high:g}")
            for name, (low, high, _) in AIR_RANGES.items()
            if name not in self.stated
        ]
        if self.kind == "bounce":
            low, high = BOUNCE_FACTORS
            parts.append(f"what the wall sends back {low:g} to {high:g} times")
        return f"the band spreads {', '.join([*parts, say_errors()])}"


@dataclass(frozen=True, eq=False)
class SkyShine:
    """What a light of the sky gives at t instants.

    ``power`` (t, 401) is the light per lux [W m-2 nm-1], ``lux`` (t,) its level on the surface, 0
    where the sun is hidden (``power`` is then the bare beam's). ``draw_power`` (m, t, 401) and
    ``draw_lux`` (m, t) are the same for plausible airs or clouds. ``refused`` (t,) says why
    there is no light to be had from the model, empty where there is; figures are 0 there.
    ``elevation_deg`` and ``azimuth_deg`` (t,) are the sun's.
    """

    power: Array
    lux: Array
    draw_power: Array
    draw_lux: Array
    refused: tuple[str, ...]
    elevation_deg: Array
    azimuth_deg: Array

    def __post_init__(self) -> None:
        freeze_fields(self, "power", "lux", "draw_power", "draw_lux")
        freeze_fields(self, "elevation_deg", "azimuth_deg")


@dataclass(frozen=True, eq=False)
class PlacedSky:
    """A light of the sky at a place and a time: what it gives then, for one instant of `SkyShine`.

    ``lux`` is the modelled level, ``draw_power`` (m, 401) per lux and ``draw_lux`` (m,) those of
    plausible neighbours.
    """

    light: SkyLight
    site: Site
    when: datetime
    lux: float
    draw_power: Array
    draw_lux: Array
    elevation_deg: float
    azimuth_deg: float

    def __post_init__(self) -> None:
        freeze_fields(self, "draw_power", "draw_lux")


def place_sky(light: SkyLight, site: Site, when: datetime, seen: SkyShine) -> PlacedSky:
    """Place a light at a time, by what it gives at that one instant."""
    return PlacedSky(
        light,
        site,
        when,
        float(seen.lux[0]),
        seen.draw_power[:, 0],
        seen.draw_lux[:, 0],
        float(seen.elevation_deg[0]),
        float(seen.azimuth_deg[0]),
    )


def explain_refusal(light: SkyLight, elevation_deg: float) -> str:
    """Say why the model is not to be trusted with the sun at an elevation; '' where it is."""
    if elevation_deg >= light.lowest_sun_deg:
        return ""
    low = f"the sun stands at {elevation_deg:.1f}°, under {light.lowest_sun_deg:g}°"
    if light.kind in ("overcast", "broken_cloud"):
        return f"{low}: cloud turns blue with twilight, which is not modelled"
    return f"{low}: deeper twilight and night are not modelled"


Skies = dict[tuple[Site, Air, frozenset[str], bytes, bool], ClearSky]
"""Skies modelled already, by place, air, instants, and whether cloud stands before them."""


def shine(light: SkyLight, site: Site, seconds: ArrayLike, skies: Skies | None = None) -> SkyShine:
    """Find what a light of the sky gives at instants.

    Parameters
    ----------
    light
        Which.
    site
        Where.
    seconds
        (t,) since 1970-01-01 00:00 UTC [s].
    skies
        Is looked up and added to, so that lights under one sky model it once.

    Returns
    -------
    SkyShine
        Every light of one scene is drawn from the same airs in the same order, so that the m-th
        draws of all belong together.
    """
    sun = find_sun(seconds, site.latitude_deg, site.longitude_deg, site.altitude_m)
    refused = tuple(explain_refusal(light, float(each)) for each in sun.elevation_deg)
    fine = np.array([not each for each in refused], dtype=bool)
    times = fine.size
    power, lux = np.zeros((AIR_DRAWS + 1, times, 401)), np.zeros((AIR_DRAWS + 1, times))
    if fine.any():
        up = SunPosition(sun.elevation_deg[fine], sun.azimuth_deg[fine], sun.day_of_year[fine])
        power[:, fine], lux[:, fine] = _shine_up(light, site, up, {} if skies is None else skies)
    return SkyShine(
        power[0], lux[0], power[1:], lux[1:], refused, sun.elevation_deg, sun.azimuth_deg
    )


def is_sun_hidden(light: SkyLight, elevation_deg: float, azimuth_deg: float) -> str:
    """Say what hides the sun from a surface: 'the horizon', 'the surface itself', or ''."""
    sun = SunPosition(np.array([elevation_deg]), np.array([azimuth_deg]), np.ones(1, dtype=int))
    if find_sunlit_share(sun, light.horizon)[0] <= 0:
        return "the horizon"
    lit = find_incidence_cosine(light.facing, elevation_deg, azimuth_deg) > 0
    return "" if lit else "the surface itself"


def find_other_state(light: SkyLight, site: Site, seconds: ArrayLike) -> tuple[Array, Array]:
    """Find what changes on a surface under broken cloud when the sun comes out.

    Returns
    -------
    tuple
        Stops it gets brighter and mired it gets warmer, (t,) each; NaN where the model is not to
        be trusted.
    """
    seen = [shine(replace(light, sun=each), site, seconds) for each in (HIDDEN, OUT)]
    lit = (seen[0].lux > 0) & (seen[1].lux > 0)
    levels = [np.where(lit, each.lux, np.nan) for each in seen]
    power = [np.where(lit[:, None], each.power, 1.0) for each in seen]
    cct = [np.where(lit, find_cct_duv(each)[..., 0], np.nan) for each in power]
    return np.log2(levels[1] / levels[0]), 1e6 / cct[1] - 1e6 / cct[0]


def find_beam_stops(light: SkyLight, site: Site, seconds: ArrayLike) -> Array:
    """Find how many stops more a surface gets with the sun's beam than from the sky alone, (t,).

    In the stated air, and under the light's own horizon; 0 while something hides the sun, and where
    the model is not to be trusted.
    """
    beam, rest, _ = _part_light(light, site, seconds)
    return np.log2(1.0 + beam / np.where(rest > 0, rest, np.inf))


def find_beam_lux(light: SkyLight, site: Site, seconds: ArrayLike) -> Array:
    """Find how many lux of a light are the sun's beam, (t,): of `sun`, and of broken cloud that
    lets it out, which dims it as usual; 0 of other kinds and where the model is not to be trusted.
    """
    if light.kind != "sun" and light.sun != OUT:
        return np.zeros(np.size(seconds))
    beam, _, cosine = _part_light(light, site, seconds)
    if light.kind == "sun":
        return np.asarray(beam * find_glass_transmittance(cosine, light.panes))
    return beam * BEAM_SHARES[1]


def _part_light(light: SkyLight, site: Site, seconds: ArrayLike) -> tuple[Array, Array, Array]:
    """Find the lux of beam and sky on a light's surface, and the beam's cosine, (t,) each."""
    sun = find_sun(seconds, site.latitude_deg, site.longitude_deg, site.altitude_m)
    beam, rest = np.zeros((2, sun.elevation_deg.size))
    fine = np.flatnonzero(sun.elevation_deg >= light.lowest_sun_deg)
    if fine.size:
        up = SunPosition(sun.elevation_deg[fine], sun.azimuth_deg[fine], sun.day_of_year[fine])
        sky = model_clear_sky(up, list_air(light.air), find_pressure_pa(site.altitude_m))
        for part, find in ((beam, light_by_sun), (rest, light_by_sky)):
            part[fine] = find_illuminance_lux(find(sky, light.facing, light.horizon)[0])
    return beam, rest, find_incidence_cosine(light.facing, sun.elevation_deg, sun.azimuth_deg)


def _look_up(sky: ClearSky, light: SkyLight) -> Array:
    """Find what sky and ground give a light's surface, behind its glass, (m, t, 401)."""
    through = find_sky_transmittance(light.panes)
    return light_by_sky(sky, light.facing, light.horizon) * through


def _shine_up(light: SkyLight, site: Site, sun: SunPosition, skies: Skies) -> tuple[Array, Array]:
    """Find per-lux spectra (m + 1, t, 401) and lux (m + 1, t), the nominal ones first."""
    if light.kind == "overcast":
        kelvins, levels = spread_overcast(light.kelvin, AIR_DRAWS)
        level = light_by_overcast(
            sun.elevation_deg,
            np.append(light.kelvin or OVERCAST_KELVIN, kelvins),
            np.append(1.0, levels),
            light.air.ground_albedo,
            light.facing,
            light.horizon,
        )
        level = level * find_sky_transmittance(light.panes)
        lux = find_illuminance_lux(level)
        return scale_to_lux(level, 1.0), lux
    of_cloud = light.kind == "broken_cloud"
    place = (site, light.air, light.stated, sun.elevation_deg.tobytes(), of_cloud)
    if place not in skies:
        air = np.concatenate([list_air(light.air), spread_air(light.air, light.stated)])
        errors = NO_ERROR  # of a clear sky's: cloud spreads more than that
        if not of_cloud:
            errors = np.concatenate([NO_ERROR, spread_errors(AIR_DRAWS)])
        skies[place] = model_clear_sky(sun, air, find_pressure_pa(site.altitude_m), errors)
    sky = skies[place]
    if of_cloud:
        clouds = np.concatenate([np.full((1, 5), 0.5), spread_clouds(AIR_DRAWS)])
        level = light_by_broken_cloud(
            sky, clouds, light.sun, light.kelvin, light.facing, light.horizon
        )
    elif light.kind == "shade":
        level = light_by_shade(sky, light.share_of_sky)
    elif light.kind == "sky":
        level = _look_up(sky, light)
    elif light.kind == "bounce":
        low, high = BOUNCE_FACTORS
        spread = spread_evenly(AIR_DRAWS, [_BOUNCE_COLUMN])[:, 0]
        sent = np.append(1.0, low * (high / low) ** spread) * light.albedo * light.share_of_view
        lit = light_by_sun(sky, light.facing, light.horizon) + _look_up(sky, light)
        level = lit * np.minimum(sent, light.share_of_view)[:, None, None]
    else:
        cosine = find_incidence_cosine(light.facing, sun.elevation_deg, sun.azimuth_deg)
        through = find_glass_transmittance(cosine, light.panes)
        level = light_by_sun(sky, light.facing, light.horizon) * through[:, None]
        if light.with_sky:
            level = level + _look_up(sky, light)
    lux = find_illuminance_lux(level)
    dark = lux <= 0
    if dark.any():  # a hidden sun keeps the colour of its beam
        beam = clearsky.show_beam(sky)
        level = np.where(dark[..., None], beam, level)
    return scale_to_lux(level, 1.0), lux
