"""Setups that are like another: what they have from it, what they replace, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.front.test_guide import list_blocks
from tests.read.test_schema import VALIDATORS
from tests.read.test_schema import read as read_plain
from wbplan.core.errors import InputError
from wbplan.read.scenario.reader import Scene, read_scenario

(GUIDE,) = (text for text in list_blocks("scenario") if "like: Wide, A" in text)


def read(folder: Path, *changes: tuple[str, str]) -> Scene:
    text = GUIDE
    for was, becomes in changes:
        assert was in text
        text = text.replace(was, becomes, 1)
    path = folder / "s.yaml"
    path.write_text(text)
    return read_scenario(path)


def refuse(folder: Path, *changes: tuple[str, str]) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(folder, *changes)
    return [line.partition("s.yaml:")[2] for line in str(caught.value).split("\n")]


def test_what_is_not_stated_is_as_there(tmp_path: Path) -> None:
    wide, second, close = read(tmp_path).setups
    assert [each.camera.name for each in (wide, second, close)] == [
        *("cfa-mid", "cfa-presets", "cfa-mid")
    ]
    assert second.shooting == wide.shooting
    for one, other in zip(wide.positions, second.positions, strict=True):
        assert one.name == other.name
        np.testing.assert_array_equal(one.lux, other.lux)
    assert [each.name for each in close.positions] == ["face", "wall"]
    np.testing.assert_array_equal(close.positions[0].lux, [300, 40])
    assert close.shooting.t_stop == pytest.approx(2.8, rel=0.02)
    assert close.shooting.ei == 800
    assert [each.on for each in close.sources] == [True, False]
    assert [each.on for each in wide.sources] == [True, True]


def test_it_is_the_same_as_written_out(tmp_path: Path) -> None:
    written = read(
        tmp_path,
        ('like: "Wide, A", camera: cfa-presets}', "camera: cfa-presets, shooting: {ei: 800, "
         "fps: 24, shutter_angle_deg: 180}, positions: {face: {lux: {window: 110, lamp: 40}}, "
         "wall: {lux: {lamp: 30}}}}"),
    )  # fmt: skip
    assert written.identity == read(tmp_path).identity


def test_what_excludes_a_field_takes_its_place(tmp_path: Path) -> None:
    at = ("shooting: {t_stop: 2.8}", "shooting: {shutter_time_s: 0.01}")
    assert read(tmp_path, at).setups[2].shooting.exposure_time_s == 0.01
    lamp = ("sources: {lamp: {on: false}}", "sources: {lamp: {lamp: FL2}}")
    first = ("setups:", "# all\nsetups:")
    assert read(tmp_path, lamp, first).setups[2].sources[1].spectrum.name == "FL2"


def test_through_several_and_in_any_order(tmp_path: Path) -> None:
    scene = read(tmp_path, ("like: Wide, A", "like: wide, b"))
    assert scene.setups[2].camera.name == "cfa-presets"
    assert scene.setups[2].shooting.fps == 24


def test_mistakes_are_told_where_they_are_written(tmp_path: Path) -> None:
    (said,) = refuse(tmp_path, ("like: Wide, A", "like: Wide, C"))
    assert said.startswith("16:11: setups[2].like: found the setup 'Wide, C'")
    assert "did you mean 'Wide, B' or 'Wide, A'" in said
    (said,) = refuse(tmp_path, ("like: Wide, A", "like: Close"))
    assert "'Close', which is like itself; allowed: another setup" in said
    circle = (("camera: cfa-mid", "camera: cfa-mid\n    like: Close"),)
    assert "which is like itself" in "".join(refuse(tmp_path, *circle))
    said, *others = refuse(tmp_path, ("fps: 24", "fps: 0"))
    assert said.startswith("10:30: setups[0].shooting.fps")
    assert not others, "a value that three setups share is told once"


def test_editors_take_it(tmp_path: Path) -> None:
    schema = VALIDATORS["scenario"]
    schema.validate(read_plain(GUIDE))
    assert not schema.is_valid(read_plain(GUIDE.replace("t_stop: 2.8", "tstop: 2.8")))
    assert not schema.is_valid(read_plain(GUIDE.replace("    like: Wide, A\n", "")))
