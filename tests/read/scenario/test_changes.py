"""What a scenario says of limits, changes, fixtures and further cameras; and what is refused."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.light.filters import make_ideal_filter
from wbplan.light.generic_filters import GELS
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux, scale_to_lux
from wbplan.read.catalogue import find_source
from wbplan.read.scenario.reader import Scene, read_scenario

GOOD = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  lamp: {lamp: A, filter: [{generic: half blue}, {nd_stops: 1}]}
  panel:
    channels: {warm: {lamp: LED-B1, lux: 300}, cool: {lamp: LED-B5, lux: 500}}
    drives: {warm: 1, cool: 0.5}
filters:
  mine: {shift: {warm_mired: 30}}
  both: [{generic: full orange}, {shift: {magenta_cc: 5}}]
setups:
  - name: Room
    shooting: {fps: 24, shutter_angle_deg: 180}
    also_cameras: [cfa-duv-tint, cfa-mid]
    positions:
      face: {lux: {window: 300, lamp: 200, panel: 40}, within: {mired: 10, cc: 2}}
      wall: {lux: {lamp: 100}, intent: {warm_mired: 20}, within: {mired: 30}}
    advise:
      max_loss_stops: 2
      key_loss_stops: 1
      lights:
        window: {filters: generic, stack: 2, pieces: 4}
        lamp: {filters: [quarter blue, mine], max_loss_stops: 1}
        panel: {tune: true}
      stock: {mine: 2, half orange: 0}
      tune:
        panel: {kelvin: 4300, magenta_cc: 2}
"""


def read(folder: Path, text: str) -> Scene:
    file = folder / "scene.yaml"
    file.write_text(text, encoding="utf-8")
    return read_scenario(file)


def test_everything_is_read(tmp_path: Path) -> None:
    setup = read(tmp_path, GOOD).setups[0]
    face, wall = (each.intent for each in setup.positions)
    assert (face.within_mired, face.within_cc) == (10, 2)
    assert (wall.within_mired, wall.within_cc) == (30, math.inf)
    assert face.words == "neutral, within 10 mired and 2 CC"
    assert [each.name for each in setup.beside] == ["cfa-duv-tint"]
    window, lamp, panel = setup.sources
    assert lamp.filter.name == "half blue + ND 1 stops"
    assert lamp.filter.is_model
    assert panel.fixture is not None
    assert panel.fixture.channels == ("warm", "cool")
    np.testing.assert_allclose(find_illuminance_lux(panel.fixture.power), [300, 500])
    mixed = scale_to_lux(find_source("LED-B1").values, 300)
    mixed = mixed + scale_to_lux(find_source("LED-B5").values, 250)
    np.testing.assert_allclose(panel.spectrum.values, mixed / mixed.max(), rtol=1e-9)
    wish = setup.wish
    assert wish is not None
    assert [len(each.filters) for each in wish.lights] == [len(GELS), 2, 0]
    assert [each.max_loss_stops for each in wish.lights] == [2, 1, 2]
    assert (wish.lights[0].stack, wish.lights[0].pieces) == (2, 4)
    assert wish.stock == (("mine", 2), ("half orange", 0))
    assert wish.key_loss_stops == 1
    assert (wish.matches[0].kelvin, wish.matches[0].tint_cc) == (4300, 2)
    assert window.fixture is None


def test_digest_follows_what_is_wished(tmp_path: Path) -> None:
    one = digest_values(read(tmp_path, GOOD))
    for before, after in (
        ("mine: 2", "mine: 3"),
        ("warm_mired: 30", "warm_mired: 31"),
        ("[cfa-duv-tint, cfa-mid]", "[layered-measured]"),
        ("within: {mired: 30}", "within: {mired: 31}"),
        ("kelvin: 4300", "kelvin: 4400"),
        ("lux: 500", "lux: 501"),
    ):
        assert digest_values(read(tmp_path, GOOD.replace(before, after))) != one, before
    assert digest_values(read(tmp_path, GOOD)) == one


