"""Annex E of TM-30 at the edges of its levels, and on lights."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.design_intent import find_design_intent
from wbplan.light.tm30 import find_fidelity
from wbplan.read.catalogue import find_source


# ANSI/IES TM-30-20, table E-2, from memory; the first two rows as LEED v5, "Quality Electric
# Lighting", repeats P1: Rf at least 78, Rg at least 95, Rcs,h1 from -1 to 15 %.
@pytest.mark.parametrize(
    ("rf", "rg", "red_rf", "red_chroma", "levels"),
    [
        (78, 95, 70, -0.01, (1, 0, 0)),
        (78, 95, 70, 0.15, (1, 0, 0)),
        (78, 95, 70, -0.011, (2, 0, 0)),
        (77.9, 118, 70, 0.15, (2, 1, 0)),
        (70, 89, 60, 0.23, (3, 0, 0)),
        (69.9, 110, 60, 0.06, (0, 2, 0)),
        (78, 100, 70, 0.0, (1, 3, 0)),
        (90, 100, 90, -0.02, (2, 0, 2)),
        (90, 100, 89, -0.02, (2, 0, 3)),
        (95, 100, 40, 0.0, (1, 3, 1)),
        (np.nan, np.nan, np.nan, np.nan, (0, 0, 0)),
    ],
)
def test_the_edges_of_the_levels(
    rf: float, rg: float, red_rf: float, red_chroma: float, levels: tuple[int, ...]
) -> None:
    assert tuple(map(int, find_design_intent(rf, rg, red_rf, red_chroma))) == levels


def test_lights() -> None:
    power = np.stack([find_source(name).values for name in ("A", "D65", "FL4", "FL8")])
    found = find_fidelity(power, find_cct_duv(power)[:, 0])
    levels = find_design_intent(
        found.rf, found.rg, found.bin_rf[:, 0], found.bin_chroma_shift[:, 0]
    )
    # a reference light is faithful and likeable, a tube without red is neither
    assert levels.fidelity.tolist() == [1, 1, 0, 1]
    assert levels.preference.tolist() == [1, 1, 0, 1]
    assert levels.vividness[2] == 0
