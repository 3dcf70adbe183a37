"""Text tables of spectra: the dialects understood, the mistakes refused, and the places named."""

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.errors import SpectrumError, UnknownNameError
from wbplan.read.spectra.upright import MAX_TABLE_BYTES, Table, parse_table, read_table

WAVELENGTH = np.arange(380, 785, 5)
VALUE = np.round(0.3 + 0.25 * np.sin(WAVELENGTH / 60), 4)


def write(
    separator: str = ",",
    *,
    header: str = "wavelength_nm,value\n",
    decimal: str = ".",
    scale: float = 1.0,
    unit: float = 1.0,
    mark: str = "",
    tail: str = "",
    end: str = "\n",
) -> str:
    """Write the reference curve in a dialect."""
    lines = [
        f"{x * unit:.10g}{separator}{y * scale:.10g}{mark}".replace(".", decimal) + tail
        for x, y in zip(WAVELENGTH, VALUE, strict=True)
    ]
    return header + end.join(lines) + end


GOOD: dict[str, tuple[str, list[str]]] = {
    "comma": (write(), ["separated by comma"]),
    "comma and space": (write(", ", header="wavelength_nm, value\n"), []),
    "semicolon": (write(";", header="wavelength_nm;value\n"), ["separated by semicolon"]),
    "tab": (write("\t", header="wavelength_nm\tvalue\n"), ["separated by tab"]),
    "spaces": (write("   ", header=" wavelength (nm)  value\n"), ["separated by spaces"]),
    "no header": (write(header=""), ["no unit stated"]),
    "decimal comma, semicolon": (write(";", decimal=","), ["commas read as decimal signs"]),
    "decimal comma, tab": (write("\t", decimal=","), ["commas read as decimal signs"]),
    "decimal comma, spaces": (write(" ", decimal=","), ["commas read as decimal signs"]),
    "byte order mark": ("\ufeff" + write(), ["byte order mark"]),
    "CRLF": (write(end="\r\n"), []),
    "CR": (write(end="\r").replace("\n", "\r"), []),
    "no line end at the end": (write().rstrip("\n"), []),
    "blank lines": (write(end="\n\n  \n"), []),
    "empty spreadsheet rows": (write() + ",\n,\n", []),
    "trailing separators": (write(tail=",,"), []),
    "trailing semicolons": (write(";", tail=";"), []),
    "quotes": (
        "\n".join(f'"{x}","{y}"' for x, y in zip(WAVELENGTH, VALUE, strict=True)),
        [],
    ),
    "comments": ("# made up\n// twice\n;thrice\n" + write(end="\n# again\n"), []),
    "metadata": (
        write(
            header="Operator,A. N. Other\nDate,2024-05-06\n\nIntegration time (ms),40,auto\nnm,y\n"
        ),
        ["header: line 1 to 5"],
    ),
    "metadata alone": (write(header="Kitchen at dusk\n"), ["no labels or units taken"]),
    "micrometres": (write(header="wavelength (um),y\n", unit=1e-3), ["converted to nm"]),
    "micro sign": (write(header="wavelength [µm],y\n", unit=1e-3), ["converted to nm"]),
    "metres": (write(header="wavelength_m,y\n", unit=1e-9), ["converted to nm"]),
    "unit in a comment": (
        write(header="# lambda (um),y\n", unit=1e-3),
        ["comment in line 1", "converted to nm"],
    ),
    "footer": (write() + "End of data\n", ["words below the table passed over"]),
    "numbers above": (write(header="0,1\n"), ["numbers above the table passed over, in line 1"]),
    "percent cells": (write(scale=100, mark=" %"), ["percent divided by 100"]),
    "percent label": (write(header="nm,T (%)\n", scale=100), ["percent divided by 100"]),
    "percent in words": (write(header="nm,percent\n", scale=100), ["percent divided by 100"]),
    "percent, both ways": (write(header="nm,%\n", scale=100, mark="%"), ["percent divided"]),
    "a percentage in metadata is no unit": (write(header="Humidity,45 %\n"), []),
    "descending": (
        "wavelength_nm,value\n" + "\n".join(write(header="").splitlines()[::-1]),
        ["descending"],
    ),
}


