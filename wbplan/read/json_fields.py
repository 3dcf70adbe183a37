"""JSON text to typed values that know where they stand, for records that come from elsewhere.

A record is written by wbplan, but what is read may have been changed, cut or made up. Size, depth,
equal keys and numbers that JSON does not have are refused while reading; a type is given only when
a caller asks for it, and a value of another type is refused by the path of its field.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterator
from typing import Any, Final

from wbplan.core.errors import InputError, Place
from wbplan.core.files import read_bytes, show_value

MOST_RECORD_BYTES: Final = 128_000_000
_JSON_FORM: Final = "a record as wbplan writes it, JSON in UTF-8 (RFC 8259)"


class JsonFields:
    """Read-only view of one JSON object; every getter refuses with file and field."""

    def __init__(self, entries: dict[str, Any], file: str, path: str = "") -> None:
        self._entries = entries
        self._file = file
        self._path = path

    def __contains__(self, name: str) -> bool:
        return self._entries.get(name) is not None

    def refuse(self, name: str, found: str, allowed: str) -> InputError:
        """Build the refusal of a field's value, for the caller to raise."""
        return InputError(found, allowed, Place(self._file, field=self._join(name)))

    def text(self, name: str) -> str:
        """Read a text."""
        value = self._get(name, "a text")
        if not isinstance(value, str):
            raise self.refuse(name, _describe(value), "a text")
        return value

    def text_or_none(self, name: str) -> str | None:
        """Read a text; None for null and for a field that is not there."""
        return self.text(name) if name in self else None

    def number(self, name: str) -> float:
        """Read a number; not a number for null and for a field that is not there."""
        value = self._entries.get(name)
        if value is None:
            return math.nan
        return self._number_of(value, name)

    def numbers(self, name: str) -> tuple[float, ...]:
        """Read a list of numbers, not a number for null."""
        return self._numbers_of(self._list(name), name)

    def rows(self, name: str) -> tuple[tuple[float, ...], ...]:
        """Read a list of lists of numbers."""
        found = []
        for row, each in enumerate(self._list(name)):
            if not isinstance(each, list):
                raise self.refuse(f"{name}[{row}]", _describe(each), "a list of numbers")
            found.append(self._numbers_of(each, f"{name}[{row}]"))
        return tuple(found)

    def flag(self, name: str) -> bool:
        """Read true or false."""
        value = self._get(name, "true or false")
        if not isinstance(value, bool):
            raise self.refuse(name, _describe(value), "true or false")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        """Read a list of texts."""
        for row, each in enumerate(self._list(name)):
            if not isinstance(each, str):
                raise self.refuse(f"{name}[{row}]", _describe(each), "a text")
        return tuple(self._list(name))

    def texts_or_none(self, name: str) -> tuple[str | None, ...]:
        """Read a list of texts, None for null."""
        for row, each in enumerate(self._list(name)):
            if each is not None and not isinstance(each, str):
                raise self.refuse(f"{name}[{row}]", _describe(each), "a text or null")
        return tuple(self._list(name))

    def item(self, name: str) -> JsonFields:
        """Open an object inside this one."""
        value = self._get(name, "an object")
        if not isinstance(value, dict):
            raise self.refuse(name, _describe(value), "an object")
        return JsonFields(value, self._file, self._join(name))

    def item_or_none(self, name: str) -> JsonFields | None:
        """Open an object; None for null and for a field that is not there."""
        return self.item(name) if name in self else None

    def items(self, name: str) -> Iterator[JsonFields]:
        """Open each object of a list; nothing for a field that is not there."""
        for row, each in enumerate(self._list(name) if name in self else []):
            if not isinstance(each, dict):
                raise self.refuse(f"{name}[{row}]", _describe(each), "an object")
            yield JsonFields(each, self._file, self._join(f"{name}[{row}]"))

    def _join(self, name: str) -> str:
        return f"{self._path}.{name}" if self._path else name

    def _get(self, name: str, allowed: str) -> Any:
        if name not in self._entries:
            raise self.refuse(name, "no such field", allowed)
        return self._entries[name]

    def _list(self, name: str) -> list[Any]:
        value = self._get(name, "a list")
        if not isinstance(value, list):
            raise self.refuse(name, _describe(value), "a list")
        return value

    def _numbers_of(self, values: list[Any], name: str) -> tuple[float, ...]:
        return tuple(
            math.nan if each is None else self._number_of(each, f"{name}[{row}]")
            for row, each in enumerate(values)
        )

    def _number_of(self, value: Any, name: str) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return number
        raise self.refuse(name, _describe(value), "a number")


def read_json(path: str | os.PathLike[str]) -> JsonFields:
    """Read a JSON file whose root is an object.

    Raises
    ------
    InputError
        For a file that cannot be read, exceeds `MOST_RECORD_BYTES` or is no such JSON.
    """
    file = os.fspath(path)
    return parse_json(read_bytes(path, MOST_RECORD_BYTES), file)


def parse_json(raw: bytes, file: str) -> JsonFields:
    """Parse JSON; ``file`` is the name to give in errors."""
    place = Place(file)
    try:
        value = json.loads(
            raw.decode("utf-8"), parse_constant=_refuse_constant, object_pairs_hook=_make_object
        )
    except UnicodeDecodeError:
        raise InputError("bytes that are not UTF-8 text", _JSON_FORM, place) from None
    except json.JSONDecodeError as error:
        where = Place(file, error.lineno, error.colno)
        raise InputError(f"broken JSON ({error.msg})", _JSON_FORM, where) from None
    except RecursionError:
        raise InputError("values nested too deep", _JSON_FORM, place) from None
    except ValueError as error:  # ours, or a number of thousands of digits
        found = str(error) if isinstance(error, _OddJsonError) else "a number too long to read"
        raise InputError(found, _JSON_FORM, place) from None
    if not isinstance(value, dict):
        raise InputError(_describe(value), _JSON_FORM, place)
    return JsonFields(value, file)


class _OddJsonError(ValueError):
    """JSON that Python would take and the standard does not have, or leaves open."""


def _refuse_constant(name: str) -> None:
    raise _OddJsonError(f"{name}, which JSON does not have")


def _make_object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _OddJsonError(f"the field {show_value(twice)} twice in one object")
    return made


def _describe(value: Any) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return show_value(value)
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "an object"
    return show_value(f"{value:.6g}" if isinstance(value, float) else "a whole number")
