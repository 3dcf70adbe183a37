"""Lights of the sky in a scenario: what is read, what a plan makes of it, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.front.files import make_files
from wbplan.front.lights import describe
from wbplan.front.plans import plan
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.read.gather import find_light, gather_lights
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.scenario.site import note_site
from wbplan.record.lights import build_light_record
from wbplan.report.plan.terminal import format_plan
from wbplan.scene.cautions import SUN, choose_reading_cautions
from wbplan.scene.setup import Setup
from wbplan.sky.site import Site

pytest.importorskip("pvlib")

YARD = """\
wbplan: 1
title: Yard
camera: nikon-d5100
site: {latitude_deg: 54.4, longitude_deg: 4.4, altitude_m: 8, time_zone: Europe/Brussels}
sources:
  sun: {sun: {facing: {azimuth_deg: 200}}}
  sky: {sky: {facing: {azimuth_deg: 200}}}
  shade: {shade: {share_of_sky: 0.4}}
  cloud: {overcast: {facing: up, kelvin: 6800}}
  lamp: {lamp: LED-B3}
setups:
  - name: Noon
    when: 2026-06-21 14:30
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    positions:
      face: {lux: {sun: model, sky: model}}
      wall: {lux: {shade: {share: 0.5}, lamp: 80}, intent: leave}
