"""What the value of a field can be: its form, in words, in a schema, and as one that would do.

A form judges a node of a YAML tree by itself. What takes two fields to judge, or a file, is left to
the readers.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final, Protocol, TypeVar

from wbplan.core.errors import InputError, Place, describe_choices, fold_name
from wbplan.read.yaml.tree import CONTROL, NUMBER, Node

FLAGS: Final = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}
_COMMA: Final = re.compile(r"([-+]?[0-9]+),([0-9]+)")
_MOST_LISTED: Final = 12
_NARROW: Final = 1e5  # a limit below this is said in the guide; those above only catch slips

_V = TypeVar("_V", covariant=True)


class Form(Protocol):
    """What a value can be."""

    def describe(self) -> str:
        """Say in words what is allowed."""

    def say_range(self) -> str:
        """Say in the guide's words what is allowed; empty where the name says it all."""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""


class Scalar(Form, Protocol[_V]):
    """A form whose values are one word or number."""

    def read(self, node: Node, place: Place) -> _V:
        """Read what a node holds, or refuse it."""


@dataclass(frozen=True)
class Number:
    """A finite number: ``low`` and ``high`` are allowed themselves, ``above`` is not.

    With ``or_zero`` 0 is allowed besides.
    """

    low: float | None = None
    high: float | None = None
    above: float | None = None
    is_whole: bool = False
    or_zero: bool = False

    def describe(self) -> str:
        """Say in words what is allowed."""
        noun = "0, or " if self.or_zero else ""
        noun += "a whole number" if self.is_whole else "a number"
        if self.low is not None and self.high is not None:
            return f"{noun} from {_say(self.low)} to {_say(self.high)}"
        limits = (("above", self.above), ("of at least", self.low), ("of at most", self.high))
        parts = [f"{word} {_say(limit)}" for word, limit in limits if limit is not None]
        return f"{noun} {' and '.join(parts)}".strip()

    def say_range(self) -> str:
        """Say it for the guide: "0 to 20", "up to 20", "above 0"."""
        if self.high is None or self.high >= _NARROW:
            return "" if self.above is None else f"above {self.above:g}"
        if self.low is not None:
            return f"{_say(self.low)} to {_say(self.high)}"
        return f"up to {self.high:.12g}"

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        limits = {"minimum": self.low, "exclusiveMinimum": self.above, "maximum": self.high}
        kind = "integer" if self.is_whole else "number"
        within = {k: v for k, v in limits.items() if v is not None}
        if self.or_zero:
            return {"type": kind, "anyOf": [{"const": 0}, within]}
        return {"type": kind, **within}

    def tighten(self, other: Number) -> Number:
        """Give the form that meets the limits of both."""

        def pick(one: float | None, two: float | None, most: bool) -> float | None:
            known = [each for each in (one, two) if each is not None]
            return (max(known) if most else min(known)) if known else None

        return Number(
            pick(self.low, other.low, True),
            pick(self.high, other.high, False),
            pick(self.above, other.above, True),
            self.is_whole or other.is_whole,
            (self.or_zero or other.or_zero) and self.takes(0.0) and other.takes(0.0),
        )

    def takes(self, value: float) -> bool:
        """Tell whether a finite value is allowed."""
        within = (
            (self.low is None or self.low <= value)
            and (self.high is None or value <= self.high)
            and (self.above is None or self.above < value)
        )
        return (within or (self.or_zero and value == 0)) and (
            not self.is_whole or value.is_integer()
        )

    def read(self, node: Node, place: Place) -> float:
        """Read the number that a node holds.

        Raises
        ------
        InputError
            For anything else; a decimal comma, quotes and units are answered with what to write.
        """
        takes = self.describe()
        if node.sort == "number":
            value = float(node.text) + 0.0  # turns -0 into 0
            if not math.isfinite(value):
                raise InputError(node.describe(), f"{takes}, finite", place)
            if self.takes(value):
                return value
        elif node.sort == "text":
            comma = _COMMA.fullmatch(node.text.strip())
            if comma:
                takes += f", with a point: write {comma[1]}.{comma[2]}"
            elif NUMBER.fullmatch(node.text):
                takes += ", without quotes"
            elif re.search("[0-9]", node.text):
                takes += ", in plain decimal digits (12.5), without unit or separators"
        raise InputError(node.describe(), takes, place)


def _say(limit: float) -> str:
    """Write a limit without an exponent where it is small: '0.000001'."""
    text = f"{limit:.12g}"
    return f"{limit:.12f}".rstrip("0") if "e-" in text else text


@dataclass(frozen=True)
class Flag:
    """True or false."""

    def describe(self) -> str:
        """Say in words what is allowed."""
        return "true or false (or yes, no, on, off), without quotes"

    def say_range(self) -> str:
        """Leave it to the field's own words."""
        return ""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        return {"enum": [True, False, "yes", "no", "on", "off"]}

    def read(self, node: Node, place: Place) -> bool:
        """Read the truth value that a node holds, or refuse it."""
        value = FLAGS.get(node.text.casefold()) if node.plain else None
        if value is None:
            raise InputError(node.describe(), self.describe(), place)
        return value


