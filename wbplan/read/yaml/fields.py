"""YAML text to typed values that know where they stand.

A file written by hand is mended by hand, so every refusal has to name the line, the column and
the field. The text is a tree of nodes that keep their written form (`read.yaml.tree`), and a type
is given only when a caller asks for a field as a number, a text, a flag. What was asked for is
remembered, so that `Fields.finish` can refuse each field that nobody read and suggest the nearest
that somebody did.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from enum import Enum
from typing import Final, TypedDict, TypeVar, Unpack

from wbplan.core.errors import InputError, Place, describe_choices, fold_name
from wbplan.core.files import read_bytes, show_value
from wbplan.read.yaml.tree import CONTROL, MAX_YAML_BYTES, NUMBER, Node, build_tree, join_path

_FLAGS: Final = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}
_T = TypeVar("_T")


class _Default(Enum):
    REQUIRED = "required"


REQUIRED: Final = _Default.REQUIRED


def read_yaml(path: str | os.PathLike[str]) -> Fields:
    """Read a YAML file as one mapping of fields; see `parse_yaml` for what is refused.

    Raises
    ------
    InputError
        Also when the file cannot be read, exceeds `MAX_YAML_BYTES` or is not UTF-8 text.
    """
    raw = read_bytes(path, MAX_YAML_BYTES)
    file = os.fspath(path)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        place = Place(file, raw.count(b"\n", 0, error.start) + 1)
        found = f"the byte 0x{raw[error.start]:02X}, which is not UTF-8 text"
        raise InputError(found, "a text file saved as UTF-8", place) from None
    return parse_yaml(text, file)


def parse_yaml(text: str, file: str) -> Fields:
    """Parse YAML text into one mapping of fields.

    Parameters
    ----------
    text
        One YAML document; a byte order mark at its start is passed over.
    file
        Name to give in errors.

    Raises
    ------
    InputError
        For all that `wbplan.read.yaml.tree.build_tree` refuses.
    """
    return Fields(build_tree(text, file), file)


class Limits(TypedDict, total=False):
    """Bounds of a number: ``low`` and ``high`` are allowed themselves, ``above`` is not."""

    low: float
    high: float
    above: float


def _describe_limits(noun: str, limits: Limits) -> str:
    if "low" in limits and "high" in limits:
        return f"{noun} from {limits['low']:.12g} to {limits['high']:.12g}"
    words = {"above": "above", "low": "of at least", "high": "of at most"}
    parts = [f"{words[name]} {limits[name]:.12g}" for name in words if name in limits]  # type: ignore[literal-required]
    return f"{noun} {' and '.join(parts)}".strip()


class Fields:
    """Read-only view of one mapping of a YAML file, with typed access to its fields.

    Every getter raises an `InputError` that names file, line, column and the dotted path of the
    field, what was found and what is allowed. Scalars without a default are required; lists and
    mappings that are not ``required`` read as empty when absent. A field that stands there
    without a value (``lux:``), or with an empty list or mapping, is a mistake, never the default.
    """

    def __init__(self, node: Node, file: str, path: str = "") -> None:
        self._node = node
        self._file = file
        self._path = path
        self._known: dict[str, None] = {}  # every name a caller spoke of, in order
        self._read: set[str] = set()
        self._opened: dict[str, Fields] = {}

    @property
    def place(self) -> Place:
        """Where the mapping begins."""
        return self._place(self._node, self._path)

    def __contains__(self, name: str) -> bool:
        self._known[name] = None
        return name in self._node.entries

    def keys(self) -> Iterator[str]:
        """Give the names as written, in file order."""
        return iter(self._node.entries)

    def place_of(self, name: str) -> Place:
        """Find where a field's value stands; for an absent field, where its mapping begins."""
        return self._place(self._peek(name) or self._node, join_path(self._path, name))

    def refuse(self, name: str, found: str, allowed: str) -> InputError:
        """Build the refusal of a field's value, for the caller to raise."""
        return InputError(found, allowed, self.place_of(name))

    def is_text(self, name: str) -> bool:
        """Tell whether the field holds a scalar that is not a number."""
        return self._sort(name) == "text"

    def is_number(self, name: str) -> bool:
        """Tell whether the field holds a number, written without quotes."""
        return self._sort(name) == "number"

    def is_mapping(self, name: str) -> bool:
        """Tell whether the field holds a mapping."""
        return self._sort(name) == "mapping"

    def is_list(self, name: str) -> bool:
        """Tell whether the field holds a list."""
        return self._sort(name) == "list"

    def text(self, name: str, default: _T | _Default = REQUIRED, max_length: int = 200) -> str | _T:
        """Read one line of text, stripped; an unquoted number is taken as it is written."""
        node = self._find(name)
        if node is None:
            return self._absent(name, "a text", default)
        return self._text_of(node, join_path(self._path, name), max_length)

    def number(
        self, name: str, default: _T | _Default = REQUIRED, **limits: Unpack[Limits]
    ) -> float | _T:
        """Read a finite number in plain decimal digits."""
        node = self._find(name)
        takes = _describe_limits("a number", limits)
        if node is None:
            return self._absent(name, takes, default)
        return self._number_of(node, join_path(self._path, name), takes, limits)

    def whole(
        self, name: str, default: _T | _Default = REQUIRED, **limits: Unpack[Limits]
    ) -> int | _T:
        """Read a whole number; 800.0 is one, 800.5 is not."""
        node = self._find(name)
        takes = _describe_limits("a whole number", limits)
        if node is None:
            return self._absent(name, takes, default)
        value = self._number_of(node, join_path(self._path, name), takes, limits)
        if not value.is_integer():
            raise self.refuse(name, node.describe(), takes)
        return int(value)

    def flag(self, name: str, default: _T | _Default = REQUIRED) -> bool | _T:
        """Read true/false, yes/no or on/off, in any case, without quotes."""
        node = self._find(name)
        takes = "true or false (or yes, no, on, off), without quotes"
        if node is None:
            return self._absent(name, takes, default)
        value = _FLAGS.get(node.text.casefold()) if node.plain else None
        if value is None:
            raise self.refuse(name, node.describe(), takes)
        return value

    def choice(
        self, name: str, allowed: Iterable[str], default: _T | _Default = REQUIRED
    ) -> str | _T:
        """Read one of the allowed names, given back as ``allowed`` spells it.

        Case and the separators ``-``, ``_`` and space need not match.
        """
        names = list(allowed)
        node = self._find(name)
        if node is None:
            return self._absent(name, "one of " + ", ".join(names), default)
        return self._choose(node, join_path(self._path, name), names)

    def choices(self, name: str, allowed: Iterable[str]) -> tuple[str, ...]:
        """Read a list of some of the allowed names, as `choice` reads one; empty when absent."""
        names = list(allowed)
        nodes = self._items(name, "a list of some of " + ", ".join(names), False)
        return tuple(dict.fromkeys(self._choose(node, path, names) for path, node in nodes))

    def numbers(
        self,
        name: str,
        count: int | None = None,
        required: bool = True,
        **limits: Unpack[Limits],
    ) -> list[float]:
        """Read a list of finite numbers, of ``count`` of them when that is given."""
        nodes = self._items(name, f"a list of {count or 'one or more'} numbers", required)
        if count is not None and nodes and len(nodes) != count:
            raise self.refuse(name, f"a list of {len(nodes)}", f"a list of {count} numbers")
        takes = _describe_limits("a number", limits)
        return [self._number_of(node, path, takes, limits) for path, node in nodes]

    def texts(self, name: str, required: bool = True, max_length: int = 200) -> list[str]:
        """Read a list of texts, each as `text` reads one."""
        nodes = self._items(name, "a list of texts", required)
        return [self._text_of(node, path, max_length) for path, node in nodes]

    def mapping(self, name: str, required: bool = True) -> Fields:
        """Open a mapping inside this one."""
        takes = "a mapping of fields"
        node = self._find(name)
        path = join_path(self._path, name)
        if node is None:
            if required:
                raise self._missing(name, takes)
            node = Node("mapping", self._node.line, self._node.column)
        elif not node.entries:
            raise self.refuse(name, node.describe(), takes)
        return self._open(path, node)

    def mappings(self, name: str, required: bool = True) -> list[Fields]:
        """Open each mapping of a list."""
        takes = "a list of mappings, each begun with '- '"
        nodes = self._items(name, takes, required)
        for path, node in nodes:
            if not node.entries:
                raise InputError(node.describe(), "a mapping of fields", self._place(node, path))
        return [self._open(path, node) for path, node in nodes]

    def lay_in(self, name: str, inner: Fields) -> None:
        """Let a mapping of another file be read as if it stood here."""
        node = inner._node
        self._node.entries[name] = (Node("scalar", node.line, node.column, name), node)
        self._opened[join_path(self._path, name)] = inner

    def make_inner(self, outer: str, name: str) -> Fields:
        """Make an empty mapping two steps below, for others to be laid into."""
        path = join_path(join_path(self._path, outer), name)
        return Fields(Node("mapping", self._node.line, self._node.column), self._file, path)

    def named_mappings(self, name: str, required: bool = True) -> dict[str, Fields]:
        """Open each mapping of a mapping from names to mappings, in file order."""
        outer = self.mapping(name, required)
        return {key: outer.mapping(key) for key in outer.keys()}  # noqa: SIM118

    def named_numbers(
        self, name: str, required: bool = True, **limits: Unpack[Limits]
    ) -> dict[str, float]:
        """Read a mapping from names to numbers, in file order."""
        outer = self.mapping(name, required)
        return {key: outer.number(key, **limits) for key in outer.keys()}  # noqa: SIM118

    def kind(self, names: Sequence[str]) -> str:
        """Find which one of the given fields is present: exactly one must be."""
        present = [name for name in names if name in self]
        listed = ", ".join(names)
        if not present:
            found = f"none of these fields{self._hint(names)}"
            raise InputError(found, f"exactly one of {listed}", self.place)
        if len(present) > 1:
            lines = [f"'{name}' (line {self._node.entries[name][0].line})" for name in present]
            raise self.refuse(present[1], " and ".join(lines), f"only one of {listed}")
        return present[0]

    def finish(self) -> None:
        """Refuse the first field that nobody read, here or in a mapping opened from here."""
        for name, (key, _) in self._node.entries.items():
            if name in self._read:
                continue
            place = self._place(key, join_path(self._path, name))
            if name in self._known:
                found = f"the field {show_value(name)} beside fields that exclude it"
                raise InputError(found, "one or the other", place)
            allowed = describe_choices(name, self._known) if self._known else "no field here"
            raise InputError(f"the unknown field {show_value(name)}", allowed, place)
        for child in self._opened.values():
            child.finish()

    def _place(self, node: Node, path: str) -> Place:
        return Place(self._file, node.line, node.column, path)

    def _open(self, path: str, node: Node) -> Fields:
        return self._opened.setdefault(path, Fields(node, self._file, path))

    def _peek(self, name: str) -> Node | None:
        self._known[name] = None
        entry = self._node.entries.get(name)
        return entry[1] if entry else None

    def _sort(self, name: str) -> str:
        node = self._peek(name)
        return node.sort if node else ""

    def _find(self, name: str) -> Node | None:
        self._read.add(name)
        return self._peek(name)

    def _hint(self, names: Iterable[str]) -> str:
        """Name a field that nobody knows and that looks like one of ``names``."""
        folded = [fold_name(name) for name in names]
        for key in self._node.entries:
            if key not in self._known and get_close_matches(fold_name(key), folded, 1, 0.6):
                return f" (does {show_value(key)} mean it?)"
        return ""

    def _missing(self, name: str, takes: str) -> InputError:
        return self.refuse(name, f"no such field{self._hint([name])}", takes)

    def _absent(self, name: str, takes: str, default: _T | _Default) -> _T:
        if default is REQUIRED:
            raise self._missing(name, takes)
        return default

    def _items(self, name: str, takes: str, required: bool) -> list[tuple[str, Node]]:
        node = self._find(name)
        if node is None:
            if required:
                raise self._missing(name, takes)
            return []
        if not node.items:
            raise self.refuse(name, node.describe(), takes)
        path = join_path(self._path, name)
        return [(f"{path}[{index}]", item) for index, item in enumerate(node.items)]

    def _choose(self, node: Node, path: str, names: list[str]) -> str:
        place = self._place(node, path)
        if node.sort not in ("text", "number"):
            raise InputError(node.describe(), "one of " + ", ".join(names), place)
        if node.text in names:
            return node.text
        for each in names:
            if fold_name(each) == fold_name(node.text):
                return each
        raise InputError(node.describe(), describe_choices(node.text, names), place)

    def _text_of(self, node: Node, path: str, max_length: int) -> str:
        text = node.text.strip()
        allowed = ""
        if node.sort not in ("text", "number") or not text:
            allowed = "a text"
        elif CONTROL.search(text):
            allowed = "a text on one line, without control characters"
        elif len(text) > max_length:
            allowed = f"a text of at most {max_length} characters"
        if allowed:
            raise InputError(node.describe(), allowed, self._place(node, path))
        return text

    def _number_of(self, node: Node, path: str, takes: str, limits: Limits) -> float:
        if node.sort == "number":
            value = float(node.text) + 0.0  # turns -0 into 0
            if (
                math.isfinite(value)
                and limits.get("low", value) <= value <= limits.get("high", value)
                and limits.get("above", -math.inf) < value
            ):
                return value
            allowed = takes if math.isfinite(value) else f"{takes}, finite"
        elif node.sort == "text" and NUMBER.fullmatch(node.text):
            allowed = f"{takes}, without quotes"
        elif node.sort == "text" and re.search("[0-9]", node.text):
            allowed = f"{takes}, in plain decimal digits (12.5), without unit or separators"
        else:
            allowed = takes
        raise InputError(node.describe(), allowed, self._place(node, path))
