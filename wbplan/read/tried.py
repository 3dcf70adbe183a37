"""A value that is tried in place of what a file says: ``positions.Anna.lux.window=120``.

The file stays as it is. The value is put into its tree, before anything is read, so that it is
judged by the same model and told in the same words as if it had been written.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import PurePosixPath, PureWindowsPath
from typing import Final

from wbplan.core.errors import InputError, Place, describe_choices, fold_name
from wbplan.core.files import show_value
from wbplan.read.model.forms import Form, Items, Map, Named, list_forms
from wbplan.read.model.tables import Model
from wbplan.read.yaml.tree import CONTROL, Node

MOST_TRIED: Final = 100
_STEP: Final = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([^."'\[\]=]+?))\s*(?=[.\[=]|$)""")
_NUMBER: Final = re.compile(r"\[([0-9]{1,6})\]")
_EXAMPLE: Final = "positions.Anna.lux.window=120, or setups.Wide.shooting.ei=400"


def apply_tried(tree: Node, model: Model, words: Iterable[str]) -> Node:
    """Put values into a tree.

    Parameters
    ----------
    words
        Each a path of names, an equals sign and a value. A path that begins in an entry of the
        model's ``alike`` list (``positions.``) counts in all of them that have what it names;
        ``setups.Wide.`` or ``setups[0].`` before it picks one. A name with a point or an equals
        sign in it stands in quotes.

    Raises
    ------
    InputError
        For a path that leads nowhere, with the nearest names; a place that holds no plain value.
        What is wrong with the value itself is told when the file is read.
    """
    given = list(words)
    if len(given) > MOST_TRIED:
        raise InputError(f"{len(given)} values", f"at most {MOST_TRIED}", Place(field="--set"))
    for each in given:
        steps, text = _split(each)
        tree = _Trial(model, each, text).put(tree, steps)
    return tree


def _split(word: str) -> tuple[list[str | int], str]:
    """Cut a word into the steps of its path and its value."""
    steps: list[str | int] = []
    at = 0
    while True:
        match = _STEP.match(word, at)
        number = _NUMBER.match(word, at)
        if number and steps:
            steps.append(int(number[1]))
            at = number.end()
        elif match and (match[1] or match[2] or match[3]):
            steps.append(match[1] or match[2] or match[3])
            at = match.end()
        else:
            raise InputError(show_value(word), _EXAMPLE, Place(field="--set"))
        if word[at : at + 1] == "=":
            break
        if word[at : at + 1] != "[":
            if word[at : at + 1] != ".":
                raise InputError(show_value(word), _EXAMPLE, Place(field="--set"))
            at += 1
    text = word[at + 1 :].strip()
    if not text or CONTROL.search(text):
        raise InputError(f"{show_value(word)}, without a value", _EXAMPLE, Place(field="--set"))
    if PurePosixPath(text).is_absolute() or PureWindowsPath(text).is_absolute():
        found = f"{show_value(text)}, a path of this machine, which a record would keep"
        raise InputError(found, "a path from the scenario's folder on", Place(field="--set"))
    return steps, text


class _LostError(Exception):
    """A path that leads nowhere here: how far it came, and what is there instead."""

    def __init__(self, depth: int, found: str, allowed: str) -> None:
        super().__init__(found)
        self.depth, self.found, self.allowed = depth, found, allowed


