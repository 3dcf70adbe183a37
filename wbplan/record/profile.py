"""A learned camera as files: a profile in YAML, its curves, and the cameras of its band.

The counterpart of `read.profiles`, which reads them again. Text and CSV only, so that a person
can look at what was learned, and any other program can use it.
"""

from __future__ import annotations

import numpy as np
import yaml

from wbplan.camera.population import GRID_NM
from wbplan.camera.sensitivities import CHANNELS, Camera, Menu
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM


def make_profile_files(
    name: str,
    title: str,
    provenance: str,
    start: Camera,
    judged: str,
    sensitivities: Array,
    members: Array,
) -> dict[str, bytes]:
    """Make the files of a learned profile, by name.

    Parameters
    ----------
    name
        A safe file name without ending.
    start
        The profile the learning started from; its menu, base EI and encoding stay.
    judged
        What the frames were judged.
    sensitivities
        (401, 3).
    members
        (k, 81, 3) plausible cameras on the learning grid.
    """
    text: dict[str, object] = {
        "title": title,
        "provenance": provenance,
        "sensitivities": {"table": f"{name}.csv", "per": "energy"},
        "menu": describe_menu(start.menu),
        "base_ei": start.base_ei,
        "encoding": {"curve": start.curve, "gamut": start.gamut},
        "band": {"cameras": f"{name}-band.csv"},
        "judged": judged,
    }
    if start.matrix_kelvin:
        text["matrix_kelvin"] = list(start.matrix_kelvin)
    profile = yaml.safe_dump(text, sort_keys=False, allow_unicode=True, width=100)
    top = sensitivities.max()
    rows = np.column_stack([WAVELENGTHS_NM, sensitivities / top])
    labels = [f"{channel}_{number}" for number in range(len(members)) for channel in CHANNELS]
    many = np.column_stack([GRID_NM, np.moveaxis(members, 0, 1).reshape(GRID_NM.size, -1) / top])
    return {
        f"{name}.yaml": profile.encode("utf-8"),
        f"{name}.csv": _format_table(rows, list(CHANNELS)),
        f"{name}-band.csv": _format_table(many, labels),
    }


def _format_table(rows: Array, labels: list[str]) -> bytes:
    lines = [",".join(["wavelength_nm", *labels])]
    lines += [f"{row[0]:.0f}," + ",".join(f"{each:.6f}" for each in row[1:]) for row in rows]
    return ("\n".join(lines) + "\n").encode("ascii")


def describe_menu(menu: Menu) -> dict[str, object]:
    """Describe a menu as a profile has it."""
    described: dict[str, object] = {}
    if menu.kelvin:
        steps = np.diff(menu.kelvin)
        if steps.size and np.allclose(steps, steps[0]):
            low, high, step = menu.kelvin[0], menu.kelvin[-1], float(steps[0])
            described["kelvin"] = {"low": low, "high": high, "step": step}
        else:
            described["kelvin"] = list(menu.kelvin)
    if len(menu.tint_cc) > 1:
        described["tint"] = {
            "lowest_step": round(menu.tint_cc[0] / menu.cc_per_step),
            "highest_step": round(menu.tint_cc[-1] / menu.cc_per_step),
            "cc_per_step": menu.cc_per_step,
            "axis": menu.tint_axis,
        }
    if menu.presets:
        described["presets"] = {
            name: {"kelvin": kelvin, "magenta_cc": tint} for name, kelvin, tint in menu.presets
        }
    return described
