"""Lights and positions by name: where a name stands, who shares it, and what goes with it.

A name is the crew's own, and a scenario says it in many places: under readings, as the key, in the
layout, of LUTs, in a sheet. Which fields hold one is said by the model of the scenario (`names` of
its forms), so none is forgotten here when one is added there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from wbplan.core.errors import InputError, Place, fold_name
from wbplan.core.files import show_value
from wbplan.front.open.documents import (
    Document,
    YamlPath,
    find_node,
    find_sheet,
    list_alike,
    list_cells,
    list_lights,
    list_positions,
    name_reading_field,
)
from wbplan.read.model.forms import Form, Items, Map, Named, Text, list_forms
from wbplan.read.model.scenario import LONGEST_NAME, SCENARIO
from wbplan.read.scenario.sheet import parse_sheet, remove_from_sheet, rename_in_sheet, set_cell
from wbplan.read.yaml.tree import CONTROL, Node
from wbplan.scene.plate import CAMERA

Kind = Literal["light", "position"]
_GO_WHOLE: Final = ("lut", "ratio", "tune", "move", "surface")
"""Shapes that mean nothing without what they name: they go with it."""


@dataclass(frozen=True)
class _Mention:
    """Where a name stands: the path of the entry that has it, or of the text that says it.

    ``whole`` is what goes when what it names does.
    """

    path: YamlPath
    is_key: bool
    whole: YamlPath


@dataclass(frozen=True)
class _Scope:
    """Where a name means one thing: setups, their sheets, and whether all of the scenario."""

    setups: tuple[int, ...]
    sheets: tuple[str, ...]
    is_everywhere: bool


def rename_thing(document: Document, setup: int, kind: Kind, name: str, new: str) -> Document:
    """Give a light or a position another name, wherever it is meant.

    Raises
    ------
    InputError
        For a name that cannot be, or that something else has; where it stands in a way that cannot
        be changed without touching something else.
    """
    if new == name:
        return document
    scope = _find_scope(document, setup, kind, name)
    check_name(document, scope.setups, new, but=name)
    found = _list_mentions(document, scope, kind, name)
    keys = [each.path for each in found if each.is_key]
    values = [each.path for each in found if not each.is_key]
    if keys or values:
        document = document.rename(keys, values, new)
    for sheet in scope.sheets:
        if name in _list_in_sheet(document, sheet, kind):
            text = document.files[sheet].decode("utf-8")
            made = rename_in_sheet(text, sheet, name, new, kind == "light")
            document = document.put(sheet, made)
    return document


def check_name(document: Document, setups: Iterable[int], new: str, but: str = "") -> None:
    """Refuse a name that says nothing, or that cannot be told from another in a setup."""
    place = Place(field="name")
    seen = new.isprintable() or any(map(str.isalnum, new))
    if not 0 < len(new) <= LONGEST_NAME or CONTROL.search(new) or not seen:
        allowed = f"a name of 1 to {LONGEST_NAME} characters that can be seen"
        raise InputError(show_value(new), allowed, place)
    taken = {CAMERA}
    for each in setups:
        taken |= {*list_lights(document.whole, each), *list_positions(document, each)} - {but}
    for other in sorted(taken):
        if fold_name(other) == fold_name(new):
            found = f"a second {show_value(new)}"
            if other != new:
                found = f"{show_value(new)} beside {show_value(other)}"
            raise InputError(found, "a name of its own", place)


def remove_thing(document: Document, setup: int, kind: Kind, name: str) -> Document:
    """Take a light or a position out, with what names it; see `tell_what_goes`.

    Raises
    ------
    InputError
        For the last of a setup, and where it cannot be taken without touching something else.
    """
    scope = _find_scope(document, setup, kind, name)
    _check_others(document, scope, kind, name)
    if kind == "light":
        document = _darken(document, scope, name)
    found = _list_mentions(document, scope, kind, name)
    gone = _gather_gone(document.tree, [each.whole for each in found])
    if gone:
        document = document.remove(gone)
    for sheet in scope.sheets:
        if name in _list_in_sheet(document, sheet, kind):
            text = document.files[sheet].decode("utf-8")
            made = remove_from_sheet(text, sheet, name, kind == "light")
            document = document.put(sheet, made)
    return document


def tell_what_goes(document: Document, setup: int, kind: Kind, name: str) -> list[str]:
    """Tell in words what goes with a light or a position when it is taken out.

    Raises
    ------
    InputError
        For the last of a setup, which stays.
    """
    scope = _find_scope(document, setup, kind, name)
    _check_others(document, scope, kind, name)
    said, readings, used = [], 0, []
    for number in scope.setups:
        cells = list_cells(document, number)
        count = sum(name in row for row in cells.values()) if kind == "light" else len(cells[name])
        readings = max(readings, count)
        if count and number != setup:
            used.append(_say_setup(document, number))
    if readings:
        other = "position" if kind == "light" else "light"
        said.append(f"readings of {readings} {other}{'' if readings == 1 else 's'}")
    found = _list_mentions(document, scope, kind, name)
    for each in found:
        words = _say_gone(document, each.whole, kind, name)
        if words and words not in said:
            said.append(words)
    if used:
        said.append(f"the same in {', '.join(used)}")
    said += [f"its {'column' if kind == 'light' else 'row'} in {each}" for each in scope.sheets
             if name in _list_in_sheet(document, each, kind)]  # fmt: skip
    return said


def _check_others(document: Document, scope: _Scope, kind: Kind, name: str) -> None:
    for each in scope.setups:
        if len(_list_names(document, each, kind)) < 2:
            raise InputError(
                f"the only {kind}, {show_value(name)}", f"one {kind} at least", Place(field="name")
            )


def _say_gone(document: Document, gone: YamlPath, kind: Kind, name: str) -> str:
    field = str(gone[2]) if gone[0] == "setups" and len(gone) > 2 else ""
    last = str(gone[-1])
    if field == "key":
        first = next(each for each in _list_names(document, int(gone[1]), kind) if each != name)
        return f"it is the key: {first} becomes the key"
    if field == "luts":
        return f"LUT {int(gone[3]) + 1} that is asked for"
    if field == "layout":
        return f"what {gone[3]} is aimed at" if last == "aimed_at" else "its place in the layout"
    if field == "advise":
        return "what may be changed about it"
    return "where lamps are seen from" if field == "plate" else ""


def _say_setup(document: Document, number: int) -> str:
    node = find_node(document.whole, ("setups", number, "name"))
    return f"setup {number + 1}" if node is None else node.text.strip()


def _list_names(document: Document, setup: int, kind: Kind) -> tuple[str, ...]:
    if kind == "position":
        return list_positions(document, setup)
    return tuple(list_lights(document.whole, setup))


def _list_in_sheet(document: Document, name: str, kind: Kind) -> tuple[str, ...]:
    if name not in document.files:
        return ()
    sheet = parse_sheet(document.files[name].decode("utf-8-sig"), name)
    return sheet.lights if kind == "light" else tuple(sheet.names)


def _find_scope(document: Document, setup: int, kind: Kind, name: str) -> _Scope:
    """Find the setups that mean one thing by a name: alike, of one sheet, of a shared light.

    What a setup says anew of a light that all share is that light in another state.
    """
    setups = find_node(document.tree, ("setups",))
    assert setups is not None  # a scenario has them
    every = range(len(setups.items))
    sheets = {each: find_sheet(document.whole, each) for each in every}
    shared = find_node(document.tree, ("sources", name)) is not None and kind == "light"
    held = [each for each in every if name in _list_names(document, each, kind)]
    found = {setup}
    while True:
        more = {
            each
            for each in held
            for other in found
            if shared
            or each in list_alike(document.tree, other)
            or other in list_alike(document.tree, each)
            or (sheets[each] is not None and sheets[each] == sheets[other])
        }
        if more <= found:
            break
        found |= more
    named = dict.fromkeys(sheets[each] for each in sorted(found))
    return _Scope(
        tuple(sorted(found)),
        tuple(each for each in named if each is not None),
        shared,
    )


def _list_mentions(document: Document, scope: _Scope, kind: Kind, name: str) -> list[_Mention]:
    found = []
    if scope.is_everywhere:
        found.append(_Mention(("sources", name), True, ("sources", name)))
    (form,) = (each.form for each in SCENARIO.shapes["root"].fields if each.name == "setups")
    assert isinstance(form, Items)
    for number in scope.setups:
        node = find_node(document.tree, ("setups", number))
        assert node is not None  # it is in the scope
        known = {each: _list_names(document, number, each) for each in ("light", "position")}
        walk = _Walk(known, kind, name)
        found += walk.find(node, form.of, ("setups", number), ("setups", number))
    return found


class _Walk:
    """Goes through a setup as its model describes it, for what names one thing."""

    def __init__(self, known: dict[str, tuple[str, ...]], kind: Kind, name: str) -> None:
        self._known, self._kind, self._name = known, kind, name

    def find(self, node: Node, form: Form, path: YamlPath, whole: YamlPath) -> Iterator[_Mention]:
        """Find the mentions in a value; ``whole`` is what goes with a text that is one."""
        for each in list_forms(form):
            if isinstance(each, Named) and node.form == "mapping":
                for key, (_, value) in node.entries.items():
                    below = (*path, key)
                    if self._is_meant(key, each.names):
                        yield _Mention(below, True, below)
                    yield from self.find(value, each.of, below, below)
            elif isinstance(each, Map) and node.form == "mapping":
                yield from self._find_in_shape(node, each.shape, path)
            elif isinstance(each, Items) and node.form == "list":
                for row, value in enumerate(node.items):
                    yield from self.find(value, each.of, (*path, row), (*path, row))
            elif isinstance(each, Text) and node.form == "scalar":
                is_meant = self._is_meant(node.text.strip(), each.names)
                yield from [_Mention(path, False, whole)] if is_meant else []

    def _find_in_shape(self, node: Node, shape: str, path: YamlPath) -> Iterator[_Mention]:
        for field in SCENARIO.shapes[shape].fields:
            if field.name not in node.entries:
                continue
            value, form = node.entries[field.name][1], field.form
            if shape in ("spot", "plate") and value.text.strip().casefold() == CAMERA:
                continue
            if shape == "ratio" and field.name in ("key", "fill"):
                form = Text(names=("light" if "at" in node.entries else "position",))
            below = (*path, field.name)
            yield from self.find(value, form, below, path if shape in _GO_WHOLE else below)

    def _is_meant(self, written: str, kinds: tuple[str, ...]) -> bool:
        """Tell whether a text names it, as readers understand names."""
        if self._kind not in kinds or fold_name(written) != fold_name(self._name):
            return False
        for kind in kinds:
            if written in self._known[kind]:
                return kind == self._kind and written == self._name
        for kind in kinds:
            for each in self._known[kind]:
                if fold_name(each) == fold_name(written):
                    return kind == self._kind and each == self._name
        return False


def _gather_gone(tree: Node, paths: Iterable[YamlPath]) -> set[YamlPath]:
    """Gather what goes, with what would be left empty by it."""
    gone = set(paths)
    for path in sorted(gone, key=len, reverse=True):
        while len(path) > 3 or path[:1] != ("setups",):
            holder = find_node(tree, path[:-1])
            if holder is None or len(path) < 2:
                break
            below: Iterable[str | int] = holder.entries or range(len(holder.items))
            if any((*path[:-1], each) not in gone for each in below):
                break
            path = path[:-1]
            gone.add(path)
    for number in {int(each[1]) for each in gone if each[0] == "setups"}:
        wish: YamlPath = ("setups", number, "advise")
        node = find_node(tree, wish)
        if node is not None and not any(
            each in node.entries and (*wish, each) not in gone for each in ("lights", "tune")
        ):
            gone.add(wish)
    return gone


def _darken(document: Document, scope: _Scope, name: str) -> Document:
    """Keep positions that have light of nothing else, with none of another light."""
    for number in scope.setups:
        other = next(each for each in list_lights(document.whole, number) if each != name)
        field = name_reading_field(document.whole, number, other)
        for position, row in list_cells(document, number).items():
            if name not in row or len(row) > 1:
                continue
            sheet = find_sheet(document.whole, number)
            if sheet is not None and position in _list_in_sheet(document, sheet, "position"):
                text = document.files[sheet].decode("utf-8")
                document = document.put(sheet, set_cell(text, sheet, position, other, "0"))
                continue
            holders: list[YamlPath] = [
                ("setups", each, "positions", position)
                for each in list_alike(document.tree, number)
            ]
            path = next(e for e in reversed(holders) if find_node(document.tree, e) is not None)
            document = document.set((*path, field, other), 0)
    return document