BAD = [
    ("panel: {tune: true}", "panel: {tune: true, max_gain_stops: -1}", "max_gain_stops", "0"),
    ("panel: {tune: true}", "panel: {tune: true, max_gain_stops: 21}", "max_gain_stops", "20"),
    ("panel: {tune: true}", "panel: {tune: true, max_gain_stops: a lot}", "max_gain", "number"),
    ("mine], max_loss", "mine], max_gain_stops: 1, max_loss", "max_gain_stops", ""),
    ("key_loss_stops: 1", "key_loss_stops: 1\n      prefer: best", "prefer", "brightest"),
    ("key_loss_stops: 1", "key_loss_stops: 1\n      prefer: [evenest]", "prefer", ""),
    ("cool: 0.5}", "cool: 0.5}\n    dmx_bits: 12", "dmx_bits", "16"),
    ("cool: 0.5}", "cool: 0.5}\n    kelvin_step: 0", "kelvin_step", "above 0"),
    ("cool: 0.5}", "cool: 0.5}\n    kelvin_step: fine", "kelvin_step", "number"),
    ("cool: 0.5}", "cool: 0.5}\n    tint_step_cc: 1", "tint_step_cc", "both"),
    (
        "cool: 0.5}",
        "cool: 0.5}\n    kelvin_step: 50\n    tint_step_cc: 1",
        "tint_step_cc",
        "three channels",
    ),
    (
        "{warm: {lamp: LED-B1, lux: 300}, cool: {lamp: LED-B5, lux: 500}}",
        "{warm: {lamp: HP1, lux: 300}, cool: {lamp: HP1, lux: 9}}\n    kelvin_step: 50",
        "kelvin_step",
        "white",
    ),
    ("cool: 0.5}", "cool: 0.5}\n    dmx_bits: true", "dmx_bits", ""),
    ("{mired: 10, cc: 2}", "{mired: 0}", "within.mired", "above 0"),
    ("within: {mired: 30}", "within: {}", "within", "mapping"),
    ("intent: {warm_mired: 20}", "intent: leave", "within", "no limit"),
    ("within: {mired: 30}", "within: {mierd: 30}", "mierd", "mired"),
    ("generic: half blue", "generic: half bleu", "generic", "half blue"),
    ("{warm: {lamp: LED-B1, lux: 300}, cool", "{cool", "channels", "2 to 32"),
    ("lamp: LED-B1, lux: 300", "lamp: LED-B1", "lux", "number from 0.000001"),
    ("{warm: 1, cool: 0.5}", "{warm: 1, cold: 0.5}", "cold", "cool"),
    ("{warm: 1, cool: 0.5}", "{warm: 1, cool: 1.5}", "cool", "0, or a number from 0.00001 to 1"),
    ("{warm: 1, cool: 0.5}", "{warm: 0, cool: 0}", "drives", "one at least"),
    ("  mine: {shift", "  full blue: {shift", "filters", "a name of its own"),
    ("[cfa-duv-tint, cfa-mid]", "[cfa-duv]", "also_cameras", "cfa-duv-tint"),
    ("        window: {filters", "        windows: {filters", "windows", "window"),
    ("filters: generic, stack", "filters: genric, stack", "filters", "generic"),
    ("stack: 2", "stack: 4", "stack", "from 1 to 3"),
    ("pieces: 4", "pieces: 0", "pieces", "from 1 to"),
    ("[quarter blue, mine]", "[quarter blue, yours]", "filters", "mine"),
    ("[quarter blue, mine]", "[]", "filters", "list"),
    ("panel: {tune: true}", "panel: {tune: false}", "tune", "true"),
    ("panel: {tune: true}", "panel: {tune: true, filters: generic}", "filters", "only one"),
    ("lamp: {filters: [quarter blue, mine],", "lamp: {tune: true,", "tune", "channels"),
    ("half orange: 0", "half ornge: 0", "stock", "half orange"),
    ("mine: 2,", "mine: 1.5,", "mine", "whole number"),
    ("        panel: {kelvin", "        lamp: {kelvin", "tune.lamp", "channels"),
    ("{kelvin: 4300, magenta_cc: 2}", "{match: panel}", "match", "window"),
    ("{kelvin: 4300, magenta_cc: 2}", "{intent: leave}", "intent", "neutral"),
    ("{kelvin: 4300, magenta_cc: 2}", "{kelvin: 430}", "kelvin", "from 1000"),
    ("max_loss_stops: 2", "max_loss_stop: 2", "max_loss_stop", "max_loss_stops"),
]


