"""What a file is made of: fields in shapes, and shapes in a model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from wbplan.core.errors import describe_choices, find_near, fold_name
from wbplan.read.model.forms import Form, Map, list_forms


class _Nothing:
    """Stands for a default that there is none of."""


NOTHING: Final = _Nothing()


@dataclass(frozen=True)
class Field:
    """One field.

    Parameters
    ----------
    name
        As it is written; the unit is in it.
    form
        What its value can be.
    help
        One line on what it is, for guide and editor. Range and default are said by themselves.
    default
        What is taken where it is left out; `NOTHING` where the reader works that out, or the field
        is simply absent then.
    is_required
        Whether it has to be there.
    needs
        Other fields of the shape of which one has to be there beside it; none for no such thing.
    also
        Words that people write for it, which are answered with its name.
    example
        A value that fits, as YAML; what stands in for a faulty one while further mistakes are
        looked for.
    """

    name: str
    form: Form
    help: str = ""
    default: object = NOTHING
    is_required: bool = False
    needs: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    example: str = ""


@dataclass(frozen=True)
class Shape:
    """The fields of one kind of mapping.

    Parameters
    ----------
    one_of
        Groups of fields of which exactly one has to be there.
    not_both
        Groups of fields of which at most one may be there.
    needed
        Groups of fields of which one at least has to be there.
    """

    fields: tuple[Field, ...]
    one_of: tuple[tuple[str, ...], ...] = ()
    not_both: tuple[tuple[str, ...], ...] = ()
    needed: tuple[tuple[str, ...], ...] = ()

    @cached_property
    def by_name(self) -> dict[str, Field]:
        """The fields by name, in the order of the table."""
        return {each.name: each for each in self.fields}

    def find_meant(self, name: str) -> str:
        """Find the field that a name means which is none: another word for it, or a misspelt one.

        Empty where it is none of them.
        """
        folded = fold_name(name)
        for each in self.fields:
            if folded in map(fold_name, each.also):
                return each.name
        return "".join(find_near(name, self.by_name))


@dataclass(frozen=True)
class Model:
    """A file's format: its name, the shape of the whole, and every shape by its own name.

    ``alike`` is the list of which an entry may be ``like`` another one, by that one's ``name``.
    ``shared`` is a mapping of the whole file that an entry of that list may have of its own: what
    it names without saying its kind is the file's, but for what it states.
    """

    name: str
    title: str
    shapes: dict[str, Shape]
    root: str = "root"
    alike: str = ""
    shared: str = ""

    def suggest(self, shape: Shape, name: str) -> str:
        """Say which field was meant by a name that is none of a shape, or where it belongs."""
        inner = [
            each.name
            for each in shape.fields
            for form in list_forms(each.form)
            if isinstance(form, Map) and name in self.shapes[form.shape].by_name
        ]
        if inner:
            return f"it goes under '{inner[0]}'"
        meant = shape.find_meant(name)
        return f"did you mean '{meant}'?" if meant else describe_choices(name, shape.by_name)

    def walk(self) -> Iterator[tuple[str, Field]]:
        """Walk every field, with the name of its shape."""
        for name, shape in self.shapes.items():
            for each in shape.fields:
                yield name, each
