"""Files as instruments and people write them: read right, or refused with the reason.

Every sample is made here from the fluorescent tube FL2 of CIE 15:2018, table T.6, at 5 nm, whose
chromaticity CIE tabulates: x 0.3721, y 0.3751. A sample that is read must give that colour.
"""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError, SpectrumError
from wbplan.description.lights import describe_lights
from wbplan.light.colorimetry import find_xy
from wbplan.light.spectrum import WAVELENGTHS_NM, Reading, find_illuminance_lux
from wbplan.read.catalogue import find_source
from wbplan.read.gather import gather_lights
from wbplan.read.spectra.files import make_readings, parse_tables, read_curve, read_lights
from wbplan.read.spectra.rows import MAX_LINE_LENGTH

X = np.arange(380, 785, 5)
TUBE = find_source("FL2").values[::5] / find_source("FL2").values.max()
LUX = float(find_illuminance_lux(np.interp(WAVELENGTHS_NM, X, TUBE)))
CIE_XY = (0.3721, 0.3751)


def table(
    header: str = "",
    values: np.ndarray = TUBE,
    *,
    row: str = "{x},{y:.6f}",
    decimal: str = ".",
    end: str = "",
) -> str:
    rows = [row.format(x=x, y=y, i=i) for i, (x, y) in enumerate(zip(X, values, strict=True), 1)]
    body = "\n".join(rows).replace(".", decimal)
    return f"{header}\n{body}\n{end}" if header else f"{body}\n{end}"


def across(before: str, rows: list[str], values: np.ndarray = TUBE, unit: str = "") -> str:
    spectrum = ",".join(f"{y:.6f}" for y in values)
    lines = [f"{before},{','.join(map(str, X))}", *(f"{each},{spectrum}" for each in rows)]
    return "\n".join([*([unit] if unit else []), *lines])


def read(text: str | bytes) -> list[Reading]:
    """Read as the front does: the lights of a file, what is none passed over."""
    raw = text if isinstance(text, bytes) else text.encode()
    from wbplan.read.spectra import files

    return [
        each
        for one, indices, alone in files._find_lights(parse_tables(raw, "f"))
        for each in make_readings(one, indices, alone)
    ]


PHOTONS = TUBE * X / X.max()
FINE = np.interp(np.arange(380, 781), X, TUBE)
SECONDS = [f"{300 + 7 * i}" for i in range(72)]

# Wrong in silence before, read right now: the text, and a word of the remark.
MENDED: dict[str, tuple[str, str]] = {
    "photons in the label": (table("nm,umol m-2 s-1 nm-1", PHOTONS), "converted to energy"),
    "photons above": (
        table("Photon flux density\nwavelength (nm),lamp", PHOTONS),
        "converted to energy",
    ),
    "quantum": (table("nm,quantum", PHOTONS), "converted to energy"),
    "photons keyed": (
        table("Unit: µmol/s/m2/nm\nTitle: shop\nnm,y", PHOTONS),
        "converted to energy",
    ),
    "photons across": (
        across("name", ["a"], PHOTONS, "photon flux density"),
        "converted to energy",
    ),
    "seconds before": (across("seconds", SECONDS), "wavelengths across"),
    "lux before": (across("lux", SECONDS), "wavelengths across"),
    "index": (table("no,nm,y", row="{i},{x},{y:.6f}"), "before the wavelengths: column 1"),
    "index, no header": (table(row="{i},{x},{y:.6f}"), "before the wavelengths: column 1"),
    "numbers above": (table("81,5"), "numbers above the table passed over"),
    "three numbers above": (table("380,780,5"), "numbers above the table passed over"),
    "decimal commas everywhere": (
        table("nm,y", row="{x},{y:.6f}", decimal=","),
        "labels settle which",
    ),
    "decimal commas, wavelengths too": (
        table("nm,y", row="{x}.0,{y:.6f}", decimal=","),
        "labels settle which",
    ),
    "counts beside": (table("nm,counts,W/m2/nm", row="{x},77,{y:.6f}"), "no light: 'counts'"),
    "dB beside": (table("nm,level (dB),lamp", row="{x},-12.5,{y:.6f}"), "no light"),
    "wavelengths twice": (table("nm,a,nm 2", row="{x},{y:.6f},{x}"), "repeats the wavelengths"),
}