@pytest.mark.parametrize(("before", "after", "field", "allowed"), BAD)
def test_faults_name_their_place(
    tmp_path: Path, before: str, after: str, field: str, allowed: str
) -> None:
    assert before in GOOD
    text = GOOD.replace(before, after, 1)
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    error = caught.value
    assert error.place.line > 0
    assert field in f"{error.place} {error.found}"
    assert allowed in error.allowed


def test_what_fixtures_may_do_is_read(tmp_path: Path) -> None:
    text = GOOD.replace("cool: 0.5}", "cool: 0.5}\n    dmx_bits: 16")
    text = text.replace("tune: true}", "tune: true, max_gain_stops: 0.5}")
    text = text.replace("key_loss_stops: 1", "key_loss_stops: 1\n      prefer: truest")
    setup = read(tmp_path, text).setups[0]
    assert setup.sources[2].fixture is not None
    assert setup.sources[2].fixture.drive_steps == 2**16 - 1  # ANSI E1.11 slots are of 8 bits
    assert setup.wish is not None
    assert setup.wish.prefer == "truest"
    stepped = GOOD.replace("cool: 0.5}", "cool: 0.5}\n    kelvin_step: 50")
    panel = read(tmp_path, stepped).setups[0].sources[2].fixture
    assert panel is not None
    assert (panel.kelvin_step, panel.tint_step_cc, panel.drive_steps) == (50, 0, 0)
    assert setup.wish.lights[2].max_gain_stops == 0.5


def test_an_empty_advise_is_refused(tmp_path: Path) -> None:
    text = GOOD[: GOOD.index("    advise:")] + "    advise:\n      max_loss_stops: 2\n"
    with pytest.raises(InputError, match="lights"):
        read(tmp_path, text)


def test_a_fixture_inside_a_mix_is_refused(tmp_path: Path) -> None:
    mix = "  window: {mix: [{channels: {a: {lamp: A, lux: 1}, b: {lamp: A, lux: 1}}, share: 1}]}\n"
    text = GOOD.replace("  window: {daylight_kelvin: 6000}\n", mix)
    with pytest.raises(InputError, match="fixture inside another light"):
        read(tmp_path, text)


# Two readings ------------------------------------------------------------------------------------


def write_reading(path: Path, power: np.ndarray) -> None:
    rows = "\n".join(f"{w:.0f},{p:.8g}" for w, p in zip(WAVELENGTHS_NM, power, strict=True))
    path.write_text(f"wavelength_nm,power\n{rows}\n")


PAIR = "{two_readings: {without: {spectrum_file: bare.csv%s}, behind: {spectrum_file: gel.csv%s}}}"


@pytest.mark.parametrize("relative", [False, True])
def test_a_filter_from_two_readings(tmp_path: Path, relative: bool) -> None:
    bare = scale_to_lux(find_source("A").values, 800.0)
    wanted = make_ideal_filter(-60.0, 4.0).transmittance
    behind = bare * wanted
    lux = f", lux: {find_illuminance_lux(behind):.9g}"
    if relative:  # a meter that exports each spectrum to its own peak
        write_reading(tmp_path / "bare.csv", bare / bare.max())
        write_reading(tmp_path / "gel.csv", behind / behind.max())
        pair = PAIR % (", lux: 800", lux)
    else:
        write_reading(tmp_path / "bare.csv", bare)
        write_reading(tmp_path / "gel.csv", behind)
        pair = PAIR % ("", "")
    text = GOOD.replace("[{generic: half blue}, {nd_stops: 1}]", f"[{pair}]")
    made = read(tmp_path, text).setups[0].sources[1].filter
    np.testing.assert_allclose(made.transmittance, wanted, atol=3e-3)
    assert not made.is_model


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ((", lux: 800", ""), "lux for one"),
        ((", lux: 800", ", lux: 1600"), "more light behind"),
        ((", column: 3", ""), "column"),
    ],
)
def test_readings_that_do_not_go_together(
    tmp_path: Path, change: tuple[str, str], said: str
) -> None:
    bare = scale_to_lux(find_source("A").values, 800.0)
    write_reading(tmp_path / "bare.csv", bare)
    write_reading(tmp_path / "gel.csv", 0.5 * bare)
    pair = PAIR % change
    text = GOOD.replace("[{generic: half blue}, {nd_stops: 1}]", f"[{pair}]")
    with pytest.raises(InputError, match=said):
        read(tmp_path, text)
