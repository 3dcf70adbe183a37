"""How fast lights are described, against one-at-a-time calls of colour-science.

Run with ``python -m pytest tests/bench --benchmark-only -s -o addopts=""``. Both give the
same figures; the ratio is taken within one run; nothing here asserts a time.
"""

from __future__ import annotations

import time
import warnings
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from wbplan.camera.setting import view_camera
from wbplan.core.tables import load_table
from wbplan.description.eye import see_fully
from wbplan.description.lights import describe_lights
from wbplan.light.spectrum import Reading, Spectrum
from wbplan.read.catalogue import find_camera


def make_lights(count: int) -> np.ndarray:
    """Mix measured lamps into lights that are all different."""
    lamps = load_table("sources")
    lamps = lamps[np.isfinite(lamps).all(axis=1)]
    shares = np.random.default_rng(2).dirichlet(np.ones(len(lamps)), count)
    return np.asarray(shares @ lamps)


def describe_one(colour: ModuleType, power: np.ndarray) -> None:
    """The same figures of one light by the library: colour, Ra, TM-30, similarity."""
    sd = colour.SpectralDistribution(dict(zip(range(380, 781), power, strict=True)))
    xy = colour.XYZ_to_xy(colour.sd_to_XYZ(sd))
    colour.xy_to_Luv_uv(xy)
    kelvin, _ = colour.temperature.uv_to_CCT_Ohno2013(colour.xy_to_UCS_uv(xy))
    white = np.array([1 / 3, 1 / 3])
    colour.dominant_wavelength(xy, white)
    colour.excitation_purity(xy, white)
    colour.quality.colour_rendering_index(sd, additional_data=True, method="CIE 2024")
    colour.colour_fidelity_index(sd, additional_data=True, method="ANSI/IES TM-30-18")
    if kelvin >= 4000:
        day = colour.temperature.CCT_to_xy_CIE_D(kelvin)
        reference = colour.sd_CIE_illuminant_D_series(day)
    else:
        reference = colour.sd_blackbody(kelvin)
    colour.spectral_similarity_index(sd, reference, round_result=False)


def test_three_hundred_spectra(benchmark: Any, colour: ModuleType) -> None:
    lights = make_lights(300)
    benchmark(see_fully, lights)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        describe_one(colour, lights[0])  # fills the library's caches
        began = time.perf_counter()
        for power in lights[1:13]:
            describe_one(colour, power)
        one_by_one = (time.perf_counter() - began) / 12 * len(lights)
    ratio = one_by_one / benchmark.stats.stats.median
    benchmark.extra_info["one at a time over one call"] = round(ratio, 1)
    print(f"\n300 spectra, one at a time over one call: {ratio:.0f}")


def test_three_hundred_spectra_with_a_camera(benchmark: Any) -> None:
    readings = tuple(
        Reading(f"{row}", Spectrum(power, f"{row}")) for row, power in enumerate(make_lights(300))
    )
    camera = view_camera(find_camera("cfa-mid", Path()))
    against = Reading("D55", Spectrum(load_table("sources")[4], "D55"))
    benchmark.pedantic(describe_lights, (readings, camera, against), rounds=3)
    print(f"\n300 spectra with a camera and its family: {benchmark.stats.stats.median:.2f} s")
