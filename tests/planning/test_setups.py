"""Whole setups planned: decisions that hang together, and lights that nothing neutralises."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.shared import make_setup
from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import Setting, view_camera
from wbplan.codes.table3d import parse_cube, read_tetrahedral
from wbplan.exposure.equation import Shooting
from wbplan.light.filters import make_ideal_filter
from wbplan.light.illuminants import radiate_black_body
from wbplan.light.spectrum import Spectrum
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.setups import decide_setup, plan_setup
from wbplan.read.catalogue import find_camera, find_source, list_shipped
from wbplan.scene.setup import Intent, Setup, Source, find_position_lux, find_source_power


def decide(setup: Setup) -> SetupPlan:
    return decide_setup(setup, view_camera(setup.camera), "01-test")


def decide_with_lut(setup: Setup) -> SetupPlan:
    return plan_setup(setup, view_camera(setup.camera), "01-test")


def with_line(nanometres: float) -> Source:
    values = np.zeros(401)
    values[int(nanometres) - 380] = 1.0
    return Source("line", Spectrum(values, "line"))


@pytest.mark.parametrize("name", list_shipped("camera_profiles"))
@pytest.mark.parametrize(("light", "kelvin"), [("A", 2855.5), ("D55", 5503.0), ("D65", 6504.0)])
def test_reference_light_alone_gets_its_kelvin_and_no_tint(
    name: str, light: str, kelvin: float
) -> None:
    decided = decide(make_setup([[100.0]], (light,), camera=find_camera(name, Path())))
    assert decided.exact.mired.value == pytest.approx(1e6 / kelvin, abs=2.0)
    assert decided.exact.tint_cc.value == pytest.approx(0.0, abs=0.2)


def test_cast_plus_setting_is_what_the_position_wants() -> None:
    decided = decide(make_setup([[100.0, 300.0, 20.0], [0.0, 10.0, 300.0]]))
    for place in decided.positions:
        assert place.cast.mired.value + decided.dial.mired == pytest.approx(
            place.wanted.mired.value
        )
        assert place.cast.green_cc.low <= place.cast.green_cc.value <= place.cast.green_cc.high
        assert sum(place.shares) == pytest.approx(1.0)


def test_gains_at_the_dial_leave_just_the_cast() -> None:
    setup = make_setup([[100.0, 300.0, 20.0]])
    decided = decide(setup)
    power = find_position_lux(setup) @ find_source_power(setup)
    balanced = np.log2(respond(power[0], setup.camera.sensitivities) * np.array(decided.gains))
    green = balanced[1] - (balanced[0] + balanced[2]) / 2
    cast = decided.positions[0].cast
    # 1 CC is 0.01 of density, 0.0332 stop (handbook arithmetic)
    assert abs(green - cast.green_cc.value * 0.0332193) < 0.02


def test_intents_move_the_setting_by_what_they_ask() -> None:
    plain = make_setup([[100.0, 0.0, 0.0]])
    warm = replace(
        plain, positions=(replace(plain.positions[0], intent=Intent(mired=40.0, green_cc=3.0)),)
    )
    one, two = decide(plain), decide(warm)
    assert one.exact.mired.value - two.exact.mired.value == pytest.approx(40.0, abs=1e-6)
    assert one.exact.tint_cc.value - two.exact.tint_cc.value == pytest.approx(3.0, abs=1e-6)
    assert two.positions[0].cast.mired.value == pytest.approx(40.0, abs=3.0)


@pytest.mark.parametrize(("mired", "cc"), [(40.0, 0.0), (0.0, 8.0), (-30.0, -6.0)])
def test_an_intent_is_seen_in_the_picture(mired: float, cc: float) -> None:
    """The long way round, by raw values and gains alone: + is warm, + is green, on the screen.

    A face wanted 40 mired warm looks as a black body 40 mired warmer than the setting's (under
    4000 K the reference locus is one, CIE 224:2017); 1 CC of green is 0.0332 stop of its channel.
    """
    exact = replace(find_camera("cfa-mid", Path()), family="exact")
    setup = make_setup([[100.0]], ("A",), camera=exact)
    asked = replace(setup.positions[0], intent=Intent(mired=mired, green_cc=cc))
    decided = decide(replace(setup, positions=(asked,)))
    curves, gains = exact.sensitivities, np.array(decided.gains)
    red, green, blue = np.log2(respond(find_source("A").values, curves) * gains)
    dial = decided.dial
    seen = np.log2(respond(radiate_black_body(1e6 / (dial.mired + mired)), curves))
    plain = np.log2(respond(radiate_black_body(1e6 / dial.mired), curves))
    warmer = (seen - plain)[0] - (seen - plain)[2]
    # the menu steps by 50 K, 7 mired there, and by 1 CC
    assert red - blue == pytest.approx(warmer, abs=0.06)
    assert np.sign(red - blue) == np.sign(mired) or mired == 0
    rounding = (seen - plain)[1] - (seen - plain)[[0, 2]].mean()
    assert green - (red + blue) / 2 - rounding == pytest.approx(0.033219 * cc, abs=0.018)


def test_exposure_follows_the_incident_equation() -> None:
    # ISO 2720:1974 with C 250; ISO 800, 1/48 s and T2.8 need 117.6 lux
    setup = make_setup([[117.6]], ("D55",), shooting=Shooting(800, 24, 1 / 48, t_stop=2.0))
    place = decide(setup).positions[0]
    assert place.t_stop.value == pytest.approx(2.8, rel=1e-3)
    assert place.nd_for_stop == pytest.approx(0.97, abs=0.01)
    assert place.from_key_stops == 0.0


def test_filter_costs_light_and_changes_the_cast() -> None:
    bare = make_setup([[100.0]], ("D55",))
    warmed = replace(
        bare, sources=(replace(bare.sources[0], filter=make_ideal_filter(mired=100.0)),)
    )
    one, two = decide(bare), decide(warmed)
    assert two.exact.mired.value - one.exact.mired.value == pytest.approx(100.0, abs=12.0)
    loss = two.lights[0].loss_stops
    assert loss > 0.3
    assert np.log2(one.positions[0].lux.value / two.positions[0].lux.value) == pytest.approx(loss)
    assert two.lights[0].is_model


@pytest.mark.parametrize(
    ("source", "fragment"),
    [
        (with_line(589), "single line"),
        (with_line(530), "single line"),
        (Source("lps", find_source("sodium-low-pressure-1700k")), "single line"),
        (
            Source(
                "red",
                Spectrum(1.0 * (np.arange(380, 781) > 600), "red"),
            ),
            "no setting neutralises it",  # a measured blue filter leaks some red
        ),
    ],
    ids=["sodium line", "green line", "measured low-pressure sodium", "red light"],
)
def test_a_light_that_no_setting_neutralises_is_called_that(source: Source, fragment: str) -> None:
    setup = replace(make_setup([[100.0]], ("A",)), sources=(source,))
    decided = decide_with_lut(setup)
    assert fragment in decided.positions[0].trouble
    assert fragment in decided.lights[0].trouble
    assert decided.lut is None
    assert {"trouble", "no-lut"} <= {
        note.code for note in decided.notes if note.weight == "warning"
    }
    # still the nearest setting, finite, on the menu
    assert decided.dial.kelvin in setup.camera.menu.kelvin
    assert np.isfinite(decided.exact.tint_cc.value)


def test_a_hopeless_position_does_not_pull_the_others() -> None:
    setup = make_setup([[100.0, 0.0], [0.0, 100.0]], ("D55", "D65"))
    bad = replace(setup, sources=(setup.sources[0], with_line(589)))
    decided = decide_with_lut(bad)
    assert decided.exact.mired.value == pytest.approx(1e6 / 5503, abs=1.0)
    assert decided.lut is not None


def test_off_the_menu_gives_the_end_and_a_warning() -> None:
    setup = make_setup([[100.0]], ("sodium-high-pressure-2000k",))
    camera = find_camera("cfa-duv-tint", Path())
    menu = replace(camera.menu, kelvin=tuple(range(2500, 9600, 100)))
    camera = replace(camera, menu=menu)
    decided = decide(replace(setup, camera=camera))
    assert decided.dial.kelvin == 2500.0
    assert any(note.code == "off-menu-kelvin" for note in decided.notes)
    assert decided.positions[0].cast.mired.value > 50


def test_wish_beyond_the_locus_is_bounded_and_said() -> None:
    setup = make_setup([[100.0]], ("D65",))
    wish = replace(setup, positions=(replace(setup.positions[0], intent=Intent(mired=300.0)),))
    decided = decide(wish)
    assert decided.exact.kelvin.value == pytest.approx(25000.0)
    assert any(note.code == "off-locus" for note in decided.notes)


def test_dark_position_is_said_and_does_not_count() -> None:
    decided = decide(make_setup([[100.0, 0.0], [0.0, 0.0]], ("A", "D65")))
    assert decided.positions[1].trouble == "no light here"
    assert decided.positions[1].t_stop.value == 0.0
    assert decided.exact.mired.value == pytest.approx(1e6 / 2855.5, abs=1.0)


def test_lut_carries_a_grey_from_the_dial_to_neutral() -> None:
    setup = make_setup([[0.0, 100.0, 0.0]], shot_at=Setting(5600.0, 0.0))
    decided = decide_with_lut(setup)
    assert decided.lut is not None
    from wbplan.lut.correction import Shot, find_surface_rgb

    power = find_position_lux(setup) @ find_source_power(setup)
    grey = find_surface_rgb(
        Shot(view_camera(setup.camera), setup.encoding, (decided.dial.mired, decided.dial.tint_cc)),
        power,
        np.full((1, 401), 0.18),
    )[0]
    before = setup.encoding.encode(grey)
    after = read_tetrahedral(parse_cube(decided.lut.file.data.decode()), before)
    assert np.ptp(before) > 0.02
    assert np.ptp(after) * 1023 < 1.5  # ten-bit codes


@pytest.mark.parametrize("keep", ["green", "no_clip"])
def test_level_kept_is_the_one_asked_for(keep: str) -> None:
    decided = decide_with_lut(
        make_setup([[0.0, 100.0, 0.0]], shot_at=Setting(5600.0, 0.0), keep=keep)
    )
    assert decided.lut is not None
    if keep == "green":
        assert decided.lut.file.recipe.cost_stops == 0.0
    else:
        assert decided.lut.file.recipe.cost_stops > 0.0
        white = decided.lut.file.matrix @ np.ones(3)
        assert white.max() <= 1.0 + 0.2  # channel gains are at most 1, the matrix mixes them


def test_plans_are_pure() -> None:
    setup = make_setup([[100.0, 300.0, 20.0]])
    one, two = decide_with_lut(setup), decide_with_lut(setup)
    assert one.exact == two.exact
    assert one.positions[0].cast == two.positions[0].cast
    assert one.lut is not None
    assert two.lut is not None
    assert one.lut.file.data == two.lut.file.data


def test_a_wider_band_is_wider_and_holds_the_narrow_one() -> None:
    setup = make_setup([[0.0, 100.0, 0.0]])
    narrow, wide = (decide(replace(setup, band_share=share)).exact.mired for share in (0.5, 0.99))
    assert wide.low < narrow.low < narrow.value < narrow.high < wide.high
    assert narrow.value == wide.value
