"""What share of outside figures the bands of sun and sky hold, by kind.

None of these had a part in making the model; TUV and Singapore had one in its bands. The sizes in
`sky.model_error` were set to hold them (the sky's colour by TUV, the levels under 10 degrees by
TUV, those of the beam by the clear sky at Singapore), so of these it says that the bands are wide
enough, not that they were foretold; libRadtran is the judge that had no part in either. TUV and
libRadtran by the data of photobiologySun 0.5 (GPL; figures worked out from its spectra, which end
at 700 and 800 nm): usual air of temperate places.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.sky.clear import Air, ClearSky, light_by_sky, light_by_sun, model_clear_sky, spread_air
from wbplan.sky.dome import FLAT, Facing
from wbplan.sky.model_error import spread_errors
from wbplan.sky.sun_position import SunPosition

pytest.importorskip("pvlib")

# Elevation: lux and mired of all, of the beam on flat ground, of the sky.
TUV = {
    70: (116152, 169.8, 102358, 184.0, 13795, 74.7),
    60: (106155, 170.2, 92704, 185.5, 13449, 75.1),
    50: (92567, 170.9, 79663, 188.0, 12902, 75.8),
    45: (84597, 171.3, 72019, 189.8, 12578, 76.2),
    40: (75890, 171.9, 63721, 192.2, 12170, 76.9),
    35: (66546, 172.5, 54860, 195.2, 11686, 77.7),
    30: (56658, 173.4, 45548, 199.4, 11110, 78.9),
    25: (46339, 174.5, 35927, 205.2, 10412, 80.8),
    20: (35738, 175.7, 26197, 213.9, 9541, 83.7),
    15: (25084, 176.8, 16685, 228.1, 8398, 88.6),
    12: (18813, 176.9, 11323, 241.8, 7490, 93.1),
    10: (14806, 176.2, 8028, 255.1, 6778, 97.2),
    7: (9204, 171.7, 3793, 287.3, 5411, 105.4),
    5: (5961, 163.1, 1697, 326.3, 4263, 112.2),
    4: (4562, 155.5, 948, 356.9, 3614, 115.7),
    3: (3352, 145.3, 426, 401.3, 2926, 118.6),
    2: (2354, 132.9, 129, 469.7, 2225, 120.0),
}
# All on flat ground, by the hour of a May day: elevation, lux, mired.
LIBRADTRAN = (
    (7.22, 7717, 158.7),
    (13.951, 20381, 171.7),
    (21.14, 35111, 172.7),
    (28.438, 49890, 172.3),
    (35.443, 63331, 171.7),
    (41.655, 74383, 171.3),
    (46.445, 82232, 171.1),
    (49.113, 86326, 171.0),
    (49.148, 86378, 171.0),
    (46.543, 82386, 171.1),
    (41.802, 74639, 171.4),
    (35.624, 63665, 171.7),
    (28.642, 50292, 172.3),
    (21.36, 35562, 172.7),
    (14.181, 20844, 171.8),
    (7.455, 8110, 159.9),
)
Light = Callable[[ClearSky], np.ndarray]


def light_all(sky: ClearSky) -> np.ndarray:
    return light_by_sun(sky, FLAT) + light_by_sky(sky, FLAT)


def hold(elevation: float, light: Light, lux: float, mired: float) -> tuple[bool, bool]:
    """Tell whether the bands of 90 % of level and colour hold a figure."""
    sun = SunPosition(np.array([elevation]), np.array([180.0]), np.array([140]))
    power = light(model_clear_sky(sun, spread_air(Air()), 101325.0, spread_errors(128)))[:, 0]
    levels, colours = find_illuminance_lux(power), 1e6 / find_cct_duv(power)[:, 0]
    ends = (np.quantile(each, [0.05, 0.95]) for each in (levels, np.nan_to_num(colours)))
    held = [low <= seen <= high for (low, high), seen in zip(ends, (lux, mired), strict=True)]
    return held[0], held[1]


KINDS: dict[str, tuple[Light, list[tuple[float, float, float]]]] = {
    "beam": (
        lambda sky: light_by_sun(sky, FLAT),
        [(h, row[2], row[3]) for h, row in TUV.items() if h >= 10],
    ),
    "flat": (
        light_all,
        [(h, row[0], row[1]) for h, row in TUV.items() if h >= 10]
        + [each for each in LIBRADTRAN if each[0] >= 10],
    ),
    "sky": (
        lambda sky: light_by_sky(sky, FLAT),
        [(h, row[4], row[5]) for h, row in TUV.items() if h >= 10],
    ),
    "low sun": (
        light_all,
        [(h, row[0], row[1]) for h, row in TUV.items() if h < 10]
        + [each for each in LIBRADTRAN if each[0] < 10],
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_bands_hold_other_models(kind: str) -> None:
    """At least 85 % of level and of colour. These are clean, usual airs: in the middle of what is
    spread, so more than 90 % is to be expected; measured skies are in the tests beside.
    """
    light, cases = KINDS[kind]
    held = np.array([hold(h, light, lux, mired) for h, lux, mired in cases])
    assert (held.mean(axis=0) >= 0.85).all()


def test_a_measured_clear_sky_lies_in_the_band() -> None:
    """Singapore, 28 July 2018, 15:11 (Balakrishnan 2019): 5811 K, 87 261 lux, sun at 56 degrees."""
    assert hold(55.9, light_all, 87261, 1e6 / 5811) == (True, True)


def test_bands_are_no_wider_than_they_have_to_be() -> None:
    """Flat ground under a high sun: under 16 mired and half a stop from end to end."""
    sun = SunPosition(np.array([45.0]), np.array([180.0]), np.array([140]))
    power = light_all(model_clear_sky(sun, spread_air(Air()), 101325.0, spread_errors(128)))[:, 0]
    low, high = np.quantile(1e6 / find_cct_duv(power)[:, 0], [0.05, 0.95])
    assert 4 < high - low < 16
    low, high = np.quantile(np.log2(find_illuminance_lux(power)), [0.05, 0.95])
    assert 0.15 < high - low < 0.5


def test_light_away_from_the_sun() -> None:
    """Illuminance of an upright face away from a sun at 45 degrees: 12.9 to 16.8 klx with the
    ground (from spectral skies, worked out for this project); the band meets all of that range.
    """
    sun = SunPosition(np.array([45.0]), np.array([180.0]), np.array([140]))
    sky = model_clear_sky(sun, spread_air(Air()), 101325.0, spread_errors(128))
    low, high = np.quantile(
        find_illuminance_lux(light_by_sky(sky, Facing(90.0, 0.0))), [0.05, 0.95]
    )
    assert low < 12900
    assert high > 16800
