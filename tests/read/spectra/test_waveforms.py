"""Waveforms beside spectra: taken, attributed, passed over; and tables that only look like one."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest

from wbplan.core.errors import SpectrumError
from wbplan.description.lights import describe_lights
from wbplan.light.spectrum import Reading
from wbplan.read.spectra.files import make_readings, parse_tables

SPECTRUM = "wavelength (nm),W/m2/nm\n" + "\n".join(
    f"{nm},0.0{nm % 7}1" for nm in range(380, 781, 5)
)
TIMES = np.arange(0, 0.1, 1 / 2000)
LEVELS = 1 + 0.3 * np.sin(2 * np.pi * 100 * TIMES)


def write(time: str, unit: float, separator: str, decimal: str = ".") -> str:
    rows = (
        f"{t / unit:.4f}{separator}{v:.4f}".replace(".", decimal)
        for t, v in zip(TIMES, LEVELS, strict=True)
    )
    return f"{time}{separator}level\n" + "\n".join(rows)


def read(content: str | bytes) -> list[Reading]:
    raw = content if isinstance(content, bytes) else content.encode()
    tables = parse_tables(raw, "lamp.csv")
    count = sum(len(each.labels) for each in tables)
    return [
        each
        for table in tables
        for each in make_readings(table, [*range(len(table.labels))], count == 1)
    ]


@pytest.mark.parametrize(
    "block",
    [
        write("time (ms)", 1e-3, ","),
        write("Time [s]", 1.0, "\t"),
        write("time_us", 1e-6, ";"),
        write("elapsed time ms", 1e-3, ";", ","),
    ],
)
@pytest.mark.parametrize("layout", ["{spectrum}\n\n{wave}\n", "{wave}\n\n{spectrum}\n"])
def test_a_block_of_text(block: str, layout: str) -> None:
    (reading,) = read(layout.format(spectrum=SPECTRUM, wave=block))
    (alone,) = read(SPECTRUM)
    np.testing.assert_allclose(reading.spectrum.values, alone.spectrum.values)
    assert reading.illuminance_lux == pytest.approx(alone.illuminance_lux)
    assert "a waveform of 200 samples" in reading.understood
    (light,) = describe_lights((reading,)).lights
    assert light.flicker is not None
    assert light.flicker.light_hz == pytest.approx(100, abs=0.1)
    assert light.flicker.depth == pytest.approx(0.3, abs=2e-3)


def test_an_object_of_json() -> None:
    tree = {
        "wavelength": [*range(380, 781, 5)],
        "value": [1.0 + nm % 3 for nm in range(380, 781, 5)],
        "recorded": {"sample_rate_hz": 2000, "level": LEVELS.tolist()},
    }
    (reading,) = read(json.dumps(tree))
    assert reading.waveform is not None
    tree["recorded"] = {"time_ms": (1e3 * TIMES).tolist(), "values": LEVELS.tolist()}
    (other,) = read(json.dumps(tree))
    assert other.waveform is not None
    np.testing.assert_allclose(reading.waveform.time_s, other.waveform.time_s, atol=1e-12)


def test_a_sheet_of_its_own() -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for line in SPECTRUM.split("\n"):
        head, value = line.split(",")
        book.active.append([head, value] if head[0] == "w" else [int(head), float(value)])
    sheet = book.create_sheet("flicker")
    sheet.append(["time (s)", "level"])
    for t, v in zip(TIMES, LEVELS, strict=True):
        sheet.append([float(t), float(v)])
    stored = io.BytesIO()
    book.save(stored)
    (reading,) = read(stored.getvalue())
    assert reading.waveform is not None


def test_what_is_no_waveform() -> None:
    # a log of lux over seconds whose wavelengths lie across is a table of readings
    head = "time (s),lux," + ",".join(map(str, range(400, 701, 20)))
    rows = "\n".join(f"{n},500," + ",".join(["1"] * 16) for n in range(30))
    assert len(read(f"{head}\n{rows}")) == 30
    # too short a block is read as it was before, which is not at all
    short = "time (s),level\n" + "\n".join(f"{n},{n}" for n in range(5))
    with pytest.raises(SpectrumError):
        read(f"{SPECTRUM}\n\n{short}")
    with pytest.raises(SpectrumError, match="a waveform without a spectrum"):
        read(write("time (s)", 1.0, ","))


def test_beside_several_spectra_it_is_nobodys() -> None:
    two = "nm,a,b\n" + "\n".join(f"{nm},1,2" for nm in range(380, 781, 5))
    readings = read(f"{two}\n\n{write('time (s)', 1.0, ',')}")
    assert [each.waveform for each in readings] == [None, None]
    assert "a waveform passed over" in readings[0].understood


def test_a_waveform_too_short_warns() -> None:
    brief = "\n".join(write("time (s)", 1.0, ",").split("\n")[:42])
    (reading,) = read(f"{SPECTRUM}\n\n{brief}")
    (light,) = describe_lights((reading,)).lights
    assert light.flicker is None
    assert any("three are needed" in each.text for each in light.notes)
