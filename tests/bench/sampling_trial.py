r"""How often the intervals of coarse readings hold the figure by 1 nm; run on demand.

    python -m tests.bench.sampling_trial

All tabulated sources by 5 nm or finer, and sixty models with narrow lines at random, are smeared by
a triangle and sampled, and the intervals of `description.sampling` are held against the figures of
the unsmeared curve, and the band of the setting (`camera.coarse`) that a camera without a family of
neighbours wants against what it wants of that curve.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from wbplan.camera.setting import view_camera
from wbplan.description.camera import see_by_camera
from wbplan.description.lights import describe_lights
from wbplan.description.sampling import MOST_OPEN, find_sampling_bands
from wbplan.light.bandpass import correct_bandwidth
from wbplan.light.models import Line, make_phosphor_led, shape_lines
from wbplan.light.spectrum import WAVELENGTHS_NM, Reading, Sampling, Spectrum, resample
from wbplan.read.catalogue import find_camera, find_source, list_usable_sources

SLACK = {"cct_kelvin": 1.0, "duv": 3e-5, "ra": 0.1, "r9": 0.3, "rf": 0.1, "tlci": 0.3, "ssi": 0.5}


def list_truths() -> list[np.ndarray]:
    chance = np.random.default_rng(5)
    found = [find_source(x.name).values for x in list_usable_sources() if x.interval_nm <= 5]
    for number in range(60):
        base = make_phosphor_led(3000.0 if number % 2 else float(chance.uniform(2700, 6500)))
        places = chance.uniform(400, 700, 5)
        lines = [Line(float(x), float(chance.uniform(0.1, 1)), 2.0) for x in places]
        if number % 3 == 0:  # a red phosphor of narrow lines
            lines = [Line(613.5, 0.4), Line(630.8, 1.0), Line(635.0, 0.3), Line(648.0, 0.3)]
        power = base * chance.uniform(0.1, 1) + shape_lines(lines) * chance.uniform(0.3, 2)
        found.append(power / power.max())
    return found


def make_coarse(power: np.ndarray, step: int, width: int) -> Reading:
    triangle = 1 - np.abs(np.arange(1 - width, width)) / width
    held = np.pad(power, width - 1, mode="edge")
    y = np.convolve(held, triangle / triangle.sum(), "valid")[::step]
    x = WAVELENGTHS_NM[::step]
    others = np.stack([resample(x, correct_bandwidth(y, count))[0] for count in (1, 2)])
    return Reading("", Spectrum(resample(x, y)[0], sampling=Sampling(float(step), others)))


def main() -> None:
    truths = list_truths()
    eye = describe_lights(tuple(Reading("", Spectrum(each)) for each in truths)).eye
    known = {
        "cct_kelvin": eye.cct_kelvin,
        "duv": eye.duv,
        "ra": eye.cie.ra,
        "tlci": eye.tlci,
        "r9": eye.cie.special[:, 8],
        "rf": eye.fidelity.rf,
        "ssi": eye.ssi,
    }
    view = view_camera(find_camera("cfa-mid", Path()))
    exact = replace(view, members=view.members[:0], member_locus=None)
    wanted = see_by_camera(tuple(map(Spectrum, truths)), eye.cct_kelvin, exact)
    for step in (5, 10):
        for width in (step, 2 * step):
            bands = []
            for begin in range(0, len(truths), MOST_OPEN):
                part = truths[begin : begin + MOST_OPEN]
                bands += find_sampling_bands(tuple(make_coarse(x, step, width) for x in part))
            told = []
            for name, true in known.items():
                ends = np.array([(getattr(b, name).low, getattr(b, name).high) for b in bands])
                usable = np.isfinite(ends).all(1) & np.isfinite(true)
                slack = SLACK[name]
                held = (ends[:, 0] - slack <= true) & (true <= ends[:, 1] + slack)
                half = np.median(np.diff(ends[usable])) / 2
                told.append(f"{name} {100 * held[usable].mean():.0f} % (half {half:.2g})")
            print(f"by {step} nm, width {width} nm, {usable.sum()} lights: {', '.join(told)}")
            lights = tuple(make_coarse(each, step, width).spectrum for each in truths)
            found = see_by_camera(lights, eye.cct_kelvin, exact)
            pairs = [
                (true.wanted, band.wanted)
                for true, band in zip(wanted, found, strict=True)
                if true and band and not true.trouble and not band.trouble
            ]
            for unit, slack in (("mired", 0.2), ("tint_cc", 0.03)):
                ends = [(getattr(b, unit).low, getattr(b, unit).high) for _, b in pairs]
                low, high = np.array(ends).T
                true = np.array([getattr(a, unit).value for a, _ in pairs])
                held = np.mean((low - slack <= true) & (true <= high + slack))
                print(
                    f"    wanted {unit}: {100 * held:.0f} % (half {np.median(high - low) / 2:.2g})"
                )


if __name__ == "__main__":
    main()
