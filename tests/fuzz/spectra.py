"""Mutated files of spectra: small ones of every kind, and what comes of each.

`tests.fuzz.by_coverage` holds the readers to the same.
"""

from __future__ import annotations

import contextlib
import json
import math
import random
from functools import cache
from typing import Final

from tests.fuzz.loop import Target, check_refusal
from tests.fuzz.mutation import mutate_bytes
from wbplan.core.errors import InputError
from wbplan.light.waveform import find_flicker
from wbplan.read.spectra.files import explain_curve, make_readings, parse_tables

PIECES: Final = (
    *(b",", b";", b"\t", b" ", b"\n", b"\r", b'"', b"%", b".", b"-", b"1e999", b"nan", b"\0", b"0"),
    *(b"380", b"780", b"nm", b"W/m2/nm", b"umol/m2/s/nm", b"/sr", b"log10(", b"counts", b"lux"),
    *(b"<", b">", b"{", b"}", b"[", b"]", b"BEGIN_DATA", b"END_DATA_FORMAT", b"\xff\xfe", b"\xe2"),
    *("µ".encode(), "−".encode(), b"encoding=", b"12,345", b"Saturated: yes", b"transmittance"),
    *(b"time (ms),level", b"Bandwidth: 10 nm", b"bandwidth corrected", b"\nnm,y,nm,y\n", b"1e308"),
)


@cache
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
    indexed = "\n".join(f"{i};{x};{x % 7},5;" for i, x in enumerate(wavelengths, 1))
    xml = (
        '<?xml version="1.0"?><IESTM2714 xmlns="iestm2714" version="1.0"><Header><Description>a'
        "</Description></Header><SpectralDistribution><SpectralQuantity>irradiance"
        f"</SpectralQuantity>{points}</SpectralDistribution></IESTM2714>"
    )
    pulses = [1 + row % 4 for row in range(40)]
    over_time = "\n".join(f"{row / 2},{each}" for row, each in enumerate(pulses))
    return {
        "side-by-side": (
            "nm;a;nm;b\n"
            + "\n".join(f"{x};{x % 7};{x + 10};1" for x in wavelengths)
            + "\n720;1;;\n740;2;;\n"
        ).encode(),
        "bandwidth": f"Bandwidth (FWHM): 20 nm\nnm,y,y\n{rows.replace(',', ',1,')}\n".encode(),
        "saturated": f"name,saturated,{across}\na,no,{values}\na,yes,{values}\n".encode(),
        "waveform": f"nm,y\n{rows}\n\ntime (ms),level\n{over_time}\n".encode(),
        "json-waveform": json.dumps(
            {
                "wavelength": list(wavelengths),
                "value": [x % 7 for x in wavelengths],
                "flicker": {"sample_rate_hz": 2000, "level": pulses},
            }
        ).encode(),
        "upright": f"wavelength (nm),W/m2/nm\n{rows}\n".encode(),
        "decimal-comma": f"nm;a;b %\r\n{comma}\r\n".encode("utf-8-sig"),
        "wide": f"name,lux,{across}\nkey,120,{values}\nfill,80,{values}\n".encode(),
        "wide-nm": "\t".join(["id", *(f"{x} nm" for x in wavelengths)]).encode("utf-16")
        + ("\nk\t" + "\t".join("1" for _ in wavelengths)).encode("utf-16-le"),
        "xml": xml.encode(),
        "cgats": (
            "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID "
            + " ".join(f"SPECTRAL_NM{x}" for x in wavelengths)
            + '\nEND_DATA_FORMAT\nBEGIN_DATA\n"a" '
            + values.replace(",", " ")
            + "\nEND_DATA\n"
        ).encode(),
        "json-keys": json.dumps(
            {
                "units": "relative",
                "index": {"m": ["a"]},
                "data": {str(x): [x % 7] for x in wavelengths},
            }
        ).encode(),
        "json-lists": json.dumps(
            {"wavelength": list(wavelengths), "value": [x % 7 for x in wavelengths]}
        ).encode(),
        "words": (
            "Title: attic\nCCT: 5198 K\nlux,512\nSaturated: no\n"
            + "\n".join(f'power at {x} [nm],"{x % 7 + 1}"' for x in wavelengths)
            + "\nmax,7\n"
        ).encode(),
        "photons": f"no;nm;umol m-2 s-1 nm-1;note\n{indexed}\n".encode("utf-16-le"),
        "twice": f"nm,y\n{rows}\nfine\n{rows}\n".encode(),
        "micrometres": f"wavelength_um,v\n{rows}\n".replace("\n4", "\n0.4").encode(),
    }


def read_or_refuse(data: bytes) -> bool:
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
                if each.waveform is not None:
                    with contextlib.suppress(ValueError):
                        assert 0 <= find_flicker(each.waveform).depth <= 1
    except InputError as error:
        check_refusal(error)
        return False
    return True


def make_file(draw: random.Random) -> bytes:
    """Make a file that is changed."""
    return mutate_bytes(draw, draw.choice(list(make_seeds().values())), PIECES)


TARGET: Final = Target("spectra", make_file, lambda data, folder: read_or_refuse(data))
