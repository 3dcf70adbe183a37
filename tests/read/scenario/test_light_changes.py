"""What a scenario says of lights put out, dimmed, moved and bounced, of ratios; and refusals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.light.distance import find_seen_part
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux
from wbplan.read.scenario.reader import Scene, read_scenario
from wbplan.scene.changes import LightChange

GOOD = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000, is_a: window}
  lamp: {lamp: A}
  panel: {phosphor_led: {cct_kelvin: 4000}}
  found: {mix: [{lamp: A, share: 1}, {lamp: FL2, share: 1}]}
filters:
  silk: {diffusion_stops: 1.2, spread_deg: 60}
setups:
  - name: Room
    shooting: {fps: 24, shutter_angle_deg: 180}
    positions:
      face: {lux: {window: 300, lamp: 200, panel: 40}}
      wall: {lux: {lamp: 100, window: 30}}
      door: {lux: {found: 30}}
    layout:
      lamp: {distance_m: 0, bearing_deg: 0}
      face: {distance_m: 3, bearing_deg: 0}
      wall: {distance_m: 4, bearing_deg: 0}
      door: {distance_m: 2, bearing_deg: 0, height_m: 1}
    advise:
      lights:
        window: {filters: [full orange, silk], stack: 3, gel_m2: 3.5, pieces: 2, trips: 2}
        lamp:
          off: true
          dim_stops: [1, 2]
          size_m: [0.5, 0.4]
          move:
            nearer: {metres: {face: 1.5, wall: 2.5}}
            by the door: {layout: door}
            there: {distance_m: 1, bearing_deg: 0}
            tried: {lux: {face: 50}}
          bounce:
            board: {surface: white paint, size_m: [2, 1], lamp_m: 1.5, metres: {face: 2, wall: 3}}
            green wall: {reflectance_file: wall.csv, lux: {door: 12}}
        panel: {dim_stops: [1], off: true}
      ratios:
        - {key: face, fill: wall, ratio: 4}
        - {at: face, key: lamp, fill: window, ratio: 0.5, within_stops: 0.1}
"""


def read(folder: Path, text: str) -> Scene:
    power = np.where(np.abs(WAVELENGTHS_NM - 540) < 60, 0.5, 0.1)
    rows = "\n".join(f"{w:.0f},{p:.3g}" for w, p in zip(WAVELENGTHS_NM, power, strict=True))
    (folder / "wall.csv").write_text(f"wavelength_nm,reflectance\n{rows}\n")
    file = folder / "scene.yaml"
    file.write_text(text, encoding="utf-8")
    return read_scenario(file)


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    return read(tmp_path_factory.mktemp("room"), GOOD)


def find_change(scene: Scene, light: str, name: str) -> LightChange:
    wish = scene.setups[0].wish
    assert wish is not None
    (each,) = [each for each in wish.lights if each.light == light]
    (found,) = [one for one in each.changes if name in (one.name, one.kind)][:1]
    return found


def test_makes_come_from_the_scenario_or_the_kind_never_from_a_lights_own_name(
    scene: Scene,
) -> None:
    makes = {each.name: each.make for each in scene.setups[0].sources}
    assert makes == {"window": "window", "lamp": "filament", "panel": "led", "found": ""}


def test_costs_and_diffusion_are_read(scene: Scene) -> None:
    wish = scene.setups[0].wish
    assert wish is not None
    window = wish.lights[0]
    assert (window.gel_m2, window.pieces, window.trips, window.stack) == (3.5, 2, 2, 3)
    silk = window.filters[1]
    assert (silk.name, silk.spread_deg) == ("silk", 60.0)
    np.testing.assert_allclose(silk.transmittance, 2.0**-1.2)
    assert wish.lights[1].gel_m2 is None
    assert [(each.key, each.fill, each.ratio, each.at) for each in wish.ratios] == [
        ("face", "wall", 4.0, ""),
        ("lamp", "window", 0.5, "face"),
    ]
    assert [each.within_stops for each in wish.ratios] == [0.25, 0.1]