# Refused before, read now.
READ: dict[str, tuple[str | bytes, str]] = {
    "words around": (table(row="power at {x} [nm],{y:.6f}"), "wavelengths taken out"),
    "unit and tab": (table(row="{x}nm\t{y:.6f}"), "wavelengths taken out"),
    "unit and blank": (table(row="{x} nm  {y:.6f}"), "wavelengths taken out"),
    "unit and equals sign": (table(row="{x} nm = {y:.6f}"), "wavelengths taken out"),
    "brackets": (table(row="E({x}),{y:.6f}"), "wavelengths taken out"),
    "quoted words": (table(row='"{x} nm","{y:.6f}"'), "wavelengths taken out"),
    "twice": (
        table("nm,y")
        + "\n".join(f"{x},{y:.6f}" for x, y in zip(range(380, 781), FINE, strict=True)),
        "steps of 5 and 1 nm: the finer",
    ),
    "twice, a header between": (
        "fine steps\n"
        + "\n".join(f"{x},{y:.6f}" for x, y in zip(range(380, 781), FINE, strict=True))
        + "\ncoarse steps\n"
        + table("nm,y"),
        "the finer is taken",
    ),
    "footer": (table("nm,y", end="End of data\nOperator,A. N. Other\n"), "words below"),
    "footer with numbers": (table("nm,y", end="\nmax,1.000\nmean,0.3\n"), "words below"),
    "quoted decimal commas": (
        table("nm,y", row='{x},"{y:.6f}"', decimal=","),
        "commas read as decimal signs",
    ),
    "UTF-16 without a mark": (table("nm,y").encode("utf-16-le"), "though no mark"),
    "UTF-16 BE without a mark": (table("nm,y").encode("utf-16-be"), "though no mark"),
    "blank side cells": (
        table("nm,y,note,k", row="{x},{y:.6f},,")
        .replace("380,0.", "380,0.", 1)
        .replace(",,\n385", ",4,7\n385", 1),
        "blanks",
    ),
    "negative noise": (
        table("nm,y", np.where(X < 390, -0.004, np.where(X > 775, -0.012, TUBE))),
        "negative values within noise",
    ),
    "CGATS, one set": (
        'CGATS.17\n\nSPECTRAL_NORM "100.0"\nBEGIN_DATA_FORMAT\nSAMPLE_ID '
        + "\n".join(f"SPECTRAL_NM{x}" for x in X)
        + "\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 "
        + "\n".join(f"{100 * y:.4f}" for y in TUBE)
        + "\n2 "
        + " ".join(f"{50 * y:.4f}" for y in TUBE)
        + "\nEND_DATA\n",
        "CGATS text",
    ),
    "CGATS, upright": (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSPECTRAL_NM SPECTRAL_POWER\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        + table(row="{x} {y:.6f}")
        + "END_DATA\n",
        "CGATS text",
    ),
    "JSON, TM-27 kind": (
        json.dumps(
            {
                "header": {"description": "shop"},
                "spectral_data": {
                    "units": "relative",
                    "index": {"main": ["tube"]},
                    "data": {"main": {str(x): [y] for x, y in zip(X, TUBE, strict=True)}},
                },
            }
        ),
        "the spectrum at spectral_data.data.main",
    ),
    "JSON, lists": (
        json.dumps({"wavelength": X.tolist(), "value": TUBE.tolist()}),
        "JSON",
    ),
    "JSON, pairs": (json.dumps(np.transpose([X, TUBE]).tolist()), "JSON"),
    "JSON, objects": (
        json.dumps([{"nm": float(x), "v": y} for x, y in zip(X, TUBE, strict=True)]),
        "JSON",
    ),
}

THOUSANDS = np.round(20000 * TUBE).astype(int)
# Wrong in silence before, refused now: the text, and the words of the reason.
REFUSED: dict[str, tuple[str, str]] = {
    "logarithm": (table("nm,log10(W/m2/nm)"), "values of a logarithm"),
    "decibel": (table("nm,dB"), "values of a logarithm"),
    "counts": (table("nm,counts"), "values of raw counts"),
    "counts above": (table("Unit: counts\nnm,y"), "values of raw counts"),
    "saturated": (table("Saturated: yes\nnm,y"), "a saturated reading"),
    "uncalibrated": (table("uncalibrated\nnm,y"), "an uncalibrated reading"),
    "6e8 lux": (table("nm,kW/m2/nm", 1e6 * TUBE), "lux: is the unit what the file says?"),
    "thousands": (
        "\n".join(f"{x}\t{y:,}" for x, y in zip(X, THOUSANDS, strict=True)),
        "a mark of thousands",
    ),
    "quoted thousands": (
        "\n".join(f'{x},"{y:,}"' for x, y in zip(X, THOUSANDS, strict=True)),
        "a mark of thousands",
    ),
    "commas twice": (table(row="{x},{y:.6f}", decimal=","), "could be decimal signs or separators"),
    "a filter": (table("nm,transmittance", TUBE), "values of transmittance"),
    "a filter, said above": (table("Transmission of a gel\nnm,y", TUBE), "of transmittance"),
    "a surface": (table("nm,Reflectance (%)", 100 * TUBE), "values of reflectance"),
    "absorbance": (table("nm,absorbance", TUBE), "values of absorbance"),
    "density": (table("nm,optical density", TUBE), "values of optical density"),
    "a second spectrum below": (table("nm,y") + table(values=TUBE[::-1]), "a second spectrum"),
    "a camera in JSON": (
        json.dumps(
            {
                "header": {"description": "camera spectral sensitivity data"},
                "data": {str(x): [y] for x, y in zip(X, TUBE, strict=True)},
            }
        ),
        "values of a sensitivity",
    ),
    "a line without end": ("nm," + "x" * (MAX_LINE_LENGTH + 1) + table("\n"), "a line of"),
    "a long line of numbers": ("1," * MAX_LINE_LENGTH, "a line of"),
}


