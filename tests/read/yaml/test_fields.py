"""YAML fields: what is read, what is refused, and that every refusal says where."""

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.errors import InputError
from wbplan.core.files import show_value
from wbplan.read.yaml.fields import Fields, parse_yaml, read_yaml
from wbplan.read.yaml.tree import MAX_YAML_BYTES

SCENE = """\
title: Attic, night   # a comment
ei: 800
lux: 12.5
on: yes
iso: "800"
setups:
  - name: one
    positions:
      face: {lux: {key: 300, fill: 1e2}, reflectance: .18}
      wall:
        lux: {key: 40}
        reflectance: 0.5
  - name: 2
gains: [1, 2.5, -3]
filters: [half amber, 12]
off: ~
"""


def refusal(act: Callable[[], Any]) -> InputError:
    with pytest.raises(InputError) as caught:
        act()
    text = str(caught.value)
    assert text.isprintable(), "an error is one line"
    return caught.value


@pytest.fixture
def scene() -> Fields:
    return parse_yaml(SCENE, "scene.yaml")


def test_values_come_back_typed(scene: Fields) -> None:
    assert scene.text("title") == "Attic, night"
    assert scene.whole("ei", low=1) == 800
    assert scene.number("lux", above=0) == 12.5
    assert scene.flag("on") is True
    assert scene.text("iso") == "800"
    assert scene.numbers("gains", count=3) == [1, 2.5, -3]
    assert scene.texts("filters") == ["half amber", "12"]
    first, second = scene.mappings("setups")
    assert second.text("name") == "2"
    positions = first.named_mappings("positions")
    assert list(positions) == ["face", "wall"]
    assert positions["face"].named_numbers("lux", low=0) == {"key": 300, "fill": 100}
    assert positions["face"].number("reflectance", low=0, high=1) == 0.18


def test_keys_are_text_in_file_order(scene: Fields) -> None:
    # YAML 1.1 resolves the words on and off to truth values; as names they are words.
    assert list(scene.keys()) == [
        *("title", "ei", "lux", "on", "iso", "setups", "gains", "filters", "off")
    ]
    assert "on" in scene
    assert "On" not in scene


def test_defaults_serve_absent_fields_only(scene: Fields) -> None:
    assert scene.text("note", None) is None
    assert scene.number("gain", 1.5) == 1.5
    assert scene.whole("frames", 24) == 24
    assert scene.flag("dark", False) is False
    assert scene.choice("look", ["plain", "rich"], "plain") == "plain"
    assert scene.numbers("empties", required=False) == []
    assert scene.texts("empties", required=False) == []
    assert scene.mappings("empties", required=False) == []
    assert scene.named_mappings("others", required=False) == {}
    assert scene.named_numbers("others", required=False) == {}
    assert scene.mapping("options", required=False).number("depth", 8) == 8
    refusal(lambda: scene.text("off", "default"))


@pytest.mark.parametrize(
    ("name", "sort"), [("title", "text"), ("ei", "number"), ("iso", "text"), ("on", "text")]
)
def test_scalars_tell_their_sort(scene: Fields, name: str, sort: str) -> None:
    assert (scene.is_text(name), scene.is_number(name)) == (sort == "text", sort == "number")
    assert not scene.is_mapping(name)
    assert not scene.is_list(name)


def test_collections_tell_their_sort(scene: Fields) -> None:
    assert scene.is_list("gains")
    assert scene.mappings("setups")[0].is_mapping("positions")
    for name in ("setups", "off", "nowhere"):
        assert not scene.is_text(name)
        assert not scene.is_number(name)
        assert not scene.is_mapping(name)


@pytest.mark.parametrize("written", ["true", "True", "YES", "on", "yes"])
def test_flags_true(written: str) -> None:
    assert parse_yaml(f"a: {written}", "f").flag("a") is True


@pytest.mark.parametrize("written", ["false", "FALSE", "No", "off"])
def test_flags_false(written: str) -> None:
    assert parse_yaml(f"a: {written}", "f").flag("a") is False


@pytest.mark.parametrize("written", ["half_amber", "Half Amber", "half-amber", "'half_amber'"])
def test_choice_ignores_case_and_separators(written: str) -> None:
    assert parse_yaml(f"a: {written}", "f").choice("a", ["frost", "half_amber"]) == "half_amber"


