"""Figures of a setup that nobody would mean: said with the plan, never refused."""

from __future__ import annotations

from importlib.util import find_spec

from wbplan.core.notes import Note
from wbplan.exposure.plausible import (
    SUN_LUX,
    doubt_exposure,
    doubt_height,
    doubt_lux,
    doubt_t_stop,
)
from wbplan.planning.exposure import ExposurePlan
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Setup
from wbplan.sky.sun_position import find_sun


def note_doubts(scene: SceneResponse, exposure: ExposurePlan) -> tuple[Note, ...]:
    """Doubt what was stated and what follows, each figure against what there is.

    The sun's height counts where a setup has a time, a reading is as bright as sunlight, and pvlib
    is there to tell.
    """
    setup = scene.setup
    shooting, lens = setup.shooting, setup.lens
    notes = [*doubt_exposure(shooting.ei, shooting.fps, shooting.exposure_time_s)]
    notes += doubt_t_stop(exposure.t_stop, "the wanted stop" if shooting.t_stop else setup.key)
    steady = [each.on and not each.flash for each in setup.sources]
    lux = [float(each.lux @ steady) for each in setup.positions]
    elevation = _find_sun_deg(setup) if max(lux) >= SUN_LUX else None
    for place, level in zip(setup.positions, lux, strict=True):
        notes += doubt_lux(level, place.name, elevation)
    if lens is not None and lens.camera_height_m is not None:
        notes += doubt_height(lens.camera_height_m, "camera height")
    for spot in setup.layout:
        if spot.height_m is not None:
            notes += doubt_height(spot.height_m, spot.name)
    return tuple(notes)


def _find_sun_deg(setup: Setup) -> float | None:
    site, when = setup.site, setup.when
    if site is None or when is None or find_spec("pvlib") is None:
        return None
    sun = find_sun(when.timestamp(), site.latitude_deg, site.longitude_deg, site.altitude_m)
    return float(sun.elevation_deg[0])
