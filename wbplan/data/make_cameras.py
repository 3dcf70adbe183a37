"""Make the sensitivity tables of the measured profiles from the data that colour-science carries.

Run ``python -m wbplan.data.make_cameras FOLDER`` with the folder of the camera profiles. The
library lists a filter-array camera and a layered-sensor camera, both measured at NPL (Darrodi,
Finlayson, Goodman and Mackiewicz 2015, doi:10.1364/JOSAA.32.000381), at 5 and at 10 nm. They
are brought to 1 nm as any spectrum is, so that reading a profile need not interpolate.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

import numpy as np

from wbplan.light.spectrum import WAVELENGTHS_NM, resample

_FILES = {5.0: "cfa-measured.csv", 10.0: "layered-measured.csv"}


def main(folder: Path) -> None:
    """Write both tables into a folder."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    for curves in colour.MSDS_CAMERA_SENSITIVITIES.values():
        values, _ = resample(curves.wavelengths, curves.values)
        inside = (curves.wavelengths[0] <= WAVELENGTHS_NM) & (
            curves.wavelengths[-1] >= WAVELENGTHS_NM
        )
        rows = np.column_stack([WAVELENGTHS_NM, values])[inside]
        np.savetxt(
            folder / _FILES[curves.shape.interval],
            rows,
            fmt=["%.0f", "%.6f", "%.6f", "%.6f"],
            delimiter=",",
            header="wavelength_nm,red,green,blue",
            comments="",
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
