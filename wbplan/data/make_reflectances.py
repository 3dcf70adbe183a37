"""Write reflectances.npz: published surfaces that matches between lights are scored on.

Kept apart from those that matches are fitted on. Run it again when colour-science is updated, with
the table of Cooksey, Allen and Tsai 2017, Reference data set of human skin reflectance, Journal of
Research of NIST 122, 26 (doi:10.6028/jres.122.026; data doi:10.18434/M38597, a work of the United
States government, in the public domain there; cite it):

    python -m wbplan.data.make_reflectances M38597.csv
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

import numpy as np

from wbplan.light.colorimetry import find_tristimulus
from wbplan.light.delta_e import find_lab
from wbplan.light.illuminants import radiate_daylight

# CIE 13.3-1995, table 1: how its test colours look under daylight (from memory).
CIE_NAMES = (
    *("light greyish red", "dark greyish yellow", "strong yellow green"),
    *("moderate yellowish green", "light bluish green", "light blue", "light violet"),
    *("light reddish purple", "strong red", "strong yellow", "strong green", "strong blue"),
    *("light yellowish pink", "moderate olive green"),
)
GRID_NM = np.arange(380.0, 781.0)
SKIN_NAMES = ("skin, darkest", "skin, dark", "skin, medium", "skin, light", "skin, lightest")


def collect_reflectances() -> tuple[list[str], np.ndarray]:
    """Collect names and (n, 401) reflectances at 1 nm.

    The 14 test colours of CIE 13.3-1995 and the 15 of the Color Quality Scale 9.0 (Davis and Ohno
    2010), as colour-science carries them at 5 nm, brought to 1 nm by straight lines.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.quality.datasets import SDS_TCS, SDS_VS
    names, rows = [], []
    for name, sd in zip(CIE_NAMES, SDS_TCS["CIE 1995"].values(), strict=True):
        names.append(name)
        rows.append(np.interp(GRID_NM, sd.wavelengths, sd.values))
    for number, sd in enumerate(SDS_VS["NIST CQS 9.0"].values(), 1):
        names.append(f"CQS colour {number}")
        rows.append(np.interp(GRID_NM, sd.wavelengths, sd.values))
    return names, np.array(rows)


def choose_skins(table: Path) -> np.ndarray:
    """Choose five people at even steps of CIELAB lightness under D65, from the darkest, (5, 401).

    Each row is the mean of the three readings of a person's forearm, of which the table has a
    hundred, every 3 nm from 250 to 2500 nm; brought to 1 nm by straight lines.
    """
    # wavelength, then three readings and their mean for each person
    values = np.loadtxt(table, skiprows=8, delimiter=",", usecols=range(401), encoding="latin1")
    people = np.array([np.interp(GRID_NM, values[:, 0], each) for each in values[:, 4::4].T])
    light = radiate_daylight(6504.0)
    lightness = find_lab(find_tristimulus(people * light), find_tristimulus(light))[:, 0]
    steps = np.linspace(lightness.min(), lightness.max(), len(SKIN_NAMES))
    return people[[int(np.argmin(np.abs(lightness - step))) for step in steps]]


if __name__ == "__main__":
    names, rows = collect_reflectances()
    names += SKIN_NAMES
    rows = np.concatenate([rows, choose_skins(Path(sys.argv[1]))])
    target = Path(__file__).with_name("reflectances.npz")
    np.savez_compressed(target, names=np.array(names), reflectances=rows.astype(np.float32))
