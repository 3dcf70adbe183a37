"""The 3D scene, opened by OpenUSD and lit by an integrator of our own.

`usd-core` is large and no part of the tests' installation; without it these are skipped. A light is
integrated from what stands in the file alone: luminance in cd/m2 over patches of its surface, by
E = sum of L cos cos dA / d^2, with UsdLux's meaning of ``normalize`` (intensity over the area).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.shared import HOSTILE, decide, make_kitchen
from tests.sky.oracles import list_directions_of
from wbplan.camera.setting import view_camera
from wbplan.front.plans import plan as plan_file
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.values import PlateView
from wbplan.planning.plate.view import view_plate
from wbplan.record.usd import OWN, format_stage
from wbplan.scene.plate import PlateLens, Spot
from wbplan.scene.setup import Intent, Position

pxr = pytest.importorskip("pxr")
from pxr import Usd, UsdGeom, UsdLux, UsdValidation  # noqa: E402

LENS = PlateLens("no. 7", 50.0, 2.0, 3.0, 1.5, -4.0, 1.0, 205.0, 18.0, 15.0, 4096, 2304)
WALL_FACING, WALL_TILT = 30.0, 20.0
LAYOUT = (
    Spot("face", "position", 3.0, 0.0, 1.6),
    Spot("wall", "position", 5.0, 10.0, 1.2, facing_deg=WALL_FACING + 180, tilt_deg=WALL_TILT),
    Spot("corridor", "position", 6.0, -20.0, 0.8),
    Spot("window", "light", 2.5, -60.0, 1.9, aimed_at="face", size_m=(1.5, 1.0)),
    Spot("lamp", "light", 4.0, 15.0, 3.4, 40.0, -70.0, size_m=(0.9, 0.4)),
    Spot("tube", "light", 2.0, 70.0, 2.2),
)  # fmt: skip
PER_UNIT = {"window": 900.0, "lamp": 4000.0, "tube": 1500.0}


def turn(spot: Spot, heading: float) -> np.ndarray:
    """Stand a spot in the world by the compass: x east, y up, z south."""
    way = math.radians(spot.bearing_deg + heading)
    return np.array(
        [spot.distance_m * math.sin(way), spot.height_m or 0.0, -spot.distance_m * math.cos(way)]
    )


def face_plane(heading: float) -> np.ndarray:
    """The direction in which the wall's reading looks."""
    way, up = math.radians(WALL_FACING + 180 + heading), math.radians(WALL_TILT)
    return np.array([math.sin(way) * math.cos(up), math.sin(up), -math.cos(way) * math.cos(up)])


