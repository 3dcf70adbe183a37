"""Figures of others to judge the bands of sun and sky by, and which share of them a band holds.

None had a part in the model of clear light. Those marked as fitted set the sizes in
`sky.model_error`; the others judge them. ``python -m tests.bench.band_table`` prints the table.

- TUV (Madronich) and libRadtran, by the data of photobiologySun 0.5 (GPL; figures worked out from
  its spectra, which end at 700 and 800 nm). TUV: every other angle is fitted. libRadtran: a May day
  is fitted; clear hours of three days in June 2010 and two in August 2014 judge, those with 97 % of
  the most light that any hour of the series has at that height.
- Photosynthetic photons at Helsinki, whole and diffuse (same data, one instrument, good to some
  10 %): means over half hours that were steady around a clear sky's course (0.05 stop, 0.1 of the
  diffuse; under 10 degrees twice that), no level asked. 2015 is fitted, every third half hour of
  seven days; 2023 judges, every second of two days.
- Clear sky and sun: IES 1984 (J. IES 13, 381-392), 127.5 exp(-0.21 m) klx and 0.8 + 15.5 sqrt(sin
  h) klx. Singapore, 28 July 2018 (Balakrishnan 2019, open data `equatorialskies`).
  ASTM G173-03: the beam, and all on its plane, tilted 37 degrees.
- Low sun, judging: the skies at Singapore and the city spectra of Spitschan 2016, as in
  `test_twilight`.
- Upright faces away from the sun (90 to 180 degrees), as shares of flat sky light. Fitted: the
  published skies of `test_pattern` with the sun at 45 degrees; judging: those at 15, and the models
  of Perez 1990 and of Driesse and others 2024 as pvlib has them.
- Broken cloud is judged in `test_broken`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pvlib

from tests.sky.test_pattern import PUBLISHED, SPECTRAL
from tests.sky.test_twilight import CITY
from tests.sky.test_twilight import SINGAPORE as TWILIGHT
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux
from wbplan.sky.clear import Air, light_by_sky, light_by_sun, model_clear_sky, spread_air
from wbplan.sky.dome import FLAT, Facing
from wbplan.sky.model_error import scale_errors, spread_errors
from wbplan.sky.pattern import find_pattern_shares, mix_patterns
from wbplan.sky.sun_position import SunPosition, find_refraction_deg, find_sun

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
# All on flat ground, by the hour: elevation, lux, mired.
LIBRADTRAN_MAY = (
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
LIBRADTRAN_CLEAR = (
    (16.6, 25063, 173.2),
    (23.9, 39851, 173.2),
    (31.3, 54555, 172.6),
    (45.0, 78873, 171.5),
    (50.0, 86666, 171.3),
    (52.8, 90764, 171.2),
    (38.5, 68435, 171.9),
    (9.9, 12372, 168.3),
    (4.1, 2971, 126.1),
    (9.9, 12124, 169.5),
    (16.6, 25387, 174.2),
    (23.9, 40202, 173.9),
    (44.9, 79174, 171.9),
    (50.0, 86934, 171.7),
    (52.8, 90973, 171.5),
    (38.5, 68447, 172.4),
    (31.3, 55150, 173.1),
    (4.1, 2934, 128.5),
    (40.9, 73774, 172.5),
    (40.5, 73238, 172.5),
)
# Elevation, whole and diffuse photons [umol m-2 s-1], 400 to 700 nm.
HELSINKI_2015 = (
    (10.4, 265, 112),
    (20.4, 621, 139),
    (30.6, 1023, 170),
    (38.3, 1237, 216),
    (41.6, 1396, 201),
    (39.3, 1315, 220),
    (32.2, 1063, 184),
    (22.3, 693, 158),
    (11.3, 303, 116),
    (16.5, 476, 136),
    (27.1, 888, 167),
    (35.8, 1155, 217),
    (40.7, 1384, 202),
    (40.4, 1371, 217),
    (34.7, 1156, 195),
    (25.5, 817, 176),
    (14.7, 429, 136),
    (23.9, 745, 190),
    (33.0, 1060, 252),
    (39.3, 1287, 253),
    (40.7, 1394, 250),
    (36.7, 1248, 218),
    (28.5, 918, 211),
    (18.0, 518, 179),
    (7.1, 138, 92),
    (34.1, 1134, 347),
    (10.1, 277, 119),
    (28.0, 885, 191),
    (14.4, 412, 129),
    (25.2, 836, 163),
    (33.4, 1087, 224),
    (38.0, 1254, 213),
    (14.2, 414, 138),
)
HELSINKI_2023 = (
    (10.7, 295, 134),
    (32.6, 1076, 224),
    (38.7, 1297, 245),
    (49.2, 1670, 389),
    (19.9, 627, 202),
    (13.3, 359, 135),
    (7.1, 156, 97),
    (14.2, 423, 158),
    (21.3, 668, 196),
    (28.8, 941, 219),
    (36.0, 1200, 237),
    (43.4, 1453, 338),
    (47.8, 1603, 344),
    (51.2, 1702, 298),
    (51.6, 1723, 339),
    (49.3, 1664, 313),
    (44.3, 1518, 260),
    (38.5, 1319, 238),
    (31.4, 1066, 238),
    (24.0, 775, 202),
    (16.7, 481, 157),
    (9.8, 252, 109),
)
_UMOL_PER_JOULE_NM = 8.359e-3  # 1e-3 / (Avogadro h c)


class Case(NamedTuple):
    """A figure: kind, which light on flat ground or on G173's plane, unit, who says so."""

    kind: str
    light: str
    unit: str
    elevation_deg: float
    day: int
    figure: float
    source: str
    fitted: bool


