"""Write reflectances.npz: published surfaces that matches between lights are scored on.

Kept apart from those that matches are fitted on. Run it again when colour-science is updated:

    python wbplan/data/make_reflectances.py
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

# CIE 13.3-1995, table 1: how its test colours look under daylight (from memory).
CIE_NAMES = (
    *("light greyish red", "dark greyish yellow", "strong yellow green"),
    *("moderate yellowish green", "light bluish green", "light blue", "light violet"),
    *("light reddish purple", "strong red", "strong yellow", "strong green", "strong blue"),
    *("light yellowish pink", "moderate olive green"),
)
GRID_NM = np.arange(380.0, 781.0)


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


if __name__ == "__main__":
    names, rows = collect_reflectances()
    target = Path(__file__).with_name("reflectances.npz")
    np.savez_compressed(target, names=np.array(names), reflectances=rows.astype(np.float32))
