"""The page of a learned camera: its figures against calls that go another way, and its words."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import wbplan
from tests.read.test_lesson import write_lesson
from tests.shared import HOSTILE, Reader, squeeze
from wbplan.camera.population import GRID_NM
from wbplan.front.cameras import LearnedCamera
from wbplan.report.camera.learned import format_teaching, list_lights, say_before, say_wants
from wbplan.report.camera.page import render_teaching_page


@pytest.fixture(scope="module")
def learned(tmp_path_factory: pytest.TempPathFactory) -> LearnedCamera:
    return wbplan.learn(write_lesson(tmp_path_factory.mktemp("lesson")))


@pytest.fixture(scope="module")
def page(learned: LearnedCamera) -> str:
    return render_teaching_page(learned.teaching)


def test_settings_before_and_now_are_those_of_the_profiles(learned: LearnedCamera) -> None:
    """Against `solve_settings`, which asks the profiles and draws their families one by one."""
    views = [each for each in learned.teaching.lamps if each.lamp in ("FL2", "LED-B3", "LED-B5")]
    lights = wbplan.read_spectra([each.lamp for each in views])
    start = learned.teaching.lesson.start
    now = wbplan.solve_settings(learned.camera, lights, band=0.9)
    then = wbplan.solve_settings(start, lights, band=0.9)
    for found, ends in ((now, ""), (then, "_before")):
        kelvin, tint, width, cc_width = (
            np.array([getattr(each, f"{name}{ends}") for each in views])
            for name in ("mired", "tint_cc", "mired_width", "cc_width")
        )
        assert 1e6 / found.kelvin == pytest.approx(kelvin, abs=0.01)
        assert found.tint_cc == pytest.approx(tint, abs=0.01)
        assert found.kelvin_low is not None
        assert found.kelvin_high is not None
        assert found.tint_cc_high is not None
        drawn = 1e6 / found.kelvin_low - 1e6 / found.kelvin_high
        # 256 draws have their 90 % interval within some 15 % of the Gaussian's.
        assert drawn == pytest.approx(width, rel=0.15)
        assert found.tint_cc_high - found.tint_cc_low == pytest.approx(cc_width, rel=0.15)


def test_lights_that_were_read_come_first(learned: LearnedCamera, page: str) -> None:
    names = [each.lamp for each in list_lights(learned.teaching)]
    read = [each.name for each in learned.teaching.lesson.read_under]
    assert names[: len(read)] == read
    assert len(set(names)) == len(names)
    said, terminal = squeeze(Reader(page).text), squeeze(format_teaching(learned.teaching, 400))
    for each in list_lights(learned.teaching):
        for text in (say_wants(each), say_before(each)):
            assert text in said
            assert text in terminal
    best = learned.teaching.prospects[0]
    assert said.index("Shoot next") < said.index(best.light)
    assert "would leave" in said
    assert max(map(len, format_teaching(learned.teaching).splitlines())) <= 80


def test_the_shade_is_where_nine_in_ten_cameras_are(learned: LearnedCamera, page: str) -> None:
    """Each outline's highest point, read off the picture, against a sort of the cameras."""
    figure = page[page.index('id="curves-t"') :]
    outlines = re.findall(r'<path d="M([^Z"]+)Z" fill="currentColor"', figure)
    assert len(outlines) == 3
    members = learned.teaching.members
    tops = []
    for outline in outlines:
        points = np.array([each.split() for each in outline.split("L")], dtype=float)
        assert len(points) == 2 * GRID_NM.size
        tops.append(264.0 - points[:, 1].min())
    ranked = np.sort(members, axis=0)
    # 5 % of 256 cameras are 12.8: the 243rd has between 4.7 and 5.1 % above it.
    wanted = [ranked[242, :, channel].max() for channel in range(3)]
    assert np.array(tops) / max(tops) == pytest.approx(np.array(wanted) / max(wanted), abs=0.02)


def test_the_page_needs_nothing_and_names_are_text(learned: LearnedCamera) -> None:
    teaching = learned.teaching
    lights = tuple(replace(each, lamp=HOSTILE) for each in teaching.own_lights)
    lesson = replace(teaching.lesson, title=HOSTILE, date=HOSTILE)
    page = render_teaching_page(replace(teaching, lesson=lesson, own_lights=lights))
    assert "<script" not in page.lower()
    assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import", page, re.I)
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b-\x1f\x7f-\x9f]", page)
    assert Reader(page).count("svg") >= 2
    assert "\x1b" not in format_teaching(replace(teaching, lesson=lesson, own_lights=lights))
