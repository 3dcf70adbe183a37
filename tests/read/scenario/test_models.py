"""Modelled lights in a scenario: what is read, what is refused, and that they are marked."""

from __future__ import annotations

from pathlib import Path

import pytest

from wbplan.core.errors import InputError
from wbplan.front.files import make_files
from wbplan.front.plans import plan
from wbplan.light.colorimetry import find_cct_duv, find_xy
from wbplan.light.spectrum import Spectrum
from wbplan.read.model.forms import Map
from wbplan.read.model.scenario import SCENARIO as TABLE
from wbplan.read.scenario.models import MODELS, read_model
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.yaml.fields import parse_yaml


def read(text: str) -> Spectrum:
    fields = parse_yaml(text, "s.yaml", TABLE, Map("light"))
    spectrum = read_model(fields, fields.kind(list(MODELS)))
    fields.finish()
    return spectrum


RGB = "red: {peak_nm: 630, width_nm: 18}, green: {peak_nm: 525, width_nm: 32}, blue: {peak_nm: 460}"
GOOD = {
    "phosphor_led: {cct_kelvin: 5600, duv: 0.002}": (5600, 0.002),
    "phosphor_led: {cct_kelvin: 3200, pump_nm: 455, pump_width_nm: 24, phosphor_width_nm: 130}": (
        3200,
        0.0,
    ),
    f"led_mix: {{cct_kelvin: 4300, duv: -0.003, channels: {{{RGB}}}}}": (4300, -0.003),
    f"led_mix: {{cct_kelvin: 3000, channels: {{{RGB}, white: {{cct_kelvin: 5600}}, "
    "amber: {peak_nm: 592}}}": (3000, 0.0),
    "xenon_flash: {cct_kelvin: 5600}": (5600, None),
    "xenon_flash: {cct_kelvin: 6000, line_percent: 0}": (6000, 0.0),
}


@pytest.mark.parametrize("text", GOOD)
def test_stated_colours_are_met(text: str) -> None:
    spectrum = read(text)
    kelvin, duv = find_cct_duv(spectrum.values)
    assert kelvin == pytest.approx(GOOD[text][0], rel=1e-4)
    if GOOD[text][1] is not None:
        assert duv == pytest.approx(GOOD[text][1], abs=1e-5)
    assert spectrum.is_model
    assert spectrum.origin.startswith("model: ")


def test_a_mix_to_x_and_y_says_its_shares() -> None:
    spectrum = read(f"led_mix: {{xy: [0.35, 0.36], channels: {{{RGB}}}}}")
    assert find_xy(spectrum.values) == pytest.approx([0.35, 0.36], abs=1e-6)
    (note,) = spectrum.notes
    assert note.text.startswith("share of the lux: red ")
    assert "blue" in note.text


