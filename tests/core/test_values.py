"""The quick frozen dataclass behaves as the standard library's, which is the law it is held to."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError, field
from functools import cached_property
from typing import Any

import pytest

from wbplan.core.values import dataclass


@dataclass(frozen=True)
class Quick:
    name: str
    size: float = 1.5
    parts: tuple[object, ...] = ()
    label: str = field(default="", compare=False)
    hidden: list[int] = field(default_factory=list, repr=False, compare=False)

    @cached_property
    def twice(self) -> float:
        return self.size * 2


Standard: Any = dataclasses.dataclass(frozen=True)(
    type("Quick", (), {"__annotations__": Quick.__annotations__, "size": 1.5, "parts": (),
                       "label": field(default="", compare=False), "__qualname__": "Quick",
                       "hidden": field(default_factory=list, repr=False, compare=False)})
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Lonely:
    name: str


@dataclass(frozen=True)
class Longer(Quick):
    more: int = 0

    def __repr__(self) -> str:
        return "Longer, in its own words"


ASKED: dict[str, Callable[[Any], Any]] = {
    "fields": lambda made: [each.name for each in dataclasses.fields(made("a"))],
    "words": lambda made: repr(made("a", 2, (3, "x"), "y")),
    "dictionary": lambda made: dataclasses.asdict(made("a", parts=(1,))),
    "changed": lambda made: repr(dataclasses.replace(made("a"), size=7)),
    "equal": lambda made: (made("a") == made("a"), made("a") == made("b")),
    "not compared": lambda made: made("a", label="one") == made("a", label="two"),
    "of another kind": lambda made: (made("a") == "a", made("a") != ("a", 1.5, ())),
    "the same object inside": lambda made: made("a", nan := float("nan")) == made("a", nan),
    "as keys": lambda made: len({made("a"), made("a"), made("b"), made("b", label="two")}),
    "hash": lambda made: hash(made("a", 2.0, (3,))),
    "matched": lambda made: made.__match_args__,
    "copied": lambda made: repr(copy.deepcopy(made("a", parts=(1, 2)))),
}
REFUSED: dict[str, tuple[type[Exception], Callable[[Any], object]]] = {
    "a field set": (FrozenInstanceError, lambda made: setattr(made("a"), "name", "b")),
    "a default set": (FrozenInstanceError, lambda made: setattr(made("a"), "size", 2)),
    "another name set": (FrozenInstanceError, lambda made: setattr(made("a"), "other", 1)),
    "a field deleted": (FrozenInstanceError, lambda made: delattr(made("a"), "name")),
    "hash of a list": (TypeError, lambda made: hash(made("a", parts=[]))),
    "too few": (TypeError, lambda made: made()),
    "unknown": (TypeError, lambda made: made("a", colour=1)),
}


@pytest.mark.parametrize("what", ASKED)
def test_it_answers_as_the_standard_one(what: str) -> None:
    assert ASKED[what](Quick) == ASKED[what](Standard)


@pytest.mark.parametrize("what", REFUSED)
def test_it_refuses_as_the_standard_one(what: str) -> None:
    kind, ask = REFUSED[what]
    said = []
    for made in (Quick, Standard):
        with pytest.raises(kind) as error:
            ask(made)
        said.append(str(error.value).removeprefix("Quick."))
    assert said[0] == said[1]


def test_pickles_cached_properties_and_words_of_itself() -> None:
    made = Quick("a")
    assert pickle.loads(pickle.dumps(made)) == made
    assert made.twice == 3.0
    made.hidden.append(1)
    assert repr(made) == "Quick(name='a', size=1.5, parts=(), label='')"
    knot: list[object] = []
    knot.append(Quick("a", parts=(knot,)))
    assert "..." in repr(knot)


def test_without_eq_each_equals_itself_alone() -> None:
    made = Lonely("a")
    assert made == made
    assert made != Lonely("a")
    assert len({made, Lonely("a")}) == 2


def test_a_longer_one_keeps_its_own_words_and_is_another_kind() -> None:
    assert repr(Longer("a", more=2)) == "Longer, in its own words"
    assert Longer("a") != Quick("a")
    assert Longer("a", more=2) == Longer("a", more=2)
    with pytest.raises(FrozenInstanceError):
        Longer("a").more = 3  # type: ignore[misc]
