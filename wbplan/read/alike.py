"""An entry of a list that is like another one: what it does not state is as there.

So a reading stands in one place: two cameras on one set-up share its positions, and a close-up is
the wide shot but for a lens and a stop. It is done on the tree, before anything is read, and each
value keeps the line where it is written.
"""

from __future__ import annotations

from dataclasses import replace

from wbplan.core.errors import InputError, Place, describe_choices
from wbplan.core.files import show_value
from wbplan.read.model.forms import Form, Items, Map, Named, list_forms
from wbplan.read.model.tables import Model
from wbplan.read.yaml.tree import Node, join_path

_LIKE, _NAME = "like", "name"


def fill_alike(tree: Node, model: Model, file: str) -> tuple[Node, list[InputError]]:
    """Fill in what entries of a model's `Model.alike` have from others.

    Returns
    -------
    tuple
        The tree, and what is wrong: a name that no entry has, and one that comes back to itself.
        Such an entry stays as it is written.
    """
    entry = tree.entries.get(model.alike)
    some = {_LIKE, model.shared}
    if entry is None or not any(some & each.entries.keys() for each in entry[1].items):
        return tree, []
    (form,) = (each for each in model.shapes[model.root].fields if each.name == model.alike)
    assert isinstance(form.form, Items)
    shared = tree.entries.get(model.shared)
    filler = _Filler(entry[1].items, form.form.of, model, file, shared[1] if shared else None)
    items = [filler.fill(number) for number in range(len(entry[1].items))]
    listed = replace(entry[1], items=items)
    return replace(tree, entries={**tree.entries, model.alike: (entry[0], listed)}), filler.mistakes


class _Filler:
    def __init__(
        self, items: list[Node], form: Form, model: Model, file: str, shared: Node | None
    ) -> None:
        self.mistakes: list[InputError] = []
        self._items, self._form, self._model, self._file = items, form, model, file
        self._names = {
            number: each.entries[_NAME][1].text.strip()
            for number, each in enumerate(items)
            if _NAME in each.entries
        }
        self._numbers = {name.casefold(): n for n, name in reversed(self._names.items())}
        self._shared = shared
        self._filled: dict[int, Node | None] = {}  # None while it is being filled

    def fill(self, number: int) -> Node:
        """Fill one entry, and first the one that it is like."""
        known = self._filled.get(number)
        if known is not None:
            return known
        node = self._items[number]
        self._filled[number] = None
        if _LIKE in node.entries:
            value = node.entries[_LIKE][1]
            wanted = value.text.strip()
            other = self._numbers.get(wanted.casefold())
            if other is None:
                others = [each for n, each in self._names.items() if n != number]
                allowed = describe_choices(wanted, others)
                self._refuse(number, f"the setup {show_value(wanted)}", allowed)
            elif other == number or self._filled.get(other, node) is None:
                self._refuse(number, f"{show_value(wanted)}, which is like itself", "another setup")
            else:
                node = self._join(self.fill(other), node, self._form)
        node = self._fill_shared(node)
        self._filled[number] = node
        return node

    def _fill_shared(self, node: Node) -> Node:
        """Give what an entry has of its own without a kind what the whole file says of it."""
        own = node.entries.get(self._model.shared)
        if own is None or self._shared is None or not isinstance(self._form, Map):
            return node
        form = self._model.shapes[self._form.shape].by_name[self._model.shared].form
        assert isinstance(form, Named)
        assert isinstance(form.of, Map)
        kinds = self._model.shapes[form.of.shape].one_of[0]
        filled = {
            name: (key, self._join(self._shared.entries[name][1], value, form.of))
            for name, (key, value) in own[1].entries.items()
            if name in self._shared.entries and not value.entries.keys() & set(kinds)
        }
        whole = replace(own[1], entries={**own[1].entries, **filled})
        return replace(node, entries={**node.entries, self._model.shared: (own[0], whole)})

    def _refuse(self, number: int, found: str, allowed: str) -> None:
        value = self._items[number].entries[_LIKE][1]
        path = join_path(f"{self._model.alike}[{number}]", _LIKE)
        place = Place(self._file, value.line, value.column, path)
        self.mistakes.append(InputError(found, allowed, place))

    def _join(self, base: Node, own: Node, form: Form) -> Node:
        """Lay what is stated over what it is like; what excludes a field of that replaces it."""
        if not base.entries or not own.entries:
            return own
        forms = {type(each): each for each in list_forms(form)}
        if Named in forms:
            inner = forms[Named].of  # type: ignore[attr-defined]
            joined = {
                name: (key, self._join(base.entries[name][1], value, inner))
                for name, (key, value) in own.entries.items()
                if name in base.entries
            }
            return replace(own, entries={**base.entries, **own.entries, **joined})
        if Map not in forms:
            return own
        shape = self._model.shapes[forms[Map].shape]  # type: ignore[attr-defined]
        kept = {name: entry for name, entry in base.entries.items() if name != _LIKE}
        for group in (*shape.one_of, *shape.not_both):
            if any(name in own.entries for name in group):
                for name in group:
                    if name not in own.entries:
                        kept.pop(name, None)
        for name, (key, value) in own.entries.items():
            below = shape.by_name.get(name)
            if name in kept and below is not None:
                value = self._join(kept[name][1], value, below.form)
            kept[name] = key, value
        for field in shape.fields:
            if field.needs and field.name not in own.entries and not kept.keys() & set(field.needs):
                kept.pop(field.name, None)
        return replace(own, entries=kept)