def list_patches(prim: Any, matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """List the middles, normals and areas of patches of a light that has a surface."""
    if prim.IsA(UsdLux.RectLight):
        light = UsdLux.RectLight(prim)
        wide, tall = light.GetWidthAttr().Get(), light.GetHeightAttr().Get()
        step = (np.arange(120) + 0.5) / 120 - 0.5
        x, y = np.meshgrid(step * wide, step * tall)
        local = np.stack([x, y, np.zeros_like(x)], axis=-1).reshape(-1, 3)
        normal = np.broadcast_to([0.0, 0.0, -1.0], local.shape)
        area = np.full(len(local), wide * tall / len(local))
    else:
        radius = UsdLux.SphereLight(prim).GetRadiusAttr().Get()
        sine = (np.arange(160) + 0.5) / 160 * 2 - 1
        around = (np.arange(160) + 0.5) / 160 * 2 * np.pi
        z, turned = np.meshgrid(sine, around)
        level = np.sqrt(1 - z**2)
        normal = np.stack([level * np.cos(turned), level * np.sin(turned), z], -1).reshape(-1, 3)
        local = radius * normal
        area = np.full(len(local), 4 * np.pi * radius**2 / len(local))
    return local @ matrix[:3, :3] + matrix[3, :3], normal @ matrix[:3, :3], area


def light_place(prim: Any, cache: Any, at: np.ndarray, plane: np.ndarray | None) -> float:
    """Integrate what a light of the file gives a place [lux]."""
    light = UsdLux.LightAPI(prim)
    assert not light.GetEnableColorTemperatureAttr().Get()
    nits = light.GetIntensityAttr().Get() * 2.0 ** light.GetExposureAttr().Get()
    colour = np.array(light.GetColorAttr().Get())
    nits *= float(colour @ [0.2722287, 0.6740818, 0.0536895])  # luminance of ACEScg, S-2014-004
    matrix = np.array(cache.GetLocalToWorldTransform(prim))
    middle, normal, area = list_patches(prim, matrix)
    if light.GetNormalizeAttr().Get():
        nits /= area.sum()
    ray = at - middle
    far = np.linalg.norm(ray, axis=1)
    away = matrix[3, :3] - at
    surface = away / np.linalg.norm(away) if plane is None else plane
    out = np.maximum((ray * normal).sum(1) / far, 0.0)
    into = np.maximum(-(ray @ surface) / far, 0.0)
    return float((nits * out * into * area / far**2).sum())


def open_stage(plan: SetupPlan, view: PlateView, folder: Path) -> Any:
    path = folder / "scene.usda"
    path.write_text(format_stage(plan, view.stage, {}, "", ["Invented."]), encoding="utf-8")
    return Usd.Stage.Open(str(path))


def validate(stage: Any) -> list[str]:
    registry = UsdValidation.ValidationRegistry()
    context = UsdValidation.ValidationContext(registry.GetOrLoadAllValidators())
    return [f"{each.GetName()}: {each.GetMessage()}" for each in context.Validate(stage)]


def make_room(lux: Callable[[str, Spot], float]) -> SetupPlan:
    """The kitchen with three lights that stand somewhere; ``lux`` reads them."""
    setup = make_kitchen(lens=LENS, layout=LAYOUT)
    order = [each.name for each in setup.sources]
    places = {each.name: each for each in LAYOUT if each.kind == "position"}
    positions = tuple(
        Position(
            name, np.array([lux(each, spot) if each in PER_UNIT else 0.0 for each in order]),
            Intent(),
        )
        for name, spot in places.items()
    )  # fmt: skip
    return decide(replace(setup, positions=positions), "01-kitchen")


def read_truly(light: str, place: Spot) -> float:
    """Read a light of 1 cd/m2 or cd times PER_UNIT as it really is, by patches of our own."""
    spot = next(each for each in LAYOUT if each.name == light)
    here, there = turn(spot, 0.0), turn(place, 0.0)
    plane = face_plane(0.0) if place.name == "wall" else None
    away = here - there
    if spot.size_m is None:
        cosine = 1.0 if plane is None else max(0.0, float(away @ plane) / np.linalg.norm(away))
        return PER_UNIT[light] * cosine / float(away @ away)
    if spot.aimed_at:
        aim = turn(LAYOUT[0], 0.0) - here
        aim = aim / np.linalg.norm(aim)
    else:
        way, up = math.radians(40.0), math.radians(-70.0)
        aim = np.array([math.sin(way) * math.cos(up), math.sin(up), -math.cos(way) * math.cos(up)])
    wide = np.cross(aim, [0.0, 1.0, 0.0])
    wide /= np.linalg.norm(wide)
    tall = np.cross(wide, aim)
    step = (np.arange(200) + 0.5) / 200 - 0.5
    x, y = np.meshgrid(step * spot.size_m[0], step * spot.size_m[1])
    patch = here + x[..., None] * wide + y[..., None] * tall
    ray = there - patch
    far = np.linalg.norm(ray, axis=-1)
    surface = away / np.linalg.norm(away) if plane is None else plane
    into = np.maximum(-(ray @ surface) / far, 0.0) * np.maximum(ray @ aim / far, 0.0)
    return PER_UNIT[light] * float((into / far**2).mean()) * spot.size_m[0] * spot.size_m[1]


def compare(stage: Any, view: PlateView, row: int) -> list[tuple[float, float]]:
    """Pair the lux of the scenario with those of the file's lights, at one position."""
    cache = UsdGeom.XformCache()
    ball = stage.GetPrimAtPath(f"/Plate/Positions/{('face', 'wall', 'corridor')[row]}")
    at = np.array(cache.GetLocalToWorldTransform(ball))[3, :3]
    plane = face_plane(LENS.heading_deg or 0.0) if row == 1 else None
    names = {each.name: each for each in view.lights}
    return [
        (
            names[light.name].lux[row],
            light_place(stage.GetPrimAtPath(f"/Plate/Lights/{light.name}"), cache, at, plane),
        )
        for light in view.stage.lights
    ]


def test_lights_that_agree_give_every_position_its_lux(tmp_path: Path) -> None:
    """Within 2 % of the scenario at each position, in the strengths that the file opens with."""
    plan = make_room(read_truly)
    view = view_plate(plan, view_camera(plan.setup.camera))
    stage = open_stage(plan, view, tmp_path)
    assert validate(stage) == []
    assert [each.name for each in view.stage.lights] == ["window", "lamp", "tube"]
    for row in range(3):
        for read, given in compare(stage, view, row):
            assert given == pytest.approx(read, rel=0.02, abs=1e-3)
    for light in view.stage.lights:
        assert light.worst_stops < 0.005
        prim = stage.GetPrimAtPath(f"/Plate/Lights/{light.name}")
        told = prim.GetAttribute("wbplan:stageLux").Get()
        assert list(told) == pytest.approx(light.stage_lux, rel=1e-6)
    assert dict(view.stage.left_out)["street"] == "no place"
    assert dict(view.stage.left_out)["spare"] == "it is off"


def test_lights_that_do_not_agree_are_set_to_a_position_at_a_time(tmp_path: Path) -> None:
    """Readings that no even panel gives: each variant gives its position what was read there."""

    def read(light: str, place: Spot) -> float:
        return read_truly(light, place) * (1.0 if place.name == "face" else 0.4)

    plan = make_room(read)
    view = view_plate(plan, view_camera(plan.setup.camera))
    stage = open_stage(plan, view, tmp_path)
    root = stage.GetPrimAtPath("/Plate")
    chosen = root.GetVariantSet("readAt")
    assert chosen.GetVariantNames() == sorted(["corridor", OWN, "face", "wall"])
    assert max(each.worst_stops for each in view.stage.lights) == pytest.approx(
        math.log2(2.5), abs=0.02
    )
    for row, name in enumerate(("face", "wall", "corridor")):
        for who in ("observer", "camera"):
            root.GetVariantSet("seenBy").SetVariantSelection(who)
            chosen.SetVariantSelection(name)
            for read_lux, given in compare(stage, view, row):
                assert given == pytest.approx(read_lux, rel=0.02, abs=1e-3)


def test_the_camera_stands_and_exposes_as_it_did(tmp_path: Path) -> None:
    """Field of view by OpenUSD's own camera; its exposure by the formula of its documentation."""
    plan = make_room(read_truly)
    view = view_plate(plan, view_camera(plan.setup.camera))
    stage = open_stage(plan, view, tmp_path)
    prim = UsdGeom.Camera(stage.GetPrimAtPath("/Plate/Camera"))
    camera = prim.GetCamera()
    assert camera.GetFieldOfView(camera.FOVHorizontal) == pytest.approx(
        math.degrees(2 * math.atan(18 * 2 / 100)), abs=1e-3
    )
    assert camera.GetFieldOfView(camera.FOVVertical) == pytest.approx(
        math.degrees(2 * math.atan(15 / 100)), abs=1e-3
    )
    assert camera.focusDistance == 3.0
    matrix = np.array(UsdGeom.XformCache().GetLocalToWorldTransform(prim.GetPrim()))
    assert matrix[3, :3] == pytest.approx([0, 1.5, 0])
    way, tilt = math.radians(205.0), math.radians(-4.0)
    looks = [math.sin(way) * math.cos(tilt), math.sin(tilt), -math.cos(way) * math.cos(tilt)]
    assert -matrix[2, :3] == pytest.approx(looks, abs=1e-6)
    level = np.cross(looks, [0.0, 1.0, 0.0])
    sunk = math.degrees(math.asin(-matrix[0, 1] / 1.0))  # clockwise: its right side goes down
    assert sunk == pytest.approx(1.0, abs=0.01)
    assert matrix[0, :3] @ level > 0.9
    get = prim.GetPrim().GetAttribute
    scale = get("exposure:time").Get() * get("exposure:iso").Get()
    scale *= get("exposure:responsivity").Get() * 2 ** get("exposure").Get()
    scale /= 100 * get("exposure:fStop").Get() ** 2
    grey = 0.18 * plan.key.lux.value / math.pi
    # 0.18 where the key lands on middle grey
    assert math.log2(scale * grey / 0.18) == pytest.approx(view.key_from_grey_stops, abs=0.01)


def test_names_of_people_break_nothing(tmp_path: Path) -> None:
    names = {"window": HOSTILE, "lamp": 'a"b\\n', "tube": "窓 1"}
    setup = make_room(read_truly).setup
    layout = tuple(replace(each, name=names.get(each.name, each.name)) for each in setup.layout)
    sources = tuple(replace(each, name=names.get(each.name, each.name)) for each in setup.sources)
    made = decide(replace(setup, layout=layout, sources=sources), "x")
    view = view_plate(made, view_camera(setup.camera))
    stage = open_stage(made, view, tmp_path)
    assert validate(stage) == []
    lights = stage.GetPrimAtPath("/Plate/Lights").GetChildren()
    assert len(lights) == 3
    assert {each.GetDisplayName() for each in lights} >= {'a"b\\n', "窓 1"}


def test_without_a_heading_there_is_no_north(tmp_path: Path) -> None:
    plan = make_room(read_truly)
    plan = replace(plan, setup=replace(plan.setup, lens=replace(LENS, heading_deg=None)))
    view = view_plate(plan, view_camera(plan.setup.camera))
    stage = open_stage(plan, view, tmp_path)
    assert not view.stage.has_north
    assert "along the lens" in stage.GetPrimAtPath("/Plate").GetAttribute("wbplan:minusZ").Get()
    ball = stage.GetPrimAtPath("/Plate/Positions/face")
    at = np.array(UsdGeom.XformCache().GetLocalToWorldTransform(ball))[3, :3]
    assert at == pytest.approx([0.0, 1.6, -3.0])


YARD = """wbplan: 1
title: Yard
invented: true
camera: cfa-mid
site: {{latitude_deg: 47.3, longitude_deg: 3.1, altitude_m: 190, time_zone: Europe/Paris}}
sources:
  sun: {{sun: {{facing: {{azimuth_deg: 150, tilt_deg: 60}}}}}}
  sky: {{sky: {{facing: {{azimuth_deg: 150}}}}}}
setups:
  - name: Yard
    when: 2026-06-21 11:30
    plate: {{lamps_seen_from: camera}}
    lens: {{focal_length_mm: 40, sensor_width_mm: 28, heading_deg: 330, camera_height_m: 1.6}}
    layout: {{face: {{distance_m: 3, bearing_deg: 0, height_m: 1.65}}}}
    key: face
    shooting: {{ei: 400, fps: 24, shutter_angle_deg: 180, t_stop: 4}}
    positions: {{face: {{lux: {{sun: {sun}, sky: {sky}}}}}}}
"""


@pytest.mark.parametrize(("sun", "sky"), [("model", "model"), (41000, 26000)])
def test_sun_and_sky_give_what_was_read(tmp_path: Path, sun: object, sky: object) -> None:
    """A disc by rings over its cone, a dome by its texture's pixels; readings that differ too."""
    pytest.importorskip("pvlib")
    oiio = pytest.importorskip("OpenImageIO")
    from wbplan.front.files import make_files

    path = tmp_path / "s.yaml"
    path.write_text(YARD.format(sun=sun, sky=sky), encoding="utf-8")
    made = plan_file(path, plate=True)
    files = make_files(made)
    for name in files:
        if name.endswith((".usda", "_sky.exr", ".xml")):
            (tmp_path / name).write_bytes(files[name])
    view = made.setups[0].plate
    assert view is not None
    stage = Usd.Stage.Open(str(tmp_path / "01-yard_plate.usda"))
    assert validate(stage) == []
    cache = UsdGeom.XformCache()
    distant = stage.GetPrimAtPath("/Plate/Lights/sun")
    light = UsdLux.DistantLight(distant)
    half = math.radians(light.GetAngleAttr().Get() / 2)
    nits = UsdLux.LightAPI(distant).GetIntensityAttr().Get() / (math.pi * math.sin(half) ** 2)
    assert UsdLux.LightAPI(distant).GetNormalizeAttr().Get()
    shines = -np.array(cache.GetLocalToWorldTransform(distant))[2, :3]
    tilt, way = math.radians(60.0), math.radians(150.0)
    plane = np.array([math.sin(tilt) * math.sin(way), math.cos(tilt),
                      -math.sin(tilt) * math.cos(way)])  # fmt: skip
    ring = (np.arange(40) + 0.5) / 40 * half
    solid = 2 * math.pi * np.sin(ring) * half / 40
    lux = float((nits * np.cos(ring) * solid).sum() * max(0.0, -(shines @ plane)))
    assert lux == pytest.approx(view.lights[0].lux[0], rel=0.02)
    dome = UsdLux.DomeLight(stage.GetPrimAtPath("/Plate/Lights/sky"))
    texture = oiio.ImageBuf(str(tmp_path / dome.GetTextureFileAttr().Get().path))
    pixels = texture.get_pixels("float") * UsdLux.LightAPI(dome).GetIntensityAttr().Get()
    luminance = pixels @ np.array([0.2722287, 0.6740818, 0.0536895])
    ways, solid = list_directions_of(*luminance.shape)
    upright = np.array([math.sin(way), 0.0, -math.cos(way)])
    lux = float((luminance * np.maximum(ways @ upright, 0.0) * solid).sum())
    assert lux == pytest.approx(view.lights[1].lux[0], rel=0.02)
