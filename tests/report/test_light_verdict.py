"""The verdict on a light in words, for cases that a crew would know."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.camera.setting import view_camera
from wbplan.description.eye import pick_figures
from wbplan.description.lights import LightSet, describe_lights
from wbplan.light.spectrum import WAVELENGTHS_NM, Reading, Spectrum
from wbplan.light.waveform import Waveform
from wbplan.read.catalogue import find_camera, find_source
from wbplan.report.light.verdict import list_verdict

TIME = np.arange(0, 0.2, 1 / 5000)


def tell(lights: LightSet, row: int = 0) -> dict[str, str]:
    return dict(list_verdict(lights, lights.lights[row], pick_figures(lights.eye, row)))


def describe(name: str, camera: str | None = "cfa-mid", against: str | None = None) -> LightSet:
    view = None if camera is None else view_camera(find_camera(camera, Path()))
    other = None if against is None else Reading(against, find_source(against))
    return describe_lights((Reading(name, find_source(name), 500.0),), view, other)


def test_a_light_that_is_as_it_should_be() -> None:
    said = tell(describe("D55"))
    assert said["meter"].startswith("500 lux, 46.5 fc; 5503 K")
    assert "TLCI 100 (nothing to correct on television)" in said["meter"]
    assert said["skin"].startswith("as under a perfect light")
    assert said["do"] == "dial 5500 K, no tint; the meter's Kelvin does too"


def test_a_tube_that_turns_skin() -> None:
    """A halophosphate tube without red makes skin sallow (common practice, no source)."""
    said = tell(describe("FL4"))
    assert said["skin"].startswith("yellow")
    assert "anybody sees it" in said["skin"]
    assert "not the meter's Kelvin" in said["do"]
    assert "no setting mends skin: a matrix for this light leaves" in said["do"]


def test_three_narrow_colours_turn_skin_the_other_way() -> None:
    assert "pink" in tell(describe("LED-RGB1"))["skin"]


def test_without_a_camera() -> None:
    said = tell(describe("FL4", None))
    assert "camera" not in said
    assert said["skin"].startswith("to the eye wrong")
    assert "reds duller by" in said["skin"]
    assert "name a camera" in said["do"]


def test_a_menu_too_short_for_the_light() -> None:
    said = tell(describe("LED-B3", "cfa-presets"))
    assert "dial tungsten" in said["do"]
    assert "which leaves 62 mired cool" in said["do"]
    assert "a filter of 62 mired warm, 1.0 CC minus green takes that off" in said["do"]


@pytest.mark.parametrize(
    ("against", "said"),
    [("D55", "to meet D55 in this camera, hang 68 mired cool"), ("FL11", "it passes for FL11")],
)
def test_meeting_another_light(against: str, said: str) -> None:
    assert said in tell(describe("LED-B3", against=against))["do"]


def test_coloured_light_has_no_kelvin() -> None:
    line = Spectrum(np.where(WAVELENGTHS_NM == 530, 1.0, 0.0), "line")
    view = view_camera(find_camera("cfa-mid", Path()))
    said = tell(describe_lights((Reading("line", line),), view))
    assert said["meter"].startswith("no CCT: coloured light, 530 nm")
    assert "skin" not in said
    assert said["do"].startswith("treat it as colour")


@pytest.mark.parametrize(("depth", "flickers"), [(0.3, True), (0.01, False), (0.0, False)])
def test_flicker_and_its_shutter(depth: float, flickers: bool) -> None:
    wave = Waveform(TIME, 1 + depth * np.sin(2 * np.pi * 120 * TIME))
    reading = Reading("lamp", find_source("LED-B3"), waveform=wave)
    said = tell(describe_lights((reading,)))
    assert said["flicker"].startswith("120 Hz" if depth else "steady")
    assert ("expose for whole multiples of 1/120 s" in said["do"]) == flickers
    if flickers:  # 1/60 s holds two periods, 1/48 s two and a half
        assert "at 24, 25, 48, 50, 100, 120 fps and 180°" in said["do"]
