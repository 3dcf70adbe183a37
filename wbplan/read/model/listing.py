"""A model's fields as the lists of the guide: names at the left, what they mean beside them."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Final

from wbplan.read.model.forms import Choice, Form, Items, Map, Named, list_forms
from wbplan.read.model.tables import NOTHING, Field, Model

WIDTH: Final = 80
MEANING_AT: Final = 21  # the column at which meanings begin
_PLACE: Final = re.compile(r"^    \{([\w+]+)(?: (\w+) to (\w+))?(?: with ([\w ]+))?\}$", re.M)


def fill_lists(text: str, model: Model) -> str:
    """Put lists of fields in the place of lines of a text that ask for them.

    ``{shape}`` lists its fields, ``{shape first to last}`` some of them, ``{one+two}`` those of
    several shapes in one list. ``with other`` lists the fields of another shape as well, under the
    first field that holds one.
    """

    def fill(match: re.Match[str]) -> str:
        fields = _join_shapes(model, match[1].split("+"))
        names = [each.name for each in fields]
        if match[2]:
            fields = fields[names.index(match[2]) : names.index(match[3]) + 1]
        return "\n".join(_list_fields(model, fields, (match[4] or "").split(), 0))

    return _PLACE.sub(fill, text)


def _join_shapes(model: Model, shapes: list[str]) -> list[Field]:
    """Join the fields of shapes; one that not all of them have says whose it is."""
    found: dict[Field, list[str]] = {}
    for shape in shapes:
        for field in model.shapes[shape].fields:
            found.setdefault(field, []).append(shape)
    whose = {each: "" if len(of) == len(shapes) else ", ".join(of) for each, of in found.items()}
    return [
        replace(each, help=f"of {of}: {each.help}" if of else each.help)
        for each, of in whose.items()
    ]


def _list_fields(
    model: Model, fields: Sequence[Field], inner: list[str], depth: int
) -> Iterator[str]:
    for _, group in groupby(fields, lambda each: (explain_field(each), each.form)):
        same = list(group)
        names = " " * (4 + 2 * depth) + ", ".join(each.name for each in same)
        meaning = textwrap.wrap(explain_field(same[0]), WIDTH - MEANING_AT)
        if len(names) > MEANING_AT - 2 and meaning:
            yield names
            names = ""
        for line in meaning or [""]:
            yield f"{names:<{MEANING_AT}}{line}".rstrip()
            names = ""
        for name in _find_shapes(same[0].form):
            if name in inner:
                inner.remove(name)
                yield from _list_fields(model, model.shapes[name].fields, inner, depth + 1)


def explain_field(field: Field) -> str:
    """Say what a field is, what may stand there, and what is taken where it is left out."""
    clause, rest = re.fullmatch(r"(.*?)((?:;|\.(?= )).*)?", field.help).groups("")  # type: ignore[union-attr]
    span = field.form.say_range()
    if span and not set(re.findall(r"[-\w.]+", span)) - {"to"} <= set(
        re.findall(r"[-\w.]+(?<!\.)", clause)
    ):
        joint = ": " if isinstance(field.form, Choice) else ", "
        clause = joint.join(filter(None, (clause, span)))
    said = clause + rest
    if field.default is not NOTHING and "if left out" not in said:
        default = field.default
        if isinstance(default, bool):
            default = "true" if default else "false"
        word = f"{default:.12g}" if isinstance(default, float) else str(default)
        said += f"; {word} if left out"
    return said.removeprefix("; ")


def _find_shapes(form: Form) -> list[str]:
    found = []
    for each in list_forms(form):
        if isinstance(each, Map):
            found.append(each.shape)
        elif isinstance(each, Items | Named):
            found += _find_shapes(each.of)
    return found
