"""Light by position: what each light makes of a grey, and what a 3D scene is dialled with.

The figures of a position add, since light does. A ratio of lights is told in the camera's own
channels, where no gain and no matrix touches it; a colour in ACEScg, where it is dialled.
"""

from __future__ import annotations

import numpy as np

from wbplan.core.tables import Array
from wbplan.exposure.equation import MIDDLE_GREY
from wbplan.planning.plate.aces import AP0_TO_AP1, AP1_LUMINANCE
from wbplan.planning.plate.seen import Seen, SeenScene
from wbplan.planning.plate.values import (
    Dial,
    KeyToFill,
    Levels,
    LightAtPlace,
    LightDial,
    LightPlate,
    Triple,
)
from wbplan.scene.setup import Setup


def find_levels(scene: SeenScene, setup: Setup, lights: tuple[LightPlate, ...]) -> Levels:
    """Find what each light makes of a grey at each position.

    Parameters
    ----------
    scene
        Of the setup, at the dialled setting.
    lights
        The setup's lights, as the plate has them.
    """
    own = scene.own
    if own.places[own.key, 0, 1] <= 0:
        return Levels((), (), ())
    at_places, key_to_fill = [], []
    for row, place in enumerate(setup.positions):
        lit = [number for number, each in enumerate(lights) if each.lux[row] > 0]
        if not lit:
            continue
        main = max(lit, key=lambda number: float(_at(own, row, number)[0, 1]))
        for number in lit:
            at_places.append(_see_light(scene, place.name, row, number, main, lights[number]))
        rest = [number for number in lit if number != main]
        stops = None
        if rest:

            def compare(seen: Seen, row: int = row, main: int = main) -> Array:
                light = _at(seen, row, main)
                return _find_stops(light, seen.places[row] - light)

            stops = scene.band(compare)
        key_to_fill.append(KeyToFill(place.name, lights[main].name, stops))
    against = next(each.main for each in key_to_fill if each.position == setup.key)
    main_light = next(each for each in lights if each.name == against)
    key = setup.key_row
    dials = tuple(_dial(each, main_light, key) for each in lights)
    return Levels(tuple(at_places), tuple(key_to_fill), dials)


def _at(seen: Seen, row: int, number: int) -> Array:
    """Find the native RGB of one light at one position, (k, 3)."""
    return np.asarray(seen.lux[row, number][:, None] * seen.lights[number])


def _find_stops(one: Array, two: Array) -> Array:
    """Find how far one native RGB lies over another [stops], NaN where either sees nothing."""
    both = (one > 0) & (two > 0)
    ratio = np.where(both, one, 1.0) / np.where(both, two, 1.0)
    return np.asarray(np.where(both, np.log2(ratio), np.nan))


def _see_light(
    scene: SeenScene, place: str, row: int, number: int, main: int, light: LightPlate
) -> LightAtPlace:
    return LightAtPlace(
        light=light.name,
        position=place,
        lux=light.lux[row],
        acescg=scene.band(lambda seen: MIDDLE_GREY * seen.find_acescg(_at(seen, row, number))),
        raw=scene.band(lambda seen: MIDDLE_GREY * seen.scale_by_key(_at(seen, row, number))),
        under_main_stops=scene.band(
            lambda seen: _find_stops(_at(seen, row, main), _at(seen, row, number))
        ),
    )


def _dial(light: LightPlate, main: LightPlate, key: int) -> LightDial:
    ratio = light.lux[key] / main.lux[key]
    camera = [
        None if each.camera_per_lux is None else [one.value for one in each.camera_per_lux]
        for each in (light, main)
    ]
    return LightDial(
        light=light.name,
        against=main.name,
        camera=_find_dial(camera[0], camera[1], ratio),
        eye=_find_dial(light.eye_per_lux, main.eye_per_lux, ratio),
    )


def _find_dial(
    ap0: list[float] | Triple | None, main: list[float] | Triple | None, lux_ratio: float
) -> Dial | None:
    """Part the ACEScg of a light over that of the main one, per lux, into colour and stops."""
    if ap0 is None or main is None:
        return None
    one, two = AP0_TO_AP1 @ np.array(ap0), AP0_TO_AP1 @ np.array(main)
    if (two <= 0).any():
        return None
    ratio = one / two
    level = float(AP1_LUMINANCE @ ratio)
    if level <= 0:
        return None
    red, green, blue = (float(each) for each in ratio / level)
    exposure = float(np.log2(lux_ratio * level)) if lux_ratio > 0 else None
    return Dial(exposure, (red, green, blue))
