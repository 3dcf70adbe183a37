"""ASC CDL files: what is written, and what is refused."""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.cdl import CDL_FORMS, fit_log_numbers, format_cdl

ENCODING = find_encoding("S-Log3", "S-Gamut3.Cine")
GAINS = LinearCorrection(ENCODING, np.diag([1.25, 1.0, 0.7512345678]))
ASC = "{urn:ASC:CDL:v1.2}"  # ASC CDL 1.2, the namespace of its schema
FUNCTIONS = {"S-Log3": "SLog3", "ARRI LogC3": "ARRILogC3", "V-Log": "VLog"}
WAYS = ("en", "de")
ROOTS = {"cc": "ColorCorrection", "ccc": "ColorCorrectionCollection", "cdl": "ColorDecisionList"}


@pytest.mark.parametrize("form", CDL_FORMS)
def test_ten_numbers_where_the_schema_has_them(form):
    root = ElementTree.fromstring(format_cdl(GAINS, form, "face", ("made here",)).decode("ascii"))
    assert root.tag == ASC + ROOTS[form]
    path = {"cc": ".", "ccc": f"{ASC}ColorCorrection", "cdl": f"*/{ASC}ColorCorrection"}[form]
    (correction,) = [root] if form == "cc" else root.findall(path)
    assert correction.get("id") == "face"
    sop = correction.find(f"{ASC}SOPNode")
    slope = [float(word) for word in sop.find(f"{ASC}Slope").text.split()]
    np.testing.assert_allclose(slope, [1.25, 1.0, 0.7512345678], rtol=1e-10)
    assert sop.find(f"{ASC}Offset").text == "0 0 0"
    assert sop.find(f"{ASC}Power").text == "1 1 1"
    assert correction.find(f"{ASC}SatNode/{ASC}Saturation").text == "1"
    said = [each.text for each in correction.findall(f"{ASC}Description")]
    assert "scene-linear values, S-Gamut3.Cine primaries" in said[0]
    assert said[1] == "made here"


def test_names_and_comments_cannot_break_the_file():
    data = format_cdl(GAINS, "ccc", 'Küche <"&>\n', ('</Description> & "x"\x07',))
    root = ElementTree.fromstring(data.decode("ascii"))
    (correction,) = list(root)
    assert correction.get("id") == 'Kuche <"&>'
    assert correction.findall(f"{ASC}Description")[1].text == '</Description> & "x"'


@pytest.mark.parametrize(
    "correction",
    [
        LinearCorrection(ENCODING, np.eye(3) + 1e-4),
        LinearCorrection(ENCODING, np.diag([1.0, -1.0, 1.0])),
        LinearCorrection(ENCODING, np.eye(3), find_encoding("ACEScct", "ACEScg")),
    ],
)
def test_what_is_no_gain_is_refused(correction):
    with pytest.raises(InputError, match=r"a pure gain per channel in S-Gamut3\.Cine"):
        format_cdl(correction, "cc", "x")


def make_gains(curve: str, gamut: str) -> LinearCorrection:
    return LinearCorrection(find_encoding(curve, gamut), np.diag([0.6, 1.0, 1.7]))


def test_on_log_codes_a_gain_is_an_exact_offset_in_acescct() -> None:
    """ACES S-2016-001, 5: log2(x) / 17.52 above the knee, so a gain adds log2(gain) / 17.52."""
    found = fit_log_numbers(make_gains("ACEScct", "ACEScg"))
    np.testing.assert_allclose(found.slope, 1.0, atol=1e-9)
    np.testing.assert_allclose(found.offset, np.log2([0.6, 1.0, 1.7]) / 17.52, atol=1e-9)
    assert found.above < 0.01
    assert found.below > 5.0


@pytest.mark.parametrize(
    ("curve", "gamut", "name"),
    [
        ("S-Log3", "S-Gamut3", "S-Log3"),
        ("LogC3", "AWG3", "ARRI LogC3"),
        ("V-Log", "V-Gamut", "V-Log"),
    ],
)
def test_log_numbers_miss_by_what_is_said_through_opencolorio(
    colour: ModuleType, curve: str, gamut: str, name: str
) -> None:
    """The file as OpenColorIO reads it, against the library's curves on every code."""
    ocio = pytest.importorskip("PyOpenColorIO")
    correction = make_gains(curve, gamut)
    found = fit_log_numbers(correction)
    assert 2.0 < found.above < 20.0
    data = format_cdl(correction, "cc", "a", (), found)
    assert f"{found.above:.1f} from 4 stops under grey up".encode() in data
    read = ocio.CDLTransform.CreateFromFile
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.cc"
        path.write_bytes(data)
        cdl = read(str(path), "")
    encode, decode = (getattr(colour.models, f"log_{way}coding_{FUNCTIONS[name]}") for way in WAYS)
    if name == "ARRI LogC3":
        method = "Linear Scene Exposure Factor"
        encode, decode = (partial(each, method=method) for each in (encode, decode))
    codes = np.linspace(float(encode(0.18 / 16)), 1.0, 4000)
    worst = 0.0
    for channel, gain in enumerate((0.6, 1.0, 1.7)):
        exact = encode(decode(codes) * gain)
        got = codes * cdl.getSlope()[channel] + cdl.getOffset()[channel]
        worst = max(
            worst, float(np.abs(got - exact)[(exact <= 1.0) & (exact >= codes[0])].max()) * 1023
        )
    assert worst == pytest.approx(found.above, abs=0.15)


@pytest.mark.parametrize("curve", ["Linear", "ACEScct"])
def test_log_numbers_need_log_codes_in_one_encoding(curve: str) -> None:
    given = make_gains(curve, "ACEScg")
    into = find_encoding("S-Log3", "ACEScg") if curve == "ACEScct" else None
    with pytest.raises(InputError):
        fit_log_numbers(LinearCorrection(given.encoding, given.matrix, into))
