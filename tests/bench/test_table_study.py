"""What brings a 33-node table under one ten-bit code: a study that prints and asserts nothing.

Run with ``python -m pytest tests/bench/test_table_study.py --benchmark-only -s -o addopts=""``.
The correction is a strong one, 5600 K to 3200 K with 3 CC of magenta, through the measured
filter-array camera. Colours that a table or a shaper is fitted on and colours that it is tried on
are every other published surface, a sixth of a stop apart. Compared, by the worst error of either
way of reading and, in brackets, the tetrahedral mean, at 33 nodes:

- sampled: nodes as the exact transform has them, green kept;
- normalised: the same with the largest gain 1;
- shaper: nodes of the normalised table moved to where the curve bends (a 1D table before the cube),
  spread by the square root of the second derivative, evened by a floor;
- fitted: least squares over random points of the cells that colours touch, green kept;
- fitted, normalised: both;
- on colours: least squares on the colours themselves, green kept: overfitted.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import Cube, read_tetrahedral, read_trilinear
from wbplan.core.tables import load_table
from wbplan.light.illuminants import radiate_locus
from wbplan.lut.bake import (
    LinearCorrection,
    bake_lut,
    find_lowest_node,
    measure_lut,
    measure_readers,
    scene_codes,
)
from wbplan.lut.correction import Shot, find_correction_matrix, find_surface_rgb
from wbplan.lut.fit import fit_table
from wbplan.lut.recipes import view_plainly
from wbplan.read.catalogue import find_camera

GAMUTS = {
    "ACEScc": "ACEScg",
    "ACEScct": "ACEScg",
    "Apple Log Profile": "ITU-R BT.2020",
    "ARRI LogC3": "ARRI Wide Gamut 3",
    "ARRI LogC4": "ARRI Wide Gamut 4",
    "Blackmagic Film Generation 5": "Blackmagic Wide Gamut",
    "Canon Log 2": "Cinema Gamut",
    "Canon Log 3": "Cinema Gamut",
    "D-Log": "DJI D-Gamut",
    "DaVinci Intermediate": "DaVinci Wide Gamut",
    "F-Log": "F-Gamut",
    "F-Log2": "F-Gamut",
    "L-Log": "ITU-R BT.2020",
    "Log3G10": "REDWideGamutRGB",
    "N-Log": "N-Gamut",
    "S-Log2": "S-Gamut",
    "S-Log3": "S-Gamut3.Cine",
    "V-Log": "V-Gamut",
}
SHOT_AT, WANTED = (1e6 / 5600, 0.0), (1e6 / 3200, 3.0)
SIZE = 33


@pytest.fixture(scope="module")
def camera():
    return view_plainly(find_camera("nikon-d5100", Path()))


def make_case(camera, curve, keep):
    encoding = find_encoding(curve, GAMUTS[curve])
    shot = Shot(camera, encoding, SHOT_AT, keep)
    matrix, _ = find_correction_matrix(shot, WANTED)
    lights = radiate_locus(np.array([3200.0, 4500.0, 6500.0]))
    surfaces = np.concatenate([load_table("samples"), load_table("chart")])

    def make_codes(rows, stops):
        rgb = find_surface_rgb(shot, lights, surfaces[rows]).reshape(-1, 3)
        return scene_codes(encoding, rgb * 2**stops)

    correction = LinearCorrection(encoding, matrix)
    return correction, make_codes(slice(0, None, 2), 0.0), make_codes(slice(1, None, 2), 1 / 6)


def shape(correction, size, floor):
    """Place nodes by the bend of the curve under the gains at hand."""
    encoding = correction.encoding
    x = np.linspace(0.0, 1.0, 8193)
    light = encoding.decode(x)
    gains = correction.matrix.sum(axis=1)
    bend = np.zeros(len(x))
    window = int(8192 / size * 0.6)
    kernel = np.hanning(2 * window + 1)
    kernel /= kernel.sum()
    for gain in np.linspace(gains.min(), gains.max(), 9):
        second = np.abs(np.gradient(np.gradient(encoding.encode(gain * light), x), x))
        second = np.minimum(second, 5 * np.quantile(second, 0.999))
        bend = np.maximum(bend, np.convolve(np.pad(second, window, mode="edge"), kernel, "valid"))
    density = np.sqrt(bend)
    density = density / density.mean() + floor
    total = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    return np.interp(np.linspace(0, 1, size), total / total[-1], x)


def measure_shaped(correction, codes, size, floor):
    nodes = shape(correction, size, floor)
    light = correction.encoding.decode(nodes)
    red, green, blue = correction.matrix.T[:, None] * light[:, None]
    table = correction.encoding.encode(red[:, None, None] + green[:, None] + blue)
    cube = Cube(np.maximum(table, find_lowest_node(correction.encoding)))
    even = np.linspace(0.0, 1.0, size)

    def through(read):
        return lambda rgb: read(cube, np.interp(rgb, nodes, even))

    readers = (through(read_trilinear), through(read_tetrahedral))
    return measure_readers(readers, correction, codes)


def fit_on_colours(correction, codes, size, monkeypatch):
    from wbplan.lut import fit as fittedlut

    def keep_inside(correction, codes, size):
        before = correction.encoding.decode(codes)
        after = before @ correction.matrix.T
        return codes[(np.minimum(before, after) >= 0).all(axis=-1)]

    with monkeypatch.context() as patch:
        patch.setattr(fittedlut, "_draw_points", keep_inside)
        patch.setattr(fittedlut, "_RIDGE", 1e-3)
        return fit_table(correction, codes, size)


def test_print_the_study(camera, monkeypatch, benchmark, capsys):
    def work():
        rows = []
        for curve in GAMUTS:
            green, fit_codes, codes = make_case(camera, curve, "green")
            level, _, _ = make_case(camera, curve, "no_clip")
            tables = (
                bake_lut(green, SIZE),
                bake_lut(level, SIZE),
                Cube(fit_table(green, fit_codes, SIZE)),
                Cube(fit_table(level, fit_codes, SIZE)),
                Cube(fit_on_colours(green, fit_codes, SIZE, monkeypatch)),
            )
            errors = [
                measure_lut(table, correction, codes)
                for table, correction in zip(
                    tables, (green, level, green, level, green), strict=True
                )
            ]
            shaped = [measure_shaped(level, codes, SIZE, floor) for floor in (8.0, 4.0, 2.0)]
            errors.insert(2, min(shaped, key=lambda each: each.worst_codes))
            fine = measure_lut(bake_lut(green, 65), green, codes)
            rows.append((curve, [*errors, fine]))
        return rows

    rows = benchmark.pedantic(work, rounds=1, iterations=1)
    names = ["sampled", "normalised", "shaper", "fitted", "fitted+norm", "on colours", "65 sampled"]
    with capsys.disabled():
        print(f"\n{'worst code (mean)':30s}" + "".join(f"{name:>15s}" for name in names))
        for curve, errors in rows:
            cells = [f"{e.worst_codes:.2f} ({e.tetrahedral.mean_codes:.3f})" for e in errors]
            print(f"{curve:30s}" + "".join(f"{cell:>15s}" for cell in cells))
        for column, name in enumerate(names):
            under = sum(errors[column].worst_codes < 1.0 for _, errors in rows)
            print(f"under one code: {name}: {under} of {len(rows)} curves")
