"""Mutated files of open formats: photometry, LUTs of every kind, sheets of lux, sums of files."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from tests.fuzz.loop import Target, lay_out
from tests.fuzz.mutation import PIECES, mutate_bytes
from tests.read.photometry_files import write_eulumdat, write_lm63
from wbplan.core.errors import OutputError
from wbplan.core.output import SUMS_NAME, write_folder
from wbplan.front.luts import apply_lut
from wbplan.read.photometry import read_photometry
from wbplan.read.scenario.sheet import parse_sheet, rename_in_sheet, set_cell

CLF: Final = """<?xml version="1.0" encoding="UTF-8"?>
<ProcessList id="a" compCLFversion="3.0" name="a">
  <Matrix inBitDepth="32f" outBitDepth="32f"><Array dim="3 3">1 0 0 0 .9 .1 0 0 1</Array></Matrix>
  <Log inBitDepth="32f" outBitDepth="32f" style="linToLog"><LogParams base="2"/></Log>
  <LUT1D inBitDepth="32f" outBitDepth="32f"><Array dim="3 3">0 0 0 .5 .5 .5 1 1 1</Array></LUT1D>
</ProcessList>
"""
SOP: Final = "<SOPNode><Slope>1 0.9 1.1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>"
CC: Final = (
    f'<ColorCorrection id="a">{SOP}<SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>'
)
HEAD: Final = '<?xml version="1.0" encoding="UTF-8"?>\n'
CCC, CDL = "ColorCorrectionCollection", "ColorDecisionList"
URN: Final = 'xmlns="urn:ASC:CDL:v1.01"'
SHEET: Final = 'place;window;"the; lamp"\nface;300,5;40\nwall;;12\n"a ""b""";0;1\n'
MINE: Final = b"nobody may take this away"
WHAT: Final = "plan of s.yaml"
SIZES: Final = (
    *(b"LUT_3D_SIZE", b"LUT_1D_SIZE", b"DOMAIN_MIN", b"TITLE", b"65", b"999999", b"-1", b"dim="),
    *(b"TILT=INCLUDE", b"TILT=x.tlt", b"<!ENTITY a 'b'>", b"&a;", b"../mine.txt", b"mine.txt"),
)


@cache
def make_seeds() -> dict[str, bytes]:
    """Make a small file of each kind."""
    gamma, c = [0.0, 30.0, 60.0, 90.0], [0.0, 90.0, 180.0, 270.0]
    candela = np.outer(np.ones(4), [900.0, 700.0, 300.0, 0.0])
    points = np.indices((3, 3, 3)).reshape(3, -1).T[:, ::-1] / 2
    table = "\n".join(" ".join(f"{each:.4f}" for each in row) for row in points)
    curve = "\n".join(f"{x} {x} {x}" for x in (0.0, 0.3, 0.7, 1.0))
    return {
        "a.ies": write_lm63([0.0, 90.0], gamma, candela[:2]).encode(),
        "b.ies": write_lm63([0.0], gamma, candela[:1], tilt="INCLUDE\n1\n2\n0 90\n1 0.9").encode(),
        "a.ldt": "\r\n".join(write_eulumdat(0, c, gamma, candela)).encode(),
        "b.ldt": "\r\n".join(write_eulumdat(1, c, gamma, candela[:1])).encode(),
        "a.cube": f'TITLE "a"\nLUT_3D_SIZE 3\nDOMAIN_MIN 0 0 0\n{table}\n'.encode(),
        "b.cube": f"# x\nLUT_1D_SIZE 4\n{curve}\n".encode(),
        "a.clf": CLF.encode(),
        "a.cc": (HEAD + CC.replace(" id", f" {URN} id")).encode(),
        "a.ccc": f"{HEAD}<{CCC} {URN}>{CC}</{CCC}>".encode(),
        "a.cdl": (f"{HEAD}<{CDL} {URN}><ColorDecision>{CC}</ColorDecision></{CDL}>").encode(),
        "sheet.csv": SHEET.encode(),
        SUMS_NAME: b"",
    }


def make_file(draw: random.Random) -> tuple[str, bytes]:
    """Make a file that is changed; the sums of an output are changed when they are there."""
    name = draw.choice(sorted(make_seeds()))
    if name == SUMS_NAME:
        return name, str(draw.getrandbits(60)).encode()
    return name, mutate_bytes(draw, make_seeds()[name], (*PIECES, *SIZES))


def read_file(case: tuple[str, bytes], folder: Path) -> bool:
    """Read a file by what its name says, and hold what comes of it."""
    name, raw = case
    lay_out({name: raw} if name != SUMS_NAME else {}, folder)
    path = folder / name
    if name == SUMS_NAME:
        return _write_over(folder, random.Random(raw.decode()))
    if path.suffix in (".ies", ".ldt"):
        found = read_photometry(path)
        assert np.isfinite(found.candela).all()
        assert (found.candela >= 0).all()
    elif path.suffix == ".csv":
        text = raw.decode("utf-8-sig", "replace")
        sheet = parse_sheet(text, name)
        place = next(iter(sheet.rows))
        light = sheet.lights[0]
        changed = parse_sheet(set_cell(text, name, place, light, "7"), name)
        assert changed.rows.keys() == sheet.rows.keys()
        if "new; one" not in sheet.rows:
            renamed = rename_in_sheet(text, name, place, "new; one", False)
            assert "new; one" in parse_sheet(renamed, name).rows
    else:
        colours = np.array([[[0.0, 0.5, 1.0], [-1.0, 2.0, 0.18]]])
        assert apply_lut(path, colours).shape == colours.shape
    return True


def _write_over(folder: Path, draw: random.Random) -> bool:
    """Write an output, change its sums, and write over it: what is another's stays."""
    out = folder / "out"
    write_folder(out, {"a.txt": b"a", "b/c.txt": b"c"}, what=WHAT)
    (folder / "mine.txt").write_bytes(MINE)
    (out / "mine.txt").write_bytes(MINE)
    sums = out / SUMS_NAME
    sums.write_bytes(mutate_bytes(draw, sums.read_bytes(), (*PIECES, *SIZES)))
    force = draw.random() < 0.7
    try:
        write_folder(out, {"a.txt": b"new"}, force, WHAT)
    except OutputError as error:
        assert str(error).isprintable()
        assert (out / "a.txt").read_bytes() == b"a"
        done = False
    else:
        assert (out / "a.txt").read_bytes() == b"new"
        done = True
    assert (out / "mine.txt").read_bytes() == MINE
    assert (folder / "mine.txt").read_bytes() == MINE
    assert {each.name for each in folder.iterdir()} == {"out", "mine.txt"}
    return done


TARGET: Final = Target("formats", make_file, read_file)
