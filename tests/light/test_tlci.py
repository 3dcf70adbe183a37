"""TLCI and TLMF against two programs of others, on lights that had no part in making it."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.delta_e import find_delta_e_2000
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.models import Line, make_discharge_lamp
from wbplan.light.tlci import find_tlci, find_tlmf
from wbplan.read.catalogue import find_source

# Qa of ArgyllCMS 2.3.1 (`specplot`), which says that it meets the EBU's own program to 0.01 and
# prints one decimal; the spectra by 5 nm. All 114 sources that it takes lie within 0.25.
QA = {
    "FL1": 47.3, "FL2": 29.5, "FL4": 19.2, "FL7": 93.1, "FL8": 99.2, "FL11": 52.2, "FL12": 49.3,
    "FL3.10": 67.4, "LED-B1": 69.3, "LED-B3": 72.6, "LED-B5": 64.0, "LED-BH1": 66.8,
    "LED-RGB1": 30.2, "LED-V1": 88.2, "A": 100.0, "D65": 100.0, "HP1": 7.5,
    "led-phosphor-6800k": 60.2, "metal-halide-3000k": 57.5, "tungsten-neodymium-2800k": 78.3,
}  # fmt: skip


def test_against_another_program() -> None:
    power = np.stack([find_source(name).values for name in QA])
    found = find_tlci(power, find_cct_duv(power)[:, 0])
    np.testing.assert_allclose(found, list(QA.values()), atol=0.3)


def test_published_examples() -> None:
    # The documentation of colour-science after 0.4.7, `television_lighting_consistency_index` and
    # `television_luminaire_matching_factor`. The second also settled how two lights are levelled.
    tube, day = find_source("FL2").values, find_source("D65").values
    found = find_tlci(tube, find_cct_duv(tube)[0])
    assert found == pytest.approx(29.49254, abs=0.2)
    assert find_tlmf(tube, day) == pytest.approx(5.37608, abs=0.1)


def test_lines_keep_their_energy() -> None:
    """Against the same steps by 1 nm: wherever narrow lines fall, the index holds."""
    from wbplan.core.tables import load_television_table
    from wbplan.light import tlci

    lamps = np.stack(
        [
            make_discharge_lamp([Line(at, 4.0), Line(546.1, 3.0), Line(435.8, 2.0)], 4500.0, 20.0)
            for at in (609.0, 610.5, 612.0, 613.3)
        ]
    )
    kelvin = find_cct_duv(lamps)[:, 0]
    found = find_tlci(lamps, kelvin)
    table, nm = load_television_table(), np.arange(380.0, 761.0)
    fine = np.stack([np.interp(nm, table[:, 0], each) for each in table.T], axis=-1)
    reference = tlci._radiate_reference(kelvin)
    by_1_nm = np.stack([np.interp(nm, table[:, 0], each) for each in reference])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tlci, "load_television_table", lambda: fine)
        shift = find_delta_e_2000(
            tlci._show(lamps[:, :381], lamps[:, :381]), tlci._show(by_1_nm, by_1_nm)
        )
        wanted = tlci._score(shift[..., :18])
    np.testing.assert_allclose(found, wanted, atol=0.4)
    picked = np.zeros_like(lamps)
    picked[:, ::5] = lamps[:, ::5]
    assert np.ptp(find_tlci(picked, kelvin)) > 5  # what every fifth nanometre would make of them


def test_laws() -> None:
    kelvin = np.array([1500.0, 3200, 5600, 9000])
    day = np.concatenate([radiate_black_body(kelvin[:2]), radiate_daylight(kelvin[2:])])
    np.testing.assert_allclose(find_tlci(day, kelvin), 100, atol=0.01)
    np.testing.assert_allclose(find_tlmf(day, 7.3 * day), 100, atol=1e-9)
    # the level does not count, the colour does, and less of it less
    tube = find_source("FL2").values
    assert find_tlmf(0.01 * tube, day[2]) == pytest.approx(float(find_tlmf(tube, day[2])))
    assert find_tlmf(0.5 * (day[1] + day[2]), day[2]) > find_tlmf(day[1], day[2])


def test_batches_and_lights_without_cct() -> None:
    power = np.stack([find_source(name).values for name in ("FL2", "FL4", "A", "D65")])
    kelvin = np.array([4223.0, 2940, np.nan, 30000])
    found = find_tlci(power.reshape(2, 2, 401), kelvin.reshape(2, 2))
    assert np.isnan(found).tolist() == [[False, False], [True, True]]
    np.testing.assert_allclose(found[0], find_tlci(power[:2], kelvin[:2]))
    assert find_tlmf(power[:, None], power[None]).shape == (4, 4)
