"""A YAML file read by its model; of a faulty one every mistake is told, not the first alone.

A file without a mistake is read once, and nothing here costs it anything. Otherwise the tree is
held against the model and mended on the way: a misspelt field takes its name, what is wrong gives
way to something that would do. The readers then go through the mended tree and say what only they
can tell (a light that is not there, a file that cannot be read), and nothing of what a mended place
brought about.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Final, TypeVar

from wbplan.core.errors import InputError, MistakesError, Place, list_mistakes
from wbplan.core.files import show_value
from wbplan.read.alike import fill_alike
from wbplan.read.model.forms import Either, Form, Items, Map, Named, Text, list_forms
from wbplan.read.model.tables import Field, Model, Shape
from wbplan.read.tried import apply_tried
from wbplan.read.yaml.fields import Fields, read_text
from wbplan.read.yaml.tree import Node, Parse, build_tree, join_path

MOST_MISTAKES: Final = 50
_T = TypeVar("_T")


def read_file(
    path: Path,
    model: Model,
    read: Callable[[Fields], _T],
    tried: Sequence[str] = (),
    parse: Parse = build_tree,
) -> _T:
    """Read a YAML file by its model.

    Parameters
    ----------
    read
        Reads the fields, `Fields.finish` included. It is called again where it refuses something,
        on a mended tree, to collect what else it refuses.
    tried
        Values in place of the file's own; see `read.tried`.
    parse
        Gives the tree of its text.

    Raises
    ------
    MistakesError
        With every mistake, up to `MOST_MISTAKES`, in the order of the file.
    InputError
        Where there is but one.
    """
    file = os.fspath(path)
    written = apply_tried(parse(read_text(path), file), model, tried)
    tree, unlike = fill_alike(written, model, file)
    try:
        if unlike:
            raise unlike[0]
        return read(Fields(tree, file, model=model))
    except InputError as first:
        mistakes = _collect(tree, file, model, read, unlike) or [first]
        if len(mistakes) == 1:
            raise mistakes[0] from None
        raise MistakesError(mistakes[:MOST_MISTAKES], len(mistakes)) from None


def _collect(
    tree: Node,
    file: str,
    model: Model,
    read: Callable[[Fields], object],
    unlike: Sequence[InputError],
) -> list[InputError]:
    mender = _Mender(file, model, [each.place.field.rpartition(".")[0] for each in unlike])
    mended = mender.mend_whole(tree)
    kept: list[InputError] = []
    fields = Fields(mended, file, model=model, kept=kept)
    fields.attempt(lambda: read(fields), None)
    told: dict[tuple[str, str] | Place, InputError] = {}
    for each in (*unlike, *mender.mistakes, *chain.from_iterable(map(list_mistakes, kept))):
        place = each.place
        key = (place.file, place.field) if place.field else place
        if place.field in mender.strangers and each not in mender.mistakes:
            told[key] = each  # the reader knows better why it cannot be there
        elif each in unlike or each in mender.mistakes or not mender.caused(place.field):
            told.setdefault(key, each)

    def order(error: InputError) -> tuple[bool, int, int]:
        return error.place.file != file, error.place.line, error.place.column

    # What setups that are alike share is wrong in one place.
    once = {
        (each.place.file, each.place.line, each.place.column, each.found): each
        for each in reversed(told.values())
    }
    placed = [each for each in once.values() if str(each.place)]  # the rest comes of these
    return sorted(placed or once.values(), key=order)


class _Mender:
    """Holds a tree against a model, and makes one without the mistakes of the first."""

    def __init__(self, file: str, model: Model, unlike: Sequence[str]) -> None:
        self.mistakes: list[InputError] = []
        self.strangers: set[str] = set()  # fields that their mapping has not
        self._file = file
        self._model = model
        self._unlike = unlike  # mappings that lack what they were to have from another
        self._mended = set(unlike)  # paths at which something stands that nobody wrote

    def caused(self, path: str) -> bool:
        """Tell whether a refusal at a path may come of what was mended there or beside it."""
        above = _find_parent(path)
        return any(
            path == each
            or path.startswith((each + ".", each + "["))
            or path == _find_parent(each)
            or ("." in above and above == _find_parent(each))
            for each in self._mended
        )

    def mend_whole(self, tree: Node) -> Node:
        return self._mend_map(tree, self._model.shapes[self._model.root], "")

    def _refuse(self, found: str, allowed: str, node: Node, path: str) -> None:
        place = Place(self._file, node.line, node.column, path)
        self.mistakes.append(InputError(found, allowed, place))

    def _mend(self, node: Node, form: Form, path: str, example: str = "") -> Node:
        if node.form == "scalar":
            return self._mend_scalar(node, form, path, example)
        for each in list_forms(form):
            if node.entries and isinstance(each, Map):
                return self._mend_map(node, self._model.shapes[each.shape], path)
            if node.entries and isinstance(each, Named):
                entries = {
                    name: (key, self._mend(value, each.of, join_path(path, name)))
                    for name, (key, value) in self._join_commas(node, path).items()
                }
                return replace(node, entries=entries)
            if node.items and isinstance(each, Items):
                return self._mend_items(node, each, path, example)
        self._refuse(node.describe(), form.describe(), node, path)
        return self._stand_in(node, form, path, example)

    def _mend_scalar(self, node: Node, form: Form, path: str, example: str) -> Node:
        allowed = []
        for each in list_forms(form):
            if isinstance(each, Map | Named | Items | Either):
                allowed.append(each.describe())
                continue
            try:
                each.read(node, Place())  # type: ignore[attr-defined]
            except InputError as error:
                allowed.append(error.allowed)
            else:
                return node
        self._refuse(node.describe(), ", or ".join(allowed), node, path)
        return self._stand_in(node, form, path, example)

    def _mend_items(self, node: Node, form: Items, path: str, example: str) -> Node:
        if form.count is not None and len(node.items) != form.count:
            self._refuse(f"a list of {len(node.items)}", form.describe(), node, path)
            return self._stand_in(node, form, path, example)
        items = [
            self._mend(each, form.of, f"{path}[{number}]") for number, each in enumerate(node.items)
        ]
        return replace(node, items=items)

    def _mend_map(self, node: Node, shape: Shape, path: str) -> Node:
        entries: dict[str, tuple[Node, Node]] = {}
        for name, (key, value) in self._join_commas(node, path).items():
            field = shape.by_name.get(name) or self._take_stranger(name, key, node, shape, path)
            if field is None:
                entries[name] = key, value
            elif field.name not in entries:
                below = join_path(path, field.name)
                entries[field.name] = key, self._mend(value, field.form, below, field.example)
        self._complete(node, entries, shape, path)
        return replace(node, entries=entries)

    def _join_commas(self, node: Node, path: str) -> dict[str, tuple[Node, Node]]:
        """Join what a decimal comma cut in two: ``{lux: 3,5}`` is lux 3 and a field 5."""
        entries: dict[str, tuple[Node, Node]] = {}
        last = ""
        for name, (key, value) in node.entries.items():
            is_cut = value.sort == "nothing" and name.isdecimal() and not last.isdecimal()
            if last and is_cut:
                first, whole = entries[last]
                if whole.sort == "number":
                    found = f"'{whole.text},{name}', a number with a comma"
                    below = join_path(path, last)
                    self._refuse(found, f"a point: write {whole.text}.{name}", whole, below)
                    entries[last] = first, replace(whole, text=f"{whole.text}.{name}")
                    continue
            entries[name] = key, value
            last = name
        return entries

    def _take_stranger(
        self, name: str, key: Node, node: Node, shape: Shape, path: str
    ) -> Field | None:
        """Refuse a field that there is not, and find the one it stands for."""
        below = join_path(path, name)
        found = f"the unknown field {show_value(name)}"
        self._refuse(found, self._model.suggest(shape, name), key, below)
        meant = shape.find_meant(name)
        if not meant or meant in node.entries:
            self.strangers.add(below)
            return None
        return shape.by_name[meant]

    def _complete(
        self, node: Node, entries: dict[str, tuple[Node, Node]], shape: Shape, path: str
    ) -> None:
        """Add what is missing, and leave out what excludes another."""

        def add(name: str) -> None:
            field = shape.by_name[name]
            below = join_path(path, name)
            entries[name] = node, self._stand_in(node, field.form, below, field.example)

        is_part = any(f"{path}.".startswith(f"{each}.") for each in self._unlike)
        for field in shape.fields:
            if field.is_required and field.name not in entries:
                below = join_path(path, field.name)
                if not is_part:
                    self._refuse("no such field", field.form.describe(), node, below)
                add(field.name)
        is_strange = any(name not in shape.by_name for name in node.entries)
        for group in (*shape.one_of, *shape.needed):
            if not any(name in entries for name in group):
                how = "exactly one of" if group in shape.one_of else "at least one of"
                if not is_strange and not is_part:  # else that is told already
                    self._refuse("none of these fields", f"{how} {', '.join(group)}", node, path)
                add(next((n for n in group if shape.by_name[n].example), group[0]))
        for field in shape.fields:
            if field.needs and field.name in entries and not entries.keys() & set(field.needs):
                below = join_path(path, field.name)
                found = f"{field.name} without {' or '.join(field.needs)}"
                self._refuse(found, "both, or neither", entries.pop(field.name)[1], below)
                self._mended.add(below)
        for group in (*shape.one_of, *shape.not_both):
            present = [name for name in group if name in entries]
            for name in present[1:]:
                first, second = (entries[each][0].line for each in (present[0], name))
                found = f"'{present[0]}' (line {first}) and '{name}' (line {second})"
                below = join_path(path, name)
                self._refuse(found, f"only one of {', '.join(group)}", entries[name][1], below)
                self._mended.add(below)
                del entries[name]

    def _stand_in(self, node: Node, form: Form, path: str, example: str) -> Node:
        """Make something that would do where a faulty thing stands."""
        self._mended.add(path)
        return self._make(node, form, example)

    def _make(self, node: Node, form: Form, example: str) -> Node:
        if example:
            made = build_tree(f"x: {example}", self._file).entries["x"][1]
            return replace(made, line=node.line, column=node.column)
        first = list_forms(form)[0]
        if isinstance(first, Items):
            items = [self._make(node, first.of, "") for _ in range(first.count or 1)]
            return Node("list", node.line, node.column, items=items)
        if isinstance(first, Named):
            return self._make_mapping(node, {"stand-in": self._make(node, first.of, "")})
        if isinstance(first, Map):
            shape = self._model.shapes[first.shape]
            groups = (*shape.one_of, *shape.needed)
            names = [each.name for each in shape.fields if each.is_required]
            names += [
                next((n for n in group if shape.by_name[n].example), group[0]) for group in groups
            ]
            fields = [shape.by_name[name] for name in names]
            return self._make_mapping(
                node, {each.name: self._make(node, each.form, each.example) for each in fields}
            )
        text = "1" if not isinstance(first, Text) else "x"
        return Node("scalar", node.line, node.column, text, plain=True)

    def _make_mapping(self, node: Node, values: dict[str, Node]) -> Node:
        entries = {name: (node, value) for name, value in values.items()}
        return Node("mapping", node.line, node.column, entries=entries)


def _find_parent(path: str) -> str:
    """Find the mapping that a path lies in; a position's readings stand for themselves."""
    parent = path.rpartition(".")[0]
    return "" if parent.endswith((".lux", ".flash_lux_s")) else parent
