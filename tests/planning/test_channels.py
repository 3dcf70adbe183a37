"""What the channels get, against lux, published gains and brute force."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.shared import make_setup
from wbplan.camera.sensitivities import Camera, Menu, respond
from wbplan.camera.setting import Setting, view_camera
from wbplan.core.tables import load_table
from wbplan.light.filters import Filter, make_ideal_filter
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum
from wbplan.planning.channels import Relief, note_equal_heights
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.exposure import ExposurePlan
from wbplan.planning.setups import decide_setup
from wbplan.read.catalogue import find_camera, find_source
from wbplan.scene.setup import MeterError, Setup, Source

NOON = Source("noon", Spectrum(radiate_daylight(5500.0), "daylight 5500 K"))
EXACT = find_camera("nikon-d5100", Path())


def decide(setup: Setup) -> tuple[SetupPlan, ExposurePlan]:
    plan = decide_setup(setup, view_camera(setup.camera), "x")
    assert plan.exposure is not None
    return plan, plan.exposure


def alone(source: Source, lux: float = 500.0, camera: Camera = EXACT) -> Setup:
    return replace(make_setup([[lux]], ("A",), camera=camera), sources=(source,))


def line(nanometres: int) -> Source:
    values = np.zeros(401)
    values[nanometres - 380] = 1.0
    return Source(f"{nanometres} nm", Spectrum(values, "line"))


def test_daylight_is_what_lux_promise() -> None:
    for source in (NOON, replace(NOON, filter=make_ideal_filter())):
        _, exposure = decide(alone(source))
        assert [each.value for each in exposure.lights[0].stops] == pytest.approx(
            [0, 0, 0], abs=1e-9
        )


@pytest.mark.parametrize("filtered_lux", [1.0, 0.25])
def test_bands_hold_the_cameras_own_figure(filtered_lux: float) -> None:
    """The generic camera is the middle of its population, behind an ND of two stops as well."""
    nd = Filter("nd", np.full(401, filtered_lux))
    lamp = Source("LED-B3", find_source("LED-B3"), filter=nd)
    _, exposure = decide(alone(lamp, camera=find_camera("cfa-mid", Path())))
    for each in exposure.lights[0].stops:
        assert each.low <= each.value <= each.high
        assert each.high - each.low < 1.0


@pytest.mark.parametrize("nanometres", [460, 530, 630])
def test_narrow_led_by_luminous_efficiency(nanometres: int, colour: ModuleType) -> None:
    """One lux of a line is 1 / (683 V) W/m2; V and D55 are colour-science's (CIE 018, CIE 15)."""
    sight = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    d55 = colour.SDS_ILLUMINANTS["D55"].copy().align(colour.SpectralShape(380, 780, 1)).values
    v = np.array([sight[float(each)] for each in WAVELENGTHS_NM])
    curves = EXACT.sensitivities
    day = d55 @ curves / (683 * d55 @ v)
    led = curves[nanometres - 380] / (683 * v[nanometres - 380])
    _, exposure = decide(alone(line(nanometres)))
    found = [each.value for each in exposure.lights[0].stops]
    seen = led > 1e-6 * led.max()
    # 5500 K daylight and D55 differ by 3 K, and their tables by interpolation
    assert np.array(found)[seen] == pytest.approx(np.log2(led / day)[seen], abs=0.02)


def test_blue_led_reads_little_and_floods_the_blue_channel() -> None:
    # Common practice, no source: a blue LED metered in lux is stops over in the blue channel.
    values = np.exp(-0.5 * ((WAVELENGTHS_NM - 455) / 9) ** 2)
    _, exposure = decide(alone(Source("blue", Spectrum(values, "LED"))))
    red, green, blue = (each.value for each in exposure.lights[0].stops)
    assert blue > 4
    assert blue > green + 2 > red + 2
    place = exposure.positions[0]
    assert place.first_to_clip == "blue"
    assert place.white_over_stops.value > 0
    assert max(range(3), key=lambda c: -place.headroom_stops[c].value) == 2