def test_places_and_paths(scene: Fields) -> None:
    positions = scene.mappings("setups")[0].mapping("positions")
    lux = positions.mapping("wall").mapping("lux")
    assert str(lux.place_of("key")) == "scene.yaml:11:20: setups[0].positions.wall.lux.key"
    assert str(lux.place) == "scene.yaml:11:14: setups[0].positions.wall.lux"
    assert str(scene.place) == "scene.yaml:1:1"
    error = lux.refuse("key", "40", "a source of this setup")
    assert str(error) == (
        "scene.yaml:11:20: setups[0].positions.wall.lux.key: "
        "found 40; allowed: a source of this setup"
    )


def test_odd_names_stay_on_one_line() -> None:
    fields = parse_yaml('"a\\nb.c": {x: 1}', "f")
    assert fields.mapping("a\nb.c").place.field == "'a\\nb.c'"


BAD_VALUES: list[tuple[str, Callable[[Fields], Any], list[str]]] = [
    ("b: 1", lambda f: f.text("a"), ["f:1:1: a:", "no such field", "a text"]),
    ("luxx: 1", lambda f: f.number("lux"), ["'luxx'", "a number"]),
    ("a:", lambda f: f.text("a"), ["nothing (empty)"]),
    ("a: ~", lambda f: f.number("a", 1.0), ["nothing (~)"]),
    ("a: ' '", lambda f: f.text("a"), ["' '", "a text"]),
    ("a: [x]", lambda f: f.text("a"), ["a list", "a text"]),
    ("a: " + "x" * 201, lambda f: f.text("a"), ["xxx...", "at most 200"]),
    ("a: xyz", lambda f: f.text("a", max_length=2), ["'xyz'", "at most 2 "]),
    ('a: "x\\ny\\e[2J"', lambda f: f.text("a"), [r"'x\ny\x1b[2J'", "one line"]),
    ("z: 1\na:  warm", lambda f: f.number("a"), ["f:2:5: a: found 'warm'", "a number"]),
    ("a: '5'", lambda f: f.number("a"), ["'5'", "without quotes"]),
    ("a: !!str 5", lambda f: f.number("a"), ["'5'", "without quotes"]),
    ("a: true", lambda f: f.number("a"), ["'true'", "a number"]),
    ("a: yes", lambda f: f.number("a"), ["'yes'", "a number"]),
    ("a: 1:30", lambda f: f.number("a"), ["'1:30'", "plain decimal digits"]),
    ("a: 1_000", lambda f: f.number("a"), ["'1_000'", "plain decimal digits"]),
    ("a: 012", lambda f: f.number("a"), ["'012'", "plain decimal digits"]),
    ("a: 0x1F", lambda f: f.number("a"), ["'0x1F'"]),
    ("a: 5,6", lambda f: f.number("a"), ["'5,6'", "write 5.6"]),
    ("a: 5600K", lambda f: f.number("a"), ["'5600K'", "without unit"]),
    ("a: ٣", lambda f: f.number("a"), ["'٣'"]),
    ("a: .inf", lambda f: f.number("a"), ["'.inf'"]),
    ("a: nan", lambda f: f.number("a"), ["'nan'"]),
    ("a: 1e999", lambda f: f.number("a"), ["1e999", "finite"]),
    ("a: " + "9" * 9999, lambda f: f.number("a"), ["999...", "finite"]),
    ("a: 0", lambda f: f.number("a", above=0), ["found 0;", "a number above 0"]),
    ("a: -1", lambda f: f.number("a", low=0), ["-1", "of at least 0"]),
    ("a: 2", lambda f: f.number("a", low=0, high=1), ["found 2;", "a number from 0 to 1"]),
    ("a: 2", lambda f: f.number("a", above=0, high=1), ["above 0 and of at most 1"]),
    ("a: 1.5", lambda f: f.whole("a"), ["1.5", "a whole number"]),
    ("a: maybe", lambda f: f.flag("a"), ["'maybe'", "true or false"]),
    ("a: 'yes'", lambda f: f.flag("a"), ["'yes'", "without quotes"]),
    ("a: 1", lambda f: f.flag("a"), ["found 1;", "true or false"]),
    ("a: frist", lambda f: f.choice("a", ["frost", "clear"]), ["'frist'", "mean 'frost'?"]),
    ("a: zzz", lambda f: f.choice("a", ["frost", "clear"]), ["one of frost, clear"]),
    ("a: [frost]", lambda f: f.choice("a", ["frost"]), ["a list", "allowed: frost"]),
    ("b: 1", lambda f: f.choice("a", ["frost"]), ["no such field", "allowed: frost"]),
    ("a: 1", lambda f: f.numbers("a"), ["found 1;", "a list"]),
    ("a: []", lambda f: f.numbers("a"), ["an empty list", "one or more numbers"]),
    ("a: [1, x]", lambda f: f.numbers("a"), ["f:1:8: a[1]: found 'x'"]),
    ("a: [1, 2]", lambda f: f.numbers("a", count=3), ["a list of 2", "a list of 3"]),
    ("a: [1, -2]", lambda f: f.numbers("a", low=0), ["a[1]", "-2", "at least 0"]),
    ("a: [x, [y]]", lambda f: f.texts("a"), ["a[1]", "a list", "a text"]),
    ("a: x", lambda f: f.mapping("a"), ["'x'", "a mapping"]),
    ("a: {}", lambda f: f.mapping("a"), ["an empty mapping", "a mapping"]),
    ("b: 1", lambda f: f.mapping("a"), ["no such field", "a mapping"]),
    ("a: {b: 1}", lambda f: f.mappings("a"), ["a mapping;", "a list of mappings"]),
    ("a: [{b: 1}, c]", lambda f: f.mappings("a"), ["f:1:13: a[1]: found 'c'", "a mapping"]),
    ("a: {b: 1}", lambda f: f.named_mappings("a"), ["a.b: found 1", "a mapping"]),
    ("a: {b: x}", lambda f: f.named_numbers("a"), ["a.b: found 'x'", "a number"]),
    ("a: {b: -1}", lambda f: f.named_numbers("a", low=0), ["a.b: found -1", "at least 0"]),
    ("b: 1", lambda f: f.kind(["one", "two"]), ["f:1:1:", "exactly one of one, two"]),
    ("tow: 1", lambda f: f.kind(["one", "two"]), ["'tow'"]),
    (
        "one: 1\ntwo: 2",
        lambda f: f.kind(["one", "two"]),
        ["f:2:6: two:", "'one' (line 1) and 'two' (line 2)", "only one of"],
    ),
]


