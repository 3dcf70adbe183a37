"""Light by position against sums over wavelengths, and colours against colour-science."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from tests.shared import decide, make_kitchen
from wbplan.camera.setting import view_camera
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.aces import AP1_LUMINANCE
from wbplan.planning.plate.values import PlateView
from wbplan.planning.plate.view import view_plate
from wbplan.scene.setup import find_source_power


def middle(channels: Channels | None) -> np.ndarray:
    assert channels is not None
    return np.array([each.value for each in channels])


@pytest.fixture(scope="module")
def view(kitchen: SetupPlan) -> PlateView:
    return view_plate(kitchen, view_camera(kitchen.setup.camera))


def test_raw_is_the_sum_over_wavelengths(kitchen: SetupPlan, view: PlateView) -> None:
    """raw = sum of E(l) s(l), nanometre by nanometre, over the key's green times 0.18."""
    setup = kitchen.setup
    power, curves = find_source_power(setup), setup.camera.sensitivities
    raw = np.array([[(each * curve).sum() for curve in curves.T] for each in power])
    lux = np.array([each.lux for each in setup.positions]) * [each.on for each in setup.sources]
    key = (lux[0] @ raw)[1]
    rows = {each.name: n for n, each in enumerate(setup.positions)}
    lights = {each.name: n for n, each in enumerate(setup.sources)}
    assert len(view.levels.at_places) == (lux > 0).sum()
    for each in view.levels.at_places:
        row, number = rows[each.position], lights[each.light]
        expected = 0.18 * lux[row, number] * raw[number] / key
        assert middle(each.raw) == pytest.approx(expected, rel=1e-9)
    for ratio in view.levels.key_to_fill:
        row, number = rows[ratio.position], lights[ratio.main]
        here = lux[row][:, None] * raw
        assert number == here[:, 1].argmax()
        if ratio.stops is None:
            assert (lux[row] > 0).sum() == 1
        else:
            rest = here.sum(axis=0) - here[number]
            assert middle(ratio.stops) == pytest.approx(np.log2(here[number] / rest), abs=1e-9)
            for one in ratio.stops:
                assert one.low <= one.value <= one.high


def test_acescg_adds_up_to_the_grey(view: PlateView, colour: ModuleType) -> None:
    """To the AP0 of the position, by colour-science 0.4's matrix from AP0 to ACEScg."""
    to_ap1 = colour.matrix_RGB_to_RGB(
        colour.RGB_COLOURSPACES["ACES2065-1"], colour.RGB_COLOURSPACES["ACEScg"], None
    )
    for place in view.positions[:4]:
        total = sum(
            middle(each.acescg) for each in view.levels.at_places if each.position == place.name
        )
        assert total == pytest.approx(to_ap1 @ middle(place.ap0), rel=2e-4, abs=1e-6)
    luminance = colour.RGB_COLOURSPACES["ACEScg"].matrix_RGB_to_XYZ[1]
    assert pytest.approx(luminance, abs=1e-4) == AP1_LUMINANCE


def test_what_is_dialled_gives_the_grey_back(view: PlateView, colour: ModuleType) -> None:
    """White at 0 for the main light, colour times two to the exposure for each other."""
    at_key = {each.light: each for each in view.levels.at_places if each.position == "face"}
    to_ap1 = colour.matrix_RGB_to_RGB(
        colour.RGB_COLOURSPACES["ACES2065-1"], colour.RGB_COLOURSPACES["ACEScg"], None
    )
    main = view.levels.dials[0].against
    assert {each.against for each in view.levels.dials} == {main}
    observed = {
        each.name: each.lux[0] * to_ap1 @ np.array(each.eye_per_lux) for each in view.lights
    }
    for each in view.levels.dials:
        if each.light not in at_key:
            assert each.camera is None or each.camera.exposure_stops is None
            continue
        assert each.camera is not None
        assert each.eye is not None
        assert each.camera.exposure_stops is not None
        assert each.eye.exposure_stops is not None
        dialled = np.array(each.camera.colour) * 2.0**each.camera.exposure_stops
        theirs = middle(at_key[each.light].acescg) / middle(at_key[main].acescg)
        assert dialled == pytest.approx(theirs, rel=1e-9)
        assert np.array(each.camera.colour) @ AP1_LUMINANCE == pytest.approx(1.0)
        seen = np.array(each.eye.colour) * 2.0**each.eye.exposure_stops
        assert seen == pytest.approx(observed[each.light] / observed[main], rel=1e-3)
    of_main = next(each for each in view.levels.dials if each.light == main)
    assert of_main.camera is not None
    assert of_main.camera.colour == pytest.approx((1.0, 1.0, 1.0))
    assert of_main.camera.exposure_stops == pytest.approx(0.0, abs=1e-12)


def test_a_dark_key_has_none() -> None:
    setup = replace(make_kitchen(), key="cellar")
    plan = decide(setup, "x")
    levels = view_plate(plan, view_camera(setup.camera)).levels
    assert (levels.at_places, levels.key_to_fill, levels.dials) == ((), (), ())