def list_cases() -> list[Case]:
    """List all figures of light on flat ground."""
    cases: list[Case] = []

    def add(
        kind: str,
        light: str,
        at: tuple[float, int],
        lux: float,
        mired: float,
        who: tuple[str, bool],
    ) -> None:
        kind = "low sun" if at[0] < 10 else kind
        cases.append(Case(kind, light, "lux", *at, lux, *who))
        if mired:
            cases.append(Case(kind, light, "mired", *at, mired, *who))

    for row, (height, said) in enumerate(sorted(TUV.items())):
        who, at = ("TUV", row % 2 == 0), (float(height), 140)
        add("flat", "flat", at, said[0], said[1], who)
        if height >= 10:
            add("beam", "beam", at, said[2], said[3], who)
            add("sky", "sky", at, said[4], said[5], who)
    for height, lux, mired in LIBRADTRAN_MAY:
        add("flat", "flat", (height, 140), lux, mired, ("libRadtran, May", True))
    for height, lux, mired in LIBRADTRAN_CLEAR:
        add("flat", "flat", (height, 174), lux, mired, ("libRadtran, clear hours", False))
    for year, rows in (("2015", HELSINKI_2015), ("2023", HELSINKI_2023)):
        who = (f"Helsinki {year}", year == "2015")
        for height, whole, diffuse in rows:
            for light, figure in (("flat", whole), ("beam", whole - diffuse), ("sky", diffuse)):
                kind = light if height >= 10 else "low sun"
                if kind != "low sun" or light == "flat":
                    cases.append(Case(kind, light, "umol", height, 220, float(figure), *who))
    for height in (12.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0):
        up = np.sin(np.radians(height))
        who = ("IES 1984", False)
        add("beam", "beam", (height, 94), 127500 * np.exp(-0.21 / up) * up, 0.0, who)
        add("sky", "sky", (height, 94), 1000 * (0.8 + 15.5 * np.sqrt(up)), 0.0, who)
    add("flat", "flat", (55.9, 209), 87261.0, 1e6 / 5811, ("Singapore", False))
    for column, light, share in (
        ("direct", "beam", np.sin(np.radians(41.764))),
        ("global", "plane", 1),
    ):
        said = pvlib.spectrum.get_reference_spectra(standard="ASTM G173-03")[column]
        power = said.loc[WAVELENGTHS_NM].to_numpy()
        figures = float(find_illuminance_lux(power)) * share, 1e6 / float(find_cct_duv(power)[0])
        add("beam" if share < 1 else "flat", light, (41.764, 94), *figures, ("ASTM G173", False))
    for clock, kelvin, lux in TWILIGHT:
        seconds = np.datetime64(clock).astype("datetime64[s]").astype(float) - 8 * 3600
        seen = float(find_sun([seconds], 1.341, 103.963, 15.0).elevation_deg[0])
        add("low sun", "flat", (seen, 350), lux, 1e6 / kelvin, ("Singapore", False))
    for true, mired, *_ in CITY:
        seen = true + float(find_refraction_deg(true))
        cases.append(Case("low sun", "flat", "mired", seen, 80, mired, "Spitschan, city", False))
    return cases