@dataclass(frozen=True)
class Text:
    """One line of text.

    ``what`` it stands for, where the name of the field does not say it; ``names`` are the kinds of
    things of the file whose name it is, if it is one.
    """

    most: int = 200
    what: str = "a text"
    names: tuple[str, ...] = ()

    def describe(self) -> str:
        """Say in words what is allowed."""
        return self.what

    def say_range(self) -> str:
        """Leave it to the field's own words."""
        return ""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value; a number without quotes is text as well."""
        return {"type": ["string", "number"], "maxLength": self.most}

    def read(self, node: Node, place: Place) -> str:
        """Read the text that a node holds, stripped, or refuse it."""
        text = node.text.strip()
        allowed = ""
        if node.sort not in ("text", "number") or not text:
            allowed = self.what
        elif CONTROL.search(text):
            allowed = f"{self.what} on one line, without control characters"
        elif len(text) > self.most:
            allowed = f"{self.what} of at most {self.most} characters"
        if allowed:
            raise InputError(node.describe(), allowed, place)
        return text


@dataclass(frozen=True)
class Choice:
    """One of some words, as ``names`` spells them."""

    names: tuple[str, ...]

    def describe(self) -> str:
        """Say in words what is allowed."""
        return self.names[0] if len(self.names) == 1 else "one of " + ", ".join(self.names)

    def say_range(self) -> str:
        """List the words, for the guide; empty where they are many."""
        if len(self.names) > _MOST_LISTED:
            return ""
        return " or ".join(filter(None, (", ".join(self.names[:-1]), self.names[-1])))

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value; a word in digits may stand without quotes."""
        numbers = [int(each) for each in self.names if each.isdigit()]
        return {"enum": [*self.names, *numbers]}

    def read(self, node: Node, place: Place) -> str:
        """Read which one a node holds; case and the separators ``-``, ``_``, space do not count."""
        if node.sort not in ("text", "number"):
            raise InputError(node.describe(), self.describe(), place)
        if node.text in self.names:
            return node.text
        for each in self.names:
            if fold_name(each) == fold_name(node.text):
                return each
        if len(self.names) == 1:
            raise InputError(node.describe(), self.describe(), place)
        raise InputError(node.describe(), describe_choices(node.text, self.names), place)


@dataclass(frozen=True)
class Items:
    """A list; of ``count`` items when that is given."""

    of: Form
    count: int | None = None

    def describe(self) -> str:
        """Say in words what is allowed."""
        if isinstance(self.of, Number):
            return f"a list of {self.count or 'one or more'} numbers"
        if isinstance(self.of, Map):
            return f"a list of mappings, each begun with '- '{self.of.show()}"
        if isinstance(self.of, Choice):
            return "a list of some of " + ", ".join(self.of.names)
        return "a list of texts"

    def say_range(self) -> str:
        """Leave it to the field's own words."""
        return ""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        made = {"type": "array", "items": self.of.make_schema(), "minItems": self.count or 1}
        return made if self.count is None else {**made, "maxItems": self.count}


@dataclass(frozen=True)
class Map:
    """A mapping with the fields of a shape, named; ``example`` is one in YAML's one-line form."""

    shape: str
    example: str = ""

    def show(self) -> str:
        """Show the example, to stand behind other words."""
        return f", as {self.example}" if self.example else ""

    def describe(self) -> str:
        """Say in words what is allowed."""
        return "a mapping of fields" + self.show()

    def say_range(self) -> str:
        """Leave it to the field's own words."""
        return ""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        return {"$ref": f"#/$defs/{self.shape}"}


@dataclass(frozen=True)
class Named:
    """A mapping from names of the user's own to values of one form; ``names`` as of `Text`."""

    of: Form
    example: str = ""
    names: tuple[str, ...] = ()

    def describe(self) -> str:
        """Say in words what is allowed."""
        shown = f", as {self.example}" if self.example else ""
        return f"a mapping of fields, names to {self.of.describe().partition(',')[0]}{shown}"

    def say_range(self) -> str:
        """Say the range of its numbers."""
        return self.of.say_range()

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        inner = self.of.make_schema()
        return {"type": "object", "minProperties": 1, "additionalProperties": inner}


@dataclass(frozen=True)
class Either:
    """One of several forms that no value can have at once."""

    forms: tuple[Form, ...]

    def describe(self) -> str:
        """Say in words what is allowed."""
        return ", or ".join(each.describe() for each in self.forms)

    def say_range(self) -> str:
        """Leave it to the field's own words."""
        return ""

    def make_schema(self) -> dict[str, Any]:
        """Make the JSON Schema of the value."""
        return {"anyOf": [each.make_schema() for each in self.forms]}


def list_forms(form: Form) -> tuple[Form, ...]:
    """List what a value can be, each form by itself."""
    return form.forms if isinstance(form, Either) else (form,)