class _Trial:
    """One value on its way to its place."""

    def __init__(self, model: Model, word: str, text: str) -> None:
        self._model, self._word = model, word
        quoted = re.fullmatch(r"\"([^\"]*)\"|'([^']*)'", text)
        said = text if quoted is None else quoted[1] or quoted[2] or ""
        self._value = Node("scalar", 0, 0, said, plain=quoted is None)

    def put(self, tree: Node, steps: list[str | int]) -> Node:
        root = Map(self._model.root)
        listed = self._model.alike
        shape = self._model.shapes[self._model.root]
        lost: list[_LostError] = []
        if str(steps[0]) in shape.by_name:
            try:
                return self._descend(tree, root, steps, 0)
            except _LostError as error:
                lost.append(error)
        items = tree.entries[listed][1].items if listed in tree.entries else []
        (form,) = (each.form for each in shape.fields if each.name == listed)
        assert isinstance(form, Items)
        done = []
        for each in items:
            try:
                done.append(self._descend(each, form.of, steps, 0))
            except _LostError as error:
                lost.append(error)
                done.append(each)
        if all(one is other for one, other in zip(done, items, strict=True)):
            worst = max(lost, key=lambda each: each.depth, default=_LostError(0, "", _EXAMPLE))
            place = Place(field=f"--set {self._word}")
            raise InputError(worst.found or "nothing of that name", worst.allowed, place)
        whole = replace(tree.entries[listed][1], items=done)
        return replace(tree, entries={**tree.entries, listed: (tree.entries[listed][0], whole)})

    def _descend(self, node: Node, form: Form, steps: list[str | int], depth: int) -> Node:
        """Give a node with the value at the end of the steps from it."""
        step, is_last = steps[depth], depth + 1 == len(steps)
        if node.items:
            items = next(each for each in list_forms(form) if isinstance(each, Items))
            number = self._find_item(node, step, depth)
            made = list(node.items)
            made[number] = (
                self._replace(items.of, depth)
                if is_last
                else self._descend(node.items[number], items.of, steps, depth + 1)
            )
            return replace(node, items=made)
        forms = {type(each): each for each in list_forms(form)}
        if not isinstance(step, str) or not (Map in forms or Named in forms) or not node.entries:
            raise _LostError(depth, f"{node.describe()} before {step!r}", "a mapping")
        if Map in forms:
            shape = self._model.shapes[forms[Map].shape]  # type: ignore[attr-defined]
            if step not in shape.by_name:
                raise _LostError(depth, f"the field {step!r}", self._model.suggest(shape, step))
            inner, name = shape.by_name[step].form, step
            groups = [group for group in (*shape.one_of, *shape.not_both) if step in group]
        else:
            inner, groups = forms[Named].of, []  # type: ignore[attr-defined]
            name = _match(step, node.entries)
            if name not in node.entries and not (is_last and _is_scalar(inner)):
                raise _LostError(depth, f"the name {step!r}", describe_choices(step, node.entries))
        old = node.entries.get(name)
        key = Node("scalar", node.line, node.column, name)
        if is_last:
            value = self._replace(inner, depth)
        elif old is None:
            raise _LostError(depth, f"no {name!r}", describe_choices(name, node.entries))
        else:
            value = self._descend(old[1], inner, steps, depth + 1)
        others = {each for group in groups for each in group if each != name}
        kept = {each: entry for each, entry in node.entries.items() if each not in others}
        return replace(node, entries={**kept, name: (old[0] if old else key, value)})

    def _find_item(self, node: Node, step: str | int, depth: int) -> int:
        if isinstance(step, int):
            if step >= len(node.items):
                allowed = f"[0] to [{len(node.items) - 1}]"
                raise _LostError(depth, f"[{step}] of a list of {len(node.items)}", allowed)
            return step
        names = [
            each.entries["name"][1].text if "name" in each.entries else "" for each in node.items
        ]
        name = _match(step, names)
        if name not in names:
            known = [each for each in names if each] or [f"[{n}]" for n in range(len(names))]
            raise _LostError(depth, f"the name {step!r}", describe_choices(step, known))
        return names.index(name)

    def _replace(self, form: Form, depth: int) -> Node:
        if not _is_scalar(form):
            found = "a mapping or a list, which takes no plain value"
            raise _LostError(depth + 1, found, form.describe())
        return self._value


def _is_scalar(form: Form) -> bool:
    return any(not isinstance(each, Map | Named | Items) for each in list_forms(form))


def _match(step: str, names: Iterable[str]) -> str:
    """Find the name that is meant; the step itself where none is."""
    known = list(names)
    if step in known:
        return step
    return next((each for each in known if fold_name(each) == fold_name(step)), step)
