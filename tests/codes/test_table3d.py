"""The `.cube` file: bytes, strictness, and reading between nodes against other readers."""

from __future__ import annotations

import shutil
import subprocess

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from wbplan.codes.cube_text import format_rows
from wbplan.codes.table3d import Cube, format_cube, parse_cube, read_tetrahedral, read_trilinear
from wbplan.core.errors import InputError, Place

READERS = {"linear": read_trilinear, "tetrahedral": read_tetrahedral}


def make_identity(n):
    axis = np.linspace(0.0, 1.0, n)
    return np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)


def make_wild(n=9, seed=0):
    """Make a table that is not smooth, so that readers that differ show it."""
    return Cube(np.random.default_rng(seed).uniform(-0.3, 1.4, (n, n, n, 3)), "wild")


def format_plainly(values):
    return ("%.6f %.6f %.6f\n" * (len(values) // 3) % tuple(values)).encode("ascii")


# Worked by hand from Cube LUT Specification 1.0 (Adobe, 2013): the first row is red = green =
# blue = 0, then red goes up first, green next and blue last. Each output is unlike every other:
# red = r + 2 g + 4 b, green = that / 10, blue = minus that / 100.
GOLDEN = b"""# made for a test
TITLE "golden"
LUT_3D_SIZE 2
0.000000 0.000000 0.000000
1.000000 0.100000 -0.010000
2.000000 0.200000 -0.020000
3.000000 0.300000 -0.030000
4.000000 0.400000 -0.040000
5.000000 0.500000 -0.050000
6.000000 0.600000 -0.060000
7.000000 0.700000 -0.070000
"""


def make_golden():
    table = np.empty((2, 2, 2, 3))
    for r in (0, 1):
        for g in (0, 1):
            for b in (0, 1):
                k = r + 2 * g + 4 * b
                table[r, g, b] = (k, k / 10, -k / 100)
    return Cube(table, "golden")


def test_red_changes_fastest():
    assert format_cube(make_golden(), ["made for a test"]) == GOLDEN
    np.testing.assert_array_equal(parse_cube(GOLDEN.decode()).table, make_golden().table)


EDGES = [
    *(0.0, -0.0, 1.0, -1.0, 1e-9, -1e-9, 5e-7, -5e-7, 1.5e-6, 2.5e-6, 4.9e-7, 5.1e-7, 1e-300),
    *(0.5, 0.0078125, 0.0234375, 1 / 3, 2 / 3, 0.9999995, 0.99999949, 0.1234565, 0.1234575),
    *(9.999999, -9.999999, 9.9999994, 9.99999949, -9.9999994, 0.0000005, 1.0000005, 8.1234565),
]


def test_digits_are_those_of_percent_format():
    rng = np.random.default_rng(1)
    halves = (rng.integers(0, 9_999_999, 3000) + 0.5) / 1e6  # each as near a tie as floats come
    binary = rng.integers(0, 9 * 2**20, 3000) / 2**20  # among them exact ties
    ties = np.arange(1, 9 * 128, 2) / 128  # all of them exact ties of the seventh decimal
    for values in (
        np.array(EDGES),
        rng.uniform(0, 1, 30000),
        rng.uniform(-9.9, 9.9, 30000),
        halves,
        np.nextafter(halves, 0.0),
        np.nextafter(halves, 10.0),
        -binary,
        ties,
        rng.uniform(-500, 500, 3000),  # wider than the digit array
        np.array([9.9999995, 0.0, 0.0]),
        np.array([-9.9999996, 10.0, 1e20]),
    ):
        padded = np.concatenate([values, np.zeros(-len(values) % 3)])
        assert format_rows(padded) == format_plainly(padded)
        repeated = np.resize(padded, (9, 9, 9, 3))  # the same through a whole file
        body = format_cube(Cube(repeated)).removeprefix(b"LUT_3D_SIZE 9\n")
        assert body == format_plainly(repeated.transpose(2, 1, 0, 3).ravel())


@given(
    hnp.arrays(
        np.float64,
        24,
        elements=st.floats(-9.999999, 9.999999)
        | st.integers(-9_999_999, 9_999_999).map(lambda k: k / 1e6)
        | st.integers(-9_999_998, 9_999_998).map(lambda k: (k + 0.5) / 1e6),
    )
)
def test_bytes_equal_percent_format_and_read_back_exactly(values):
    cube = Cube(values.reshape(2, 2, 2, 3))
    rows = cube.table.transpose(2, 1, 0, 3).ravel()
    data = format_cube(cube)
    assert data == b"LUT_3D_SIZE 2\n" + format_plainly(rows)
    parsed = parse_cube(data.decode()).table
    expected = np.array([float(word) for word in format_plainly(rows).split()])
    np.testing.assert_array_equal(parsed.transpose(2, 1, 0, 3).ravel(), expected)


@pytest.mark.parametrize("scale", [1.0, 100.0])
def test_fast_and_slow_ways_of_reading_agree(scale):
    table = make_wild(17).table * scale
    text = format_cube(Cube(table)).decode()
    slow = text.replace("\n", "\r\n").replace("17\r\n", "17\r\n\r\n# comment\r\n", 1)
    np.testing.assert_array_equal(parse_cube(text).table, parse_cube(slow).table)
    np.testing.assert_allclose(parse_cube(text).table, table, rtol=0, atol=0.5001e-6)


@pytest.mark.parametrize(
    ("title", "line"),
    [
        ('face "A"\nnight', "TITLE \"face 'A' night\""),
        ("Küche – Nacht", 'TITLE "Kuche ? Nacht"'),
        ("tab\tbell\x07", 'TITLE "tab bell"'),
        ("x" * 999, f'TITLE "{"x" * 200}"'),
    ],
)
def test_titles_are_made_plain(title, line):
    data = format_cube(Cube(make_identity(2), title))
    assert data.decode("ascii").splitlines()[0] == line
    assert parse_cube(data.decode()).title == line[7:-1]


def test_comments_stand_at_the_top_and_stay_short():
    data = format_cube(
        Cube(make_identity(2), "t"), ["word " * 200, "two\nlines\r", "", "LUT_3D_SIZE 9 é"]
    )
    lines = data.decode("ascii").split("\n")
    head = lines.index('TITLE "t"')
    assert all(line.startswith("# ") and len(line) <= 100 for line in lines[:head])
    assert lines[head - 2 : head] == ["# two lines", "# LUT_3D_SIZE 9 e"]
    assert not any("#" in line for line in lines[head:])
    assert b"\r" not in data
    assert data.endswith(b"1.000000 1.000000 1.000000\n")
    parse_cube(data.decode())


def test_empty_title_is_left_out():
    assert format_cube(Cube(make_identity(2), "\n")).startswith(b"LUT_3D_SIZE 2\n0.0")


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_values_that_are_not_finite_are_refused(bad):
    table = make_identity(3)
    table[0, 2, 1, 1] = bad
    with pytest.raises(InputError, match=r"in the node \(0, 2, 1\); allowed: finite"):
        Cube(table)


@pytest.mark.parametrize(
    "shape", [(1, 1, 1, 3), (2, 2, 3, 3), (2, 2, 2), (2, 2, 2, 4), (), (130, 130, 130, 3)]
)
def test_shapes_that_are_no_cube_are_refused(shape):
    with pytest.raises(InputError, match="shape"):
        Cube(np.zeros(shape))


def test_table_is_a_read_only_copy():
    table = make_identity(2)
    cube = Cube(table)
    table[0] = 5.0
    assert cube.table.max() == 1.0
    with pytest.raises(ValueError, match="read-only"):
        cube.table[0, 0, 0] = 1.0


ROWS = "0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n"
HEAD = "LUT_3D_SIZE 2\n"


@pytest.mark.parametrize(
    "text",
    [
        HEAD + ROWS,
        HEAD + ROWS.rstrip("\n"),
        (HEAD + ROWS).replace("\n", "\r\n"),
        '# c\n\nTITLE "a b"\nDOMAIN_MIN 0 0 0\nDOMAIN_MAX 1.0 1.0 1.0\n' + HEAD + ROWS,
        HEAD + "DOMAIN_MIN 0.0 0 0\n" + ROWS,
        'TITLE "Küche"\n' + HEAD + ROWS,
        HEAD + ROWS.replace("\n", "\n\n# c\n"),
        HEAD + ROWS.replace(" ", "\t"),
        HEAD + ROWS.replace("1", "+1.0e0"),
        HEAD.replace(" ", "\t  ") + "  " + ROWS,
        HEAD + ROWS.replace("0", ".0"),
    ],
)
def test_what_the_format_allows_is_read(text):
    np.testing.assert_array_equal(parse_cube(text).table, make_identity(2))


@pytest.mark.parametrize(
    ("text", "where", "found", "allowed"),
    [
        ("", "a.cube:1: LUT_3D_SIZE", "an empty file", "LUT_3D_SIZE"),
        ("# only a comment\n", "a.cube:2: LUT_3D_SIZE", "no LUT_3D_SIZE", "a line LUT_3D_SIZE"),
        (ROWS, "a.cube:1: LUT_3D_SIZE", "no LUT_3D_SIZE", "before the rows"),
        ("\ufeff" + HEAD + ROWS, "a.cube:1", "byte-order mark", "plain text"),
        ((HEAD + ROWS).replace("\n", "\r"), "a.cube:1", "carriage return", "LF or CRLF"),
        (HEAD + ROWS.replace("\n", "\r", 1), "a.cube:2", "carriage return", "LF or CRLF"),
        ("lut_3d_size 2\n" + ROWS, "a.cube:1: lut_3d_size", "'lut_3d_size'", "capitals"),
        ("LUT_1D_SIZE 2\n" + ROWS, "a.cube:1: LUT_1D_SIZE", "'LUT_1D_SIZE'", "LUT_3D_SIZE"),
        (HEAD + "MADE_BY me\n" + ROWS, "a.cube:2: MADE_BY", "'MADE_BY'", "TITLE"),
        (HEAD + HEAD + ROWS, "a.cube:2: LUT_3D_SIZE", "a second", "once"),
        ("LUT_3D_SIZE 1\n", "a.cube:1: LUT_3D_SIZE", "'1'", "from 2 to 129"),
        ("LUT_3D_SIZE 130\n", "a.cube:1: LUT_3D_SIZE", "'130'", "from 2 to 129"),
        ("LUT_3D_SIZE 2.0\n" + ROWS, "a.cube:1: LUT_3D_SIZE", "'2.0'", "whole number"),
        ("LUT_3D_SIZE -2\n" + ROWS, "a.cube:1: LUT_3D_SIZE", "'-2'", "whole number"),
        ("LUT_3D_SIZE\n" + ROWS, "a.cube:1: LUT_3D_SIZE", "''", "whole number"),
        ("LUT_3D_SIZE 2 2 2\n" + ROWS, "a.cube:1: LUT_3D_SIZE", "'2 2 2'", "whole number"),
        ("LUT_3D_SIZE " + "9" * 5000, "a.cube:1: LUT_3D_SIZE", "'999", "whole number"),
        ("LUT_3D_SIZE ²\n" + ROWS, "a.cube:1: LUT_3D_SIZE", "'²'", "whole number"),
        ("TITLE plain\n" + HEAD + ROWS, "a.cube:1: TITLE", "plain", "double quotes"),
        ('TITLE "a"b"\n' + HEAD + ROWS, "a.cube:1: TITLE", '"a"b"', "double quotes"),
        ("TITLE\n" + HEAD + ROWS, "a.cube:1: TITLE", "nothing", "double quotes"),
        (HEAD + "DOMAIN_MAX 4 0 4\n" + ROWS, "a.cube:2: DOMAIN_MAX", "[4.0, 0.0", "a higher"),
        (HEAD + "DOMAIN_MIN 1 1 1\n" + ROWS, "a.cube:2: DOMAIN_MIN", "[1.0, 1.0", "a higher"),
        (HEAD + "DOMAIN_MIN x\n" + ROWS, "a.cube:2: DOMAIN_MIN", "'x'", "each channel"),
        (HEAD + ROWS[:-6], "a.cube:9", "7 rows", "8 rows"),
        (HEAD + ROWS + "1 1 1\n", "a.cube:10", "a further row", "8 rows"),
        (HEAD + ROWS.replace("1 1 0", "1 1"), "a.cube:5", "2 values", "3 values"),
        (HEAD + ROWS.replace("1 1 0", "1 1 0 1"), "a.cube:5", "4 values", "3 values"),
        (HEAD + ROWS.replace("1 1 0", "1 1 0 # c"), "a.cube:5", "5 values", "3 values"),
        (HEAD + ROWS.replace("1 1 0", "1 nan 0"), "a.cube:5: green", "'nan'", "finite"),
        (HEAD + ROWS.replace("1 1 0", "1 1 inf"), "a.cube:5: blue", "'inf'", "finite"),
        (HEAD + ROWS.replace("1 1 0", "1e999 1 0"), "a.cube:5: red", "'1e999'", "finite"),
        (HEAD + ROWS.replace("1 1 0", "0,5 1 0"), "a.cube:5: red", "'0,5'", "decimal point"),
        (HEAD + ROWS.replace("1 1 0", "1_0 1 0"), "a.cube:5: red", "'1_0'", "decimal point"),
        (HEAD + ROWS.replace("1 1 0", "1 0x1 0"), "a.cube:5: green", "'0x1'", "decimal point"),
        (HEAD + ROWS.replace("1 1 0", "1 1.0.0 0"), "a.cube:5: green", "'1.0.0'", "decimal"),
        (HEAD + ROWS.replace("1 1 0", "١ 1 0"), "a.cube:5: red", "'١'", "decimal point"),
        (HEAD + ROWS[:12] + 'TITLE "x"\n' + ROWS[12:], "a.cube:4: red", "'TITLE'", "number"),
        ("\x00\x01\x02", "a.cube:1", r"'\x00\x01\x02'", "TITLE"),
    ],
)
def test_faults_are_named(text, where, found, allowed):
    with pytest.raises(InputError) as caught:
        parse_cube(text, Place(file="a.cube"))
    assert str(caught.value.place) == where or where + ":" in str(caught.value)
    assert found in caught.value.found
    assert allowed in caught.value.allowed


@pytest.mark.parametrize(
    "spoil",
    [
        lambda row: row.replace(".", ",", 1),
        lambda row: row.replace("0", "x", 1),
        lambda row: row.replace("0 ", "- ", 1),
        lambda row: "--" + row,
        lambda row: row[:4] + "-" + row[4:],
        lambda row: row.replace(" ", "\n", 1),
        lambda row: row.replace(" ", "-", 1),
        lambda row: row + "-",
    ],
)
def test_near_misses_of_the_fast_layout_are_refused(spoil):
    lines = format_cube(Cube(make_identity(3))).decode().split("\n")
    lines[7] = spoil(lines[7])
    with pytest.raises(InputError) as caught:
        parse_cube("\n".join(lines), Place(file="a.cube"))
    assert caught.value.place.line == 8


@pytest.mark.parametrize("read", READERS.values())
def test_nodes_are_read_exactly_and_outside_is_held_at_the_edge(read):
    cube = make_wild(5)
    np.testing.assert_allclose(read(cube, make_identity(5)), cube.table, atol=1e-15)
    outside = np.array([[-3.0, 0.5, 2.0], [1e300, -1e300, 0.25]])
    held = np.clip(outside, 0.0, 1.0)
    np.testing.assert_array_equal(read(cube, outside), read(cube, held))


@given(
    hnp.arrays(np.float64, (3, 3), elements=st.floats(-2, 2)),
    hnp.arrays(np.float64, (5, 3), elements=st.floats(0, 1)),
)
def test_a_linear_table_is_read_exactly_both_ways(matrix, rgb):
    cube = Cube(make_identity(4) @ matrix.T)
    for read in READERS.values():
        np.testing.assert_allclose(read(cube, rgb), rgb @ matrix.T, atol=1e-13)


def test_both_ways_agree_on_faces_edges_but_not_inside():
    cube = make_wild(3)
    grey = np.repeat(np.linspace(0, 1, 50)[:, None], 3, axis=-1)
    inside = np.full((1, 3), 0.3)
    axis = np.concatenate([np.linspace(0, 1, 50)[:, None], np.zeros((50, 2))], axis=-1)
    np.testing.assert_allclose(read_trilinear(cube, axis), read_tetrahedral(cube, axis), atol=1e-15)
    assert np.abs(read_trilinear(cube, inside) - read_tetrahedral(cube, inside)).max() > 1e-3
    # Greys lie on the cut of the cell: two nodes alone, by the tetrahedral definition.
    diagonal = cube.table[range(3), range(3), range(3)]
    expected = [np.interp(grey[:, 0], [0, 0.5, 1], diagonal[:, c]) for c in range(3)]
    np.testing.assert_allclose(read_tetrahedral(cube, grey), np.transpose(expected), atol=1e-14)


@pytest.mark.parametrize("read", READERS.values())
def test_shapes_are_kept_and_nan_is_refused(read):
    cube = make_wild(3)
    for shape in ((3,), (0, 3), (2, 4, 3)):
        assert read(cube, np.full(shape, 0.3)).shape == shape
    with pytest.raises(InputError, match="finite"):
        read(cube, [0.0, np.nan, 1.0])


SAMPLES = np.concatenate(
    [np.random.default_rng(5).uniform(-0.1, 1.1, (4000, 3)), make_identity(5).reshape(-1, 3)]
)


@pytest.mark.parametrize("way", READERS)
@pytest.mark.parametrize("n", [2, 17, 33])
def test_opencolorio_reads_the_same(tmp_path, way, n):
    ocio = pytest.importorskip("PyOpenColorIO")
    path = tmp_path / "wild.cube"
    path.write_bytes(format_cube(make_wild(n), ["a comment"]))
    interpolation = {"linear": ocio.INTERP_LINEAR, "tetrahedral": ocio.INTERP_TETRAHEDRAL}[way]
    transform = ocio.FileTransform(str(path), interpolation=interpolation)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    pixels = SAMPLES.astype(np.float32)
    processor.applyRGB(pixels)
    cube = parse_cube(path.read_text())
    # OpenColorIO works in single precision; its input is the rounded sample.
    ours = READERS[way](cube, SAMPLES.astype(np.float32))
    np.testing.assert_allclose(pixels, ours, rtol=0, atol=2e-6 if n < 33 else 6e-6)


@pytest.mark.parametrize("way", READERS)
def test_reference_library_reads_the_same(colour, tmp_path, way):
    path = tmp_path / "wild.cube"
    path.write_bytes(format_cube(make_wild(17)))
    lut = colour.read_LUT(str(path))
    inside = SAMPLES[((SAMPLES >= 0) & (SAMPLES <= 1)).all(axis=-1)]
    kind = {
        "linear": colour.algebra.table_interpolation_trilinear,
        "tetrahedral": colour.algebra.table_interpolation_tetrahedral,
    }[way]
    ours = READERS[way](parse_cube(path.read_text()), inside)
    np.testing.assert_allclose(lut.apply(inside, interpolator=kind), ours, atol=1e-5)


def test_reference_library_writes_what_is_read(colour, tmp_path):
    path = tmp_path / "theirs.cube"
    table = make_wild(5).table
    colour.write_LUT(colour.LUT3D(table, "theirs"), str(path), decimals=6)
    np.testing.assert_allclose(parse_cube(path.read_text()).table, table, atol=0.51e-6)


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
@pytest.mark.parametrize("way", READERS)
def test_ffmpeg_reads_the_same(tmp_path, way):
    # Smooth and inside 0 to 1, since ffmpeg clips integer pixels.
    table = 0.1 + 0.8 * make_identity(17) ** [0.7, 1.2, 1.5]
    (tmp_path / "smooth.cube").write_bytes(format_cube(Cube(table, "smooth")))
    pixels = np.random.default_rng(6).integers(0, 65536, (64 * 64, 3)).astype("<u2")
    raw = ["-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", "64x64"]
    name = {"linear": "trilinear", "tetrahedral": "tetrahedral"}[way]
    command = [
        *("ffmpeg", "-v", "error", "-nostdin", *raw, "-i", "in.raw"),
        *("-vf", f"lut3d=file=smooth.cube:interp={name}", *raw[:4], "out.raw"),
    ]
    (tmp_path / "in.raw").write_bytes(pixels.tobytes())
    subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
    theirs = np.frombuffer((tmp_path / "out.raw").read_bytes(), "<u2").reshape(-1, 3)
    cube = parse_cube((tmp_path / "smooth.cube").read_text())
    difference = theirs - READERS[way](cube, pixels / 65535.0) * 65535.0
    # ffmpeg truncates to whole pixel values: between one under and none over, and single precision.
    assert difference.min() > -1.1
    assert difference.max() < 0.1
