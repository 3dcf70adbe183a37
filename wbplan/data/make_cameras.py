"""Make the profiles of measured cameras from open data.

Run ``python -m wbplan.data.make_cameras FOLDER JSON_FOLDER``: the folder of the camera profiles,
and a folder of camera files of the Academy Software Foundation's ``rawtoaces-data`` (Apache-2.0).
Every camera becomes ``measured/MAKER-MODEL.yaml`` with its curves beside it; who measured it, when,
with what and under which licence stands in the profile. The layered sensor comes from
colour-science, measured at NPL at 10 nm (Darrodi, Finlayson, Goodman and Mackiewicz 2015,
doi:10.1364/JOSAA.32.000381).
"""

from __future__ import annotations

import json
import sys
import warnings
from pathlib import Path

import numpy as np
import yaml

from wbplan.core.names import make_safe_name
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, resample

RELEASE = "rawtoaces-data 1.1.0 of 2026-07-20"
_MENU = """\
# Nobody measured the menu: this is a plain one. Put your own camera's in its place with a file of
# three lines, title, `like: {name}` and `menu:`.
menu:
  kelvin: {{low: 1800, high: 12500, step: 50}}
  tint: {{lowest_step: -40, highest_step: 40, cc_per_step: 1, axis: green}}
base_ei: 800
encoding: {{curve: ACEScct, gamut: ACEScct}}
# What another body of this model, and another laboratory, would add.
band: model
"""


def spread_curves(wavelength_nm: Array, curves: Array) -> Array:
    """Bring sensitivities (n, 3) to the shared grid, (401, 3), by PCHIP.

    Monotone between samples, so that nothing goes below 0 or above a peak (Fritsch and Carlson
    1980, SIAM J. Numer. Anal. 17).
    """
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(wavelength_nm, curves, axis=0)(WAVELENGTHS_NM))


def write_curves(path: Path, curves: Array) -> None:
    """Write sensitivities (401, 3) as a table."""
    np.savetxt(
        path,
        np.column_stack([WAVELENGTHS_NM, curves]),
        fmt=["%.0f", "%.6f", "%.6f", "%.6f"],
        delimiter=",",
        header="wavelength_nm,red,green,blue",
        comments="",
    )


def describe_origin(header: dict[str, str | None]) -> str:
    """Say who measured a camera, when, with what, and under which licence it is passed on."""
    by = header["document_creator"]
    if header.get("laboratory") not in (None, by):
        by = f"{by}, {header['laboratory']}"
    date = str(header["document_creation_date"])[:10]
    tool = header["measurement_equipment"]
    return (
        f"One body of the {header['manufacturer']} {header['model']}, measured by {by}, file dated "
        f"{date}, equipment {tool or 'not stated'}; Academy Software Foundation, {RELEASE}, "
        f"licence {header['license']}. Brought from 5 to 1 nm by PCHIP. The name says what was "
        "measured; its owner has nothing to do with wbplan."
    )


def write_measured(folder: Path, source: Path) -> None:
    """Write one camera file as a profile."""
    data = json.loads(source.read_text(encoding="utf-8"))
    header, rows = data["header"], data["spectral_data"]["data"]["main"]
    maker, model = header["manufacturer"], header["model"]
    name = make_safe_name(f"{maker} {model}")
    curves = np.array(list(rows.values()))
    write_curves(folder / f"{name}.csv", spread_curves(np.array([float(x) for x in rows]), curves))
    head = {"title": f"{maker} {model}, one body measured", "provenance": describe_origin(header)}
    text = yaml.safe_dump(head, sort_keys=False, allow_unicode=True, width=96)
    text += f"sensitivities:\n  table: {name}.csv\n  per: energy\n" + _MENU.format(name=name)
    (folder / f"{name}.yaml").write_text(text, encoding="utf-8")


def write_layered(path: Path) -> None:
    """Write the layered sensor's curves, over the range that was measured."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    (curves,) = (
        each for each in colour.MSDS_CAMERA_SENSITIVITIES.values() if each.shape.interval == 10.0
    )
    values, _ = resample(curves.wavelengths, curves.values)
    inside = (curves.wavelengths[0] <= WAVELENGTHS_NM) & (curves.wavelengths[-1] >= WAVELENGTHS_NM)
    np.savetxt(
        path,
        np.column_stack([WAVELENGTHS_NM, values])[inside],
        fmt=["%.0f", "%.6f", "%.6f", "%.6f"],
        delimiter=",",
        header="wavelength_nm,red,green,blue",
        comments="",
    )


def main(folder: Path, json_folder: Path) -> None:
    """Write all measured cameras, and the licence they are passed on under."""
    measured = folder / "measured"
    measured.mkdir(exist_ok=True)
    for source in sorted(json_folder.glob("*.json")):
        write_measured(measured, source)
    (measured / "LICENSE").write_bytes((json_folder / "LICENSE").read_bytes())
    write_layered(folder / "layered-measured.csv")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