def test_each_change_gives_what_a_hand_calculation_says(scene: Scene) -> None:
    np.testing.assert_array_equal(find_change(scene, "lamp", "off").lux, 0.0)
    dimmed = find_change(scene, "lamp", "dimmed")
    np.testing.assert_allclose(dimmed.lux, [100, 50, 0])
    assert dimmed.volts_share == pytest.approx(0.5 ** (1 / 3.4))
    assert find_change(scene, "panel", "dimmed").shape is None
    assert find_change(scene, "panel", "dimmed").notes[0].weight == "warning"
    part = [float(find_seen_part((0.5, 0.4), m)) for m in (3.0, 4.0, 1.5, 2.5)]
    moved = find_change(scene, "lamp", "nearer")
    np.testing.assert_allclose(moved.lux, [200 * part[2] / part[0], 100 * part[3] / part[1], 0])
    by_door = find_change(scene, "lamp", "by the door")  # 1 m from the face, 2 from the wall
    near = [float(find_seen_part((0.5, 0.4), m)) for m in (1.0, 2.0)]
    np.testing.assert_allclose(by_door.lux, [200 * near[0] / part[0], 100 * near[1] / part[1], 0])
    np.testing.assert_allclose(find_change(scene, "lamp", "there").lux, by_door.lux * 0 + [
        200 * near[1] / part[0], 100 * float(find_seen_part((0.5, 0.4), 3.0)) / part[1], 0
    ])  # fmt: skip
    np.testing.assert_array_equal(find_change(scene, "lamp", "tried").lux, [50, 0, 0])


def test_a_bounce_is_lambert_off_the_surface_once(scene: Scene) -> None:
    """E on the board by the lamp's distances, then 82 % of it times the part that it fills."""
    part = [float(find_seen_part((0.5, 0.4), m)) for m in (3.0, 4.0, 1.5)]
    on_board = max(200 * part[2] / part[0], 100 * part[2] / part[1])
    back = [0.82 * on_board * float(find_seen_part((2.0, 1.0), m)) for m in (2.0, 3.0)]
    np.testing.assert_allclose(find_change(scene, "lamp", "board").lux, [*back, 0])
    green = find_change(scene, "lamp", "green wall")
    np.testing.assert_array_equal(green.lux, [0, 0, 12])
    assert green.shape is not None
    assert green.shape.max() == pytest.approx(0.5)
    assert find_illuminance_lux(green.shape) > 0


BAD = [
    ("is_a: window", "is_a: widow", "is_a", "window"),
    ("window: {filters: [full orange, silk],", "window: {dim_stops: [1],", "dim_stops", "a lamp"),
    (
        "window: {filters: [full orange, silk],",
        "window: {move: {a: {lux: {face: 1}}},",
        "move",
        "a",
    ),
    ("dim_stops: [1, 2]", "dim_stops: [1, 9]", "dim_stops", "4"),
    ("dim_stops: [1, 2]", "dim_stops: [1, -2]", "dim_stops", "above 0"),
    ("panel: {dim_stops", "found: {dim_stops", "dim_stops", "is_a"),
    ("panel: {dim_stops: [1],", "panel: {dim_stops: [1], filament_kelvin: 3200,", "filament", "a "),
    ("lamp: {lamp: A}", "lamp: {lamp: FL2, is_a: filament}", "dim_stops", "filament_kelvin"),
    ("metres: {face: 1.5, wall: 2.5}", "metres: {face: 1.5}", "wall", "every place"),
    ("metres: {face: 1.5, wall: 2.5}", "metres: {face: 0, wall: 2.5}", "face", "above 0"),
    ("metres: {face: 1.5, wall: 2.5}", "metres: {fase: 1.5}", "fase", "face"),
    ("{layout: door}", "{layout: dor}", "layout", "door"),
    ("{layout: door}", "{layout: door, lux: {face: 1}}", "lux", "only one"),
    ("      wall: {distance_m: 4, bearing_deg: 0}\n", "", "wall", "now_m"),
    ("surface: white paint,", "surface: wite paint,", "surface", "white paint"),
    ("surface: white paint,", "reflectance_percent: 120,", "reflectance_percent", "100"),
    ("surface: white paint,", "", "board", "surface"),
    ("lamp_m: 1.5,", "", "lamp_m", "number"),
    ("tried: {lux: {face: 50}}", "tried: {lux: {fase: 50}}", "fase", "face"),
    ("silk: {diffusion_stops", "silk: {nd_stops", "spread_deg", "both"),
    ("spread_deg: 60", "spread_deg: 260", "spread_deg", "180"),
    ("ratio: 4}", "ratio: 0}", "ratio", "from"),
    ("fill: wall, ratio", "fill: face, ratio", "fill", "two"),
    ("at: face, key: lamp", "at: face, key: wall", "key", "lamp"),
    ("trips: 2", "trips: -1", "trips", "from 0"),
    ("gel_m2: 3.5", "gel_m2: 0", "gel_m2", "above 0"),
    ("panel: {dim_stops: [1], off: true}", "panel: {off: false}", "panel", "dim_stops"),
]


@pytest.mark.parametrize(("before", "after", "field", "allowed"), BAD)
def test_faults_name_their_place(
    tmp_path: Path, before: str, after: str, field: str, allowed: str
) -> None:
    assert before in GOOD
    with pytest.raises(InputError) as caught:
        read(tmp_path, GOOD.replace(before, after, 1))
    error = caught.value
    assert error.place.line > 0
    assert field in f"{error.place} {error.found}"
    assert allowed in error.allowed