@pytest.mark.parametrize(("text", "act", "fragments"), BAD_VALUES)
def test_bad_values(text: str, act: Callable[[Fields], Any], fragments: list[str]) -> None:
    fields = parse_yaml(text, "f")
    message = str(refusal(lambda: act(fields)))
    for fragment in fragments:
        assert fragment in message
    assert len(message) < 250


BAD_TEXTS: list[tuple[str, list[str]]] = [
    ("", ["f: found an empty file", "a mapping"]),
    ("# only a comment\n", ["an empty file"]),
    ("---\n", ["an empty document"]),
    ("- 1\n- 2\n", ["f:1:1", "a list", "a mapping"]),
    ("words\n", ["'words'", "a mapping"]),
    ("a: 1\n---\nb: 2\n", ["f:2:1", "a second document"]),
    ("a: 1\nb:\n  c: 1\n  c: 2\n", ["f:4:3: b", "'c' twice", "line 3", "line 4"]),
    ("? [x]\n: 1\n", ["a list as a field's name"]),
    ("a: {? {b: c} : 1}", ["a mapping as a field's name"]),
    ("'': 1\n", ["'' as a field's name"]),
    ("a: &x {b: 1}\nc:\n  <<: 3\n", ["f:3:7: c", "3 under '<<'", "a mapping"]),
    ("a: &x {b: 1}\nc:\n  <<: [*x, 3]\n", ["f:3:7: c", "a list under '<<'"]),
    ('a:\n  c: 1\n  "c\\u200b": 2\n', ["f:3:3: a", "look the same", "told apart"]),
    ("a:\n  caf\u00e9: 1\n  cafe\u0301: 2\n", ["f:3:3: a", "look the same"]),
    ("a: &x {b: 1}\nc:\n  <<: *x\n  <<: *x\n", ["f:4:3: c", "'<<' twice"]),
    ("a: &x {<<: *x}\n", ["'*x' inside its own anchor"]),
    ("a: !!python/object/apply:os.system [echo]\n", ["python/object", "without tags"]),
    ("a: !!binary aGk=\n", ["binary", "without tags"]),
    ("a: !mine 1\n", ["'!mine'"]),
    ("a: !!map 1\n", ["on a scalar"]),
    ("a: &x [1, *x]\n", ["a[1]", "inside its own anchor"]),
    ("a: *nowhere\n", ["f:1:4: a:", "'*nowhere'"]),
    ("a: [1\nb: 2\n", ["f:2:2", "broken YAML"]),
    ("a: b: c\n", ["f:1:5", "broken YAML"]),
    ("a:\n\t- 1\n", ["f:2:1", "a tab", "spaces"]),
    ("a: @x\n", ["f:1:4", "quotes"]),
    ("a: 'x\n", ["broken YAML"]),
    ("a: 1\nb: x\x07y\n", ["f:2:5", r"'\x07'"]),
    ("a: \0", [r"'\x00'", "binary"]),
    ("a: \ud800", [r"'\ud800'"]),
    ("%YAML 9" + "9" * 30 + ".1\n---\na: 1\n", ["broken YAML"]),
    ("[" * 100_000, ["f:1:1"]),
    ("a: " + "[" * 100_000, ["f:1:"]),
    ("a: " + "[" * 30, ["nested over 30 deep", "at most 30"]),
    ("{a: " * 5_000, ["nested over 30 deep"]),
    ("- " * 100_000, ["f:1:1"]),
    ("a:\n " + "- " * 100_000, ["f:2:"]),
]


