"""Make the table of twilight spectra from the published basis and weights.

``twilight.npz``. Run ``python -m wbplan.data.make_twilight FOLDER`` with ``B_CIE3R.csv`` and
``w_CIE3R.csv`` of the authors' data in it. The city's table is left out: it is what the tests judge
by, and below -6 degrees it is lamps.

The authors' code takes the sun of the last site on its list, so their rural spectra carry the
elevations of another city: a bin that begins at k holds the colour of the true elevation k + 2.7
(19 of the 20 ends of their table 1 fit that to 0.01 degrees; the scatter is 1.6). Their scale is
not used: levels are those of `wbplan.sky.twilight`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from wbplan.light.spectrum import WAVELENGTHS_NM, resample, scale_to_lux

_FIRST, _LAST = -12, 6  # the bins that are kept
_TRUE = 2.7


def main(folder: Path) -> None:
    """Write ``twilight.npz`` beside this file from the two tables in ``folder``."""
    basis = np.loadtxt(folder / "B_CIE3R.csv", delimiter=",")
    weights = np.genfromtxt(folder / "w_CIE3R.csv", delimiter=",")
    rows = weights[(weights[:, 0] >= _FIRST) & (weights[:, 0] <= _LAST)]
    curves = basis[:, 1:] / np.linalg.norm(basis[:, 1:], axis=0)
    spectra = curves @ rows[:, 3::2].T
    grid = resample(basis[:, 0], spectra)[0].T
    if (grid <= 0).any():
        raise ValueError("a twilight spectrum is not positive")
    place = Path(__file__).with_name("twilight.npz")
    power = scale_to_lux(grid, 1.0).astype(np.float32)
    np.savez_compressed(place, elevation_deg=rows[:, 0] + _TRUE, power=power)
    print(f"{place.name}: {len(rows)} spectra, {WAVELENGTHS_NM[0]:g} to {WAVELENGTHS_NM[-1]:g} nm")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
