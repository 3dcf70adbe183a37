"""Charts found in pictures, and what is no chart refused.

The library that finds squares is an extra; the check of what it finds runs without it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.camera.learn.test_estimate import find_error
from tests.camera.learn.test_frames import draw_chart
from tests.front.test_cli import run
from tests.read.raw_files import write_dng
from tests.shared import make_camera
from wbplan.camera.learn.frames import COLUMNS, ROWS, find_homography
from wbplan.core.errors import InputError
from wbplan.core.tables import load_table
from wbplan.read.catalogue import find_camera, find_source
from wbplan.read.charts import find_charts, fit_lattices
from wbplan.read.lesson import read_lesson

UPRIGHT = np.array([[120.0, 90.0], [480.0, 105.0], [470.0, 340.0], [130.0, 335.0]])
TRUTH = make_camera().sensitivities  # outside the population that `learn` starts from


def place_squares(corners: np.ndarray, gap: float = 0.15) -> np.ndarray:
    """Where the patches of a chart lie in a picture, (24, 4, 2)."""
    row, column = np.divmod(np.arange(ROWS * COLUMNS), COLUMNS)
    ends = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * (0.5 - gap / 2)
    places = (np.stack([column, row], axis=1)[:, None] + 0.5 + ends) / (COLUMNS, ROWS)
    mapped = np.concatenate([places, np.ones((*places.shape[:2], 1))], axis=2)
    mapped = mapped @ find_homography(corners).T
    return np.asarray(mapped[..., :2] / mapped[..., 2:])


def tilt_corners(generator: np.random.Generator, tilt_deg: float) -> np.ndarray:
    """Corners of a chart that stands at an angle, by a pinhole camera four charts away."""
    across = generator.normal(size=2)
    x, y = across / np.linalg.norm(across)
    tilt, spin = np.radians(tilt_deg), generator.uniform(0, 2 * np.pi)
    cross = np.array([[0, 0, y], [0, 0, -x], [-y, x, 0]])
    turn = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
    flat = np.array([[np.cos(spin), -np.sin(spin)], [np.sin(spin), np.cos(spin)]])
    field = np.array([[-3, -2], [3, -2], [3, 2], [-3, 2]]) @ flat.T
    placed = np.column_stack([field, np.zeros(4)]) @ turn.T
    return np.asarray(1500 * placed[:, :2] / (placed[:, 2:] + 25) + 300)


def test_a_chart_is_found_among_squares_at_any_angle() -> None:
    generator = np.random.default_rng(8)
    for number in range(40):
        corners = tilt_corners(generator, generator.uniform(0, 40))
        squares = place_squares(corners)
        squares += generator.normal(0, 0.4, squares.shape)  # pixels
        kept = np.delete(squares, generator.choice(24, number % 4, replace=False), axis=0)
        strays = generator.uniform(600, 900, (5, 1, 2)) + (squares[0] - squares[0].mean(axis=0))
        found = fit_lattices(generator.permutation(np.concatenate([kept, strays])))
        if not found:
            assert len(kept) < 24  # a whole row may have gone
            continue
        pitch = np.linalg.norm(corners[1] - corners[0]) / COLUMNS
        turned = [np.roll(each, k, axis=0) for each in (found[0], found[0][::-1]) for k in range(4)]
        assert min(np.abs(each - corners).max() for each in turned) < 0.2 * pitch


@pytest.mark.parametrize(
    "squares",
    [
        place_squares(UPRIGHT)[:18],  # three rows
        np.concatenate(
            [place_squares(UPRIGHT), place_squares(UPRIGHT)[:6] - np.array([-3.0, 59.0])]
        ),
        place_squares(UPRIGHT)[::2],
        place_squares(UPRIGHT) + 9 * np.random.default_rng(1).normal(size=(24, 1, 2)),
        place_squares(UPRIGHT)[:1],
    ],
    ids=["three rows", "five rows", "every other one", "no lattice", "one"],
)
def test_what_is_no_chart_is_not_taken_for_one(squares: np.ndarray) -> None:
    assert fit_lattices(squares) == []


LESSON = """wbplan_lesson: 1
title: One frame
start: cfa-mid
frames:
  - {light: {lamp: D55}, still: chart.dng}
