"""Camera raw read as the sensor counted it, from DNGs that the tests write themselves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.read.raw_files import write_dng
from wbplan.core.errors import InputError
from wbplan.read.raws import load_raw

pytest.importorskip("rawpy")
PICTURE = np.random.default_rng(3).uniform(0.05, 0.9, (24, 32, 3)).repeat(2, 0).repeat(2, 1)


@pytest.mark.parametrize("pattern", ["RGGB", "BGGR", "GRBG", "GBRG"])
def test_each_cell_of_a_mosaic_is_one_pixel(tmp_path: Path, pattern: str) -> None:
    found = load_raw(write_dng(tmp_path / "a.dng", PICTURE, pattern=pattern))
    assert found.cell == 2
    assert found.pixels == pytest.approx(PICTURE[::2, ::2], abs=1 / 15000)
    assert found.gains == pytest.approx([2.0, 1.0, 1.5], rel=1e-3)


def test_linear_rgb_is_read_as_it_is(tmp_path: Path) -> None:
    found = load_raw(write_dng(tmp_path / "a.dng", PICTURE, pattern=""))
    assert found.cell == 1
    assert found.pixels == pytest.approx(PICTURE, abs=1 / 15000)


def test_black_and_white_level_are_the_files(tmp_path: Path) -> None:
    found = load_raw(write_dng(tmp_path / "a.dng", PICTURE, black=64, white=1023))
    assert found.pixels == pytest.approx(PICTURE[::2, ::2], abs=1 / 900)


def test_a_cell_with_one_clipped_site_is_clipped(tmp_path: Path) -> None:
    picture = PICTURE.copy()
    picture[0, 1, 1] = 1.0  # one of the two greens of the first cell
    found = load_raw(write_dng(tmp_path / "a.dng", picture)).pixels
    assert found[0, 0, 1] >= 1.0
    assert found[0, 0, 0] < 1.0


def test_gains_that_are_not_stated_are_not_guessed(tmp_path: Path) -> None:
    assert load_raw(write_dng(tmp_path / "a.dng", PICTURE, gains=None)).gains is None


@pytest.mark.parametrize("content", [b"", b"II*\0 nothing", bytes(range(256)) * 40])
def test_broken_files_are_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.dng").write_bytes(content)
    with pytest.raises(InputError, match="rawpy"):
        load_raw(tmp_path / "a.dng")
    with pytest.raises(InputError, match="can be read"):
        load_raw(tmp_path / "b.dng")


def test_a_file_cut_short_is_refused_or_told(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", PICTURE)
    path.write_bytes(path.read_bytes()[:-3000])
    with pytest.raises(InputError, match="rawpy"):
        load_raw(path)