@pytest.mark.parametrize(("text", "fragments"), BAD_TEXTS)
def test_bad_texts(text: str, fragments: list[str]) -> None:
    message = str(refusal(lambda: parse_yaml(text, "f")))
    for fragment in fragments:
        assert fragment in message
    assert len(message) < 300


@pytest.mark.parametrize("text", [text for text, _ in BAD_TEXTS])
def test_bad_texts_without_the_c_parser(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wbplan.read.yaml.tree._LOADER", yaml.SafeLoader)
    refusal(lambda: parse_yaml(text, "f"))


def test_depth_of_thirty_levels_is_read() -> None:
    text = "a: " + "[" * 28 + "1" + "]" * 28
    assert parse_yaml(text, "f").is_list("a")
    refusal(lambda: parse_yaml(text.replace("1", "[1]"), "f"))


def test_aliases_repeat_a_value() -> None:
    fields = parse_yaml("a: &x {b: 1}\nc: *x\nd: &n 5\ne: *n\n", "f")
    assert fields.mapping("c").number("b") == 1
    assert fields.number("e") == 5


def test_merge_keys_add_what_is_not_stated() -> None:
    # YAML merge key language-independent type, 2005: own keys win, then the earlier of a list.
    fields = parse_yaml(
        "a: &a {x: 1, y: 1}\nb: &b {y: 2, z: 2}\nc:\n  <<: [*a, *b]\n  x: 3\n'<<': 4\n", "f"
    )
    merged = fields.mapping("c")
    assert list(merged.keys()) == ["x", "y", "z"]
    assert [merged.number(name) for name in merged.keys()] == [3, 1, 2]  # noqa: SIM118
    assert str(merged.place_of("z")) == "f:2:17: c.z", "where it is written"
    assert fields.number("<<") == 4
    rows = ["a0: &a0 {" + ", ".join(f"k{n}: 1" for n in range(300)) + "}"]
    rows += [f"a{i}: &a{i} {{b: *a{i - 1}, <<: *a{i - 1}}}" for i in range(1, 12)]
    assert "at most 20000" in str(refusal(lambda: parse_yaml("\n".join(rows), "f")))


def test_alias_bomb_is_refused_unexpanded() -> None:
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 12)]
    message = str(refusal(lambda: parse_yaml("\n".join(rows), "bomb.yaml")))
    assert "bomb.yaml:5" in message
    assert "at most 20000" in message


def test_nesting_by_alias_counts() -> None:
    rows = ["a0: &a0 [x]"] + [f"a{i}: &a{i} [*a{i - 1}]" for i in range(1, 40)]
    assert "nested" in str(refusal(lambda: parse_yaml("\n".join(rows), "f")))


def test_finish_refuses_what_nobody_read() -> None:
    fields = parse_yaml("lux: 1\nreflectanse: 0.5\n", "f")
    fields.number("lux")
    fields.number("reflectance", 0.2)
    message = str(refusal(fields.finish))
    assert message == (
        "f:2:1: reflectanse: found the unknown field 'reflectanse'; "
        "allowed: did you mean 'reflectance'?"
    )


def test_finish_looks_into_opened_mappings() -> None:
    fields = parse_yaml("a:\n  - {b: 1, c: 2}\n", "f")
    (inner,) = fields.mappings("a")
    inner.number("b")
    assert "f:1:" not in str(refusal(fields.finish))
    assert "a[0].c" in str(refusal(fields.finish))
    inner.number("c")
    fields.finish()


