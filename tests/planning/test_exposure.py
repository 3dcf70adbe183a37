"""A setup's exposure: landings and codes, packs, contrasts, flash and flicker by position."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.shared import make_setup
from wbplan.camera.setting import view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.exposure.burst import Burst
from wbplan.exposure.equation import Shooting
from wbplan.exposure.flicker import Flicker, find_ripple_stops
from wbplan.exposure.nd_kit import Kit, Lens, Piece
from wbplan.light.filters import make_neutral_density
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.exposure import ExposurePlan
from wbplan.planning.ripple import NOTABLE_RIPPLE_STOPS, answer_flicker
from wbplan.planning.setups import decide_setup
from wbplan.read.catalogue import find_camera, find_source
from wbplan.scene.setup import MeterError, Setup, Source, find_position_lux

EXACT = find_camera("nikon-d5100", Path())
EXACT = replace(EXACT, family="exact")
VIEW = view_camera(EXACT)
SHOOT = Shooting(800, 24, 1 / 48, t_stop=2.8)


def decide(setup: Setup) -> tuple[SetupPlan, ExposurePlan]:
    plan = decide_setup(setup, VIEW, "x")
    assert plan.exposure is not None
    return plan, plan.exposure


def scene(lux: list[list[float]], lights: tuple[str, ...] = ("D55",), **changes: object) -> Setup:
    return make_setup(lux, lights, camera=EXACT, **changes)


def codes(plan: SetupPlan) -> set[str]:
    return {each.code for each in plan.notes}


# S-Log3: 18 % grey is code 420 of 1023, 90 % white 598 (Sony, Technical Summary for S-Gamut3.Cine/
# S-Log3). LogC3, EI 800: 18 % grey is code 400 (ARRI, ALEXA Log C Curve, 2012).
@pytest.mark.parametrize(
    ("curve", "grey", "white"), [("S-Log3", 420, 598), ("ARRI LogC3", 400, None)]
)
def test_codes_are_the_published_ones(curve: str, grey: int, white: int | None) -> None:
    setup = scene([[117.6]], encoding=find_encoding(curve, "ACEScg"), shooting=SHOOT)
    _, exposure = decide(setup)
    landings = exposure.positions[0].landings
    assert [each.surface for each in landings] == ["18 % grey", "white, 90 %", "black, 3 %"]
    assert round(1023 * landings[0].code.value) == grey
    if white is not None:
        assert round(1023 * landings[1].code.value) == white
    # 90 % over 18 % is 2.32 stops, 3 % under it 2.58 (arithmetic)
    stops = [each.from_grey_stops.value for each in landings]
    assert stops == pytest.approx([0, 2.322, -2.585], abs=2e-3)


def test_stop_that_is_free_puts_the_key_in_the_middle() -> None:
    _, exposure = decide(scene([[100.0], [50.0], [0.0]]))
    assert exposure.t_stop == pytest.approx(np.sqrt(100 * 800 / 48 / 250))  # ISO 2720, C 250
    greys = [each.landings[0].from_grey_stops.value for each in exposure.positions]
    assert greys[:2] == pytest.approx([0, -1], abs=1e-9)
    assert greys[2] == -np.inf
    assert exposure.nd_needed is None
    assert exposure.positions[1].from_key_stops.value == pytest.approx(-1)


def test_too_dark_for_the_wanted_stop() -> None:
    plan, exposure = decide(scene([[117.6 / 4]], shooting=SHOOT))
    assert exposure.nd_stops == 0
    assert exposure.positions[0].landings[0].from_grey_stops.value == pytest.approx(-2, abs=1e-3)
    assert "too-dark" in codes(plan)


def test_pack_sets_where_things_land() -> None:
    step = 0.3 / 0.30103  # density in stops
    kit = Kit((Piece("ND 0.3", step), Piece("ND 0.6", 2 * step)), (), 2, (Lens("50", 2.0, 22),))
    bright = scene([[117.6 * 8.5]], shooting=SHOOT, kit=kit)
    plan, exposure = decide(bright)
    assert sorted(exposure.packs[0].glass) == ["ND 0.3", "ND 0.6"]
    miss = 3 * step - np.log2(8.5)
    landed = exposure.positions[0].landings[0].from_grey_stops.value
    assert landed == pytest.approx(-miss, abs=1e-3)
    assert exposure.lenses == ("50",)
    assert "no-pack" not in codes(plan)
    far, _ = decide(
        replace(bright, kit=replace(kit, lenses=(Lens("slow", 5.6, 22),), most_glass=1))
    )
    assert {"no-pack", "no-lens"} <= codes(far)
    assert any("T4" in each.text for each in far.notes if each.code == "no-pack")
    dark = scene([[20.0]], shooting=SHOOT, kit=Kit((Piece("polariser", 1.5, stays=True),)))
    plan, exposure = decide(dark)
    assert exposure.nd_stops == 1.5
    assert {"too-dark", "no-pack"} <= codes(plan)


def test_contrasts_of_every_pair() -> None:
    _, exposure = decide(scene([[100.0], [400.0], [50.0], [0.0]], meter=MeterError(5.0, 0.0)))
    said = [(each.brighter, each.darker, round(each.stops.value, 6)) for each in exposure.contrasts]
    assert said == [
        ("place 1", "place 2", 3), ("place 1", "place 0", 2), ("place 0", "place 2", 1),
    ]  # fmt: skip
    width = exposure.contrasts[0].stops
    # two readings of 5 % each: sd of log2 is 0.05 sqrt(2) / ln 2 = 0.102; 90 % is 3.29 of them
    assert width.high - width.low == pytest.approx(3.29 * 0.102, rel=0.12)


def test_dark_key_says_nothing_of_where_things_land() -> None:
    plan, exposure = decide(scene([[0.0], [50.0]]))
    assert exposure.t_stop == 0
    assert np.isnan(exposure.positions[1].landings[0].from_grey_stops.value)
    assert np.isnan(exposure.positions[1].headroom_stops[0].value)
    assert plan.exposure is exposure


def flashed(time_s: float, steady: float = 100.0, flash: float = 4.0) -> Setup:
    sources = (Source("A", find_source("A")), Source("flash", find_source("D65"), flash=True))
    setup = scene([[steady, flash], [steady, 0.0]], ("A", "D65"), sources=sources)
    return replace(setup, shooting=Shooting(800, 24, time_s, readout_s=0.01))


def test_flash_counts_as_the_steady_light_that_gives_its_dose() -> None:
    # N^2 = (E t + H) S / C: 100 lux for 1/50 s and 4 lux s at ISO 800 are T4.38 (arithmetic)
    plan, exposure = decide(flashed(1 / 50))
    assert exposure.t_stop == pytest.approx(np.sqrt((2 + 4) * 800 / 250))
    steady = scene([[100.0, 200.0], [100.0, 0.0]], ("A", "D65"))
    same = decide_setup(replace(steady, shooting=Shooting(800, 24, 1 / 50)), VIEW, "x")
    assert plan.positions[0].cast == same.positions[0].cast
    assert plan.positions[0].t_stop == same.positions[0].t_stop
    assert "flash" in codes(plan)
    assert "flash-readout" not in codes(plan)
    assert "flash" in {each.code for each in plan.cautions}


def test_shutter_parts_flash_from_ambient() -> None:
    _, exposure = decide(flashed(1 / 50))
    times = [each.exposure_time_s for each in exposure.flash]
    assert times == pytest.approx([1 / 400, 1 / 200, 1 / 100, 1 / 50, 1 / 25])
    longer = flashed(1 / 30)  # twice that is longer than a frame of 24 fps
    assert decide(longer)[1].flash[-1].exposure_time_s == pytest.approx(1 / 30)
    ratios = [each.positions[0].over_ambient_stops.value for each in exposure.flash]
    assert ratios == pytest.approx([4, 3, 2, 1, 0])  # 4 lux s over 2 lux s is a stop at 1/50 s
    assert all(each.positions[1].over_ambient_stops.value == -np.inf for each in exposure.flash)
    assert [each.is_planned for each in exposure.flash] == [False, False, False, True, False]


def test_colour_of_the_mix_goes_from_ambient_to_flash() -> None:
    plan, exposure = decide(flashed(1 / 50))
    face = [each.positions[0] for each in exposure.flash]
    planned = face[3]
    assert planned.mired.value == pytest.approx(plan.positions[0].cast.mired.value, abs=1e-6)
    assert planned.green_cc.value == pytest.approx(plan.positions[0].cast.green_cc.value, abs=1e-6)
    cooler = [each.mired.value for each in face]
    assert cooler == sorted(cooler)
    d65, a = 1e6 / 6504, 1e6 / 2855.5  # CIE 15:2018
    for each in exposure.flash:
        assert each.positions[1].mired.value == pytest.approx(a - plan.dial.mired, abs=1.5)
        assert d65 - 1.5 < each.positions[0].mired.value + plan.dial.mired < a
    only = decide(flashed(1 / 50, steady=0.001, flash=400.0))[1].flash[0].positions[0]
    assert only.mired.value + decide(flashed(1 / 50, 0.001, 400.0))[0].dial.mired == pytest.approx(
        d65, abs=1.5
    )


@settings(max_examples=6)
@given(stops=st.integers(-3, 0), flash=st.floats(0.1, 100), steady=st.floats(1, 1000))
def test_ratio_at_another_shutter_is_that_of_a_plan_at_it(
    stops: int, flash: float, steady: float
) -> None:
    table = decide(flashed(1 / 50, steady, flash))[1].flash
    time = 2.0**stops / 50
    row = next(each for each in table if np.isclose(each.exposure_time_s, time))
    other = decide(flashed(time, steady, flash))[1].flash
    planned = next(each for each in other if each.is_planned).positions[0]
    assert row.positions[0].over_ambient_stops.value == pytest.approx(
        planned.over_ambient_stops.value, abs=1e-9
    )


@pytest.mark.parametrize(("readout", "warned"), [(None, True), (0.03, True), (0.0, False)])
def test_flash_and_readout(readout: float | None, warned: bool) -> None:
    setup = flashed(1 / 50)
    plan, _ = decide(replace(setup, shooting=replace(setup.shooting, readout_s=readout)))
    assert ("flash-readout" in codes(plan)) == warned


def flickering(flicker: Flicker | None, share: float = 0.5, **changes: object) -> Setup:
    sources = (Source("lamp", find_source("A"), flicker=flicker), Source("day", find_source("D55")))
    lux = [[1000 * share, 1000 * (1 - share)], [0.0, 100.0]]
    return scene(lux, ("A", "D55"), sources=sources, **changes)


def test_steady_light_dilutes_the_ripple() -> None:
    flicker = Flicker(100.0, 0.8)
    _, exposure = decide(flickering(flicker, 0.5))
    # half the light swings by m |sinc(f T)|: log2((1 + s m sinc) / (1 - s m sinc))
    reach = 0.5 * 0.8 * abs(np.sinc(100 / 48))
    ripple = exposure.positions[0].ripple_stops
    assert ripple.value == pytest.approx(np.log2((1 + reach) / (1 - reach)), abs=1e-9)
    assert exposure.positions[1].ripple_stops.value == 0
    whole = decide(flickering(flicker, 1.0))[1].positions[0].ripple_stops.value
    assert whole == pytest.approx(float(find_ripple_stops(flicker, 1 / 48)))
    metered = decide(flickering(flicker, 0.5, meter=MeterError(10.0, 0.0)))[1]
    assert metered.positions[0].ripple_stops.is_open


def test_flicker_is_answered_and_warned_of() -> None:
    plan, exposure = decide(flickering(Flicker(100.0, 0.9), 1.0, mains_hz=60.0))
    assert exposure.flicker is not None
    lamp, mains = exposure.flicker.answers
    assert (lamp.label, lamp.is_source, mains.label, mains.is_source) == (
        "lamp", True, "mains 60 Hz", False,
    )  # fmt: skip
    assert lamp.safe_time_s == pytest.approx(1 / 50)
    # 180 to 172.8 degrees is log2(180 / 172.8) = 0.059 stops (arithmetic)
    assert lamp.safe_cost_stops == pytest.approx(0.0589, abs=1e-4)
    assert lamp.safe_ripple_stops == pytest.approx(0, abs=1e-9)
    assert exposure.flicker.readout_s == pytest.approx(1 / 24)
    assert not exposure.flicker.readout_is_stated
    assert {"flicker", "strobing", "no-safe-shutter"} <= codes(plan)
    assert "strobe" in {each.code for each in plan.cautions}
    # 100 and 120 Hz share 1/20 s, longer than a frame of 24 fps; what is least is between them
    best = exposure.flicker.best
    assert not best.is_safe
    times = np.linspace(0.001, 1 / 24, 20_000)
    least = np.maximum(*(find_ripple_stops(each.flicker, times) for each in (lamp, mains))).min()
    assert best.ripple_stops == pytest.approx(least, abs=0.006)


def test_mains_that_a_lamp_follows_are_answered_once() -> None:
    _, exposure = decide(flickering(Flicker(100.0, 0.05), mains_hz=50.0))
    assert exposure.flicker is not None
    assert len(exposure.flicker.answers) == 1
    assert not exposure.flicker.answers[
        0
    ].is_risky  # 5 % is under the 8 % of IEEE 1789, from memory


def test_no_flicker_no_answer() -> None:
    plan, exposure = decide(flickering(None))
    assert exposure.flicker is None
    assert "flicker" not in codes(plan)


def test_flashing_light_and_high_speed() -> None:
    fast = Shooting(800, 120, 1 / 240)
    plan, _ = decide(flickering(Flicker(100.0, is_assumed=True), 1.0, shooting=fast))
    assert {"no-safe-shutter", "no-whole-period", "flicker-depth"} <= codes(plan)
    slow, _ = decide(flickering(Flicker(12.0, 0.9, "square"), 1.0))
    assert any("seizures" in each.text for each in slow.notes if each.code == "strobing")


@pytest.mark.parametrize(("stops", "warned"), [(0.048, False), (0.053, True)])
def test_ripple_is_warned_of_from_a_twentieth_of_a_stop(stops: float, warned: bool) -> None:
    """0.05 stop, 3.5 %: common practice, no source. The depth that gives it, in closed form.

    A sine of depth m over T leaves m |sinc(f T)| either way, as a fraction.
    """
    reach = (2.0**stops - 1.0) / (2.0**stops + 1.0)
    depth = reach / abs(np.sinc(100.0 / 48.0))
    plan, exposure = decide(flickering(Flicker(100.0, float(depth)), 1.0))
    assert exposure.positions[0].ripple_stops.value == pytest.approx(stops, abs=1e-9)
    assert ("flicker" in codes(plan)) == warned


@pytest.mark.parametrize(("hertz", "flashes"), [(68.0, True), (72.0, False)])
def test_light_up_to_70_hz_is_seen_to_flash(hertz: float, flashes: bool) -> None:
    """3 to 70 Hz can set off seizures (from memory, as IEEE 1789-2015 has it); whatever its depth.

    A depth of 1 % is under what the standard calls low risk at either: 0.025 f is 1.7 and 1.8 %.
    """
    plan, _ = decide(flickering(Flicker(hertz, 0.01), 1.0))
    assert any("seizures" in each.text for each in plan.notes) == flashes


def test_bands_need_a_rolling_shutter() -> None:
    rolling = answer_flicker("x", Flicker(100.0), 24, 1 / 200, 0.016)
    assert rolling.band_count == pytest.approx(1.6)
    assert rolling.band_ripple_stops == pytest.approx(rolling.ripple_stops)
    assert answer_flicker("x", Flicker(100.0), 24, 1 / 200, 0.0).band_ripple_stops == 0


def test_lights_that_go_dark_and_meters_that_know_nothing() -> None:
    """Everything stays a number or says that it is none; no warning of the arithmetic gets out."""
    black = replace(Source("lamp", find_source("A")), filter=make_neutral_density(2000.0))
    on_and_off = Flicker(50.0, 1.0, "square", 0.2)
    strobe = Source("strobe", find_source("D65"), flash=True)
    sources = (black, Source("led", find_source("LED-B3"), flicker=on_and_off), strobe)
    setup = scene([[100.0, 0, 0], [0, 80, 0], [0, 0, 3.0], [0, 50, 1]], ("A", "D55", "D65"))
    shoot = replace(SHOOT, exposure_time_s=0.001)
    hard = replace(
        setup, sources=sources, meter=MeterError(50.0, 0.02), shooting=shoot, key="place 3"
    )
    _, exposure = decide(hard)
    assert np.isnan(exposure.lights[0].stops[0].value)
    assert exposure.positions[1].ripple_stops.value == np.inf
    assert np.isfinite(exposure.positions[3].ripple_stops.value)
    assert exposure.positions[0].landings[0].from_grey_stops.value == -np.inf
    assert exposure.flash[0].positions[2].over_ambient_stops.value == np.inf
    for each in exposure.contrasts:
        assert each.stops.low <= each.stops.value <= each.stops.high


def test_slow_frames_and_fast_lights_stay_small() -> None:
    answer = answer_flicker("x", Flicker(1e6, 0.5, "square", 0.3), 0.001, 500.0, 1000.0)
    assert len(answer.safe_times_s) == 8
    assert answer.safe_time_s == pytest.approx(500.0, abs=1e-6)
    assert answer_flicker("x", Flicker(100.0), 1e-300, 5e299, 1e300).safe_time_s == 5e299


# Safe at every position --------------------------------------------------------------------------


def test_two_frequencies_are_safe_without_meeting() -> None:
    """A tube on 100 Hz and a panel on 1000.3 Hz share no whole period within a frame.

    By the closed form of a sine, m |sinc(f T)|, at the offered time, both lights' crests together.
    """
    tube, panel = Flicker(100.0, 0.9), Flicker(1000.3, 0.9)
    sources = (
        Source("a", find_source("A"), flicker=tube),
        Source("b", find_source("A"), flicker=panel),
    )
    _, exposure = decide(scene([[70.0, 30.0], [0.0, 50.0]], ("A", "A"), sources=sources))
    assert exposure.flicker is not None
    best = exposure.flicker.best
    assert best.is_safe
    assert not best.is_planned
    swings = np.array(
        [0.9 * abs(np.sinc(each.light_hz * best.exposure_time_s)) for each in (tube, panel)]
    )
    for shares in ([0.7, 0.3], [0.0, 1.0]):
        reach = float(np.dot(shares, swings))
        assert np.log2((1 + reach) / (1 - reach)) <= best.ripple_stops + 1e-9
    assert best.ripple_stops <= NOTABLE_RIPPLE_STOPS
    assert best.exposure_time_s == pytest.approx(1 / 50, rel=0.02)


def test_a_planned_shutter_that_steady_light_makes_safe_is_kept() -> None:
    _, exposure = decide(flickering(Flicker(100.0, 0.8), 0.3))
    assert exposure.flicker is not None
    assert exposure.flicker.best.is_planned  # 0.3 x 0.8 x 0.0395 is 0.027 stops (closed form)
    assert exposure.flicker.best.ripple_stops == pytest.approx(0.0274, abs=5e-4)


def test_ageing_tubes_ask_for_whole_periods_of_the_mains() -> None:
    """1/100 s takes one half wave, which differs from the next; 1/50 s takes both (arithmetic)."""
    old = Flicker(100.0, 0.3, mains_depth=0.1)
    short = Shooting(800, 24, 1 / 100)
    _, exposure = decide(flickering(old, 1.0, shooting=short))
    reach = 0.1 * np.sinc(0.5)
    ripple = exposure.positions[0].ripple_stops.value
    assert ripple == pytest.approx(np.log2((1 + reach) / (1 - reach)), abs=1e-9)
    assert exposure.flicker is not None
    assert exposure.flicker.best.exposure_time_s == pytest.approx(1 / 50)
    assert exposure.flicker.answers[0].safe_times_s == pytest.approx((1 / 50, 2 / 50))
    _, fresh = decide(flickering(Flicker(100.0, 0.3), 1.0, shooting=short))
    assert fresh.positions[0].ripple_stops.value == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("warm", [30.0, -30.0])
def test_colour_ripple_spans_the_stated_shift(warm: float) -> None:
    """In an instant of a sine the colour goes from crest to trough, by the stated mired.

    The shift is that of an ideal filter on a black body, so Wien's law holds it to 2 %; at a whole
    period nothing is left.
    """
    lamp = Flicker(100.0, 0.6, trough_mired=warm)
    instant = replace(Shooting(800, 24, 1e-5))
    _, exposure = decide(flickering(lamp, 1.0, shooting=instant))
    assert exposure.positions[0].ripple_mired == pytest.approx(abs(warm), rel=0.05)
    assert exposure.positions[1].ripple_mired == 0
    _, whole = decide(flickering(lamp, 1.0, shooting=Shooting(800, 24, 1 / 50)))
    assert whole.positions[0].ripple_mired == pytest.approx(0, abs=1e-6)
    assert np.isnan(decide(flickering(Flicker(100.0), 1.0))[1].positions[0].ripple_mired)


# Bursts -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("burst", "time_s", "code"),
    [
        (Burst(0.001), 1 / 50, ""),
        (Burst(0.004), 0.008, "flash-cut"),  # 1 - exp(-2) is 0.865, 0.21 stops lost
        (Burst(0.02), 1 / 25, "flash-spills"),  # exp(-1/24/0.02) is 12 %
        (Burst(0.001, is_synced=False), 1 / 50, "flash-free"),
    ],
)
def test_where_one_whole_flash_is_false(burst: Burst, time_s: float, code: str) -> None:
    setup = flashed(time_s)
    lamp, flash = setup.sources
    plan, _ = decide(replace(setup, sources=(lamp, replace(flash, burst=burst))))
    said = codes(plan) & {"flash-cut", "flash-spills", "flash-free"}
    assert code in said if code else not said


def test_a_flash_counts_as_far_as_it_falls_in() -> None:
    """1 - exp(-t / tau) of it (an exponential fade, arithmetic): 0.8647 at t = 2 tau."""
    setup = flashed(0.008)
    lamp, flash = setup.sources
    cut = replace(setup, sources=(lamp, replace(flash, burst=Burst(0.004))))
    whole, less = (find_position_lux(each)[:1, 1] for each in (setup, cut))
    np.testing.assert_allclose(less, whole * (1 - np.exp(-2)), rtol=1e-12)
    planned, longer = decide(cut)[1].flash[3], decide(cut)[1].flash[4]
    assert planned.is_planned
    # at twice the time steady light doubles, and the flash is 1 - exp(-4) in place of 1 - exp(-2)
    step = np.log2((1 - np.exp(-4)) / (1 - np.exp(-2)) / 2)
    over = [each.positions[0].over_ambient_stops.value for each in (planned, longer)]
    assert over[1] - over[0] == pytest.approx(step, abs=1e-9)


def test_pops_add_their_lux_seconds() -> None:
    setup = flashed(1 / 50)
    lamp, flash = setup.sources
    four = replace(setup, sources=(lamp, replace(flash, burst=Burst(0.0001, 4, 0.002))))
    # 100 lux for 1/50 s is 2 lux s; four pops of 4 lux s make 18, one makes 6 (arithmetic)
    one, many = (decide(each)[1].t_stop for each in (setup, four))
    assert 2 * np.log2(many / one) == pytest.approx(np.log2(18 / 6))
