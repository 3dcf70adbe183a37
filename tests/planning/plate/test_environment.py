"""The sky all round: what it gives six faces, lamps in it, and where it is not to be had.

Pixels are looked along and weighed as the documentation of OpenEXR has a lat-long
(`list_directions_of`), not by the functions that painted them.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.sky.oracles import list_directions_of
from wbplan.front.plans import plan as plan_file
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.environment import NoSkyError, add_lamps, picture_sky
from wbplan.sky.clear import Air, light_by_sky, light_by_sun, list_air, model_clear_sky
from wbplan.sky.dome import Facing
from wbplan.sky.overcast import light_by_overcast
from wbplan.sky.sun_position import find_pressure_pa, find_sun

pytest.importorskip("pvlib")

LUMINANCE = np.array([0.2722287, 0.6740818, 0.0536895])  # of ACEScg, S-2014-004
COMPASS = {0: (0.0, -1.0), 90: (1.0, 0.0), 180: (0.0, 1.0), 270: (-1.0, 0.0)}  # x and z
SCENE: dict[str, Any] = {
    "wbplan": 1,
    "title": "Yard",
    "invented": True,
    "camera": "cfa-mid",
    "site": {"latitude_deg": 47.3, "longitude_deg": 3.1, "altitude_m": 190, "time_zone": "UTC"},
    "sources": {
        "sky": {"sky": {"facing": {"azimuth_deg": 150}}},
        "panel": {"daylight_kelvin": 5600},
    },
    "setups": [
        {
            "name": "Yard",
            "when": "2026-06-21 09:30",
            "key": "face",
            "shooting": {"ei": 400, "fps": 24, "shutter_angle_deg": 180},
            "lens": {"heading_deg": 330, "camera_height_m": 1.6},
            "layout": {
                "face": {"distance_m": 3, "bearing_deg": 0, "height_m": 1.65},
                "back": {"distance_m": 2.5, "bearing_deg": -90, "height_m": 1.6},
                "panel": {
                    "distance_m": 2.5, "bearing_deg": -50, "height_m": 2.1, "aimed_at": "face",
                    "size_m": [1.2, 0.8],
                },
            },
            "positions": {
                "face": {"lux": {"sky": "model", "panel": 1800}},
                "back": {"lux": {"sky": "model"}},
            },
        }
    ],
}  # fmt: skip


def plan_yard(**changes: Any) -> SetupPlan:
    setup = {name: each for name, each in {**SCENE["setups"][0], **changes}.items() if each}
    scene = {**SCENE, "setups": [setup]}
    return plan_file(scene, plate=True).setups[0]


def sum_face(pixels: np.ndarray, facing: tuple[float, float, float]) -> float:
    luminance = pixels @ LUMINANCE
    ways, solid = list_directions_of(*luminance.shape)
    return float((luminance * np.maximum(ways @ np.array(facing), 0.0) * solid).sum())


@pytest.fixture(scope="module")
def yard() -> SetupPlan:
    return plan_yard()


@pytest.fixture(scope="module")
def low() -> SetupPlan:
    return plan_yard(when="2026-06-21 04:10")


def test_six_faces_get_what_the_model_gives_them(yard: SetupPlan, low: SetupPlan) -> None:
    """Within 2 %: up and four sides by the model, down by the ground under it; sun apart."""
    for each in (yard, low):
        setup = each.setup
        assert setup.when is not None
        sun = find_sun(setup.when.timestamp(), 47.3, 3.1, 190.0)
        sky = model_clear_sky(sun, list_air(Air()), find_pressure_pa(190.0))
        seen = picture_sky(each, 512)
        assert seen.sun is not None
        flat = light_by_sky(sky, Facing()) + light_by_sun(sky, Facing())
        on_ground = float(find_illuminance_lux(flat)[0, 0])
        assert sum_face(seen.pixels, (0, -1, 0)) == pytest.approx(0.2 * on_ground, rel=0.02)
        for facing, way in [
            (Facing(), (0.0, 1.0, 0.0)),
            *((Facing(90.0, turn), (x, 0.0, z)) for turn, (x, z) in COMPASS.items()),
        ]:
            model = float(find_illuminance_lux(light_by_sky(sky, facing))[0, 0])
            assert sum_face(seen.pixels, way) == pytest.approx(model, rel=0.02)
            beam = float(find_illuminance_lux(light_by_sun(sky, facing))[0, 0])
            # a low sun meets a face at a grazing angle, and its disc is half a degree wide
            assert sum_face(seen.sun, way) == pytest.approx(beam, rel=0.02, abs=0.003 * on_ground)


def test_the_suns_disc_is_where_it_stands_however_coarse(yard: SetupPlan) -> None:
    setup = yard.setup
    assert setup.when is not None
    sun = find_sun(setup.when.timestamp(), 47.3, 3.1, 190.0)
    up, turn = np.radians(sun.elevation_deg[0]), np.radians(sun.azimuth_deg[0])
    to_sun = np.array([np.cos(up) * np.sin(turn), np.sin(up), -np.cos(up) * np.cos(turn)])
    totals = []
    for width in (128, 512):
        disc = picture_sky(yard, width).sun
        assert disc is not None
        luminance = disc @ LUMINANCE
        ways, solid = list_directions_of(*luminance.shape)
        weight = luminance * solid
        middle = np.einsum("yx,yxc->c", weight, ways) / weight.sum()
        assert np.degrees(np.arccos(middle @ to_sun / np.linalg.norm(middle))) < 0.5 * 360 / width
        totals.append(weight.sum())
    assert totals[0] == pytest.approx(totals[1], rel=2e-3)
    # 1.2e9 cd/m2 and more outside the air (from memory: 1.6e9), less through it
    assert 2e8 < luminance.max() < 1.7e9


def test_a_lamp_gives_a_face_in_the_picture_what_it_gives_there(yard: SetupPlan) -> None:
    """1800 lux where the scenario read them, on a surface that faces the panel."""
    assert yard.plate is not None
    black = np.zeros((512, 1024, 3))
    seen, names = add_lamps(black, yard.plate.stage, "face")
    assert names == ("panel",)
    stood = {each.name: np.array(each.at_m) for each in yard.plate.stage.places}
    panel = yard.plate.stage.lights[-1]
    way = np.array(panel.at_m) - stood["face"]
    lux = sum_face(seen, tuple(way / np.linalg.norm(way)))
    assert lux == pytest.approx(1800.0, rel=0.02)
    behind, names = add_lamps(black, yard.plate.stage, "back")
    assert names == ()
    assert not behind.any()
    assert add_lamps(black, yard.plate.stage, "camera")[1] == ("panel",)


def test_an_overcast_sky_is_pictured_as_bright_as_it_is_modelled() -> None:
    scene = {
        **SCENE,
        "sources": {**SCENE["sources"], "sky": {"overcast": {"facing": "up", "kelvin": 6500}}},
    }
    made = plan_file(scene, plate=True).setups[0]
    seen = picture_sky(made, 256)
    assert seen.sun is None
    assert made.bodies is not None
    up = np.array([made.bodies.sun.elevation_deg])
    model = light_by_overcast(up, np.array([6500.0]), np.array([1.0]), 0.2, Facing(90.0, 0.0))
    expected = float(find_illuminance_lux(model)[0, 0])
    assert sum_face(seen.pixels, (0.0, 0.0, -1.0)) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"when": "2026-06-21 23:30"}, "night has no model"),
        ({"when": None}, "no place or no time"),
    ],
)
def test_no_sky_is_invented(yard: SetupPlan, changes: dict[str, Any], said: str) -> None:
    lit = {"face": {"lux": {"panel": 1800}}, "back": {"lux": {"panel": 2}}}
    made = plan_yard(positions=lit, **changes)
    with pytest.raises(NoSkyError, match=said):
        picture_sky(made, 64)


def test_lamps_need_a_place_to_be_seen_from(yard: SetupPlan) -> None:
    assert yard.plate is not None
    stage = yard.plate.stage
    with pytest.raises(NoSkyError, match="no place with a height"):
        add_lamps(np.zeros((32, 64, 3)), stage, "wall")
    with pytest.raises(NoSkyError, match="no heading"):
        add_lamps(np.zeros((32, 64, 3)), replace(stage, has_north=False), "face")


def test_the_files_say_what_they_are(tmp_path: Path) -> None:
    """Header by OpenImageIO: primaries of AP1 (S-2014-004), one unit a candela, lat-long."""
    oiio = pytest.importorskip("OpenImageIO")
    from wbplan.report.plate.sky import make_sky_files

    setup = {**SCENE["setups"][0], "plate": {"lamps_seen_from": "face"}}
    plan = plan_file({**SCENE, "setups": [setup]}, plate=True)
    files, left_out = make_sky_files(plan, plan.setups[0])
    assert left_out == ()
    assert [each.name for each in files] == [
        "01-yard_plate_sky.exr",
        "01-yard_plate_sky-and-lights.exr",
    ]
    for each in files:
        (tmp_path / each.name).write_bytes(each.content)
        found = oiio.ImageBuf(str(tmp_path / each.name))
        spec = found.spec()
        assert (spec.width, spec.height, str(spec.format)) == (1024, 512, "float")
        assert spec.getattribute("chromaticities") == pytest.approx(
            (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767), abs=1e-6
        )
        assert spec.getattribute("whiteLuminance") == 1.0
        assert spec.getattribute("DateTime") == "2026:06:21 09:30:00"
        assert spec.getattribute("textureformat") == "LatLong Environment"
        assert "683 lm/W" in spec.getattribute("ImageDescription")
        pixels = found.get_pixels("float")
        assert np.isfinite(pixels).all()
        assert pixels.min() >= 0
    assert (pixels @ LUMINANCE).max() > 1e8
