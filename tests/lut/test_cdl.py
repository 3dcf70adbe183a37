"""ASC CDL files: what is written, and what is refused."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.cdl import CDL_FORMS, format_cdl

ENCODING = find_encoding("S-Log3", "S-Gamut3.Cine")
GAINS = LinearCorrection(ENCODING, np.diag([1.25, 1.0, 0.7512345678]))
ASC = "{urn:ASC:CDL:v1.2}"  # ASC CDL 1.2, the namespace of its schema
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
