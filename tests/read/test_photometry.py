"""Photometry files, against grids that were never mirrored and figures worked out by hand.

Layouts: ANSI/IESNA LM-63-2002; EULUMDAT (A. Stockmar, 1990). On 55 real EULUMDAT files the grids
equal those of the library eulumdat-py 1.0 within 3e-16, and the flux of those that were measured
is that of their LORL within 0.5 % (once 2 %); run by hand, the files are not here.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.read.photometry_files import write_eulumdat, write_lm63
from wbplan.core.errors import InputError
from wbplan.light.photometry import find_flux_lm, find_intensity_cd
from wbplan.read.photometry import read_photometry

GAMMA = list(range(0, 181, 5))
PLANES = list(range(0, 360, 15))
MIRRORS = {0: (), 2: (360,), 3: (180,), 4: (360, 180)}  # EULUMDAT's number, angles summing to it


def make_grid(symmetry: int) -> np.ndarray:
    """Make intensities that have a symmetry because of what they are a function of."""
    c, gamma = np.meshgrid(np.radians(PLANES), np.radians(GAMMA), indexing="ij")
    along = np.sin(gamma)
    x, y = along * np.cos(c), along * np.sin(c)
    if symmetry in (3, 4):
        x = x**2
    if symmetry in (2, 4):
        y = y**2
    return np.asarray(100 * (3 + x + 0.5 * y + np.cos(gamma)))


def save(folder: Path, text: str | list[str], name: str = "lamp.txt") -> Path:
    path = folder / name
    path.write_text(text if isinstance(text, str) else "\r\n".join(text), encoding="latin-1")
    return path


@pytest.mark.parametrize(
    ("symmetry", "first", "last"), [(0, 0, 360), (2, 0, 180), (3, 90, 270), (4, 0, 90)]
)
def test_what_is_mirrored_is_written_out(
    symmetry: int, first: int, last: int, tmp_path: Path
) -> None:
    grid = make_grid(symmetry)
    c, gamma = np.meshgrid(PLANES, GAMMA, indexing="ij")
    stored = [each for each in [*PLANES, 360] if first <= each <= last]
    rows = grid[[each // 15 % 24 for each in stored]]
    lm63 = read_photometry(save(tmp_path, write_lm63(stored, GAMMA, rows)))
    assert find_intensity_cd(lm63, c, gamma) == pytest.approx(grid, rel=1e-9)

    order = {0: PLANES, 2: range(0, 181, 15), 3: range(270, 451, 15), 4: range(0, 91, 15)}[symmetry]
    rows = grid[[each // 15 % 24 for each in order]]
    ldt = read_photometry(save(tmp_path, write_eulumdat(symmetry, PLANES, GAMMA, rows)))
    assert find_intensity_cd(ldt, c, gamma) == pytest.approx(grid, rel=1e-9)
    assert not ldt.is_round


def test_the_same_all_around(tmp_path: Path) -> None:
    row = make_grid(0)[:1]
    for text in (write_lm63([0], GAMMA, row), write_eulumdat(1, PLANES, GAMMA, row)):
        lamp = read_photometry(save(tmp_path, text))
        assert lamp.is_round
        assert find_intensity_cd(lamp, [10, 200], [5, 5]) == pytest.approx([row[0, 1]] * 2)


def test_flux_is_what_the_lamps_are_said_to_give(tmp_path: Path) -> None:
    """I0 cos(gamma) is pi I0 lumens: a file that states so many has to integrate to them."""
    gamma = np.arange(0.0, 91.0)
    shape = np.cos(np.radians(gamma))[None]
    text = write_lm63([0], gamma, 318.30989 * shape, lamps="2 500 1")
    assert find_flux_lm(read_photometry(save(tmp_path, text))) == pytest.approx(1000, rel=1e-4)
    lines = write_eulumdat(1, [0.0], gamma, 318.30989 * shape, lumens=(2400.0,))
    lamp = read_photometry(save(tmp_path, lines))
    assert lamp.lamp_lumens == 2400.0
    assert find_flux_lm(lamp) == pytest.approx(2400, rel=1e-4)


def test_factors_of_lm63(tmp_path: Path) -> None:
    """Candela multiplier x ballast factor; the second factor is of no meaning since 2002."""
    rows, more = np.array([[100.0, 50.0]]), {"lamps": "1 900 2", "ballast": "0.9 0.5 80"}
    for edition, expected in (
        ("IESNA:LM-63-2002", 180.0),
        ("IES:LM-63-2019", 180.0),
        ("IESNA:LM-63-1995", 90.0),
        ("IESNA91", 90.0),
    ):
        text = write_lm63([0], [0, 90], rows, edition, units="1 2 -1 0", **more)
        lamp = read_photometry(save(tmp_path, text))
        assert find_intensity_cd(lamp, 0, 0) == pytest.approx(expected)
        assert lamp.size_m == pytest.approx(0.6096)  # 2 feet
        assert find_intensity_cd(lamp, 0, 91) == 0.0  # the lower half is all there is


def test_a_tilt_table_is_read(tmp_path: Path) -> None:
    text = write_lm63([0], [0, 90], np.ones((1, 2)), tilt="INCLUDE\n1\n3\n0 45 90\n1 .95 .9")
    lamp = read_photometry(save(tmp_path, text))
    assert (lamp.tilt_deg, lamp.tilt_ratio) == ((0, 45, 90), (1, 0.95, 0.9))


def test_eulumdat_is_per_1000_lumens_with_commas(tmp_path: Path) -> None:
    rows = np.array([[100.0, 50.0]])
    lines = write_eulumdat(1, [0.0], [0, 90], rows, (3500.0,), "0,5", -1, 600.0)
    lamp = read_photometry(save(tmp_path, lines))
    assert find_intensity_cd(lamp, 0, 0) == pytest.approx(175.0)
    assert (lamp.size_m, lamp.lamp_lumens) == (0.6, None)


def test_one_of_several_sets_of_lamps_is_chosen(tmp_path: Path) -> None:
    rows = np.array([[100.0, 50.0]])
    path = save(tmp_path, write_eulumdat(1, [0.0], [0, 90], rows, (1000.0, 3000.0)))
    assert find_intensity_cd(read_photometry(path, 2), 0, 0) == pytest.approx(300.0)
    with pytest.raises(InputError, match="2 sets of lamps, of 1000, 3000 lm; allowed: `lamp_set`"):
        read_photometry(path)
    with pytest.raises(InputError, match="set of lamps 3"):
        read_photometry(path, 3)


LM63 = write_lm63([0], [0, 45, 90], np.array([[3.0, 2, 1]]))
LDT = write_eulumdat(1, [0.0], [0, 45, 90], np.array([[3.0, 2, 1]]))


def spoil(line: int, text: str) -> list[str]:
    return [*LDT[: line - 1], text, *LDT[line:]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "an empty file"),
        ("hello\n", "no TILT="),
        ("TILT=NONE\n\0", "not text"),
        (LM63.replace("TILT=NONE", "TILT=lamp.tlt"), ":4: TILT: found 'lamp.tlt'; allowed: NONE"),
        (LM63.replace(" 1 2 0 0 0", " 2 2 0 0 0"), "photometric type: found 2, type B"),
        (LM63.replace(" 1 2 0 0 0", " 3 2 0 0 0"), "photometric type: found 3, type A"),
        (LM63.replace("0 45 90", "0 45 80"), "vertical angles: found angles from 0 to 80"),
        (LM63.replace("0 45 90", "0 95 90"), "vertical angles: found angles that do not rise"),
        (LM63.replace("\n0\n3", "\n5\n3"), "horizontal angles: found angles from 5 to 5"),
        (LM63.replace("3 2 1", "3 2"), "candela: found the end of the file"),
        (LM63.replace("3 2 1", "3 2 1 1"), ":9: candela: found '1' after the last candela"),
        (LM63.replace("3 2 1", "3 x 1"), ":9: candela: found 'x'; allowed: a number from 0"),
        (LM63.replace("3 2 1", "3 nan 1"), "candela: found 'nan'"),
        (LM63.replace("3 2 1", "3 -2 1"), "candela: found '-2'"),
        (LM63.replace("1 -1 1 3 1", "1 -1 1 99999 1"), "number of vertical angles: found '99999'"),
        (LM63.replace("1 1 100", "0 1 100"), ":6: ballast factor: found '0'"),
        (spoil(3, "5"), ":3: symmetry: found '5'; allowed: a number from 0 to 4"),
        (spoil(4, "1.5"), ":4: number of C planes: found 1.5; allowed: a whole number"),
        (spoil(26, "0"), ":26: number of sets of lamps"),
        (spoil(29, "bright"), ":29: luminous flux of the lamps: found 'bright'"),
        (spoil(46, "0"), ":46: gamma angles: found angles that do not rise"),
        (spoil(49, "-1"), ":49: intensity: found '-1'"),
        (LDT[:-1], ":48: intensity: found the end of the file"),
        ([*LDT, "7"], "lines after the last intensity"),
        (write_eulumdat(4, PLANES[:6], [0, 90], np.ones((2, 2))), "6 planes from 0 with symmetry"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_with_its_place(
    text: str | list[str], said: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError) as caught:
        read_photometry(save(tmp_path, text))
    assert said in str(caught.value)
    assert "lamp.txt" in str(caught.value)


def test_flux_over_the_whole_sphere_counts_both_halves(tmp_path: Path) -> None:
    lamp = read_photometry(save(tmp_path, write_lm63([0], [0, 90, 180], np.full((1, 3), 10.0))))
    assert find_flux_lm(lamp) == pytest.approx(40 * math.pi)
