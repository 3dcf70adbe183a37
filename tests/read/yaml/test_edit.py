"""Edits of a person's YAML, held against PyYAML's own loader with every scalar as text."""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from wbplan.core.errors import InputError
from wbplan.read.catalogue import list_shipped
from wbplan.read.yaml.edit import remove_remarks, remove_values, rename, set_value, write_scalar
from wbplan.read.yaml.tree import build_tree

SHIPPED = {name: path.read_text("utf-8") for name, path in list_shipped("scenarios").items()}
FORMS = {
    "plain": lambda text: text,
    "crlf": lambda text: text.replace("\n", "\r\n"),
    "bom": lambda text: "\ufeff" + text,
}
PLACES = ("setups", 0, "positions")
ODD = """# above all
wbplan: 1   # format
sources:
    # the window, read at noon
    window:   {daylight_kelvin: 6000}  # beside

    # the lamp
    lamp: { lamp: A,   # tungsten
            on: true }
setups:
- name: one
  positions:
    face: {lux: {window: 1_0, lamp: 50,}}
    'x]': {lux: {"a, b": 3}}
    wall:
      lux:
        lamp: 30
      # how it looks
      intent:
        warm_mired: 40
  notes: |
    several
    lines
"""


def load(text: str) -> Any:
    loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    return yaml.load(text.removeprefix("\ufeff"), Loader=loader)


