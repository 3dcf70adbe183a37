"""Make the package data from the published tables that colour-science carries.

``spectra.npz``, ``rendering.npz`` and ``sources.json``.

Run ``python -m wbplan.data.make_spectra`` after a new release of colour-science, look at the
difference, and note it in `wbplan/guide/numbers.md`. The tables exist so that the
command line need not import colour-science, which takes longer than a whole plan.

Some lamp names of the datasets carry a maker's name or code. Here every measured lamp has a name of
this project's own, by lamp type and correlated colour temperature. The library's order of the
lamps and the temperature of each (checked on every run) say which is which.
"""

from __future__ import annotations

import json
import warnings
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.spectrum import WAVELENGTHS_NM, resample

_RIT = "Pointer (1980), Pointer's Gamut Data, light source sheet"
_NIST = "Ohno and Davis (2008), NIST CQS simulation 7.4"
_PROJECTOR = "Borer (2017), by way of colour-science"
_CIE = "CIE 15:2018 and its illuminant tables"
_ISO = "ISO 7589:2002"

# (name, CCT in kelvin as a check, dataset), in the order of the library
_LAMPS: tuple[tuple[str, float, str], ...] = (
    ("fluorescent-natural-3800k", 3826, _RIT),
    ("fluorescent-triphosphor-4100k-a", 4076, _RIT),
    ("standard-source-a-2900k", 2856, _RIT),
    ("standard-source-c-6800k", 6771, _RIT),
    ("fluorescent-triphosphor-3400k-a", 3375, _RIT),
    ("fluorescent-triphosphor-3200k", 3171, _RIT),
    ("fluorescent-triphosphor-4100k-b", 4090, _RIT),
    ("fluorescent-broadband-3900k", 3939, _RIT),
    ("fluorescent-cool-white-4300k", 4290, _NIST),
    ("fluorescent-daylight-6500k", 6479, _NIST),
    ("sodium-high-pressure-2100k", 2074, _NIST),
    ("tungsten-2800k-a", 2812, _NIST),
    ("sodium-low-pressure-1700k", 1720, _NIST),
    ("mercury-3800k", 3753, _NIST),
    ("metal-halide-4300k", 4280, _NIST),
    ("tungsten-neodymium-2800k", 2756, _NIST),
    ("sodium-white-2500k-a", 2529, _NIST),
    ("fluorescent-triphosphor-3400k-b", 3382, _NIST),
    ("led-three-channel-3300k-457-540-605", 3303, _NIST),
    ("led-three-channel-3300k-473-545-616", 3303, _NIST),
    ("led-three-channel-3300k-greenish", 3306, _NIST),
    ("led-three-channel-4000k-465-546-614", 4001, _NIST),
    ("led-three-channel-3300k-455-547-623", 3300, _NIST),
    ("led-four-channel-3300k-without-yellow", 3304, _NIST),
    ("led-four-channel-3300k-with-yellow", 3300, _NIST),
    ("led-four-channel-3300k-461-526-576-624", 3300, _NIST),
    ("led-four-channel-3300k-447-512-573-627", 3300, _NIST),
    ("led-phosphor-2900k", 2880, _NIST),
    ("led-phosphor-3000k-a", 3013, _NIST),
    ("led-phosphor-3000k-b", 3009, _NIST),
    ("led-phosphor-3000k-c", 3003, _NIST),
    ("led-phosphor-3000k-d", 3003, _NIST),
    ("led-phosphor-6800k", 6809, _NIST),
    ("tungsten-2800k-b", 2812, _NIST),
    ("sodium-high-pressure-2000k", 1970, _NIST),
    ("sodium-high-pressure-2200k", 2238, _NIST),
    ("fluorescent-triphosphor-2900k", 2943, _NIST),
    ("fluorescent-triphosphor-3500k", 3483, _NIST),
    ("fluorescent-triphosphor-4000k", 3971, _NIST),
    ("fluorescent-triphosphor-5100k", 5072, _NIST),
    ("fluorescent-triphosphor-6200k", 6219, _NIST),
    ("fluorescent-cool-white-4200k", 4196, _NIST),
    ("fluorescent-light-white-4200k", 4165, _NIST),
    ("fluorescent-warm-white-3000k", 3013, _NIST),
    ("fluorescent-broadband-5000k", 5004, _NIST),
    ("fluorescent-broadband-7400k", 7404, _NIST),
    ("fluorescent-broadband-4000k", 4032, _NIST),
    ("fluorescent-broadband-6400k", 6445, _NIST),
    ("fluorescent-deluxe-6400k", 6393, _NIST),
    ("fluorescent-natural-3900k", 3920, _NIST),
    ("mercury-clear-6300k", 6265, _NIST),
    ("mercury-coated-3700k", 3725, _NIST),
    ("metal-halide-3000k", 3014, _NIST),
    ("metal-halide-4200k", 4168, _NIST),
    ("sodium-white-2500k-b", 2508, _NIST),
    ("xenon-6300k", 6342, _PROJECTOR),
)


