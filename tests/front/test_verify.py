"""A plan verified by frames of cameras that the population does not hold.

The truth cameras are three bells each, of this file's own making. A frame is made by the camera's
own curves, locus, gains and matrix, at the exposure that ISO 2720 asks for under its rating light,
and the true cast is what that camera itself would report: none of it by the profile that the plan
was made with.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import wbplan
from tests.camera.learn.test_frames import draw_chart
from tests.read.raw_files import write_dng
from tests.read.test_charts import UPRIGHT
from tests.shared import make_camera, plan_shipped
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import find_locus_response, find_setting_gains, solve_coordinates
from wbplan.core.tables import load_table
from wbplan.exposure.equation import find_needed_lux_s
from wbplan.front.cli.main import main
from wbplan.front.verify import verify
from wbplan.light.illuminants import radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, scale_to_lux
from wbplan.lut.correction import find_camera_matrix
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.outcome import find_position_power

PLAN = plan_shipped("dusk_workshop")
WIDE = PLAN.setups[0]
BELLS = make_camera().sensitivities
LEAN = np.exp(
    -0.5 * ((WAVELENGTHS_NM[:, None] - [604.0, 536.0, 464.0]) / [40.0, 36.0, 27.0]) ** 2
) * [0.7, 1.0, 0.8]
CAMERAS = {"bells": BELLS, "lean": LEAN}


def expose(
    curves: np.ndarray,
    power: np.ndarray,
    plan: SetupPlan = WIDE,
    stops: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """What a camera makes of surfaces in a light (..., 401), its green 1 for a white as metered.

    Returns its balanced RGB at the plan's setting (..., 3) and the gains of that (3,).
    """
    shooting, exposure = plan.setup.shooting, plan.exposure
    assert exposure is not None
    dose = find_needed_lux_s(
        shooting.ei, exposure.t_stop, exposure.nd_stops, shooting.calibration_c
    )
    metered = scale_to_lux(radiate_daylight(5500.0), float(dose) / shooting.exposure_time_s)
    raw = respond(power, curves) / respond(metered, curves)[1] * 2.0**stops
    locus = find_locus_response(curves[None])
    gains = find_setting_gains(locus, plan.dial.mired, plan.dial.tint_cc)[0]
    return raw * gains, gains


def find_true_cast(curves: np.ndarray, power: np.ndarray) -> tuple[float, float]:
    raw = find_log2_response(respond(power, curves))
    found = solve_coordinates(find_locus_response(curves[None]), raw[None])
    return (
        float(found.mired[0]) - WIDE.dial.mired,
        float(found.tint_cc[0]) - WIDE.dial.tint_cc,
    )


def encode(curves: np.ndarray, balanced: np.ndarray, linear: bool = False) -> np.ndarray:
    matrix = find_camera_matrix(curves, WIDE.setup.encoding, WIDE.dial.kelvin)
    scene = balanced @ matrix.T
    return scene if linear else WIDE.setup.encoding.encode(scene)


def shoot_grey(curves: np.ndarray, power: np.ndarray, stops: float = 0.0) -> np.ndarray:
    codes = encode(curves, 0.18 * expose(curves, power, stops=stops)[0])
    noise = np.random.default_rng(6).normal(0, 0.004, (240, 360, 3))
    return np.asarray(codes + noise)


@pytest.mark.parametrize("name", CAMERAS)
@pytest.mark.parametrize("row", range(4))
def test_the_cast_is_what_the_camera_itself_would_report(name: str, row: int) -> None:
    curves = CAMERAS[name]
    power = find_position_power(WIDE.setup, row)
    frame = shoot_grey(curves, power)
    position = WIDE.positions[row]
    (found,) = verify(PLAN, frame, WIDE.name, position.name).outcomes
    mired, cc = find_true_cast(curves, power)
    # Near balance no profile is needed; far from it the plan's is not this camera's.
    assert found.cast.mired.value == pytest.approx(mired, abs=1.0 + 0.05 * abs(mired))
    assert found.cast.green_cc.value == pytest.approx(cc, abs=0.5 + 0.01 * abs(mired))
    planned = position.cast
    is_held = planned.mired.low - 0.05 < found.cast.mired.value < planned.mired.high + 0.05
    assert found.is_mired_held == is_held
    assert found.is_stop_held


def test_right_and_wrong_lamps_are_told_apart() -> None:
    key = find_position_power(WIDE.setup, WIDE.setup.key_row)
    right = verify(PLAN, shoot_grey(BELLS, key), WIDE.name)
    assert right.outcomes[0].is_as_planned
    assert set(right.lesson) == {"lesson.yaml", "light-1.csv"}
    for light in (WIDE.lights[0], WIDE.lights[3]):
        power = light.power * key.sum() / light.power.sum()
        wrong = verify(PLAN, shoot_grey(BELLS, power), WIDE.name)
        (found,) = wrong.outcomes
        assert not found.is_as_planned
        assert found.alike[0] == light.name
        assert not wrong.lesson  # it would be taught under a light that was not on


@pytest.mark.parametrize("stops", [-1.5, -0.6, 0.0, 0.6, 1.5])
def test_right_and_wrong_exposures_are_told_apart(stops: float) -> None:
    key = find_position_power(WIDE.setup, WIDE.setup.key_row)
    (found,) = verify(PLAN, shoot_grey(BELLS, key, stops), WIDE.name).outcomes
    assert found.stops_over is not None
    assert found.stops_over.value == pytest.approx(stops, abs=0.2)
    assert found.is_stop_held == (stops == 0)
    assert found.is_mired_held  # a log curve holds colour over exposure


def test_a_raw_says_the_same_as_a_still(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    headroom = 2.0**6.5
    camera = replace(WIDE.setup.camera, headroom_stops=6.5)
    plan = wbplan.plan("dusk_workshop", camera=camera)
    wide = plan.setups[0]
    key = find_position_power(wide.setup, wide.setup.key_row)
    raw, gains = expose(BELLS, key, wide, 0.3)
    # The profile states headroom to middle grey under its rating light; so does this camera.
    day = respond(radiate_daylight(5500.0), BELLS)
    rated = 0.18 * day.max() / day[1] * headroom
    picture = np.tile(0.18 * raw / gains / rated, (64, 96, 1))
    write_dng(tmp_path / "face.dng", picture, black=0, white=65535, gains=gains)
    (found,) = verify(plan, tmp_path / "face.dng", wide.name).outcomes
    mired, cc = find_true_cast(BELLS, key)
    assert found.cast.mired.value == pytest.approx(mired, abs=1.5)
    assert found.cast.green_cc.value == pytest.approx(cc, abs=0.7)
    assert found.stops_over is not None
    assert found.stops_over.low - 0.1 < 0.3 < found.stops_over.high + 0.1


def test_a_chart_says_the_same_as_a_grey_and_teaches(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    key = find_position_power(WIDE.setup, WIDE.setup.key_row)
    patches, gains = expose(BELLS, key * load_table("chart"))
    picture = draw_chart(patches[::-1] * 0.4, UPRIGHT, 0.14) / gains
    write_dng(tmp_path / "chart.dng", picture, gains=gains)
    corners = UPRIGHT.reshape(-1)
    found = verify(PLAN, tmp_path / "chart.dng", WIDE.name, corners=corners)
    grey = verify(PLAN, shoot_grey(BELLS, key), WIDE.name)
    one, two = (each.outcomes[0].cast.point for each in (found, grey))
    assert one == pytest.approx(two, abs=0.7)
    for name, data in found.lesson.items():
        (tmp_path / name).write_bytes(data)
    learned = wbplan.learn(tmp_path / "lesson.yaml")
    assert learned.teaching.verdict == "good"
    assert not [each for each in learned.teaching.notes if each.code == "chart-turned"]
    wanted = learned.teaching.width_after[0]
    assert wanted < 0.6 * learned.teaching.width_before[0]
    linear = encode(BELLS, draw_chart(patches, UPRIGHT, 0.14), linear=True)
    third = verify(PLAN, linear, WIDE.name, corners=corners, linear=True).outcomes[0]
    assert third.cast.point == pytest.approx(two, abs=0.7)
    assert third.is_stop_held


def test_a_lesson_of_greys_brings_the_profile_nearer(tmp_path: Path) -> None:
    rows = range(4)
    powers = [find_position_power(WIDE.setup, row) for row in rows]
    frames = [shoot_grey(LEAN, each) for each in powers]
    names = [WIDE.positions[row].name for row in rows]
    found = verify(PLAN, frames, WIDE.name, names)
    for name, data in found.lesson.items():
        (tmp_path / name).write_bytes(data)
    learned = wbplan.learn(tmp_path / "lesson.yaml").camera
    dialled = np.array([WIDE.dial.mired, WIDE.dial.tint_cc])
    truth = np.array([find_true_cast(LEAN, each) for each in powers]) + dialled
    misses = []
    for camera in (WIDE.setup.camera, learned):
        settings = wbplan.solve_settings(camera, np.stack(powers))
        guess = np.column_stack([1e6 / settings.kelvin, settings.tint_cc])
        misses.append(np.sqrt(((guess - truth) ** 2).mean(axis=0)))
    assert misses[1][0] < 0.6 * misses[0][0]


BAD = [
    ({"setup": None}, "setup: found a plan of 2 setups"),
    ({"setup": "Wide"}, "setup: found the setup 'Wide'"),
    ({"setup": "x" * 100_000}, "xxx...'; allowed"),
    ({"at": "face"}, "at: found the position 'face'"),
    ({"at": ["window wall", "street door"]}, "at: found 2 positions for 1 frames"),
    ({"grey": [1, 2, 3]}, "grey: found 3 numbers"),
    ({"grey": [0, 0, 1e308, 1e308]}, "grey: found 1e+308"),
    ({"corners": [float("nan")] * 8}, "corners: found nan"),
    ({"corners": "abcdefgh"}, "corners: found no numbers"),
    ({"grey": [350, 50, 20, 20]}, "grey: found an area that is not in it"),
    ({"corners": [1.0] * 8}, "corners: found four corners in order"),
    ({"corners": [5, 5, 80, 5, 80, 50, 5, 50]}, "corners: found patches without the colours"),
    ({"reflectance": 18.0}, "reflectance: found 18"),
]


@pytest.mark.parametrize(("change", "said"), BAD)
def test_what_the_plan_does_not_have_is_refused(change: dict[str, object], said: str) -> None:
    frame = shoot_grey(BELLS, find_position_power(WIDE.setup, WIDE.setup.key_row))
    asked = {"setup": WIDE.name, **change}
    with pytest.raises(wbplan.InputError) as caught:
        verify(PLAN, frame, **asked)  # type: ignore[arg-type]
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        (np.full((60, 90, 3), 255, dtype=np.uint8), "clips"),
        (np.zeros((60, 90, 3)), "nearly black"),
        (np.linspace(0.2, 0.8, 90)[None, :, None] * np.ones((60, 1, 3)), "no even grey"),
        (np.full((60, 90, 3), np.nan), "NaN"),
    ],
)
def test_a_grey_that_cannot_be_read_is_refused(frame: np.ndarray, said: str) -> None:
    with pytest.raises(wbplan.InputError, match=said):
        verify(PLAN, frame, WIDE.name, grey=(0, 0, 90, 60))


def test_the_command_says_it_in_words_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from wbplan.read.pictures import Still, encode_still

    monkeypatch.chdir(tmp_path)
    wbplan.write(PLAN, "p")
    key = find_position_power(WIDE.setup, WIDE.setup.key_row)
    grey = shoot_grey(BELLS, key, 1.5)
    whole = Still(grey, kind="uint16")
    (tmp_path / "face.tif").write_bytes(encode_still(grey, Path("face.tif"), whole)[0])
    asked = ["verify", "p", "face.tif", "--setup", WIDE.name]
    assert main([*asked, "--out", "lesson"]) == 0
    said = capsys.readouterr().out
    assert said.index("Not as planned: 1.") < said.index("cast    ")
    assert "wbplan learn lesson/lesson.yaml" in said
    assert all(len(line) <= 80 for line in said.splitlines())
    assert main([*asked, "--out", "lesson"]) == 2
    assert main([*asked, "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["format"] == "wbplan verification"
    (frame,) = record["frames"]
    assert frame["stop_as_planned"] is False
    assert frame["mired_in_band"] is True
    for wrong, field in (
        (["verify", "nothing", "face.tif"], "PLAN: found 'nothing'"),
        ([*asked, "--at", "x"], "--at: found the position 'x'"),
        ([*asked, "--grey", "1"], "--grey: found 1 numbers"),
        ([*asked, "--reflectance", "0.18"], "--reflectance: found 0.18 %; allowed: 1 to 100 %"),
        (["verify", "p", "none.tif", "--setup", WIDE.name], "none.tif"),
    ):
        assert main(wrong) == 2
        assert field in capsys.readouterr().err
