"""What coarse steps and repeated readings leave open."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.shared import make_setup
from wbplan.camera.setting import view_camera
from wbplan.description.lights import LightSet, describe_lights
from wbplan.light.spectrum import WAVELENGTHS_NM, Reading, normalise_peak
from wbplan.planning.lights import plan_lights
from wbplan.planning.response import respond_to_scene
from wbplan.read.catalogue import find_camera, find_source
from wbplan.read.spectra.files import make_readings, parse_tables, read_curve
from wbplan.scene.setup import Source

NAMES = ("FL2", "FL8", "LED-B1", "LED-B4", "LED-RGB1", "LED-V1", "HP3")


def read(content: str) -> tuple[Reading, ...]:
    return tuple(
        each
        for table in parse_tables(content.encode(), "f.csv")
        for each in make_readings(table, [*range(len(table.labels))], len(table.labels) == 1)
    )


def smear(power: np.ndarray, step: int, width: int) -> np.ndarray:
    triangle = 1 - np.abs(np.arange(1 - width, width)) / width
    held = np.pad(power, width - 1, mode="edge")
    return np.convolve(held, triangle / triangle.sum(), "valid")[::step]


def write(powers: list[np.ndarray], step: int, above: str = "") -> str:
    rows = io.StringIO()
    rows.write(f"{above}nm,{','.join(f'lamp {n}' for n in range(len(powers)))}\n")
    for row, nm in enumerate(WAVELENGTHS_NM[::step]):
        rows.write(f"{nm:g},{','.join(f'{each[row]:.7f}' for each in powers)}\n")
    return rows.getvalue()


@pytest.mark.parametrize(("step", "steps"), [(5, 1), (5, 2), (10, 1)])
def test_intervals_hold_the_truth(step: int, steps: int) -> None:
    """A few of the lights of `tests/bench/sampling_trial.py`, which has all."""
    truth = [find_source(name).values for name in NAMES]
    fine = describe_lights(tuple(Reading(n, find_source(n)) for n in NAMES)).eye
    coarse = describe_lights(read(write([smear(x, step, step * steps) for x in truth], step)))
    held = []
    for row, light in enumerate(coarse.lights):
        band = light.sampling
        assert band is not None
        assert band.step_nm == step
        for interval, true, slack in (
            (band.cct_kelvin, fine.cct_kelvin[row], 1.0),
            (band.duv, fine.duv[row], 3e-5),
            (band.ra, fine.cie.ra[row], 0.1),
            (band.r9, fine.cie.special[row, 8], 0.3),
            (band.rf, fine.fidelity.rf[row], 0.1),
            (band.tlci, fine.tlci[row], 0.3),
            (band.ssi, fine.ssi[row], 0.5),
        ):
            held.append(interval.low - slack <= true <= interval.high + slack)
    assert np.mean(held) > 0.9


@pytest.mark.parametrize(("step", "steps"), [(5, 2), (10, 1)])
def test_the_setting_holds_what_the_unsmeared_light_wants(
    step: int, steps: int, tmp_path: Path
) -> None:
    """The camera as if exactly known; as read and as a plan reads the same file."""
    truth = [find_source(name) for name in NAMES]
    camera = view_camera(replace(find_camera("cfa-mid", Path()), family="exact"))
    text = write([smear(x.values, step, step * steps) for x in truth], step)
    fine = describe_lights(tuple(Reading("", x) for x in truth), camera)
    coarse = describe_lights(read(text), camera)
    path = tmp_path / "f.csv"
    path.write_text(text)
    lights = tuple(
        Source(name, normalise_peak(read_curve(path, "spectrum_file", f"lamp {row}")))
        for row, name in enumerate(NAMES)
    )
    setup = make_setup([[100.0] * len(NAMES)], NAMES, sources=lights, camera=camera.profile)
    planned = plan_lights(respond_to_scene(setup, camera))
    held = []
    for was, found, again in zip(fine.lights, coarse.lights, planned, strict=True):
        assert was.camera is not None
        assert found.camera is not None
        ends = [(x.mired.low, x.mired.high, *x.point) for x in (found.camera.wanted, again.wanted)]
        assert ends[0] == pytest.approx(ends[1], rel=1e-9)
        assert again.wanted.mired.is_open
        assert not was.camera.wanted.mired.is_open
        true, wanted = was.camera.wanted.point, found.camera.wanted
        held.append(wanted.mired.low - 0.2 <= true[0] <= wanted.mired.high + 0.2)
        held.append(wanted.tint_cc.low - 0.03 <= true[1] <= wanted.tint_cc.high + 0.03)
    assert np.mean(held) > 0.85


def test_a_stated_bandwidth_is_corrected() -> None:
    truth = find_source("FL2").values
    smeared = [smear(truth, 10, 10)]
    fine = describe_lights((Reading("FL2", find_source("FL2")),))

    def miss(found: LightSet) -> float:
        return abs(float(found.eye.cie.special[0, 8] - fine.eye.cie.special[0, 8]))

    bare = describe_lights(read(write(smeared, 10)))
    told = describe_lights(read(write(smeared, 10, "Bandwidth (FWHM): 10 nm\n")))
    assert miss(told) < 0.5 * miss(bare)
    assert told.lights[0].sampling is None
    assert any("corrected for a bandwidth of 10 nm" in x.text for x in told.lights[0].notes)


@pytest.mark.parametrize(
    ("above", "is_open", "is_corrected"),
    [
        ("Optical bandwidth: 10 nm\n", False, True),
        ("bandwidth_nm;20\n", False, True),
        ("Spectral resolution: 9,8 nm\n", False, True),
        ("Bandwidth corrected: yes\n", False, False),
        ("bandpass correction: applied\n", False, False),
        ("bandpass correction: no\n", True, False),
        ("Bandwidth: 35 nm\n", True, False),
        ("FWHM: 10 nm\n", True, False),  # may be the lamp's own
    ],
)
def test_words_of_bandwidth(above: str, is_open: bool, is_corrected: bool) -> None:
    (reading,) = read(write([find_source("LED-B3").values[::10]], 10, above))
    assert (reading.spectrum.sampling is not None) == is_open
    notes = " ".join(each.text for each in reading.spectrum.notes)
    assert ("corrected for a bandwidth" in notes) == is_corrected


def test_fine_and_uneven_steps_are_not_open() -> None:
    power = find_source("LED-B3").values
    (fine,) = read(write([power[::2]], 2))
    assert fine.spectrum.sampling is None
    lines = write([power[::5]], 5).split("\n")
    text = "\n".join([*lines[:40], *lines[41:]])
    (uneven,) = read(text)
    assert uneven.spectrum.sampling is None


def test_repeated_readings_scatter() -> None:
    power = find_source("LED-B3").values[::5]
    chance = np.random.default_rng(3)
    head = "name,lux," + ",".join(f"{nm:g}" for nm in WAVELENGTHS_NM[::5])
    rows = [
        f"key,{500 + 2 * n}," + ",".join(f"{x:.6f}" for x in power + chance.uniform(0, 0.01, 81))
        for n in range(5)
    ] + ["fill,90," + ",".join(f"{x:.6f}" for x in power)]
    lights = describe_lights(read("\n".join([head, *rows])))
    (repeat,) = lights.repeats
    assert repeat.rows == (0, 1, 2, 3, 4)
    assert repeat.illuminance_lux.mean == pytest.approx(504)
    assert repeat.illuminance_lux.deviation == pytest.approx(np.sqrt(10), rel=1e-6)
    kelvin = lights.eye.cct_kelvin[:5]
    assert repeat.mired.deviation == pytest.approx(np.std(1e6 / kelvin, ddof=1))
    assert 0 < repeat.ra.deviation < 2


def test_a_saturated_reading_of_a_lying_table_is_left_out() -> None:
    row = ",".join(f"{x:.6f}" for x in find_source("A").values[::10])
    head = "name,saturated," + ",".join(f"{nm:g}" for nm in WAVELENGTHS_NM[::10])
    (table,) = parse_tables(f"{head}\nkey,no,{row}\nfill,yes,{row}\nback,no,{row}".encode(), "f")
    names = [table.find_quantity(i).name for i in range(3)]
    assert names == ["", "a saturated reading", ""]
