"""Broken cloud: bands made with some measured minutes, judged with others and with other skies.

Made with: the odd of 17 days at Helsinki in August and September 2015. Judged with: the even ones,
four days there in July 2023 (both by the data of photobiologySun, GPL: figures worked out from its
minutes; whole over a clear sky's photons, hours in which both states came, the sun over 10
degrees), and every intermediate sky of Singapore by day (Balakrishnan 2019, `equatorialskies`,
metadata.csv; 1 and 17 November are one file).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.read.scenario.reader import read_scenario
from wbplan.sky.broken import HIDDEN, OUT, light_by_broken_cloud, spread_clouds
from wbplan.sky.clear import (
    AIR_DRAWS,
    Air,
    light_by_sky,
    light_by_sun,
    list_air,
    model_clear_sky,
    spread_air,
)
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing, Horizon
from wbplan.sky.site import Site
from wbplan.sky.source import SkyLight, find_other_state
from wbplan.sky.sun_position import SunPosition, find_sun

pytest.importorskip("pvlib")

CLOUDS = spread_clouds(AIR_DRAWS)
# Clock UTC+8, K, lux. One is lit (its light is warmer than any cloud's and brighter than the rest).
SINGAPORE = (
    ("2016-11-21T16:20", 5739, 65943, OUT),
    ("2016-11-21T16:25", 6316, 42777, HIDDEN),
    ("2016-11-21T16:30", 6408, 35315, HIDDEN),
    ("2016-11-18T13:20", 6731, 51328, HIDDEN),
    ("2016-11-18T13:25", 6449, 59053, HIDDEN),
    ("2016-11-18T13:30", 6794, 38942, HIDDEN),
    ("2016-11-18T13:35", 6508, 54011, HIDDEN),
    ("2016-11-18T13:40", 6386, 59280, HIDDEN),
    ("2016-11-18T13:50", 6564, 29014, HIDDEN),
    ("2016-11-18T13:55", 6652, 21830, HIDDEN),
    ("2016-11-18T14:00", 6572, 22924, HIDDEN),
    ("2016-11-01T11:55", 6618, 42169, HIDDEN),
    ("2016-12-07T08:00", 6286, 13923, HIDDEN),
    ("2016-12-07T08:05", 6402, 15982, HIDDEN),
)
# The sun's median height, and 7.5, 25, 75 and 92.5 % of the minutes, of a clear sky's light.
MINUTES = {
    "even days, out, 397": (OUT, 29.4, (0.79, 0.91, 1.17, 1.27)),
    "even days, hidden, 391": (HIDDEN, 31.7, (0.22, 0.29, 0.43, 0.59)),
    "2023, out, 446": (OUT, 21.5, (0.85, 1.00, 1.17, 1.31)),
    "2023, hidden, 398": (HIDDEN, 34.7, (0.25, 0.33, 0.50, 0.60)),
}


def stand(elevation: float) -> SunPosition:
    return SunPosition(np.array([elevation]), np.array([180.0]), np.array([230]))


def test_measured_intermediate_skies_lie_in_the_band() -> None:
    """At least 12 of 14 in level, as in colour; it is 12 and 14."""
    level, colour = [], []
    for clock, kelvin, lux, state in SINGAPORE:
        seconds = np.datetime64(clock).astype("datetime64[s]").astype(float) - 8 * 3600
        sun = find_sun([seconds], 1.341, 103.963, 15.0)
        sky = model_clear_sky(sun, spread_air(Air()), 101325.0)
        power = light_by_broken_cloud(sky, CLOUDS, state, None, FLAT)[:, 0]
        low, high = np.quantile(find_illuminance_lux(power), [0.05, 0.95])
        level.append(low <= lux <= high)
        low, high = np.quantile(1e6 / find_cct_duv(power)[:, 0], [0.05, 0.95])
        colour.append(low <= 1e6 / kelvin <= high)
    assert sum(level) >= 12
    assert sum(colour) >= 12


@pytest.mark.parametrize("judge", MINUTES)
def test_bands_hold_other_minutes(judge: str) -> None:
    """The band of 90 % holds 85 % of them, at their median height, and its middle is theirs.

    Minute by minute, each at its own height, the bands hold 94, 94, 94 and 94 % (hidden on
    the odd days, which set it, 90 %).
    """
    state, height, measured = MINUTES[judge]
    sky = model_clear_sky(stand(height), spread_air(Air()), 101325.0)
    usual = model_clear_sky(stand(height), list_air(Air()), 101325.0)
    clear = find_illuminance_lux(light_by_sun(usual, FLAT) + light_by_sky(usual, FLAT))[0, 0]
    lux = find_illuminance_lux(light_by_broken_cloud(sky, CLOUDS, state, None, FLAT))[:, 0]
    low, middle, high = np.quantile(lux / clear, [0.05, 0.5, 0.95])
    assert low < measured[0]
    assert high > measured[-1]
    assert measured[1] < middle < measured[2]
    assert np.log2(high / low) < 2.7


@pytest.mark.parametrize("state", [OUT, HIDDEN])
def test_a_post_and_a_face(state: str) -> None:
    """Perez 1993, bins 2 to 6, the sun at 45 degrees: an upright face away gets 0.28 to 0.32 of
    flat sky light; a wall that hides the sun takes the beam.
    """
    sky = model_clear_sky(stand(45.0), list_air(Air(ground_albedo=0.0)), 101325.0)
    usual = np.full((1, 5), 0.5)

    def lux(facing: Facing, horizon: Horizon = FREE_VIEW) -> float:
        power = light_by_broken_cloud(sky, usual, state, None, facing, horizon)
        return float(find_illuminance_lux(power)[0, 0])

    behind = lux(FLAT, Horizon(((170.0, 0.0), (171.0, 60.0), (189.0, 60.0), (190.0, 0.0))))
    if state == HIDDEN:
        assert 0.27 < lux(Facing(90.0, 0.0)) / lux(FLAT) < 0.42
        assert 0.8 < behind / lux(FLAT) < 1.0
    else:
        assert behind < 0.5 * lux(FLAT)


def test_the_sun_comes_out_brighter_and_warmer_on_flat_ground() -> None:
    noon = np.datetime64("2026-06-21T12:00").astype("datetime64[s]").astype(float)
    site = Site("", 54.4, 4.4, 0.0, "UTC")
    stops, mired = find_other_state(SkyLight("broken_cloud", sun=OUT), site, [noon, noon + 43200])
    assert 1.0 < stops[0] < 2.0  # 1.05 over 0.38 in the middle of those minutes: 1.5
    assert 10 < mired[0] < 35  # 174 against 153 at Singapore
    assert np.isnan(stops[1])


SCENARIO = """\
wbplan: 1
title: Between clouds
camera: cfa-mid
site: {latitude_deg: 54.4, longitude_deg: 4.4, time_zone: Europe/Brussels}
sources:
  lit: {broken_cloud: {sun: out, facing: up}}
  dull: {broken_cloud: {sun: hidden, kelvin: 6200, facing: up}}
setups:
  - name: One
    when: 2026-06-21 14:30
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    positions: {face: {lux: {lit: model}}}
"""


def read(path: Path, text: str) -> tuple[str, ...]:
    path.write_text(text)
    setup = read_scenario(path).setups[0]
    notes = [*setup.notes, *(each for source in setup.sources for each in source.spectrum.notes)]
    return tuple(each.text for each in notes if each.weight == "warning")


def test_a_scenario_says_how_fast_it_changes(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    (said,) = read(path, SCENARIO)
    assert "14 of 100 readings moved by over half a stop" in said
    assert "stops brighter" in said
    both = read(path, SCENARIO.replace("{lit: model}", "{lit: model, dull: model}"))
    assert any("their mean is a light that never is" in each for each in both)
    with pytest.raises(InputError, match="out, hidden"):
        read(path, SCENARIO.replace("{sun: out, facing: up}", "{facing: up}"))
