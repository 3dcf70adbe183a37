r"""Coverage-guided fuzzing of everything that reads a spectrum file; run on demand, not by pytest.

    pip install ".[fuzz]"
    python tests/fuzz/fuzz_spectra.py -max_total_time=300 -timeout=10 \
        -dict=tests/fuzz/spectra.dict FOLDER

FOLDER collects inputs that reached new code; it is begun with a few small files if it is empty. The
target: whatever the bytes are, they become lights with finite values of 0 or more on the shared
grid, or they are refused with one printable line. Anything else is a crash, which the fuzzer keeps
in a file of the working directory.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["wbplan"]):
    import wbplan.read.spectra.tm27  # noqa: F401  (loaded when it is needed, which would be too late here)
    from wbplan.core.errors import InputError
    from wbplan.read.spectra.files import explain_curve, make_readings, parse_tables


def make_seeds() -> dict[str, bytes]:
    """Make a small file of each kind."""
    wavelengths = range(400, 701, 20)
    rows = "\n".join(f"{x},{x % 7 + 1}" for x in wavelengths)
    comma = "\n".join(f"{x};0,{x % 7 + 1};1,5" for x in wavelengths)
    across = ",".join(map(str, wavelengths))
    values = ",".join(str(x % 7 + 1) for x in wavelengths)
    points = "".join(
        f'<SpectralData wavelength="{x}">{x % 7}.5</SpectralData>' for x in wavelengths
    )
    xml = (
        '<?xml version="1.0"?><IESTM2714 xmlns="iestm2714" version="1.0"><Header><Description>a'
        "</Description></Header><SpectralDistribution><SpectralQuantity>irradiance"
        f"</SpectralQuantity>{points}</SpectralDistribution></IESTM2714>"
    )
    return {
        "upright": f"wavelength (nm),W/m2/nm\n{rows}\n".encode(),
        "decimal-comma": f"nm;a;b %\r\n{comma}\r\n".encode("utf-8-sig"),
        "wide": f"name,lux,{across}\nkey,120,{values}\nfill,80,{values}\n".encode(),
        "wide-nm": "\t".join(["id", *(f"{x} nm" for x in wavelengths)]).encode("utf-16")
        + ("\nk\t" + "\t".join("1" for _ in wavelengths)).encode("utf-16-le"),
        "xml": xml.encode(),
        "micrometres": f"wavelength_um,v\n{rows}\n".replace("\n4", "\n0.4").encode(),
    }


def read_or_refuse(data: bytes) -> None:
    """Read bytes as a file of spectra, and hold what comes of it against the promise."""
    try:
        tables = parse_tables(data, "f")
        for table in tables:
            count = len(table.labels)
            explain_curve(table, count - 1)
            readings = make_readings(table, list(range(min(count, 8))), alone=count == 1)
            for each in readings:
                values = each.spectrum.values
                assert values.shape == (401,)
                assert values.min() >= 0
                assert math.isclose(values.max(), 1.0)
                assert math.isnan(each.illuminance_lux) or each.illuminance_lux > 0
    except InputError as error:
        message = str(error)
    else:
        return
    assert message.isprintable(), repr(message)


def main() -> None:
    """Begin the corpus, then fuzz until stopped."""
    for word in sys.argv[1:]:
        folder = Path(word)
        if not word.startswith("-"):
            folder.mkdir(parents=True, exist_ok=True)
            if not any(folder.iterdir()):
                for name, data in make_seeds().items():
                    (folder / name).write_bytes(data)
    atheris.Setup(sys.argv, read_or_refuse)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
