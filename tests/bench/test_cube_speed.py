"""How long a 65-node `.cube` takes to write: ours, the reference library's, and the bytes alone.

Run with ``pytest tests/bench --benchmark-enable --benchmark-only``. The figures to reach are
ratios within one run: at least 40 times faster than colour.write_LUT, and within 5 times of writing
the same bytes raw. Nothing here fails for being slow.
"""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import Cube, format_cube, parse_cube
from wbplan.lut.bake import LinearCorrection, bake_lut, choose_lut, measure_lut, scene_codes
from wbplan.lut.file import bake_table
from wbplan.lut.trials import SceneColours, find_plain_rgb

MATRIX = np.array([[1.31, 0.12, 0.087], [-0.028, 1.006, 0.053], [0.0, -0.073, 0.734]])


@pytest.fixture(scope="module")
def correction() -> LinearCorrection:
    return LinearCorrection(find_encoding("S-Log3", "S-Gamut3.Cine"), MATRIX)


@pytest.fixture(scope="module")
def cube(correction) -> Cube:
    return bake_lut(correction, 65, "bench")


@pytest.fixture(scope="module")
def codes(correction):
    reflectances = np.random.default_rng(0).uniform(0.02, 0.9, (900, 3))
    return scene_codes(correction.encoding, reflectances)


@pytest.mark.benchmark(group="write a 65-node cube")
def test_format_and_write(benchmark, tmp_path, cube):
    path = tmp_path / "a.cube"
    benchmark(lambda: path.write_bytes(format_cube(cube)))


@pytest.mark.benchmark(group="write a 65-node cube")
def test_write_the_same_bytes(benchmark, tmp_path, cube):
    path, data = tmp_path / "a.cube", format_cube(cube)
    benchmark(lambda: path.write_bytes(data))


@pytest.mark.benchmark(group="write a 65-node cube")
def test_write_with_the_reference_library(benchmark, colour, tmp_path, cube):
    path, table = str(tmp_path / "a.cube"), colour.LUT3D(cube.table, "bench")
    benchmark.pedantic(colour.write_LUT, (table, path, 6), rounds=3, iterations=1)


@pytest.mark.benchmark(group="read a 65-node cube")
def test_parse(benchmark, cube):
    benchmark(parse_cube, format_cube(cube).decode("ascii"))


@pytest.mark.benchmark(group="read a 65-node cube")
def test_parse_another_layout(benchmark, cube):
    text = format_cube(cube).decode("ascii").replace("\n", "\r\n")
    benchmark.pedantic(parse_cube, (text,), rounds=3, iterations=1)


@pytest.mark.benchmark(group="bake and measure")
def test_bake(benchmark, correction):
    benchmark(bake_lut, correction, 65)


@pytest.mark.benchmark(group="bake and measure")
def test_measure_four_sizes(benchmark, correction, codes):
    cubes = [bake_lut(correction, size) for size in (17, 33, 65, 97)]
    benchmark(lambda: [measure_lut(each, correction, codes) for each in cubes])


@pytest.mark.benchmark(group="bake and measure")
def test_choose_the_largest_size(benchmark, correction, codes):
    benchmark.pedantic(choose_lut, (correction, codes), rounds=3, iterations=1)


@pytest.mark.benchmark(group="bake and measure")
@pytest.mark.parametrize("size", [None, 33])
def test_choose_fit_and_measure_on_four_kinds(benchmark, correction, size):
    """To reach: under 0.2 s where no size is good enough, and for 33 points that are asked for."""
    surfaces = find_plain_rgb(correction.encoding, np.array([[1.0, 1.0, 1.0], [1.3, 1.0, 0.7]]))
    colours = SceneColours(surfaces, np.ones((1, 3)), scene_codes(correction.encoding, surfaces))
    baked = benchmark.pedantic(
        bake_table, (correction, colours, size, "bench", ()), rounds=5, warmup_rounds=1
    )
    assert (baked.size, len(baked.error.kinds)) == (33, 4)
