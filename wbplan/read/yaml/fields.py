"""YAML text to typed values that know where they stand.

A file written by hand is mended by hand, so every refusal has to name the line, the column and
the field. The text is a tree of nodes that keep their written form (`read.yaml.tree`), and a type
is given only when a caller asks for a field as a number, a text, a flag. What a field may hold
stands in the file's model (`read.model`), where it has one; a getter's own arguments narrow it.
`Fields.finish` refuses each field that the model has not, or that nobody read.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from enum import Enum
from pathlib import Path
from typing import Final, TypedDict, TypeVar, Unpack, cast

from wbplan.core.errors import InputError, Place, describe_choices, find_near
from wbplan.core.files import find_near_file, read_bytes, show_value
from wbplan.core.ledger import join_path as join_to_folder
from wbplan.read.model.forms import (
    Choice,
    Flag,
    Form,
    Items,
    Map,
    Named,
    Number,
    Scalar,
    Text,
    list_forms,
)
from wbplan.read.model.tables import NOTHING, Model, Shape
from wbplan.read.yaml.tree import MAX_YAML_BYTES, Node, build_tree, join_path

_T = TypeVar("_T")
_F = TypeVar("_F")
_V = TypeVar("_V")


class _Default(Enum):
    MODEL = "what the model says, else required"


MODEL: Final = _Default.MODEL


def read_yaml(path: str | os.PathLike[str], model: Model | None = None) -> Fields:
    """Read a YAML file as one mapping of fields; see `parse_yaml` for what is refused.

    Raises
    ------
    InputError
        Also when the file cannot be read, exceeds `MAX_YAML_BYTES` or is not UTF-8 text.
    """
    return parse_yaml(read_text(path), os.fspath(path), model)


def read_text(path: str | os.PathLike[str]) -> str:
    """Read the text of a YAML file, as `read_yaml` does."""
    raw = read_bytes(path, MAX_YAML_BYTES)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        place = Place(os.fspath(path), raw.count(b"\n", 0, error.start) + 1)
        found = f"the byte 0x{raw[error.start]:02X}, which is not UTF-8 text"
        raise InputError(found, "a text file saved as UTF-8", place) from None


def parse_yaml(
    text: str, file: str, model: Model | None = None, form: Form | None = None
) -> Fields:
    """Parse YAML text into one mapping of fields.

    Parameters
    ----------
    text
        One YAML document; a byte order mark at its start is passed over.
    file
        Name to give in errors.
    model
        What the file may say; None takes the getters' word for it.
    form
        Which of its mappings the text is; the whole file where none is said.

    Raises
    ------
    InputError
        For all that `wbplan.read.yaml.tree.build_tree` refuses.
    """
    return Fields(build_tree(text, file), file, form=form, model=model)


def blame_path(error: InputError, written: str, place: Place) -> InputError:
    """Give the refusal of a file that is not there the place where its path is written.

    The nearest file that is there is named, as it would be written. Another fault of a file keeps
    its own place.
    """
    missing = Path(error.place.file)
    if error.place.line or os.path.exists(missing):
        return error
    near = find_near_file(missing)
    if near:
        near = os.path.relpath(near, Path(place.file).parent).replace(os.sep, "/")
    allowed = f"did you mean {show_value(near)}?" if near else error.allowed
    return type(error)(f"{error.found}: {show_value(written)}", allowed, place)


class Limits(TypedDict, total=False):
    """Bounds of a number: ``low`` and ``high`` are allowed themselves, ``above`` is not."""

    low: float
    high: float
    above: float


class Fields:
    """Read-only view of one mapping of a YAML file, with typed access to its fields.

    Every getter raises an `InputError` that names file, line, column and the dotted path of the
    field, what was found and what is allowed. A scalar that is absent is the getter's default,
    else the model's, else a mistake; lists and mappings that are not ``required`` read as empty
    when absent. A field that stands there without a value (``lux:``), or with an empty list or
    mapping, is a mistake, never the default.

    Parameters
    ----------
    form
        `Map` or `Named` of the model; None for its root.
    kept
        Where `attempt` keeps what is refused; None lets it stop the reading.
    """

    def __init__(
        self,
        node: Node,
        file: str,
        path: str = "",
        form: Form | None = None,
        model: Model | None = None,
        kept: list[InputError] | None = None,
    ) -> None:
        self._node = node
        self._file = file
        self._path = path
        self._model = model
        self._form = Map(model.root) if form is None and model else form
        self._kept = kept
        self._known: dict[str, None] = {}  # every name a caller spoke of, in order
        self._read: set[str] = set()
        self._opened: dict[str, Fields] = {}

    def attempt(self, read: Callable[[], _T], instead: _F) -> _T | _F:
        """Read a part. Where mistakes are collected, one in it is kept and ``instead`` is given."""
        try:
            return read()
        except InputError as error:
            self.keep(error)
            return instead

    @property
    def is_sound(self) -> bool:
        """Whether no mistake has been kept so far."""
        return not self._kept

    def keep(self, error: InputError) -> None:
        """Keep a mistake where they are collected, else let it stop the reading."""
        if self._kept is None:
            raise error
        self._kept.append(error)

    @property
    def shape(self) -> Shape | None:
        """What the model says of this mapping; None where it has names of the user's own."""
        if self._model is None or not isinstance(self._form, Map):
            return None
        return self._model.shapes[self._form.shape]

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

    def text(
        self, name: str, default: _T | _Default = MODEL, max_length: int | None = None
    ) -> str | _T:
        """Read one line of text, stripped; an unquoted number is taken as it is written."""
        form = self._get_form(name, Text) or Text()
        if max_length is not None:
            form = Text(max_length, form.what)
        return self._scalar(name, form, default)

    def number(
        self, name: str, default: _T | _Default = MODEL, **limits: Unpack[Limits]
    ) -> float | _T:
        """Read a finite number in plain decimal digits."""
        return self._scalar(name, self._get_number(name, limits), default)

    def whole(
        self, name: str, default: _T | _Default = MODEL, **limits: Unpack[Limits]
    ) -> int | _T:
        """Read a whole number; 800.0 is one, 800.5 is not."""
        form = self._get_number(name, limits).tighten(Number(is_whole=True))
        value = self._scalar(name, form, default)
        return int(value) if isinstance(value, float) else value

    def flag(self, name: str, default: _T | _Default = MODEL) -> bool | _T:
        """Read true/false, yes/no or on/off, in any case, without quotes."""
        return self._scalar(name, self._get_form(name, Flag) or Flag(), default)

    def choice(
        self,
        name: str,
        allowed: Iterable[str] | None = None,
        default: _T | _Default = MODEL,
    ) -> str | _T:
        """Read one of the allowed names, given back as ``allowed``, else the model, spells it.

        Case and the separators ``-``, ``_`` and space need not match.
        """
        if allowed is None:
            form = self._get_form(name, Choice)
            assert form is not None, name
        else:
            self._get_form(name, Choice, Text)
            form = Choice(tuple(allowed))
        return self._scalar(name, form, default)

    def numbers(
        self,
        name: str,
        count: int | None = None,
        required: bool = True,
        **limits: Unpack[Limits],
    ) -> list[float]:
        """Read a list of finite numbers, of ``count`` of them when that is given."""
        form = self._get_form(name, Items)
        of = Number(**limits)
        if form is not None:
            assert isinstance(form.of, Number)
            of, count = form.of.tighten(of), count or form.count
        nodes = self._items(name, Items(of, count), required)
        if count is not None and nodes and len(nodes) != count:
            raise self.refuse(name, f"a list of {len(nodes)}", f"a list of {count} numbers")
        return [of.read(node, self._place(node, path)) for path, node in nodes]

    def texts(self, name: str, required: bool = True) -> list[str]:
        """Read a list of texts, each as `text` reads one, or of choices of the model."""
        form = self._get_form(name, Items) or Items(Text())
        of = form.of
        assert isinstance(of, Text | Choice)
        nodes = self._items(name, form, required)
        return [of.read(node, self._place(node, path)) for path, node in nodes]

    def mapping(self, name: str, required: bool = True) -> Fields:
        """Open a mapping inside this one."""
        form = cast("Map | Named | None", self._get_form(name, Map, Named))
        takes = (form or Map("")).describe()
        node = self._find(name)
        path = join_path(self._path, name)
        if node is None:
            if required:
                raise self._missing(name, takes)
            node = Node("mapping", self._node.line, self._node.column)
        elif not node.entries:
            raise self.refuse(name, node.describe(), takes)
        return self._open(path, node, form)

    def mappings(self, name: str, required: bool = True) -> list[Fields]:
        """Open each mapping of a list."""
        form = self._get_form(name, Items) or Items(Map(""))
        nodes = self._items(name, form, required)
        for path, node in nodes:
            if not node.entries:
                raise InputError(node.describe(), form.of.describe(), self._place(node, path))
        inner = form.of if self._model else None
        return [self._open(path, node, inner) for path, node in nodes]

    def lay_in(self, name: str, node: Node, file: str, path: str) -> None:
        """Let a mapping of another file be read as if it stood here."""
        key = Node("scalar", node.line, node.column, name)
        self._node = replace(self._node, entries={**self._node.entries, name: (key, node)})
        form = cast("Map | Named | None", self._get_form(name, Map, Named))
        inner = Fields(node, file, path, form, self._model, self._kept)
        self._opened[join_path(self._path, name)] = inner

    def make_inner(self, outer: str, name: str) -> Fields:
        """Make an empty mapping two steps below, for others to be laid into."""
        path = join_path(join_path(self._path, outer), name)
        form = self._get_form(outer, Named)
        node = Node("mapping", self._node.line, self._node.column)
        inner = None if form is None else form.of
        return Fields(node, self._file, path, inner, self._model, self._kept)

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

    def path(self, name: str, folder: Path) -> Path:
        """Read the path of a file, from a folder on; see `blame` for what is refused of it."""
        return join_to_folder(folder, self.text(name, max_length=1000))

    def blame(self, name: str, error: InputError) -> InputError:
        """Give the refusal of a file that a field names the place to mend.

        A fault inside the file keeps its own line. A file that is not there is the field's fault.
        """
        if not error.place.file:
            return error.at(self.place_of(name))
        return blame_path(error, self._node.entries[name][1].text.strip(), self.place_of(name))

    def kind(self, names: Sequence[str] = ()) -> str:
        """Find which one of the given fields is present: exactly one must be.

        Without ``names`` they are the first such group of the model.
        """
        if not names:
            assert self.shape is not None
            names = self.shape.one_of[0]
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
        """Refuse the first field that nobody read, here or in a mapping opened from here.

        Where a mistake has been kept that is refused, since what lies beside it was not read.
        """
        if self._kept:
            raise self._kept[0]
        shape = self.shape
        for name, (key, _) in self._node.entries.items():
            if name in self._read:
                continue
            place = self._place(key, join_path(self._path, name))
            if name in (self._known if shape is None else shape.by_name):
                needs = () if shape is None else shape.by_name[name].needs
                if needs and not set(needs) & set(self._node.entries):
                    found = f"{name} without {' or '.join(needs)}"
                    raise InputError(found, "both, or neither", place)
                found = f"the field {show_value(name)} beside fields that exclude it"
                raise InputError(found, "one or the other", place)
            if shape is not None:
                allowed = cast(Model, self._model).suggest(shape, name)
            else:
                allowed = describe_choices(name, self._known) if self._known else "no field here"
            raise InputError(f"the unknown field {show_value(name)}", allowed, place)
        for child in self._opened.values():
            child.finish()

    def _place(self, node: Node, path: str) -> Place:
        return Place(self._file, node.line, node.column, path)

    def _open(self, path: str, node: Node, form: Form | None) -> Fields:
        if path not in self._opened:
            model = None if form is None else self._model
            self._opened[path] = Fields(node, self._file, path, form, model, self._kept)
        return self._opened[path]

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
        looked_for = list(names)
        for key in self._node.entries:
            if key not in self._known and find_near(key, looked_for):
                return f" (does {show_value(key)} mean it?)"
        return ""

    def _missing(self, name: str, takes: str) -> InputError:
        return self.refuse(name, f"no such field{self._hint([name])}", takes)

    def _get_form(self, name: str, *kinds: type[_F]) -> _F | None:
        """Get what the model says a field holds, as one of the forms that a getter reads."""
        if self._model is None or self._form is None:
            return None
        if isinstance(self._form, Named):
            form = self._form.of
        else:
            shape = self.shape
            assert shape is not None
            form = shape.by_name[name].form
        found = [each for each in list_forms(form) if isinstance(each, kinds)]
        assert found, f"{name} is asked for as what it never is"
        return found[0]

    def _get_number(self, name: str, limits: Limits) -> Number:
        form = self._get_form(name, Number)
        return Number(**limits) if form is None else form.tighten(Number(**limits))

    def _scalar(self, name: str, form: Scalar[_V], default: _T | _Default) -> _V | _T:
        node = self._find(name)
        if node is not None:
            return form.read(node, self._place(node, join_path(self._path, name)))
        if default is MODEL and self.shape is not None:
            stated = self.shape.by_name[name].default
            if stated is not NOTHING:
                return cast(_V, stated)
        if default is MODEL:
            raise self._missing(name, form.describe())
        return default

    def _items(self, name: str, form: Items, required: bool) -> list[tuple[str, Node]]:
        takes = form.describe()
        node = self._find(name)
        if node is None:
            if required:
                raise self._missing(name, takes)
            return []
        if not node.items:
            raise self.refuse(name, node.describe(), takes)
        path = join_path(self._path, name)
        return [(f"{path}[{index}]", item) for index, item in enumerate(node.items)]
