"""Spectra as files: read back by wbplan's own readers, by colour-science and by the csv module."""

from __future__ import annotations

import csv
import io
import math
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from defusedxml import ElementTree
from hypothesis import given, settings
from hypothesis import strategies as st

from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.read.catalogue import find_source
from wbplan.read.spectra.files import read_tables
from wbplan.read.spectra.tm27 import parse_tm27
from wbplan.read.spectra.upright import parse_table
from wbplan.record.spectra import (
    CSV_HEADER,
    NAMESPACE,
    NO_DATE,
    format_spectrum_csv,
    format_tm27,
    scale_to_peak,
)

LIGHTS = ["A", "FL2", "HP1", "LED-B3", "D65"]
WHEN = datetime(2026, 6, 21, 14, 30, tzinfo=timezone(timedelta(hours=2)))
NASTY = [
    "=cmd|'/c calc'!A1",
    '</Comments><!DOCTYPE x [<!ENTITY a "b">]>&a;',
    "]]> <![CDATA[ & \u202egnp.exe",
    "bell \x07 null \x00 lone \ud800 no character \ufffe\uffff",
    "../../etc/passwd",
]


def write(name: str = "FL2", **changes: object) -> bytes:
    given: dict[str, object] = {
        "description": "tubes, kitchen",
        "creator": "wbplan 0.1.0",
        "identifier": "ab12-1-2",
        "when": WHEN,
        "comments": ["Power per nm."],
        **changes,
    }
    return format_tm27(find_source(name).values, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", LIGHTS)
def test_own_reader_reads_the_xml_back(name: str) -> None:
    (table,) = parse_tm27(write(name), "x.xml")
    assert np.array_equal(table.wavelength_nm, WAVELENGTHS_NM)
    wanted = find_source(name).values / find_source(name).values.max()
    assert table.values[:, 0] == pytest.approx(wanted, rel=0, abs=5.1e-9)
    assert table.quantities[0].name == "relative"
    assert table.labels == ("tubes, kitchen",)


@pytest.mark.parametrize("name", LIGHTS)
def test_the_library_reads_the_xml(name: str, tmp_path: Path, colour: ModuleType) -> None:
    """colour-science 0.4's reader of IES TM-27-14, and what it says the header must have."""
    path = tmp_path / "light.xml"
    path.write_bytes(write(name))
    sd = colour.SpectralDistribution_IESTM2714(str(path)).read()
    assert np.array_equal(sd.wavelengths, WAVELENGTHS_NM)
    wanted = find_source(name).values / find_source(name).values.max()
    assert sd.values == pytest.approx(wanted, rel=0, abs=5.1e-9)
    assert sd.spectral_quantity == "relative"
    for each in sd.header.mapping.elements:
        if each.required:
            assert getattr(sd.header, each.attribute), each.element
    assert sd.header.unique_identifier == "ab12-1-2"
    assert sd.header.document_creation_date == "2026-06-21T12:30:00Z"
    assert sd.header.manufacturer is None  # nobody said who made it


def test_elements_stand_in_the_order_of_the_library(colour: ModuleType) -> None:
    """The schema of TM-27-14 is a sequence; its order as colour-science 0.4 writes it."""
    from colour.io import Header_IESTM2714

    order = [each.element for each in Header_IESTM2714().mapping.elements]
    root = ElementTree.fromstring(write())
    assert root.tag == f"{{{NAMESPACE}}}IESTM2714"
    assert root.attrib == {"version": "1.0"}
    names = [each.tag.partition("}")[2] for each in root[0]]
    assert [order.index(name) for name in names] == sorted(order.index(name) for name in names)
    assert root[1][0].tag.endswith("SpectralQuantity")


def test_the_date_is_the_planned_moment_or_plainly_none() -> None:
    for when, wanted, said in (
        (WHEN, "2026-06-21T12:30:00Z", "planned for"),
        (None, NO_DATE, "no"),
    ):
        root = ElementTree.fromstring(write(when=when))
        text = {each.tag.partition("}")[2]: each.text or "" for each in root[0]}
        assert text["DocumentCreationDate"] == wanted
        assert datetime.fromisoformat(wanted).tzinfo == UTC  # XML Schema dateTime, ISO 8601
        assert said in text["Comments"]


def test_bytes_are_the_same_each_time() -> None:
    assert write() == write()
    assert format_spectrum_csv(find_source("A").values) == format_spectrum_csv(
        find_source("A").values
    )


@pytest.mark.parametrize("nasty", NASTY)
def test_nasty_text_is_text(nasty: str) -> None:
    raw = write(description=nasty, comments=[nasty])
    root = ElementTree.fromstring(raw)  # refuses entities and what XML 1.0 does not allow
    text = {each.tag.partition("}")[2]: each.text or "" for each in root[0]}
    assert len(root) == 2
    assert len(root[0]) == 5
    plain = nasty.translate(dict.fromkeys((0, 7, 0xD800, 0x202E, 0xFFFE, 0xFFFF), "\ufffd"))
    assert text["Description"] == plain
    assert text["Comments"].startswith(plain)
    (table,) = parse_tm27(raw, "x.xml")
    assert table.values.shape == (401, 1)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60))
def test_any_text_makes_well_formed_xml(text: str) -> None:
    root = ElementTree.fromstring(write("D65", description=text, comments=[text]))
    assert len(root[0]) == 5


@pytest.mark.parametrize("name", LIGHTS)
def test_csv_reads_back(name: str, tmp_path: Path) -> None:
    """RFC 4180 by the csv module, and wbplan's own reader without anything to repair."""
    raw = format_spectrum_csv(find_source(name).values)
    assert raw.endswith(b"\r\n")
    assert raw.count(b"\r\n") == raw.count(b"\n") == 402
    rows = list(csv.reader(io.StringIO(raw.decode("ascii"), newline="")))
    assert rows[0] == CSV_HEADER.split(",") == ["wavelength_nm", "relative_power_per_nm"]
    assert {len(row) for row in rows} == {2}
    wanted = find_source(name).values / find_source(name).values.max()
    assert [float(row[1]) for row in rows[1:]] == pytest.approx(list(wanted), rel=0, abs=5.1e-9)
    table = parse_table(raw.decode("ascii"), "x.csv")
    assert table.values[:, 0] == pytest.approx(wanted, rel=0, abs=5.1e-9)
    assert np.array_equal(table.wavelength_nm, WAVELENGTHS_NM)
    assert table.notes == ("columns separated by comma", "header: line 1")  # nothing to repair
    assert math.isnan(table.find_quantity(0).factor)
    path = tmp_path / "x.csv"
    path.write_bytes(raw)
    assert read_tables(path, 2)[0].values.shape == (401, 1)


def test_csv_has_no_cell_that_a_spreadsheet_takes_for_a_formula() -> None:
    rows = format_spectrum_csv(find_source("HP1").values).decode("ascii").split("\r\n")
    cells = [cell for row in rows for cell in row.split(",") if cell]
    assert all(cell[0] not in "=+-@\t\r" for cell in cells)


def test_a_light_without_power_is_refused() -> None:
    with pytest.raises(ValueError, match="without power"):
        scale_to_peak(np.zeros(401))