def test_finish_of_a_field_that_was_only_looked_for() -> None:
    fields = parse_yaml("a: 1\nb: 2\n", "f")
    assert "b" in fields
    fields.number("a")
    assert "beside fields that exclude it" in str(refusal(fields.finish))


def test_finish_where_no_field_is_known() -> None:
    assert "no field here" in str(refusal(parse_yaml("a: 1", "f").finish))


def test_one_of_several_kinds() -> None:
    fields = parse_yaml("two: 2\nother: 1\n", "f")
    assert fields.kind(["one", "two"]) == "two"


def test_shown_values_are_short_and_on_one_line() -> None:
    assert show_value("warm") == "'warm'"
    assert show_value("a\tb\u2028\x1b") == r"'a\tb\u2028\x1b'"
    assert len(show_value("x" * 1000)) <= 60
    assert len(show_value("\x00" * 1000)) <= 60


def test_files(tmp_path: Any) -> None:
    good = tmp_path / "good.yaml"
    good.write_bytes(b"\xef\xbb\xbfa: caf\xc3\xa9\r\nb: 2\r\n")
    fields = read_yaml(good)
    assert (fields.text("a"), fields.number("b")) == ("café", 2)
    assert fields.place.file == str(good)

    (tmp_path / "latin.yaml").write_bytes(b"a: 1\nb: caf\xe9\n")
    (tmp_path / "wide.yaml").write_bytes("a: 1".encode("utf-16"))
    (tmp_path / "nul.yaml").write_bytes(b"a: 1\n\0\n")
    (tmp_path / "large.yaml").write_bytes(b"#" * (MAX_YAML_BYTES + 1))
    (tmp_path / "empty.yaml").write_bytes(b"")
    for name, fragments in {
        "latin.yaml": ["latin.yaml:2:", "0xE9", "UTF-8"],
        "wide.yaml": ["UTF-8"],
        "nul.yaml": ["nul.yaml:2:1", "binary"],
        "large.yaml": ["1.0 MB", "at most 1 MB"],
        "empty.yaml": ["an empty file"],
        "absent.yaml": ["no such file"],
        "": ["a directory"],
        "good.yaml/x": ["cannot be read"],
        "a\0b": ["path"],
        "x" * 5000: ["cannot be read"],
    }.items():
        error = refusal(partial(read_yaml, f"{tmp_path}/{name}"))
        for fragment in fragments:
            assert fragment in str(error)


def test_a_device_is_not_read() -> None:
    assert "a regular file" in str(refusal(lambda: read_yaml("/dev/zero")))


def test_a_large_text_is_refused() -> None:
    assert "MB" in str(refusal(lambda: parse_yaml("#" * (MAX_YAML_BYTES + 1), "f")))


def try_everything(text: str) -> None:
    """Parse and read every field in every way; only one-line refusals may come out."""

    def attempt(act: Callable[[], Any]) -> Any:
        message = ""
        try:
            return act()
        except InputError as error:
            message = str(error)
        assert message.isprintable()
        return None

    fields = attempt(lambda: parse_yaml(text, "f"))
    if fields is None:
        return
    for name in [*fields.keys(), "absent"]:
        for getter in (
            *(fields.text, fields.number, fields.whole, fields.flag, fields.numbers),
            *(fields.texts, fields.mapping, fields.mappings, fields.named_mappings),
            *(fields.named_numbers, lambda name: fields.choice(name, ["a", "b"])),
        ):
            attempt(partial(getter, name))


@given(st.text())
def test_arbitrary_text_is_read_or_refused(text: str) -> None:
    try_everything(text)


@given(
    st.lists(
        st.sampled_from(
            [
                *"ab01-[]{}:,?&*!|>%@#'\"~<. \t\n\r",
                "\n  ",
                ": ",
                "- ",
                "&a ",
                "*a",
                "!!int ",
                "\ufeff",
            ]
        ),
        max_size=40,
    ).map("".join)
)
def test_yaml_like_text_is_read_or_refused(text: str) -> None:
    try_everything(text)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_as_written(value: float) -> None:
    assert parse_yaml(f"a: {value!r}", "f").number("a") == value


@given(st.text(alphabet=st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=40))
def test_quoted_text_comes_back(text: str) -> None:
    quoted = text.replace("'", "''")
    assert parse_yaml(f"a: '{quoted}'", "f").text("a") == text