def test_first_channel_clips_where_the_profile_says() -> None:
    camera = replace(EXACT, headroom_stops=6.0)
    setup = alone(NOON, camera=camera)
    setup = replace(setup, shooting=replace(setup.shooting, ei=camera.base_ei))
    _, exposure = decide(setup)
    headroom = [each.value for each in exposure.positions[0].headroom_stops]
    assert min(headroom) == pytest.approx(6.0, abs=1e-9)
    assert exposure.clip_is_stated
    # ISO 12232:2019, 78/10: 2.96 stops where the profile is silent
    silent = replace(setup, camera=EXACT)
    _, exposure = decide(silent)
    assert min(e.value for e in exposure.positions[0].headroom_stops) == pytest.approx(
        2.963, abs=1e-3
    )
    assert not exposure.clip_is_stated
    # twice the EI is a stop less light on the sensor, so a stop more to clip
    faster = replace(silent, shooting=replace(silent.shooting, ei=2 * EXACT.base_ei))
    _, exposure = decide(faster)
    assert min(e.value for e in exposure.positions[0].headroom_stops) == pytest.approx(
        3.963, abs=1e-3
    )


def test_headroom_channels_differ_as_raw_does() -> None:
    setup = alone(NOON)
    _, exposure = decide(setup)
    raw = respond(NOON.spectrum.values, EXACT.sensitivities)
    headroom = np.array([each.value for each in exposure.positions[0].headroom_stops])
    assert headroom - headroom[1] == pytest.approx(np.log2(raw[1] / raw), abs=1e-9)


# Neutral gains of the camera measured at NPL (Darrodi, Finlayson, Goodman and Mackiewicz 2015),
# green = 1, red and blue: A 0.943/2.208, D65 1.720/1.173 (computed with colour-science at 5 nm,
# 400-700 nm).
@pytest.mark.parametrize(
    ("light", "kelvin", "gains"), [("A", 2856, (0.943, 2.208)), ("D65", 6504, (1.720, 1.173))]
)
def test_gains_in_stops(light: str, kelvin: float, gains: tuple[float, float]) -> None:
    setup = make_setup([[100.0]], (light,), camera=EXACT, shot_at=Setting(kelvin, 0.0))
    _, exposure = decide(setup)
    red, green, blue = (each.value for each in exposure.gains.stops)
    assert (red, blue) == pytest.approx(np.log2(gains), abs=0.03)
    assert green == 0
    assert exposure.gains.worst == ("blue" if light == "A" else "red")
    assert exposure.gains.worst_lift_stops.value == pytest.approx(
        max(red, 0, blue) - min(red, 0, blue)
    )


def test_gains_against_daylight_are_nothing_at_5500() -> None:
    setup = alone(NOON)
    _, exposure = decide(replace(setup, shot_at=Setting(5500.0, 0.0)))
    assert [e.value for e in exposure.gains.against_daylight_stops] == pytest.approx([0, 0, 0])


def test_reliefs_hold_when_they_are_planned() -> None:
    """Each way out, tried: the setting dialled, the filter put on the lamp as on the lens."""
    setup = make_setup([[500.0]], ("A",), camera=EXACT)
    plan, exposure = decide(setup)
    before = exposure.gains.worst_lift_stops.value
    settings = [each for each in exposure.gains.reliefs if each.kind == "setting"]
    glass = [each for each in exposure.gains.reliefs if each.kind == "filter"]
    assert len(settings) == 1
    assert glass
    kelvin = float(settings[0].name.split(" K")[0])
    dialled, after = decide(replace(setup, shot_at=Setting(kelvin, 0.0)))
    spared = before - after.gains.worst_lift_stops.value
    assert spared == pytest.approx(settings[0].relief_stops.value, abs=1e-6)
    assert spared >= 0.5
    assert dialled.positions[0].cast.mired.value == pytest.approx(settings[0].left_mired, abs=1e-6)
    assert settings[0].left_mired > 30  # warm: tungsten under a bluer setting
    for relief in glass:
        assert "cool" in relief.name
        mired = -float(relief.name.split()[1])
        bluer = replace(setup.sources[0], filter=make_ideal_filter(mired=mired))
        light, exact = decide(replace(setup, sources=(bluer,)))
        assert relief.cost_stops == pytest.approx(light.lights[0].loss_stops, abs=1e-9)
        # the menu rounds the setting, which is worth a few hundredths of a stop
        spared = before - exact.gains.worst_lift_stops.value
        assert spared == pytest.approx(relief.relief_stops.value, abs=0.06)
    assert glass[0].cost_stops <= 1.0
    assert plan.dial.kelvin < kelvin


def test_nothing_is_offered_where_no_channel_suffers() -> None:
    camera = find_camera("layered-measured", Path())
    setup = alone(NOON, camera=camera)
    _, exposure = decide(setup)
    if exposure.gains.worst_lift_stops.value < 0.25:
        assert exposure.gains.reliefs == ()
    dark = make_setup([[0.0], [100.0]], ("A",), camera=EXACT)
    _, exposure = decide(dark)
    assert exposure.gains.reliefs == ()