"""


def write(tmp_path: Path, text: str = YARD) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(text)
    return path


def read(tmp_path: Path, *changes: tuple[str, str]) -> Setup:
    text = YARD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return read_scenario(write(tmp_path, text)).setups[0]


def test_what_is_read(tmp_path: Path) -> None:
    setup = read(tmp_path)
    assert [each.name for each in setup.sources] == ["sun", "sky", "shade", "lamp"]
    sun, sky, shade = (each.sky for each in setup.sources[:3])
    assert sun is not None
    assert sky is not None
    assert shade is not None
    # 21 June, 14:30 summer time at 4.4 east: 48 minutes past true noon (common practice: noon at
    # 13:42 + 2 min equation of time), so the sun is past south and near its height of
    # 90 - 54.4 + 23.4 or 59 degrees.
    assert 57 < sun.elevation_deg < 59
    assert 200 < sun.azimuth_deg < 215
    assert setup.positions[0].lux[:2] == pytest.approx([sun.lux, sky.lux])
    assert setup.positions[1].lux[2] == pytest.approx(0.5 * shade.lux)
    assert setup.positions[0].model_share == (1.0, 1.0, None, None)
    assert setup.positions[1].model_share == (None, None, 0.5, None)
    assert all(each.spectrum.is_model for each in setup.sources[:3])
    assert "2026-06-21 14:30 (UTC+02:00)" in str(setup.sources[0].spectrum.notes[0])


def test_a_lux_that_was_read_stays(tmp_path: Path) -> None:
    setup = read(tmp_path, ("{sun: model, sky: model}", "{sun: 61000, sky: model}"))
    assert setup.positions[0].lux[0] == 61000
    assert setup.positions[0].model_share == (None, 1.0, None, None)


def test_own_air_horizon_and_time(tmp_path: Path) -> None:
    setup = read(
        tmp_path,
        ("time_zone: Europe/Brussels}", "time_zone: Europe/Brussels, horizon: {0: 5, 180: 20}}"),
        (
            "sun: {sun: {facing: {azimuth_deg: 200}}}",
            "sun: {sun: {facing: up, with_sky: true, horizon: {90: 3}, when: 2026-06-21 12:00, "
            "atmosphere: {aerosol_depth: 0.2, ground_albedo: 0.1}}}",
        ),
    )
    sun, sky = setup.sources[0].sky, setup.sources[1].sky
    assert sun is not None
    assert sky is not None
    assert sun.light.stated == {"aerosol_depth", "ground_albedo"}
    assert sun.light.horizon.points == ((90.0, 3.0),)
    assert sky.light.horizon.points == ((0.0, 5.0), (180.0, 20.0))
    assert sun.when.hour == 12
    assert sky.when.hour == 14


def test_the_unknown_air_widens_the_band(tmp_path: Path) -> None:
    """An exact camera has no band but for the air and what the model is out by, which stays."""
    path = write(tmp_path)
    open_air = plan(path).setups[0]
    assert open_air.exact.mired.high - open_air.exact.mired.low > 4
    face = open_air.positions[0]
    assert face.lux.high / face.lux.low > 1.1
    every = (
        "{aerosol_depth: 0.1, angstrom_exponent: 1.14, ozone_atm_cm: 0.344, water_cm: 1.42, "
        "ground_albedo: 0.2, colour_by_direction: 0.75}"
    )
    known = plan(write(tmp_path, YARD + f"atmosphere: {every}\n")).setups[0]
    assert known.exact.mired.value == pytest.approx(open_air.exact.mired.value)
    width = known.exact.mired.high - known.exact.mired.low
    assert 1 < width < 0.9 * (open_air.exact.mired.high - open_air.exact.mired.low)
    assert (
        1.05
        < known.positions[0].lux.high / known.positions[0].lux.low
        < face.lux.high / face.lux.low
    )


def test_modelled_level_and_spectrum_are_one_light(tmp_path: Path) -> None:
    """Half the levels of everything shift no colour, and a stop of light: 1 stop is a factor 2."""
    whole = plan(write(tmp_path)).setups[0]
    text = YARD.replace("{sun: model, sky: model}", "{sun: {share: 0.5}, sky: {share: 0.5}}")
    half = plan(write(tmp_path, text)).setups[0]
    assert half.exact.mired.value == pytest.approx(whole.exact.mired.value, abs=1e-9)
    assert half.key.lux.value == pytest.approx(whole.key.lux.value / 2)
    assert half.key.t_stop.value == pytest.approx(whole.key.t_stop.value / np.sqrt(2))


def test_the_sun_hidden_by_a_house_gives_nothing(tmp_path: Path) -> None:
    setup = read(tmp_path, ("{facing: {azimuth_deg: 200}}", "{facing: {azimuth_deg: 10}}"))
    assert setup.positions[0].lux[0] == 0
    assert "the surface itself hides the sun" in str(setup.sources[0].spectrum.notes[1])
    assert find_illuminance_lux(setup.sources[0].spectrum.values) > 0


def test_everything_counts_in_the_digest(tmp_path: Path) -> None:
    digests = {
        digest_values(read_scenario(write(tmp_path, text)))
        for text in (
            YARD,
            YARD.replace("14:30", "14:31"),
            YARD.replace("{share: 0.5}", "{share: 0.6}"),
            YARD.replace("share_of_sky: 0.4", "share_of_sky: 0.41"),
            YARD.replace("azimuth_deg: 200}}}\n  sky", "azimuth_deg: 201}}}\n  sky"),
            YARD + "atmosphere: {ozone_atm_cm: 0.344}\n",  # stated, so no longer spread
        )
    }
    assert len(digests) == 6


def test_every_output_warns_of_the_sun(tmp_path: Path) -> None:
    made = plan(write(tmp_path))
    files = make_files(made)
    assert SUN.text in format_plan(made, width=400)
    assert "through a lens or a finder" in files["report.html"].decode()
    assert "through a lens or a finder" in files["plan.json"].decode()


def test_other_commands_take_them(tmp_path: Path) -> None:
    path = write(tmp_path)
    lights, _ = gather_lights([str(path)])
    assert [each.name for each in lights] == ["sun", "sky", "shade", "lamp"]
    one = find_light(f"{path}:shade")
    assert one.spectrum.is_model
    with pytest.raises(InputError, match="did you mean 'shade'"):
        find_light(f"{path}:shde")


def test_records_of_lights_and_plate_notes_warn_of_the_sun(tmp_path: Path) -> None:
    path = write(tmp_path)
    described = describe([f"{path}:lamp"], against=f"{path}:sun")
    assert SUN in choose_reading_cautions(described.spectra)
    record = build_light_record(described, "x")
    assert {"code": SUN.code, "text": SUN.text} in record["cautions"]
    files = make_files(plan(path, plate=True))
    xml = next(name for name in files if "light-01-sun" in name and name.endswith(".xml"))
    assert SUN.text in files[xml].decode()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("site: {", "#site: {", "without a place"),
        ("    when: 2026-06-21 14:30\n", "", "no time; allowed: `when` in this setup"),
        ("14:30", "03:00", r"under -8°: deeper twilight and night are not modelled"),
        ("14:30", "00:10", "twilight and night"),
        ("{facing: {azimuth_deg: 200}}", "{facing: down}", "facing: found"),
        ("{facing: {azimuth_deg: 200}}", "{facing: {azimuth_deg: 400}}", "from 0 to 360"),
        ("{facing: {azimuth_deg: 200}}", "{facing: {azimuth: 200}}", "azimuth_deg"),
        (
            "{facing: {azimuth_deg: 200}}",
            "{facing: {azimuth_deg: 200, tilt_deg: 120}}",
            "from 0 to 90",
        ),
        ("sun: {sun: {facing", "sun: {sun: {cloud: 0.5, facing", "unknown field 'cloud'"),
        ("kelvin: 6800", "kelvin: 3000", "from 4500 to 12000"),
        ("share_of_sky: 0.4", "share_of_sky: 1.4", "from 0.0001 to 1"),
        ("share_of_sky: 0.4", "facing: up", "unknown field 'facing'"),
        ("sun: model, ", "sun: modell, ", "or model, or a mapping"),
        ("sun: model, ", "sun: -3, ", "0, or a number from"),
        ("lamp: 80", "lamp: model", "a number"),
        ("lamp: 80", "lamp: {share: 1}", "a number"),
        ("{share: 0.5}", "{share: 0}", "from 0.000001 to 10"),
        ("sun: model, ", "son: 3, ", "did you mean"),
        ("{lamp: LED-B3}", "{mix: [{sun: {facing: up}, share: 1}]}", "inside another light"),
        ("{lamp: LED-B3}", "{sky: {facing: up}, lamp: LED-B3}", "only one of"),
        ("{azimuth_deg: 200}}}\n  sky", "{azimuth_deg: 10}}}\n  sky", "DARK"),
        ("kelvin: 6800}", "kelvin: 6800}, flash: true", "a flash or flicker beside"),
        ("site: {", "atmosphere: {aerosol: 0.1}\nsite: {", "aerosol"),
        ("site: {", "atmosphere: {water_cm: -1}\nsite: {", "from 0 to 8"),
        ("Brussels}", "Brussels, horizon: {400: 3}}", "azimuths from 0 to under 360"),
        ("Brussels}", "Brussels, horizon: {north: 3}}", "the azimuth 'north'"),
        ("Brussels}", "Brussels, horizon: {10: 3, 10.0: 4}}", "each once"),
        ("Brussels}", "Brussels, horizon: {10: 90}}", "from 0 to 89"),
    ],
)
def test_what_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in YARD
    text = YARD.replace(old, new)
    if said == "DARK":
        said, text = "when the surface itself hides it", text.replace("sun: model", "sun: 900")
    with pytest.raises(InputError, match=said) as caught:
        read_scenario(write(tmp_path, text))
    assert caught.value.place.line > 0


def test_two_skies_are_warned_of(tmp_path: Path) -> None:
    assert not [each for each in read(tmp_path).notes if each.code == "two-skies"]
    setup = read(tmp_path, ("{sun: model, sky: model}", "{cloud: model, sky: model}"))
    (note,) = (each for each in setup.notes if each.code == "two-skies")
    assert note.weight == "warning"
    assert "overcast and shade, sky in one setup" in note.text


def test_what_the_band_spreads_is_said(tmp_path: Path) -> None:
    stated = (
        "{facing: {azimuth_deg: 200}}}\n  sky",
        "{facing: up, atmosphere: {water_cm: 2}}}\n  sky",
    )
    said = str(read(tmp_path, stated).sources[0].spectrum.notes[0])
    assert "aerosol depth 0.05 to 0.3" in said
    assert "water" not in said.split("spreads")[1]
    cloud = read(tmp_path, ("{sun: model, sky: model}", "{cloud: model}")).sources[1]
    assert str(cloud.spectrum.notes[0]).endswith("spreads 0.4 to 2.5 times the mean level")


@pytest.mark.parametrize("year", ["9999", "0001"])
@pytest.mark.parametrize("has_sky", [True, False])
def test_years_that_no_clock_knows_are_refused(year: str, has_sky: bool, tmp_path: Path) -> None:
    text = YARD.replace("when: 2026-06-21", f"when: {year}-01-01")
    if not has_sky:
        text = text.replace("lux: {sun: model, sky: model}", "lux: {lamp: 80}")
    with pytest.raises(InputError, match=r"setups\[0\].when.*a year from 1950 to 2099"):
        read_scenario(write(tmp_path, text))


def test_the_luts_of_a_plan_warn_of_the_sun(tmp_path: Path) -> None:
    asked = "    luts: [{kind: gains, formats: [cube, cdl]}]\n    positions:"
    files = make_files(plan(write(tmp_path, YARD.replace("    positions:", asked))))
    luts = [name for name in files if name.endswith((".cube", ".cdl", ".cc"))]
    assert len(luts) == 3
    for name in luts:
        said = " ".join(files[name].decode().replace("# ", "").split())
        assert SUN.text in said
    lamp = YARD.replace("{sun: model, sky: model}", "{lamp: 80}").replace(
        "shade: {share: 0.5}, ", ""
    )
    made = make_files(plan(write(tmp_path, lamp)))
    assert not any(b"into the sun" in made[name] for name in made if name.endswith(".cube"))


def test_a_light_that_nobody_reads_needs_no_time(tmp_path: Path) -> None:
    text = YARD.replace("    when: 2026-06-21 14:30\n", "").replace(
        "sun: model, sky: model", "lamp: 9"
    )
    setup = read_scenario(write(tmp_path, text.replace("shade: {share: 0.5}, ", ""))).setups[0]
    assert [each.name for each in setup.sources] == ["lamp"]


@pytest.mark.parametrize(
    ("place", "code", "said"),
    [
        ("latitude_deg: 54.4, longitude_deg: 4.4", "", ""),
        ("latitude_deg: 54.4, longitude_deg: -74.4", "site-clock", "hours of sun apart"),
        ("latitude_deg: 0, longitude_deg: 0", "site-nowhere", "open Gulf of Guinea"),
    ],
)
def test_a_place_that_its_clock_contradicts_is_warned_of(
    tmp_path: Path, place: str, code: str, said: str
) -> None:
    setup = read(tmp_path, ("latitude_deg: 54.4, longitude_deg: 4.4", place))
    notes = [each for each in setup.notes if each.code.startswith("site-")]
    assert [each.code for each in notes] == ([code] if code else [])
    assert all(said in each.text and each.weight == "warning" for each in notes)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "said"),
    [
        # A swapped pair, a lost sign, and honest clocks that stand far from their sun.
        (-0.8, 78.5, "America/Lima", "-78.5 would fit"),
        (151.2 - 90, 33.9, "Asia/Yekaterinburg", ""),
        (39.5, 76.0, "Asia/Shanghai", ""),
        (43.4, -8.4, "Europe/Madrid", ""),
        (-16.5, 179.5, "Pacific/Fiji", ""),
        (77.0, 10.0, "Asia/Kolkata", "look swapped"),
    ],
)
def test_honest_clocks_are_left_alone(
    latitude: float, longitude: float, zone: str, said: str
) -> None:
    notes = note_site(Site("", latitude, longitude, 0.0, zone))
    assert bool(notes) == bool(said)
    assert not said or said in notes[0].text


def test_a_beam_that_no_source_names_is_warned_of(tmp_path: Path) -> None:
    """The sun at 14:30 stands before a wall that faces 200 degrees (see `test_what_is_read`)."""
    assert not [each for each in read(tmp_path).notes if each.code == "sun-unnamed"]
    (note,) = (
        each
        for each in read(tmp_path, ("{sun: model, sky: model}", "{sky: model}")).notes
        if each.code == "sun-unnamed"
    )
    assert note.weight == "warning"
    assert note.text.startswith("the sun itself reaches this surface at 14:30, up to ")
    behind = ("sky: {sky: {facing: {azimuth_deg: 200}}}", "sky: {sky: {facing: {azimuth_deg: 20}}}")
    hidden = read(tmp_path, ("{sun: model, sky: model}", "{sky: model}"), behind)
    assert not [each for each in hidden.notes if each.code == "sun-unnamed"]
