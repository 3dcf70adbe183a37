"""Scenario fields on exposure: what is understood, refused, and part of the digest."""

from __future__ import annotations

from pathlib import Path

import pytest

from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.front.plans import plan
from wbplan.read.catalogue import find_camera
from wbplan.read.scenario.reader import read_scenario

GOOD = """wbplan: 1
title: Test
camera: nikon-d5100
mains_hz: 50
kit:
  most_glass: 2
  camera_nd_stops: [2, 4]
  glass:
    ND 0.3: {nd_density: 0.3, count: 2}
    polariser: {stops: 1.5, stays: true}
  lenses:
    fast: {widest_t_stop: 1.4}
    zoom: {widest_t_stop: 2.8, smallest_t_stop: 16}
shooting_order: [two, one]
sources:
  lamp: {lamp: A, flicker: {mains_hz: 50, depth_percent: 20}}
  led: {lamp: LED-B3, flicker: {light_hz: 900, waveform: square, duty_percent: 40}}
  strobe: {daylight_kelvin: 5600, flash: true}
setups:
  - name: one
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8, readout_ms: 14}
    positions:
      face: {lux: {lamp: 100, led: 50}, flash_lux_s: {strobe: 3}}
      wall: {flash_lux_s: {strobe: 1}}
  - name: two
    mains_hz: 60
    kit: {camera_nd_stops: [1]}
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, receptor: hemispherical}
    positions:
      face: {lux: {led: 50}}
"""

BAD = [
    ("mains_hz: 50\nkit", "mains_hz: 55\nkit", ["s.yaml:4:11", "mains_hz", "50, 60"]),
    ("most_glass: 2", "most_glass: 9", ["kit.most_glass", "from 0 to 4"]),
    ("most_glass: 2", "most_glass: 0", ["kit.glass", "1 pieces that stay on"]),
    ("[2, 4]", "[0]", ["camera_nd_stops[0]", "above 0"]),
    ("nd_density: 0.3, ", "nd_density: 0.3, stops: 1, ", ["only one of stops, nd_density"]),
    ("nd_density: 0.3, ", "density: 0.3, ", ["density", "did you mean 'nd_density'"]),
    ("count: 2", "count: 2.5", ["count", "a whole number"]),
    ("stays: true", "stays: true, count: 2", ["count", "no count"]),
    ("smallest_t_stop: 16", "smallest_t_stop: 2", ["smallest_t_stop", "from 2.8 to 128"]),
    ("widest_t_stop: 1.4", "widest_f_stop: 1.4", ["widest_t_stop"]),
    ("[two, one]", "[two]", ["shooting_order", "no 'one'"]),
    ("[two, one]", "[two, one, two]", ["'two' twice"]),
    ("[two, one]", "[two, oen]", ["'oen'", "did you mean 'one'"]),
    ("depth_percent: 20", "depth_percent: 120", ["depth_percent", "100"]),
    ("depth_percent: 20", "depth: 20", ["unknown field 'depth'", "depth_percent"]),
    ("depth_percent: 20", "duty_percent: 20", ["duty_percent", "waveform square"]),
    ("mains_hz: 50, depth", "mains_hz: 50, light_hz: 100, depth", ["only one of mains_hz"]),
    ("mains_hz: 50, depth", "hz: 50, depth", ["the unknown field 'hz'", "mains_hz, light_hz"]),
    ("waveform: square", "waveform: triangle", ["sine, square, rectified"]),
    ("light_hz: 900", "light_hz: 0", ["light_hz", "from 1 to"]),
    ("flash: true", "flash: true, flicker: {mains_hz: 50}", ["flicker", "flash or flicker"]),
    ("flash: true", "flash: maybe", ["flash", "true or false"]),
    ("flash: true", "flash: {t05_ms: 60}", ["shooting", "catches 21%", "most of it"]),
    ("flash: true", "flash: {t05_ms: 1, most_per_second: 10}", ["24 fps", "10 times a second"]),
    ("flash: true", "flash: {t05_ms: 1, pops: 3}", ["gap_ms", "both, or neither"]),
    ("flash: true", "flash: {ms: 1}", ["t05_ms, t01_ms"]),
    ("flash_lux_s: {strobe: 3}", "flash_lux_s: {lamp: 3}", ["lamp", "steady light", "in lux"]),
    ("lamp: 100, led: 50}, f", "strobe: 100}, f", ["a flash in lux", "flash_lux_s"]),
    ("flash_lux_s: {strobe: 3}", "flash_lux_s: {strob: 3}", ["'strob'", "did you mean 'strobe'"]),
    ("flash_lux_s: {strobe: 3}", "flash_lux_s: {strobe: -3}", ["strobe", "-3"]),
    ("readout_ms: 14", "readout_ms: -1", ["readout_ms", "from 0"]),
    ("receptor: hemispherical", "receptor: dome", ["receptor", "flat, hemispherical"]),
    ("receptor: hemi", "calibration_c: 300, receptor: hemi", ["only one of receptor"]),
]


