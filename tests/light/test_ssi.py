"""Spectral similarity against published values and colour-science; gaps against arithmetic."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.light.colorimetry import find_xy
from wbplan.light.filters import make_ideal_filter
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.light.ssi import find_gap, find_similarity, radiate_ssi_reference
from wbplan.read.catalogue import find_source, list_usable_sources

# The index of C against D65, 94, stands in the documentation of colour-science for
# SMPTE ST 2122:2020; the others were computed from that definition by an independent derivation,
# from data that begin under 375 nm. The shared grid begins at 380 nm and its 5 nm lines are
# brought to 1 nm without straight lines between, which moves the index by up to 0.3.
SSI = {
    ("C", "D65"): 94.183,
    ("D55", "D50"): 93.83,
    ("FL2", "D65"): 58.26,
    ("A", "D65"): 46.62,
    ("HP1", "D55"): -21.9,
}


def get(name: str) -> np.ndarray:
    return find_source(name).values


@pytest.mark.parametrize("pair", SSI)
def test_known_pairs(pair: tuple[str, str]) -> None:
    assert find_similarity(get(pair[0]), get(pair[1])) == pytest.approx(SSI[pair], abs=0.35)


def test_the_documented_pair_rounds_as_documented() -> None:
    assert round(float(find_similarity(get("C"), get("D65")))) == 94


def test_every_source_against_the_library(colour: ModuleType) -> None:
    """On the same grid: what the library is given starts with the value at 380 held to 375 nm."""
    day = get("D55")

    def extend(power: np.ndarray) -> object:
        values = np.concatenate([np.full(5, power[0]), power])
        return colour.SpectralDistribution(dict(zip(range(375, 781), values, strict=True)))

    for record in list_usable_sources():
        power = find_source(record.name).values
        theirs = colour.spectral_similarity_index(extend(power), extend(day), round_result=False)
        assert find_similarity(power, day) == pytest.approx(float(theirs), abs=1e-9), record.name


@given(st.floats(1e-6, 1e6))
def test_level_does_not_count(scale: float) -> None:
    one = find_similarity(get("FL2") * scale, get("D65"))
    assert one == pytest.approx(float(find_similarity(get("FL2"), get("D65"))), rel=1e-9)


def test_a_light_is_wholly_like_itself() -> None:
    np.testing.assert_allclose(find_similarity(get("FL11"), get("FL11")), 100, atol=1e-9)


def test_the_index_is_not_symmetric_and_the_reference_is_second() -> None:
    assert (
        abs(find_similarity(get("FL2"), get("D65")) - find_similarity(get("D65"), get("FL2"))) > 1
    )


def test_the_reference_when_none_is_stated() -> None:
    warm, cool = radiate_ssi_reference(np.array([3999.0, 4000.0]))
    np.testing.assert_allclose(warm, radiate_black_body(3999.0))
    np.testing.assert_allclose(cool, radiate_daylight(4000.0))
    assert np.isnan(radiate_ssi_reference(np.array([np.nan, 30000.0]))).all()


# Gaps --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kelvin", "other", "mired"),
    [(3200, 5500, 131), (5500, 3200, -131), (3200, 6500, 159), (3200, 5700, 137)],
)
def test_mired_by_arithmetic(kelvin: float, other: float, mired: float) -> None:
    gap = find_gap(radiate_black_body(kelvin), radiate_black_body(other))
    assert gap.mired == pytest.approx(mired, abs=0.7)
    # An ideal filter closes the gap between black bodies: Wien's law, nearly exact in the visible
    assert gap.closing_mired == pytest.approx(-mired, abs=3)
    assert gap.closing_cc == pytest.approx(0, abs=1)


@pytest.mark.parametrize("name", ["A", "FL2", "LED-B3", "D65"])
@pytest.mark.parametrize(("mired", "cc"), [(40, 0), (-80, 7.5), (20, -15), (0, 30), (0, -3)])
def test_the_closing_filter_is_found_again(name: str, mired: float, cc: float) -> None:
    bare = get(name)
    gap = find_gap(bare, bare * make_ideal_filter(mired, cc).transmittance)
    assert gap.closing_mired == pytest.approx(mired, abs=1e-4)
    assert gap.closing_cc == pytest.approx(cc, abs=1e-4)


def test_the_closing_filter_closes() -> None:
    lights = np.stack([get(name) for name in ("FL4", "LED-RGB1", "HP1", "D75")])
    gap = find_gap(lights, get("D55"))
    for row in range(4):
        behind = make_ideal_filter(float(gap.closing_mired[row]), float(gap.closing_cc[row]))
        through = find_xy(lights[row] * behind.transmittance)
        np.testing.assert_allclose(through, find_xy(get("D55")), atol=1e-6)


def test_no_filter_makes_daylight_of_a_line() -> None:
    line = np.where(WAVELENGTHS_NM == 589, 1.0, 0.0)
    gap = find_gap(np.stack([line, get("A")]), get("D65"))
    assert np.isnan(gap.closing_cc).tolist() == [True, False]
    assert gap.xy[0] > 0.2


def test_no_gap_from_itself() -> None:
    gap = find_gap(get("FL2"), get("FL2"))
    assert [float(each) for each in gap[:6]] == pytest.approx([0] * 6, abs=1e-9)
    assert gap.ssi == pytest.approx(100)