def test_bands_widen_with_the_meter_and_the_family() -> None:
    known = replace(EXACT, family="exact")
    exact = make_setup([[500.0]], ("LED-B3",), camera=known)
    _, closed = decide(exact)
    assert not closed.positions[0].headroom_stops[0].is_open
    assert not closed.lights[0].stops[2].is_open
    _, metered = decide(replace(exact, meter=MeterError(5.0, 0.0)))
    width = metered.positions[0].headroom_stops[0]
    # 90 % of a 5 % error: log2(1.082 / 0.918) = 0.24 stops (arithmetic)
    assert width.high - width.low == pytest.approx(0.24, abs=0.05)
    _, family = decide(make_setup([[500.0]], ("LED-B3",), camera=EXACT))
    assert family.lights[0].stops[2].is_open
    assert family.gains.stops[2].is_open


@pytest.mark.parametrize("per_quantum", [False, True])
@pytest.mark.parametrize("is_area", [False, True])
def test_normalised_channels_are_warned_of(per_quantum: bool, is_area: bool) -> None:
    measured = alone(NOON, camera=find_camera("sony-ilce-7sm3", Path()))
    assert not note_equal_heights(measured)
    scale = WAVELENGTHS_NM[:, None] if per_quantum else 1.0
    table = measured.camera.sensitivities / scale  # as it would stand in a profile's file
    table = table / (table.sum(axis=0) if is_area else table.max(axis=0))
    levelled = replace(measured.camera, sensitivities=table.round(5) * scale)
    (note,) = note_equal_heights(replace(measured, camera=levelled))
    assert (note.code, note.weight) == ("equal-heights", "warning")
    assert "headroom" in note.text


def list_reliefs(setup: Setup) -> tuple[Relief, ...]:
    return decide(setup)[1].gains.reliefs


def test_a_way_out_spares_half_a_stop_for_the_smallest_cast() -> None:
    """Against every entry of the menu, each planned by itself; half a stop is our own figure."""
    coarse = Menu(tuple(range(2600, 4700, 100)), (0.0,))
    setup = make_setup([[500.0]], ("A",), camera=replace(EXACT, menu=coarse))
    _, exposure = decide(setup)
    setting = next(each for each in exposure.gains.reliefs if each.kind == "setting")
    now = exposure.gains.worst_lift_stops.value
    spared = {
        kelvin: now
        - decide(replace(setup, shot_at=Setting(kelvin, 0.0)))[1].gains.worst_lift_stops.value
        for kelvin in coarse.kelvin
    }
    first = min(kelvin for kelvin, stops in spared.items() if stops >= 0.5)
    assert setting.name == f"{first:.0f} K"
    assert 0.5 <= setting.relief_stops.value < 0.6


def test_glass_at_up_to_a_stop_and_at_any_cost() -> None:
    """Against every strength that is offered, put before the light and planned by itself.

    Daylight of 5600 K to tungsten of 3200 K is 134 mired; half of it is 67, a quarter 34 in whole
    mired. 30, 15 and 7.5 CC are common practice, no source. One that costs up to a stop, and the
    one that spares most at any cost.
    """
    setup = make_setup([[500.0]], ("A",), camera=EXACT)
    reliefs = [each for each in list_reliefs(setup) if each.kind == "filter"]
    light, tried = find_source("A").values, {}
    for mired, cc in [(m, 0.0) for m in (-134, -67, -34, 34, 67, 134)] + [
        (0.0, c) for c in (-30, -15, -7.5, 7.5, 15, 30)
    ]:
        through = make_ideal_filter(mired, cc)
        raw = respond(np.stack([light, light * through.transmittance]), EXACT.sensitivities)
        lift = np.log2(raw.max(axis=-1) / raw.min(axis=-1))
        lux = np.array([light, light * through.transmittance]) @ load_table("photopic")
        tried[through.name] = (lift[0] - lift[1], np.log2(lux[0] / lux[1]))
    for relief, most in zip(reliefs, (1.0, np.inf), strict=True):
        best = max((e for e in tried if tried[e][1] <= most), key=lambda each: tried[each][0])
        assert relief.name == best
        assert (relief.relief_stops.value, relief.cost_stops) == pytest.approx(tried[best])
    assert reliefs[0].cost_stops <= 1.0 < reliefs[1].cost_stops
