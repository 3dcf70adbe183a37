"""What a fixture can be set to: its panel's mixtures, the desk's steps, and the walk to the best.

CCT and Duv of a mixture are judged by colour-science (Ohno 2013); the walk by trying every step.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from types import ModuleType

import numpy as np
import pytest

from tests.bench.drive_trial import make_channels
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.scene.dialling import find_tint_duv, mix_at, mixes_any, read_panel, settle
from wbplan.scene.fixtures import Fixture


def make_fixture(count: int, **steps: float) -> Fixture:
    power = make_channels(np.random.default_rng(count), count)
    names = tuple(f"channel {row}" for row in range(count))
    return Fixture(names, power, np.full(count, 0.5), **steps)  # type: ignore[arg-type]


def read_by_colour(colour: ModuleType, power: np.ndarray) -> tuple[float, float]:
    """Read CCT and Duv by another implementation."""
    shape = colour.SpectralShape(WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1], 1)
    spectrum = colour.SpectralDistribution(power, shape.wavelengths)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    xyz = colour.sd_to_XYZ(spectrum, cmfs, method="Integration")
    cct, duv = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)))
    return float(cct), float(duv)


@pytest.mark.parametrize(("count", "kelvin", "tint"), [(3, 4300, -9), (4, 3200, -5), (6, 5600, 8)])
def test_a_panel_mixes_the_kelvin_and_tint_it_shows(
    colour: ModuleType, count: int, kelvin: float, tint: float
) -> None:
    fixture = make_fixture(count, kelvin_step=100, tint_step_cc=1)
    duv = float(find_tint_duv(kelvin, tint))
    drives = mix_at(fixture, kelvin, duv)
    assert drives is not None
    assert drives.max() == 1
    assert drives.min() >= 0
    cct, seen = read_by_colour(colour, drives @ fixture.power)
    assert cct == pytest.approx(kelvin, rel=1e-3)
    assert seen == pytest.approx(duv, abs=2e-5)
    assert read_panel(fixture, 0.4 * drives) == (
        replace(read_panel(fixture, drives), level=pytest.approx(0.4))  # type: ignore[type-var]
    )
    panel = read_panel(fixture, drives)
    assert panel is not None
    assert (panel.kelvin, panel.tint_cc) == (kelvin, tint)


def test_two_channels_have_one_mixture_for_a_kelvin(colour: ModuleType) -> None:
    fixture = make_fixture(2, kelvin_step=100)
    drives = mix_at(fixture, 4400, 0.0)
    assert drives is not None
    assert read_by_colour(colour, drives @ fixture.power)[0] == pytest.approx(4400, rel=1e-3)
    assert mix_at(fixture, 1700, 0.0) is None


def test_tint_is_none_on_the_reference_light_and_rises_with_green() -> None:
    duv = find_tint_duv(3200, np.array([-10.0, 0.0, 10.0]))
    assert duv[1] == pytest.approx(0, abs=1e-9)  # Planckian under 4000 K: ANSI/IES TM-30-20
    assert (np.diff(duv) > 0).all()


@pytest.mark.parametrize("count", [2, 3, 5])
def test_no_step_of_a_panel_costs_less_than_the_one_it_is_set_to(count: int) -> None:
    tint = 0.0 if count == 2 else 5.0
    fixture = make_fixture(count, kelvin_step=400, tint_step_cc=tint, drive_steps=31)
    wanted = np.random.default_rng(7).uniform(0.2, 0.9, count) @ fixture.power
    bands = wanted.reshape(-1)[:400].reshape(8, 50).sum(axis=1)

    def weigh(drives: np.ndarray) -> np.ndarray:
        seen = (drives @ fixture.power)[:, :400].reshape(-1, 8, 50).sum(axis=2)
        return (
            np.log(np.maximum(seen, 1e-9) / bands).std(axis=1)[:, None]
            + np.abs(np.log(np.maximum(seen.sum(axis=1), 1e-9) / bands.sum()))[:, None]
        )

    found = settle(fixture, np.full(count, 0.5), weigh)
    best = np.inf
    places = np.array(
        list(product(range(1600, 12001, 400), np.arange(-60, 61, 5) if tint else [0.0]))
    )
    for (kelvin, _), duv in zip(places, find_tint_duv(*places.T), strict=True):
        unit = mix_at(fixture, kelvin, float(duv))
        if unit is not None:
            levels = np.arange(1, 32)[:, None] / 31
            best = min(best, float(weigh(levels * unit).min()))
    assert float(weigh(found[None])[0, 0]) == pytest.approx(best, abs=2e-3)
    panel = read_panel(fixture, found)
    assert panel is not None
    assert panel.kelvin % 400 == 0
    assert panel.level * 31 == pytest.approx(round(panel.level * 31))


def test_channels_go_to_whole_steps_and_no_neighbour_is_better() -> None:
    fixture = make_fixture(4, drive_steps=255)
    aim = np.array([0.3333, 0.5, 0.71, 0.12])
    found = settle(fixture, aim, lambda drives: np.abs(drives - aim).sum(axis=1)[:, None])
    np.testing.assert_allclose(found * 255, np.round(aim * 255), atol=1e-9)


def test_a_fixture_without_steps_stays_and_one_colour_makes_no_white() -> None:
    drives = np.array([0.123, 0.456])
    assert settle(make_fixture(2), drives, lambda each: each[:, :1]) is drives
    amber = np.exp(-0.5 * ((WAVELENGTHS_NM - 590) / 6) ** 2)
    fixture = Fixture(("a", "b"), np.stack([amber, 2 * amber]), np.ones(2), kelvin_step=50)
    assert not mixes_any(fixture)
    assert mixes_any(make_fixture(2, kelvin_step=50))