@pytest.mark.parametrize("name", [*MENDED, *READ])
def test_samples_are_read_right(name: str) -> None:
    text, remark = (MENDED | READ)[name]
    lights = read(text)
    for light in lights:
        np.testing.assert_allclose(find_xy(light.spectrum.values), CIE_XY, atol=1.5e-3)
    assert len(lights) == {"seconds before": 72, "lux before": 72, "CGATS, one set": 2}.get(name, 1)
    assert remark in lights[0].understood
    assert lights[0].understood.isprintable()


@pytest.mark.parametrize("name", REFUSED)
def test_samples_are_refused_with_the_reason(name: str) -> None:
    text, reason = REFUSED[name]
    with pytest.raises(SpectrumError) as caught:
        read(text)
    assert reason in str(caught.value)
    assert str(caught.value).isprintable()


def test_photons_give_the_lux_of_their_energy() -> None:
    """1 umol/s of photons at 555 nm is 0.2155 W: N_A h c / lambda, with the SI's constants."""
    energy = 6.02214076e23 * 6.62607015e-34 * 299792458.0 / 555e-9 * 1e-6
    assert energy == pytest.approx(0.2155, abs=1e-4)
    (light,) = read(table("nm,umol m-2 s-1 nm-1", TUBE * X / 119.6265658))
    assert light.illuminance_lux == pytest.approx(LUX, rel=2e-3)


def test_radiance_and_a_relative_neighbour_have_no_lux() -> None:
    (light,) = read(table("nm,W/sr/m2/nm"))
    assert np.isnan(light.illuminance_lux)
    one, two = read(table("nm,W/m2/nm,Normalised", row="{x},{y:.6f},{y:.3f}"))
    assert one.illuminance_lux == pytest.approx(LUX, rel=2e-3)
    assert np.isnan(two.illuminance_lux)


def test_a_lamp_is_no_filter(tmp_path: Path) -> None:
    path = tmp_path / "gel.csv"
    of_light = ("W/m2/nm", "umol/m2/s/nm", "irradiance", "relative", "normalised")
    for label in (*of_light, "absorbance", "reflectance", "counts"):
        path.write_text(table(f"nm,{label}"))
        with pytest.raises(SpectrumError, match="a transmittance, or an optical density"):
            read_curve(path, "transmittance_file")


@pytest.mark.parametrize("label", ["percent", "Percent transmission", "T %", "transmittance (%)"])
def test_a_filter_in_percent(tmp_path: Path, label: str) -> None:
    path = tmp_path / "gel.csv"
    path.write_text(table(f"nm,{label}", np.full(X.size, 40.0)))
    assert read_curve(path, "transmittance_file").values == pytest.approx(0.4)


def test_density_is_converted(tmp_path: Path) -> None:
    """Density 0.3 lets 0.501 through, 1.0 a tenth: ISO 5-1."""
    path = tmp_path / "gel.csv"
    path.write_text(table("nm,optical density", np.where(X < 500, 0.3, 1.0)))
    curve = read_curve(path, "transmittance_file")
    assert curve.values[[0, -1]] == pytest.approx([0.5012, 0.1], abs=1e-4)
    assert any(note.code == "density" for note in curve.notes)


