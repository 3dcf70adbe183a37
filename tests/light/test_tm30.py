"""TM-30 against published pairs of implementations and colour-science, bin by bin."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.illuminants import radiate_locus
from wbplan.light.tm30 import find_fidelity
from wbplan.read.catalogue import find_source, list_usable_sources

# ANSI/IES TM-30-18 Rf and Rg of CIE illuminants (CIE 15:2018), computed with colour-science 0.4.7
# and luxpy 1.12.5, which agree to 0.2.
RF_RG = {
    "FL2": (70.1, 86.4), "FL4": (56.7, 83.5), "FL7": (91.5, 98.9), "FL8": (95.5, 101.7),
    "FL11": (80.0, 101.1), "FL12": (77.5, 102.4), "LED-B1": (84.1, 96.1),
    "LED-B3": (85.3, 97.9), "LED-B5": (79.5, 94.1), "LED-BH1": (85.2, 106.8),
    "LED-RGB1": (71.0, 107.0), "LED-V1": (87.3, 101.9),
}  # fmt: skip


def find(name: str):  # type: ignore[no-untyped-def]
    power = find_source(name).values
    return find_fidelity(power, find_cct_duv(power)[0])


@pytest.mark.parametrize("name", RF_RG)
def test_published_figures(name: str) -> None:
    found = find(name)
    assert found.rf == pytest.approx(RF_RG[name][0], abs=0.2)
    assert found.rg == pytest.approx(RF_RG[name][1], abs=0.2)


@pytest.mark.filterwarnings("ignore:Aligning")
def test_every_figure_of_every_source_against_the_library(colour: ModuleType) -> None:
    checked = 0
    for record in list_usable_sources():
        power = find_source(record.name).values
        kelvin = find_cct_duv(power)[0]
        if not 1000 < kelvin < 25000:
            continue
        sd = colour.SpectralDistribution(dict(zip(range(380, 781), power, strict=True)))
        theirs = colour.colour_fidelity_index(sd, additional_data=True, method="ANSI/IES TM-30-18")
        found = find_fidelity(power, kelvin)
        name = record.name
        assert found.rf == pytest.approx(theirs.R_f, abs=0.02), name
        assert found.rg == pytest.approx(theirs.R_g, abs=0.02), name
        np.testing.assert_allclose(found.sample_rf, theirs.R_s, atol=0.06, err_msg=name)
        np.testing.assert_allclose(found.bin_rf, theirs.R_fs, atol=0.05, err_msg=name)
        np.testing.assert_allclose(
            100 * found.bin_chroma_shift, theirs.R_cs, atol=0.05, err_msg=name
        )
        np.testing.assert_allclose(found.bin_hue_shift, theirs.R_hs, atol=5e-4, err_msg=name)
        checked += 1
    assert checked > 80


def test_the_reference_is_faithful_to_itself() -> None:
    kelvin = np.array([1500.0, 3200, 4500, 6500, 15000])
    found = find_fidelity(radiate_locus(kelvin), kelvin)
    np.testing.assert_allclose(found.rf, 100, atol=1e-3)  # the score ends softly under 100
    np.testing.assert_allclose(found.rg, 100, atol=1e-9)
    np.testing.assert_allclose(found.bin_chroma_shift, 0, atol=1e-12)


def test_outside_the_locus_there_are_no_figures() -> None:
    power = np.stack([find_source("FL2").values] * 3)
    found = find_fidelity(power, np.array([np.nan, 900.0, 4224.0]))
    assert np.isnan(found.rf).tolist() == [True, True, False]
    assert np.isnan(found.bin_chroma_shift[:2]).all()
    assert found.test_ab.shape == (3, 16, 2)


def test_a_light_that_dulls_reds_says_so() -> None:
    # A fluorescent tube without red phosphor: known for dull reds (common practice, no source)
    found = find("FL4")
    assert found.bin_chroma_shift[0] < -0.2
    assert found.rg < 90


def test_batches() -> None:
    power = np.stack([find_source(name).values for name in ("FL2", "FL4", "A", "D65")])
    kelvin = find_cct_duv(power)[:, 0]
    flat = find_fidelity(power, kelvin)
    square = find_fidelity(power.reshape(2, 2, 401), kelvin.reshape(2, 2))
    np.testing.assert_allclose(square.rf.reshape(4), flat.rf)
    np.testing.assert_allclose(square.test_ab.reshape(4, 16, 2), flat.test_ab)