@pytest.mark.parametrize("name", GOOD)
def test_every_dialect_gives_the_same_arrays(name: str) -> None:
    text, fragments = GOOD[name]
    table = parse_table(text, "lamp.csv")
    np.testing.assert_array_equal(table.wavelength_nm, WAVELENGTH)
    np.testing.assert_allclose(table.values[:, 0], VALUE, rtol=1e-14)
    assert table.values.shape == (WAVELENGTH.size, 1)
    assert table.source == "lamp.csv"
    notes = "; ".join(table.notes)
    assert notes.isprintable()
    for fragment in fragments:
        assert fragment in notes
    for word in ("decimal", "percent", "converted", "descending", "negative"):
        assert (word in notes) == any(word in fragment for fragment in fragments)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "lamp.csv"
    path.write_bytes(write(header="wavelength (µm),y\n", unit=1e-3).encode(encoding))
    table = read_table(path)
    np.testing.assert_array_equal(table.wavelength_nm, WAVELENGTH)
    assert table.source == str(path)
    notes = "; ".join(table.notes)
    assert ("UTF-16" in notes) == (encoding == "utf-16")
    assert ("Windows-1252" in notes) == (encoding == "cp1252")


MANY = "nm,Key lamp,fill_lamp,,T %\n" + "\n".join(
    f"{x},{y},{2 * y:.4f},1,{50}" for x, y in zip(WAVELENGTH, VALUE, strict=True)
)


def test_columns_by_label_and_number() -> None:
    table = parse_table(MANY, "f", columns=None)
    assert table.labels == ("Key lamp", "fill_lamp", "column 4", "T %")
    np.testing.assert_array_equal(table.column("key-lamp"), VALUE)
    np.testing.assert_array_equal(table.column(2), VALUE)
    np.testing.assert_allclose(table.column("Fill Lamp"), 2 * VALUE)
    np.testing.assert_array_equal(table.column(5), 0.5)
    np.testing.assert_array_equal(table.column(4), 1)


@pytest.mark.parametrize(
    ("which", "fragments"),
    [
        ("kei lamp", ["f: found", "'kei lamp'", "mean 'Key lamp'"]),
        (1, ["column 1", "from 2 to 5", "wavelength"]),
        (6, ["column 6", "from 2 to 5"]),
    ],
)
def test_unknown_columns(which: str | int, fragments: list[str]) -> None:
    table = parse_table(MANY, "f", columns=None)
    with pytest.raises(UnknownNameError) as caught:
        table.column(which)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_label_over_two_columns_needs_a_number() -> None:
    table = parse_table(MANY.replace("fill_lamp", "Key_Lamp"), "f", columns=None)
    np.testing.assert_array_equal(table.column("Key lamp"), VALUE)
    with pytest.raises(UnknownNameError, match="numbers 2 and 3"):
        table.column("key lamp")


def test_a_table_is_immutable() -> None:
    source = VALUE[:, None].copy()
    table = Table(WAVELENGTH.astype(float), source, ("y",))
    source[0] = 9
    assert table.values[0, 0] == VALUE[0]
    with pytest.raises(ValueError, match="read-only"):
        table.values[0] = 1
    with pytest.raises(ValueError, match="read-only"):
        table.column(2)[0] = 1


def test_small_negative_values_become_zero_with_a_note() -> None:
    table = parse_table(swap("390,", "390,-0.002"), "f")
    assert table.values[2, 0] == 0
    assert "within noise set to zero: 1" in "; ".join(table.notes)


def test_coarse_steps_are_noted() -> None:
    lines = write().splitlines()
    del lines[41:44]  # 575 is line 41 of the file, so 575 to 590 nm go
    notes = "; ".join(parse_table("\n".join(lines), "f").notes)
    assert "coarse steps: the widest is 575 to 595 nm" in notes


def swap(start: str, new: str) -> str:
    """Write the reference table with the row that begins with ``start`` replaced."""
    return "".join(
        new + "\n" if line.startswith(start) else line for line in write().splitlines(keepends=True)
    )


def cut(low: float, high: float) -> str:
    """Write the reference table without the rows from ``low`` to ``high``."""
    lines = write().splitlines()
    return "\n".join(
        [lines[0], *(one for one in lines[1:] if not low <= float(one.split(",")[0]) <= high)]
    )


