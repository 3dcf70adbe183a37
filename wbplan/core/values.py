"""Values that nothing changes: the frozen `dataclass`, made in a third of the standard library's
time.

Python 3.11 compiles six functions of source text for a frozen dataclass, which took longer than
any other part of starting a plan: there are nearly two hundred. Only ``__init__`` has to be the
class's own; the other five stand here once for all of them. What is made is a dataclass to
`fields`, `replace`, `asdict`, `match`, `copy` and `pickle`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from reprlib import recursive_repr
from typing import Any, Literal, TypeVar, dataclass_transform

_Made = TypeVar("_Made")


@dataclass_transform(field_specifiers=(dataclasses.field,))
def dataclass(*, frozen: Literal[True], eq: bool = True) -> Callable[[type[_Made]], type[_Made]]:
    """Make a class a frozen dataclass, as ``dataclasses.dataclass(frozen=True, eq=eq)`` does.

    Parameters
    ----------
    frozen
        Always: a value that changes is one of `dataclasses` itself.
    eq
        Whether equal fields make equal values, or every value equals itself alone (one that holds
        arrays).
    """

    def make(made: type[_Made]) -> type[_Made]:
        made = dataclasses.dataclass(eq=False, repr=False)(made)
        methods: dict[str, Any] = {"__repr__": _repr}
        if eq:
            methods |= {"__eq__": _eq, "__hash__": _hash}
        for name, method in methods.items():
            if made.__dict__.get(name) is None:  # none of the class's own
                setattr(made, name, method)
        made.__setattr__ = _set_once  # type: ignore[method-assign]
        made.__delattr__ = _delete  # type: ignore[method-assign]
        return made

    return make


def _set_once(self: Any, name: str, value: object) -> None:
    """Set a field that has no value yet, which is what ``__init__`` does."""
    held = self.__dict__
    if name in held or name not in self.__dataclass_fields__:
        raise FrozenInstanceError(f"cannot assign to field {name!r}")
    held[name] = value


def _delete(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


@recursive_repr()
def _repr(self: Any) -> str:
    shown = [f"{each.name}={getattr(self, each.name)!r}" for each in dataclasses.fields(self)
             if each.repr]  # fmt: skip
    return f"{type(self).__qualname__}({', '.join(shown)})"


def _list_compared(value: Any) -> tuple[object, ...]:
    return tuple(getattr(value, each.name) for each in dataclasses.fields(value) if each.compare)


def _eq(self: Any, other: object) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return _list_compared(self) == _list_compared(other)


def _hash(self: Any) -> int:
    return hash(_list_compared(self))
