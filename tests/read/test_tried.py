"""Values tried in place of a scenario's: where they go, and what is refused with which words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.read.test_mistakes import GOOD
from wbplan.core.errors import InputError
from wbplan.read.scenario.reader import Scene, read_scenario


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "s.yaml"
    made.write_text(GOOD)
    return made


def read(path: Path, *tried: str) -> Scene:
    return read_scenario(path, tried=tried)


def list_lux(scene: Scene) -> list[list[list[float]]]:
    return [[each.lux.tolist() for each in setup.positions] for setup in scene.setups]


def test_a_value_goes_where_its_path_leads(path: Path) -> None:
    assert list_lux(read(path)) == [[[110, 40], [0, 30]], [[90]]]
    assert list_lux(read(path, "positions.face.lux.window=7")) == [[[7, 40], [0, 30]], [[7]]]
    for one in (
        "setups.Wide.positions.face.lux.window = 7",
        "setups[1].positions.face.lux.window=7",
    ):
        assert list_lux(read(path, one)) == [[[110, 40], [0, 30]], [[7]]]
    assert list_lux(read(path, "positions.wall.lux.lamp=1")) == [[[110, 40], [0, 1]], [[90]]]
    new = read(path, "setups.wide.positions.face.lux.lamp=5")
    assert list_lux(new)[1] == [[90, 5]]


def test_any_plain_value_can_be_tried_also_one_that_is_not_there(path: Path) -> None:
    scene = read(path, "shooting.ei=400", "title='A, tried'", "camera=cfa-presets", "mains_hz=50")
    assert [each.shooting.ei for each in scene.setups] == [400, 400]
    assert (scene.title, scene.setups[0].camera.name) == ("A, tried", "cfa-presets")
    assert scene.setups[0].mains_hz == 50
    lamp = read(path, "sources.lamp.black_body_kelvin=3200").setups[0].sources[1]
    assert lamp.spectrum.name == "black body 3200 K"


def test_what_excludes_another_takes_its_place(path: Path) -> None:
    scene = read(path, "shooting.shutter_time_s=0.01", "sources.lamp.lamp=FL2")
    assert [each.shooting.exposure_time_s for each in scene.setups] == [0.01, 0.01]
    assert scene.setups[0].sources[1].spectrum.name == "FL2"
    assert read(path, "setups.Close.positions.face.intent=leave", "positions.wall.weight=1")


def test_it_is_the_same_as_written_and_every_setup_warns(path: Path) -> None:
    tried = read(path, "positions.wall.lux.lamp=35", "shooting.ei=400")
    for setup in tried.setups:
        said = [each for each in setup.notes if each.code == "tried"]
        assert [each.weight for each in said] == ["warning", "warning"]
        assert "positions.wall.lux.lamp=35 is tried here" in said[0].text
    written = GOOD.replace("lamp: 30", "lamp: 35").replace("ei: 800", "ei: 400")
    path.write_text(written.replace("{fps", "{ei: 400, fps"))
    assert list_lux(read(path)) == list_lux(tried)
    assert [each.shooting for each in read(path).setups] == [each.shooting for each in tried.setups]


WRONG = [
    ("positions.face.lux.window=-1", ["lux.window: found -1", "0, or a number from"]),
    ("positions.face.lux.window=3,5", ["write 3.5"]),
    ("positions.fase.lux.window=3", ["the name 'fase'", "did you mean 'face'"]),
    ("positions.face.lux.windw=3", ["the source 'windw'", "'window'"]),
    ("shooting.iso=800", ["the field 'iso'", "did you mean 'ei'"]),
    ("positions.face.lux=3", ["takes no plain value", "as {window: 110, lamp: 40}"]),
    ("setups.Wdie.key=face", ["the name 'Wdie'", "did you mean 'Wide'"]),
    ("setups[7].key=face", ["[7] of a list of 2", "[0] to [1]"]),
    ("sources.lamp.black_body_kelvin.x=1", ["2850 before 'x'"]),
    ("nowhere=1", ["the field 'nowhere'"]),
    ("positions.face.lux.window", ["--set", "positions.Anna.lux.window=120"]),
    ("=3", ["--set", "=120"]),
    ("title=", ["without a value"]),
    ("title=a\nb", ["without a value"]),
    ("positions..lux=3", ["--set"]),
    ("sources.window.spectrum_file=/home/me/a.csv", ["a path of this machine"]),
    ("sources.window.spectrum_file=no.csv", ["no such file: 'no.csv'"]),
]


@pytest.mark.parametrize(("word", "fragments"), WRONG)
def test_what_leads_nowhere_is_told(path: Path, word: str, fragments: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        read(path, word)
    said = str(caught.value)
    assert "\n" not in said
    for each in fragments:
        assert each in said


def test_names_with_points_stand_in_quotes(path: Path) -> None:
    path.write_text(GOOD.replace("wall:", "'wall, 2.1 = far':"))
    assert list_lux(read(path, "positions.'wall, 2.1 = far'.lux.lamp=1"))[0][1] == [0, 1]