def collect_tables(colour: Any) -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    """Gather arrays on the shared grid and what is to be said of each source."""
    shape = colour.SpectralShape(380, 780, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    photopic = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    basis = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    samples = colour.quality.cfi2017.load_TCS_CIE2017(shape)
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    on_grid = np.isin(observer.wavelengths, WAVELENGTHS_NM)
    components = ("S0", "S1", "S2")
    arrays = {
        "observer": observer.values[on_grid],
        "photopic": photopic.values[np.isin(photopic.wavelengths, WAVELENGTHS_NM)],
        # CIE 15:2018, 4.1.2: the D components are interpolated linearly
        "daylight": np.stack(
            [np.interp(WAVELENGTHS_NM, basis[s].wavelengths, basis[s].values) for s in components],
            axis=1,
        ),
        "samples": samples.values.T,
        "chart": np.stack(
            [np.interp(WAVELENGTHS_NM, sd.wavelengths, sd.values) for sd in chart.values()]
        ),
    }
    rows: list[tuple[str, str, Any, float | None]] = [
        (name, _ISO if name.startswith("ISO") else _CIE, sd, None)
        for name, sd in colour.SDS_ILLUMINANTS.items()
    ]
    lamps = colour.SDS_LIGHT_SOURCES.values()
    rows += [(name, data, sd, cct) for (name, cct, data), sd in zip(_LAMPS, lamps, strict=True)]
    values, about = [], []
    for name, data, sd, cct in rows:
        first, last = float(sd.wavelengths[0]), float(sd.wavelengths[-1])
        entry = {"name": name, "dataset": data, "first_nm": first, "last_nm": last}
        entry["interval_nm"] = float(sd.shape.interval)
        about.append(entry)
        if last < 680:  # kept in the list, refused when it is asked for
            values.append(np.full(WAVELENGTHS_NM.size, np.nan))
            continue
        on_grid_values, _ = resample(sd.wavelengths, sd.values)
        values.append(on_grid_values / on_grid_values.max())
        if cct is not None:
            found = float(find_cct_duv(values[-1], arrays["observer"])[0])
            if abs(found - cct) > 0.01 * cct:
                raise ValueError(f"{name}: expected about {cct} K, the library's lamp has {found}")
    arrays["sources"] = np.stack(values)
    return arrays, {
        "made_by": f"wbplan.data.make_spectra with colour-science {colour.__version__}",
        "sources": about,
    }


def collect_rendering(colour: Any) -> dict[str, np.ndarray]:
    """Gather what only the description of a light needs, on the shared grid."""
    observer = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]
    shape = colour.SpectralShape(380, 780, 1)
    # 14 samples of CIE 13.3:1995 and the fifteenth, Japanese complexion (CIE, 2024); 5 nm tables
    samples = colour.quality.datasets.tcs.SDS_TCS_CIE2024
    names = [f"TCS{number:02d}" for number in range(1, 16)]
    return {
        "observer_1964": observer.values[np.isin(observer.wavelengths, WAVELENGTHS_NM)],
        "test_colours": np.stack([samples[name].copy().align(shape).values for name in names]),
    }


def main() -> None:
    """Write the three files beside this script."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    arrays, about = collect_tables(colour)
    folder = Path(str(files("wbplan.data")))
    # eight digits are more than any of the published tables has
    rounded = {name: np.asarray(array, dtype=np.float32) for name, array in arrays.items()}
    exact = ("observer", "photopic", "daylight")
    rounded.update({name: arrays[name] for name in exact})
    np.savez_compressed(folder / "spectra.npz", allow_pickle=False, **rounded)
    np.savez_compressed(folder / "rendering.npz", allow_pickle=False, **collect_rendering(colour))
    text = json.dumps(about, indent=1, ensure_ascii=True) + "\n"
    (folder / "sources.json").write_text(text, encoding="ascii")


if __name__ == "__main__":
    main()
