"""The tables that ship: held against the library they were made from and against printed values."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from wbplan.core.tables import list_chart_patches, list_source_records, load_table
from wbplan.light.spectrum import WAVELENGTHS_NM

SHAPES = {
    "observer": (401, 3),
    "photopic": (401,),
    "daylight": (401, 3),
    "samples": (99, 401),
    "chart": (24, 401),
}


def at(wavelength_nm: float) -> int:
    return int(np.searchsorted(WAVELENGTHS_NM, wavelength_nm))


@pytest.mark.parametrize("name", SHAPES)
def test_tables_are_whole_and_read_only(name: str) -> None:
    table = load_table(name)
    assert table.shape == SHAPES[name]
    assert table.dtype == np.float64
    assert np.isfinite(table).all()
    with pytest.raises(ValueError, match="read-only"):
        table[0] = 1


def test_an_unknown_table_is_an_error() -> None:
    with pytest.raises(KeyError):
        load_table("nothing")


# CIE 15:2018, colour-matching functions of the 1931 observer (from memory of the printed table).
@pytest.mark.parametrize(
    ("wavelength_nm", "matching"),
    [
        (450, (0.3362, 0.0380, 1.7721)),
        (555, (0.5121, 1.0000, 0.0057)),
        (600, (1.0622, 0.6310, 0.0008)),
    ],
)
def test_observer_against_print(wavelength_nm: float, matching: tuple[float, ...]) -> None:
    found = load_table("observer")[at(wavelength_nm)]
    np.testing.assert_allclose(found, matching, atol=1e-4)


def test_observer_against_the_library(colour: ModuleType) -> None:
    theirs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    rows = np.isin(theirs.wavelengths, WAVELENGTHS_NM)
    np.testing.assert_array_equal(load_table("observer"), theirs.values[rows])


def test_photopic_curve_is_the_green_one() -> None:
    # CIE 15:2018: the 1931 y-bar is V(lambda); its maximum is 1 at 555 nm by definition.
    photopic = load_table("photopic")
    assert photopic.max() == photopic[at(555)] == 1
    np.testing.assert_allclose(photopic, load_table("observer")[:, 1], atol=1e-5)


# CIE 15:2018, table of daylight components (from memory of the printed table).
@pytest.mark.parametrize(
    ("wavelength_nm", "components"),
    [(380, (63.4, 38.5, 3.0)), (560, (100.0, 0.0, 0.0)), (600, (90.5, -5.8, 3.2))],
)
def test_daylight_components(wavelength_nm: float, components: tuple[float, ...]) -> None:
    np.testing.assert_allclose(load_table("daylight")[at(wavelength_nm)], components)


@pytest.mark.parametrize("name", ["samples", "chart"])
def test_reflectances_lie_from_none_to_all(name: str) -> None:
    table = load_table(name)
    assert table.min() >= 0
    assert table.max() <= 1


def test_chart_patches_have_names() -> None:
    names = list_chart_patches()
    assert names == tuple(str(number) for number in range(1, SHAPES["chart"][0] + 1))


def test_chart_against_the_library(colour: ModuleType) -> None:
    theirs = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    assert list(theirs)[18].startswith("white")  # patches go row by row, greys last
    for row, sd in enumerate(theirs.values()):
        found = np.interp(sd.wavelengths, WAVELENGTHS_NM, load_table("chart")[row])
        inside = np.isin(sd.wavelengths, WAVELENGTHS_NM)
        np.testing.assert_allclose(found[inside], sd.values[inside], atol=1e-7)


def test_every_source_has_a_record() -> None:
    records, table = list_source_records(), load_table("sources")
    assert table.shape == (len(records), WAVELENGTHS_NM.size)
    assert [each.row for each in records] == list(range(len(records)))
    assert len({each.name for each in records}) == len(records)
    for record in records:
        assert record.dataset
        values = table[record.row]
        if record.last_nm < 680:  # too short to be used: never numbers that look like data
            assert np.isnan(values).all()
        else:
            assert values.min() >= 0
            assert values.max() == pytest.approx(1, rel=1e-6)


def test_illuminants_pass_through_the_published_points(colour: ModuleType) -> None:
    table, checked = load_table("sources"), 0
    for record in list_source_records():
        if record.name not in colour.SDS_ILLUMINANTS or record.last_nm < 680:
            continue
        sd = colour.SDS_ILLUMINANTS[record.name]
        inside = np.isin(sd.wavelengths, WAVELENGTHS_NM)
        at_theirs = np.isin(WAVELENGTHS_NM, sd.wavelengths)
        mine, theirs = table[record.row][at_theirs], sd.values[inside]
        # one scale for all; single precision in the file
        np.testing.assert_allclose(mine * theirs.sum() / mine.sum(), theirs, rtol=1e-6, atol=1e-9)
        checked += 1
    assert checked > 40