BAD: dict[str, tuple[str, list[str]]] = {
    "empty": ("", ["f: found an empty file"]),
    "blank": ("\n \r\n\t\n", ["an empty file"]),
    "binary": (write() + "\0", ["f:83: found binary data"]),
    "words": ("dear\nall\n", ["f:1: found no row of numbers", "380, 0.52"]),
    "comments alone": ("# 380,1\n", ["no row of numbers"]),
    "one column": ("380\n385\n390\n", ["f:1: found only one column"]),
    "four rows": ("\n".join(write().splitlines()[:5]), ["f:5: found 4 rows", "at least 5"]),
    "three columns": (
        write(tail=",1"),
        ["f:2: found 3 columns", "2 columns", "decimal comma needs another separator"],
    ),
    "word among numbers": (swap("390,", "390,high"), ["f:4: column 2: found 'high'", "a number"]),
    "bad first row": (
        write(header="nm,y\n370,--\n"),
        ["f:2: column 2: found '--'", "a number"],
    ),
    "short first row": (write(header="nm,y\n370,\n"), ["f:2: found a row of 1", "2 columns"]),
    "thousands": (write(";", header="375;1.234,5\n"), ["f:1: column 2: found '1.234,5'"]),
    "underscore": (swap("390,", "390,1_0"), ["'1_0'"]),
    "hexadecimal": (swap("390,", "390,0x1"), ["'0x1'"]),
    "foreign digits": (swap("390,", "390,٣"), ["'٣'"]),
    "escape codes": (swap("390,", "390,\x1b[2J"), [r"'\x1b[2J'"]),
    "long cell": (swap("390,", "390," + "x" * 999), ["xxx...'"]),
    "empty cell": (swap("390,", "390,,1"), ["f:4: column 2: found an empty cell"]),
    "missing value": (swap("390,", "390,"), ["f:4: found a row of 1", "as in line 2"]),
    "ragged": (swap("390,", "390,1,2"), ["f:4: found a row of 3", "2 columns, as in line 2"]),
    "nan": (swap("390,", "390,NaN"), ["f:4: column 2: found 'NaN'", "a finite number"]),
    "inf": (swap("390,", "390,-inf"), ["'-inf'", "a finite number"]),
    "overflow": (swap("390,", "390,1e999"), ["f:4: column 2", "a finite number"]),
    "decimal sign changes": (
        write(";", header="375,0;0.5\n"),
        ["both decimal points and decimal commas"],
    ),
    "decimal sign changes later": (
        write(";") + "785;0,5\n",
        ["f:83: found both", "(lines 2 and 83)"],
    ),
    "percent in some cells": (swap("390,", "390,31 %"), ["f:4: column 2: found '31 %'", "none"]),
    "percent on wavelengths": (
        "\n".join(f"{x}%,1" for x in WAVELENGTH),
        ["f:1: column 1: found '380%'"],
    ),
    "negative": (swap("390,", "390,-0.1"), ["f:4: column 2: found -0.1", "-5.0%"]),
    "all negative": (write(scale=-1), ["column 2: found -", "no value below"]),
    "zeros": (write(scale=0), ["f: column 2: found nothing but zeros", "above 0"]),
    "zero column": (write(tail=",0"), ["f: column 3: found nothing but zeros"]),
    "unsorted": (
        swap("390,", "402,0.3"),
        ["f:5: column 1: found 395 nm after 402 nm", "rising"],
    ),
    "neighbours equal": (swap("390,", "385,0.3"), ["385 nm twice, in line 3 and line 4"]),
    "repeated far below": (write() + "385,1\n", ["f:83: column 1: found 385 nm twice", "line 3"]),
    "micrometres unsaid": (
        write(header="", unit=1e-3),
        ["f:1: column 1: found wavelengths from 0.38 to 0.78", "micrometres", "wavelength_um"],
    ),
    "metres called nm": (write(unit=1e-9), ["wavelengths from 3.8e-07", "wavelength_um"]),
    "nm called um": (write(header="wavelength_um,y\n"), ["380000 to 780000 nm"]),
    "frequency": (write(header="frequency (THz),y\n"), ["'frequency (THz)'", "nm, um or m"]),
    "two units": (write(header="nm or um,y\n"), ["'nm or um'"]),
    "starts late": (cut(0, 420), ["f: column 1: found", "425 to 780 nm", "420 to 680 nm"]),
    "ends early": (cut(680, 999), ["380 to 675 nm", "420 to 680 nm"]),
    "gap": (cut(510, 525), ["f:28: column 1: found a gap from 505 to 530 nm", "at most 20 nm"]),
    "gap over the edge": (cut(385, 400), ["a gap from 380 to 405 nm"]),
    "too many lines": ("\n" * 100_001, ["100001 lines", "at most 100000"]),
    "a very wide row": ("1," * 20_000 + "1\n", ["no row of numbers", "1 to 10000 values"]),
}


def refusal(act: Callable[[], Any]) -> str:
    with pytest.raises(SpectrumError) as caught:
        act()
    text = str(caught.value)
    assert text.isprintable(), "an error is one line"
    assert len(text) < 260
    return text


