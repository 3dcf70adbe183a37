"""All mistakes of a file at once, each with its line, and none that another one brought about."""

from __future__ import annotations

from pathlib import Path

import pytest

from wbplan.core.errors import InputError, MistakesError
from wbplan.core.ledger import Ledger
from wbplan.read.catalogue import find_camera
from wbplan.read.lesson import read_lesson
from wbplan.read.mistakes import MOST_MISTAKES
from wbplan.read.scenario.reader import read_scenario

GOOD = """\
wbplan: 1
title: Invented for this test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  lamp: {black_body_kelvin: 2850}
setups:
  - name: Close
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    positions:
      face: {lux: {window: 110, lamp: 40}, intent: {warm_mired: 40}}
      wall: {lux: {lamp: 30}}
  - name: Wide
    shooting: {fps: 24, shutter_time_s: 0.02}
    positions:
      face: {lux: {window: 90}}
"""


def list_mistakes(folder: Path, *changes: tuple[str, str]) -> list[str]:
    """List what is said of the file with changes made in it, without the file's name."""
    text = GOOD
    for was, becomes in changes:
        assert was in text
        text = text.replace(was, becomes, 1)
    path = folder / "s.yaml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_scenario(path)
    return [line.removeprefix(f"{path}:") for line in str(caught.value).split("\n")]


# One mistake each: where it stands, and words of the answer.
ONE = [
    (("title: Inv", "titel: Inv"), "2:1: titel", "did you mean 'title'"),
    (("sources:\n", "lights:\n"), "4:1: lights", "did you mean 'sources'"),
    (("6000", "6000,5"), "5:29: sources.window.daylight_kelvin", "write 6000.5"),
    (("2850", '"2850,5"'), "6:29: sources.lamp.black_body_kelvin", "write 2850.5"),
    (("lamp: 30", "lamp: 30,5"), "12:26: setups[0].positions.wall.lux.lamp", "write 30.5"),
    (("ei: 800", "iso: 800"), "9:16: setups[0].shooting.iso", "did you mean 'ei'"),
    (("fps: 24", "frame_rate: 24"), "9:25: ", "did you mean 'fps'"),
    (("    shooting: {ei", "    fps: 24\n    shooting: {ei"), "9:5: ", "it goes under 'shooting'"),
    (("{lamp: 30}", "30"), "12:19: ", "as {window: 110, lamp: 40}"),
    (("{ei: 800, fps: 24, shutter_angle_deg: 180}", "24 fps"), "9:15: ", "as {ei: 800, fps"),
    (("{warm_mired: 40}", "warm"), "11:52: ", "neutral, leave, or a mapping of fields, as {warm"),
    (("{daylight_kelvin: 6000}", "{spectrum_file: panl.csv}"), "5:27: ", "mean 'panel.csv'?"),
    (("{daylight_kelvin: 6000}", "{spectrum_file: sub/panl.csv}"), "5:27: ", "a file that exists"),
    (("cfa-mid", "mycamra.yaml"), "3:9: camera", "did you mean 'mycamera.yaml'?"),
    (("lamp: 30", "lmap: 30"), "12:26: ", "did you mean 'lamp'"),
    (("    shooting: {fps: 24,", "    shooting: {"), "14:15: ", "a number from 0.0001"),
    (("name: Wide", "name: Close"), "13:11: setups[1].name", "a name of its own"),
    (("{lux: {lamp: 30}}", "{lux: {lamp: 30}, weight: 1, intent: leave}"), "12:39: ", "no weight"),
    (
        ("black_body_kelvin: 2850", "black_body_kelvin: 2850, column: 2"),
        "6:",
        "column without spectrum_file",
    ),
]


@pytest.mark.parametrize(("change", "place", "words"), ONE)
def test_one_mistake_is_one_line(
    tmp_path: Path, change: tuple[str, str], place: str, words: str
) -> None:
    for name in ("panel.csv", "mycamera.yaml"):
        (tmp_path / name).touch()
    (said,) = list_mistakes(tmp_path, change)
    assert said.startswith(place)
    assert words in said


def test_all_are_told_in_the_order_of_the_file(tmp_path: Path) -> None:
    lines = [2, 5, 6, 9, 11, 12, 13]
    chosen = [next(each for each in ONE if each[1].startswith(f"{n}:")) for n in lines]
    said = list_mistakes(tmp_path, *(change for change, _, _ in chosen))
    assert [int(line.partition(":")[0]) for line in said] == lines


def test_what_follows_from_a_mistake_is_not_told(tmp_path: Path) -> None:
    said = list_mistakes(tmp_path, ("window: {daylight_kelvin: 6000}", "window: {lamp: FL99}"))
    assert len(said) == 1, "the positions still read a light of that name"
    assert "'FL99'" in said[0]
    assert len(list_mistakes(tmp_path, ("sources:\n", "x: 1\nsources:\n"), ("cfa-mid", "no"))) == 2


def test_many_are_counted(tmp_path: Path) -> None:
    many = "\n".join(f"  light {n}: {{lamp: no}}" for n in range(MOST_MISTAKES + 7))
    said = list_mistakes(tmp_path, ("  lamp: {", f"{many}\n  lamp: {{"))
    assert len(said) == MOST_MISTAKES + 1
    assert said[-1] == "and 7 more"


def test_the_first_is_what_the_error_itself_says(tmp_path: Path) -> None:
    path = tmp_path / "s.yaml"
    path.write_text(GOOD.replace("6000", "1").replace("2850", "1"))
    with pytest.raises(MistakesError) as caught:
        read_scenario(path)
    assert caught.value.place.field == "sources.window.daylight_kelvin"
    assert [each.place.line for each in caught.value.mistakes] == [5, 6]


def test_profiles_and_lessons_tell_all_of_theirs(tmp_path: Path) -> None:
    profile = tmp_path / "camera.yaml"
    profile.write_text(
        "like: cfa-mid\nbase_ei: 0\nmenu: {kelvin: {low: 2000, hihg: 5600, step: x}}\n"
    )
    with pytest.raises(MistakesError) as caught:
        find_camera(profile.name, tmp_path)
    assert len(caught.value.mistakes) == 3
    lesson = tmp_path / "lesson.yaml"
    lesson.write_text(
        "wbplan_lesson: 1\ntitle: Invented\nstart: cfa-mdi\n"
        "neutrals:\n  - {light: {lamp: A}, raw: [1, 2]}\n  - {light: {lamp: B9}, raw: [1, 2, 3]}\n"
    )
    with pytest.raises(MistakesError) as caught:
        read_lesson(lesson)
    assert [each.place.line for each in caught.value.mistakes] == [3, 5, 6]


def test_a_record_without_its_cameras_says_so_once_with_the_place() -> None:
    """Found by a fuzzer: what stands in for a camera is not there either, which nobody wrote."""
    text = (
        "wbplan: 1\ntitle: T\ncamera: cfa-mid\nsources: {a: {lamp: A}}\nsetups:\n"
        "  - {name: n, positions: {p: {lux: {a: 1}}}, shooting: {fps: 24, shutter_time_s: 0.02}}\n"
    )
    root = Path("plan.json")
    ledger = Ledger({"scenario/s.yaml": text.encode()}, root)
    path = ledger.place_of("scenario/s.yaml")
    with ledger.scope("scenario", path.parent), pytest.raises(InputError) as caught:
        read_scenario(path)
    (said,) = str(caught.value).split("\n")
    assert said.startswith("plan.json/scenario/s.yaml:3:9: camera: found the camera 'cfa-mid'")
    assert "none is known here" in said
