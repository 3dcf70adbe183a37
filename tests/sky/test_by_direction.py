"""The sky by direction against the illuminances of the model, by a quadrature of our own."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.light.spectrum import find_illuminance_lux
from wbplan.sky.by_direction import SkyByDirection, see_clear_sky, see_overcast
from wbplan.sky.clear import Air, ClearSky, light_by_sky, list_air, model_clear_sky
from wbplan.sky.dome import Facing, Horizon
from wbplan.sky.overcast import light_by_overcast
from wbplan.sky.sun_position import SunPosition

pytest.importorskip("pvlib")

AROUND, UP = 240, 240  # even in azimuth and in the sine of the elevation: equal areas
FACES = [(0.0, 0.0), *((90.0, each) for each in (0.0, 90.0, 180.0, 270.0)), (40.0, 200.0)]


def list_directions() -> tuple[np.ndarray, np.ndarray]:
    sine = (np.arange(UP) + 0.5) / UP * 2 - 1
    azimuth = (np.arange(AROUND) + 0.5) / AROUND * 360
    height, turn = np.meshgrid(np.degrees(np.arcsin(sine)), azimuth)
    return height.ravel(), turn.ravel()


def sum_on_face(seen: SkyByDirection, tilt: float, azimuth: float) -> np.ndarray:
    """Integrate L cos dw over the sphere, (401,); a direction stands for 4 pi / n sr."""
    height, turn = (np.radians(each) for each in list_directions())
    east, north, up = np.cos(height) * np.sin(turn), np.cos(height) * np.cos(turn), np.sin(height)
    t, a = np.radians(tilt), np.radians(azimuth)
    meets = north * np.sin(t) * np.cos(a) + east * np.sin(t) * np.sin(a) + up * np.cos(t)
    weight = np.maximum(meets, 0.0) * 4 * np.pi / height.size
    return np.asarray((weight @ seen.shares) @ seen.spectra)


def make_sky(elevation: float) -> ClearSky:
    sun = SunPosition(np.array([elevation]), np.array([130.0]), np.array([172]))
    return model_clear_sky(sun, list_air(Air()), 101325.0)


@pytest.mark.parametrize("elevation", [-2.0, 4.0, 20.0, 60.0])
@pytest.mark.parametrize("horizon", [Horizon(), Horizon(((90.0, 15.0), (270.0, 15.0)))])
def test_a_clear_sky_adds_up_to_its_faces(elevation: float, horizon: Horizon) -> None:
    sky = make_sky(elevation)
    seen = see_clear_sky(sky, *list_directions(), horizon)
    assert (seen.shares @ seen.spectra.sum(axis=1) >= 0).all()
    for face in FACES:
        found, model = sum_on_face(seen, *face), light_by_sky(sky, Facing(*face), horizon)[0, 0]
        assert find_illuminance_lux(found) == pytest.approx(find_illuminance_lux(model), rel=0.01)
        # and its colour, band by band of 100 nm
        for start in range(0, 400, 100):
            part = slice(start, start + 100)
            assert found[part].sum() == pytest.approx(model[part].sum(), rel=0.01)


def test_no_direction_lacks_a_colour() -> None:
    height, turn = list_directions()
    for elevation in (-3.0, 2.0, 30.0):
        seen = see_clear_sky(make_sky(elevation), height[::7], turn[::7])
        assert (seen.shares @ seen.spectra).min() >= 0.0


def test_an_overcast_sky_adds_up_to_its_faces() -> None:
    seen = see_overcast(35.0, 6500.0, 0.2, *list_directions())
    for face in FACES:
        model = light_by_overcast(
            np.array([35.0]), np.array([6500.0]), np.array([1.0]), 0.2, Facing(*face)
        )[0, 0]
        found = find_illuminance_lux(sum_on_face(seen, *face))
        assert found == pytest.approx(find_illuminance_lux(model), rel=0.005)