def write(folder: Path, text: str = GOOD) -> Path:
    path = folder / "s.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("was", "becomes", "fragments"), BAD)
def test_bad_fields_are_refused(
    tmp_path: Path, was: str, becomes: str, fragments: list[str]
) -> None:
    assert was in GOOD
    with pytest.raises(InputError) as caught:
        read_scenario(write(tmp_path, GOOD.replace(was, becomes, 1)))
    said = str(caught.value)
    assert said.startswith(str(tmp_path))
    for fragment in fragments:
        assert fragment in said


def test_good_fields(tmp_path: Path) -> None:
    described = read_scenario(write(tmp_path))
    one, two = described.setups
    assert described.shooting_order == (1, 0)
    assert (one.mains_hz, two.mains_hz) == (50.0, 60.0)
    assert one.kit is not None
    assert one.kit.pieces[0].stops == pytest.approx(0.9966, abs=1e-4)  # 0.3 of density
    assert one.kit.pieces[1].stays
    assert one.kit.lenses[0].smallest_t_stop == pytest.approx(2**4.5)  # T22 as engraved
    assert two.kit is not None
    assert two.kit.pieces == ()
    lamp, led, strobe = one.sources
    assert lamp.flicker is not None
    assert (lamp.flicker.light_hz, lamp.flicker.depth) == (100.0, 0.2)
    assert led.flicker is not None
    assert led.flicker.is_assumed
    assert led.flicker.duty == 0.4
    assert strobe.flash
    assert strobe.burst is None
    assert one.positions[0].lux.tolist() == [100, 50, 3]
    assert one.shooting.readout_s == pytest.approx(0.014)
    assert two.shooting.calibration_c == 340
    assert two.shooting.readout_s is None


def test_headroom_of_a_profile(tmp_path: Path) -> None:
    text = "like: cfa-mid\n"
    path = tmp_path / "mine.yaml"
    path.write_text(text + "headroom_stops: 6.5\n", encoding="utf-8")
    assert find_camera(path.name, path.parent).headroom_stops == 6.5
    path.write_text(text + "headroom_stops: 0\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"headroom_stops.*from 0.5 to 20"):
        find_camera(path.name, path.parent)


@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        ("mains_hz: 50\nkit", "mains_hz: 60\nkit"),
        ("count: 2", "count: 3"),
        ("depth_percent: 20", "depth_percent: 21"),
        ("strobe: 3", "strobe: 4"),
        ("readout_ms: 14", "readout_ms: 15"),
        ("[two, one]", "[one, two]"),
        ("widest_t_stop: 1.4", "widest_t_stop: 1.3"),
    ],
)
def test_the_digest_follows(tmp_path: Path, was: str, becomes: str) -> None:
    base = digest_values(read_scenario(write(tmp_path)))
    assert was in GOOD
    assert digest_values(read_scenario(write(tmp_path, GOOD.replace(was, becomes, 1)))) != base


def test_the_day_goes_in_shooting_order(tmp_path: Path) -> None:
    decided = plan(write(tmp_path))
    assert [each.name for each in decided.setups] == ["one", "two"]
    assert [each.name for each in decided.in_shooting_order] == ["two", "one"]
    assert (
        plan(write(tmp_path, GOOD.replace("shooting_order: [two, one]\n", ""))).shooting_order == ()
    )


def test_flash_flicker_and_their_figures(tmp_path: Path) -> None:
    burst = "flash: {t01_ms: 3, pops: 2, gap_ms: 6, most_per_second: 30, sync: free}"
    uneven = "depth_percent: 20, uneven_percent: 4, dimmest: {warm_mired: 20}"
    text = GOOD.replace("flash: true", burst).replace("depth_percent: 20", uneven)
    lamp, _, strobe = read_scenario(write(tmp_path, text)).setups[0].sources
    assert strobe.burst is not None
    assert strobe.burst.fade_s == pytest.approx(0.003 / 2.302585)  # t0.1 is tau ln 10
    assert (strobe.burst.pops, strobe.burst.gap_s) == (2, 0.006)
    assert (strobe.burst.most_hz, strobe.burst.is_synced) == (30.0, False)
    assert lamp.flicker is not None
    assert (lamp.flicker.mains_depth, lamp.flicker.trough_mired) == (0.04, 20.0)
