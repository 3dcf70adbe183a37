"""Matches against the best matrix on fresh random pairs of cameras and of lights.

Run with ``python -m tests.bench.match_trial [pairs] [seed]``. The matrix is the one of least
CIEDE2000 by a general optimiser on the CIE's 99 samples; both are scored on 58 other surfaces (CIE
13.3, CQS 9.0, NIST skin, the chart of ISO 17321-1). Half of the pairs are lights through one
camera, half cameras under one light, drawn from all profiles but the generic ones and from all
sources that a scenario can name; every third pair has a light by sodium, mercury or three LEDs. It
prints the mean CIEDE2000 of the match over that of the matrix; within 1 % they are the same.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from tests.lut.test_match import ENCODING, fit_by_brute_force
from wbplan.camera.sensitivities import respond
from wbplan.core.tables import Array, load_scored_surfaces, load_table
from wbplan.light.delta_e import find_delta_e_2000, find_lab
from wbplan.lut.correction import find_camera_matrix
from wbplan.lut.match import View, find_light_setting, fit_colour_map
from wbplan.lut.recipes import view_plainly
from wbplan.read.catalogue import find_camera, find_source, list_cameras, list_usable_sources

_HARD = ("sodium", "mercury", "rgb")
_SAME = 1.01
_PLAUSIBLE = 0.05  # of the largest channel: less is no light that anybody would match


def compare(shot: View, wanted: View) -> tuple[float, float]:
    """Give the mean CIEDE2000 of the match and of the best matrix."""
    curves = [view.camera.profile.sensitivities for view in (shot, wanted)]
    setting = find_light_setting(wanted.camera, wanted.light)
    shown = find_camera_matrix(curves[1], ENCODING, 1e6 / setting[0])

    def balance(surfaces: Array) -> tuple[Array, Array]:
        a, b = (
            respond(surfaces * view.light, each) / respond(view.light, each)
            for view, each in zip((shot, wanted), curves, strict=True)
        )
        return a, b @ shown.T

    best = fit_by_brute_force(*balance(load_table("samples")), ENCODING)
    found = fit_colour_map(shot, wanted)
    a, b = balance(np.concatenate([load_scored_surfaces()[1], load_table("chart")]))
    white = ENCODING.rgb_to_xyz.sum(axis=1)
    goal, ours, theirs = (
        find_lab(rgb @ ENCODING.rgb_to_xyz.T, white) for rgb in (b, found.apply(a), a @ best.T)
    )
    return (
        float(find_delta_e_2000(ours, goal).mean()),
        float(find_delta_e_2000(theirs, goal).mean()),
    )


def is_plausible(view: View) -> bool:
    """Tell whether every channel sees the light."""
    seen = respond(view.light, view.camera.profile.sensitivities)
    return bool(seen.min() > _PLAUSIBLE * seen.max())


def main() -> None:
    """Print the ratios' least, middle, mean and largest, for lights and for cameras."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    generator = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 20261126)
    cameras = sorted(each for each in list_cameras() if not each.startswith("cfa-"))
    lights = [each.name for each in list_usable_sources()]
    hard = [each for each in lights if any(name in each.casefold() for name in _HARD)]
    ratios: dict[str, list[float]] = {"lights": [], "cameras": []}
    while sum(map(len, ratios.values())) < pairs:
        kind = "lights" if len(ratios["lights"]) <= len(ratios["cameras"]) else "cameras"
        one, other = (
            view_plainly(find_camera(str(name), Path()))
            for name in generator.choice(cameras, 2, replace=False)
        )
        first_name, second_name = map(str, generator.choice(lights, 2, replace=False))
        if sum(map(len, ratios.values())) % 3 == 0:
            first_name = str(generator.choice(hard))
        first, second = (find_source(name).values for name in (first_name, second_name))
        shot = View(one, first, ENCODING)
        wanted = View(one, second, ENCODING) if kind == "lights" else View(other, first, ENCODING)
        if is_plausible(shot) and is_plausible(wanted):
            ours, theirs = compare(shot, wanted)
            ratios[kind].append(ours / theirs)
            if ours > _SAME * theirs:
                names = one.profile.name, other.profile.name, first_name, second_name
                print(f"worse: {ours:.2f}, the matrix {theirs:.2f}: {names}")
    for kind, found in ratios.items():
        low, middle, high = np.percentile(found, [0, 50, 100])
        worse = sum(each > _SAME for each in found)
        print(
            f"{kind}: {len(found)} pairs, {low:.2f} to {high:.2f}, middle {middle:.2f}, "
            f"mean {np.mean(found):.2f}, {worse} worse than the matrix"
        )


if __name__ == "__main__":
    main()
