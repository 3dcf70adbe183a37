"""Spectra beside each other, each over wavelengths of its own."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.core.errors import SpectrumError
from wbplan.read.spectra.files import parse_tables


def rise(nm: int) -> float:
    return 0.001 * nm


def fall(nm: int) -> float:
    return 2.0 - 0.001 * nm


def write(separator: str, head: str = "wavelength (nm){0}key{0}wavelength (nm){0}fill") -> str:
    """The first by 5 nm from 380, the second by 10 from 400, so that it ends first."""
    lines = [head.format(separator)]
    for row in range(81):
        one, two = 380 + 5 * row, 400 + 10 * row
        beside = [f"{two}", f"{fall(two):.4f}"] if two <= 760 else ["", ""]
        lines.append(separator.join([f"{one}", f"{rise(one):.4f}", *beside]))
    return "\n".join(lines)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_each_over_its_own(separator: str) -> None:
    one, two = parse_tables(write(separator).encode(), "f.csv")
    assert (one.labels, two.labels) == (("key",), ("fill",))
    np.testing.assert_array_equal(one.wavelength_nm, np.arange(380, 781, 5))
    np.testing.assert_array_equal(two.wavelength_nm, np.arange(400, 761, 10))
    np.testing.assert_allclose(one.values[:, 0], rise(one.wavelength_nm), atol=1e-4)  # type: ignore[arg-type]
    np.testing.assert_allclose(two.values[:, 0], fall(two.wavelength_nm), atol=1e-4)  # type: ignore[arg-type]
    assert "2 columns of wavelengths" in one.notes[-2] + one.notes[-1]


def test_without_labels() -> None:
    text = "\n".join(f"{380 + 5 * n}\t{n % 7}\t{382 + 5 * n}\t{n % 5}" for n in range(81))
    one, two = parse_tables(text.encode(), "f.csv")
    assert two.wavelength_nm[0] == 382
    assert (one.labels, two.labels) == (("column 2",), ("column 4",))


def test_the_same_wavelengths_twice_are_one_table() -> None:
    text = "nm,a,nm,b\n" + "\n".join(f"{380 + 5 * n},{n % 7},{380 + 5 * n},1" for n in range(81))
    (table,) = parse_tables(text.encode(), "f.csv")
    assert table.wavelength_nm.size == 81


def test_a_fault_of_the_second_names_its_column() -> None:
    lines = write(",").split("\n")
    lines[5] = lines[5].replace(lines[5].split(",")[3], "oops")
    with pytest.raises(SpectrumError, match=r"f\.csv:6: column 4"):
        parse_tables("\n".join(lines).encode(), "f.csv")


def test_a_curve_that_rises_is_no_column_of_wavelengths() -> None:
    text = "nm,a,b\n" + "\n".join(f"{380 + 5 * n},{300 + 6 * n},1" for n in range(81))
    (table,) = parse_tables(text.encode(), "f.csv")
    assert table.labels == ("a", "b")
