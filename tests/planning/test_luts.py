"""The size of a set of tables, and how much brighter they are asked to make a picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import wbplan
from tests.shared import decide, make_kitchen
from wbplan.codes.table3d import parse_cube, read_tetrahedral
from wbplan.lut.file import even_sizes, make_table_file
from wbplan.report.lut.words import say_size
from wbplan.scene.luts import LutRequest


@pytest.fixture(scope="module")
def kitchen():
    return make_kitchen()


@pytest.fixture(scope="module")
def plain(kitchen):
    return decide(kitchen, "x")


def test_a_set_has_one_size_and_what_was_asked_for_keeps_its_own(plain):
    main = plain.lut.file
    small, asked = replace(make_table_file(main.draft, 17), size_asked=False), main
    large = make_table_file(main.draft, 33)
    changed = even_sizes([small, replace(large, size_asked=False)])
    assert [each.size for each in changed.values()] == [33]
    assert changed[small.file_name].data == large.data
    assert even_sizes([small, replace(asked, size_asked=True), large]) == {}


def test_a_size_for_the_whole_plan_is_that_of_every_table(kitchen):
    requests = (LutRequest("monitor"), LutRequest("positions", size=33))
    made = decide(replace(kitchen, lut_size=17, luts=requests), "x")
    by_kind = {(each.recipe.kind, each.size) for each in made.lut_files}
    assert by_kind == {("correct", 17), ("monitor", 17), ("positions", 33)}
    said = say_size(made.lut_files)
    # 27 bytes a node: 17 points 0.13 MB, 33 points 0.97 MB
    assert "17 points (0.13 MB a file), 33 points (0.97 MB a file)" in said


def test_up_0_7_stop_is_in_the_light_the_name_and_the_header(kitchen, plain):
    """A stop is a factor of two: a grey comes out 2^0.7 brighter than from the plain LUT."""
    lifted = decide(replace(kitchen, lut_up_stops=0.7, lut_size=33), "x")
    one, two = decide(replace(kitchen, lut_size=33), "x").lut.file, lifted.lut.file
    assert "_up0.7_" in two.file_name
    assert b"Exposure: up 0.7 stop." in two.data
    assert (plain.lut.file.recipe.up_stops, two.recipe.up_stops) == (0.0, 0.7)
    encoding = kitchen.encoding
    grey = encoding.encode(np.full((1, 3), 0.18))
    before, after = (
        encoding.decode(read_tetrahedral(parse_cube(each.data.decode()), grey))
        for each in (one, two)
    )
    np.testing.assert_allclose(np.log2(after / before), 0.7, atol=0.01)


def test_an_offset_of_a_request_takes_the_place_of_the_setups(kitchen):
    requests = (LutRequest("positions", up_stops=-1.0), LutRequest("monitor"))
    made = decide(replace(kitchen, lut_up_stops=0.5, lut_size=17, luts=requests), "x")
    by_kind = {each.recipe.kind: each.recipe.up_stops for each in made.lut_files}
    assert by_kind == {"correct": 0.5, "positions": -1.0, "monitor": 0.5}


@pytest.mark.parametrize(
    ("given", "allowed"), [({"size": 30}, "17, 33"), ({"up_stops": 11}, "-10")]
)
def test_what_no_table_has_is_refused(given, allowed):
    with pytest.raises(wbplan.InputError, match=allowed):
        wbplan.make_lut("cfa-mid", 5600, 3200, **given)