CODECS = [
    *("utf-8", "utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "iso8859-15", "koi8-r"),
    *("shift_jis", "euc-jp", "gb18030", "big5", "mac-roman", "cp037", "iso2022_jp", "utf-8-sig"),
]


@pytest.mark.parametrize("codec", CODECS)
def test_any_encoding_that_an_xml_declares(codec: str) -> None:
    points = "".join(
        f'<SpectralData wavelength="{x}">{y:.6f}</SpectralData>'
        for x, y in zip(X, TUBE, strict=True)
    )
    text = (
        f'<?xml version="1.0" encoding="{codec.removesuffix("-sig")}"?><IESTM2714><Header/>'
        f"<SpectralDistribution><SpectralQuantity>relative</SpectralQuantity>{points}"
        "</SpectralDistribution></IESTM2714>"
    )
    (light,) = read(text.encode(codec))
    np.testing.assert_allclose(find_xy(light.spectrum.values), CIE_XY, atol=1.5e-3)


@pytest.mark.parametrize("codec", ["hex", "zlib", "idna", "klingon", "unicode_escape", "rot13"])
def test_an_encoding_that_is_none(codec: str) -> None:
    raw = f'<?xml version="1.0" encoding="{codec}"?><IESTM2714/>'.encode()
    with pytest.raises(SpectrumError, match="encoding"):
        parse_tables(raw, "f")


def write_workbook(rows: list[list[object]]) -> bytes:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["notes", "nothing here"])
    sheet = book.create_sheet("Data")
    for row in rows:
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_workbook() -> None:
    rows = [["Kitchen"], ["nm", "W/m2/nm"], *map(list, zip(X.tolist(), TUBE.tolist(), strict=True))]
    (light,) = read(write_workbook(rows))
    np.testing.assert_allclose(find_xy(light.spectrum.values), CIE_XY, atol=1.5e-3)
    assert light.illuminance_lux == pytest.approx(LUX, rel=2e-3)
    assert "sheet 'Data'" in light.understood


def test_a_workbook_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = write_workbook([["nm", "y"]])
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(SpectrumError, match=r"saved as CSV, or: pip install 'wbplan\[excel\]'"):
        parse_tables(raw, "f.xlsx")


@pytest.mark.parametrize("raw", [b"PK\x03\x04", b"PK\x03\x04" + bytes(200)])
def test_a_broken_workbook(raw: bytes) -> None:
    with pytest.raises(SpectrumError, match="an archive"):
        parse_tables(raw, "f")


def test_one_bad_file_in_a_folder_stops_no_other(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(table("nm,y"))
    (tmp_path / "deep.json").write_text("[" * 100_000)
    (tmp_path / "huge.json").write_text('{"wavelength": [' + "9" * 5000 + "]}")
    (tmp_path / "b.xml").write_bytes(b'<?xml version="1.0" encoding="utf-7"?><a')
    (tmp_path / "c.xlsx").write_bytes(b"PK\x03\x04")
    (tmp_path / "d.txt").write_bytes(bytes(range(256)))
    (tmp_path / "e.csv").write_text(table("nm,counts"))
    lights, refused = gather_lights([str(tmp_path)])
    assert [light.name for light in lights] == ["a"]
    assert len(refused) == 6


OWN = {
    "CCT: 4230 K": ("stated", "the file says 4230 K, computed 42"),
    "Colour temperature (K),4225": ("stated", "computed 42"),
    "CRI (Ra)\t64": ("stated", "the file says 64 Ra, computed 64 Ra"),
    "Illuminance [lx]; {lux:.1f}": ("stated", "lux, computed"),
    "CCT=5198": ("stated-differs", "the file says 5198 K, computed 42"),
    "Ra: 92.4": ("stated-differs", "was its spectrum read as it was meant?"),
    "lux: 1.25": ("stated-differs", "computed"),
}


@pytest.mark.parametrize("line", OWN)
def test_the_file_s_own_figures(line: str) -> None:
    """CIE 15:2018 table T.8.2 gives FL2 4230 K and Ra 64."""
    code, words = OWN[line]
    (light,) = read(table(f"Title: Shop\n{line.format(lux=LUX)}\nnm,W/m2/nm"))
    (note,) = [
        each for each in describe_lights((light,)).lights[0].notes if "file says" in each.text
    ]
    assert (note.code, note.weight == "warning") == (code, code == "stated-differs")
    assert words in note.text
    assert "title: Shop" in light.understood


def test_own_figures_beside_each_reading() -> None:
    lights = read(across("name,lux,CCT", ["a,500,4230", "b,250,5000"]))
    assert [light.illuminance_lux for light in lights] == [500, 250]
    found = describe_lights(tuple(lights)).lights
    assert [any(n.code == "stated-differs" for n in each.notes) for each in found] == [False, True]
    assert any(note.code == "stated-lux" for note in lights[0].spectrum.notes)


def test_a_long_line_costs_little_memory(tmp_path: Path) -> None:
    import tracemalloc

    path = tmp_path / "f.csv"
    path.write_text("nm," + "W/m2/nm " * 1_250_000 + "\n" + table())
    tracemalloc.start()
    with pytest.raises(InputError, match="a line of"):
        read_lights(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 60e6
