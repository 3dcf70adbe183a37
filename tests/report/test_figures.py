"""Figures with more in them than there is room for: nothing cut unsaid, nothing over the edge."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.planning.decisions import SetupPlan
from wbplan.report.base.labels import Labels, find_room, measure_text, shorten
from wbplan.report.base.svg import draw_path, make_standalone, write_number
from wbplan.report.base.templates import break_words
from wbplan.report.exposure.bars import Row, draw_bars
from wbplan.report.plan.uv_figure import draw_lights


def make_row(name: str, *stops: float) -> Row:
    red, green, blue = (Interval(each, each, each) for each in stops)
    return name, (red, green, blue)


def test_many_bars_make_several_pictures_of_one_scale() -> None:
    rows = [make_row(f"row {number}", 1, number / 7, -1) for number in range(26)]
    pictures = draw_bars(rows, "T", "stops", "b")
    assert len(pictures) == 3
    ids = [re.findall(r'<title id="([^"]+)">([^<]+)', each)[0] for each in pictures]
    assert ids[1] == ("b-2-t", "T, part 2 of 3")
    drawn = "".join(pictures)
    assert all(f">row {number}<" in drawn for number in range(26))
    reds = set(re.findall(r'<rect class="red" x="(\S+)" y="\S+" width="(\S+)"', drawn))
    assert len(reds) == 1  # the same value is as long in every picture
    for each in pictures:
        height = float(re.findall(r'viewBox="0 0 \S+ (\S+)"', each)[0])
        assert height / 440 * 120 < 279.4 - 26 - 20  # at 120 mm wide, a sheet less its caption [mm]


@pytest.mark.parametrize(
    ("stops", "arrows"), [((30, 12, 3), 1), ((-30, -13, 0), 2), ((1, 2, 3), 0)]
)
def test_a_bar_that_goes_on_says_so(stops: tuple[float, ...], arrows: int) -> None:
    (drawn,) = draw_bars([make_row("a", *stops)], "T", "stops", "b")
    assert drawn.count('z"/>') == (arrows + 1 if arrows else 0)  # and one that explains it
    assert ("past 12" in drawn) == bool(arrows)
    for x, text in re.findall(
        r'<text x="(\S+)" y="\S+" font-size="11" class="halo">([^<]+)', drawn
    ):
        assert float(x) + measure_text(text, 11) <= 440


@given(st.text(max_size=120), st.floats(20, 400))
def test_a_text_is_cut_to_its_width(text: str, most: float) -> None:
    cut = shorten(text, most)
    assert measure_text(cut) <= most
    assert cut == text or cut.endswith("…")


def test_marks_in_one_place_are_all_named() -> None:
    labels = Labels((0, 0, 440, 340))
    labels.reserve(200, 150, 5)
    drawn = "".join(labels.set_label(200, 150, number, "a name") for number in range(1, 31))
    assert {int(each) for each in re.findall(r">(\d+)[ <]", drawn)} == set(range(1, 31))
    boxes = labels.texts
    assert len(boxes) == 30
    for row, (left, top, right, base) in enumerate(boxes):
        assert left >= 0
        assert right <= 440
        for a, b, c, d in boxes[row + 1 :]:
            assert not (left < c and a < right and top < d and b < base)
    assert drawn.count("<path") > 10  # a line leads to those that stand apart


def test_a_neutral_without_a_place_is_said(kitchen: SetupPlan) -> None:
    assert kitchen.appearance is not None
    seen = replace(kitchen.appearance, neutral_xy=(float("nan"), float("nan")))
    drawn = draw_lights(kitchen.lights, seen, "d")
    assert drawn is not None
    assert "nan" not in drawn.lower()
    assert "has no place here" in drawn


def test_long_words_may_break_and_nothing_else_changes() -> None:
    word, digest = "W" * 80, "0123456789abcdef" * 4
    figure = f'<svg><text x="1">{word}</text></svg>'
    page = f'<td title="{word}">{word} {digest} short</td>{figure}<p>{"&amp;" * 40}</p>'
    broken = str(break_words(page))
    assert broken.replace("<wbr>", "") == page
    assert digest in broken
    assert figure in broken
    assert f'title="{word}"' in broken
    assert broken.count("<wbr>") == 7 + 3
    assert "&<wbr>" not in broken
    assert "&am<wbr>" not in broken


@given(st.text(max_size=40))
def test_a_figure_is_xml_whatever_its_names_are(name: str) -> None:
    (drawn,) = draw_bars([make_row(name, 1, 2, 3)], name, "stops", "b")
    root = ElementTree.fromstring(make_standalone(drawn))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"


def test_noncharacters_do_not_reach_a_file() -> None:
    # Unicode 23.7: the last two of each plane, and U+FDD0 to U+FDEF.
    assert clean_text("a\ufffe\uffff\U0001fffe\ufdd0b\ufdcf") == "a\ufffd\ufffd\ufffd\ufffdb\ufdcf"


def test_what_is_not_seen_is_shown_and_the_letters_of_scripts_stay() -> None:
    # Unicode 23.2 (joiners, of words in Persian and of emoji), 9.2 (Arabic signs spanning numbers),
    # 23.3 and 23.8 (word joiner, byte order mark, tags): general category Cf, all of them.
    stays = "می\u200cخواهم 👩\u200d🔧 \u0600۱"
    assert clean_text(stays) == stays
    assert clean_text("a\u200b\ufeff\u2060\u00ad\U000e0061b") == "a" + 5 * "\ufffd" + "b"
    assert clean_text("a\u2028b\x85c") == "a b c"


@given(st.text(min_size=30, max_size=80))
def test_breaking_takes_nothing_away(text: str) -> None:
    from markupsafe import escape

    page = str(escape(text))
    assert str(break_words(page)).replace("<wbr>", "") == page


@given(
    st.lists(st.floats(0, 700), max_size=60),
    st.sampled_from([1.0, 16.0, 17.0, 400.0]),
)
def test_numbers_side_by_side_keep_apart_or_give_up(wanted: list[float], apart: float) -> None:
    taken: list[float] = []
    for x in wanted:
        place = find_room(x, taken, apart, 0.0, 700.0)
        assert 0 <= place <= 700
        is_apart = all(abs(place - each) > apart - 1e-3 for each in taken)
        is_full = len(taken) * apart * 2 >= 700 - apart * 2  # so many may leave no room
        assert is_apart or (is_full and place == x)
        taken.append(place)


def test_a_path_writes_its_points_as_single_numbers_are_written() -> None:
    drawn = [0.0, -0.0, -0.004, 0.005, 0.125, 1.1, 10.0, 100.10, 99.999, -7.5, 1200.0, 0.05, -0.05]
    points = list(zip(drawn, drawn[::-1], strict=True))
    wanted = "L".join(f"{write_number(x)} {write_number(y)}" for x, y in points)
    assert str(draw_path(points, "fill")) == f'<path d="M{wanted}" fill/>'
    assert [write_number(each) for each in drawn[:7]] == [
        "0",
        "0",
        "0",
        "0.01",
        "0.12",
        "1.1",
        "10",
    ]