def walk(tree: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    for key, each in (
        tree.items()
        if isinstance(tree, dict)
        else enumerate(tree)
        if isinstance(tree, list)
        else ()
    ):
        yield from walk(each, (*path, key))


def reach(tree: Any, path: tuple[Any, ...]) -> Any:
    for each in path:
        tree = tree[each]
    return tree


def count_changed(one: str, other: str) -> int:
    lines = (each.splitlines(keepends=True) for each in (one, other))
    return sum(
        each[0] in "+-" and not each.startswith(("+++", "---")) for each in difflib.ndiff(*lines)
    )


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", SHIPPED)
def test_every_reading_changes_one_line(name: str, form: str) -> None:
    text = FORMS[form](SHIPPED[name])
    tree = load(text)
    cells = [each for each in walk(tree) if len(each) == 6 and each[4] in ("lux", "flash_lux_s")]
    assert cells
    for path in cells:
        made = set_value(text, path, 123.5)
        wanted = copy.deepcopy(tree)
        reach(wanted, path[:-1])[path[-1]] = "123.5"
        assert load(made) == wanted
        before, after = text.splitlines(keepends=True), made.splitlines(keepends=True)
        assert sum(a != b for a, b in zip(before, after, strict=True)) == 1


@pytest.mark.parametrize("name", SHIPPED)
def test_every_entry_is_taken_out_and_put_back(name: str) -> None:
    text = SHIPPED[name]
    tree = load(text)
    for path in list(walk(tree))[1::5]:
        holder = reach(tree, path[:-1]) if path else {}
        if len(path) < 2 or len(holder) < 2 or (isinstance(path[-1], str) and path[-1] == "name"):
            continue
        made = remove_values(text, [path])
        wanted = copy.deepcopy(tree)
        del reach(wanted, path[:-1])[path[-1]]
        assert load(made) == wanted, path
        gone = text.splitlines()
        assert all(line in gone for line in made.splitlines() if line.strip().startswith("#"))


def test_a_comment_goes_with_the_entry_it_stands_above_and_no_other() -> None:
    made = remove_values(ODD, [("sources", "window")])
    assert "read at noon" not in made
    assert "# the lamp\n" in made
    assert "# tungsten" in made
    made = remove_values(ODD, [("setups", 0, "positions", "wall", "intent")])
    assert "how it looks" not in made
    assert "lamp: 30" in made


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        ((*PLACES, "face", "lux", "window"), 7, "face: {lux: {window: 7, lamp: 50,}}"),
        ((*PLACES, "face", "lux", "new"), 0.5, "window: 1_0, lamp: 50, new: 0.5,}}"),
        ((*PLACES, "wall", "lux", "window"), 3, "        window: 3\n"),
        ((*PLACES, "sink"), {"lux": {"a, b": 3}}, '    sink: {lux: {"a, b": 3}}\n'),
        (("sources", "lamp", "on"), False, "            on: false }"),
        (("sources", "lamp", "filter"), [{"nd_stops": 1}], "on: true, filter: [{nd_stops: 1}] }"),
        (("setups", 0, "shooting", "ei"), 800, "  shooting: {ei: 800}\n"),
        (("setups", 0, "also_cameras"), ["cfa-soft"], "  also_cameras: [cfa-soft]\n"),
        ((*PLACES, "wall", "intent"), "neutral", "      intent:\n        neutral\n"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("form", FORMS)
def test_values_go_where_a_person_would_write_them(
    form: str, path: tuple[Any, ...], value: Any, line: str
) -> None:
    text = FORMS[form](ODD)
    made = set_value(text, path, value)
    assert line in made.replace("\r\n", "\n")
    assert made.count("#") == ODD.count("#")
    assert ("\r\n" in made) == (form == "crlf")
    assert made.startswith("\ufeff") == (form == "bom")
    wanted = load(text)
    for each in path[:-1]:
        wanted = wanted.setdefault(each, {}) if isinstance(wanted, dict) else wanted[each]
    assert set_value(made, path, value) == made


NAMED = """sources: {"the lamp": {lamp: A}, window: {lamp: FL2}}  # the lamp
a: &lux {the lamp: 3, window: 4}  # read twice
b: *lux
c: {<<: *lux, window: 5}
key: the lamp
d: [x, 'the lamp']
"""
NAMES = [("sources", "the lamp"), *((each, "the lamp") for each in "abc")]


@pytest.mark.parametrize("form", FORMS)
def test_a_name_is_changed_in_every_place_and_no_other(form: str) -> None:
    made = rename(FORMS[form](NAMED), NAMES, [("key",), ("d", 1)], "bench: lamp")
    said = NAMED.replace('"the lamp"', '"bench: lamp"').replace("{the lamp", '{"bench: lamp"')
    said = said.replace("key: the lamp", 'key: "bench: lamp"').replace(
        "'the lamp'", '"bench: lamp"'
    )
    assert made == FORMS[form](said)
    assert "# the lamp" in made
    back = rename(made, [(*each[:-1], "bench: lamp") for each in NAMES], [("key",)], "the lamp")
    assert load(back) == load(NAMED) | {"d": ["x", "bench: lamp"]}


@pytest.mark.parametrize(
    ("keys", "name", "fragment"),
    [
        ([("sources", "the lamp")], "window", "a second 'window'"),
        ([("a", "the lamp")], "bulb", "without touching something else"),  # and b and c
        ([("sources", "the lamp")], "", "without touching something else"),
    ],
)
def test_a_name_that_cannot_be_changed_alone_is_refused(
    keys: list[tuple[Any, ...]], name: str, fragment: str
) -> None:
    with pytest.raises(InputError, match=fragment):
        rename(NAMED, keys, [], name)


@given(st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=40))
@settings(max_examples=60)
def test_any_name_is_written_whole_or_refused(name: str) -> None:
    try:
        made = rename(NAMED, NAMES, [("key",)], name)
    except InputError:
        return
    assert load(made)["a"] == {name: "3", "window": "4"}
    assert load(made)["key"] == name


REMARKED = """# CHECK: all of it
a: 1   # CHECK: this
# of b
# CHECK: that,
# and more
b: '# CHECK: no'   # CHECK: yes
c: 2   # a CHECK of mine
d: "x # CHECK: y"
"""


def test_remarks_that_ask_go_and_no_other() -> None:
    made = remove_remarks(REMARKED, [2, 7], "CHECK")
    assert made == REMARKED.replace("   # CHECK: this", "").replace("# CHECK: all of it\n", "")
    with pytest.raises(InputError, match="without touching something else"):
        remove_remarks(REMARKED, [8], "CHECK")  # which is a text
    crlf = REMARKED.replace("\n", "\r\n")
    assert remove_remarks(crlf, [6], "CHECK") == crlf.replace(
        "# CHECK: that,\r\n# and more\r\n", ""
    ).replace("   # CHECK: yes", "")


def test_several_things_are_taken_out_at_once() -> None:
    text = "a: {x: 1, y: 2, z: 3}  # three\nl:\n- one\n# the second\n- two\n- three\nk: 1\n"
    gone = [("a", "x"), ("a", "z"), ("l", 1), ("l", 2), ("k",)]
    assert remove_values(text, gone) == "a: {y: 2}  # three\nl:\n- one\n"
    shared = [(each, "the lamp") for each in "ab"] + [("c", "the lamp")]
    assert "a: &lux {window: 4}  # read twice\nb: *lux" in remove_values(NAMED, shared)
    with pytest.raises(InputError, match="without touching something else"):
        remove_values(NAMED, shared[:1])


def test_what_a_merge_key_brings_is_overruled_beside_it() -> None:
    text = "base: &b {lamp: A}\nx:\n  <<: *b  # the same lamp\n  on: true\ny: {<<: *b}\n"
    assert set_value(text, ("y", "on"), False) == text.replace(
        "y: {<<: *b}", "y: {<<: *b, on: false}"
    )
    with pytest.raises(InputError):
        set_value(text, ("base", "lamp"), "FL2")


SHARED = "a: &lux {lamp: 3}\nb: *lux\nc: {d: [1, 2]}\n"


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("a", "lamp"), 4),  # would change b as well
        (("a",), 4),  # would take the anchor away
        (("b", "lamp"), 4),
        (("c", "x", "y", "z"), None),
        (("c", "d", 5), None),
    ],
)
def test_what_would_touch_something_else_is_refused(path: tuple[Any, ...], value: Any) -> None:
    with pytest.raises(InputError, match=r"my\.yaml"):
        set_value(SHARED, path, value, "my.yaml") if value else remove_values(
            SHARED, [path], "my.yaml"
        )


@given(
    st.one_of(
        st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Co", "Cn")), min_size=1),
        st.sampled_from(
            ["yes", "on", "12", "1e5", "~", "null", "a: b", "- a", "#x", "x #y", "{", "'", '"']
        ),
        st.floats(1e-9, 1e9),
        st.integers(-1000, 1000),
        st.booleans(),
    )
)
@settings(max_examples=150)
def test_a_scalar_reads_as_it_was_meant(value: Any) -> None:
    said = write_scalar(value)
    for text in (f"k: {said}\n", f"k: {{k: {said}, x: [{said}]}}\n", f"{{{said}: 1}}"):
        root = build_tree(text, "")
        if text.startswith("{"):
            key = next(iter(root.entries))
            assert isinstance(value, bool) or not isinstance(value, str) or key == value
            continue
        node = root.entries["k"][1]
        for each in (
            [node] if not node.entries else [node.entries["k"][1], node.entries["x"][1].items[0]]
        ):
            if isinstance(value, bool):
                assert (each.plain, each.text) == (True, str(value).lower())
            elif isinstance(value, str):
                assert (each.sort, each.text) == ("text", value)
            else:
                assert each.sort == "number"
                assert float(each.text) == pytest.approx(value, rel=1e-12)