"""


@cache
def photograph(light: str = "D55", upside_down: bool = False) -> np.ndarray:
    raw = (find_source(light).values * load_table("chart")) @ TRUTH
    values = 0.8 * raw / raw.max()
    picture = draw_chart(values[::-1] if upside_down else values, UPRIGHT, 0.14)
    noise = np.random.default_rng(2).normal(0, 0.004, picture.shape)
    return np.asarray(np.clip(picture + noise * np.sqrt(picture), 0, 1))


def test_without_the_library_corners_are_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("rawpy")
    monkeypatch.setattr("wbplan.read.charts.find_spec", lambda name: None)
    write_dng(tmp_path / "chart.dng", photograph())
    (tmp_path / "l.yaml").write_text(LESSON)
    with pytest.raises(InputError, match=r"wbplan\[chart\]"):
        read_lesson(tmp_path / "l.yaml")


def test_corners_of_a_raw_are_in_photosites(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    write_dng(tmp_path / "chart.dng", photograph())
    given = f"still: chart.dng, corners: {UPRIGHT.reshape(-1).tolist()}"
    (tmp_path / "l.yaml").write_text(LESSON.replace("still: chart.dng", given))
    lesson = read_lesson(tmp_path / "l.yaml")
    assert not lesson.notes
    raw = (find_source("D55").values * load_table("chart")) @ TRUTH
    ratio = lesson.frames[0].raw / raw
    assert ratio / ratio.mean() == pytest.approx(np.ones((24, 3)), rel=0.02)
    (tmp_path / "l.yaml").write_text(LESSON.replace("still:", "white: 4095, still:"))
    with pytest.raises(InputError, match="states them itself"):
        read_lesson(tmp_path / "l.yaml")


def test_one_line_learns_a_camera_from_a_raw(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    pytest.importorskip("colour_checker_detection")
    write_dng(tmp_path / "chart.dng", photograph(upside_down=True))
    values = find_source("D55").values
    rows = [f"{380 + n},{value:.6g}" for n, value in enumerate(values) if n % 5 == 0]
    (tmp_path / "reading.csv").write_text("nm,value\n" + "\n".join(rows) + "\n")
    done = run("learn", "chart.dng", "--light", "reading.csv", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "frames  good" in done.stdout
    assert "remark" not in done.stdout
    learned = find_camera("chart-profile/chart.yaml", tmp_path)
    before, after = (
        find_error(TRUTH, each.sensitivities) for each in (find_camera("cfa-mid", Path()), learned)
    )
    assert (after < 0.6 * before).all()


def test_a_picture_without_a_chart_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("colour_checker_detection")
    monkeypatch.setattr("wbplan.read.charts._WIDTHS", (360,))
    generator = np.random.default_rng(4)
    assert find_charts(generator.uniform(0, 0.4, (300, 400, 3))) == []


def test_squares_without_a_charts_colours_are_refused(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    pytest.importorskip("colour_checker_detection")
    panes = draw_chart(np.full((24, 3), 0.5), UPRIGHT, 0.14)
    write_dng(tmp_path / "chart.dng", panes)
    (tmp_path / "l.yaml").write_text(LESSON)
    with pytest.raises(InputError, match="without the colours of the chart"):
        read_lesson(tmp_path / "l.yaml")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["a.dng"], "--light: found 0 lights for 1 frame; allowed"),
        (["a.dng", "b.dng", "--light", "A"], "--light: found 1 lights for 2 frames"),
        (["l.yaml", "--light", "A"], "--light: found a lesson file with --light"),
        (["l.yaml", "a.dng"], "a lesson file among 2 files"),
        (["a.tif", "--light", "A", "--corners", "1,2"], "--corners: found 2 numbers"),
        (["a.tif", "--light", "A", "--corners", "1,x"], "--corners: found '1,x'"),
        (["a.tif", "--light", "A"], "a.tif: found No such file"),
        (["a.dng", "--light", "A", "--white", "9"], "a.dng: found black or white of a raw file"),
        (["a.dng", "--light", "nosuchlight"], "the light 'nosuchlight'"),
    ],
)
def test_frames_that_cannot_be_used_are_refused(
    tmp_path: Path, arguments: list[str], said: str, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    from wbplan.front.cli.main import main

    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.dng").write_bytes(b"nothing")
    assert main(["learn", *arguments]) == 2
    assert said in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["a.dng"]
