"""What share of outside figures the bands of sun and sky hold, by kind.

The figures and who made them are in `tests.sky.oracles`; `tests.bench.band_table` prints the whole
table, and here is every fourth of them. Where a share is over 95 % the air alone holds as much: the
codes' airs are usual and clean, in the middle of what is spread, and there are four.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.sky.oracles import find_held, judge_faces, list_cases
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.sky.clear import Air, light_by_sky, light_by_sun, model_clear_sky, spread_air
from wbplan.sky.dome import FLAT, Facing
from wbplan.sky.model_error import spread_errors
from wbplan.sky.sun_position import SunPosition

pytest.importorskip("pvlib")
NOON = SunPosition(np.array([45.0]), np.array([180.0]), np.array([140]))


def test_bands_hold_figures_of_others() -> None:
    """85 % and more of every kind, in level and in colour, and not all of the level.

    Whole table: beam 94 and 100 %, sky 97 and 100, flat 94 and 100, low sun 91 and 92.
    """
    cases = list_cases()[::4]
    held = find_held(cases) == 0
    names = [(each.kind, each.unit == "mired") for each in cases]
    for name in sorted(set(names)):
        mine = held[[each == name for each in names]]
        assert mine.mean() >= 0.85, name
    level = held[[each.unit != "mired" for each in cases]]
    assert level.mean() < 0.98


def test_bands_hold_upright_faces_away_from_the_sun() -> None:
    """85 to 95 % of what published skies and models say, 89 %."""
    held = np.array([where == 0 for _, fitted, where in judge_faces() if not fitted])
    assert 0.85 <= held.mean() <= 0.95


def test_bands_are_no_wider_than_they_have_to_be() -> None:
    """Flat ground under a high sun: under 10 mired and a third of a stop from end to end."""
    sky = model_clear_sky(NOON, spread_air(Air()), 101325.0, spread_errors(128))
    power = (light_by_sun(sky, FLAT) + light_by_sky(sky, FLAT))[:, 0]
    low, high = np.quantile(1e6 / find_cct_duv(power)[:, 0], [0.05, 0.95])
    assert 4 < high - low < 10
    low, high = np.quantile(np.log2(find_illuminance_lux(power)), [0.05, 0.95])
    assert 0.1 < high - low < 0.33


def test_light_away_from_the_sun() -> None:
    """Illuminance of an upright face away from a sun at 45 degrees: 12.9 to 16.8 klx with the
    ground (from spectral skies, worked out for this project); the band meets all of that range.
    """
    sky = model_clear_sky(NOON, spread_air(Air()), 101325.0, spread_errors(128))
    lux = find_illuminance_lux(light_by_sky(sky, Facing(90.0, 0.0)))
    low, high = np.quantile(lux, [0.05, 0.95])
    assert low < 12900
    assert high > 16800