@pytest.mark.parametrize("name", BAD)
def test_mistakes_are_refused_where_they_stand(name: str) -> None:
    text, fragments = BAD[name]
    columns = None if name == "zero column" else 2
    message = refusal(lambda: parse_table(text, "f", columns))
    for fragment in fragments:
        assert fragment in message


def test_gaps_outside_the_visible_range_pass() -> None:
    table = parse_table(cut(705, 775), "f")
    assert table.wavelength_nm[-2:].tolist() == [700, 780]
    assert not any("coarse" in note for note in table.notes)


def test_range_that_just_suffices() -> None:
    lines = write().splitlines()
    kept = [lines[0], *(one for one in lines[1:] if 420 <= int(one[:3]) <= 680)]
    assert parse_table("\n".join(kept), "f").wavelength_nm[[0, -1]].tolist() == [420, 680]


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_bytes(b"")
    (tmp_path / "odd.csv").write_bytes(b"380,1\n\x81\x8d\n")
    (tmp_path / "half.csv").write_bytes(b"\xff\xfe3")
    (tmp_path / "wide.csv").write_bytes(write().encode("utf-32"))
    with open(tmp_path / "large.csv", "wb") as stream:
        stream.truncate(100_000_000)
    assert MAX_TABLE_BYTES < 100_000_000
    for name, fragments in {
        "": ["a directory"],
        "absent.csv": ["absent.csv: found no such file"],
        "empty.csv": ["an empty file"],
        "odd.csv": ["binary data"],
        "half.csv": ["binary data"],
        "wide.csv": ["binary data"],
        "large.csv": ["a file of 100.0 MB", "at most 20 MB"],
    }.items():
        message = refusal(partial(read_table, f"{tmp_path}/{name}"))
        for fragment in fragments:
            assert fragment in message


@st.composite
def dialects(draw: st.DrawFn) -> tuple[bytes, np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Draw positive spectra and the bytes of a file that holds them in a random dialect."""
    start = draw(st.integers(300, 420))
    step = draw(st.integers(1, 20))
    wavelength = np.arange(start, 681 + step, step) + draw(st.sampled_from([0.0, -0.25]))
    count = draw(st.integers(1, 3))
    random = np.random.default_rng(draw(st.integers(0, 2**32)))
    values = 10.0 ** random.uniform(-6, 6, (wavelength.size, count))

    separator, decimal = draw(
        st.sampled_from(
            [(",", "."), (", ", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (" ", ",")]
        )
    )
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    tail = draw(st.sampled_from(["", " ", separator.strip(" ")]))
    lines = [
        separator.join(repr(float(cell)).replace(".", decimal) for cell in (x, *y)) + tail
        for x, y in zip(wavelength, values, strict=True)
    ]
    if draw(st.booleans()):
        lines.reverse()
    if draw(st.booleans()):
        lines.insert(draw(st.integers(0, len(lines))), "# a remark, with 1,2 in it")
    if draw(st.booleans()):
        lines.insert(0, separator.join(["nm", "one", "two", "three"][: count + 1]))
    if draw(st.booleans()):
        lines.insert(0, "Read in the attic")
    text = end.join(lines) + draw(st.sampled_from(["", end]))
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))), wavelength, values


@given(dialects())
def test_spectra_come_back_from_any_dialect(
    drawn: tuple[bytes, np.ndarray[Any, Any], np.ndarray[Any, Any]],
) -> None:
    raw, wavelength, values = drawn
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "spectra.txt"
        path.write_bytes(raw)
        table = read_table(path, columns=None)
    np.testing.assert_array_equal(table.wavelength_nm, wavelength)
    np.testing.assert_array_equal(table.values, values)


@given(st.text(st.sampled_from([*'0123456789.,;\t %#/-+eEnaif"\n\r\ufeff\0', "\x1b", "\u2028"])))
def test_arbitrary_text_is_read_or_refused(text: str) -> None:
    message = ""
    try:
        parse_table(text, "f", columns=None)
    except SpectrumError as error:
        message = str(error)
    assert message.isprintable()


@given(st.integers(0, 80), st.integers(0, 1), st.text(max_size=8))
def test_a_damaged_cell_is_read_or_refused(row: int, column: int, cell: str) -> None:
    cells = [[str(x), str(y)] for x, y in zip(WAVELENGTH, VALUE, strict=True)]
    cells[row][column] = cell
    text = "\n".join(",".join(each) for each in cells)
    message = ""
    try:
        table = parse_table(text, "f", columns=None)
        assert np.isfinite(table.values).all()
        assert (table.values >= 0).all()
    except SpectrumError as error:
        message = str(error)
    assert message.isprintable()