def find_held(cases: list[Case]) -> np.ndarray:
    """Tell of each figure where it lies: -1 under the band of 90 %, 0 in it, 1 over it."""
    suns = np.array([(each.elevation_deg, each.day) for each in cases])
    known, place = np.unique(suns, axis=0, return_inverse=True)
    sun = SunPosition(known[:, 0], np.full(len(known), 180.0), known[:, 1].astype(int))
    sky = model_clear_sky(sun, spread_air(Air()), 101325.0, spread_errors(128))
    beam, rest = light_by_sun(sky, FLAT), light_by_sky(sky, FLAT)
    photons = np.where((WAVELENGTHS_NM >= 400) & (WAVELENGTHS_NM <= 700), WAVELENGTHS_NM, 0.0)
    find = {
        "lux": find_illuminance_lux,
        "umol": lambda power: power @ photons * _UMOL_PER_JOULE_NM,
        "mired": lambda power: np.nan_to_num(1e6 / find_cct_duv(power)[..., 0]),
    }
    found = np.zeros(len(cases), dtype=int)
    lights = {"beam": beam, "sky": rest, "flat": beam + rest}
    if any(each.light == "plane" for each in cases):
        plane = Facing(37.0, 180.0)
        lights["plane"] = light_by_sun(sky, plane) + light_by_sky(sky, plane)
    for light, power in lights.items():
        for unit, work_out in find.items():
            mine = [n for n, each in enumerate(cases) if (each.light, each.unit) == (light, unit)]
            if mine:
                drawn = work_out(power[:, np.ravel(place)[mine]])
                low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
                figure = np.array([cases[n].figure for n in mine])
                found[mine] = (figure > high).astype(int) - (figure < low)
    return found


def judge_faces() -> list[tuple[str, bool, int]]:
    """List who says so of upright faces away from the sun, whether fitted, and where it lies."""
    shape = scale_errors(spread_errors(128), np.array([45.0])).shape
    found = []

    def add(who: str, fitted: bool, height: float, turn: float, figure: float) -> None:
        facing = Facing(90.0, (100.0 + turn) % 360.0)
        shares = find_pattern_shares(np.array([height]), np.array([100.0]), facing).level
        low, high = np.quantile(mix_patterns(shares, shape), [0.05, 0.95])
        found.append((who, fitted, int(figure > high) - int(figure < low)))

    for height, tables in PUBLISHED.items():
        spectral = list(zip(*SPECTRAL[height], strict=True))
        names = ("CIE 12", "CIE 13", "Perez 1993", "spectral sky", "spectral sky")
        for who, said in zip(names, (*tables, *spectral), strict=True):
            for row in (1, 2):
                add(who, height == 45.0, height, 90.0 * row, said[row])
    for who, model in (("Perez 1990", "perez"), ("Driesse 2024", "perez_driesse")):
        for height in (15.0, 25.0, 35.0, 45.0, 55.0, 65.0):
            for turn in (90.0, 112.5, 135.0, 157.5, 180.0):
                mass = 1 / np.sin(np.radians(height))
                sent = 850.0 * 0.9 ** (mass - 1)  # broadband, clear, haze of 0.1, sky 90
                find = getattr(pvlib.irradiance, model)
                face = (90.0, 100.0 + turn, 90.0, sent, 1367.0, 90.0 - height, 100.0, mass)
                add(who, False, height, turn, float(find(*face)) / 90.0)
    return found


def list_directions_of(rows: int, columns: int) -> tuple[np.ndarray, np.ndarray]:
    """List where the pixels of a lat-long look, (rows, columns, 3), and their solid angles [sr].

    As the documentation of OpenEXR has it: the left edge is longitude pi, the top latitude pi/2;
    longitude 0 looks along z, pi/2 along x, latitude pi/2 along y.
    """
    longitude = np.pi - 2 * np.pi * (np.arange(columns) + 0.5) / columns
    latitude = np.pi / 2 - np.pi * (np.arange(rows) + 0.5) / rows
    up, around = np.meshgrid(latitude, longitude, indexing="ij")
    ways = np.stack([np.cos(up) * np.sin(around), np.sin(up), np.cos(up) * np.cos(around)], axis=-1)
    return ways, np.cos(up) * (np.pi / rows) * (2 * np.pi / columns)
