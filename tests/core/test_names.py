"""File names from what people wrote: safe on every system, and never empty."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.core.names import find_alike, make_safe_name


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Attic, night", "attic-night"),
        ("Café Ångström", "cafe-angstrom"),
        ("  two   words  ", "two-words"),
        ("T2.8 and 1/3", "t2-8-and-1-3"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\windows\\x", "c-windows-x"),
        ("-rf", "rf"),
        (".hidden", "hidden"),
        ("a\x00b\nc\x1b[2J", "a-b-c-2j"),
        ("日本", "unnamed"),
        ("", "unnamed"),
        ("...", "unnamed"),
    ],
)
def test_names(text: str, name: str) -> None:
    assert make_safe_name(text) == name


# Microsoft, "Naming Files, Paths, and Namespaces": CON, PRN, AUX, NUL, COM0-9, LPT0-9 and their
# superscript digits are devices, in any case and with any ending.
@pytest.mark.parametrize("text", ["con", "PRN", "Aux", "nul", "COM1", "lpt9", "com¹", " NUL. "])
def test_device_names_are_not_given(text: str) -> None:
    assert make_safe_name(text, "setup-1") == "setup-1"


def test_a_device_name_inside_a_longer_one_is_no_device() -> None:
    assert make_safe_name("con 2") == "con-2"
    assert make_safe_name("com10") == "com10"


def test_a_cut_name_does_not_end_in_a_hyphen() -> None:
    assert make_safe_name("x" * 59 + " y") == "x" * 59
    assert len(make_safe_name("x" * 500)) == 60


@given(st.text())
def test_any_text_gives_a_plain_name_that_stays(text: str) -> None:
    name = make_safe_name(text)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
    assert len(name) <= 60
    assert make_safe_name(name) == name


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("a", "b", "caf\u00e9", "\u0430"), None),  # the last is Cyrillic: shapes are not compared
        (("a", "A", "a-b", "a b"), None),
        (("lamp", "lamp\u200b"), ("lamp", "lamp\u200b")),
        (("x", "caf\u00e9", "cafe\u0301"), ("caf\u00e9", "cafe\u0301")),  # UAX 15, NFC
    ],
)
def test_names_that_look_the_same(names: tuple[str, ...], expected: object) -> None:
    assert find_alike(names) == expected