def test_a_discharge_lamp() -> None:
    text = (
        "discharge_lamp:\n  lines:\n  - {nm: 435.8, power: 40}\n  - {nm: 546.1, power: 50}\n"
        "  - {nm: 578, power: 55, width_nm: 4}\n  continuum: {kelvin: 5000, power: 30}\n"
    )
    spectrum = read(text)
    assert spectrum.values[166] > 10 * spectrum.values[140]
    assert "435.8, 546.1, 578 nm" in spectrum.name
    assert "5000 K" in spectrum.name


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        ("phosphor_led: {}", ["phosphor_led"]),
        ("phosphor_led: {cct_kelvin: 900}", ["cct_kelvin", "900", "1500 to 25000"]),
        ("phosphor_led: {cct_kelvin: 1700, duv: 0.04}", ["1700 K", "pump", "can mix"]),
        ("phosphor_led: {cct_kelvin: 5600, dvu: 0}", ["'dvu'", "did you mean 'duv'"]),
        ("led_mix: {cct_kelvin: 5600}", ["channels", "no such field"]),
        (f"led_mix: {{xy: [0.1, 0.8], channels: {{{RGB}}}}}", ["x 0.1, y 0.8", "reach"]),
        (f"led_mix: {{xy: [0.3], channels: {{{RGB}}}}}", ["a list of 1", "2 numbers"]),
        (
            f"led_mix: {{xy: [0.3, 0.3], cct_kelvin: 4000, channels: {{{RGB}}}}}",
            ["only one of xy, cct_kelvin"],
        ),
        (
            "led_mix: {cct_kelvin: 4000, channels: {red: {width_nm: 20}}}",
            ["exactly one of peak_nm, cct_kelvin"],
        ),
        ("discharge_lamp: {lines: []}", ["lines", "a list of mappings"]),
        ("discharge_lamp: {lines: [{nm: 300, power: 1}]}", ["nm", "300", "380 to 780"]),
        ("discharge_lamp: {lines: [{nm: 500, power: 0}]}", ["power", "from 0.000000001"]),
        ("discharge_lamp: {lines: [{nm: 500, power: 5e-324}]}", ["power", "from 0.000000001"]),
        ("xenon_flash: {cct_kelvin: 100}", ["cct_kelvin", "100", "2000 to 20000"]),
        ("xenon_flash: {cct_kelvin: 5600, line_percent: 80}", ["line_percent", "0 to 50"]),
    ],
)
def test_what_cannot_be_is_refused(text: str, fragments: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        read(text)
    message = str(caught.value)
    assert message.startswith("s.yaml:1")
    for fragment in fragments:
        assert fragment in message


SCENARIO = """
wbplan: 1
title: Models
camera: cfa-mid
sources:
  panel: {phosphor_led: {cct_kelvin: 5600}}
  tubes: {led_mix: {cct_kelvin: 3200, channels: {%s}}}
  street: {discharge_lamp: {lines: [{nm: 546.1, power: 1}], continuum: {kelvin: 4000, power: 3}}}
  flash: {xenon_flash: {cct_kelvin: 5800}}
  read: {spectrum_file: lamp.spdx}
setups:
- name: One
  shooting: {fps: 24, shutter_angle_deg: 180}
  positions:
    face: {lux: {panel: 100, tubes: 20, street: 5, flash: 10, read: 3}}
"""


def write(tmp_path: Path, quantity: str = "relative") -> Path:
    points = "".join(
        f'<SpectralData wavelength="{x}">{x / 780}</SpectralData>' for x in range(380, 781, 10)
    )
    (tmp_path / "lamp.spdx").write_text(
        "<IESTM2714><SpectralDistribution><SpectralQuantity>"
        f"{quantity}</SpectralQuantity>{points}</SpectralDistribution></IESTM2714>"
    )
    path = tmp_path / "s.yaml"
    path.write_text(SCENARIO % RGB)
    return path


def test_a_plan_marks_them_everywhere(tmp_path: Path) -> None:
    decided = plan(write(tmp_path))
    lights = decided.setups[0].lights
    assert [each.is_model for each in lights] == [True, True, True, True, False]
    codes = [each.code for each in decided.setups[0].cautions]
    assert "uv" in codes
    assert "strobe" in codes
    files = make_files(decided)
    page = next(text.decode() for name, text in files.items() if name.endswith("_report.html"))
    origins = page[page.index('id="origin"') :]
    assert origins.count(">model</span> <small>not measured") == 4
    assert files["plan.json"].decode().count('"is_model": true') == 4


def test_a_surface_is_no_light_and_a_light_no_filter(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="values of reflectance"):
        read_scenario(write(tmp_path, "reflectance"))
    path = write(tmp_path)
    text = path.read_text().replace(
        "read: {spectrum_file: lamp.spdx}",
        "read: {lamp: A, filter: {transmittance_file: lamp.spdx}}",
    )
    path.write_text(text)
    with pytest.raises(InputError, match="values of relative; allowed: a transmittance"):
        read_scenario(path)


def test_a_wide_table_in_a_scenario(tmp_path: Path) -> None:
    head = ",".join(["name", *(str(x) for x in range(380, 781, 10))])
    rows = [",".join([name, *["1"] * 41]) for name in ("day", "night")]
    (tmp_path / "w.csv").write_text("\n".join([head, *rows]))
    path = write(tmp_path)
    text = path.read_text()
    path.write_text(text.replace("spectrum_file: lamp.spdx", "spectrum_file: w.csv, column: night"))
    assert read_scenario(path).setups[0].sources[-1].spectrum.name == "w.csv"
    path.write_text(text.replace("spectrum_file: lamp.spdx", "spectrum_file: w.csv, column: noon"))
    with pytest.raises(InputError, match="the reading 'noon'"):
        read_scenario(path)
    path.write_text(text.replace("spectrum_file: lamp.spdx", "spectrum_file: w.csv"))
    with pytest.raises(InputError, match=r"2 spectra \(day, night\)"):
        read_scenario(path)
