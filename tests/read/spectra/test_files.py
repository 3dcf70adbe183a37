"""Every kind of spectrum file, and the mistakes, case by case with the message they earn."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.errors import InputError, SpectrumError, UnknownNameError
from wbplan.light.colorimetry import find_cct_duv, find_xy
from wbplan.light.spectrum import WAVELENGTHS_NM, find_illuminance_lux
from wbplan.read.catalogue import find_source
from wbplan.read.spectra.files import (
    explain_curve,
    make_readings,
    parse_tables,
    pick_curve,
    read_lights,
    read_tables,
)
from wbplan.read.spectra.tm27 import read_distributions

X = np.arange(380, 785, 5)
Y = np.round(0.3 + 0.25 * np.sin(X / 60), 4)
Z = np.round(0.5 + 0.002 * (X - 380), 4)


def across(
    separator: str = ",",
    *,
    before: tuple[str, ...] = ("name", "lux"),
    heading: str = "{}",
    rows: tuple[tuple[str, ...], ...] = (("key", "120"), ("fill", "80")),
    values: tuple[np.ndarray, ...] = (Y, Z),
    decimal: str = ".",
    mark: str = "",
    x: np.ndarray = X,
) -> str:
    """Write a table with the wavelengths across the columns."""
    head = separator.join([*before, *(heading.format(each) for each in x)])
    lines = [
        separator.join([*row, *(f"{each:g}{mark}".replace(".", decimal) for each in value)])
        for row, value in zip(rows, values, strict=True)
    ]
    return "\n".join([head, *lines]) + "\n"


def xml(
    *points: tuple[object, object],
    quantity: str = "irradiance",
    root: str = "IESTM2714",
    before: str = "",
    more: str = "",
) -> str:
    """Write an IES TM-27 file."""
    pairs = points or tuple(zip(X, Y, strict=True))
    data = "\n".join(f'<SpectralData wavelength="{x}">{y}</SpectralData>' for x, y in pairs)
    return (
        f'<?xml version="1.0"?>{before}<{root} xmlns="iestm2714" version="1.0"><Header>'
        "<Description>Kitchen lamp</Description></Header>\n<SpectralDistribution>"
        f"<SpectralQuantity>{quantity}</SpectralQuantity>\n{data}\n</SpectralDistribution>{more}"
        f"</{root}>"
    )


# Tables on their side ----------------------------------------------------------------------------

SIDEWAYS = {
    "comma": across(),
    "tab": across("\t"),
    "semicolon and decimal comma": across(";", decimal=","),
    "spaces": across("  ", before=("name", "lux")),
    "380 nm": across(heading="{} nm"),
    "380nm": across(heading="{}nm"),
    "nm380": across(heading="nm{}"),
    "SPECTRAL_NM380": across(heading="SPECTRAL_NM{}"),
    "W 380": across("\t", heading="W {}"),
    "metadata above": "Site: attic\nOperator,A. N. Other\n\n" + across(),
    "a comment heads it": "# " + across(),
    "figures between": across(before=("name", "CCT", "R1", "R2"), rows=(("key", *"123"),) * 2),
    "columns after": "\n".join(
        line + tail
        for line, tail in zip(across().splitlines(), (",comment", ",hot", ",cold"), strict=True)
    ),
    "descending": across(x=X[::-1], values=(Y[::-1], Z[::-1])),
    "percent": across(values=(100 * Y, 100 * Z), mark="%"),
    "CRLF": across().replace("\n", "\r\n"),
    "BOM": "\ufeff" + across(),
    "keyword lines": "BEGIN_DATA_FORMAT\n"
    + across().replace("\n", "\nBEGIN_DATA\n", 1)
    + "END_DATA",
}


@pytest.mark.parametrize("name", SIDEWAYS)
def test_wavelengths_across_the_columns(name: str) -> None:
    (table,) = parse_tables(SIDEWAYS[name].encode(), "f.csv")
    np.testing.assert_array_equal(table.wavelength_nm, X)
    second = Y if name == "figures between" else Z
    assert table.values.shape == (X.size, 2)
    np.testing.assert_allclose(table.values[:, 0], Y, rtol=1e-12)
    if name != "figures between":
        np.testing.assert_allclose(table.values[:, 1], second, rtol=1e-12)
        assert table.labels == ("key", "fill")
    assert "wavelengths across the columns" in explain_curve(table, 0)


def test_micrometres_across_the_columns() -> None:
    (table,) = parse_tables(across(x=X / 1000, heading="{} um").encode(), "f")
    np.testing.assert_allclose(table.wavelength_nm, X)


def test_a_reading_is_picked_by_name_or_number() -> None:
    tables = parse_tables(across().encode(), "f")
    assert pick_curve(tables, "Fill") == (tables[0], 1)
    assert pick_curve(tables, 1) == (tables[0], 0)
    with pytest.raises(UnknownNameError, match="reading 3; allowed: a reading from 1 to 2"):
        pick_curve(tables, 3)
    with pytest.raises(UnknownNameError, match="did you mean 'fill'"):
        pick_curve(tables, "fyll")
    with pytest.raises(SpectrumError, match="2 spectra"):
        pick_curve(tables, None)


def test_readings_without_names_are_numbered() -> None:
    text = across(before=(), rows=((), ()))
    (table,) = parse_tables(text.encode(), "f")
    assert table.labels == ("reading 1", "reading 2")


def test_an_upright_table_with_many_columns_stays_upright() -> None:
    """Its rows may rise through the visible range by accident; its first column settles it."""
    block = 400 + 20.0 * np.arange(20) + 0 * X[:, None]
    lines = [",".join(map(str, [x, *row])) for x, row in zip(X, block, strict=True)]
    (table,) = parse_tables("\n".join(lines).encode(), "f")
    assert table.counted_as == "column"
    assert table.values.shape == (X.size, 20)


# IES TM-27 ---------------------------------------------------------------------------------------


def find_example(colour: ModuleType, name: str) -> Path:
    return next(Path(colour.__file__).parent.rglob(name))


def test_the_sample_of_the_standard(colour: ModuleType) -> None:
    """The sample file of IES TM-27-14, as colour-science ships it: every number of it is read.

    It ends at 650 nm, so that no description of a light can be made of it, and that is said.
    """
    path = find_example(colour, "TM27 Sample Spectral Data.spdx")
    description, (found,) = read_distributions(path.read_bytes(), "sample.spdx")
    assert description == "LED 2' x 4' Troffer"
    assert found.quantity == "relative"
    assert [point[:2] for point in found.points[:3]] == [(400, 0.47), (410, 0.51), (420, 0.56)]
    assert found.points[-1] == (650, 0.21, 44)
    theirs = colour.SpectralDistribution_IESTM2714(str(path)).read()
    np.testing.assert_array_equal([p[0] for p in found.points], theirs.wavelengths)
    np.testing.assert_array_equal([p[1] for p in found.points], theirs.values)
    with pytest.raises(SpectrumError, match="data from 400 to 650 nm; allowed: data that reach"):
        read_tables(path)


def test_an_irregular_file_of_the_library(colour: ModuleType) -> None:
    """A rare-earth tube at chosen wavelengths, 403.1 to 850.1 nm, one step of 21 nm."""
    path = find_example(colour, "Fluorescent.spdx")
    (light,) = read_lights(path)
    theirs = colour.SpectralDistribution_IESTM2714(str(path)).read()
    values = np.interp(WAVELENGTHS_NM, theirs.wavelengths, theirs.values)
    np.testing.assert_allclose(find_xy(light.spectrum.values), find_xy(values), atol=2e-3)
    assert math.isnan(light.illuminance_lux)
    assert "in steps of 0.6 to" in light.understood or "in steps of" in light.understood
    assert any("coarse steps" in note.text for note in light.spectrum.notes)


def test_irradiance_gives_lux() -> None:
    (table,) = parse_tables(xml().encode(), "lamp.spdx")
    light = make_readings(table, [0], True)[0]
    raw = np.interp(WAVELENGTHS_NM, X, Y)
    assert light.illuminance_lux == pytest.approx(float(find_illuminance_lux(raw)), rel=1e-4)
    assert light.name == "lamp"
    assert table.labels == ("Kitchen lamp",)


@pytest.mark.parametrize("quantity", ["flux", "relative", "Radiance", "other"])
def test_other_quantities_of_light_give_colour_alone(quantity: str) -> None:
    (table,) = parse_tables(xml(quantity=quantity).encode(), "f")
    assert math.isnan(make_readings(table, [0], True)[0].illuminance_lux)


def test_several_distributions() -> None:
    second = xml(quantity="relative").split("</Header>")[1].removesuffix("</IESTM2714>")
    tables = parse_tables(xml(more=second).encode(), "f")
    assert len(tables) == 2
    assert pick_curve(tables, 2)[0] is tables[1]
    assert pick_curve(tables, "distribution 1")[0] is tables[0]
    with pytest.raises(UnknownNameError, match="distribution 3; allowed: a distribution from 1"):
        pick_curve(tables, 3)
    with pytest.raises(SpectrumError, match="2 spectra"):
        pick_curve(tables, None)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_encodings_of_xml(encoding: str) -> None:
    text = xml().replace('"1.0"?>', f'"1.0" encoding="{encoding.removesuffix("-sig")}"?>', 1)
    (table,) = parse_tables(text.encode(encoding), "f")
    np.testing.assert_array_equal(table.values[:, 0], Y)


def test_prefixes_and_order_do_not_matter() -> None:
    text = xml(*zip(X[::-1], Y[::-1], strict=True))
    for tag in ("IESTM2714", "SpectralDistribution", "SpectralData", "SpectralQuantity"):
        text = text.replace(f"<{tag}", f"<ies:{tag}").replace(f"</{tag}", f"</ies:{tag}")
    (table,) = parse_tables(text.replace("xmlns=", "xmlns:ies=").encode(), "f")
    np.testing.assert_array_equal(table.values[:, 0], Y)
    assert "wavelengths put in rising order" in table.notes


# Absolute values ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("label", "factor"), [("W/m2/nm", 1.0), ("mW/m²/nm", 1e-3), ("uW/cm2/nm", 1e-2)]
)
def test_a_stated_unit_gives_lux(label: str, factor: float) -> None:
    rows = "\n".join(f"{x},{y}" for x, y in zip(X, Y, strict=True))
    (table,) = parse_tables(f"wavelength (nm),{label}\n{rows}".encode(), "f.csv")
    lux = float(find_illuminance_lux(np.interp(WAVELENGTHS_NM, X, Y))) * factor
    assert make_readings(table, [0], True)[0].illuminance_lux == pytest.approx(lux, rel=1e-4)
    assert "irradiance" in explain_curve(table, 0)


def test_lux_of_a_wide_table() -> None:
    text = "irradiance in mW/m2/nm\n" + across()
    (table,) = parse_tables(text.encode(), "f.csv")
    lux = float(find_illuminance_lux(np.interp(WAVELENGTHS_NM, X, Z))) * 1e-3
    assert make_readings(table, [1], False)[0].illuminance_lux == pytest.approx(lux, rel=1e-4)


# What was understood -----------------------------------------------------------------------------


def test_what_was_understood_can_be_printed() -> None:
    rows = "\n".join(f"{x};{y};{z}".replace(".", ",") for x, y, z in zip(X, Y, Z, strict=True))
    (table,) = parse_tables(f"nm;lamp;sky\n{rows}".encode(), "f")
    said = explain_curve(table, 1)
    for part in (
        "380 to 780 nm every 5 nm",
        "column 3 'sky'",
        "relative values",
        "columns separated by semicolon",
        "commas read as decimal signs",
    ):
        assert part in said
    assert said.isprintable()


# CIE 15:2018 chromaticities, each illuminant written to disk in each kind of file
@pytest.mark.parametrize("kind", ["upright", "wide", "xml", "decimal comma", "descending percent"])
@pytest.mark.parametrize(
    ("name", "x", "y", "cct_kelvin"),
    [
        ("A", 0.4476, 0.4074, 2856),
        ("D65", 0.3127, 0.3290, 6504),
        ("FL2", 0.3721, 0.3751, 4230),
        ("FL11", 0.3805, 0.3769, 4000),
        ("LED-B3", 0.3756, 0.3723, 4103),
    ],
)
def test_published_colours_from_every_kind_of_file(
    tmp_path: Path, kind: str, name: str, x: float, y: float, cct_kelvin: float
) -> None:
    # 5 nm, where CIE 15 tabulates them
    points = list(zip(range(380, 781, 5), find_source(name).values[::5].tolist(), strict=True))
    text = {
        "upright": lambda: "\n".join(f"{a},{b!r}" for a, b in points),
        "wide": lambda: (
            "name,"
            + ",".join(str(a) for a, _ in points)
            + "\nlamp,"
            + ",".join(repr(b) for _, b in points)
        ),
        "xml": lambda: xml(*points, quantity="relative"),
        "decimal comma": lambda: "\n".join(f"{a};{b!r}".replace(".", ",") for a, b in points),
        "descending percent": lambda: "\n".join(f"{a}\t{100 * b:.12f} %" for a, b in points[::-1]),
    }[kind]()
    path = tmp_path / "light.dat"
    path.write_text(text)
    (light,) = read_lights(path)
    np.testing.assert_allclose(find_xy(light.spectrum.values), [x, y], atol=2e-4)
    assert find_cct_duv(light.spectrum.values)[0] == pytest.approx(cct_kelvin, rel=2e-3)


# Hostile input -----------------------------------------------------------------------------------


def swap(line: int, text: str, base: str) -> str:
    lines = base.splitlines()
    lines[line] = text
    return "\n".join(lines)


WIDE = across()
ROW, SECOND = WIDE.splitlines()[1:]
ENTITY = (
    '<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">'
    '<!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;">]>'
)

BAD: dict[str, tuple[str | bytes, list[str]]] = {
    # tables on their side; upright ones stand in the tests of `readers`
    "wide: no reading": (WIDE.splitlines()[0], ["line of wavelengths and no reading"]),
    "wide: short reading": (ROW[:-40], []),
    "wide: too few values": (
        "\n".join([WIDE.splitlines()[0], ROW.rsplit(",", 3)[0]]),
        ["f:2: found a reading of 78 values; allowed: 81, one for each wavelength"],
    ),
    "wide: a word": (
        swap(1, ROW.replace(f",{Y[3]:g},", ",high,", 1), WIDE),
        ["f:2: column 6: found 'high'; allowed: a number"],
    ),
    "wide: an empty cell": (
        swap(1, ROW.replace(f",{Y[3]:g},", ",,", 1), WIDE),
        ["f:2: column 6: found an empty cell"],
    ),
    "wide: NaN": (swap(2, SECOND.replace(",0.5,", ",NaN,", 1), WIDE), ["'NaN'"]),
    "wide: infinity": (swap(2, SECOND.replace(",0.5,", ",1e999,", 1), WIDE), ["1e999"]),
    "wide: negative": (across(values=(Y, -Z)), ["f: reading 2: found -1.3", "below -5.0%"]),
    "wide: zeros": (across(values=(0 * Y, Z)), ["f: reading 1: found nothing but zeros"]),
    "wide: both decimal signs": (
        across(";", values=(Y, Z), decimal=",") + "x;1;" + ";".join(["0.5"] * 81),
        ["f:4", "both decimal points and decimal commas"],
    ),
    "wide: too short a range": (
        across(x=X[X < 660], values=(Y[X < 660], Z[X < 660])),
        ["data from 380 to 655 nm", "420 to 680 nm"],
    ),
    "wide: percent in some cells": (across().replace(f",{Z[4]:g},", f",{Z[4]:g}%,", 1), ["%'"]),
    # XML
    "xml: entities": (xml(before=ENTITY), ["f:1: found a document type or an entity"]),
    "xml: an outside file": (
        xml(before='<!DOCTYPE a SYSTEM "file:///etc/passwd">'),
        ["a document type or an entity", "without DOCTYPE"],
    ),
    "xml: cut off": (xml()[:-30], ["XML that breaks off", "well-formed XML"]),
    "xml: another root": ("<html><body/></html>", ["the root element 'html'", "IESTM2714"]),
    "xml: no distribution": (
        '<IESTM2714><Header/></IESTM2714>', ["no SpectralDistribution", "one or more"]
    ),
    "xml: word as value": (
        xml((400, "high"), *zip(X, Y, strict=True)),
        ["f:3: SpectralData: found 'high'; allowed: a finite number"],
    ),
    "xml: NaN": (xml((400, "NaN")), ["'NaN'", "a finite number"]),
    "xml: infinite wavelength": (xml(("1e999", 1)), ["wavelength: found '1e999'"]),
    "xml: no wavelength": (
        xml().replace(' wavelength="400"', ""), ["f:7: wavelength: found nothing"]
    ),
    "xml: underscore": (xml((400, "1_0")), ["'1_0'"]),
    "xml: twice": (xml(*zip(X, Y, strict=True), (400, 1)), ["400 nm twice", "wavelength once"]),
    "xml: unknown quantity": (
        xml(quantity="brightness"), ["'brightness'", "SpectralQuantity one of flux"]
    ),
    "xml: no quantity": (xml(quantity=""), ["found none", "SpectralQuantity one of"]),
    "xml: no light": (xml(quantity="transmittance"), ["values of transmittance", "of a light"]),
    "xml: four points": (xml(*zip(X[:4], Y[:4], strict=True)), ["4 points", "at least 5"]),
    "xml: negative": (xml(*zip(X, Y - 0.4, strict=True)), ["no value below -5.0%"]),
    "xml: zeros": (xml(*zip(X, 0 * Y, strict=True)), ["nothing but zeros"]),
    "xml: range": (xml(*zip(X[X < 670], Y[X < 670], strict=True)), ["380 to 665 nm", "420 to 680"]),
    "xml: hole": (
        xml(*zip(X[(X < 500) | (X > 530)], Y[(X < 500) | (X > 530)], strict=True)),
        ["a gap from 495 to 535 nm", "steps of at most 20 nm"],
    ),
    "xml: deep": (
        "<IESTM2714>" + "<a>" * 5000, ["elements nested too deep", "at most 32 levels"]
    ),
    "xml: stray data": (
        '<IESTM2714><SpectralData wavelength="400">1</SpectralData></IESTM2714>',
        ["SpectralData by itself"],
    ),
    "xml: unknown encoding": (
        b'<?xml version="1.0" encoding="klingon"?><IESTM2714/>', ["f:1: found"]
    ),
    "xml: binary after": (b"<IESTM2714>\x00\x01", ["XML that breaks off"]),
    "no visible light": (
        "\n".join(f"{x},{1 if x > 900 else 0}" for x in range(380, 1000, 5)),
        ["column 2: found a spectrum without any visible light"],
    ),
}  # fmt: skip


def refuse(act: Callable[[], object]) -> str:
    with pytest.raises(InputError) as caught:
        act()
    text = str(caught.value)
    assert text.isprintable(), "an error is one line"
    assert text.startswith("f")
    assert len(text) < 330
    return text


@pytest.mark.parametrize("name", BAD)
def test_mistakes_are_refused_where_they_stand(name: str) -> None:
    raw, fragments = BAD[name]
    data = raw if isinstance(raw, bytes) else raw.encode()

    def read() -> None:
        for table in parse_tables(data, "f"):
            make_readings(table, [0], True)[0]

    message = refuse(read)
    for fragment in fragments:
        assert fragment in message


def test_a_chosen_gap_passes_and_a_hole_does_not() -> None:
    """Steps that differ all along were chosen; one long step among equal ones is a hole."""
    random = np.random.default_rng(3)
    chosen = np.unique(np.round(380 + np.cumsum(random.uniform(1, 12, 62)), 1))
    chosen = chosen[(chosen < 500) | (chosen > 521)]
    lines = [f"{x},{1 + i % 3}" for i, x in enumerate(chosen)]
    (table,) = parse_tables("\n".join(lines).encode(), "f")
    assert any("coarse steps" in note for note in table.notes)
    evenly = [x for x in X if not 500 <= x <= 521]
    text = "\n".join(f"{x},1" for x in evenly)
    assert "a gap from 495 to 525 nm" in refuse(lambda: parse_tables(text.encode(), "f"))


def test_a_large_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "f.spdx"
    with path.open("wb") as stream:
        stream.truncate(100_000_000)
    with pytest.raises(SpectrumError, match=r"a file of 100\.0 MB"):
        read_lights(path)


# Round trips -------------------------------------------------------------------------------------


@st.composite
def spectra(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    step = draw(st.integers(1, 20))
    start = draw(st.integers(340, 419))
    x = np.arange(start, 681 + step, step) + draw(st.sampled_from([0.0, 0.25]))
    random = np.random.default_rng(draw(st.integers(0, 2**32)))
    count = draw(st.integers(1, 4))
    return x, 10.0 ** random.uniform(-6, 6, (x.size, count))


@given(
    spectra(),
    st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", ","), ("\t", ".")]),
    st.sampled_from(["{}", "{} nm", "nm{}", "W_{}"]),
    st.booleans(),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_wide_tables_come_back(
    drawn: tuple[np.ndarray, np.ndarray],
    dialect: tuple[str, str],
    heading: str,
    turned: bool,
    encoding: str,
) -> None:
    x, values = drawn
    separator, decimal = dialect
    order = slice(None, None, -1 if turned else 1)
    head = ["name", *(heading.format(repr(float(each))) for each in x[order])]
    lines = [separator.join(head).replace(".", decimal)]
    for number, column in enumerate(values.T):
        cells = [f"lamp {number}", *(repr(float(each)) for each in column[order])]
        lines.append(separator.join(cells).replace(".", decimal))
    (table,) = parse_tables("\n".join(lines).encode(encoding), "f")
    np.testing.assert_array_equal(table.wavelength_nm, x)
    np.testing.assert_array_equal(table.values, values)
    assert table.labels == tuple(f"lamp {number}" for number in range(values.shape[1]))


@given(spectra(), st.sampled_from(["irradiance", "relative", "flux"]))
def test_tm27_files_come_back(drawn: tuple[np.ndarray, np.ndarray], quantity: str) -> None:
    x, values = drawn
    parts = [
        xml(*zip(x.tolist(), column.tolist(), strict=True), quantity=quantity)
        .split("</Header>")[1]
        .removesuffix("</IESTM2714>")
        for column in values.T
    ]
    text = f'<?xml version="1.0"?><IESTM2714><Header/>{"".join(parts)}</IESTM2714>'
    tables = parse_tables(text.encode(), "f")
    assert len(tables) == values.shape[1]
    for table, column in zip(tables, values.T, strict=True):
        np.testing.assert_array_equal(table.wavelength_nm, x)
        np.testing.assert_array_equal(table.values[:, 0], column)
        assert table.quantities[0].name == quantity


@given(
    st.binary(max_size=400), st.sampled_from([b"", b"<IESTM2714>", b"a,b\n380,1\n", b"\xff\xfe"])
)
def test_arbitrary_bytes_are_read_or_refused(data: bytes, start: bytes) -> None:
    message = ""
    try:
        parse_tables(start + data, "f")
    except InputError as error:
        message = str(error)
    assert message.isprintable()


@given(st.integers(0, 200), st.text(max_size=6))
def test_a_damaged_wide_table_is_read_or_refused(place: int, text: str) -> None:
    cells = WIDE.split(",")
    cells[place % len(cells)] = text
    message = ""
    try:
        (table,) = parse_tables(",".join(cells).encode("utf-8", "replace"), "f")
        assert (table.values >= 0).all()
    except InputError as error:
        message = str(error)
    assert message.isprintable()


def test_a_control_character_before_a_percent_sign() -> None:
    """Found by the fuzzer: only a space of some kind may stand there."""
    rows = "\n".join(f"{x},{y}\x1d%" for x, y in zip(X, Y, strict=True))
    refuse(lambda: parse_tables(rows.encode(), "f"))
    (table,) = parse_tables(rows.replace("\x1d", "\u202f").encode(), "f")
    np.testing.assert_allclose(table.values[:, 0], Y / 100)


@pytest.mark.parametrize(
    "cell", ["_" * 60 + "x!", "a_" * 40, "(" * 60, "1" * 5000, "nm" * 3000 + "380"]
)
def test_hostile_headings_cost_no_time(cell: str) -> None:
    refuse(lambda: parse_tables((",".join([cell] * 30) + "\n1,2\n").encode(), "f"))


def test_a_second_wavelength_beyond_all_numbers_is_refused() -> None:
    """Found by mutation: what may be a second column of wavelengths holds 51e308."""
    text = (
        "nm;a;nm;b\n400;1;410;1\n420;0;430;1\n440;6;450;1\n510;1\n520;2;51e308\n"
        "540;1;51e308;1\n560;0;570;1\n580;6;590;1\n600;5;610;1\n620;4;630;1\n640;3;650;1\n"
        "660;2;670;1\n680;1;690;1\n700;0;710;1\n720;1;;\n680;1;690;1\n740;2;;\n"
    )
    with pytest.raises(InputError):
        parse_tables(text.encode(), "f")
